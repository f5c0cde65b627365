"""What the demo writes in a dialect, the project's own reader reads back as it was meant."""

from pathlib import Path

import polars as pl
import pytest

from parsers.dialect import find_dialect
from parsers.reading import Carry
from server.demo.handwriting import DIALECTS, Handwriting
from server.demo.simulate import HOST, LINKS, PAGER, Simulated
from server.demo.write import SPOKEN
from shared.columns import EVENT_SCHEMA
from shared.errors import DialectError

UNSAID = {  # what the dialect's shapes leave out, as a start or a link's beginning has said it
    "over-end": ["target"],
    "carrier-down": [],
}


def read_back(name: str, rows: pl.DataFrame) -> pl.DataFrame:
    hand = Handwriting(DIALECTS / f"{name}.toml")
    lines = [*hand.header(), *hand.lines(rows.iter_rows(named=True))]
    read = find_dialect(name, Path()).read(pl.Series(lines), Carry(), int(rows["t"].max() or 0))
    assert len(read.events) == len(rows)
    return read.events.drop("line")


def meant(rows: pl.DataFrame) -> pl.DataFrame:
    for event, keys in UNSAID.items():
        rows = rows.with_columns(pl.when(pl.col("event") != event).then(key).alias(key) for key in keys)
    return rows.drop("line")


def test_the_hosts_log_comes_back_as_it_was_meant(autumn: Simulated) -> None:
    rows = autumn.logs[HOST]
    assert read_back(SPOKEN[HOST], rows).equals(meant(rows))


def test_the_pagers_log_comes_back_as_it_was_meant(autumn: Simulated) -> None:
    rows = autumn.logs[PAGER]
    assert read_back(SPOKEN[PAGER], rows).equals(meant(rows))


def test_the_log_of_the_links_comes_back_to_the_second_over_the_change_of_the_clocks(autumn: Simulated) -> None:
    rows = autumn.logs[LINKS].with_columns(pl.col("t") // 1_000_000 * 1_000_000)
    assert read_back(SPOKEN[LINKS], rows).equals(meant(rows))


@pytest.mark.parametrize("name", ["scar-csv", "gimmer-rigg"])
def test_whole_overs_on_one_line_come_back_as_they_were_meant(name: str, autumn: Simulated) -> None:
    ends = autumn.logs[HOST].filter((pl.col("event") == "over-end") & pl.col("station").is_not_null()).head(500)
    # Both stamps of a syslog header must be whole seconds for the comparison.
    whole = ends.with_columns(
        pl.lit("over").cast(EVENT_SCHEMA["event"]).alias("event"),
        t=pl.col("t") // 1_000_000 * 1_000_000,
        seconds=pl.col("seconds").round().clip(1),
        ber_pct=pl.col("ber_pct").round(2),
    ).sort("t" if name == "scar-csv" else pl.col("t") + pl.col("seconds") * 1_000_000)
    back = read_back(name, whole)
    for key in EVENT_SCHEMA:
        if key in ("line", "ber_pct", "loss_pct"):
            continue
        assert back[key].equals(whole[key]), key
    assert (back["ber_pct"] - whole["ber_pct"]).abs().max() == pytest.approx(0, abs=1e-9)
    assert back["ber_pct"].null_count() == whole["ber_pct"].null_count()
    assert set(back["slot"].drop_nulls()) == {1, 2}


def test_an_event_that_a_dialect_has_no_words_for_is_refused_by_name(autumn: Simulated) -> None:
    start = autumn.logs[HOST].filter(pl.col("event") == "over-start").head(1)
    with pytest.raises(DialectError, match=r"gimmer-rigg.*no \[\[line\]\] can say.*over-start"):
        Handwriting(DIALECTS / "gimmer-rigg.toml").lines(start.iter_rows(named=True))


def test_an_envelope_that_the_demo_does_not_write_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "odd.toml"
    path.write_text('[dialect]\nname = "odd"\nenvelope = "json"\n')
    with pytest.raises(DialectError, match="json"):
        Handwriting(path)
