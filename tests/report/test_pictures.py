"""The pages as they look, rendered by pdftoppm (poppler) and held against kept pictures that were looked at.

Made anew with `python -m tests.report.test_pictures` when the design changes; look at them before they are kept.
"""

import os
import shutil
import subprocess
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from server.report.pdf import Paper, pdf_of
from tests.report.still import still_month

PICTURES = Path(__file__).parent / "pictures"
DPI = 50
ALIKE = 2.0  #: mean difference of grey levels (0 to 255): another version of poppler smooths edges a little differently
MOVED = 40  #: grey levels by which a small area may differ: text that has gone or moved differs by more


def rendered(pdf: bytes, folder: Path) -> list[Image.Image]:
    """The pages in grey, as a black-and-white printer has them."""
    (folder / "x.pdf").write_bytes(pdf)
    subprocess.run(["pdftoppm", "-r", str(DPI), "-gray", "-png", "x.pdf", "page"], cwd=folder, check=True)
    return [Image.open(BytesIO(path.read_bytes())).convert("L") for path in sorted(folder.glob("page-*.png"))]


def difference(one: Image.Image, other: Image.Image) -> tuple[float, float]:
    """Mean difference of grey levels, and the greatest of areas of 8 by 8 pixels; of pages of one size."""
    assert one.size == other.size
    both = np.abs(np.asarray(one, dtype=float) - np.asarray(other, dtype=float))
    high, wide = (side - side % 8 for side in both.shape)
    areas = both[:high, :wide].reshape(high // 8, 8, wide // 8, 8).mean(axis=(1, 3))
    return float(both.mean()), float(areas.max())


@pytest.fixture(scope="module", autouse=True)
def pdftoppm() -> None:
    if shutil.which("pdftoppm") is None:
        missing = "pdftoppm is not installed: apt-get install poppler-utils"
        if os.environ.get("CI") == "true":
            pytest.fail(missing)
        pytest.skip(missing)


@pytest.mark.real
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_pages_look_as_they_did_when_somebody_looked_at_them(paper: Paper, tmp_path: Path) -> None:
    pages = rendered(pdf_of(still_month(), paper), tmp_path)
    kept = sorted(PICTURES.glob(f"{paper}-*.png"))
    assert len(pages) == len(kept) >= 3
    for page, path in zip(pages, kept, strict=True):
        mean, area = difference(page, Image.open(path).convert("L"))
        assert mean <= ALIKE and area <= MOVED, (path.name, mean, area)


@pytest.mark.real
def test_the_comparison_sees_another_number_and_another_page(tmp_path: Path) -> None:
    (tmp_path / "1").mkdir()
    (tmp_path / "2").mkdir()
    pages = rendered(pdf_of(still_month()), tmp_path / "1")
    changed = rendered(pdf_of(still_month(airtime=0.5)), tmp_path / "2")
    assert difference(pages[0], changed[0])[1] > MOVED
    assert difference(pages[0], pages[1])[0] > ALIKE


@pytest.mark.real
def test_no_page_is_empty_and_ink_is_on_every_one(tmp_path: Path) -> None:
    for page in rendered(pdf_of(still_month()), tmp_path):
        assert (np.asarray(page) < 128).mean() > 0.001


def keep() -> None:
    """Keep the pages as they look now."""
    import tempfile

    for paper in ("a4", "letter"):
        with tempfile.TemporaryDirectory() as name:
            for old in PICTURES.glob(f"{paper}-*.png"):
                old.unlink()
            for number, page in enumerate(rendered(pdf_of(still_month(), paper), Path(name)), start=1):  # type: ignore[arg-type]
                page.quantize(24).save(PICTURES / f"{paper}-{number}.png", optimize=True)


if __name__ == "__main__":
    keep()
