"""What a reader is told and what it declares."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from hayweather.weather.quality import Repair

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
    """

    timezone: str | None = None
    wind_height_m: float | None = None
    hour: HourConvention | None = None
    units: Mapping[str, str] = field(default_factory=dict)
    site_elevation_m: float | None = None
    layout: str | None = None


@dataclass(frozen=True)
class ColumnRead:
    """One column of the file that was used.

    Attributes
    ----------
    file_name, served_as, unit
        Name in the file, column of the record it served, unit in the file.
    timing
        What its values are in the file.
    hours_missing
        Hours of the record in which it is missing after the repairs.
    """

    file_name: str
    served_as: str
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
