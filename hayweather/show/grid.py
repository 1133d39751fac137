"""A grid: text, JSON (schema ``hayweather/grid/1``), CSV, one row a cell, and NetCDF.

Missing numbers are null or blank, never NaN. Attributes of the NetCDF file are
those of the CF conventions 1.11 (published); cells not reached before a stop
are blank.
"""

from __future__ import annotations

import io
import tempfile
import zipfile
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from hayweather.farm.bands import limits_remark
from hayweather.farm.records import UnitSystem
from hayweather.seasons.record.grid import COUNTS, CellTallies, GridSeasons
from hayweather.seasons.record.nights import LEFT_OUT_SHARE, RAIN_NIGHT_MM
from hayweather.show.layout import WIDEST_PROSE, TextColumn, bullets, table_lines, wrapped
from hayweather.show.outlook_data import UNITS
from hayweather.show.seasons_words import months_text, years_text
from hayweather.show.table import Column, Document, Json, Table, csv_text, number
from hayweather.show.voice import (
    UNKNOWN,
    Voice,
    capital,
    phrase,
    safety_texts,
    short_safety_texts,
    shown_safety,
)
from hayweather.version import __version__
from hayweather.weather.record import Floats

if TYPE_CHECKING:
    import xarray as xr


def grid_voice(grid: GridSeasons, units: UnitSystem | None = None) -> Voice:
    """How to speak of a grid: the file's language and units."""
    file = grid.file
    return Voice(file.language, units or file.units, "UTC", decimals=file.decimals)


def grid_title(grid: GridSeasons, voice: Voice) -> str:
    """What the answer is about."""
    return voice.say(
        "grid_title",
        name=grid.file.name,
        months=months_text(grid.months, voice),
        years=years_text(grid.years),
    )


def place_text(latitude: float, longitude: float, voice: Voice) -> str:
    """A place in degrees."""
    return f"{latitude_text(latitude, voice)}, {longitude_text(longitude, voice)}"


def latitude_text(latitude: float, voice: Voice) -> str:
    """``"43.25° N"``."""
    side = voice.say("grid_north" if latitude >= 0 else "grid_south")
    return f"{abs(latitude):g}° {side}"


def longitude_text(longitude: float, voice: Voice) -> str:
    """``"120.5° W"``."""
    side = voice.say("grid_east" if longitude >= 0 else "grid_west")
    return f"{abs(longitude):g}° {side}"


def cell_sentences(grid: GridSeasons, voice: Voice) -> list[str]:
    """How many cells and nights stand behind the numbers, and which are missing."""
    tallies = grid.tallies
    with_nights = int((tallies.pooled("counted") > 0).sum())
    said = [
        voice.say(
            "grid_cells",
            cells=f"{tallies.count:,}",
            counted=f"{with_nights:,}",
            blank=f"{tallies.count - with_nights:,}",
        ),
        _missing(grid, voice),
    ]
    if grid.unfinished:
        left = grid.size - grid.cells.size
        said.insert(0, voice.say("grid_unfinished", left=f"{left:,}", cells=f"{grid.size:,}"))
    return said + _extremes(grid, voice)


def _missing(grid: GridSeasons, voice: Voice) -> str:
    """Nights that are missing, and years of cells left out."""
    tallies = grid.tallies
    nights, missing = int(tallies.nights.sum()), int(tallies.missing.sum())
    left_out = int((~tallies.kept).sum())
    return voice.say(
        "grid_missing",
        missing=f"{missing:,}",
        nights=f"{nights:,}",
        rain=f"{int(tallies.rain_nights.sum()):,}",
        years=f"{left_out:,}",
        all=f"{tallies.kept.size:,}",
        share=f"{100 * LEFT_OUT_SHARE:g}",
    )


def _extremes(grid: GridSeasons, voice: Voice) -> list[str]:
    """Where most and fewest nights have usable dew."""
    percent = grid.tallies.dew_night_percent()
    if np.isfinite(percent).sum() < 2:
        return []
    most, fewest = int(np.nanargmax(percent)), int(np.nanargmin(percent))
    latitude, longitude = grid.tallies.latitude, grid.tallies.longitude
    return [
        voice.say(
            "grid_extremes",
            most=f"{percent[most]:.0f}",
            there=place_text(float(latitude[most]), float(longitude[most]), voice),
            fewest=f"{percent[fewest]:.0f}",
            here=place_text(float(latitude[fewest]), float(longitude[fewest]), voice),
        )
    ]


def grid_counting(grid: GridSeasons, voice: Voice) -> str:
    """How nights and hours are counted."""
    return voice.say(
        "grid_counting",
        hours=f"{grid.file.baler.useful_hours:g}",
        rain=voice.amount(RAIN_NIGHT_MM, "rain"),
    )


def grid_rests_on(grid: GridSeasons, voice: Voice) -> list[str]:
    """What all of it rests on: weather, windrow, rig."""
    limits = limits_remark(grid.file.baler, grid.file.windrow)
    said = [voice.say("grid_source", file=grid.choice.file.name)]
    said += [capital(phrase(note, voice)) for note in (*grid.notes, limits, *grid.file.notes)]
    if grid.file.rig_is_assumed:
        said.append(voice.say("grid_rig_assumed"))
    return [*said, voice.say("grid_cell_is_no_field"), voice.say("seasons_no_measured_night")]


HOURS = {"dew": "dew_h", "rig": "rig_h", "wet": "wet_h", "too_dry": "dry_h"}
COUNTED = {
    "nights": "Evenings asked for",
    "missing": "Nights that cannot be told",
    "rain_nights": "Nights after rain, counted apart",
    "counted": "The others",
    "with_dew": "Nights with usable dew",
}


def _summed(name: str) -> Callable[[CellTallies], np.ndarray]:
    """A count over all years and months."""
    return lambda tallies: getattr(tallies, name).sum(axis=(1, 2))


def _kept(name: str) -> Callable[[CellTallies], np.ndarray]:
    """A count over the years averaged in."""
    return lambda tallies: tallies.pooled(name).astype(int)


def _mean(name: str) -> Callable[[CellTallies], np.ndarray]:
    """Mean hours a night."""
    return lambda tallies: tallies.mean(name)


def _of_month(place: int) -> Callable[[CellTallies], np.ndarray]:
    """Nights with usable dew in a hundred of one month."""
    return lambda tallies: tallies.dew_night_percent(place)


PERCENTS = (
    Column("dew_nights_percent", "Nights with usable dew in a hundred that count",
           lambda tallies: tallies.dew_night_percent(), unit="percent"),
    Column("median_dew_hours", "Median hours on dew a night", "median_dew_h", unit="h"),
    Column("four_in_five_dew_hours", "Hours on dew that four nights in five reach or pass",
           "four_in_five_dew_h", unit="h"),
)  # fmt: skip
PLACES = (
    Column("latitude", "Degrees north"),
    Column("longitude", "Degrees east"),
)


def cell_table(months: Sequence[int] = ()) -> Table:
    """Columns of the cells; a row is the tallies of all of them, a value an array over them.

    Parameters
    ----------
    months
        Those with a column of their own.
    """
    return Table(
        (
            *PLACES,
            Column("years_averaged_in", "Years with enough nights", kind="count",
                   value=lambda tallies: tallies.kept.sum(axis=1)),
            Column("years_left_out", "Years with more than a fifth of their nights missing",
                   kind="count", value=lambda tallies: (~tallies.kept).sum(axis=1)),
            *(Column(name, COUNTED[name], _summed(name), kind="count") for name in COUNTS[:3]),
            *(Column(f"{name}_kept", f"{COUNTED[name]}, of the years averaged in", _kept(name),
                     kind="count") for name in COUNTS[3:]),
            *PERCENTS,
            *(Column(f"mean_{name}_hours", "Mean hours a night", _mean(key), unit="h")
              for name, key in HOURS.items()),
            *(Column(f"dew_nights_percent_month_{month}", "Nights with usable dew in a hundred",
                     _of_month(place))
              for place, month in enumerate(months)),
        ),
        "One cell; a column dew_nights_percent_month_N for each month besides.",
        open=True,
    )  # fmt: skip


YEAR: Json = {
    "type": "object",
    "properties": {"averaged_in": {"type": "boolean"}}
    | {
        name: {"description": help_, "type": "array", "items": {"type": "integer"}}
        for name, help_ in COUNTED.items()
    },
    "required": ["averaged_in", *COUNTED],
}
CELL = cell_table().schema()
CELL["properties"] |= {
    "place": {"description": "Place in the flattened grid", "type": "integer"},
    "years": {"type": "object", "additionalProperties": YEAR},
}
WHOLE_NUMBERS: Json = {"type": "array", "items": {"type": "integer"}}
GRID = Document(
    "hayweather/grid/1",
    Table(
        (
            Column("name", "Of the sites file", "file.name", kind="text"),
            Column("invented", "True for a made-up sample", "file.invented", kind="truth"),
            UNITS,
            Column("title", "What the answer is about", kind="text", said=grid_title),
            Column("file", "Name of the weather file", "choice.file.name", kind="text"),
            Column("months", "Months asked for", lambda grid: list(grid.months), kind="any",
                   fits=WHOLE_NUMBERS),
            Column("years", "Years found", lambda grid: list(grid.years), kind="any",
                   fits=WHOLE_NUMBERS),
            Column("shape", "Of the grid", lambda grid: list(grid.shape), kind="any",
                   fits=WHOLE_NUMBERS),
            Column("unfinished", "The run was stopped before the end", kind="truth"),
            Column("useful_hours", "Hours on dew that make a night useful",
                   "file.baler.useful_hours", unit="h"),
            Column("rain_known", "Whether the source has rain", kind="truth"),
            Column("cells", "Every cell", lambda grid: _cells(grid), kind="any",
                   fits={"type": "array", "items": CELL}),
            Column("sentences", "Cells and nights in words", kind="texts", said=cell_sentences),
            Column("counting", "How nights and hours are counted", kind="text",
                   said=grid_counting),
            Column("rests_on", "What all of it rests on", kind="texts", said=grid_rests_on),
            Column("cautions", "Cautions that always show", kind="texts",
                   said=lambda _, voice: safety_texts(voice)),
        ),
        "A grid of cells compared (hayweather seasons with a grid).",
    ),
)  # fmt: skip


def grid_json(grid: GridSeasons, units: UnitSystem | None = None) -> str:
    """A grid as JSON text; `units` are those of the sentences in it, None for the file's."""
    return GRID.text(grid, grid_voice(grid, units))


def _cells(grid: GridSeasons) -> list[Json]:
    """Every cell: what it comes to, and its counts by year and month."""
    rows = _row(grid)
    found = []
    for at, place in enumerate(grid.cells.tolist()):
        plain = {name: values[at] for name, values in rows.items()}
        found.append({"place": place, **plain, "years": _years(grid, at)})
    return found


def _years(grid: GridSeasons, at: int) -> Json:
    """Counts of a cell by year, each a list over the months."""
    tallies, kept = grid.tallies, grid.tallies.kept
    return {
        str(year): {
            "averaged_in": bool(kept[at, place]),
            **{name: getattr(tallies, name)[at, place].tolist() for name in COUNTS},
        }
        for place, year in enumerate(grid.years)
    }


def _row(grid: GridSeasons) -> dict[str, list[Any]]:
    """Values of all cells by name, rounded as data."""
    found = {}
    for column in cell_table(grid.months).columns:
        values = column.get(grid.tallies, _NO_WORDS).tolist()
        whole = column.kind == "count"
        found[column.name] = values if whole else [number(value) for value in values]
    return found


_NO_WORDS = Voice("en", "metric", "UTC")


def grid_csv(grid: GridSeasons, units: UnitSystem | None = None, *, raw: bool = False) -> str:
    """A grid as CSV: lines of notes that begin with ``#``, then one row a cell."""
    voice = grid_voice(grid, units)
    notes = [voice.say("seasons_invented")] if grid.file.invented else []
    notes += [grid_title(grid, voice), *cell_sentences(grid, voice), grid_counting(grid, voice)]
    notes += [*grid_rests_on(grid, voice), *short_safety_texts(voice)]
    columns = _row(grid)
    return csv_text(columns, zip(*columns.values(), strict=True), notes, raw=raw)


_TENTHS = (10, 50, 90)


def grid_text(
    grid: GridSeasons, units: UnitSystem | None, width: int = 80, *, all_cautions: bool = False
) -> str:
    """The whole answer as text."""
    voice = grid_voice(grid, units)
    prose = min(width, WIDEST_PROSE)
    lines = wrapped(voice.say("seasons_invented"), prose) if grid.file.invented else []
    lines += wrapped(grid_title(grid, voice), prose)
    if not grid.rain_known:
        lines += wrapped(voice.say("seasons_rain_unknown"), prose)
    lines += ["", *table_lines(_columns(grid, voice), width), ""]
    lines += bullets(cell_sentences(grid, voice), prose)
    lines += ["", *wrapped(grid_counting(grid, voice), prose)]
    lines += ["", voice.say("seasons_notes"), *bullets(grid_rests_on(grid, voice), prose)]
    safety = shown_safety(voice, all_cautions)
    return "\n".join([*lines, "", *bullets(safety, prose)]) + "\n"


def _columns(grid: GridSeasons, voice: Voice) -> list[TextColumn]:
    """A row a month and one for all: spread over the cells of shares and hours."""
    places: list[int | None] = [*range(len(grid.months)), None]
    names = [voice.say(f"seasons_month_short_{month}") for month in grid.months]
    if len(grid.months) == 1:
        places = [0]
    else:
        names.append(voice.say("seasons_all"))
    tallies = grid.tallies
    shares = [tallies.dew_night_percent(place) for place in places]
    columns = [TextColumn(("", "", "", ""), tuple(names), is_text=True)]
    counts = [tallies.pooled("counted", place).sum() for place in places]
    nights = tuple(voice.signed(f"{count:,.0f}") for count in counts)
    columns.append(_column("grid_column_nights", "", nights, voice, 1))
    for tenth in _TENTHS:
        cells = tuple(_middle(share, tenth, "{:.0f}") for share in shares)
        columns.append(_column(f"grid_column_share_{tenth}", "%", cells, voice))
    for order, name in enumerate(("dew", "rig", "wet"), start=2):
        middles = [_middle(tallies.mean(f"{name}_h", place), 50, "{:.1f}") for place in places]
        hours = tuple(voice.signed(text) for text in middles)
        columns.append(_column(f"grid_column_{name}", "h", hours, voice, 0 if order < 4 else 2))
    return columns


def _column(key: str, unit: str, cells: Sequence[str], voice: Voice, drop: int = 0) -> TextColumn:
    """A column whose heading stands in three lines and its unit in the fourth."""
    words = voice.say(key).split("|")
    return TextColumn((*[""] * (3 - len(words)), *words, unit), tuple(cells), drop)


def _middle(values: Floats, tenth: int, form: str) -> str:
    """What so many percent of the cells with nights stay below."""
    known = values[np.isfinite(values)]
    return form.format(np.percentile(known, tenth)) if known.size else UNKNOWN


ENDINGS = (".nc", ".nc4", ".zip")
ZARR = ".zarr.zip"
BLANK_COUNT = -1
_TIMES = ("year", "month")
_DEGREES = {"latitude": "degrees_north", "longitude": "degrees_east"}

Variable = tuple[tuple[str, ...], np.ndarray, dict[str, Any]]


def grid_netcdf(grid: GridSeasons, units: UnitSystem | None = None) -> bytes:
    """A grid as the bytes of a NetCDF 4 file; `units` are those of the sentences in it."""
    dataset = grid_dataset(grid, units)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "grid.nc")
        dataset.to_netcdf(path, engine="h5netcdf", encoding=_encoding(dataset))
        return path.read_bytes()


def grid_zarr(grid: GridSeasons, units: UnitSystem | None = None) -> bytes:
    """The same as the bytes of a Zarr store in one ZIP file."""
    dataset, stream = grid_dataset(grid, units), io.BytesIO()
    with tempfile.TemporaryDirectory() as folder:
        dataset.to_zarr(folder, mode="w", encoding=_encoding(dataset), consolidated=False)
        with zipfile.ZipFile(stream, "w", zipfile.ZIP_STORED) as packed:
            for path in sorted(each for each in Path(folder).rglob("*") if each.is_file()):
                packed.write(path, path.relative_to(folder).as_posix())
    return stream.getvalue()


def _encoding(dataset: xr.Dataset) -> dict[str, dict[str, Any]]:
    """Fill values: of counts, and none of axes."""
    counts = {name: {"_FillValue": BLANK_COUNT} for name in (*COUNTS, "averaged_in")}
    return {**counts, **{str(name): {"_FillValue": None} for name in dataset.coords}}


def grid_dataset(grid: GridSeasons, units: UnitSystem | None = None) -> xr.Dataset:
    """A grid as a dataset: the dimensions of its cells, then year and month.

    A grid whose latitude changes along one dimension only, and longitude along
    the other, has these as its dimensions.
    """
    import xarray

    voice, tallies = grid_voice(grid, units), grid.tallies
    axes, cells = _axes(grid, voice)
    values: dict[str, Variable] = {}
    for name in COUNTS:
        counts = _on_grid(grid, getattr(tallies, name), BLANK_COUNT)
        values[name] = _described(cells + _TIMES, counts, name, "1", voice, "time: sum")
    for name, key in HOURS.items():
        hours, named = _on_grid(grid, getattr(tallies, key), np.nan), f"{name}_hours"
        values[named] = _described(cells + _TIMES, hours, named, "h", voice, "time: sum")
    kept = _on_grid(grid, tallies.kept.astype(np.int64), BLANK_COUNT)
    values["averaged_in"] = _described((*cells, "year"), kept, "averaged_in", "1", voice)
    values["averaged_in"][2].update(
        flag_values=np.array([0, 1], dtype=np.int64), flag_meanings="left_out averaged_in"
    )
    del values["averaged_in"][2]["units"]
    for column in PERCENTS:
        on_grid, method = _on_grid(grid, column.get(tallies, voice), np.nan), METHODS[column.name]
        values[column.name] = _described(cells, on_grid, column.name, column.unit, voice, method)
    found = xarray.Dataset(values, axes, _said(grid, voice))
    return found.transpose(*_TIMES, *cells)


METHODS = {
    "dew_nights_percent": "time: mean",
    "median_dew_hours": "time: median",
    "four_in_five_dew_hours": "",
}
"""How nights become one number, as CF has it; it has no word for a percentile."""


def _described(
    dims: tuple[str, ...],
    values: np.ndarray,
    name: str,
    unit: str,
    voice: Voice,
    method: str = "",
) -> Variable:
    """A variable with its unit, its name in words and how it came of nights."""
    said = {"units": unit, "long_name": voice.say(f"grid_file_{name}")}
    return dims, values, {**said, "cell_methods": method} if method else said


def _on_grid(grid: GridSeasons, values: np.ndarray, blank: float) -> np.ndarray:
    """Values of the cells at their places, (cells along each dimension, ...)."""
    whole = np.full((grid.size, *values.shape[1:]), blank, dtype=values.dtype)
    whole[grid.cells] = values
    return whole.reshape(*(grid.shape or (1,)), *values.shape[1:])


def _axes(grid: GridSeasons, voice: Voice) -> tuple[dict[str, Variable], tuple[str, ...]]:
    """Places of the cells, years and months; and the dimensions of the cells."""
    cells: tuple[str, ...] = ("y", "x") if len(grid.shape) == 2 else ("cell",)
    found = {name: _on_grid(grid, getattr(grid.tallies, name), np.nan) for name in _DEGREES}
    lines = _straight(found) if len(grid.shape) == 2 else None
    axes: dict[str, Variable] = {}
    for name, unit in _DEGREES.items():
        said = {"standard_name": name, "long_name": voice.say(f"grid_file_{name}"), "units": unit}
        if lines is None:
            axes[name] = (cells, found[name], said)
        else:
            axes[name] = ((name,), lines[name][1], {**said, "axis": _AXES[name]})
    if lines is not None:
        cells = tuple(sorted(lines, key=lambda name: lines[name][0]))
    for name, times in (("year", grid.years), ("month", grid.months)):
        said = {"long_name": voice.say(f"grid_file_{name}"), "units": "1"}
        axes[name] = ((name,), np.array(times, dtype=np.int32), said)
    said = {"long_name": voice.say("grid_file_time"), "standard_name": "time", "axis": "T"}
    said |= {"units": "days since 1970-01-01", "calendar": "standard"}
    said["units_metadata"] = "leap_seconds: none"
    axes["time"] = ((), np.array(np.mean(_span(grid))), said)
    return axes, cells


def _span(grid: GridSeasons) -> tuple[float, float]:
    """Begin and end of the years counted [days since 1970]."""
    ends = (f"{min(grid.years)}-01-01", f"{max(grid.years) + 1}-01-01")
    first, last = (float(np.datetime64(each, "D").astype(np.int64)) for each in ends)
    return first, last


_AXES = {"latitude": "Y", "longitude": "X"}


def _straight(found: dict[str, np.ndarray]) -> dict[str, tuple[int, np.ndarray]] | None:
    """For each of latitude and longitude the one dimension along which it changes, and its values.

    None where the grid is not regular, values do not rise or fall, or cells not
    reached leave a whole row unknown.
    """
    lines = {}
    for name, values in found.items():
        known = np.isfinite(values)
        for along in (0, 1):
            if not known.any(axis=1 - along).all():
                continue
            line = np.nanmax(values, axis=1 - along)
            whole = np.broadcast_to(line[:, None] if along == 0 else line[None, :], values.shape)
            steps = np.diff(line)
            if (values[known] == whole[known]).all() and (all(steps > 0) or all(steps < 0)):
                lines[name] = (along, line)
                break
    several = len(lines) == 2 and len({along for along, _ in lines.values()}) == 2
    return lines if several else None


def _now() -> str:
    """The time of writing, UTC, to the minute."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%MZ")


def _said(grid: GridSeasons, voice: Voice) -> dict[str, str]:
    """What a reader must know of the file, as its attributes."""
    title = grid_title(grid, voice)
    invented = [voice.say("seasons_invented")] if grid.file.invented else []
    unknown = [] if grid.rain_known else [voice.say("seasons_rain_unknown")]
    counted = [*unknown, *cell_sentences(grid, voice), grid_counting(grid, voice)]
    return {
        "Conventions": "CF-1.11",
        "title": " ".join([*invented, title]),
        "schema": GRID.schema_name,
        "source": f"hayweather {__version__}, {grid.choice.file.name}",
        "history": f"{_now()} hayweather {__version__}: nights of {grid.choice.file.name} counted",
        "comment": "\n".join([*counted, *grid_rests_on(grid, voice)]),
        "cautions": "\n".join(safety_texts(voice)),
    }
