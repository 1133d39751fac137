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
from hayweather.weather.quality import Repair, counted
from hayweather.weather.record import Floats


def with_dew_point(
    file: FileText, table: FileTable, step_s: int
) -> tuple[FileTable, tuple[Repair, ...]]:
    """The table, whose air temperature is there, with a dew point never above it.

    The file's dew point goes first; humidity serves where that is missing.

    Raises
    ------
    WeatherFileError
        If the file's dew point stands above the air by more than noise.
    """
    dew, humidity = table.column("dew_point_c"), table.column("relative_humidity_percent")
    repairs: tuple[Repair, ...] = ()
    if dew is not None:
        dew, repairs = _checked(file, table, dew, step_s)
    if table.exact:
        return table, ()
    if humidity is not None and (dew is None or np.isnan(dew.values).any()):
        humidity, capped = _capped(table, humidity)
        repairs += capped
        dew = _from_humidity(table, humidity, dew, step_s)
    others = [c for c in table.columns if c.served_as != "dew_point_c"]
    return replace(table, columns=(*others, dew) if dew else tuple(others)), repairs


def _air_at(table: FileTable, column: FileColumn, step_s: int) -> Floats:
    """The air temperature [C] where the values of `column` lie, (rows,)."""
    temperature = table.column("air_temperature_c")
    assert temperature is not None
    here, there = places_of(temperature, table, step_s), places_of(column, table, step_s)
    if np.array_equal(here, there):
        return temperature.values
    return instants_at_hours(here, temperature.values, there, step_s=3600)


def _checked(
    file: FileText, table: FileTable, dew: FileColumn, step_s: int
) -> tuple[FileColumn, tuple[Repair, ...]]:
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
    repairs = counted("dew_point_capped", "dew_point_c", above, table.stamps, table.lines)
    return replace(dew, values=values), repairs


def _capped(table: FileTable, humidity: FileColumn) -> tuple[FileColumn, tuple[Repair, ...]]:
    values, marks = quality.cap_humidity(humidity.values)
    repairs = tuple(
        repair
        for name, where in marks.items()
        for repair in counted(name, humidity.served_as, where, table.stamps, table.lines)
    )
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
