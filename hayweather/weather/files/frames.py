"""Tables of a notebook: a pandas DataFrame or an xarray Dataset becomes a record."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from hayweather.errors import InputError, WeatherFileError
from hayweather.units import parse
from hayweather.weather.files.headers import words_of
from hayweather.weather.files.read import read_text
from hayweather.weather.files.table import HourConvention, ReadOptions
from hayweather.weather.files.text import FileText
from hayweather.weather.judge import judged
from hayweather.weather.record import HourlyWeather

if TYPE_CHECKING:
    import pandas as pd

NAME = "table"


def meters_of(value: float | str | None) -> float | None:
    """A height [m], given as a number or with its unit: ``"33 ft"``.

    Raises
    ------
    InputError
        If it is neither.
    """
    if value is None:
        return None
    try:
        return float(parse(value, "length", "metric")) if isinstance(value, str) else float(value)
    except (KeyError, TypeError, ValueError):
        raise InputError("door_height", value=str(value)[:40]) from None


def weather_from(
    table: Any,
    units: Mapping[str, str] | None = None,
    tz: str | None = None,
    wind_height: float | str | None = None,
    *,
    hour: HourConvention | None = None,
    elevation: float | str | None = None,
) -> HourlyWeather:
    """Hourly weather from a pandas DataFrame or an xarray Dataset with a time dimension.

    Columns are recognized, repaired and refused as those of a weather file are.

    Parameters
    ----------
    table
        A row a time. The time is a DatetimeIndex, or a column such as ``time`` or
        ``time_utc``. Columns by the record's names or their usual ones.
    units
        ``{column: unit}`` where names do not tell it; ``attrs["units"]`` is read too.
    tz
        Zone of times without one.
    wind_height
        Height of the wind, meters or text with a unit; else ``attrs["wind_height_m"]``,
        else 2 m, said as assumed.
    hour
        Where sums and means lie around their stamp; the hour that begins there when None.
    elevation
        Of the place, likewise, for pressure.

    Raises
    ------
    WeatherFileError, OptionError
        One line: what was found and what is wanted. The names of the columns count
        as line 1, so that "line 2" is the first row.
    """
    frame, attrs, said = _frame_of(table)
    shown = _with_time(frame)
    given = {name: unit for name, unit in said.items() if name in shown.columns}
    height = attrs.get("wind_height_m") if wind_height is None else meters_of(wind_height)
    options = ReadOptions(
        timezone=tz, wind_height_m=height, hour=hour, units={**given, **(units or {})},
        site_elevation_m=attrs.get("elevation_m") if elevation is None else meters_of(elevation),
    )  # fmt: skip
    weather, _ = read_text(_text(shown, NAME), options)
    place = {
        name: attrs[name]
        for name in ("latitude", "longitude", "elevation_m", "timezone")
        if attrs.get(name) is not None
    }
    source = replace(weather.source, name=str(attrs.get("source", NAME)), issued=None)
    return judged(replace(weather, source=source, **place), None)


def text_of_frame(table: Any, name: str) -> tuple[FileText, dict[str, str]]:
    """A table as the text of a file of that name, and the units that it tells."""
    frame, _, said = _frame_of(table)
    return _text(_with_time(frame), name), said


def _text(shown: pd.DataFrame, name: str) -> FileText:
    """A table with its time as a file."""
    lines = shown.to_csv(index=False, lineterminator="\n").split("\n")
    return FileText(name, lines, "utf-8", False, np.datetime64("now", "s"))


def _frame_of(table: Any) -> tuple[pd.DataFrame, dict[str, Any], dict[str, str]]:
    """The table as a DataFrame, its attributes, and the units that it tells."""
    import pandas as pd

    if isinstance(table, pd.DataFrame):
        attrs: dict[str, Any] = {str(key): value for key, value in table.attrs.items()}
        return table, attrs, dict(attrs.get("units") or {})
    if not (hasattr(table, "data_vars") and hasattr(table, "to_dataframe")):
        raise WeatherFileError("weather_table_kind", NAME, found=type(table).__name__)
    sizes = {name: size for name, size in table.sizes.items() if size > 1 or name == "time"}
    if list(sizes) != ["time"]:
        found = ", ".join(str(name) for name in sizes) or "-"
        raise WeatherFileError("weather_table_dimensions", NAME, found=found)
    one = table.squeeze(drop=False)
    places = {"latitude": "latitude", "lat": "latitude", "longitude": "longitude",
              "lon": "longitude", "elevation": "elevation_m"}  # fmt: skip
    attrs = {str(key): value for key, value in table.attrs.items()}
    for name, fact in places.items():
        if name in one.coords and one.coords[name].ndim == 0:
            attrs[fact] = float(one.coords[name])
    said = {str(k): str(v.attrs["units"]) for k, v in one.data_vars.items() if "units" in v.attrs}
    return one.reset_coords(drop=True).to_dataframe(), attrs, said


def _with_time(frame: pd.DataFrame) -> pd.DataFrame:
    """The table with its time as the first column, in UTC where its zone is known."""
    import pandas as pd

    frame = frame.rename(columns=str)
    if isinstance(frame.index, pd.DatetimeIndex):
        times: Any = frame.index
    else:
        names = [name for name in frame.columns if words_of(name)[:1] in (["time"], ["datetime"])]
        if not names:
            raise WeatherFileError("weather_table_time", NAME)
        try:
            times = pd.DatetimeIndex(pd.to_datetime(frame[names[0]]))
        except (ValueError, TypeError):
            raise WeatherFileError("weather_table_time", NAME) from None
        if times.tz is None and "utc" in words_of(names[0]):
            times = times.tz_localize("UTC")
        frame = frame.drop(columns=names[0])
    if times.hasnans:
        raise WeatherFileError("weather_table_time", NAME)
    if times.tz is None:
        texts, name = times.strftime("%Y-%m-%d %H:%M:%S"), "time"
    else:
        texts, name = times.tz_convert("UTC").strftime("%Y-%m-%d %H:%M:%SZ"), "time_utc"
    rest = frame.drop(columns=[column for column in frame.columns if column == name])
    rest = rest.reset_index(drop=True)
    rest.insert(0, name, texts)
    return rest
