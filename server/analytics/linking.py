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
        fitting = [known for known in found if known != key and fits(key, known)]
        if up:
            mine = [
                *(known for known in fitting if not found[known][-1][1]),
                *(known for known in found if _was_lost_as(known, key, found)),
            ]
        else:
            mine = [known for known in fitting if found[known][-1][1]]
        if key in found or not fitting:
            mine.append(key)
        for known in mine:
            found.setdefault(known, []).append((instant, up))
    return found


def fits(said: Key, link: Key) -> bool:
    """Whether a line that says so much may be about a link: whatever it names is the link's."""
    return all(part is None or part == of for part, of in zip(said, link, strict=True))


def _was_lost_as(known: Key, key: Key, found: dict[Key, list[Change]]) -> bool:
    return known != key and fits(known, key) and not found[known][-1][1]
