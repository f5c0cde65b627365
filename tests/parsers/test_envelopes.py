"""Envelopes against the examples of their own documents, named at each, and tables of csv and JSON."""

import datetime as dt
import json
from pathlib import Path

import polars as pl
import pytest

from parsers.dialect import reader
from parsers.jsonlines import read_objects
from parsers.reading import Carry
from shared.zones import SECOND, to_us
from tests.parsers.helpers import alive, as_dicts, dialect, read

AROUND = to_us(dt.datetime(2003, 12, 1, tzinfo=dt.UTC))


def instant(text: str) -> int:
    return to_us(dt.datetime.fromisoformat(text))


def message(folder: Path, envelope: str, line: str) -> tuple[str | None, int, bool]:
    """What an envelope holds: the text (through a shape that takes any), its stamp, whether it has one."""
    reads = reader(
        dialect(folder, "[[line]]\nevent = 'alive'\npattern = '^(?P<network>.{0,64})'", f'envelope = "{envelope}"')
    )
    reading = read(reads, line, around_us=AROUND)
    events = as_dicts(reading.events)
    return events[0].get("network") if events else None, int(reading.stamps[0]), bool(reading.stamped[0])


# RFC 3164 section 5.4 example 1, quoted
RFC3164 = "<34>Oct 11 22:14:15 mymachine su: 'su root' failed for lonvick on /dev/pts/8"
# RFC 5424 section 6.5 examples 1, 2 and 4, quoted
RFC5424_1 = (
    "<34>1 2003-10-11T22:14:15.003Z mymachine.example.com su - ID47 - \ufeff'su root' failed for lonvick on /dev/pts/8"
)
RFC5424_2 = "<165>1 2003-08-24T05:14:15.000003-07:00 192.0.2.1 myproc 8710 - - %% It's time to make the do-nuts."
RFC5424_4 = (
    '<165>1 2003-10-11T22:14:15.003Z mymachine.example.com evntslog - ID47 [exampleSDID@32473 iut="3"'
    ' eventSource="Application" eventID="1011"][examplePriority@32473 class="high"]'
)
SU = "'su root' failed for lonvick on /dev/pts/8"


@pytest.mark.parametrize(
    ("line", "text", "stamp"),
    [
        (RFC3164, SU, "2003-10-11T22:14:15+00:00"),
        (RFC5424_1, SU, "2003-10-11T22:14:15.003+00:00"),
        (RFC5424_2, "%% It's time to make the do-nuts.", "2003-08-24T05:14:15.000003-07:00"),
        # RFC 6587 section 3.4.1, quoted: octet counting, MSG-LEN SP SYSLOG-MSG
        (f"{len(RFC3164)} {RFC3164}", SU, "2003-10-11T22:14:15+00:00"),
        (f"{len(RFC5424_1.encode())} {RFC5424_1}", SU, "2003-10-11T22:14:15.003+00:00"),
        # as daemons write to files: common practice, no source
        ("Oct  1 22:14:15 host tag[12]: msg here", "msg here", "2003-10-01T22:14:15+00:00"),
        ("2003-10-11T22:14:15.003+01:00 host tag[12]: msg here", "msg here", "2003-10-11T22:14:15.003+01:00"),
        ("Oct 11 22:14:15 host no tag at all", "no tag at all", "2003-10-11T22:14:15+00:00"),
        ('<165>1 2003-10-11T22:14:15Z h a - - [x@1 q="a ] \\" b"] text', "text", "2003-10-11T22:14:15+00:00"),
    ],
)
def test_a_syslog_line_gives_its_message_and_its_stamp(tmp_path: Path, line: str, text: str, stamp: str) -> None:
    assert message(tmp_path, "syslog", line) == (text, instant(stamp), True)


def test_a_syslog_line_without_a_message_is_ignored_and_stamped(tmp_path: Path) -> None:
    reading = read(
        alive(tmp_path, 'envelope = "syslog"', "well"), RFC5424_4, "<34>1 - - - - - - well", "neither of the two"
    )
    assert list(reading.verdicts) == [1, 2, 2] and reading.stamps[0] == instant("2003-10-11T22:14:15.003+00:00")


def test_a_shapes_own_stamp_comes_before_the_headers(tmp_path: Path) -> None:
    reads = alive(tmp_path, 'envelope = "syslog"\ntime = "epoch"', "{t} well")
    assert read(reads, "Oct 11 22:14:15 host tag: 1000000000 well").stamps[0] == 1_000_000_000 * SECOND


# systemd, journal export formats, seen: microseconds as text; MESSAGE text, null or byte values; repeats are arrays
@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("all well", "all well"),
        (list("gr\u00fc\u00df".encode()), "grüß"),
        ([104, 105, 255], "hi\ufffd"),
        (["one", "two"], "one"),
        (None, None),
        ("", None),
        ('say "hi" \u2028 there', 'say "hi" \u2028 there'),
    ],
)
def test_a_journal_entry_gives_its_message_and_its_stamp(tmp_path: Path, value: object, text: str | None) -> None:
    line = json.dumps(
        {"__REALTIME_TIMESTAMP": "1342540861416409", "PRIORITY": "6", "MESSAGE": value, "_PID": ["1", "2"]}
    )
    assert message(tmp_path, "journal", line) == (text, instant("2012-07-17T16:01:01.416409+00:00"), True)


@pytest.mark.parametrize(
    "line",
    [
        "{",
        "[]",
        "null",
        '"x"',
        '{"MESSAGE": "\\ud800"}',
        "{}" * 9,
        "[" * 60_000,
        '{"MESSAGE": [300]}',
        '{"MESSAGE": {}}',
    ],
)
def test_a_broken_journal_entry_spoils_nothing_beside_it(tmp_path: Path, line: str) -> None:
    good = '{"__REALTIME_TIMESTAMP": "1342540861416409", "MESSAGE": "well"}'
    reading = read(alive(tmp_path, 'envelope = "journal"', "well"), good, line, good)
    assert list(reading.events["line"]) == [0, 2] and reading.verdicts[1] in (1, 2)


CSV = """
[fields]
"when" = "t"
"who" = "station"
"secs" = "seconds"
[[line]]
event = "over"
when = { kind = "talk" }
[[line]]
event = "ignore"
when = {}
"""


def test_csv_columns_are_found_by_the_header_line_of_the_file(tmp_path: Path) -> None:
    reads = reader(dialect(tmp_path, CSV, 'envelope = "csv"\ntime = "epoch"'))
    lines = [
        "junk before",
        "kind,who,when,secs",
        'talk,"QA1XYZ, ""portable""",10,2.5',
        "hum,,11,",
        "talk,x,12",
        'talk,"x,13,1',
        "secs,when,who,kind,new",
        "4,20,QB2ABC,talk,z",
    ]
    reading = read(reads, *lines)
    assert list(reading.verdicts) == [2, 1, 0, 1, 2, 2, 1, 0]
    assert [(e["t"], e["station"], e["seconds"]) for e in as_dicts(reading.events)] == [
        (10 * SECOND, 'QA1XYZ, "portable"', 2.5), (20 * SECOND, "QB2ABC", 4.0)]  # fmt: skip
    assert reading.carry.header == ("secs", "when", "who", "kind", "new")
    assert len(read(reads, "4,20,QB2ABC,talk,z", carry=reading.carry).events) == 1
    assert list(read(reads, "4,20,QB2ABC,talk,z", carry=Carry()).verdicts) == [2]


def test_empty_cells_between_tabs_count(tmp_path: Path) -> None:
    reads = reader(dialect(tmp_path, CSV, 'envelope = "csv"\ntime = "epoch"\nseparator = "\\t"'))
    reading = read(reads, "kind\twhen\tsecs\twho\textra", "talk\t10\t2\t\t\r", "talk\t10\t2\t", "\t\t\t\t")
    assert list(reading.verdicts) == [1, 0, 2, 1] and reading.events["station"].to_list() == [None]


def test_json_fields_may_lie_deep_and_be_numbers(tmp_path: Path) -> None:
    rest = (
        '[fields]\n"at" = "t"\ncall.from = "station"\n"call.slot" = "slot"\n"lost" = "loss_pct"\n[unit]\nloss_pct ='
        ' "fraction"\n'
    )
    reads = reader(
        dialect(
            tmp_path,
            rest + "[[line]]\nevent = 'over-start'\nwhen = { kind = 'open', live = true }",
            'envelope = "json"\ntime = "epoch"',
        )
    )
    lines = [
        '{"at": 10.5, "call": {"from": 9990123, "slot": 2}, "kind": "open", "live": true, "lost": 0.02}',
        '{"at": 11, "kind": "open", "live": false}',
        "{]",
        '{"at": 12, "call": 7, "kind": "open", "live": true}',
    ]
    reading = read(reads, *lines)
    assert list(reading.verdicts) == [0, 2, 2, 0]
    first = as_dicts(reading.events)[0]
    assert (first["t"], first["station"], first["slot"], first["loss_pct"]) == (
        10_500_000,
        "9990123",
        2,
        pytest.approx(2.0),
    )


@pytest.mark.parametrize(
    "number",
    [
        "1",
        "0",
        "-7",
        "1.50",
        "2.0",
        "-0.0",
        "0.00001",
        "0.000001",
        "123456789.123456",
        "999999999999999",
        "1e3",
        "12345678901234567890",
    ],
)
def test_a_number_is_the_same_text_by_either_road(number: str) -> None:
    plain, odd = f'{{"a": {number}}}', f'{{"a": {number}, "b": [1]}}'
    values, fine = read_objects(pl.Series([plain, odd]), ["a"])
    assert fine.all() and values["a"][0] == values["a"][1]


def test_flat_json_reads_the_same_by_either_road(tmp_path: Path) -> None:
    rest = '[fields]\n"at" = "t"\n"who" = "station"\n[[line]]\nevent = "over-start"\nwhen = { kind = "open" }'
    reads = reader(dialect(tmp_path, rest, 'envelope = "json"\ntime = "epoch"'))
    plain, odd = '{"at":10,"who":"QA1XYZ","kind":"open"}', '{"at":1,"at":10,"who":"QA1X\\u0059Z","kind":"open","x":[1]}'
    assert [{**e, "line": 0} for e in as_dicts(read(reads, plain, odd).events)] == as_dicts(
        read(reads, plain).events
    ) * 2
