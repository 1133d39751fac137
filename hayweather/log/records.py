"""What stands in a farm's log: readings, work, bales, hours of a station, what was issued.

Times are UTC ``datetime64[s]``. What people type (`Entry`) has a number for people, a
uuid by which it is sent once however often it is sent, and is never lost: a removed
entry is marked with the time of its removal.
"""

from __future__ import annotations

import json
import uuid
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any, Literal, TypeAlias, get_args

import numpy as np

from hayweather.weather.record import Floats

ReadingKind: TypeAlias = Literal["windrow", "leaf", "stem", "bale", "skin"]
Layer: TypeAlias = Literal["top", "middle", "bottom"]
Method: TypeAlias = Literal["meter", "oven"]
Span: TypeAlias = Literal["baled", "too_dry", "too_wet", "rig", "rain"]
Instant: TypeAlias = Literal["started", "stopped", "filled", "note", "broken", "mended"]
Event: TypeAlias = Literal[Span, Instant]

KINDS: tuple[ReadingKind, ...] = get_args(ReadingKind)
LAYERS: tuple[Layer, ...] = get_args(Layer)
METHODS: tuple[Method, ...] = get_args(Method)
SPANS: tuple[Span, ...] = get_args(Span)
INSTANTS: tuple[Instant, ...] = get_args(Instant)
EVENTS: tuple[Event, ...] = (*SPANS, *INSTANTS)

OF_MACHINES: tuple[Instant, ...] = ("broken", "mended")

METER_ERRORS = {"windrow": 1.0, "leaf": 1.0, "stem": 1.0, "bale": 2.0, "skin": 1.0}  # assumed
DAY_S, TURN_S = 86_400, 14 * 3600
OVEN_ERROR_WB = 0.5  # of a sample dried in an oven, points: sampling and weighing (assumed)

_NAMES = uuid.UUID("5b0f9a0e-6a57-4c86-9a0d-0a3f3f1c9b51")  # of ids made from content
_BOOKKEEPING = ("id", "uuid", "made", "by", "source", "removed")


@dataclass(frozen=True, kw_only=True)
class Entry:
    """What every entry has.

    Attributes
    ----------
    field, time
        Where and when (UTC).
    note
        In one line.
    uuid
        The same entry has the same one wherever it goes.
    by, source
        Who wrote it, and by what way it came.
    made, removed
        When it was written into the log, and when it was taken out again; None: it stands.
    id
        For people, counted up in one log; 0 before it is in one.
    """

    field: str
    time: np.datetime64
    note: str = ""
    uuid: str = ""
    by: str = ""
    source: str = ""
    made: np.datetime64 | None = None
    removed: np.datetime64 | None = None
    id: int = 0

    @property
    def over(self) -> np.datetime64:
        """When it was over."""
        return self.time

    def content(self) -> dict[str, Any]:
        """All that is said of field and hay, without the bookkeeping."""
        return {
            item.name: getattr(self, item.name)
            for item in fields(self)
            if item.name not in _BOOKKEEPING
        }


@dataclass(frozen=True, kw_only=True)
class LoggedReading(Entry):
    """A reading.

    Attributes
    ----------
    kind
        What was read; "skin" is the temperature of the windrow's top.
    layer
        Third of the windrow's depth; None: the whole, or it was not said.
    moisture_wb
        As the meter showed it [% wet basis]; None for "skin".
    skin_temperature_c
        For "skin" [C].
    meter_error, bias
        Standard error, and how much it shows too high [points or K].
    method
        Meter or oven; None: not said.
    water_l_t
        What the rig had put on before [L/t]; None: no rig.
    """

    kind: ReadingKind = "windrow"
    layer: Layer | None = None
    moisture_wb: float | None = None
    skin_temperature_c: float | None = None
    meter_error: float = METER_ERRORS["windrow"]
    bias: float = 0.0
    method: Method | None = None
    water_l_t: float | None = None

    @property
    def value(self) -> float:
        """The reading with the meter's bias taken off [% wet basis, or C]."""
        shown = self.skin_temperature_c if self.moisture_wb is None else self.moisture_wb
        return float("nan") if shown is None else shown - self.bias


@dataclass(frozen=True, kw_only=True)
class LoggedWork(Entry):
    """Work, or what the hay was like.

    Attributes
    ----------
    event
        What happened; "started", "stopped", "filled", "note", "broken" and "mended" (a
        machine, wherever it stands) at a moment, the others from `time` to `end`.
    end
        UTC; None for a moment.
    machine
        Name in the farm file; empty: not said.
    moisture_wb
        Measured meanwhile [% wet basis]; None: not measured.
    """

    event: Event
    end: np.datetime64 | None = None
    machine: str = ""
    moisture_wb: float | None = None

    @property
    def over(self) -> np.datetime64:
        """When it was over."""
        return self.time if self.end is None else self.end


@dataclass(frozen=True, kw_only=True)
class LoggedBales(Entry):
    """Bales as they came out: how many, mean mass [kg], mean and highest moisture, temperature."""

    count: int | None = None
    mass_kg: float | None = None
    moisture_wb: float | None = None
    highest_wb: float | None = None
    temperature_c: float | None = None


HUMIDITY = "relative_humidity_percent"


@dataclass(frozen=True)
class Observation:
    """One measured value of a station.

    `quantity` is a column of `HourlyWeather` in its unit, or `HUMIDITY`; rain is what fell
    since the value before.
    """

    station: str
    time: np.datetime64
    quantity: str
    value: float
    origin: str = ""


@dataclass(frozen=True)
class Issued:
    """An outlook of a field, or a plan (`field` empty), as it was issued.

    Attributes
    ----------
    field, made
        Whose, and when (UTC).
    advice
        What it told the reader to do, in short.
    content
        All of it at full precision.
    forecast
        Number of the `KeptForecast` that it was made of; None where it is not kept.
    """

    field: str
    made: np.datetime64
    advice: str
    content: Mapping[str, Any]
    forecast: int | None = None


@dataclass(frozen=True)
class KeptForecast:
    """The hours of a forecast as they came, before any station or learned error moved them.

    Attributes
    ----------
    site, source
        Of the farm; whose forecast, as `hayweather.weather.record.Source.name`.
    hour
        UTC hour in which an answer was made of it, the first of `columns`.
    issued
        When the forecast was made, else fetched (UTC); None where nobody said.
    written
        When it was kept, by the computer's clock (UTC).
    latitude, longitude
        Of the site then.
    columns
        By name of `HourlyWeather`, in its units, hour by hour; NaN where it had none.
    wind_height_m
        Of its wind above the ground.
    id
        Counted up in one log; 0 before it is in one.
    """

    site: str
    source: str
    hour: np.datetime64
    issued: np.datetime64 | None
    written: np.datetime64
    latitude: float
    longitude: float
    columns: Mapping[str, Floats]
    wind_height_m: float
    id: int = 0

    @property
    def night(self) -> int:
        """The night it was made for, counted in days since 1970; see `night_number`."""
        return night_number(self.hour, self.longitude)


def night_number(time: np.datetime64, longitude: float) -> int:
    """The night of a time, from 14:00 to 14:00 by the sun, counted in days since 1970.

    Parameters
    ----------
    time
        UTC.
    longitude
        East positive.

    Examples
    --------
    >>> evening = np.datetime64("2026-07-09T01:30")  # 17:30 in California
    >>> night_number(evening, -120.0) == night_number(evening + np.timedelta64(12, "h"), -120.0)
    True
    """
    seconds = int(time.astype("datetime64[s]").astype(np.int64))
    return int((seconds + longitude * 240 - TURN_S) // DAY_S)


def with_uuid_of(entry: Entry, count: int = 0) -> str:
    """A uuid made from an entry's content: the same entry read again has the same one.

    Parameters
    ----------
    entry
        Of any kind.
    count
        How many of the same content came before it in its file.
    """
    said = [type(entry).__name__, count, sorted((k, str(v)) for k, v in entry.content().items())]
    return str(uuid.uuid5(_NAMES, json.dumps(said)))


def new_uuid() -> str:
    """A uuid that nothing has yet."""
    return str(uuid.uuid4())
