"""A grid as JSON (schema ``hayweather/grid/1``) and as CSV, one row a cell.

Missing numbers are null or blank, never NaN.
"""

from __future__ import annotations

from typing import Any

from hayweather.farm.records import UnitSystem
from hayweather.seasons.record.grid import COUNTS, CellTallies, GridSeasons
from hayweather.show.csv_text import csv_text
from hayweather.show.grid_sentences import (
    cell_sentences,
    grid_counting,
    grid_rests_on,
    grid_title,
    grid_voice,
)
from hayweather.show.json_text import Json, json_text, number
from hayweather.show.safety import safety_texts, short_safety_texts

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
