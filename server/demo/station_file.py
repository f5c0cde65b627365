"""The station file of Brackenfell, commented for a keeper who meets one for the first time."""

from server.demo import world
from server.telling.caution import DECIDE, SAFETY, WORK

HOLD, KEYED, GRACE = world.HOLD_S, world.TAIL_S, world.GRACE_S
HEAD = f"""\
# The Brackenfell Repeater Group's station file. Brackenfell, its people and its logs are invented:
# no call sign begins with Q, so nobody in here can be a real station.

[repeater]
callsign = "{world.CALLSIGN}"
name = "{world.NAME}"
zone = "{world.ZONE}"                  # days and weeks are counted in this zone

[timers]
timeout_s = {world.TIMEOUT_S}                          # the longest over that the repeater lets through
hold_s = {{ default = {HOLD["default"]}, dmr = {HOLD["dmr"]} }}       # how long it stays with a mode after an over
tail_s = {{ default = {KEYED["default"]}, dmr = {KEYED["dmr"]} }}         # how long it stays keyed after an over
courtesy_gap_s = {world.COURTESY_GAP_S}                     # the gap in which others can break in
quiet_log_s = {world.QUIET_LOG_S}                        # a longer silence of all logs means that nothing is known
"""

LOG = """
[[log]]
path = "{path}"
dialect = "{dialect}"
"""

TARGET = """
[[target]]
mode = "{mode}"
name = "{name}"
label = "{label}"
reach = "{reach}"
"""

TAIL = f"""
[store]
url = "sqlite:///airtally.db"            # lies beside this file

[alerts]
notify = []                              # Apprise URLs, such as "json://localhost:9000/"
grace_s = {GRACE}                             # how far beyond the time-out an over may run before it is reported
quiet_hours = "23:00-07:00"              # only what is urgent wakes anybody then

# {SAFETY}
# {DECIDE}
# {WORK}
[transmitter]
power_w = 25
feeder_loss_db = 2.0
antenna_gain_dbi = 8.15
duty_rating = 0.5                        # share of an hour that it may be keyed
frequency_mhz = 435.0                    # for the screening of exposure

[web]
listen = "127.0.0.1:8087"
path_prefix = ""
"""


def station_file(logs: list[tuple[str, str]]) -> str:
    """The text of station.toml for logs given as (path, dialect)."""
    parts = [HEAD, *(LOG.format(path=path, dialect=dialect) for path, dialect in logs)]
    parts += [
        TARGET.format(mode=one.mode, name=one.name, label=one.label, reach=one.reach)
        for one in world.TARGETS
        if one.name
    ]
    return "".join([*parts, TAIL])
