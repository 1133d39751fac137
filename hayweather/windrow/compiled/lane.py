"""One lane of a tile: its weather, its water, its ties, read from the work array."""

from __future__ import annotations

from typing import Any

from hayweather.weather.record import Floats
from hayweather.windrow.compiled import rows as at
from hayweather.windrow.compiled.rows import WIDTH
from hayweather.windrow.compiled.shared import (
    Air,
    Ties,
    air_density,
    inlined,
    latent_heat,
    record,
    saturation_vapor_pressure,
    sky_longwave,
    vapor_coefficient,
)
from hayweather.windrow.exchange import MOISTURE_FLOOR_DB

Windrow = record(
    "Windrow",
    "night_cap air_resistance_s air_resistance_max_s_m emissivity sky_view albedo "
    "conduction_w_m2_k",
    __name__,
    "The numbers that the balance of the skin reads.",
)


@inlined
def _between(work: Floats, lane: int, number: int, part: float) -> float:
    """An instant within the hour, by its number among the weather's rows."""
    begin = work[at.BEGIN + number * WIDTH + lane]
    return begin + (work[at.END + number * WIDTH + lane] - begin) * part


@inlined
def air_at(work: Floats, lane: int, part: float) -> Any:
    """The weather in the middle of a step."""
    temperature = _between(work, lane, 0, part)
    vapor = saturation_vapor_pressure(_between(work, lane, 1, part))
    pressure = _between(work, lane, 3, part)
    return Air(
        temperature,
        vapor,
        _between(work, lane, 2, part),
        pressure,
        sky_longwave(temperature, vapor, _between(work, lane, 4, part)),
        work[at.SHORTWAVE + lane] * work[at.SHAPE + lane],
        work[at.RAIN + lane],
        vapor_coefficient(temperature, pressure),
        air_density(temperature, pressure),
        latent_heat(temperature),
    )


@inlined
def windrow_at(work: Floats, lane: int) -> Any:
    """The numbers that the balance of the skin reads."""
    return Windrow(
        work[at.NIGHT_CAP + lane],
        work[at.AIR_RESISTANCE + lane],
        work[at.AIR_RESISTANCE_MOST + lane],
        work[at.EMISSIVITY + lane],
        work[at.SKY_VIEW + lane],
        work[at.ALBEDO + lane],
        work[at.CONDUCTION + lane],
    )


@inlined
def layer_mass(work: Floats, lane: int, layer: int) -> float:
    """Dry matter of a layer [kg/m2]."""
    leaf = at.MASS + 2 * layer * WIDTH + lane
    return work[leaf] + work[leaf + WIDTH]


@inlined
def hay_water(work: Floats, lane: int) -> float:
    """Water in leaf and stem of all layers [kg/m2]."""
    first, mass = at.MOISTURE + lane, at.MASS + lane
    return (
        work[first] * work[mass]
        + work[first + WIDTH] * work[mass + WIDTH]
        + work[first + 2 * WIDTH] * work[mass + 2 * WIDTH]
        + work[first + 3 * WIDTH] * work[mass + 3 * WIDTH]
        + work[first + 4 * WIDTH] * work[mass + 4 * WIDTH]
        + work[first + 5 * WIDTH] * work[mass + 5 * WIDTH]
    )


@inlined
def free_water(work: Floats, lane: int) -> float:
    """Free water of all layers [kg/m2]."""
    first = at.FILM + lane
    return work[first] + work[first + WIDTH] + work[first + 2 * WIDTH]


@inlined
def ties_at(work: Floats, lane: int) -> Any:
    """The ties of the layers as they stand in the work array."""
    inside, limit = work[at.OVER_WATER + WIDTH + lane], work[at.CEILING + WIDTH + lane]
    return Ties(
        work[at.TIE_AIR + lane],
        work[at.TIE_LAYER + lane],
        work[at.TIE_GROUND + lane],
        work[at.AIR_KPA + lane],
        work[at.GROUND_KPA + lane],
        (work[at.OVER_WATER + lane], inside, inside),
        (work[at.CEILING + lane], limit, limit),
    )


@inlined
def uptake_at(work: Floats, place: int, humidity: float) -> float:
    """Vapor that one leaf or stem takes up at a humidity [kg/m2/s]."""
    return work[at.PULL + place] * (humidity - work[at.ACTIVITY + place])


@inlined
def below_floor(work: Floats, place: int, uptake: float, seconds: float) -> bool:
    """True where a leaf or stem would dry below its floor."""
    spare = (MOISTURE_FLOOR_DB - work[at.MOISTURE + place]) * work[at.MASS + place]
    return (uptake < 0.0) & (uptake * seconds < spare)


@inlined
def against_branch(work: Floats, place: int, humidity: float) -> bool:
    """True where the branch chosen does not fit the humidity that came out."""
    dries, takes_up = humidity < work[at.ACTIVITY + place], work[at.TAKES_UP + place] > 0.0
    return (work[at.PULL + place] > 0.0) & (dries == takes_up)
