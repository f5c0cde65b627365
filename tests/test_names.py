"""Names and numbers are our own: invented, within the bits of their standards, and without the words that were one
program's.
"""

import hashlib
import json
import re
import subprocess
import tomllib
from collections.abc import Iterator
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

import pytest

from parsers.adopt import vocabulary
from parsers.dialect import SHIPPED
from server.demo import world
from server.demo.simulate import simulate

ROOT = Path(__file__).parents[1]
Told = tuple[str, str, str | None, str | None]  # where, mode, station, target

#: The largest number that an address has room for.
BITS = {
    "dmr": 24,  # ETSI TS 102 361-1, source and target address: quoted
    "nxdn": 16,  # NXDN TS 1-A, unit id and group id: from memory
    "p25": 16,  # TIA-102, talkgroup id: from memory; a unit's id has 24, the narrower is kept for both
    "pocsag": 21,  # ITU-R M.584, 18 bits in the codeword and 3 by the frame: from memory
}
M17_ALPHABET = re.compile(r"[A-Z0-9 /.-]{1,9}")  # M17 specification, base 40 with the blank: from memory


def of_the_demo() -> Iterator[Told]:
    for target in world.TARGETS:
        yield "world", target.mode, None, target.name
    run = simulate(seed=2, weeks=1)
    for row in run.events.select("mode", "station", "target").unique().drop_nulls("mode").iter_rows():
        yield "demo", *row


def of_the_samples() -> Iterator[Told]:
    for path in sorted((ROOT / "sample_logs").glob("*.expect.json")):
        for event in json.loads(path.read_text())["events"]:
            yield path.name, event.get("mode", ""), event.get("station"), event.get("target")


def of_the_dialects() -> Iterator[Told]:
    for path in sorted(SHIPPED.glob("*.toml")):
        for line in tomllib.loads(path.read_text())["line"]:
            for sample in line.get("sample", []):
                gives = sample["gives"]
                yield path.name, gives.get("mode", ""), gives.get("station"), gives.get("target")


@lru_cache
def told() -> tuple[Told, ...]:
    return (*of_the_demo(), *of_the_samples(), *of_the_dialects())


def test_each_mode_with_numbers_is_among_what_is_read() -> None:
    modes = {mode for _, mode, station, target in told() if any(name and name.isdigit() for name in (station, target))}
    assert modes == set(BITS) and {where for where, *_ in told()} >= {
        "world",
        "demo",
        "scar-csv.toml",
        "activity.expect.json",
    }


def test_numbers_are_within_the_bits_that_their_standard_can_carry() -> None:
    wrong = [
        (where, mode, name)
        for where, mode, *names in told()
        for name in names
        if name and name.isdigit() and mode in BITS and not 0 < int(name) < 2 ** BITS[mode] - 1
    ]
    assert not wrong


def test_numbers_of_dmr_begin_with_999_and_call_signs_with_q() -> None:
    for where, mode, station, target in told():
        if mode == "dmr":
            assert all(name is None or not name.isdigit() or name.startswith("999") for name in (station, target)), (
                where
            )
        if station and not station.isdigit():
            assert re.fullmatch(r"Q[A-Z][0-9][A-Z]{1,4}([/-][A-Z0-9]+)?", station), (where, station)


def test_targets_of_m17_and_dstar_can_be_sent() -> None:
    targets = {(mode, target) for _, mode, _, target in told() if mode in ("m17", "dstar") and target}
    assert len(targets) > 4
    assert all(
        M17_ALPHABET.fullmatch(target) and len(target) <= (8 if mode == "dstar" else 9) for mode, target in targets
    )


def test_codes_of_modes_are_letters_that_count_nothing() -> None:
    codes = list(tomllib.loads((SHIPPED / "scar-csv.toml").read_text())["words"]["mode"])
    assert all(code[0].isalpha() for code in codes)
    assert sorted(codes) != codes


@pytest.mark.parametrize("word", ["room"])
def test_words_that_the_house_itself_uses_are_no_kind_of_target(word: str) -> None:
    assert word not in vocabulary.TARGET_NAMES and word not in vocabulary.TARGETLY


#: Words, and pairs of words that follow one another, that left the tree: one program or maker would be known by them.
#: Only digests stand here, as a list in clear would bring the words back. For one more: hashlib.sha256(b"the word or
#: two words").hexdigest()[:16].
LEFT = frozenset(
    [
        "007f6c63d890a506",
        "0105ea627061d992",
        "0b5c3483055374a8",
        "0c52805e636f86f4",
        "11540136c7de9514",
        "1490d51292cdce23",
        "14cb91b991398ff7",
        "19d342b96023ab40",
        "268da054116a2efb",
        "2aaad231aaa10e17",
        "2b09975a7fa8375b",
        "3adcdf4154c0dbfd",
        "3d860ba806e65e11",
        "3ffed84716fe61a1",
        "4910a26938a2ff37",
        "51f9a602e56f4ad9",
        "52b0f184dc52dbf8",
        "5487e28a130345c3",
        "55beff9c859f0407",
        "5cf0e8a911d2525d",
        "5fdb698758697a44",
        "601f6f008ec6e2c9",
        "6495a0ab3ef55a53",
        "6e05cadf4f1ca7be",
        "704ace962e660c11",
        "716ea0203f7f5c26",
        "78cd2fd931a9b155",
        "79f2c5d2f7924b40",
        "8571080732614164",
        "901203b8e3303e8a",
        "9ab4bda3f051bb40",
        "a3b11db62f9b9a83",
        "ac16daa1c2878aaa",
        "b1c72e58840f0a34",
        "b3788fd96a877141",
        "b4dd647e37447b0e",
        "b5459eb3c5165bf6",
        "b9fefac8582a5e43",
        "bb59ac3abed60315",
        "c034ab5b74e17031",
        "c490f3bc893cc9a5",
        "c6a9974ac9b333d7",
        "c8f3d2447d8886f0",
        "caa1a4d13726a44a",
        "cdad876e48e3226a",
        "ce3ea34a6d51296a",
        "d1aab3614cdd12a1",
        "e9bd7ff057524aba",
        "ed5ae6828e94a58e",
        "f28141c2949caf49",
        "f2b0e4fa8c9188d9",
        "f308bdcf494fb8e1",
        "f3d1093b3dc87fd0",
        "f41ba84e636efaf7",
        "f5d36c673cea1d80",
        "fb8bf50a230daeb3",
    ]
)
NOT_TEXT = {".png"}


def digest(words: str) -> str:
    return hashlib.sha256(words.encode()).hexdigest()[:16]


def tracked() -> list[Path]:
    """Every file of the tree that git knows of."""
    named = subprocess.run(["git", "-C", str(ROOT), "ls-files", "-z"], capture_output=True, check=False)
    if named.returncode:
        pytest.skip("no git, or no checkout: the files of the tree are not known")
    return [ROOT / name for name in named.stdout.decode().split("\0") if name]


def words_and_pairs(text: str) -> set[str]:
    words = re.findall(r"[a-z0-9_]+", text.lower())
    return {*words, *(f"{first} {second}" for first, second in pairwise(words))}


def test_no_file_has_a_word_that_left() -> None:
    where: dict[str, str] = {}
    for path in tracked():
        if path.suffix not in NOT_TEXT and path.is_file():
            name = str(path.relative_to(ROOT))
            for words in words_and_pairs(f"{name}\n{path.read_text(encoding='utf-8', errors='replace')}"):
                where.setdefault(words, name)
    assert len(where) > 10_000
    assert {words: name for words, name in where.items() if digest(words) in LEFT} == {}


def test_a_word_that_left_would_be_found() -> None:
    assert {"wide deep", "deep log", "wide", "deep"} <= words_and_pairs("the Wide-Deep.log")
    assert all(re.fullmatch(r"[0-9a-f]{16}", one) for one in LEFT) and len(digest("deep")) == 16
