"""A weather station's file that grows: read while it is written, in any layout known.

The last line may be half there: it is left for the next time. A column may be absent that a
forecast needs; a value that is not possible is left out and counted, not the file.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from hayweather.weather import air
from hayweather.weather.files.build import over_period
from hayweather.weather.files.cells import DELIMITERS
from hayweather.weather.files.columns import check_unit_options
from hayweather.weather.files.frames import text_of_frame
from hayweather.weather.files.hours import periods_of, places_of, sums_over_hours
from hayweather.weather.files.read import read_layout
from hayweather.weather.files.table import Clock, FileColumn, FileTable, ReadOptions, Shape
from hayweather.weather.files.text import FileText, open_text
from hayweather.weather.observed import INSTANTS, Observed
from hayweather.weather.quality import HUMIDITY_NOISE_PERCENT, RANGES, cap_humidity
from hayweather.weather.record import HOUR, Booleans, Floats
from hayweather.words import Remark

if TYPE_CHECKING:
    import pandas as pd

BEING_WRITTEN = np.timedelta64(600, "s")
"""A file whose last change is older is not being written (assumed)."""
MOST_LINES = 15_000
"""Rows looked at for a night, from the end: five days of a row every half minute."""
ALL_LINES = 1_000_000
"""Rows looked at to learn: a year of a row every half minute."""
MOST_IMPOSSIBLE = 0.1
"""With more of a column's values impossible it is in another unit, or something else."""
COUNTER_ROWS = 12
"""A positive rain that stands still over so many rows is a counter, not the rain of a row."""
LACKS_WIND, CUT_ROW = "weather_missing_wind", "weather_row_width"
"""Keys of the refusal of a file that may be a station's all the same."""
HUMIDITY = "relative_humidity_percent"
_READ = (*INSTANTS, "rain_mm", HUMIDITY)


@dataclass(frozen=True)
class StationFile:
    """A station's file as it was understood, for `hayweather inspect`.

    Attributes
    ----------
    name
        Of the file.
    observed
        What it holds.
    shape, clock
        How it is written, and how its clock was understood.
    columns
        That serve: name in the file, what each holds, its unit, rows without a value.
    unused
        Names of the others.
    step_minutes
        From row to row, usually.
    """

    name: str
    observed: Observed
    shape: Shape
    clock: Clock
    columns: tuple[tuple[str, str, str, int], ...]
    unused: tuple[str, ...]
    step_minutes: float

    @property
    def lacks(self) -> tuple[str, ...]:
        """What a night wants and it does not measure, names of the record."""
        has = [*self.observed.columns, *(["rain_mm"] if self.observed.rain_start else [])]
        return tuple(name for name in (*INSTANTS, "rain_mm") if name not in has)


def station_file(path: Path, options: ReadOptions, now: np.datetime64) -> StationFile:
    """What a station's file holds, and how it was understood; as `read_station`."""
    observed = read_station(path, options, now)
    file = open_text(path)
    lines, _ = whole_lines(file.lines, growing=bool(now - file.written < BEING_WRITTEN))
    table = _in_order(replace(read_layout(replace(file, lines=lines), options), irregular=True))
    serves = [column for column in table.columns if column.served_as in _READ]
    used = {column.file_name for column in serves}
    others = [*table.unused, *(c.file_name for c in table.columns if c.file_name not in used)]
    return StationFile(
        file.name, observed, table.shape, table.clock,
        tuple((c.file_name, c.served_as, c.unit.symbol, int(np.isnan(c.values).sum()))
              for c in serves),
        tuple(dict.fromkeys(others)), _step(table) / 60,
    )  # fmt: skip


def read_station(
    path: Path, options: ReadOptions, now: np.datetime64, most_lines: int = MOST_LINES
) -> Observed:
    """What a station's file holds so far.

    Parameters
    ----------
    path
        The file.
    options
        What the file does not say.
    now
        UTC time on the wall, which tells whether the file is being written.
    most_lines
        Rows looked at, from the end.

    Raises
    ------
    WeatherFileError
        If it cannot be read as weather: one line.
    OptionError
        If an option names an unknown zone, column or unit.
    """
    file = open_text(path)
    growing = bool(now - file.written < BEING_WRITTEN)
    lines, cut = whole_lines(file.lines, growing=growing, most=most_lines)
    notes = (Remark("station_lines_cut", {"count": f"{cut}"}),) if cut else ()
    found = observed_in(replace(file, lines=lines), options)
    return replace(found, notes=(*notes, *found.notes))


def station_from(frame: pd.DataFrame, options: ReadOptions, name: str = "station") -> Observed:
    """What a table of a notebook says that a station measured; columns named as in a file.

    Parameters
    ----------
    frame
        A row a time, as `hayweather.weather.files.weather_from` takes it.
    options
        Its zone, units and the height of its wind, where the table does not tell them.
    name
        Of the station.

    Raises
    ------
    WeatherFileError, OptionError
        As `read_station`.
    """
    text, said = text_of_frame(frame, name)
    units = {**{key: unit for key, unit in said.items() if key in frame.columns}, **options.units}
    return observed_in(text, replace(options, units=units))


def whole_lines(
    lines: Sequence[str], *, growing: bool, most: int = MOST_LINES
) -> tuple[list[str], int]:
    """The lines that are whole, and how many in the middle are not.

    A last line without its end is left out where the file is being written, and where it
    is shorter than the others.

    Parameters
    ----------
    lines
        Split at the ends of lines: the last is empty where the file ends with one.
    growing
        Whether the file is being written.
    most
        Rows that stay, from the end.

    Examples
    --------
    >>> whole_lines(["time,t,rh", "1,2,3", "2,2,3", "3,2"], growing=True)
    (['time,t,rh', '1,2,3', '2,2,3'], 0)
    >>> whole_lines(["time,t,rh", "1,2,3", "2,", "3,2,3", ""], growing=False)
    (['time,t,rh', '1,2,3', '3,2,3'], 1)
    """
    unended, lines = (lines[-1:], lines[:-1]) if lines and lines[-1].strip() else ([], lines)
    told = [line for line in lines if line.strip() and "\x00" not in line]
    if not told:
        return [*told, *unended], 0
    counts = {sign: Counter(line.count(sign) for line in told[-200:]) for sign in DELIMITERS}
    sign = max(DELIMITERS, key=lambda each: counts[each].most_common(1)[0][0])
    width = counts[sign].most_common(1)[0][0]
    if not growing and unended and unended[0].count(sign) == width:
        told.append(unended[0])
    first = next((i for i, line in enumerate(told) if line.count(sign) >= width), 0)
    if not width or first > 60:
        return told, 0
    kept = [line for i, line in enumerate(told) if i <= first or line.count(sign) >= width]
    cut = len(told) - len(kept)
    if len(kept) > most + 100:
        kept = [*kept[:100], *kept[-most:]]
    return kept, cut


def observed_in(file: FileText, options: ReadOptions) -> Observed:
    """What a station's file holds, from its text; see `read_station`."""
    table = replace(read_layout(file, options), irregular=True)
    check_unit_options([*(c.file_name for c in table.columns), *table.unused], options.units)
    table = _in_order(table)
    height = options.wind_height_m or table.wind_height_m
    if not table.stamps.size:
        raise file.error("weather_too_short", hours=0)
    step_s = _step(table)
    table = over_period(table, step_s)
    table, notes = _possible(file, table)
    if table.column("air_temperature_c") is None or (
        table.column("dew_point_c") is None and table.column(HUMIDITY) is None
    ):
        found = ", ".join([*(c.file_name for c in table.columns), *table.unused])
        lost = "humidity" if table.column("air_temperature_c") else "air_temperature_c"
        raise file.error(f"weather_missing_{lost}", found=found[:200])
    columns = _air(table)
    names = {c.served_as: c for c in table.columns}
    first = names["air_temperature_c"]
    times = np.array(places_of(first, table, step_s), dtype="datetime64[s]")
    start, rain, told = _rain(table, step_s)
    return Observed(
        table.source or Path(file.name).stem, times, columns, start, rain, height,
        notes=(*notes, *told),
    )  # fmt: skip


def _in_order(table: FileTable) -> FileTable:
    """The rows in order of time; of several of one time the last."""
    order = np.argsort(table.stamps, kind="stable")
    stamps = table.stamps[order]
    last = np.append(np.diff(stamps) > np.timedelta64(0, "s"), np.ones(min(stamps.size, 1), bool))
    rows = order[last]
    columns = tuple(replace(c, values=c.values[rows]) for c in table.columns)
    return replace(table, stamps=table.stamps[rows], lines=table.lines[rows], columns=columns)


def _step(table: FileTable) -> int:
    """Usual time between rows [s]."""
    if table.stamps.size < 2:
        return 300
    return max(int(np.median(np.diff(table.stamps).astype(np.int64))), 1)


def _possible(file: FileText, table: FileTable) -> tuple[FileTable, tuple[Remark, ...]]:
    """The columns that serve, impossible values blank and counted.

    Raises
    ------
    WeatherFileError
        If so many of a column are impossible that it is in another unit.
    """
    kept, lost = [], 0
    for column in table.columns:
        if column.served_as not in _READ:
            continue
        low, high = RANGES[column.served_as]
        with np.errstate(invalid="ignore"):
            wrong = (column.values < low) | (column.values > high)
        known = int((~np.isnan(column.values)).sum())
        if wrong.sum() > MOST_IMPOSSIBLE * known and wrong.sum() > 1:
            row = int(wrong.argmax())
            shown = (column.unit.shown(value) for value in (column.values[row], low, high))
            value, lowest, highest = shown
            raise file.error(
                "weather_value_impossible", int(table.lines[row]), column=column.file_name,
                value=value, low=lowest, high=highest,
            )  # fmt: skip
        lost += int(wrong.sum())
        kept.append(replace(column, values=np.where(wrong, np.nan, column.values)))
    notes = (Remark("station_impossible", {"count": f"{lost}"}),) if lost else ()
    return replace(table, columns=tuple(kept)), notes


def _air(table: FileTable) -> dict[str, Floats]:
    """Instants that serve; the dew point from humidity where that is all there is."""
    columns = {c.served_as: c.values for c in table.columns}
    temperature, humidity = columns["air_temperature_c"], columns.pop(HUMIDITY, None)
    dew = columns.get("dew_point_c")
    if humidity is not None:
        with np.errstate(invalid="ignore"):
            humidity = np.where(humidity > HUMIDITY_NOISE_PERCENT, np.nan, humidity)
        humidity, _ = cap_humidity(humidity)
        worked = np.full(humidity.size, np.nan)
        both: Booleans = ~np.isnan(temperature + humidity)
        worked[both] = air.dew_point_from_humidity(temperature[both], humidity[both])
        dew = worked if dew is None else np.where(np.isnan(dew), worked, dew)
    assert dew is not None
    columns["dew_point_c"] = np.minimum(dew, np.where(np.isnan(temperature), np.inf, temperature))
    return {name: columns[name] for name in INSTANTS if name in columns}


def _rain(table: FileTable, step_s: int) -> tuple[np.datetime64 | None, Floats, tuple[Remark, ...]]:
    """Rain of whole hours and the start of the first; a counter is no rain of a row."""
    column = table.column("rain_mm")
    if column is None or np.isnan(column.values).all():
        return None, np.zeros(0), ()
    if _is_counter(column):
        return None, np.zeros(0), (Remark("station_rain_counter", {"column": column.file_name}),)
    begins, ends = periods_of(column, table, step_s)
    begins = np.maximum(begins, np.append(begins[:1], ends[:-1]))
    first, last = int(begins[0]) // 3600, int(ends[-1]) // 3600
    hours = 3600 * np.arange(first, max(last, first + 1), dtype=np.int64)
    longest = int(HOUR / np.timedelta64(1, "s"))
    rain = sums_over_hours(np.maximum(begins, ends - longest), ends, column.values, hours)
    return np.datetime64(int(hours[0]), "s"), rain, ()


def _is_counter(column: FileColumn) -> bool:
    """Whether rain stands still above zero over many rows, as the sum of a day does."""
    values = column.values[~np.isnan(column.values)]
    same = (values[1:] == values[:-1]) & (values[1:] > 0)
    run = longest = 0
    for each in same.tolist():
        run = run + 1 if each else 0
        longest = max(longest, run)
    return longest >= COUNTER_ROWS
