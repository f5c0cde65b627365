"""A wrong dialect is refused with file, line and what to mend."""

import re
from pathlib import Path

import pytest

from parsers.dialect import find_dialect, load_dialect, shipped_dialects
from shared.errors import DialectError
from tests.parsers.helpers import write

GOOD = """\
[dialect]
name = "fell"
time = "iso"
zone = "UTC"
envelope = "none"
stamp = "event"
[words.mode]
"DV" = "dstar"
"DMR-2" = { mode = "dmr", slot = 2 }
[unit]
seconds = "s"
[[line]]
event = "over-start"
text = "{t} RX {mode} open {station}"
set = { side = "air" }
[[line.sample]]
text = "2026-03-01T18:22:05Z RX DV open QA1XYZ"
gives = { event = "over-start", mode = "dstar" }
[[line]]
event = "ignore"
text = "{t} hum {_}"
"""

WRONG = [  # what is replaced, by what, the line of the mistake, a part of the sentence
    ('name = "fell"', 'name = "fell', 2, "not TOML"),
    ('name = "fell"\n', "", 1, "'name' is missing"),
    ('time = "iso"', 'time = "noon"', 3, "form of time"),
    ('time = "iso"', 'time = "%d %H:%M:%S"', 3, "part of the date"),
    ('zone = "UTC"', 'zone = "Fell/Side"', 4, "IANA"),
    ('zone = "UTC"', 'zone = "../../etc/passwd"', 4, "IANA"),
    ('zone = "UTC"', "zone = 5", 4, "5"),
    ('envelope = "none"', 'envelope = "paper"', 5, "expected 'none', 'syslog'"),
    ('stamp = "event"', 'stamp = "late"', 6, "expected 'event'"),
    ('stamp = "event"', 'stmp = "event"', 6, "unknown key 'stmp'"),
    ('"DV" = "dstar"', '"DV" = "star"', 8, "expected c4fm"),
    ("slot = 2", "slot = 3", 9, "slot must be 1 or 2"),
    ("slot = 2", "slit = 3", 9, "unknown key 'slit'"),
    ("[words.mode]", "[words.mood]", 7, "mood"),
    ('seconds = "s"', 'seconds = "h"', 11, "no unit of seconds"),
    ('seconds = "s"', 'seconds = "frames:0ms"', 11, "no unit of seconds"),
    ('seconds = "s"', 'second = "s"', 11, "unknown key 'second'"),
    ('event = "over-start"\ntext', 'event = "over-begin"\ntext', 13, "no event"),
    ('event = "over-start"\ntext', 'event = "over"\ntext', 12, "needs {duration}"),
    ("{t} RX {mode} open {station}", "{t} RX {mood} open {station}", 14, "'mood' is no hole"),
    ("{t} RX {mode} open {station}", "{t} RX {mode}{station}", 14, "side by side"),
    ("{t} RX {mode} open {station}", "RX {mode} open {station}", 14, "no {t}"),
    ("{t} RX {mode} open {station}", "{t} RX {mode} open {side}", 15, "both a hole and set"),
    ('text = "{t} RX {mode} open {station}"', "pattern = '(?P<t>a)(?=b)'", 14, "look-around"),
    ('text = "{t} RX {mode} open {station}"', "when = { a = 'b' }", 14, "csv and json"),
    ('set = { side = "air" }', 'set = { side = "roof" }', 15, "expected air"),
    ('set = { side = "air" }', 'sets = { side = "air" }', 15, "unknown key 'sets'"),
    ('set = { side = "air" }', 'pattern = "x"', 12, "either text or pattern"),
    ('mode = "dstar" }\n[', 'mood = "dstar" }\n[', 18, "unknown key 'mood'"),
    ('mode = "dstar" }\n[', 'mode = "dstar" }\ngive = 1\n[', 19, "unknown key 'give'"),
    ('text = "{t} hum {_}"', 'text = "{t} hum {_}"\nset = { slot = 1 }', 22, "sets nothing"),
    ('text = "{t} hum {_}"', 'text = "{t} hum {_}"\n[fields]\na = "t"', 22, "csv and json"),
    ('text = "{t} hum {_}"', "", 19, "either text or pattern"),
]


def test_the_dialect_that_the_wrong_ones_are_made_from_is_right(tmp_path: Path) -> None:
    assert load_dialect(write(tmp_path, GOOD)).name == "fell"


@pytest.mark.parametrize(("old", "new", "line", "says"), WRONG)
def test_a_wrong_dialect_is_refused_with_its_file_and_line(
    tmp_path: Path, old: str, new: str, line: int, says: str
) -> None:
    assert GOOD.count(old) == 1
    path = write(tmp_path, GOOD.replace(old, new))
    with pytest.raises(DialectError) as refused:
        load_dialect(path)
    sentence = str(refused.value)
    assert sentence.startswith(f"{path}:{line}: ") and says in sentence and "\n" not in sentence
    assert refused.value.exit_code == 2


TABLE = """\
[dialect]
name = "fell"
envelope = "csv"
[fields]
"a" = "t"
"b" = "mode"
[[line]]
event = "alive"
when = { c = "x" }
"""


@pytest.mark.parametrize(
    ("old", "new", "line", "says"),
    [
        ('"a" = "t"', '"a" = "when"', 5, "no key of ours"),
        ('"b" = "mode"', '"b" = "t"', 6, "two fields give t"),
        ('"a" = "t"\n', "", 4, "must name the field that holds the stamp"),
        ('when = { c = "x" }', 'text = "{t} x"', 9, "can't match the csv envelope"),
        ('when = { c = "x" }\n', "", 7, "needs when"),
        ('envelope = "csv"', 'envelope = "json"\nheader = "a,b"', 4, "for the csv envelope"),
        ('envelope = "csv"', 'envelope = "csv"\nseparator = "ab"', 4, "separator"),
    ],
)
def test_a_wrong_table_is_refused_with_its_file_and_line(
    tmp_path: Path, old: str, new: str, line: int, says: str
) -> None:
    path = write(tmp_path, TABLE.replace(old, new))
    with pytest.raises(DialectError, match=re.escape(f"{path}:{line}: ")) as refused:
        load_dialect(path)
    assert says in str(refused.value)


def test_a_dialect_is_found_beside_the_station_file_then_among_the_shipped(tmp_path: Path) -> None:
    station = tmp_path / "station.toml"
    station.write_text("")
    write(tmp_path, GOOD)
    assert find_dialect("fell", station).name == find_dialect("./fell.toml", tmp_path).name == "fell"
    assert find_dialect(str(tmp_path / "fell.toml"), Path("/")).name == "fell"
    assert find_dialect("activity", tmp_path).name == "activity"
    for name in shipped_dialects():
        assert find_dialect(name, station).name == name
    (tmp_path / "scar-csv.toml").write_text(GOOD.replace('"fell"', '"own"'))
    assert find_dialect("scar-csv", station).name == "own"


@pytest.mark.parametrize("name", ["nothing", "no/where.toml", "nothing.toml", ""])
def test_a_dialect_that_is_not_there_is_refused_with_what_there_is(tmp_path: Path, name: str) -> None:
    with pytest.raises(DialectError, match=r"no dialect|no such dialect|can't be read"):
        find_dialect(name, tmp_path)


def test_a_dialect_that_is_no_text_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(DialectError, match="not UTF-8"):
        load_dialect(path)
