"""Moments of random logs against their brute-force twin."""


def run(full: bool) -> str:
    """The section for the results; AssertionError where one of 10,000 instants disagrees."""
    from tests.analytics.moment_brute import disagreements

    asked, found = disagreements(*((200, 50) if full else (4, 10)))
    assert not found, found[:5]
    return "\n".join([
        "## Moments against brute force",
        "",
        "Random logs of two hours, with unfinished overs, pages, refusals, blind time and links; a fifth of the"
        " instants lie on the edge of an over. Compared is all of the JSON but sentences and incidents.",
        "",
        f"{asked:,} instants: none disagrees.",
    ])  # fmt: skip
