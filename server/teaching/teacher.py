"""All that the teaching pages ask of one station. Every method may block; errors are AirtallyErrors with one plain
sentence.
"""

from server.config import Station
from server.store.engine import Store
from server.teaching.lessons import Lessons
from server.teaching.unread import UnreadShapes


class Teacher:
    """Teaches the logs of one station."""

    def __init__(self, engine: Store, station: Station) -> None:
        self.lessons = Lessons(engine, station)  #: on logs that nobody described
        self.unread = UnreadShapes(engine, station)  #: of the logs that are followed
