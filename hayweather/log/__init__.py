"""The farm's log: one SQLite file a farm, with all that was read, done, measured and issued."""

from hayweather.log.book import Log, open_log
from hayweather.log.joined import (
    Joined,
    as_reading,
    join_readings,
    keep_issued,
    night_readings,
    readings_for_night,
)
from hayweather.log.records import (
    Entry,
    Issued,
    LoggedBales,
    LoggedReading,
    LoggedWork,
    Observation,
)

__all__ = [
    "Entry",
    "Issued",
    "Joined",
    "Log",
    "LoggedBales",
    "LoggedReading",
    "LoggedWork",
    "Observation",
    "as_reading",
    "join_readings",
    "keep_issued",
    "night_readings",
    "open_log",
    "readings_for_night",
]
