"""How often a change of timers is suggested to groups whose timers make no difference, and to groups of whom one hold
spares callers.
"""


def run(full: bool) -> str:
    """The section for the results; raises AssertionError where more than 5 of 100 are told of a change that is none."""
    from tests.replay.suggestion_groups import spoken

    trials = 100 if full else 2
    found, total = spoken(trials)
    assert found < 0.05 * total, f"{found} of {total}"
    lines = [
        "## Suggestions to invented groups",
        "",
        (
            f"Groups of 36 kinds ({trials} each): 14, 28 and 56 days, 0.5, 3 and 10 shut-outs a day, counts as wide as"
            " chance and three times as wide, holds that share none or four fifths of their callers; four modes,"
            " thirteen holds each."
        ),
        "",
        "| groups | told of a change |",
        "| --- | --- |",
        f"| timers make no difference | {found:,} of {total:,} ({100 * found / total:.1f} %) |",
    ]
    for better in (0.3, 0.5, 0.8):
        found, total = spoken(max(2, trials // 5), better)
        lines.append(
            f"| one hold spares {100 * better:.0f} % of one mode's | {found:,} of {total:,} ({100 * found / total:.1f}"
            " %) |"
        )
    return "\n".join(lines)
