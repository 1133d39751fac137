"""From rows to the record: order, doubles, step, humidity, hours, gaps, pressure."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from hayweather.errors import WeatherFileError
from hayweather.weather import air, quality
from hayweather.weather.files.headers import FileUnit
from hayweather.weather.files.hours import (
    instants_at_hours,
    largest_over_hours,
    means_over_hours,
    periods_of,
    places_of,
    sums_over_hours,
)
from hayweather.weather.files.table import FileColumn, FileTable, Integers, seconds
from hayweather.weather.files.text import FileText
from hayweather.weather.quality import NOISE, RANGES, Repair, counted, outside
from hayweather.weather.record import COLUMN_KINDS, NEEDED, Booleans, Floats

COARSEST_STEP_S = 3600
_IRREGULAR_STEP_S = 5400
_NEEDED = {
    "air_temperature_c": ("air_temperature_c",),
    "humidity": ("dew_point_c", "relative_humidity_percent"),
    "wind": ("wind_speed_m_s",),
}


def check_needed(file: FileText, table: FileTable) -> None:
    """Refuse a file without air temperature, humidity or wind.

    Raises
    ------
    WeatherFileError
        Naming what is missing and what was found.
    """
    found = ", ".join([*(c.file_name for c in table.columns), *table.unused])
    for name, choices in _NEEDED.items():
        columns = [c for choice in choices if (c := table.column(choice)) is not None]
        if not columns:
            raise file.error(f"weather_missing_{name}", found=found[:200])
        if all(np.isnan(column.values).all() for column in columns):
            raise file.error("weather_column_blank", column=columns[0].file_name)


def shown_time(stamp: np.datetime64) -> str:
    """A UTC stamp for a message."""
    return str(stamp.astype("datetime64[m]")).replace("T", " ") + " UTC"


def in_order(file: FileText, table: FileTable) -> FileTable:
    """The table with rising stamps; rows of one time are averaged when they agree.

    Raises
    ------
    WeatherFileError
        If times go back, or rows of one time differ by more than noise.
    """
    steps = np.diff(table.stamps)
    back = np.flatnonzero(steps < np.timedelta64(0, "s"))
    if back.size:
        row = int(back[0]) + 1
        raise file.error(
            "weather_times_unsorted",
            int(table.lines[row]),
            value=shown_time(table.stamps[row]),
            before=shown_time(table.stamps[row - 1]),
        )
    same = steps == np.timedelta64(0, "s")
    return _merged(file, table, same) if same.any() else table


def _merged(file: FileText, table: FileTable, same: Booleans) -> FileTable:
    """Rows of one time as one row."""
    starts = np.flatnonzero(np.concatenate(([True], ~same)))
    columns = tuple(_merged_column(file, table, column, starts) for column in table.columns)
    first = int(same.argmax())
    repair = Repair(
        "duplicates_averaged", "", int(same.sum()), table.stamps[first], int(table.lines[first])
    )
    return replace(
        table,
        lines=table.lines[starts],
        stamps=table.stamps[starts],
        columns=columns,
        repairs=(*table.repairs, repair),
    )


def _merged_column(
    file: FileText, table: FileTable, column: FileColumn, starts: np.ndarray
) -> FileColumn:
    """One column with the rows of one time averaged."""
    values = column.values
    highest = np.fmax.reduceat(values, starts)
    lowest = np.fmin.reduceat(values, starts)
    with np.errstate(invalid="ignore"):
        apart = np.flatnonzero(highest - lowest > NOISE.get(column.served_as, 0.0) + 1e-9)
    if apart.size:
        place = int(apart[0])
        raise file.error(
            "weather_times_doubled",
            int(table.lines[starts[place] + 1]),
            time=shown_time(table.stamps[starts[place]]),
            column=column.file_name,
            value=column.unit.shown(float(lowest[place])),
            other=column.unit.shown(float(highest[place])),
        )
    known = np.add.reduceat((~np.isnan(values)).astype(np.float64), starts)
    total = np.add.reduceat(np.nan_to_num(values), starts)
    mean = np.where(known > 0, total / np.maximum(known, 1.0), np.nan)
    return replace(column, values=np.where(highest == lowest, highest, mean))


def step_seconds(file: FileText, table: FileTable) -> int:
    """The usual time between rows.

    Raises
    ------
    WeatherFileError
        If there is one row only, rows are more than an hour apart, or stamps
        follow no step.
    """
    if table.stamps.size < 2:
        raise file.error("weather_too_short", hours=int(table.stamps.size))
    steps = np.diff(table.stamps).astype(np.int64)
    if table.irregular:
        return _not_too_coarse(file, int(np.median(steps)), _IRREGULAR_STEP_S)
    if (steps == steps[0]).all():
        return _not_too_coarse(file, int(steps[0]), COARSEST_STEP_S)
    kinds, counts = np.unique(steps, return_counts=True)
    most = kinds[counts == counts.max()].tolist()
    step = min(most, key=lambda s: (3600 % s != 0, s))
    off = np.flatnonzero(steps % step != 0)
    if off.size:
        row = int(off[0]) + 1
        raise file.error(
            "weather_irregular",
            int(table.lines[row]),
            value=shown_time(table.stamps[row]),
            minutes=f"{steps[row - 1] / 60:g}",
            step=f"{step / 60:g}",
        )
    return _not_too_coarse(file, int(step), COARSEST_STEP_S)


def _not_too_coarse(file: FileText, step_s: int, limit_s: int) -> int:
    if step_s > limit_s:
        raise file.error("weather_too_coarse", hours=f"{step_s / 3600:.3g}")
    return step_s


def over_period(table: FileTable, step_s: int) -> FileTable:
    """The table with amounts and rates over the period turned into means and sums."""
    return replace(table, columns=tuple(_over_period(c, step_s) for c in table.columns))


def _over_period(column: FileColumn, step_s: int) -> FileColumn:
    kind = column.unit.over_period
    if kind is None:
        return column
    period = column.period_s or step_s
    factor = 1 / period if kind == "amount" else period / 3600
    unit = replace(column.unit, factor=column.unit.factor * factor, over_period=None)
    return replace(column, values=column.values * factor, unit=unit)


def check_values(file: FileText, table: FileTable) -> None:
    """Put values that are not possible with the faults of the file, each with its line.

    Raises
    ------
    WeatherFileError
        If a whole column is of another unit than its name says.
    """
    for column in table.columns:
        if column.served_as not in RANGES:
            continue
        _check_fraction(file, column)
        for row in outside(column.values, column.served_as):
            fault = _fault(file, int(table.lines[row]), column, float(column.values[row]))
            file.faults.append(fault)


def _check_fraction(file: FileText, column: FileColumn) -> None:
    """Humidity called percent that never passes 1 is a share of one."""
    if column.served_as != "relative_humidity_percent" or column.unit.symbol != "%":
        return
    known = column.values[~np.isnan(column.values)]
    if known.size and 0 < known.max() <= 1.0:
        raise file.error(
            "weather_looks_fraction", column=column.file_name,
            low=f"{known.min():g}", high=f"{known.max():g}",
        )  # fmt: skip


def _fault(file: FileText, line: int, column: FileColumn, value: float) -> WeatherFileError:
    """What is said of one value that is not possible."""
    shown = column.unit.shown(value)
    known = column.values[~np.isnan(column.values)]
    if column.served_as in ("air_temperature_c", "dew_point_c") and _looks_fahrenheit(
        column, known
    ):
        low, high = column.unit.shown(float(known.min())), column.unit.shown(float(known.max()))
        return file.error(
            "weather_looks_fahrenheit", line, column=column.file_name, low=low, high=high
        )
    if column.served_as == "relative_humidity_percent" and value > 0:
        return file.error("weather_humidity_impossible", line, column=column.file_name, value=shown)
    low_limit, high_limit = (column.unit.shown(v) for v in RANGES[column.served_as])
    return file.error(
        "weather_value_impossible", line, column=column.file_name, value=shown,
        low=low_limit, high=high_limit,
    )  # fmt: skip


def _looks_fahrenheit(column: FileColumn, known: Floats) -> bool:
    """Whether a column in C would be possible in F."""
    return column.unit.symbol == "°C" and known.min() > -60 and 60 < known.max() <= 140


def with_dew_point(
    file: FileText, table: FileTable, step_s: int
) -> tuple[FileTable, tuple[Repair, ...]]:
    """The table, whose air temperature is there, with a dew point never above it.

    The file's dew point goes first; humidity serves where that is missing.

    Raises
    ------
    WeatherFileError
        If the file's dew point often stands above the air by more than noise.
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
    beyond = quality.dew_point_beyond_noise(dew.values, temperature)
    if beyond.any():  # by more than the rounding of the file too?
        rounding_k = _rounding_k(table, dew)
        beyond = quality.dew_point_beyond_noise(dew.values, temperature, rounding_k)
    rows = [
        _above_air(file, table, dew, temperature, row) for row in np.flatnonzero(beyond).tolist()
    ]
    known = int((~np.isnan(dew.values)).sum())
    if len(rows) > quality.MOST_BLANKED_SHARE * known:
        values: dict[str, object] = dict(rows[0].values)
        share = f"{100 * len(rows) / known:.1f}"
        values |= {"count": len(rows), "share": share}
        refused = WeatherFileError("weather_dew_points_above_air", file.name, **values)
        file.faults.extend(rows)
        raise refused
    file.blanked.extend(rows)
    left = np.where(beyond, np.nan, dew.values)
    capped, above = quality.cap_dew_point(left, temperature)
    repairs = (
        *counted("dew_point_capped", "dew_point_c", above, table.stamps, table.lines),
        *counted("dew_point_blanked", "dew_point_c", beyond, table.stamps, table.lines),
    )
    return replace(dew, values=capped), repairs


def _rounding_k(table: FileTable, dew: FileColumn) -> float:
    """Half the last digit of dew point and air as the file writes them, the coarser one [K]."""
    air_column = table.column("air_temperature_c")
    assert air_column is not None
    return max(
        column.unit.factor
        * quality.half_digit((column.values - column.unit.offset) / column.unit.factor)
        for column in (dew, air_column)
    )


def _above_air(
    file: FileText, table: FileTable, dew: FileColumn, temperature: Floats, row: int
) -> WeatherFileError:
    """What is said of one dew point above the air."""
    return file.error(
        "weather_dew_point_above_air",
        int(table.lines[row]),
        column=dew.file_name,
        value=dew.unit.shown(float(dew.values[row])),
        air=dew.unit.shown(float(temperature[row])),
    )


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
    derived
        Hours in which a needed column was filled or worked out, by column, (hours,).
    humidity
        Humidity given beside a dew point [%], (hours,); None where one was not.
    """

    start: np.datetime64
    columns: dict[str, Floats]
    repaired: Booleans
    served: tuple[FileColumn, ...]
    repairs: tuple[Repair, ...]
    refused: tuple[Repair, ...]
    flags: tuple[Repair, ...]
    derived: dict[str, Booleans]
    humidity: Floats | None


def to_whole_hours(
    file: FileText, table: FileTable, step_s: int, elevation_m: float | None
) -> Hours:
    """Bring the rows of a checked table to whole hours.

    Raises
    ------
    WeatherFileError
        If the dew point stands above the air, or fewer than two hours result.
    """
    given = table.column("dew_point_c")
    table, dew_repairs = with_dew_point(file, table, step_s)
    table, sun_repairs = _with_lifted_sun(table)
    grid = _grid(file, table, step_s)
    found = {c.served_as: _on_grid(c, table, step_s, grid) for c in table.columns}
    start = np.datetime64(int(grid[0]), "s")
    flags = _stuck(found, start)
    refused = _station_pressure(found, elevation_m)
    repaired, gap_repairs, derived = _filled(found, table, start)
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
        and (name in NEEDED or table.exact or _stays(name, table) or not np.isnan(values).all())
    }
    humidity = found.get("relative_humidity_percent") if given is not None else None
    if not table.exact:
        said = np.full(grid.size, np.nan) if given is None else _on_grid(given, table, step_s, grid)
        derived["dew_point_c"] = np.isnan(said)
    return Hours(
        start, columns, repaired, tuple(c for c in table.columns if _served(c, columns)),
        (*dew_repairs, *sun_repairs, *gap_repairs), refused, flags, derived, humidity,
    )  # fmt: skip


def _stays(name: str, table: FileTable) -> bool:
    """Whether a column that is blank throughout still counts as there.

    Blank rain is not known, as one blank hour of it is; a typical year without a
    gauge has its layout's place for rain all the same.
    """
    return name == "rain_mm" and not table.typical_year


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
        return sums_over_hours(begins, ends, column.values, grid)
    if column.timing == "period":
        return largest_over_hours(begins, ends, column.values, grid)
    return means_over_hours(begins, ends, column.values, grid)


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
        return largest_over_hours(places, places + step_s, column.values, grid)
    if column.served_as == "dew_point_c" and step_s < 3000:
        vapor = air.vapor_pressure_from_dew_point(column.values)
        hourly = instants_at_hours(places, vapor, grid, step_s=step_s)
        return air.dew_point_from_vapor_pressure(hourly)
    return instants_at_hours(places, column.values, grid, step_s=step_s)


def _stuck(found: dict[str, Floats], start: np.datetime64) -> tuple[Repair, ...]:
    """Flags of sensors that show one value for eight hours or more: the longest run of each."""
    flags = []
    for name in _STUCK_COLUMNS:
        values = found.get(name)
        if name == "relative_humidity_percent" and values is not None:
            values = _unsaturated(values)
        runs = [] if values is None else quality.stuck_runs(values)
        if runs:
            place, length = max(runs, key=lambda run: run[1])
            first = start + np.timedelta64(3600 * place, "s")
            flags.append(Repair("stuck", name, length, first))
    return tuple(flags)


def _unsaturated(values: Floats) -> Floats:
    """Humidity without its 100 %: hours of fog are no stuck sensor."""
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
) -> tuple[Booleans, list[Repair], dict[str, Booleans]]:
    """Fill short gaps of the needed columns in `found`; where, how many, and where by column."""
    marks = found.get("repaired")
    if table.exact:
        shape = found["air_temperature_c"].shape
        done = np.zeros(shape, dtype=bool) if marks is None else marks == 1.0
        return done, [], dict.fromkeys(NEEDED, done)
    derived: dict[str, Booleans] = {}
    repaired = np.zeros(found["air_temperature_c"].shape, dtype=bool)
    repairs = []
    for name in NEEDED:
        found[name], where = quality.fill_short_gaps(found[name])
        derived[name] = where
        if where.any():
            first = start + np.timedelta64(3600 * int(where.argmax()), "s")
            repairs.append(Repair("gap_filled", name, int(where.sum()), first))
            repaired |= where
    return repaired, repairs, derived
