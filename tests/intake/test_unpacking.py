"""Packed logs are unpacked in bounded memory. The limits that packers name are of the xz file format 1.1.0, LZMA2's
dictionary sizes, and RFC 8878, window descriptors (from memory); `xz -9` takes 65 MiB by its manual page.
"""

import lzma

import pytest
import zstandard

from server.intake.unpacking import open_log
from tests.intake.conftest import MakeFolder, over_line

LINES = b"".join(over_line(number) for number in range(20))


def greedy_xz(dictionary: int) -> bytes:
    return lzma.compress(LINES, filters=[{"id": lzma.FILTER_LZMA2, "preset": 0, "dict_size": dictionary}])


def greedy_zst(window_log: int) -> bytes:
    parameters = zstandard.ZstdCompressionParameters.from_level(3, window_log=window_log)
    packer = zstandard.ZstdCompressor(
        compression_params=parameters
    ).compressobj()  # without its length its window counts
    return packer.compress(LINES) + packer.flush()


@pytest.mark.parametrize(("name", "data"), [("b.log.1.xz", greedy_xz(1 << 30)), ("b.log.1.zst", greedy_zst(30))])
def test_a_packed_log_that_asks_for_a_gigabyte_is_told_in_words_and_the_others_go_on(
    folder: MakeFolder, name: str, data: bytes
) -> None:
    one = folder("*.log")
    one.write(name, data)
    one.write("c.log", over_line(100))
    (said,) = one.catch_up().troubles
    assert name in said and "it asks for over 80 MB of memory; unpack it by hand" in said
    assert one.numbers() == [100]


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("b.log.1.xz", lzma.compress(LINES, preset=9)),
        ("b.log.1.xz", lzma.compress(LINES[:500]) + b"\0" * 8 + lzma.compress(LINES[500:])),
        ("b.log.1.zst", zstandard.ZstdCompressor(level=19).compress(LINES)),
        ("b.log.1.zst", greedy_zst(26)),
    ],
)
def test_what_packers_make_is_unpacked(folder: MakeFolder, name: str, data: bytes) -> None:
    one = folder("*.log")
    place = one.write(name, data)
    assert one.catch_up().troubles == [] and one.numbers() == list(range(20))
    with open_log(place) as stream:
        assert stream.read() == LINES


def test_an_xz_file_that_breaks_off_gives_what_came_before_and_says_so(folder: MakeFolder) -> None:
    one = folder("*.log")
    one.write("b.log.1.xz", lzma.compress(LINES)[:-40])
    (said,) = one.catch_up().troubles
    assert "it breaks off" in said
