"""Rows before they become hours: order, doubles, step, possible values."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np

from hayweather.weather.files.table import FileColumn, FileTable
from hayweather.weather.files.text import FileText
from hayweather.weather.quality import NOISE, RANGES, Repair, first_outside
from hayweather.weather.record import Booleans, Floats, Times

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
    counts = Counter(steps.tolist())
    step = min(counts, key=lambda s: (-counts[s], 3600 % s != 0, s))
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
    """Refuse values that are not possible, with the line and the evidence.

    Raises
    ------
    WeatherFileError
        At the first of them.
    """
    for column in table.columns:
        if column.served_as not in RANGES:
            continue
        _check_fraction(file, column)
        place = first_outside(column.values, column.served_as)
        if place is not None:
            _refuse(file, int(table.lines[place]), column, float(column.values[place]))


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


def _refuse(file: FileText, line: int, column: FileColumn, value: float) -> None:
    shown = column.unit.shown(value)
    known = column.values[~np.isnan(column.values)]
    if column.served_as in ("air_temperature_c", "dew_point_c") and _looks_fahrenheit(
        column, known
    ):
        low, high = column.unit.shown(float(known.min())), column.unit.shown(float(known.max()))
        raise file.error(
            "weather_looks_fahrenheit", line, column=column.file_name, low=low, high=high
        )
    if column.served_as == "relative_humidity_percent" and value > 0:
        raise file.error("weather_humidity_impossible", line, column=column.file_name, value=shown)
    low_limit, high_limit = (column.unit.shown(v) for v in RANGES[column.served_as])
    raise file.error(
        "weather_value_impossible", line, column=column.file_name, value=shown,
        low=low_limit, high=high_limit,
    )  # fmt: skip


def _looks_fahrenheit(column: FileColumn, known: Floats) -> bool:
    """Whether a column in C would be possible in F."""
    return column.unit.symbol == "°C" and known.min() > -60 and 60 < known.max() <= 140


def seconds(stamps: Times) -> np.ndarray:
    """Stamps as whole seconds since 1970."""
    return stamps.astype("datetime64[s]").astype(np.int64)
