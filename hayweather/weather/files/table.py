"""What every layout reader hands over: rows with UTC stamps and columns as read."""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass, field

import numpy as np
from numpy.typing import NDArray

from hayweather.weather.files.file_units import FileUnit
from hayweather.weather.files.options import HourConvention, Origin, Timing
from hayweather.weather.quality import Repair
from hayweather.weather.record import Assumption, Floats, Times

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
    repairs: tuple[Repair, ...] = ()
    refused: tuple[Repair, ...] = ()
    assumed: tuple[Assumption, ...] = ()

    def column(self, served_as: str) -> FileColumn | None:
        """The column that serves as `served_as`, or None."""
        return next((c for c in self.columns if c.served_as == served_as), None)
