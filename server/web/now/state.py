"""How it stands, as one sentence and a list of what is in trouble. Pure: the Now page shows just what stands here."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from server.alerts.incident import Incident
from server.alerts.queries import Lately
from server.alerts.states import DIGEST_ONLY, State
from server.intake.overview import LogRead
from server.service import Health
from server.telling import words
from server.telling.incidents import whole_title
from server.telling.moments import instant_words
from server.telling.numbers import elapsed
from server.telling.sentences import Level
from server.telling.transmitter import NO_NOTICES
from server.telling.unread import MEND, nothing_told
from shared.incidents import since
from shared.zones import DAY, HOUR, SECOND

QUIET = 6 * HOUR  # a repeater that writes no heartbeats is silent for a night
SILENT = DAY  # longer than any night
AHEAD = 300 * SECOND  # clocks of two machines differ by less
MUCH_UNREAD = 0.01
ROUND_LATE = 600 * SECOND  # the watch asks its rules every minute, and once more whenever lines came


@dataclass(frozen=True)
class Remark:
    """One sentence with what it asks for: to be looked at, to be noted, or nothing."""

    level: Level
    says: str
    why: str = ""  #: text from outside that goes with it


@dataclass(frozen=True)
class LogCondition:
    """One log: when its last line came, and what is the matter with it."""

    name: str
    last: str
    remarks: tuple[Remark, ...]

    @property
    def level(self) -> Level:
        return worst(self.remarks)


@dataclass(frozen=True)
class Condition:
    """All that the first sentence is made from."""

    nothing_read: bool
    stands_still: bool  #: a demo: nothing is watched
    raised: Sequence[State | Incident]
    logs: Sequence[LogCondition]
    itself: Sequence[Remark]  #: of airtally's own work
    lines: int = 0  #: that were read
    watching: bool = True  #: whether the rules are asked, of what is read as it comes


def worst(remarks: Sequence[Remark]) -> Level:
    levels = {remark.level for remark in remarks}
    return "look" if "look" in levels else "note" if "note" in levels else "fine"


def log_stands(log: LogRead, now: int, zone: ZoneInfo) -> LogCondition:
    """What is to be said of one log at an instant."""
    if not log.lines or log.last_us is None:
        nothing = Remark("look", "Nothing was read from it: `airtally check` says what is in the way.")
        if log.lines:
            nothing = Remark("look", f"{nothing_told(log.lines)} {MEND}")
        return LogCondition(log.name, words.UNKNOWN, (nothing, *_troubles(log)))
    remarks = [*_troubles(log), *_lateness(log, log.last_us, now), *_read_badly(log)]
    ago = max(0, now - log.last_us)
    last = f"{_ago(ago)} ago, {instant_words(log.last_us, zone)}"
    if log.last_us > now + AHEAD:
        last = f"stamped {instant_words(log.last_us, zone, with_year=True)}"
    return LogCondition(log.name, last, tuple(remarks))


def _troubles(log: LogRead) -> list[Remark]:
    remarks = [Remark("look", "It could not be read at the last pass.", trouble) for trouble in log.troubles]
    return remarks


def _ago(us: int) -> str:
    """Whole minutes are enough."""
    minutes = us // (60 * SECOND)
    return elapsed(minutes * 60.0) if minutes else "under a minute"


def _lateness(log: LogRead, last: int, now: int) -> list[Remark]:
    if not log.named:
        return [Remark("note", "The station file names it no more: nothing new is read from it.")]
    if last > now + AHEAD:
        ahead = words.duration((last - now) / SECOND)
        return [
            Remark(
                "look",
                f"Its last line is stamped {ahead} ahead of this machine’s clock: one of the two clocks is wrong.",
            )
        ]
    silent = now - last
    if log.late_after_s is not None and silent > log.late_after_s * SECOND:
        return [
            Remark(
                "look",
                f"It is late: {words.duration(log.late_after_s)} without a line is the most that `quiet_log_s` allows.",
            )
        ]
    if silent > SILENT:
        return [Remark("look", "No line has come for more than a day.")]
    if silent > QUIET:
        return [
            Remark(
                "note", "No line has come for hours; `quiet_log_s` is not set, so nobody knows whether that is usual."
            )
        ]
    return []


def _read_badly(log: LogRead) -> list[Remark]:
    remarks = []
    troubled = sum(file.trouble is not None for file in log.files)
    if troubled:
        remarks.append(Remark("look", f"{words.count(troubled, 'file')} of it could not be read to the end."))
    lines, unread = log.lately
    if not log.again and log.unread_now:
        came, lost = log.latest
        remarks.append(
            Remark("look", f"{words.whole_number(lost)} of its latest {words.count(came, 'line')} could not be read.")
        )
    elif not log.again and unread > MUCH_UNREAD * lines:  # else they were read with a dialect that has been mended
        remarks.append(
            Remark("look", f"{words.percent(unread / lines)} of its lines of the last seven days could not be read.")
        )
    if log.again:
        remarks.append(Remark("look", "Lines of it would be read otherwise now.", log.again.says))
    remarks += [Remark("note", "A file of it waits.", waits) for waits in log.waiting]
    return remarks


def itself_stands(
    health: Health, lately: Lately | None, notices_go: bool, failing: int, now: int
) -> tuple[Remark, ...]:
    """How airtally's own work stands: its parts, the watch and its notices. `lately` None: nothing is to be watched."""
    remarks = [Remark("look", fault.says, fault.why) for fault in (*health.faults, *health.remarks)]
    if lately is None or any(fault.part == "watch" for fault in health.faults):
        pass  # a demo watches nothing; what a watch in trouble has not asked follows from its trouble
    elif lately.watched is None:
        remarks.append(
            Remark(
                "look", "Nothing is watched: no alert can be raised before `airtally serve` has made its first round."
            )
        )
    elif now - lately.watched[1] > ROUND_LATE:
        ago = words.duration((now - lately.watched[1]) / SECOND)
        remarks.append(
            Remark("look", f"The watch has not asked its rules for {ago}: what happened since then raised no alert.")
        )
    if not notices_go:
        remarks.append(Remark("note", f"{NO_NOTICES}."))
    if failing:
        remarks.append(
            Remark("look", f"{words.count(failing, 'notice')} {words.verb(failing, 'has', 'have')} not got through.")
        )
    return tuple(remarks)


def is_watching(health: Health, lately: Lately, now: int) -> bool:
    """Whether the rules are asked of what comes in, as far as airtally's parts and the time of the last round tell."""
    late = lately.watched is None or now - lately.watched[1] > ROUND_LATE
    return not late and not any(fault.part in ("intake", "watch", "store") for fault in health.faults)


def headline(condition: Condition, zone: ZoneInfo) -> str:
    """How it stands, the worst first. It says that all is in order only where nothing is raised, late, unread, stopped
    or unseen.
    """
    if condition.nothing_read:
        return nothing_told(condition.lines)
    standing = [one for one in condition.raised if (one.rule, one.subject) not in DIGEST_ONLY]
    if standing:
        return _raised(sorted(standing, key=lambda one: (not one.urgent, one.raised)), zone)
    if condition.stands_still:
        return "This is a demo: its clock stands still, and nothing is watched."
    if troubles := _needs_look(condition):
        return f"{troubles}. {_beside_troubles(condition)}"
    return next(sentence for is_so, sentence in NOTHING_WRONG if is_so(condition))


#: Where nothing needs a look, the first of these that is so.
NOTHING_WRONG: tuple[tuple[Callable[[Condition], bool], str], ...] = (
    (lambda condition: bool(condition.raised), "The transmitter is keyed for more of an hour than its rating allows."),
    (
        lambda condition: any(log.level == "note" for log in condition.logs),
        "No alert is open, but there is something to note about the logs.",
    ),
    (
        lambda condition: worst(condition.itself) == "note",
        "No alert is open, and the log comes in. If one were raised, nobody would be told.",
    ),
    (lambda _: True, "No alert is open, the log comes in, and airtally is at work."),
)


def _needs_look(condition: Condition) -> str:
    """What needs a look besides alerts, as a sentence without its end; empty where nothing does."""
    bad = sum(log.level == "look" for log in condition.logs)
    troubles = []
    if worst(condition.itself) == "look":
        troubles.append("airtally itself needs a look")
    if bad:
        troubles.append(f"{words.count(bad, 'log')} {words.verb(bad, 'needs', 'need')} a look")
    if not condition.logs:
        troubles.append("no log is named in the station file")
    sentence = " and ".join(troubles)
    return sentence if sentence.startswith("airtally") else sentence[:1].upper() + sentence[1:]


def _beside_troubles(condition: Condition) -> str:
    """Whether alerts are known to be none while something needs a look."""
    if condition.watching and not any(log.level == "look" for log in condition.logs):
        return "No alert is open."
    return "Whether anything else is wrong is not known."


def _raised(standing: Sequence[State | Incident], zone: ZoneInfo) -> str:
    first, many = standing[0], len(standing)
    title = whole_title(first.rule, first.subject)
    said = f"{title[0].lower()}{title[1:]}, since {instant_words(since(first), zone)}"
    if first.urgent:
        rest = (
            f", and {words.count(many - 1, 'more alert')} {words.verb(many - 1, 'is', 'are')} open" if many > 1 else ""
        )
        return f"Look now: {said}{rest}."
    return (
        f"An alert is open: {said}."
        if many == 1
        else f"{words.count(many, 'alert')} are open, the first of them: {said}."
    )
