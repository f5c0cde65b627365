"""A dialect at work: a batch of lines becomes columns of events."""

import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt
import polars as pl

from parsers.clock import to_instants, wall_clock
from parsers.constants import BLANKS, IGNORE, LONGEST_LINE
from parsers.envelopes import BOM, unwrap_journal, unwrap_syslog
from parsers.jsonlines import read_objects
from parsers.line_stamps import bare_at_the_end, foreign_zones, last_written, stamps_of_lines
from parsers.reading import Carry, Reading
from parsers.shapes import Shape, matches
from parsers.stamps import DAYLESS, read_stamps
from parsers.tables import choose, header_rows, read_under_headers, with_own_fields
from parsers.time_forms import Form
from parsers.timeofday import near_days, with_days
from parsers.values import Meanings, typed
from parsers.zonenames import refusal
from shared.columns import rows_where
from shared.events import IGNORED, UNDERSTOOD, UNREAD
from shared.zones import SECOND

Header = tuple[str, ...] | None  #: names of columns


@dataclass(frozen=True)
class MatchedLines:
    """n lines after matching."""

    frame: pl.DataFrame  #: event columns and `shape`, one row for each line that a shape took; `line` from 0
    wrong: npt.NDArray[np.bool_]  #: by row of frame: a value can't be
    kinds: npt.NDArray[np.uint8]  #: (n,) stamps, see parsers.stamps
    us: npt.NDArray[np.int64]  #: (n,)
    ignored: npt.NDArray[np.bool_]  #: (n,) blank, or a header line
    foreign: tuple[str, ...] = ()  #: zones that stamps name and the dialect's zone doesn't have then, one a line


@dataclass(frozen=True)
class DialectReader:
    """The Reader of one dialect (parsers.reading.Reader)."""

    name: str
    form: Form
    zone: ZoneInfo
    envelope: str
    stamped_at_end: bool
    meanings: Meanings
    shapes: tuple[Shape, ...] = ()  #: of text envelopes
    whens: tuple[Mapping[str, str], ...] = ()  #: of table envelopes, with `fields`
    fields: Mapping[str, str] | None = None  #: the host's key -> ours
    own_fields: tuple[Mapping[str, str], ...] = ()  #: by shape: what its columns mean where that differs from `fields`
    separator: str = ","
    columns: tuple[str, ...] | None = None  #: of a csv without header lines
    meaning: str = ""  #: see parsers.reading.Reader

    @property
    def dayless(self) -> bool:
        """See parsers.reading.Reader."""
        return self.form.dayless

    @property
    def may_lack_year(self) -> bool:
        """Whether stamps may be without a year."""
        return not self.dayless and (self.envelope == "syslog" or not re.search(r"\(\?P<[YyE]>", self.form.expression))

    def stamps(self, lines: pl.Series) -> tuple[npt.NDArray[np.uint8], npt.NDArray[np.int64]]:
        """Kinds and microseconds (n,) of the lines' stamps as parsers.stamps reads them; of a csv, its header stands
        among the lines.
        """
        matched = self.match(lines)
        rows = self._match_csv(matched, None)[0] if isinstance(matched, pl.Series) else matched
        return rows.kinds, rows.us

    @property
    def wanted(self) -> list[str]:
        """The host's columns that the dialect needs."""
        return list(
            dict.fromkeys([*(self.fields or {}), *(key for when in (*self.whens, *self.own_fields) for key in when)])
        )

    def read(self, lines: pl.Series, carry: Carry, around_us: int) -> Reading:
        """See parsers.reading.Reader."""
        return self.resolve(self.match(lines), carry, around_us)

    def match(self, lines: pl.Series) -> MatchedLines | pl.Series:
        """See parsers.reading.Reader. Lines of csv stay as they are: what they say depends on the header that came
        before.
        """
        lines = lines.cast(pl.String).fill_null("").str.strip_prefix(BOM)
        if self.envelope == "csv":
            return lines.str.strip_chars_end("\r\n")  # blanks may be tabs between empty cells
        return self._match(lines.str.strip_chars(BLANKS))

    def resolve(self, matched: MatchedLines | pl.Series, carry: Carry, around_us: int) -> Reading:
        """See parsers.reading.Reader."""
        if isinstance(matched, pl.Series):
            rows, header = self._match_csv(matched, self.columns or carry.header)
            return self._resolved(rows, carry, header, around_us)
        return self._resolved(matched, carry, None, around_us)

    def _match(self, lines: pl.Series) -> MatchedLines:
        if self.envelope == "json":
            short = lines.set(lines.str.len_bytes() > LONGEST_LINE, "")
            values, fine = read_objects(short, self.wanted)
            return self._match_table(values, fine, lines == "")
        return self._match_text(lines)

    def _match_text(self, lines: pl.Series) -> MatchedLines:
        n = len(lines)
        rows = pl.int_range(n, dtype=pl.UInt32, eager=True)
        size = lines.str.len_bytes()
        ignored = (size == 0).to_numpy().copy()
        kinds, us = np.zeros(n, dtype=np.uint8), np.zeros(n, dtype=np.int64)
        tried = rows_where(pl.DataFrame({"row": rows, "text": lines}), size.is_between(1, LONGEST_LINE))
        if self.envelope in ("syslog", "journal") and len(tried):
            inside = (unwrap_syslog if self.envelope == "syslog" else unwrap_journal)(tried["text"])
            at = tried["row"].to_numpy()
            kinds[at], us[at] = inside.kinds, inside.us
            text = inside.text.str.strip_chars(BLANKS)
            ignored[at] |= (text == "").fill_null(False).to_numpy()
            tried = tried.with_columns_seq(text=text).filter((text != "").fill_null(False))
        none = pl.DataFrame(schema={"row": pl.UInt32(), "shape": pl.UInt8()})
        events, stamps = [none], [pl.DataFrame(schema={"row": pl.UInt32(), "t": pl.String()})]
        for i, shape in enumerate(self.shapes):
            if not len(tried):
                break
            took, tried = matches(shape, tried)
            if not len(took):
                continue
            if "t" in shape.holes:
                stamps.append(took.select_seq("row", "t"))
            if self.meanings.events[i] == IGNORE:
                ignored[took["row"].to_numpy()] = True
            else:
                events.append(took.select_seq(pl.exclude("t"), pl.lit(i, dtype=pl.UInt8).alias("shape")))
        own = pl.concat(stamps)
        own = rows_where(own, own["t"].is_not_null())  # a pattern may leave it out
        at = own["row"].to_numpy()
        kinds[at], us[at] = read_stamps(own["t"], self.form, self.zone)
        foreign = foreign_zones(own["t"], kinds[at], self.form)
        return self._typed(pl.concat(events, how="diagonal").sort("row"), kinds, us, ignored, foreign)

    def _match_csv(
        self, lines: pl.Series, header: tuple[str, ...] | None
    ) -> tuple[MatchedLines, tuple[str, ...] | None]:
        short = lines.set(lines.str.len_bytes() > LONGEST_LINE, "")
        if header is not None and not set(self.wanted) <= set(header):
            header = None
        heads = [] if self.columns else header_rows(short, self.wanted, self.separator)
        values, fine = read_under_headers(short, header, heads, self.wanted, self.separator)
        blank = lines.str.strip_chars(BLANKS) == ""
        if heads:
            blank = blank.scatter([row for row, _ in heads], True)
        return self._match_table(values, fine, blank), heads[-1][1] if heads else header

    def _match_table(self, values: pl.DataFrame, fine: pl.Series, ignored: pl.Series) -> MatchedLines:
        n = len(fine)
        fields = self.fields or {}
        chosen = choose(values, self.whens)
        frame = values.select_seq(
            pl.int_range(n, dtype=pl.UInt32, eager=True).alias("row"),
            chosen.alias("shape"),
            *(pl.col(theirs).alias(ours) for theirs, ours in fields.items()),
        )
        for shape, own in enumerate(self.own_fields):
            if own:
                frame = with_own_fields(frame, values, (chosen == shape).fill_null(False), own, fields)
        kinds, us = np.zeros(n, dtype=np.uint8), np.zeros(n, dtype=np.int64)
        foreign: list[str] = []
        if "t" in frame.columns:
            stamp = frame["t"].str.strip_chars().set(~fine, None)
            kinds, us = read_stamps(stamp, self.form, self.zone)
            foreign = foreign_zones(stamp, kinds, self.form)
        return self._typed(frame.filter(fine & chosen.is_not_null()), kinds, us, ignored.to_numpy().copy(), foreign)

    def _typed(
        self,
        frame: pl.DataFrame,
        kinds: npt.NDArray[np.uint8],
        us: npt.NDArray[np.int64],
        ignored: npt.NDArray[np.bool_],
        foreign: list[str],
    ) -> MatchedLines:
        events, wrong = typed(frame, self.meanings)
        return MatchedLines(events, wrong.to_numpy().copy(), kinds, us, ignored, tuple(foreign))

    def _resolved(self, matched: MatchedLines, carry: Carry, header: Header, around_us: int) -> Reading:
        n = len(matched.kinds)
        frame = matched.frame
        at = frame["line"].to_numpy()
        whole = (frame["event"] == "over").fill_null(False).to_numpy()
        with np.errstate(over="ignore", invalid="ignore"):  # what is no length is found wrong, and not used
            lasts = (frame["seconds"].fill_null(0.0).to_numpy() * SECOND).round()
        lasts_us = np.where(whole & ~matched.wrong, lasts, 0).astype(np.int64)
        after = np.zeros(n, dtype=np.int64)
        if not self.stamped_at_end:
            after[at] = lasts_us
        kinds, us, wall = self._dated(matched, carry, around_us)
        us, stamped = to_instants(kinds, us, after, self.zone, carry.last_us, around_us)
        ignore = frame["event"].is_null().to_numpy()
        right = ~ignore & ~matched.wrong & stamped[at]
        verdicts = np.full(n, UNREAD, dtype=np.uint8)
        verdicts[at[right]] = UNDERSTOOD
        verdicts[at[ignore]] = IGNORED
        verdicts[matched.ignored] = IGNORED
        start = us[at] - lasts_us if self.stamped_at_end else us[at]
        events = rows_where(frame.with_columns_seq(pl.Series("t", start)), pl.Series(right))
        remarks = tuple(refusal(name, self.zone, count) for name, count in Counter(matched.foreign).items())
        now = Carry(
            last_written(us + after, stamped, carry), header, wall, first_day=carry.first_day if wall is None else None
        )
        return Reading(events, *stamps_of_lines(us, stamped, carry), verdicts, now, bare_at_the_end(stamped), remarks)

    def _dated(
        self, matched: MatchedLines, carry: Carry, around_us: int
    ) -> tuple[npt.NDArray[np.uint8], npt.NDArray[np.int64], int | None]:
        """Kinds and microseconds of the stamps with their days, and the wall clock of the last one, where the form of
        time has no date.
        """
        dayless = np.flatnonzero(matched.kinds == DAYLESS)
        if not len(dayless):
            return matched.kinds, matched.us, carry.last_wall
        if carry.near_us is not None:
            kinds, us = near_days(matched.kinds, matched.us, self.zone, carry.near_us)
            return kinds, us, int(us[dayless[-1]])
        before = carry.last_wall
        if before is None and carry.last_us is not None:
            before = int(wall_clock(np.array([carry.last_us], dtype=np.int64), self.zone)[0])
        kinds, us = with_days(matched.kinds, matched.us, self.zone, before, carry.first_day, around_us)
        return kinds, us, int(us[dayless[-1]])
