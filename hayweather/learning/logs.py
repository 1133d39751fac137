"""READINGS.csv and LOG.csv: what was measured, and what happened."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, TypeVar, cast

import numpy as np

from hayweather.errors import InputError
from hayweather.farm.records import Farm
from hayweather.learning.sheet import Row, read_sheet
from hayweather.units import to_inside

ReadingKind = Literal["windrow", "leaf", "stem", "bale", "skin"]
Event = Literal["baled", "too_dry", "too_wet", "rig", "rain"]

MOISTURE_RANGE_WB = (1.0, 80.0)  # what a meter in hay can show
METER_ERRORS = {"windrow": 1.0, "leaf": 1.0, "stem": 1.0, "bale": 2.0, "skin": 1.0}  # assumed
METER_ERROR_RANGE = (0.1, 20.0)
BIAS_RANGE = (-15.0, 15.0)
SKIN_RANGE_C = (-30.0, 70.0)
WATER_RANGE_L_T = (0.0, 500.0)
LONGEST_EVENT = np.timedelta64(48 * 3600, "s")

READING_COLUMNS = (
    *("time", "field", "moisture_wb", "kind", "meter_error", "bias", "note"),
    *("skin_temperature_c", "skin_temperature_f", "water_l_per_t", "water_gal_per_ton"),
)
LOG_COLUMNS = ("start", "end", "field", "event", "moisture_wb", "note")
EVENTS: tuple[Event, ...] = ("baled", "too_dry", "too_wet", "rig", "rain")


@dataclass(frozen=True)
class FieldReading:
    """One row of READINGS.csv.

    Attributes
    ----------
    time
        UTC.
    field
        Where.
    kind
        What was read; "skin" is the temperature of the windrow's top.
    value
        Moisture [% wet basis], the meter's bias taken off, or temperature [C].
    error
        Standard error of the meter, in the unit of `value`.
    water_l_t
        What the rig had put on before the reading [L/t]; None: no rig.
    """

    time: np.datetime64
    field: str
    kind: ReadingKind
    value: float
    error: float
    water_l_t: float | None = None

    @property
    def end(self) -> np.datetime64:
        """When it was over, as for an entry of the log."""
        return self.time


@dataclass(frozen=True)
class LogEvent:
    """One row of LOG.csv: what the hay of a field was like from `start` to `end` (UTC).

    `moisture_wb` is what was measured meanwhile [% wet basis], None where nothing was.
    """

    start: np.datetime64
    end: np.datetime64
    field: str
    event: Event
    moisture_wb: float | None = None


def read_readings(path: Path, farm: Farm, zones: Mapping[str, str | None]) -> list[FieldReading]:
    """The readings of a farm, in order of time.

    Parameters
    ----------
    path
        READINGS.csv.
    farm
        Its fields.
    zones
        Time zone of each site, for times without an offset.

    Raises
    ------
    InputError
        If the file, or a value in it, is wrong.
    """
    rows = read_sheet(path, READING_COLUMNS, ("time",))
    return sorted((_reading(row, farm, zones) for row in rows), key=lambda item: item.time)


def _reading(row: Row, farm: Farm, zones: Mapping[str, str | None]) -> FieldReading:
    """One row as a reading."""
    field = row.name("field", list(farm.fields))
    time = row.time("time", zones.get(farm.fields[field].site))
    skin = _skin_c(row)
    if skin is not None:
        return FieldReading(time, field, "skin", skin, _skin_error(row))
    moisture = row.number("moisture_wb", *MOISTURE_RANGE_WB)
    if moisture is None:
        raise row.error("reading_nothing", "moisture_wb")
    kind = cast(ReadingKind, row.word("kind", ("windrow", "leaf", "stem", "bale"), "windrow"))
    error = row.number("meter_error", *METER_ERROR_RANGE)
    bias = row.number("bias", *BIAS_RANGE) or 0.0
    return FieldReading(
        time, field, kind, moisture - bias, error or METER_ERRORS[kind], _water_l_t(row)
    )


def _skin_c(row: Row) -> float | None:
    """Temperature of the windrow's top [C], in either unit."""
    low, high = SKIN_RANGE_C
    warm = row.number("skin_temperature_f", low * 1.8 + 32, high * 1.8 + 32)
    if warm is not None:
        return float(to_inside(warm, "temperature", "°F"))
    return row.number("skin_temperature_c", low, high)


def _skin_error(row: Row) -> float:
    """Error of a skin thermometer [K]."""
    error = row.number("meter_error", *METER_ERROR_RANGE) or METER_ERRORS["skin"]
    return error / 1.8 if "skin_temperature_f" in row.cells else error


def _water_l_t(row: Row) -> float | None:
    """What the rig had put on [L/t], in either unit."""
    low, high = WATER_RANGE_L_T
    gallons = row.number(
        "water_gal_per_ton", low, float(high / to_inside(1.0, "water_rate", "gal/ton"))
    )
    if gallons is not None:
        return float(to_inside(gallons, "water_rate", "gal/ton")) or None
    return row.number("water_l_per_t", low, high) or None


def read_log(path: Path, farm: Farm, zones: Mapping[str, str | None]) -> list[LogEvent]:
    """What happened on a farm, in order of time; parameters as for `read_readings`.

    Parameters
    ----------
    path
        A CSV file.
    farm
        Its fields are those that may be named.
    zones
        Of the sites, for local times.

    Raises
    ------
    InputError
        If the file, or a value in it, is wrong.
    """
    rows = read_sheet(path, LOG_COLUMNS, ("start", "end", "event"))
    return sorted((_event(row, farm, zones) for row in rows), key=lambda item: item.start)


def _event(row: Row, farm: Farm, zones: Mapping[str, str | None]) -> LogEvent:
    """One row as an event."""
    field = row.name("field", list(farm.fields))
    zone = zones.get(farm.fields[field].site)
    start, end = row.time("start", zone), row.time("end", zone)
    if end <= start:
        raise row.error("log_reversed", "end")
    if end - start > LONGEST_EVENT:
        raise row.error("log_long", "end")
    event = cast(Event, row.word("event", EVENTS))
    return LogEvent(start, end, field, event, row.number("moisture_wb", *MOISTURE_RANGE_WB))


def fields_of(readings: Sequence[FieldReading]) -> list[str]:
    """Fields that have a reading, each once.

    Parameters
    ----------
    readings
        Of any fields, in order of time.
    """
    return list(dict.fromkeys(reading.field for reading in readings))


Note = TypeVar("Note", FieldReading, LogEvent)


def noted_before(notes: list[Note], time: np.datetime64 | None, file: str) -> list[Note]:
    """Readings or entries that were over by a time; all of them where it is None.

    Parameters
    ----------
    notes
        In order of time.
    time
        UTC, or None.
    file
        Named in the error.

    Raises
    ------
    InputError
        If none is left.
    """
    found = [note for note in notes if time is None or note.end <= time]
    if not found:
        raise InputError("learning_none_before", file, count=len(notes))
    return found
