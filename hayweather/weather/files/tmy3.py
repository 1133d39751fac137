"""TMY3, typical years of the US: a place row, a header row, hours 01:00 to 24:00.

Hours end at the stamp, local standard time: shortwave and rain belong to the
hour before it, the rest are instants at it (NREL/TP-581-43156, users manual,
from memory).
"""

from __future__ import annotations

import numpy as np

from hayweather.weather.files.cells import Cells, read_cells, split
from hayweather.weather.files.coded import Code, coded_column, hour_of, indexes_of, others
from hayweather.weather.files.heads import head_number, one_year, read_place
from hayweather.weather.files.numbers import numbers
from hayweather.weather.files.options import ReadOptions
from hayweather.weather.files.table import FileColumn, FileTable, Shape
from hayweather.weather.files.text import FileText
from hayweather.weather.files.times import clock_of, fixed_zone
from hayweather.weather.files.typical_rain import in_mm
from hayweather.weather.files.zones import to_utc
from hayweather.weather.quality import Repair
from hayweather.weather.record import Times

NAME = "tmy3"
_MISSING = (-9900.0, -99.0)
_CODES: dict[str, Code] = {
    "dry-bulb (c)": Code("air_temperature_c", "C", missing=_MISSING),
    "dew-point (c)": Code("dew_point_c", "C", missing=_MISSING),
    "rhum (%)": Code("relative_humidity_percent", "%", missing=_MISSING),
    "pressure (mbar)": Code("pressure_kpa", "hPa", missing=_MISSING),
    "wspd (m/s)": Code("wind_speed_m_s", "m/s", missing=_MISSING),
    "totcld (tenths)": Code("cloud_fraction", "tenths", missing=_MISSING),
    "ghi (w/m^2)": Code("shortwave_w_m2", "Wh/m2", missing=_MISSING),
    "lprecip depth (mm)": Code("rain_mm", "mm", missing=_MISSING),
}
_RAIN_HOURS = "lprecip quantity (hr)"


def matches(file: FileText) -> bool:
    """Whether the second line is the header of TMY3."""
    return len(file.lines) > 1 and file.lines[1].casefold().startswith(
        "date (mm/dd/yyyy),time (hh:mm)"
    )


def read_tmy3(file: FileText, options: ReadOptions) -> FileTable:
    """Read a TMY3 file.

    Raises
    ------
    WeatherFileError
        If something in it is wrong.
    """
    head = [cell.strip() for cell in split(file.lines[0], ",")]
    if len(head) < 7:
        raise file.error("weather_row_width", 1, found=len(head), wanted=7)
    place = read_place(file, 1, head[4], head[5], head[6], head[0])
    names = [cell.strip() for cell in split(file.lines[1], ",")]
    found = indexes_of(names, _CODES)
    quantity = [i for i, name in enumerate(names) if name.casefold() == _RAIN_HOURS]
    cells = read_cells(file, 2, ",", len(names), [0, 1, *found, *quantity])
    reading, _ = one_year(file, cells.lines, _parts(file, cells))
    zone, zone_name = fixed_zone(head_number(file, 1, head[3], "time zone"))
    hour, origin = hour_of(options, "end")
    done = to_utc(file, cells.lines, reading, zone, ends_hour=False)
    times = clock_of(done, zone_name, "file", hour, origin)
    columns, repairs, refused = _columns(file, cells, names, found, quantity, times.stamps)
    return FileTable(
        Shape(NAME, ",", ".", 2),
        times.clock,
        np.array(cells.lines, dtype=np.int64),
        times.stamps,
        columns,
        10.0,
        unused=others(names, [0, 1, *found, *quantity]),
        place=place,
        typical_year=True,
        repairs=repairs,
        refused=refused,
    )


def _parts(file: FileText, cells: Cells) -> dict[str, list[float]]:
    """Year to minute from ``MM/DD/YYYY`` and ``HH:MM``."""
    parts: dict[str, list[float]] = {
        name: [] for name in ("month", "day", "year", "hour", "minute")
    }
    for line, date, time in zip(cells.lines, cells.columns[0], cells.columns[1], strict=True):
        texts = [*date.strip().split("/"), *time.strip().split(":")]
        if len(texts) != 5 or not all(text.isdigit() and text.isascii() for text in texts):
            value = f"{date.strip()} {time.strip()}"[:40]
            raise file.error("weather_time_not_understood", line, value=value)
        for name, text in zip(parts, texts, strict=True):
            parts[name].append(float(text))
    return parts


def _columns(
    file: FileText,
    cells: Cells,
    names: list[str],
    found: dict[int, Code],
    quantity: list[int],
    stamps: Times,
) -> tuple[tuple[FileColumn, ...], tuple[Repair, ...], tuple[Repair, ...]]:
    """The columns, rain in mm; what was done to it and what was refused of it."""
    columns = {i: coded_column(file, cells, i, names[i], code) for i, code in found.items()}
    rain = next((i for i, column in columns.items() if column.served_as == "rain_mm"), None)
    if rain is None:
        return tuple(columns.values()), (), ()
    hours = np.ones(stamps.size)
    if quantity:
        hours = numbers(file, cells.lines, cells.columns[quantity[0]], _RAIN_HOURS)
    columns[rain], repairs, refused = in_mm(columns[rain], hours, stamps, cells.lines)
    return tuple(columns.values()), repairs, refused
