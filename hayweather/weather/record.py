"""HourlyWeather: what every reader and service hands over.

Hours are stamped at their start, in UTC. A column is one of three kinds:

=========  ==========================================================
instant    the value at the start of the hour (temperature, dew point,
           wind, cloud, pressure); linear in between
mean       the mean over the hour (shortwave)
sum        the sum over the hour (rain)
=========  ==========================================================

Arrays have the shape (hours, lanes). A lane is one site, one forecast run or
one night; lanes may start at different times. NaN is "missing" and stays so.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from numpy.typing import NDArray

from hayweather.words import Remark

if TYPE_CHECKING:
    import pandas as pd

Floats = NDArray[np.float64]
Booleans = NDArray[np.bool_]
Times = NDArray[np.datetime64]
Bits = NDArray[np.unsignedinteger[Any]]

HOUR = np.timedelta64(3600, "s")

COLUMN_KINDS: dict[str, Literal["instant", "mean", "sum"]] = {
    "air_temperature_c": "instant",
    "dew_point_c": "instant",
    "wind_speed_m_s": "instant",
    "wind_gust_m_s": "instant",
    "cloud_fraction": "instant",
    "pressure_kpa": "instant",
    "shortwave_w_m2": "mean",
    "rain_mm": "sum",
    "rain_chance_percent": "instant",
    "thunder_chance_percent": "instant",
    "lightning_level": "instant",
    "weather_code": "instant",
    "red_flag": "instant",
}
_UNITS = {"_c": "°C", "_m_s": "m/s", "_kpa": "kPa", "_w_m2": "W/m2", "_mm": "mm",
          "_percent": "%", "_fraction": "0-1"}  # fmt: skip
NEEDED = ("air_temperature_c", "dew_point_c", "wind_speed_m_s")

ORIGINS = ("absent", "derived", "forecast", "measured")
"""What `HourlyWeather.origin` counts: not there, worked out from others, said, measured."""
MEASURED, EARLIER = 1, 2
DERIVED: dict[str, int] = {
    "air_temperature_c": 4, "dew_point_c": 8, "wind_speed_m_s": 16, "cloud_fraction": 32,
}  # fmt: skip
SKY_ASSUMED = 64
MEASURED_THERE: dict[str, int] = {
    "air_temperature_c": 256, "dew_point_c": 512, "wind_speed_m_s": 1024, "rain_mm": 2048,
    "cloud_fraction": 4096,
}  # fmt: skip
"""Bits of `HourlyWeather.basis`: all of the hour is measured; it comes from an answer before the
last one; a value of it was filled or worked out; its cloud stands for a sky that nobody told; one
value of it was measured by a station, the others not."""


def unit_of(name: str) -> str:
    """The unit that the name of a column ends with; empty for codes and levels.

    Examples
    --------
    >>> unit_of("wind_speed_m_s"), unit_of("weather_code")
    ('m/s', '')
    """
    return next((unit for ending, unit in _UNITS.items() if name.endswith(ending)), "")


@dataclass(frozen=True)
class Source:
    """Where the weather comes from and how old it is.

    Attributes
    ----------
    name
        File name or service, as people call it.
    issued, fetched
        UTC times, None when unknown. `issued` is when the forecast was made,
        else the time of the file.
    attribution
        The line that the license of the data asks for; empty when none.
    stored
        True when a stored answer serves because the service did not.
    measured
        True for observations and years of the past: nothing in them is a forecast.
    answered
        True for the answer of a service, False for a file or table.
    """

    name: str
    issued: np.datetime64 | None = None
    fetched: np.datetime64 | None = None
    attribution: str = ""
    stored: bool = False
    measured: bool = False
    answered: bool = False


class Assumption(Remark):
    """One thing not given and derived or assumed, or a named repair; text ``assumed_<key>``."""


CAUTIONS = ("believed", "clock_an_hour_off", "place_differs", "air_out_of_season")
"""Keys of assumptions that belong among the cautions of every output."""


@dataclass(frozen=True, repr=False)
class HourlyWeather:
    """Hourly weather of one or more lanes, in SI units.

    Attributes
    ----------
    start
        UTC start of the first hour of each lane, ``datetime64[s]``, (lanes,).
    columns
        ``{name: array (hours, lanes)}``, names from `COLUMN_KINDS`. The three
        of `NEEDED` are always there; a column that was not given is absent,
        not filled.
    wind_height_m
        Height above ground of the wind.
    repaired
        True where an hour stands on a repaired or interpolated value,
        (hours, lanes).
    assumed
        What was assumed, derived or repaired, for people to read.
    source
        Where it comes from.
    elevation_m, latitude, longitude, timezone
        Of the place the source speaks of, where the source says so.
    typical_year
        True for stitched typical years, which are no real sequence of nights.
    basis
        What each hour stands on, bits `MEASURED`, `EARLIER`, `DERIVED` and `MEASURED_THERE`,
        (hours, lanes); `origin` reads it.
    humidity_percent
        Humidity that was given beside a dew point, (hours, lanes), for the judge,
        who takes it away; None where only one of the two was given.

    Raises
    ------
    ValueError
        If shapes disagree, a needed column is absent or a name is unknown:
        a mistake of the caller, not of the data.
    """

    start: Times
    columns: dict[str, Floats]
    wind_height_m: float
    source: Source
    repaired: Booleans = field(default_factory=lambda: np.zeros((0, 0), dtype=bool))
    assumed: tuple[Assumption, ...] = ()
    elevation_m: float | None = None
    latitude: float | None = None
    longitude: float | None = None
    timezone: str | None = None
    typical_year: bool = False
    basis: Bits = field(default_factory=lambda: np.zeros((0, 0), dtype=np.uint16))
    humidity_percent: Floats | None = None

    def __post_init__(self) -> None:
        unknown = set(self.columns) - set(COLUMN_KINDS)
        absent = set(NEEDED) - set(self.columns)
        shapes = {column.shape for column in self.columns.values()}
        if unknown or absent or len(shapes) != 1:
            raise ValueError(f"columns: unknown {unknown}, absent {absent}, shapes {shapes}")
        hours, lanes = shapes.pop()
        if self.start.shape != (lanes,):
            raise ValueError(f"start has shape {self.start.shape}, lanes are {lanes}")
        if self.repaired.size == 0:
            object.__setattr__(self, "repaired", np.zeros((hours, lanes), dtype=bool))
        if self.repaired.shape != (hours, lanes):
            raise ValueError(f"repaired has shape {self.repaired.shape}, not {(hours, lanes)}")
        if self.basis.size == 0:
            object.__setattr__(self, "basis", np.zeros((hours, lanes), dtype=np.uint16))
        if self.basis.dtype != np.uint16:
            object.__setattr__(self, "basis", self.basis.astype(np.uint16))
        if self.basis.shape != (hours, lanes):
            raise ValueError(f"basis has shape {self.basis.shape}, not {(hours, lanes)}")

    @property
    def hours(self) -> int:
        """Number of hours."""
        return int(self.columns["air_temperature_c"].shape[0])

    @property
    def lanes(self) -> int:
        """Number of lanes."""
        return int(self.columns["air_temperature_c"].shape[1])

    @property
    def end(self) -> Times:
        """UTC end of the last hour of each lane, (lanes,)."""
        return self.start + self.hours * HOUR

    def times(self) -> Times:
        """UTC start of every hour, (hours, lanes)."""
        return self.start[None, :] + np.arange(self.hours)[:, None] * HOUR

    def get(self, name: str) -> Floats | None:
        """A column, or None where it was not given."""
        return self.columns.get(name)

    def between(self, first: int, last: int) -> HourlyWeather:
        """The hours ``first`` to ``last - 1``, as a new record."""
        held = self.humidity_percent
        return replace(
            self,
            start=self.start + first * HOUR,
            columns={name: values[first:last] for name, values in self.columns.items()},
            repaired=self.repaired[first:last],
            basis=self.basis[first:last],
            humidity_percent=None if held is None else held[first:last],
        )

    @property
    def has_rain(self) -> bool:
        """Whether there is any rain column: without one nobody says that it stays dry."""
        return "rain_mm" in self.columns

    def origin(self, name: str) -> NDArray[np.int8]:
        """Where a column's value of each hour comes from, index into `ORIGINS`, (hours, lanes).

        Parameters
        ----------
        name
            A column, or ``sky``: what is known of the cloud, given or worked out
            from the sun. Of a pressure that is missing the elevation tells enough:
            it counts as derived.
        """
        if name == "sky":
            sun = self.get("shortwave_w_m2")
            tells = np.zeros(self.basis.shape, dtype=bool)
            if sun is not None:
                tells |= (~np.isnan(sun)).any(axis=0)
            found = np.maximum(self.origin("cloud_fraction"), np.where(tells, 1, 0))
            return np.where(self.basis & SKY_ASSUMED, 0, found).astype(np.int8)
        given = np.where(self.basis & (MEASURED | MEASURED_THERE.get(name, 0)), 3, 2)
        given = np.where(self.basis & DERIVED.get(name, 0), 1, given)
        values = self.get(name)
        known = np.zeros(given.shape, dtype=bool) if values is None else ~np.isnan(values)
        lost = 1 if name == "pressure_kpa" else 0
        return np.where(known, given, lost).astype(np.int8)

    def origins(self, tz: str | None = None, lane: int = 0) -> pd.DataFrame:
        """Where each input of each hour comes from, a row an hour, words of `ORIGINS`.

        Columns ``air_temperature_c``, ``dew_point_c``, ``wind_speed_m_s``, ``rain_mm``,
        ``sky``, ``pressure_kpa``, and ``earlier``: the hour stands in an answer before
        the last one.
        """
        import pandas as pd

        words = np.array(ORIGINS)
        names = (*NEEDED, "rain_mm", "sky", "pressure_kpa")
        table: dict[str, object] = {name: words[self.origin(name)[:, lane]] for name in names}
        table["earlier"] = (self.basis[:, lane] & EARLIER) > 0
        stamps = pd.DatetimeIndex(self.times()[:, lane], name="time").tz_localize("UTC")
        return pd.DataFrame(table, index=stamps.tz_convert(tz or self.timezone or "UTC"))

    def __repr__(self) -> str:
        names = ", ".join(self.columns)
        lanes = f", {self.lanes} lanes" if self.lanes > 1 else ""
        span = f"{self.hours} h from {self.start[0]}Z{lanes}"
        return f"<HourlyWeather {self.source.name}: {span}: {names}>"

    def to_pandas(self, tz: str | None = None, lane: int = 0) -> pd.DataFrame:
        """One lane as a table, a row an hour, stamped at the hour's start.

        Column names carry their unit, ``attrs["units"]`` has it again; ``attrs`` also
        holds ``source``, ``wind_height_m`` and what is known of the place.
        `hayweather.weather.files.weather_from` gives the same record back.

        Parameters
        ----------
        tz
            Zone of the index; None for the record's own, else UTC.
        lane
            Which lane.

        Raises
        ------
        IndexError
            If there is no such lane.
        """
        import pandas as pd

        if not 0 <= lane < self.lanes:
            raise IndexError(f"lane {lane} of {self.lanes}")
        stamps = pd.DatetimeIndex(self.times()[:, lane], name="time").tz_localize("UTC")
        table = pd.DataFrame(
            {name: values[:, lane] for name, values in self.columns.items()},
            index=stamps.tz_convert(tz or self.timezone or "UTC"),
        )
        table.attrs = {
            "units": {name: unit for name in self.columns if (unit := unit_of(name))},
            "source": self.source.name,
            **{
                name: value
                for name in ("wind_height_m", "latitude", "longitude", "elevation_m", "timezone")
                if (value := getattr(self, name)) is not None
            },
        }
        return table

    def missing(self) -> Booleans:
        """True where a needed value is missing, (hours, lanes).

        A rain column with a blank counts: a blank is not "no rain".
        """
        names = [*NEEDED, *(["rain_mm"] if "rain_mm" in self.columns else [])]
        return np.any([np.isnan(self.columns[name]) for name in names], axis=0)
