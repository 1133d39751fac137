"""The one way in: a path becomes a record and a report."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from hayweather.errors import OptionError, WeatherFileError
from hayweather.weather.files import maps, measured, typical
from hayweather.weather.files.build import (
    Hours,
    check_needed,
    check_values,
    in_order,
    over_period,
    step_seconds,
    to_whole_hours,
)
from hayweather.weather.files.columns import check_unit_options
from hayweather.weather.files.plain import OPEN_METEO, PLAIN
from hayweather.weather.files.table import ColumnRead, FileTable, Layout, ReadOptions, ReadReport
from hayweather.weather.files.text import FileText, open_text
from hayweather.weather.files.times import zone_of_option
from hayweather.weather.record import (
    COLUMN_KINDS,
    DERIVED,
    MEASURED,
    Assumption,
    Bits,
    HourlyWeather,
    Source,
)

LAYOUTS: list[Layout] = [OPEN_METEO, *typical.LAYOUTS, *measured.LAYOUTS, *maps.layouts(), PLAIN]
"""In the order in which they are tried; the last fits everything."""


def add_layout(layout: Layout) -> None:
    """Let a layout be tried before all others; one of the same name gives way."""
    LAYOUTS[:] = [layout, *(known for known in LAYOUTS if known.name != layout.name)]


WIND_HEIGHTS_M = (0.3, 150.0)
ELEVATIONS_M = (-430.0, 5000.0)
"""As in a farm file."""


def read_layout(file: FileText, options: ReadOptions) -> FileTable:
    """Read a file in the layout it has, or in the one an option names.

    Raises
    ------
    OptionError
        If an option names an unknown layout or zone, or a height that cannot be.
    WeatherFileError
        If the contents do not fit.
    """
    _check(options)
    if options.columns is not None:
        return replace(maps.read_mapped(file, options, maps.map_of(options.columns, "columns")),
                       measured=True)  # fmt: skip
    if options.layout is not None:
        layout = _named(options.layout)
        if not layout.matches(file):
            raise file.error("weather_layout_mismatch", layout=layout.name)
    else:
        layout = next(layout for layout in LAYOUTS if layout.matches(file))
    table = layout.read(file, options)
    return replace(table, measured=layout.measured)


def _check(options: ReadOptions) -> None:
    """Refuse a zone or height that cannot be, whether or not the file has need of it."""
    if options.timezone is not None:
        zone_of_option(options.timezone)
    for name, value, low, high in (
        ("wind_height", options.wind_height_m, *WIND_HEIGHTS_M),
        ("elevation", options.site_elevation_m, *ELEVATIONS_M),
    ):
        if value is not None and not low <= value <= high:
            raise OptionError(
                "door_number", name=name, value=f"{value:g}", low=f"{low:g}", high=f"{high:g}"
            )


def _named(name: str) -> Layout:
    for layout in LAYOUTS:
        if layout.name == name:
            return layout
    known = ", ".join(layout.name for layout in LAYOUTS)
    raise OptionError("weather_layout_unknown", "layout", value=name, known=known)


_DEFAULT = ReadOptions()


def read_weather_file(
    path: Path, options: ReadOptions = _DEFAULT
) -> tuple[HourlyWeather, ReadReport]:
    """Read a weather file of any known layout.

    Parameters
    ----------
    path
        Text file, plain or gzip.
    options
        What the file does not say.

    Returns
    -------
    tuple
        The record, one lane, whole hours; and what was read and repaired.

    Raises
    ------
    WeatherFileError
        One line: file, line, value, what to do.
    OptionError
        If an option names an unknown zone, layout, column or unit.
    """
    return read_text(open_text(path), options)


def read_text(file: FileText, options: ReadOptions = _DEFAULT) -> tuple[HourlyWeather, ReadReport]:
    """As `read_weather_file`, from the text itself."""
    try:
        return _read(file, options)
    except WeatherFileError as problem:
        if problem.key == "weather_dew_points_above_air":
            problem.rows = tuple(file.faults)
        else:
            file.refuse_faults()
        raise


def _read(file: FileText, options: ReadOptions) -> tuple[HourlyWeather, ReadReport]:
    table = read_layout(file, options)
    names = [*(c.file_name for c in table.columns), *table.unused]
    check_unit_options(names, options.units)
    table = _with_wind_height(file, table, options)
    check_needed(file, table)
    table = in_order(file, table)
    step_s = step_seconds(file, table)
    table = over_period(table, step_s)
    check_values(file, table)
    file.refuse_faults()
    elevation = table.place.elevation_m
    elevation = options.site_elevation_m if elevation is None else elevation
    hours = to_whole_hours(file, table, step_s, elevation)
    return _record(file, table, hours), _report(file, table, hours, step_s)


SAME_HEIGHT = 1.1
"""Two heights whose ratio is below this are the same: 33 ft are 10 m (assumed)."""


def _with_wind_height(file: FileText, table: FileTable, options: ReadOptions) -> FileTable:
    """The height of the wind as an option says, unless the file itself says another.

    Raises
    ------
    WeatherFileError
        If the two contradict each other.
    """
    given = options.wind_height_m
    if given is None:
        return table
    said = table.wind_height_m
    if table.wind_height_from == "file" and max(given / said, said / given) > SAME_HEIGHT:
        raise file.error("weather_wind_height_twice", said=f"{said:g}", given=f"{given:g}")
    return replace(table, wind_height_m=given, wind_height_from="option")


def _record(file: FileText, table: FileTable, hours: Hours) -> HourlyWeather:
    """The record of one place, one lane; the file's own time counts where it names none."""
    named = table.issued is not None or table.fetched is not None
    source = Source(
        table.source or file.name,
        table.issued if named else file.written,
        table.fetched,
        table.attribution,
        measured=table.measured,
    )
    return HourlyWeather(
        np.array([hours.start], dtype="datetime64[s]"),
        {name: values[:, None] for name, values in hours.columns.items()},
        table.wind_height_m,
        source,
        repaired=hours.repaired[:, None],
        assumed=(*table.assumed, *_told(table, hours)),
        elevation_m=table.place.elevation_m,
        latitude=table.place.latitude,
        longitude=table.place.longitude,
        timezone=table.place.timezone,
        typical_year=table.typical_year,
        basis=_basis(table, hours)[:, None],
        humidity_percent=None if hours.humidity is None else hours.humidity[:, None],
    )


def _basis(table: FileTable, hours: Hours) -> Bits:
    """What every hour stands on, bits of the record, (hours,)."""
    basis = np.full(hours.repaired.shape, MEASURED if table.measured else 0, dtype=np.uint8)
    for name, where in hours.derived.items():
        basis |= np.where(where, DERIVED[name], 0).astype(np.uint8)
    return basis


_STUCK_TOLD_HOURS = 24
_TOLD = (
    "duplicates_averaged",
    "clock_change_single",
    "clock_change_labels",
    "humidity_capped",
    "dew_point_capped",
    "dew_point_blanked",
    "rain_in_tenths",
)


def _told(table: FileTable, hours: Hours) -> list[Assumption]:
    """The repairs and flags that belong on every output."""
    told = [
        Assumption(repair.name, {"count": str(repair.count)})
        for repair in (*table.repairs, *hours.repairs)
        if repair.name in _TOLD
    ]
    if hours.repaired.any() and not table.exact:
        told.append(Assumption("gap_filled", {"count": str(int(hours.repaired.sum()))}))
    told += [
        Assumption(f"stuck_{flag.column}", {"hours": str(flag.count)})
        for flag in hours.flags
        if flag.count >= _STUCK_TOLD_HOURS
    ]
    told += [Assumption(repair.name) for repair in hours.refused]
    return told


def _report(file: FileText, table: FileTable, hours: Hours, step_s: int) -> ReadReport:
    """What was read, for `hayweather inspect`."""
    shape, clock = table.shape, table.clock
    columns = tuple(_columns_read(table, hours))
    used = {column.file_name for column in columns}
    others = [*table.unused, *(c.file_name for c in table.columns if c.file_name not in used)]
    count = int(hours.repaired.size)
    return ReadReport(
        file.name, shape.layout, file.encoding, file.compressed, shape.delimiter,
        shape.decimal_mark, shape.header_lines, columns, tuple(dict.fromkeys(others)),
        clock.name, clock.origin, clock.hour, clock.hour_origin, step_s / 60,
        table.wind_height_m, table.wind_height_from, int(table.stamps.size), count,
        hours.start, hours.start + np.timedelta64(3600 * (count - 1), "s"),
        (*table.repairs, *hours.repairs), (*table.refused, *hours.refused), hours.flags,
        table.place.stations, table.typical_year, tuple(file.blanked),
    )  # fmt: skip


def _columns_read(table: FileTable, hours: Hours) -> list[ColumnRead]:
    """The file's columns that stand behind the record."""
    read = []
    dew = next(c for c in hours.served if c.served_as == "dew_point_c")
    humidity = table.column("relative_humidity_percent")
    for column in hours.served:
        served_as, unit = column.served_as, column.unit.symbol
        if served_as == "relative_humidity_percent":
            continue
        if served_as in ("altimeter_kpa", "sea_level_pressure_kpa"):
            served_as = "pressure_kpa"
        holds = served_as
        if column is dew and humidity is not None and humidity.file_name == dew.file_name:
            holds, unit = humidity.served_as, humidity.unit.symbol
        values = hours.columns.get(served_as)
        missing = 0 if values is None else int(np.isnan(values).sum())
        read.append(ColumnRead(column.file_name, served_as, holds, unit, column.timing, missing))
    order = list(COLUMN_KINDS)
    return sorted(read, key=lambda c: order.index(c.served_as) if c.served_as in order else 99)
