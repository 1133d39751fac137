"""What text, page-free pictures and data of a grid say in words."""

from __future__ import annotations

import numpy as np

from hayweather.farm.bands import limits_remark
from hayweather.farm.records import UnitSystem
from hayweather.seasons.record.grid import GridSeasons
from hayweather.seasons.record.nights import LEFT_OUT_SHARE, RAIN_NIGHT_MM
from hayweather.show.phrases import phrase
from hayweather.show.season_phrases import months_text, years_text
from hayweather.show.voice import Voice, capital


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
    limits = limits_remark(grid.file.baler, grid.file.windrow)
    said = [voice.say("grid_source", file=grid.choice.file.name)]
    said += [capital(phrase(note, voice)) for note in (*grid.notes, limits, *grid.file.notes)]
    if grid.file.rig_is_assumed:
        said.append(voice.say("grid_rig_assumed"))
    return [*said, voice.say("grid_cell_is_no_field"), voice.say("seasons_no_measured_night")]
