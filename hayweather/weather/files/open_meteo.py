"""CSV export of the open weather API: three head lines, then the hours.

Temperature, humidity, wind, cloud and pressure are instants at the stamp; rain
is the sum, shortwave the mean and gusts the largest of the hour before it. The
whole series has one offset from UTC, whatever the zone does (the service's
documentation, read).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from hayweather.weather import attribution
from hayweather.weather.files.cells import Cells, read_cells, split
from hayweather.weather.files.coded import (
    Code,
    coded_column,
    hour_of,
    indexes_of,
    others,
    with_unit,
)
from hayweather.weather.files.heads import head_number, read_place
from hayweather.weather.files.options import ReadOptions
from hayweather.weather.files.stamps import read_stamps
from hayweather.weather.files.table import Clock, FileColumn, FileTable, Place, Shape
from hayweather.weather.files.text import FileText
from hayweather.weather.files.times import fixed_zone
from hayweather.weather.record import Times

NAME = "open-meteo"
_CODES: dict[str, Code] = {
    "temperature_2m": Code("air_temperature_c", "C"),
    "dew_point_2m": Code("dew_point_c", "C"),
    "dewpoint_2m": Code("dew_point_c", "C"),
    "relative_humidity_2m": Code("relative_humidity_percent", "%"),
    "relativehumidity_2m": Code("relative_humidity_percent", "%"),
    "wind_speed_10m": Code("wind_speed_m_s", "m/s"),
    "windspeed_10m": Code("wind_speed_m_s", "m/s"),
    "wind_gusts_10m": Code("wind_gust_m_s", "m/s"),
    "windgusts_10m": Code("wind_gust_m_s", "m/s"),
    "cloud_cover": Code("cloud_fraction", "%"),
    "cloudcover": Code("cloud_fraction", "%"),
    "surface_pressure": Code("pressure_kpa", "hPa"),
    "pressure_msl": Code("sea_level_pressure_kpa", "hPa"),
    "shortwave_radiation": Code("shortwave_w_m2", "W/m2"),
    "precipitation": Code("rain_mm", "mm"),
    "precipitation_probability": Code("rain_chance_percent", "%"),
    "weather_code": Code("weather_code", ""),
    "weathercode": Code("weather_code", ""),
}


def matches(file: FileText) -> bool:
    """Whether the head names the place and one offset for all hours."""
    first = next((line for line in file.lines if line.strip()), "").casefold()
    return "latitude" in first and "utc_offset_seconds" in first


def read_open_meteo(file: FileText, options: ReadOptions) -> FileTable:
    """Read a CSV export of the open weather API.

    Raises
    ------
    WeatherFileError
        If it holds several places, or something in it is wrong.
    """
    place, offset_h = _head(file)
    header = _header_line(file)
    names = [cell.strip() for cell in split(file.lines[header], ",")]
    bare = [name.partition("(")[0].strip() for name in names]
    found = indexes_of(bare, _CODES)
    cells = read_cells(file, header + 1, ",", len(names), [0, *found], stop_at_blank=True)
    stamps = _stamps(file, cells, offset_h)
    hour, origin = hour_of(options, "end")
    clock = Clock(fixed_zone(offset_h)[1], "file", hour, origin, int(-offset_h * 3600 % 3600))
    return FileTable(
        Shape(NAME, ",", ".", header + 1),
        clock,
        np.array(cells.lines, dtype=np.int64),
        stamps,
        tuple(_column(file, cells, i, names[i], code) for i, code in found.items()),
        10.0,
        unused=others(names, [0, *found]),
        place=place,
        attribution=attribution.OPEN_METEO,
    )


def _head(file: FileText) -> tuple[Place, float]:
    """The place and the offset in hours."""
    lines = [(n, line) for n, line in enumerate(file.lines, start=1) if line.strip()]
    names = [cell.strip().casefold() for cell in split(lines[0][1], ",")]
    if len(lines) < 3:
        raise file.error("weather_no_rows")
    number, line = lines[1]
    facts = dict(zip(names, split(line, ","), strict=False))
    if "location_id" in facts and not lines[2][1].casefold().startswith(("time", "location_id")):
        raise file.error("weather_stations", stations=f"{facts['location_id']}, ...")
    elevation = facts.get("elevation", "").strip()
    place = read_place(
        file, number, facts.get("latitude", ""), facts.get("longitude", ""),
        None if elevation.casefold() in ("", "nan") else elevation,
    )  # fmt: skip
    zone = facts.get("timezone", "").strip()
    seconds = facts.get("utc_offset_seconds", "")
    offset_h = head_number(file, number, seconds, "utc_offset_seconds") / 3600
    return replace(place, timezone=zone if "/" in zone else None), offset_h


def _header_line(file: FileText) -> int:
    """Index of the row that names the hourly columns."""
    for index, line in enumerate(file.lines):
        if line.casefold().startswith("time,"):
            return index
    raise file.error("weather_no_columns", found=file.lines[0][:80])


def _stamps(file: FileText, cells: Cells, offset_h: float) -> Times:
    """UTC stamps; a count of seconds since 1970 is UTC already."""
    texts = cells.columns[0]
    if all(text.strip().isdigit() and len(text.strip()) == 10 for text in texts):
        return np.array([int(text) for text in texts], dtype="datetime64[s]")
    stamps = read_stamps(file, cells.lines, texts)
    return stamps.clock - np.timedelta64(round(offset_h * 3600), "s")


def _column(file: FileText, cells: Cells, index: int, name: str, code: Code) -> FileColumn:
    """One column in the unit that its header names."""
    text = name.partition("(")[2].rstrip(") ")
    return coded_column(file, cells, index, name, with_unit(file, name, code, text))
