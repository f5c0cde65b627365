"""Figures as a table that a person can read in a terminal."""

from collections.abc import Sequence
from typing import Any

from server.analytics.figure_types import Figures, LineCounts, Mode, ShutOutPair, Stretch, Talk
from server.telling.numbers import GAP, UNKNOWN, duration, stations, whole_number
from server.telling.words import percent
from shared.events import MODE_LABELS
from shared.numbers import grouped
from shared.zones import iso

MODE_HEADS = [
    "mode", "airtime", "erlang", "overs", "air", "link", "stations", "time-outs", "(est.)", "near", "shut out",
    "shut-out risk", "kerchunks", "doublings",
]  # fmt: skip


def figures_table(found: Figures) -> str:
    """The figures of a window in words and columns."""
    head, lines_read = f"{found.repeater}, {window_words(found.window)}", _lines_read(found.intake)
    if not found.window.seen:
        return f"{head}\nNothing of this window was seen, so no figure is known.\n\n{lines_read}"
    rows = [_mode_row(mode, own) for mode, own in sorted(found.modes.items(), key=_by_airtime)]
    return plain(
        "\n".join(
            [
                head,
                *_channel_lines(found),
                "",
                *(columns(MODE_HEADS, rows) if rows else ["No mode was heard."]),
                *_shut_out_lines(found.shut_outs or ()),
                "",
                f"Likely waiters, estimated: {whole_number(found.likely_waiters_estimated)}.",
                *_busiest_lines(found),
                _talk_line(found.talk),
                lines_read,
            ]
        )
    )


def _by_airtime(item: tuple[str, Mode]) -> float:
    return -(item[1].airtime_s or 0.0)


def _channel_lines(found: Figures) -> list[str]:
    channel = found.channel
    on_the_air = (
        f"On the air {duration(channel.airtime_s)}, {percent(channel.occupancy)} of the time that was seen; keyed "
        f"{duration(channel.keyed_s)}; idle hold {duration(channel.idle_hold_s)}."
    )
    if channel.airtime_s is None:
        on_the_air = "How long the repeater was on the air is not known: nothing of known length was logged."
    return [
        on_the_air,
        f"{whole_number(channel.overs)} overs by {stations(channel.stations)} stations; "
        f"{whole_number(channel.unfinished)} unfinished; not seen for {duration(found.window.blind_s)}.",
    ]


def _mode_row(mode: str, own: Mode) -> list[Any]:
    return [
        MODE_LABELS[mode],
        duration(own.airtime_s),
        number(own.erlang, 3),
        own.overs,
        whole_number(own.air_overs),
        whole_number(own.link_overs),
        stations(own.stations),
        own.timeouts,
        own.timeouts_estimated,
        own.near_timeouts,
        own.shut_outs_suffered,
        percent(own.shut_out_risk),
        whole_number(own.kerchunks),
        whole_number(own.doublings),
    ]


def _shut_out_lines(pairs: Sequence[ShutOutPair]) -> list[str]:
    rows = [
        [label(pair.held_by), label(pair.wanted), pair.attempts, number(pair.mean_wait_s, 1, " s")] for pair in pairs
    ]
    return ["", *columns(["held by", "wanted", "attempts", "mean wait"], rows)] if rows else []


def _busiest_lines(found: Figures) -> list[str]:
    busy, zone = found.busy_hour, found.window.zone
    lines = []
    if busy.start:
        lines.append(
            f"Busy hour from {busy.start}: {number(busy.erlang, 3)} erlang, mean of {whole_number(busy.days)} whole "
            "days."
        )
    for minutes, fullest in found.duty:
        where = "" if fullest.span is None else ", from {} to {}".format(*(iso(us, zone) for us in fullest.span))
        lines.append(f"Worst {minutes}min: keyed {percent(fullest.share)}{where}.")
    return lines


def _talk_line(talk: Talk) -> str:
    return (
        f"{whole_number(talk.conversations)} conversations; median turnaround "
        f"{number(talk.turnaround_median_s, 2, ' s')}; short gaps {percent(talk.short_gap_share)}; local talk on wide "
        f"targets {duration(talk.local_on_wide_s)} in {whole_number(talk.local_on_wide)} conversations."
    )


def _lines_read(intake: LineCounts) -> str:
    return (
        f"Lines: {grouped(intake.lines)}, of which {grouped(intake.understood)} understood, {grouped(intake.ignored)} "
        f"ignored, {grouped(intake.unread)} unread; {grouped(intake.orphans)} orphans, {grouped(intake.doubtful)} "
        "doubtful overs."
    )


def window_words(window: Stretch) -> str:
    """Its two instants with their offsets, and the zone."""
    return f"{iso(window.start_us, window.zone)} to {iso(window.end_us, window.zone)} ({window.zone.key})"


def plain(text: str) -> str:
    """For a terminal, which keeps no words together."""
    return text.replace(GAP, " ")


def label(mode: str | None) -> str:
    """A mode's name as the trade writes it."""
    return MODE_LABELS.get(mode or "", mode or "unknown")


def number(value: float | None, digits: int, unit: str = "") -> str:
    """A number, or that it is not known."""
    return UNKNOWN if value is None else f"{grouped(value, digits)}{unit}"


def columns(heads: list[str], rows: list[list[Any]]) -> list[str]:
    """Text columns, the first flush left, the others right; whole numbers with thousands separated."""
    table = [heads, *[[plain(_cell(cell)) for cell in row] for row in rows]]
    widths = [max(len(row[place]) for row in table) for place in range(len(heads))]
    return [
        "  ".join(
            cell.ljust(width) if place == 0 else cell.rjust(width)
            for place, (cell, width) in enumerate(zip(row, widths, strict=True))
        )
        for row in table
    ]


def _cell(cell: Any) -> str:
    return grouped(cell) if isinstance(cell, int) else str(cell)
