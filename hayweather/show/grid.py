"""A grid: text, JSON (schema ``hayweather/grid/1``), CSV, one row a cell, and NetCDF.

Missing numbers are null or blank, never NaN. Attributes of the NetCDF file are
those of the CF conventions 1.11 (published); cells not reached before a stop
are blank.
"""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from hayweather import __version__
from hayweather.farm.records import UnitSystem
from hayweather.seasons.record.grid import COUNTS, CellTallies, GridSeasons
from hayweather.seasons.record.nights import LEFT_OUT_SHARE, RAIN_NIGHT_MM
from hayweather.show.layout import UNKNOWN, WIDEST_PROSE, Column, bullets, table_lines, wrapped
from hayweather.show.seasons_words import months_text, years_text
from hayweather.show.table import Json, csv_text, json_text, number
from hayweather.show.voice import (
    Voice,
    capital,
    phrase,
    safety_texts,
    short_safety_texts,
    shown_safety,
)
from hayweather.weather.record import Floats

if TYPE_CHECKING:
    import xarray as xr


def grid_voice(grid: GridSeasons, units: UnitSystem | None = None) -> Voice:
    """How to speak of a grid: the file's language and units."""
    return Voice(grid.file.language, units or grid.file.units, "UTC")


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
    said = [voice.say("grid_source", file=grid.choice.file.name)]
    said += [capital(phrase(note, voice)) for note in (*grid.notes, *grid.file.notes)]
    if grid.file.rig_is_assumed:
        said.append(voice.say("grid_rig_assumed"))
    return [*said, voice.say("grid_cell_is_no_field"), voice.say("seasons_no_measured_night")]


SCHEMA = "hayweather/grid/1"
HOURS = {"dew": "dew_h", "rig": "rig_h", "wet": "wet_h", "too_dry": "dry_h"}


def grid_json(grid: GridSeasons, units: UnitSystem | None = None) -> str:
    """A grid as JSON text; `units` are those of the sentences in it.

    Parameters
    ----------
    grid
        What to show.
    units
        Of the numbers that people read, and of sentences; None for those of the file.
    """
    return json_text(grid_form(grid, units))


def grid_form(grid: GridSeasons, units: UnitSystem | None = None) -> Json:
    """A grid as plain dictionaries and lists."""
    voice = grid_voice(grid, units)
    return {
        "schema": SCHEMA,
        "name": grid.file.name,
        "invented": grid.file.invented,
        "units": voice.units,
        "title": grid_title(grid, voice),
        "file": grid.choice.file.name,
        "months": list(grid.months),
        "years": list(grid.years),
        "shape": list(grid.shape),
        "unfinished": grid.unfinished,
        "useful_hours": grid.file.baler.useful_hours,
        "rain_known": grid.rain_known,
        "cells": _cells(grid),
        "sentences": cell_sentences(grid, voice),
        "counting": grid_counting(grid, voice),
        "rests_on": grid_rests_on(grid, voice),
        "cautions": safety_texts(voice),
    }


def _cells(grid: GridSeasons) -> list[Json]:
    """Every cell: what it comes to, and its counts by year and month."""
    rows = _row(grid.tallies, grid)
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


def _row(tallies: CellTallies, grid: GridSeasons) -> dict[str, list[Any]]:
    """Columns of all cells, by name; those that end in "kept" are of the years averaged in."""
    whole = {name: getattr(tallies, name).sum(axis=(1, 2)).tolist() for name in COUNTS[:3]}
    kept = {f"{name}_kept": tallies.pooled(name).astype(int).tolist() for name in COUNTS[3:]}
    means = {f"mean_{name}_hours": tallies.mean(key) for name, key in HOURS.items()}
    numbers = {
        "dew_nights_percent": tallies.dew_night_percent(),
        "median_dew_hours": tallies.median_dew_h,
        "four_in_five_dew_hours": tallies.four_in_five_dew_h,
        **means,
        **{
            f"dew_nights_percent_month_{month}": tallies.dew_night_percent(place)
            for place, month in enumerate(grid.months)
        },
    }
    return {
        "latitude": [number(value) for value in tallies.latitude.tolist()],
        "longitude": [number(value) for value in tallies.longitude.tolist()],
        "years_averaged_in": tallies.kept.sum(axis=1).tolist(),
        "years_left_out": (~tallies.kept).sum(axis=1).tolist(),
        **whole,
        **kept,
        **{name: [number(value) for value in values.tolist()] for name, values in numbers.items()},
    }


def grid_csv(grid: GridSeasons, units: UnitSystem | None = None) -> str:
    """A grid as CSV: lines of notes that begin with ``#``, then one row a cell.

    Parameters
    ----------
    grid
        What to show.
    units
        Of the numbers that people read, and of sentences; None for those of the file.
    """
    voice = grid_voice(grid, units)
    notes = [voice.say("seasons_invented")] if grid.file.invented else []
    notes += [grid_title(grid, voice), *cell_sentences(grid, voice), grid_counting(grid, voice)]
    notes += [*grid_rests_on(grid, voice), *short_safety_texts(voice)]
    columns = _row(grid.tallies, grid)
    return csv_text(columns, zip(*columns.values(), strict=True), notes)


_TENTHS = (10, 50, 90)


def grid_text(
    grid: GridSeasons, units: UnitSystem | None, width: int = 80, *, all_cautions: bool = False
) -> str:
    """The whole answer as text.

    Parameters
    ----------
    grid
        What to show.
    units
        Of the reader; None for the file's.
    width
        Characters of a line.
    all_cautions
        True for the cautions in full.
    """
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


def _columns(grid: GridSeasons, voice: Voice) -> list[Column]:
    """A row a month and one for all: spread over the cells of shares and hours."""
    places: list[int | None] = [*range(len(grid.months)), None]
    names = [voice.say(f"seasons_month_short_{month}") for month in grid.months]
    if len(grid.months) == 1:
        places = [0]
    else:
        names.append(voice.say("seasons_all"))
    tallies = grid.tallies
    shares = [tallies.dew_night_percent(place) for place in places]
    columns = [Column(("", "", "", ""), tuple(names), is_text=True)]
    nights = tuple(f"{tallies.pooled('counted', place).sum():,.0f}" for place in places)
    columns.append(_column("grid_column_nights", "", nights, voice, 1))
    for tenth in _TENTHS:
        cells = tuple(_middle(share, tenth, "{:.0f}") for share in shares)
        columns.append(_column(f"grid_column_share_{tenth}", "%", cells, voice))
    for order, name in enumerate(("dew", "rig", "wet"), start=2):
        hours = tuple(_middle(tallies.mean(f"{name}_h", place), 50, "{:.1f}") for place in places)
        columns.append(_column(f"grid_column_{name}", "h", hours, voice, 0 if order < 4 else 2))
    return columns


def _column(key: str, unit: str, cells: Sequence[str], voice: Voice, drop: int = 0) -> Column:
    """A column whose heading stands in three lines and its unit in the fourth."""
    words = voice.say(key).split("|")
    return Column((*[""] * (3 - len(words)), *words, unit), tuple(cells), drop)


def _middle(values: Floats, tenth: int, form: str) -> str:
    """What so many percent of the cells with nights stay below."""
    known = values[np.isfinite(values)]
    return form.format(np.percentile(known, tenth)) if known.size else UNKNOWN


ENDINGS = (".nc", ".nc4")
BLANK_COUNT = -1
_TIMES = ("year", "month")
_DEGREES = {"latitude": "degrees_north", "longitude": "degrees_east"}

Variable = tuple[tuple[str, ...], np.ndarray, dict[str, Any]]


def grid_netcdf(grid: GridSeasons, units: UnitSystem | None = None) -> bytes:
    """A grid as the bytes of a NetCDF 4 file; `units` are those of the sentences in it.

    Parameters
    ----------
    grid
        What to show.
    units
        Of the numbers that people read, and of sentences; None for those of the file.
    """
    dataset = grid_dataset(grid, units)
    counts = {name: {"_FillValue": BLANK_COUNT} for name in (*COUNTS, "averaged_in")}
    plain = {name: {"_FillValue": None} for name in (*_DEGREES, *_TIMES)}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "grid.nc")
        dataset.to_netcdf(path, engine="h5netcdf", encoding={**counts, **plain})
        return path.read_bytes()


def grid_dataset(grid: GridSeasons, units: UnitSystem | None = None) -> xr.Dataset:
    """A grid as a dataset: the dimensions of its cells, then year and month."""
    import xarray

    voice, tallies = grid_voice(grid, units), grid.tallies
    cells = ("y", "x") if len(grid.shape) == 2 else ("cell",)
    values: dict[str, Variable] = {}
    for name in COUNTS:
        counts = _on_grid(grid, getattr(tallies, name), BLANK_COUNT)
        values[name] = _described(cells + _TIMES, counts, name, "1", voice)
    for name, key in HOURS.items():
        hours = _on_grid(grid, getattr(tallies, key), np.nan)
        values[f"{name}_hours"] = _described(cells + _TIMES, hours, f"{name}_hours", "h", voice)
    kept = _on_grid(grid, tallies.kept.astype(np.int64), BLANK_COUNT)
    values["averaged_in"] = _described((*cells, "year"), kept, "averaged_in", "1", voice)
    for name, found, unit in (
        ("dew_nights_percent", tallies.dew_night_percent(), "percent"),
        ("median_dew_hours", tallies.median_dew_h, "h"),
        ("four_in_five_dew_hours", tallies.four_in_five_dew_h, "h"),
    ):
        values[name] = _described(cells, _on_grid(grid, found, np.nan), name, unit, voice)
    return xarray.Dataset(values, _axes(grid, cells), _said(grid, voice))


def _described(
    dims: tuple[str, ...], values: np.ndarray, name: str, unit: str, voice: Voice
) -> Variable:
    """A variable with its unit and its name in words."""
    return dims, values, {"units": unit, "long_name": voice.say(f"grid_file_{name}")}


def _on_grid(grid: GridSeasons, values: np.ndarray, blank: float) -> np.ndarray:
    """Values of the cells at their places, (cells along each dimension, ...)."""
    whole = np.full((grid.size, *values.shape[1:]), blank, dtype=values.dtype)
    whole[grid.cells] = values
    return whole.reshape(*(grid.shape or (1,)), *values.shape[1:])


def _axes(grid: GridSeasons, cells: tuple[str, ...]) -> dict[str, Variable]:
    """Places of the cells, years and months."""
    axes: dict[str, Variable] = {
        name: (
            cells,
            _on_grid(grid, getattr(grid.tallies, name), np.nan),
            {"standard_name": name, "units": unit},
        )
        for name, unit in _DEGREES.items()
    }
    times = {"year": grid.years, "month": grid.months}
    return axes | {name: ((name,), np.array(found), {}) for name, found in times.items()}


def _said(grid: GridSeasons, voice: Voice) -> dict[str, str]:
    """What a reader must know of the file, as its attributes."""
    title = grid_title(grid, voice)
    invented = [voice.say("seasons_invented")] if grid.file.invented else []
    unknown = [] if grid.rain_known else [voice.say("seasons_rain_unknown")]
    counted = [*unknown, *cell_sentences(grid, voice), grid_counting(grid, voice)]
    return {
        "Conventions": "CF-1.11",
        "title": " ".join([*invented, title]),
        "source": f"hayweather {__version__}, {grid.choice.file.name}",
        "comment": "\n".join([*counted, *grid_rests_on(grid, voice)]),
        "cautions": "\n".join(safety_texts(voice)),
    }
