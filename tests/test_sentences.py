"""What the program says reads as one hand wrote it. No standard fixes these wordings."""

from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
#: Wordings that misled readers or read badly: "off air" is taken for *not transmitting*, a receiver is not *deaf* by
#: silence alone.
AVOIDED = (
    "off air",
    "met another mode",
    "Nothing is raised",
    "hardly a turn",
    "are improbable",
    "may be deaf",
    "still is so",
    "learnt by themselves",
    "taken wrongly",
    "in no share",
    "agree with themselves",
    "unlike the usual",
    "By minutes only",
    "covers nothing",
    "without a word",
    "takes no such request",
    "nobody was told",
    "that these days did not is",
)
SAYING = [
    path
    for room in ("parsers", "server", "templates", "docs")
    for path in sorted((ROOT / room).rglob("*"))
    if path.suffix in (".py", ".html", ".typ", ".md")
]


@pytest.mark.parametrize("wording", AVOIDED)
def test_a_wording_that_misleads_stands_nowhere(wording: str) -> None:
    assert [str(path.relative_to(ROOT)) for path in SAYING if wording in path.read_text(encoding="utf-8")] == []
