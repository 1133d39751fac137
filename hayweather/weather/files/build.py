"""From a table of rows to the record: humidity, hours, gaps, pressure."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from hayweather.weather import air, quality
from hayweather.weather.files import hours as to_hours
from hayweather.weather.files.check import seconds
from hayweather.weather.files.humidity import with_dew_point
from hayweather.weather.files.places import periods_of, places_of
from hayweather.weather.files.table import FileColumn, FileTable, Integers
from hayweather.weather.files.text import FileText
from hayweather.weather.quality import Repair
from hayweather.weather.record import COLUMN_KINDS, NEEDED, Booleans, Floats

_STUCK_COLUMNS = (
    "air_temperature_c", "dew_point_c", "relative_humidity_percent", "wind_speed_m_s",
)  # fmt: skip
_PRESSURE_SPREAD_KPA = 6.0


@dataclass(frozen=True)
class Hours:
    """A file's weather on whole hours.

    Attributes
    ----------
    start
        UTC start of the first hour.
    columns
        ``{column of the record: (hours,)}``.
    repaired
        Hours with a filled gap, (hours,).
    served
        The file's columns that served.
    repairs, refused, flags
        What was repaired and left out on the way, and sensors that look stuck.
    """

    start: np.datetime64
    columns: dict[str, Floats]
    repaired: Booleans
    served: tuple[FileColumn, ...]
    repairs: tuple[Repair, ...]
    refused: tuple[Repair, ...]
    flags: tuple[Repair, ...]


def to_whole_hours(
    file: FileText, table: FileTable, step_s: int, elevation_m: float | None
) -> Hours:
    """Bring the rows of a checked table to whole hours.

    Raises
    ------
    WeatherFileError
        If the dew point stands above the air, or fewer than two hours result.
    """
    table, dew_repairs = with_dew_point(file, table, step_s)
    table, sun_repairs = _with_lifted_sun(table)
    grid = _grid(file, table, step_s)
    found = {c.served_as: _on_grid(c, table, step_s, grid) for c in table.columns}
    start = np.datetime64(int(grid[0]), "s")
    flags = _stuck(found, start)
    refused = _station_pressure(found, elevation_m)
    repaired, gap_repairs = _filled(found, table, start)
    if not table.exact:
        # Averages through vapor and filled gaps may end a hair above the air.
        cap = _never_below(found["air_temperature_c"])
        found["dew_point_c"] = np.minimum(found["dew_point_c"], cap)
    complete = ~np.any([np.isnan(found[name]) for name in NEEDED], axis=0)
    if int(complete.sum()) < 2:
        raise file.error("weather_too_short", hours=int(complete.sum()))
    columns = {
        name: values
        for name in COLUMN_KINDS
        if (values := found.get(name)) is not None
        and (name in NEEDED or table.exact or not np.isnan(values).all())
    }
    return Hours(
        start, columns, repaired, tuple(c for c in table.columns if _served(c, columns)),
        (*dew_repairs, *sun_repairs, *gap_repairs), refused, flags,
    )  # fmt: skip


def _served(column: FileColumn, columns: dict[str, Floats]) -> bool:
    """Whether a file's column stands behind one of the record."""
    if column.served_as in ("altimeter_kpa", "sea_level_pressure_kpa"):
        return "pressure_kpa" in columns
    return column.served_as in columns or column.served_as in (
        "relative_humidity_percent", "repaired",
    )  # fmt: skip


def _never_below(air_temperature_c: Floats) -> Floats:
    """The cap of the dew point; a missing air temperature caps nothing."""
    return np.where(np.isnan(air_temperature_c), np.inf, air_temperature_c)


def _with_lifted_sun(table: FileTable) -> tuple[FileTable, tuple[Repair, ...]]:
    """The table with the negative night values of a sun sensor read as zero."""
    column = table.column("shortwave_w_m2")
    if column is None or table.exact:
        return table, ()
    values, below = quality.lift_sun(column.values)
    columns = tuple(replace(c, values=values) if c is column else c for c in table.columns)
    repairs = quality.counted("sun_below_zero", "shortwave_w_m2", below, table.stamps, table.lines)
    return replace(table, columns=columns), repairs


def _grid(file: FileText, table: FileTable, step_s: int) -> Integers:
    """Starts of the hours that the air temperature spans, seconds since 1970."""
    column = table.column("air_temperature_c")
    assert column is not None
    places = places_of(column, table, step_s)
    if not table.exact:
        places = places[~np.isnan(column.values)]
    phase = int(places[0]) % 3600 if table.exact else table.clock.phase_s
    first = -(-(int(places[0]) - phase) // 3600) * 3600 + phase
    last = (int(places[-1]) - phase) // 3600 * 3600 + phase
    count = (last - first) // 3600 + 1
    if count < 2:
        raise file.error("weather_too_short", hours=max(count, 0))
    return first + 3600 * np.arange(count, dtype=np.int64)


def _on_grid(column: FileColumn, table: FileTable, step_s: int, grid: Integers) -> Floats:
    """One column on whole hours."""
    if column.served_as == "repaired" or table.exact:
        return _exactly(column, table, grid)
    if column.timing in ("instant", "mean") and column.served_as != "shortwave_w_m2":
        return _instants(column, places_of(column, table, step_s), grid, step_s)
    begins, ends = periods_of(column, table, step_s)
    if column.timing == "sum":
        return to_hours.sums_over_hours(begins, ends, column.values, grid)
    if column.timing == "period":
        return to_hours.largest_over_hours(begins, ends, column.values, grid)
    return to_hours.means_over_hours(begins, ends, column.values, grid)


def _exactly(column: FileColumn, table: FileTable, grid: Integers) -> Floats:
    """Values that stand at the starts of hours, untouched."""
    values = np.full(grid.size, np.nan)
    index, rest = np.divmod(seconds(table.stamps) - grid[0], 3600)
    at_hour = (rest == 0) & (index >= 0) & (index < grid.size)
    values[index[at_hour]] = column.values[at_hour]
    return values


def _instants(column: FileColumn, places: Integers, grid: Integers, step_s: int) -> Floats:
    """Instants on whole hours; codes are never averaged, dew points through vapor."""
    if column.served_as in ("weather_code", "lightning_level", "red_flag"):
        return to_hours.largest_over_hours(places, places + step_s, column.values, grid)
    if column.served_as == "dew_point_c" and step_s < 3000:
        vapor = air.vapor_pressure_from_dew_point(column.values)
        hourly = to_hours.instants_at_hours(places, vapor, grid, step_s=step_s)
        return air.dew_point_from_vapor_pressure(hourly)
    return to_hours.instants_at_hours(places, column.values, grid, step_s=step_s)


def _stuck(found: dict[str, Floats], start: np.datetime64) -> tuple[Repair, ...]:
    """Flags of sensors that show one value for eight hours or more: the longest run of each."""
    flags = []
    for name in _STUCK_COLUMNS:
        runs = quality.stuck_runs(_unsaturated(found[name])) if name in found else []
        if runs:
            place, length = max(runs, key=lambda run: run[1])
            first = start + np.timedelta64(3600 * place, "s")
            flags.append(Repair("stuck", name, length, first))
    return tuple(flags)


def _unsaturated(values: Floats) -> Floats:
    """Humidity without its 100 %: hours of fog are no stuck sensor. Others stay below."""
    return np.where(values >= 100.0, np.nan, values)


def _station_pressure(found: dict[str, Floats], elevation_m: float | None) -> tuple[Repair, ...]:
    """Put the pressure at the station into `found`, where the file allows it."""
    given = found.get("pressure_kpa")
    if elevation_m is None:
        return ()
    if given is None:
        _reduced_pressure(found, elevation_m)
        return ()
    standard = air.standard_pressure(elevation_m)
    median = float(np.nanmedian(given)) if not np.isnan(given).all() else standard
    if abs(median - standard) <= _PRESSURE_SPREAD_KPA:
        return ()
    found["pressure_kpa"] = np.full(given.shape, np.nan)
    return (Repair("pressure_not_of_site", "pressure_kpa", given.size),)


def _reduced_pressure(found: dict[str, Floats], elevation_m: float) -> None:
    if "altimeter_kpa" in found:
        setting = found["altimeter_kpa"]
        found["pressure_kpa"] = air.station_pressure_from_altimeter(setting, elevation_m)
    elif "sea_level_pressure_kpa" in found:
        found["pressure_kpa"] = air.station_pressure_from_sea_level(
            found["sea_level_pressure_kpa"], elevation_m, found["air_temperature_c"]
        )


def _filled(
    found: dict[str, Floats], table: FileTable, start: np.datetime64
) -> tuple[Booleans, list[Repair]]:
    """Fill short gaps of the needed columns in `found`; where, and how many."""
    marks = found.get("repaired")
    if table.exact:
        shape = found["air_temperature_c"].shape
        return (np.zeros(shape, dtype=bool) if marks is None else marks == 1.0), []
    repaired = np.zeros(found["air_temperature_c"].shape, dtype=bool)
    repairs = []
    for name in NEEDED:
        found[name], where = quality.fill_short_gaps(found[name])
        if where.any():
            first = start + np.timedelta64(3600 * int(where.argmax()), "s")
            repairs.append(Repair("gap_filled", name, int(where.sum()), first))
            repaired |= where
    return repaired, repairs
