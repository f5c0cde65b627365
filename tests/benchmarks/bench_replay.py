"""How often the replay's interval holds what a simulation of the same demand counts, how often the comparison before
and after a change does, and how long a year takes. Short under pytest (tests/replay), whole here.
"""

HOLDS = (0.0, 2.0, 5.0, 10.0, 15.0, 30.0, 40.0, 60.0)


def run(full: bool) -> str:
    """The section for the results; raises AssertionError where less than 90 of 100 are held."""
    from tests.replay.replay_changes import changes_held
    from tests.replay.test_replay_simulated import IN_FORCE, weeks_within

    weeks = 100 if full else 10
    lines = [
        "## Replay against a discrete-event simulation",
        "",
        (
            f"{weeks} simulated weeks for each hold, {IN_FORCE:g} s in force; the same demand is then run under the"
            " other hold (simpy)."
        ),
        "",
        "| hold | weeks within the interval | mean count told by the replay | simulated |",
        "| --- | --- | --- | --- |",
    ]
    for hold in HOLDS:
        within, told, true = weeks_within(hold, weeks)
        assert within >= 0.9 * weeks, f"only {within} of {weeks} weeks within the interval at {hold:g} s"
        lines.append(f"| {hold:g} s | {within} of {weeks} | {told:.1f} | {true:.1f} |")
    lines += ["", "## Before and after a change, on simulated changes", ""]
    changes = 100 if full else 10
    right, held, mean_width = changes_held(changes)
    assert right >= 0.9 * changes and held >= 0.9 * changes, f"right sign {right}, held {held} of {changes}"
    lines.append(
        f"{changes} simulated changes of the hold from 60 s to 5 s, eight weeks before and eight after, demand growing"
        f" by 2 % a week: the right sign in {right}, the true change within the interval in {held}; the interval is"
        f" {mean_width:.1f} attempts a day wide."
    )
    return "\n".join(lines)
