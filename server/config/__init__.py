"""The station file: `schema` declares every setting once, `station` is the whole, `loading` reads a file, `explaining`
says what is wrong with it, `writing` makes one.
"""

from server.config.loading import load_station
from server.config.schema import DUTY_LIMIT, JOURNAL, QUIET_DUTY_LIMIT, Journal, Log, Mode, Width
from server.config.station import Station
from server.config.writing import settings_table, station_text

__all__ = [
    "DUTY_LIMIT",
    "JOURNAL",
    "QUIET_DUTY_LIMIT",
    "Journal",
    "Log",
    "Mode",
    "Station",
    "Width",
    "load_station",
    "settings_table",
    "station_text",
]
