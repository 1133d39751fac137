"""The farm's log: one SQLite file a farm, with all that was read, done, measured and issued."""

from hayweather.log.book import Log, has_log, open_log
from hayweather.log.joined import (
    as_reading,
    keep_forecasts,
    keep_issued,
    readings_for_night,
)
from hayweather.log.records import (
    Entry,
    Issued,
    KeptForecast,
    LoggedBales,
    LoggedReading,
    LoggedWork,
    Observation,
)

__all__ = [
    "Entry",
    "Issued",
    "KeptForecast",
    "Log",
    "LoggedBales",
    "LoggedReading",
    "LoggedWork",
    "Observation",
    "as_reading",
    "has_log",
    "keep_forecasts",
    "keep_issued",
    "open_log",
    "readings_for_night",
]
