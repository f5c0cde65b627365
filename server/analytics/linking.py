"""Which links a `link-up` or `link-down` is about (definitions.md, Links). Pure."""

from collections.abc import Iterable

Key = tuple[str | None, str | None, str | None]  #: network, mode and target, as far as the line gives them
Change = tuple[int, bool]  #: instant, whether the link came up


def changes_by_link(events: Iterable[tuple[int, bool, Key]]) -> dict[Key, list[Change]]:
    """The changes of each link, from events in order of time. A line that names less than a link does is about every
    link that it fits; one that names more brings back what was lost under the lesser name. A line that fits no link
    begins one of its own.
    """
    found: dict[Key, list[Change]] = {}
    for instant, up, key in events:
        for link in _about(key, up, found):
            found.setdefault(link, []).append((instant, up))
    return found


def _about(key: Key, up: bool, found: dict[Key, list[Change]]) -> list[Key]:
    """The links that a line is about, by what is known of each so far."""
    fitting = [link for link in found if link != key and fits(key, link)]
    changed = [link for link in fitting if _is_up(link, found) != up]
    itself = [key] if key in found or not fitting else []
    return [*changed, *(_lost_as_less(key, found) if up else []), *itself]


def _is_up(link: Key, found: dict[Key, list[Change]]) -> bool:
    return found[link][-1][1]


def fits(said: Key, link: Key) -> bool:
    """Whether a line that says so much may be about a link: whatever it names is the link's."""
    return all(part is None or part == of for part, of in zip(said, link, strict=True))


def _lost_as_less(key: Key, found: dict[Key, list[Change]]) -> list[Key]:
    """Links under lesser names that are down, which a line that names more brings back."""
    return [link for link in found if link != key and fits(link, key) and not _is_up(link, found)]
