"""What a reader is told, what it hands over, and what it declares."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import KW_ONLY, dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from hayweather.errors import WeatherFileError
from hayweather.weather.files.headers import FileUnit
from hayweather.weather.files.text import FileText
from hayweather.weather.quality import Repair
from hayweather.weather.record import Assumption, Floats, Times

HourConvention = Literal["start", "center", "end"]
Timing = Literal["instant", "mean", "sum", "period"]
"""How a value of the file relates to time; ``period``: the extreme or state of its hour."""
Origin = Literal["file", "layout", "option", "assumed"]


@dataclass(frozen=True)
class ReadOptions:
    """What the file does not say, or says wrongly.

    Attributes
    ----------
    timezone
        Zone of the file's clock: an IANA name or an offset like ``UTC-07:00``.
        Used only where the file itself names none.
    wind_height_m
        Height of the wind above ground; beats the file's.
    hour
        Where the hour of a sum or mean lies around its stamp; beats the file's.
    units
        ``{column of the file: unit}`` where its header names no unit.
    site_elevation_m
        For pressure reduced to sea level; the file's own elevation comes first.
    layout
        Name of the layout, when the contents do not decide it.
    day_first
        Order of day and month in dates that do not tell; None: by the whole column.
    usual_units
        ``{quantity: unit}`` of columns whose unit neither the file nor `units` names.
    names
        ``{column of the file: column of the record}`` where its name does not tell.
    columns
        A map of the columns: a ``[columns]`` table, name of a shipped map, or
        path of a file; None to go by the names in the file.
    """

    timezone: str | None = None
    wind_height_m: float | None = None
    hour: HourConvention | None = None
    units: Mapping[str, str] = field(default_factory=dict)
    site_elevation_m: float | None = None
    layout: str | None = None
    day_first: bool | None = None
    usual_units: Mapping[str, str] = field(default_factory=dict)
    names: Mapping[str, str] = field(default_factory=dict)
    columns: object = None


@dataclass(frozen=True)
class ColumnRead:
    """One column of the file that was used.

    Attributes
    ----------
    file_name, served_as, unit
        Name in the file, column of the record it served, unit in the file.
    holds
        What the file has there: humidity serves the dew point, else as `served_as`.
    timing
        What its values are in the file.
    hours_missing
        Hours of the record in which it is missing after the repairs.
    """

    file_name: str
    served_as: str
    holds: str
    unit: str
    timing: Timing
    hours_missing: int


@dataclass(frozen=True)
class ReadReport:
    """What was read from a weather file, how it was understood, what was done to it.

    Attributes
    ----------
    file
        Name of the file.
    layout, encoding, compressed, delimiter, decimal_mark, header_lines
        How the file is written. `delimiter` is ``"blank"`` for fixed columns.
    columns, unused
        Columns that served, and names of columns that did not.
    timezone, timezone_from
        Zone or offset of the file's clock and who says so.
    hour, hour_from
        Where the hour of sums and means lies around the stamp, and who says so.
    step_minutes
        Usual time between rows.
    wind_height_m, wind_height_from
        Height of the wind and who says so.
    rows, hours, first, last
        Rows of the file; hours of the record, UTC starts of first and last.
    repairs, refused, flags
        Named repairs; values refused by the file's own quality marks; sensors
        that look stuck.
    stations
        Stations named in the file, as written.
    typical_year
        True for stitched typical years.
    blanked
        Values taken as missing because they cannot be, a row each.
    """

    file: str
    layout: str
    encoding: str
    compressed: bool
    delimiter: str
    decimal_mark: str
    header_lines: int
    columns: tuple[ColumnRead, ...]
    unused: tuple[str, ...]
    timezone: str
    timezone_from: Origin
    hour: HourConvention
    hour_from: Origin
    step_minutes: float
    wind_height_m: float
    wind_height_from: Origin
    rows: int
    hours: int
    first: np.datetime64
    last: np.datetime64
    repairs: tuple[Repair, ...] = ()
    refused: tuple[Repair, ...] = ()
    flags: tuple[Repair, ...] = ()
    stations: tuple[str, ...] = ()
    typical_year: bool = False
    blanked: tuple[WeatherFileError, ...] = ()


Integers = NDArray[np.int64]


@dataclass(frozen=True)
class FileColumn:
    """One column of a file, in inside units, at the file's stamps.

    Attributes
    ----------
    served_as
        A column of the record, or ``relative_humidity_percent``,
        ``altimeter_kpa``, ``sea_level_pressure_kpa``, ``repaired``.
    file_name
        As the file calls it.
    unit
        As the file has it; knows the way back for messages.
    values
        (rows,), inside units; amounts and rates over the period still so.
    timing
        What the values are in the file.
    shift_s
        Seconds from the stamp to where the value really lies.
    period_s
        Seconds that a sum covers, where that is not the step of the rows.
    """

    served_as: str
    file_name: str
    unit: FileUnit
    values: Floats
    timing: Timing
    shift_s: int = 0
    period_s: int | None = None


@dataclass(frozen=True)
class Place:
    """Where the weather is from, as far as the file says."""

    latitude: float | None = None
    longitude: float | None = None
    elevation_m: float | None = None
    timezone: str | None = None
    stations: tuple[str, ...] = ()


@dataclass(frozen=True)
class Shape:
    """How the file is written."""

    layout: str
    delimiter: str
    decimal_mark: str = "."
    header_lines: int = 0


@dataclass(frozen=True)
class Clock:
    """How the file's clock was understood.

    Attributes
    ----------
    name, origin
        Zone or offset and who says so.
    hour, hour_origin
        Where sums and means lie around the stamp and who says so.
    phase_s
        Seconds of a UTC hour at which the local hours of the file begin.
    """

    name: str
    origin: Origin
    hour: HourConvention
    hour_origin: Origin
    phase_s: int = 0


@dataclass(frozen=True)
class FileTable:
    """A weather file as rows, before it is brought to hours.

    Attributes
    ----------
    lines
        Line number of each row, (rows,).
    stamps
        UTC, ``datetime64[s]``, (rows,), as the file orders them.
    wind_height_m, wind_height_from
        Height of the wind above ground and who says so.
    unused
        Names of the columns that do not serve.
    irregular
        True where reports may come at any minute.
    exact
        True for files written by this package: nothing is repaired again.
    measured
        True for observations and years of the past.
    """

    shape: Shape
    clock: Clock
    lines: Integers
    stamps: Times
    columns: tuple[FileColumn, ...]
    wind_height_m: float
    _: KW_ONLY
    unused: tuple[str, ...] = ()
    wind_height_from: Origin = "layout"
    place: Place = field(default_factory=Place)
    issued: np.datetime64 | None = None
    fetched: np.datetime64 | None = None
    source: str | None = None
    attribution: str = ""
    typical_year: bool = False
    irregular: bool = False
    exact: bool = False
    measured: bool = False
    repairs: tuple[Repair, ...] = ()
    refused: tuple[Repair, ...] = ()
    assumed: tuple[Assumption, ...] = ()

    def column(self, served_as: str) -> FileColumn | None:
        """The column that serves as `served_as`, or None."""
        return next((c for c in self.columns if c.served_as == served_as), None)


def seconds(stamps: Times) -> np.ndarray:
    """Stamps as whole seconds since 1970."""
    return stamps.astype("datetime64[s]", copy=False).view(np.int64)


@dataclass(frozen=True)
class Layout:
    """One file layout: the one place that knows of it, beside its reader.

    Its name for people is the text ``weather_layout_<name>``.

    Attributes
    ----------
    name
        As an option and a report have it.
    matches
        Whether a file is written so, by its contents.
    read
        Its rows; called only for a file that matches.
    hour
        Where its sums and means lie around their stamp; None where each file says it.
    measured
        True where it holds observations or years of the past, never a forecast.
    """

    name: str
    matches: Callable[[FileText], bool]
    read: Callable[[FileText, ReadOptions], FileTable]
    hour: HourConvention | None = None
    measured: bool = False
