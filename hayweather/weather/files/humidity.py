"""The dew point of a table's rows, from whichever humidity the file gives."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from hayweather.weather import air, quality
from hayweather.weather.files.file_units import FileUnit
from hayweather.weather.files.hours import instants_at_hours
from hayweather.weather.files.places import places_of
from hayweather.weather.files.table import FileColumn, FileTable
from hayweather.weather.files.text import FileText
from hayweather.weather.quality import Repair
from hayweather.weather.record import Booleans, Floats


def with_dew_point(file: FileText, table: FileTable, step_s: int) -> tuple[FileTable, list[Repair]]:
    """The table with a dew point column, never above the air.

    The file's dew point goes first; humidity serves where that is missing.

    Raises
    ------
    WeatherFileError
        If the file's dew point stands above the air by more than noise.
    """
    dew, humidity = table.column("dew_point_c"), table.column("relative_humidity_percent")
    repairs: list[Repair] = []
    if dew is not None:
        dew, repairs = _checked(file, table, dew, step_s)
    if table.exact:
        return table, []
    if humidity is not None and (dew is None or np.isnan(dew.values).any()):
        humidity, capped = _capped(table, humidity)
        repairs += capped
        dew = _from_humidity(table, humidity, dew, step_s)
    others = [c for c in table.columns if c.served_as not in ("dew_point_c",)]
    return replace(table, columns=(*others, dew) if dew else tuple(others)), repairs


def _air_at(table: FileTable, column: FileColumn, step_s: int) -> Floats:
    """The air temperature [C] where the values of `column` lie, (rows,)."""
    temperature = table.column("air_temperature_c")
    if temperature is None:
        return np.full(table.stamps.size, np.nan)
    here, there = places_of(temperature, table, step_s), places_of(column, table, step_s)
    if np.array_equal(here, there):
        return temperature.values
    return instants_at_hours(here, temperature.values, there, step_s=3600)


def _checked(
    file: FileText, table: FileTable, dew: FileColumn, step_s: int
) -> tuple[FileColumn, list[Repair]]:
    """The file's dew point, capped at the air."""
    temperature = _air_at(table, dew, step_s)
    place = quality.dew_point_beyond_noise(dew.values, temperature)
    if place is not None:
        raise file.error(
            "weather_dew_point_above_air",
            int(table.lines[place]),
            column=dew.file_name,
            value=dew.unit.shown(float(dew.values[place])),
            air=dew.unit.shown(float(temperature[place])),
        )
    values, above = quality.cap_dew_point(dew.values, temperature)
    return replace(dew, values=values), _repair("dew_point_capped", "dew_point_c", table, above)


def _capped(table: FileTable, humidity: FileColumn) -> tuple[FileColumn, list[Repair]]:
    values, marks = quality.cap_humidity(humidity.values)
    repairs = [
        repair
        for name, where in marks.items()
        for repair in _repair(name, humidity.served_as, table, where)
    ]
    return replace(humidity, values=values), repairs


def _from_humidity(
    table: FileTable, humidity: FileColumn, dew: FileColumn | None, step_s: int
) -> FileColumn:
    """The dew point from humidity, put behind the file's own where there is one."""
    if dew is not None and dew.timing != humidity.timing:
        return dew
    blank = np.ones(table.stamps.size, dtype=bool) if dew is None else np.isnan(dew.values)
    wanted = blank & ~np.isnan(humidity.values)
    values = np.full(table.stamps.size, np.nan) if dew is None else dew.values.copy()
    if wanted.any():
        temperature = _air_at(table, humidity, step_s)
        values[wanted] = air.dew_point_from_humidity(temperature[wanted], humidity.values[wanted])
    if dew is not None:
        return replace(dew, values=values)
    return replace(humidity, served_as="dew_point_c", unit=FileUnit("°C"), values=values)


def _repair(name: str, column: str, table: FileTable, where: Booleans) -> list[Repair]:
    """The repair as a list of one, or of none when nothing was done."""
    if not where.any():
        return []
    first = int(where.argmax())
    return [Repair(name, column, int(where.sum()), table.stamps[first], int(table.lines[first]))]
