"""The steps of an hour for a tile of lanes, in one work array.

A tile is `width_of` lanes that go through the steps together. Its numbers stand in
one flat array: each quantity of a layer has `layers * wide` places, each of a
lane `wide`. One array with rows at fixed places lets the compiler see that rows
never overlap, and do several lanes at once; so the inner loop always runs over
the lanes. The formulas are those of `hayweather.windrow.column`; only how a step
is put together is written a second time, and held to it by tests.
"""

from __future__ import annotations

import math
from types import FunctionType
from typing import Any

import numpy as np

from hayweather.weather.record import Floats
from hayweather.windrow.column import (
    FINER,
    LARGEST_MOVE_K,
    OVER_SATURATION,
    SETTLING_PASSES,
    SORPTION_HEAT_J_KG,
    WATER_HEAT_J_KG_K,
    Column,
    Fluxes,
)
from hayweather.windrow.compiled.shared import Function, formulas
from hayweather.windrow.forcing import WEATHER_AT
from hayweather.windrow.hay import FULL_LEAF_DB, FULL_STEM_DB, MOISTURE_FLOOR_DB
from hayweather.windrow.skin import Air
from hayweather.windrow.sky import STEFAN_BOLTZMANN_W_M2_K4
from hayweather.windrow.trajectory import STATE_NAMES
from hayweather.windrow.vapor import KELVIN, Real


def width_of(single: bool) -> int:
    """Lanes of a tile, 256 bytes of them; measured: narrower ones are not done side by side."""
    return 64 if single else 32


# Quantities of a layer: the state, what the windrow gives, and what a step works out.
STATE_ROWS = 6
LEAF, STEM, FILM, HUMIDITY, WARM, TURNS = range(STATE_ROWS)
LAYER_GIVEN = ("shares", "leaf", "stem", "sun", "sky", "radiating", "per_m", "wind_share")
SHARE, LEAF_MASS, STEM_MASS, SUN, SKY, RADIATING, PER_M, WIND_SHARE = range(
    STATE_ROWS, STATE_ROWS + len(LAYER_GIVEN)
)
(
    WET, GONE, SPENT, STORED, OVER_WATER, LEANS, CEILING, RISES, AT_WET,
    LEAF_PULL, LEAF_REST, STEM_PULL, STEM_REST, HAY, RELEASE,
    HEAT, TIE, LATENT, TO_AIR, VAPOR_AIR, NET, TO_SKY,
    HEAT_OWN, HEAT_GIVEN, VAPOR_OWN, VAPOR_GIVEN,
    CHANGE, VAPOR, P11, P12, P21, P22,
) = range(SHARE + len(LAYER_GIVEN), SHARE + len(LAYER_GIVEN) + 32)  # fmt: skip
LAYER_ROWS = P22 + 1

# Quantities of a lane: the windrow's numbers, the weather of a step, and what is added up.
ORGAN_GIVEN = ("amount", "exponent", "wetting_odds", "full_share", "time_h")
LANE_GIVEN = ("mass", "rayleigh_per_k", *Column._fields[Column._fields.index("sky_view") :])
AMOUNT, EXPONENT, ODDS, FULL, TIME = range(0, 2 * len(ORGAN_GIVEN), 2)  # leaf, then stem
(
    MASS, RAYLEIGH, SKY_VIEW, ALBEDO, EMISSIVITY, RESISTANCE, NIGHT_CAP, RESISTANCE_MOST,
    WIND_FLOOR, STILL, FREE, SIDES, SOIL_CONTACT, GROUND_RESISTANCE, GROUND_HUMIDITY,
    HEAT_CAPACITY, LEAF_SOAK, STEM_SOAK, DRIP,
) = range(2 * len(ORGAN_GIVEN), 2 * len(ORGAN_GIVEN) + len(LANE_GIVEN))  # fmt: skip
LANE_PARAMETERS = DRIP + 1
(
    AIR_C, AIR_KPA, WIND, LONGWAVE, SUNSHINE, RAIN, SOIL_C,
    DENSITY, AIR_HEAT, LATENT_HEAT, RADIATES, SOIL_KPA,
) = range(LANE_PARAMETERS, LANE_PARAMETERS + len(Air._fields))  # fmt: skip
(
    BEFORE, CAUGHT, RUNOFF, GROUND, GROUND_KPA, ASKS, SHORT, CROSSED, IN, FALLS, MEAN, COLDEST,
) = range(SOIL_KPA + 1, SOIL_KPA + 13)  # fmt: skip
# Both ends of the hour, its means, the share of the sun in a step, and what is shown of a state.
ENDS = ("temperature_c", "dew_point_c", "wind_2m_m_s", "pressure_kpa", "cloud", "soil_c")
AT_START, AT_END = COLDEST + 1, COLDEST + 1 + len(ENDS)
(HOURS_SUN, SUN_SHAPE, FAR) = range(AT_END + len(ENDS), AT_END + len(ENDS) + 3)
SHOWN = FAR + 1  # as the first of `STATE_NAMES`; the skin's humidity stands in the sums
SHOWN_ROWS = len(STATE_NAMES) - 1
SUMS = SHOWN + SHOWN_ROWS  # as `Fluxes`: six amounts, then the skin's humidity and both errors
SUM_ROWS = len(Fluxes._fields)
LANE_ROWS = SUMS + SUM_ROWS


def steps_of(layers: int, fingerprint: str, single: bool) -> Function:
    """The steps of an hour, not yet compiled, for a column of so many layers.

    ``follow(state, given, lanes, ends, means, shapes, places, under, states, inside,
    fluxes, hour, chosen, spins, first, past)`` carries the lanes ``chosen[first:past]`` of
    `state` (STATE_ROWS, layers, lanes) through the steps of an hour, and fills what is
    shown at its quarters, `states` (STATE_NAMES, rows, lanes) and, in the last of these
    rows, `inside` (4, kept rows, layers, lanes), and what moved, `fluxes` (FLUX_NAMES,
    hours, lanes). The weather is that of `ends` (2, ENDS, hours, lanes),
    `means` (sun and rain, hours, lanes) and the sun's `shapes` (steps, any), each lane
    at one of its `places`; `under` is how much of each layer lies at the bottom, `spins`
    how far free convection comes in a step and in a part of one that is cut.

    Parameters
    ----------
    layers
        Of the column.
    fingerprint
        Of the sources. What is kept on disk is found again by what the function
        closes over, so that a changed formula is never served by an old build.
    single
        The steps in single precision.
    """
    wide = width_of(single)
    size = layers * wide
    base = LAYER_ROWS * size
    made = formulas(single)
    real = made.real
    inlined, whole, of = made.inlined, made.whole, made.of
    minimum, maximum, where = made.minimum, made.maximum, made.where
    saturation_vapor_pressure, slope_of = of["saturation_vapor_pressure"], of["slope_of"]
    exchange, rain_caught = of["exchange"], of["rain_caught"]
    drawn_in, dripping = of["drawn_in"], of["dripping"]
    air_resistance, nusselt = of["air_resistance"], of["nusselt"]
    sky_longwave, what_follows = of["sky_longwave"], of["what_follows"]
    rows_of, eliminate, ice_limits = of["rows_of"], of["eliminate"], of["ice_limits"]

    @inlined
    def organ(w: Floats, i: int, at: int, which: int, seconds: float) -> None:
        """Exchange of leaf (0) or stem (1) of a layer."""
        r, lane = i * wide + at, base + at + which * wide
        most = FULL_LEAF_DB if which == 0 else FULL_STEM_DB
        pull, rest = exchange(
            w[(LEAF + which) * size + r], w[HUMIDITY * size + r], w[WARM * size + r],
            w[lane + AMOUNT * wide], w[lane + EXPONENT * wide], w[lane + ODDS * wide],
            w[lane + FULL * wide], most, seconds / 3600.0 / w[lane + TIME * wide],
        )  # fmt: skip
        conductance = pull * w[(LEAF_MASS + which) * size + r] / seconds
        w[(LEAF_PULL + 2 * which) * size + r] = conductance
        w[(LEAF_REST + 2 * which) * size + r] = rest

    @inlined
    def hay_of(w: Floats, i: int, at: int, seconds: float) -> None:
        """Saturation in a layer, and its hay."""
        r = i * wide + at
        warm = w[WARM * size + r]
        over = saturation_vapor_pressure(warm)
        slope = slope_of(warm, over)
        w[OVER_WATER * size + r], w[CEILING * size + r] = over, over
        w[RISES * size + r], w[AT_WET * size + r] = slope, 1.0
        w[LEANS * size + r] = w[HUMIDITY * size + r] * slope / over
        organ(w, i, at, 0, seconds)
        organ(w, i, at, 1, seconds)
        leaf, stem = w[LEAF_PULL * size + r], w[STEM_PULL * size + r]
        w[HAY * size + r] = leaf + stem
        w[RELEASE * size + r] = leaf * w[LEAF_REST * size + r] + stem * w[STEM_REST * size + r]

    @inlined
    def ice_of(w: Floats, i: int, at: int) -> None:
        """Saturation in a layer that freezes."""
        r = i * wide + at
        ceiling, rises, at_wet = ice_limits(
            w[WARM * size + r], w[OVER_WATER * size + r], w[RISES * size + r]
        )
        w[CEILING * size + r], w[RISES * size + r] = ceiling, rises
        w[AT_WET * size + r] = at_wet

    @inlined
    def tie(w: Floats, i: int, at: int, spin: float) -> None:
        """What ties a layer to the next below, to air and to sky."""
        r, lane = i * wide + at, base + at
        free = w[FREE * wide + lane]
        asked = 0.0
        if i < layers - 1:
            asked = nusselt(
                w[RAYLEIGH * wide + lane] * (w[CHANGE * size + r] - w[COLDEST * wide + lane]),
                free,
            )
        turns = w[TURNS * size + r]
        turns += spin * (asked - turns)
        w[TURNS * size + r] = turns
        wind = maximum(w[WIND * wide + lane], w[WIND_FLOOR * wide + lane])
        mixing = w[STILL * wide + lane] * w[PER_M * size + r]
        mixing *= 1.0 + w[WIND_SHARE * size + r] * wind + turns
        vapor_tie = w[DENSITY * wide + lane] * mixing
        heat_tie = w[AIR_HEAT * wide + lane] * mixing + (
            w[EMISSIVITY * wide + lane] * w[RADIATES * wide + lane] * w[RADIATING * size + r]
        )
        mass = w[LEAF_MASS * size + r] + w[STEM_MASS * size + r]
        opens = w[SIDES * wide + lane] * wind / 1.5 * (mass / w[MASS * wide + lane])
        if i == 0:
            opens += 1.0 / air_resistance(
                w[AIR_C * wide + lane], w[WIND * wide + lane], w[WARM * size + r],
                w[RESISTANCE * wide + lane], w[NIGHT_CAP * wide + lane],
                w[RESISTANCE_MOST * wide + lane], w[WIND_FLOOR * wide + lane],
            )  # fmt: skip
        warm = w[WARM * size + r]
        kelvin = warm + KELVIN
        seen = w[EMISSIVITY * wide + lane] * w[SKY_VIEW * wide + lane] * w[SKY * size + r]
        emission = STEFAN_BOLTZMANN_W_M2_K4 * (kelvin * kelvin) * (kelvin * kelvin)
        to_sky = 4.0 * seen * emission / kelvin
        net = seen * (w[LONGWAVE * wide + lane] - emission)
        net += (1.0 - w[ALBEDO * wide + lane]) * w[SUNSHINE * wide + lane] * w[SUN * size + r]
        to_air = w[AIR_HEAT * wide + lane] * opens
        vapor_air = w[DENSITY * wide + lane] * opens
        w[HEAT * size + r], w[TIE * size + r] = heat_tie, vapor_tie
        w[LATENT * size + r] = w[LATENT_HEAT * wide + lane] * vapor_tie
        w[TO_AIR * size + r], w[VAPOR_AIR * size + r] = to_air, vapor_air
        w[NET * size + r], w[TO_SKY * size + r] = net, to_sky
        w[HEAT_OWN * size + r] = w[STORED * size + r] + to_air + to_sky + heat_tie
        w[HEAT_GIVEN * size + r] = net + to_air * (w[AIR_C * wide + lane] - warm)
        w[VAPOR_OWN * size + r] = vapor_air + vapor_tie
        w[VAPOR_GIVEN * size + r] = vapor_air * w[AIR_KPA * wide + lane]

    @inlined
    def join(w: Floats, i: int, at: int) -> None:
        """A layer joined to the one above it."""
        r = i * wide + at
        u = r - wide
        heat = w[HEAT * size + u]
        drop = heat * (w[WARM * size + r] - w[WARM * size + u])
        w[HEAT_OWN * size + r] += heat
        w[HEAT_GIVEN * size + u] += drop
        w[HEAT_GIVEN * size + r] -= drop
        w[VAPOR_OWN * size + r] += w[TIE * size + u]

    @inlined
    def on_soil(w: Floats, at: int) -> None:
        """The last layer joined to the soil."""
        r, lane = (layers - 1) * wide + at, base + at
        ground = w[DENSITY * wide + lane] / w[GROUND_RESISTANCE * wide + lane]
        humid, most = w[GROUND_HUMIDITY * wide + lane], w[SOIL_KPA * wide + lane]
        kpa = minimum(where(humid != humid, w[AIR_KPA * wide + lane], humid * most), most)
        contact = w[SOIL_CONTACT * wide + lane]
        w[GROUND * wide + lane], w[GROUND_KPA * wide + lane] = ground, kpa
        w[VAPOR_OWN * size + r] += ground
        w[VAPOR_GIVEN * size + r] += ground * kpa
        w[HEAT_OWN * size + r] += contact
        w[HEAT_GIVEN * size + r] += contact * (w[SOIL_C * wide + lane] - w[WARM * size + r])

    @inlined
    def down(w: Floats, i: int, at: int) -> None:
        """A layer as lines in the one below, the layers above folded in."""
        r, lane = i * wide + at, base + at
        a11, a12, a21, a22, r1, r2 = rows_of(
            w[WET * size + r], w[HEAT_OWN * size + r], w[HEAT_GIVEN * size + r],
            w[VAPOR_OWN * size + r], w[VAPOR_GIVEN * size + r], w[HAY * size + r],
            w[RELEASE * size + r], w[OVER_WATER * size + r], w[LEANS * size + r],
            w[CEILING * size + r], w[RISES * size + r], w[AT_WET * size + r],
            w[LATENT_HEAT * wide + lane], w[SPENT * size + r],
        )  # fmt: skip
        dry = 1.0 - w[WET * size + r]
        if i > 0:
            u = r - wide
            heat, latent, up = w[HEAT * size + u], w[LATENT * size + u], w[TIE * size + u] * dry
            a11 -= heat * w[P11 * size + u] + latent * w[P21 * size + u]
            a12 -= heat * w[P12 * size + u] + latent * w[P22 * size + u]
            a21 -= up * w[P21 * size + u]
            a22 -= up * w[P22 * size + u]
            r1 += heat * w[CHANGE * size + u] + latent * w[VAPOR * size + u]
            r2 += up * w[VAPOR * size + u]
        change, vapor = eliminate(a11, a12, a21, a22, r1, r2)
        p11, p21 = eliminate(a11, a12, a21, a22, w[HEAT * size + r], 0.0)
        over = w[TIE * size + r] * dry
        p12, p22 = eliminate(a11, a12, a21, a22, w[LATENT * size + r], over)
        w[CHANGE * size + r], w[VAPOR * size + r] = change, vapor
        w[P11 * size + r], w[P12 * size + r] = p11, p12
        w[P21 * size + r], w[P22 * size + r] = p21, p22

    @inlined
    def up_again(w: Floats, i: int, at: int) -> None:
        """A layer's values from those of the one below."""
        r = i * wide + at
        b = r + wide
        change, vapor = w[CHANGE * size + b], w[VAPOR * size + b]
        w[CHANGE * size + r] += w[P11 * size + r] * change + w[P12 * size + r] * vapor
        w[VAPOR * size + r] += w[P21 * size + r] * change + w[P22 * size + r] * vapor

    @inlined
    def humid_at(w: Floats, r: int) -> float:
        """Humidity of a layer's air as the hay feels it."""
        dry = (
            w[VAPOR * size + r] / w[OVER_WATER * size + r]
            - w[LEANS * size + r] * w[CHANGE * size + r]
        )
        return where(w[WET * size + r] > 0, w[AT_WET * size + r], dry)

    @inlined
    def gained_at(w: Floats, i: int, r: int) -> float:
        """Vapor reaching a layer less what its hay takes up [kg/m2/s]."""
        found = w[VAPOR_GIVEN * size + r] - w[VAPOR_OWN * size + r] * w[VAPOR * size + r]
        if i < layers - 1:
            found += w[TIE * size + r] * w[VAPOR * size + r + wide]
        if i > 0:
            found += w[TIE * size + r - wide] * w[VAPOR * size + r - wide]
        return found - w[HAY * size + r] * humid_at(w, r) + w[RELEASE * size + r]

    @inlined
    def film_moves(w: Floats, i: int, at: int, seconds: float) -> tuple[bool, bool]:
        """Whether a film begins in a layer, and whether one is overdrawn."""
        r = i * wide + at
        ceiling = (
            w[CEILING * size + r] + w[RISES * size + r] * w[CHANGE * size + r]
        ) * OVER_SATURATION
        wet = w[WET * size + r] > 0
        over = (not wet) & (w[GONE * size + r] == 0.0) & (w[VAPOR * size + r] > ceiling)
        overdrawn = wet & (w[FILM * size + r] + gained_at(w, i, r) * seconds < 0)
        return over, overdrawn

    @inlined
    def asks(w: Floats, i: int, at: int, seconds: float) -> None:
        """Mark a lane one of whose films begins or is overdrawn."""
        over, overdrawn = film_moves(w, i, at, seconds)
        w[base + ASKS * wide + at] += where(over | overdrawn, 1.0, 0.0)

    @whole
    def settle(w: Floats, at: int, seconds: float) -> None:
        """Find which films of a lane hold, begin, or are spent within the step."""
        over = np.zeros(layers, dtype=np.bool_)
        overdrawn = np.zeros(layers, dtype=np.bool_)
        for _ in range(SETTLING_PASSES):
            moves = False
            for i in range(layers):
                over[i], overdrawn[i] = film_moves(w, i, at, seconds)
                moves |= over[i] | overdrawn[i]
            if not moves:
                return
            for i in range(layers):
                r = i * wide + at
                if over[i]:
                    w[WET * size + r] = 1.0
                elif overdrawn[i]:
                    w[WET * size + r], w[GONE * size + r] = 0.0, 1.0
                    w[SPENT * size + r] = w[FILM * size + r] / seconds
            for i in range(layers):
                down(w, i, at)
            for i in range(layers - 2, -1, -1):
                up_again(w, i, at)

    @inlined
    def take(w: Floats, i: int, at: int, seconds: float) -> None:
        """Vapor into leaf, stem and film of a layer; what crossed the windrow's edges."""
        r, lane = i * wide + at, base + at
        humid, change = humid_at(w, r), w[CHANGE * size + r]
        film = w[WET * size + r] * (w[FILM * size + r] + gained_at(w, i, r) * seconds)
        short = minimum(film, 0.0)
        bound, outside_hay = 0.0, 0.0
        for which in range(2):
            moisture, mass = w[(LEAF + which) * size + r], w[(LEAF_MASS + which) * size + r]
            uptake = w[(LEAF_PULL + 2 * which) * size + r]
            uptake *= humid - w[(LEAF_REST + 2 * which) * size + r]
            dried = moisture + uptake * seconds / mass
            lack = maximum(minimum(moisture, MOISTURE_FLOOR_DB / 2.0) - dried, 0.0)
            most = FULL_LEAF_DB if which == 0 else FULL_STEM_DB
            beyond = maximum(dried - maximum(moisture, most), 0.0)
            w[(LEAF + which) * size + r] = dried + lack - beyond
            short -= lack * mass
            outside_hay += beyond * mass
            bound += uptake
        vapor_in = w[VAPOR_AIR * size + r] * (w[AIR_KPA * wide + lane] - w[VAPOR * size + r])
        w[WARM * size + r] += change
        outside = w[NET * size + r] - w[TO_SKY * size + r] * change
        outside += w[TO_AIR * size + r] * (w[AIR_C * wide + lane] - w[WARM * size + r])
        outside += w[LATENT_HEAT * wide + lane] * vapor_in + SORPTION_HEAT_J_KG * bound
        w[FILM * size + r] = maximum(film, 0.0) + outside_hay
        w[HUMIDITY * size + r] = minimum(maximum(humid, 0.0), 1.0)
        w[IN * wide + lane] += vapor_in
        w[SHORT * wide + lane] += short
        w[CROSSED * wide + lane] += outside - w[STORED * size + r] * change

    @inlined
    def sink(w: Floats, i: int, at: int, seconds: float) -> None:
        """Free water of a layer sinking to the next, and drawn in."""
        r, lane = i * wide + at, base + at
        frozen = w[WARM * size + r] < 0
        thawed = where(frozen, 0.0, 1.0)
        mass = w[LEAF_MASS * size + r] + w[STEM_MASS * size + r]
        film = w[FILM * size + r] + w[FALLS * wide + lane]
        through = seconds / (seconds + 3600.0 * w[DRIP * wide + lane] * w[SHARE * size + r])
        falls = dripping(film, mass, frozen, through)
        film -= falls
        w[FALLS * wide + lane] = falls
        share = thawed * (seconds / (seconds + 3600.0 * w[LEAF_SOAK * wide + lane]))
        taken = drawn_in(film, share, w[LEAF * size + r], FULL_LEAF_DB, w[LEAF_MASS * size + r])
        w[LEAF * size + r] += taken / w[LEAF_MASS * size + r]
        film -= taken
        share = thawed * (seconds / (seconds + 3600.0 * w[STEM_SOAK * wide + lane]))
        taken = drawn_in(film, share, w[STEM * size + r], FULL_STEM_DB, w[STEM_MASS * size + r])
        w[STEM * size + r] += taken / w[STEM_MASS * size + r]
        w[FILM * size + r] = film - taken

    @inlined
    def water(w: Floats, at: int) -> float:
        """All water of a lane [kg/m2]."""
        found = 0.0
        for i in range(layers):
            r = i * wide + at
            found += w[LEAF * size + r] * w[LEAF_MASS * size + r]
            found += w[STEM * size + r] * w[STEM_MASS * size + r] + w[FILM * size + r]
        return found

    @whole
    def begin(w: Floats, width: int, seconds: float) -> None:
        """Rain, heat capacity, and the first half of the free water's way."""
        for at in range(width):
            lane = base + at
            w[BEFORE * wide + lane] = water(w, at)
            rain = w[RAIN * wide + lane] * (seconds / 3600.0)
            caught = where(
                rain > 0, rain_caught(rain, w[BEFORE * wide + lane], w[MASS * wide + lane]), 0.0
            )
            w[CAUGHT * wide + lane] = caught
            w[FILM * size + at] += caught
            w[RUNOFF * wide + lane] = w[FALLS * wide + lane] = 0.0
        for i in range(layers):
            for at in range(width):
                r = i * wide + at
                leaf, stem = w[LEAF_MASS * size + r], w[STEM_MASS * size + r]
                held = w[LEAF * size + r] * leaf + w[STEM * size + r] * stem + w[FILM * size + r]
                dry = w[HEAT_CAPACITY * wide + base + at] * (leaf + stem)
                w[STORED * size + r] = (dry + WATER_HEAT_J_KG_K * held) / seconds
            for at in range(width):
                sink(w, i, at, seconds / 2.0)
        for at in range(width):
            w[RUNOFF * wide + base + at] = w[FALLS * wide + base + at]

    @whole
    def assemble(w: Floats, width: int, seconds: float, spin: float) -> None:
        """The system of the step."""
        for i in range(layers):
            for at in range(width):
                hay_of(w, i, at, seconds)
            frozen = 0.0
            for at in range(width):
                frozen += where(w[WARM * size + i * wide + at] < 0, 1.0, 0.0)
            if frozen > 0.0:
                for at in range(width):
                    ice_of(w, i, at)
        for at in range(width):
            w[MEAN * wide + base + at] = w[FALLS * wide + base + at] = 0.0
            w[COLDEST * wide + base + at] = w[WARM * size + at]
        for i in range(layers - 1, 0, -1):
            for at in range(width):
                r, lane = i * wide + at, base + at
                mass = w[LEAF_MASS * size + r] + w[STEM_MASS * size + r]
                w[MEAN * wide + lane] += mass * w[WARM * size + r]
                w[FALLS * wide + lane] += mass
                w[CHANGE * size + r - wide] = w[MEAN * wide + lane] / w[FALLS * wide + lane]
        for i in range(layers):
            for at in range(width):
                lane = base + at
                w[COLDEST * wide + lane] = minimum(
                    w[COLDEST * wide + lane], w[WARM * size + i * wide + at]
                )
            for at in range(width):
                tie(w, i, at, spin)
        for i in range(1, layers):
            for at in range(width):
                join(w, i, at)
        for at in range(width):
            on_soil(w, at)

    @whole
    def solve(w: Floats, width: int, seconds: float) -> None:
        """Heat and vapor of the step, with the films that hold."""
        for i in range(layers):
            for at in range(width):
                r = i * wide + at
                w[WET * size + r] = where(w[FILM * size + r] > 0, 1.0, 0.0)
                w[GONE * size + r] = w[SPENT * size + r] = 0.0
        for i in range(layers):
            for at in range(width):
                down(w, i, at)
        for i in range(layers - 2, -1, -1):
            for at in range(width):
                up_again(w, i, at)
        for at in range(width):
            w[base + ASKS * wide + at] = 0.0
        for i in range(layers):
            for at in range(width):
                asks(w, i, at, seconds)
        for at in range(width):
            if w[base + ASKS * wide + at] > 0.0:
                settle(w, at, seconds)

    @whole
    def finish(w: Floats, width: int, seconds: float) -> None:
        """Vapor and free water moved, ledgers, and sums."""
        bottom = (layers - 1) * wide
        for at in range(width):
            lane = base + at
            limit = w[CEILING * size + at] + w[RISES * size + at] * w[CHANGE * size + at]
            upward = w[TIE * size + at] * maximum(
                w[VAPOR * size + wide + at] - w[VAPOR * size + at], 0.0
            )
            w[MEAN * wide + lane] = limit
            w[SUMS * wide + wide + lane] += w[WET * size + at] * upward * seconds
            w[IN * wide + lane] = w[SHORT * wide + lane] = w[CROSSED * wide + lane] = 0.0
            w[FALLS * wide + lane] = 0.0
            kpa = w[GROUND_KPA * wide + lane] - w[VAPOR * size + bottom + at]
            w[COLDEST * wide + lane] = w[GROUND * wide + lane] * kpa
        for i in range(layers):
            for at in range(width):
                take(w, i, at, seconds)
        for i in range(layers):
            for at in range(width):
                sink(w, i, at, seconds / 2.0)
        for at in range(width):
            lane = base + at
            rate = w[COLDEST * wide + lane]
            air = w[IN * wide + lane] * seconds - w[SHORT * wide + lane]
            limit, kpa = w[MEAN * wide + lane], w[AIR_KPA * wide + lane]
            condenses = (w[WET * size + at] > 0) & (kpa > limit)
            runoff = w[RUNOFF * wide + lane] + w[FALLS * wide + lane]
            net = air + rate * seconds + w[CAUGHT * wide + lane] - runoff
            wrong = abs(water(w, at) - w[BEFORE * wide + lane] - net)
            soil = w[SOIL_C * wide + lane] - w[WARM * size + bottom + at]
            heat = w[CROSSED * wide + lane] + w[LATENT_HEAT * wide + lane] * rate
            heat += w[SOIL_CONTACT * wide + lane] * soil
            total = SUMS * wide + lane
            w[total] += where(condenses, maximum(air, 0.0), 0.0)
            w[total + 2 * wide] += air
            w[total + 3 * wide] += rate * seconds
            w[total + 4 * wide] += w[CAUGHT * wide + lane]
            w[total + 5 * wide] += runoff
            w[total + 6 * wide] = kpa / limit
            w[total + 7 * wide] = maximum(wrong, w[total + 7 * wide])
            w[total + 8 * wide] = maximum(abs(heat), w[total + 8 * wide])

    @whole
    def one(w: Floats, seconds: float, spin: float) -> None:
        """One linear step."""
        begin(w, wide, seconds)
        assemble(w, wide, seconds, spin)
        solve(w, wide, seconds)
        finish(w, wide, seconds)

    @whole
    def keep(w: Floats, saved: Floats, count: int) -> None:
        """Keep the state and the sums."""
        for number in range(count):
            saved[number] = w[number]
        for number in range(SUM_ROWS * wide):
            saved[count + number] = w[base + SUMS * wide + number]

    @whole
    def too_far(w: Floats, width: int) -> bool:
        """Mark lanes that a step moved too far; True if there are any."""
        some = False
        for at in range(width):
            most = 0.0
            for i in range(layers):
                most = maximum(abs(w[CHANGE * size + i * wide + at]), most)
            w[base + ASKS * wide + at] = where(most > LARGEST_MOVE_K, 1.0, 0.0)
            some |= most > LARGEST_MOVE_K
        return some

    @whole
    def finer(w: Floats, saved: Floats, seconds: float, spin: float) -> None:
        """The step again in parts, for the lanes that are marked."""
        count = STATE_ROWS * size
        done, marks = np.empty_like(saved), np.empty(wide, dtype=real)
        keep(w, done, count)
        for at in range(wide):
            marks[at] = w[base + ASKS * wide + at]
        for number in range(count):
            w[number] = saved[number]
        for number in range(SUM_ROWS * wide):
            w[base + SUMS * wide + number] = saved[count + number]
        for _ in range(FINER):
            one(w, real(seconds / FINER), spin)
        for number in range(count):
            if marks[number % wide] == 0.0:
                w[number] = done[number]
        for number in range(SUM_ROWS * wide):
            if marks[number % wide] == 0.0:
                w[base + SUMS * wide + number] = done[count + number]

    @inlined
    def load(w: Floats, row: int, values: Floats, places: Any, straight: bool) -> None:
        """A row of the tile; lanes that stand side by side are copied in one go."""
        if straight:
            begin = np.int64(places[0])
            side = values[begin : begin + wide]
            for at in range(wide):
                w[row + at] = side[at]
        else:
            for at in range(wide):
                w[row + at] = values[places[at]]

    @inlined
    def store(values: Any, w: Floats, row: int, places: Any, straight: bool, count: int) -> None:
        """A row of the tile put back, the first `count` lanes of it."""
        if straight:
            begin = np.int64(places[0])
            side = values[begin : begin + wide]
            for at in range(wide):
                side[at] = w[row + at]
        else:
            for at in range(count):
                values[places[at]] = w[row + at]

    @inlined
    def between(w: Floats, lane: int, which: int, part: float) -> float:
        """An instant within the hour."""
        start = w[(AT_START + which) * wide + lane]
        return start + (w[(AT_END + which) * wide + lane] - start) * part

    @whole
    def weather_of(w: Floats, part: float) -> None:
        """The weather of a step, as `Forcing.steps` has it."""
        for at in range(wide):
            lane = base + at
            air, soil = between(w, lane, 0, part), between(w, lane, 5, part)
            kpa = saturation_vapor_pressure(between(w, lane, 1, part))
            density, heat, latent, radiates, soil_kpa = what_follows(
                air, between(w, lane, 3, part), soil
            )
            w[AIR_C * wide + lane], w[AIR_KPA * wide + lane] = air, kpa
            w[WIND * wide + lane] = between(w, lane, 2, part)
            w[LONGWAVE * wide + lane] = sky_longwave(air, kpa, between(w, lane, 4, part))
            sun = w[HOURS_SUN * wide + lane] * w[SUN_SHAPE * wide + lane]
            w[SUNSHINE * wide + lane], w[SOIL_C * wide + lane] = sun, soil
            w[DENSITY * wide + lane], w[AIR_HEAT * wide + lane] = density, heat
            w[LATENT_HEAT * wide + lane], w[RADIATES * wide + lane] = latent, radiates
            w[SOIL_KPA * wide + lane] = soil_kpa

    @whole
    def shown(w: Floats, under: Floats) -> None:
        """Means over the layers, as `hayweather.windrow.run.summary` has them."""
        for at in range(wide):
            lane = base + at
            leaf = stem = free = bottom = weight = seen = 0.0
            for i in range(layers):
                r = i * wide + at
                kelvin = w[WARM * size + r] + KELVIN
                seen += w[SKY * size + r] * (kelvin * kelvin) * (kelvin * kelvin)
                leaf += w[SHARE * size + r] * w[LEAF * size + r]
                stem += w[SHARE * size + r] * w[STEM * size + r]
                free += w[FILM * size + r]
                held = w[LEAF * size + r] * w[LEAF_MASS * size + r]
                held += w[STEM * size + r] * w[STEM_MASS * size + r]
                part = real(under[i])
                bottom += part * held
                weight += part * (w[LEAF_MASS * size + r] + w[STEM_MASS * size + r])
            w[SHOWN * wide + lane], w[(SHOWN + 1) * wide + lane] = leaf, stem
            w[(SHOWN + 2) * wide + lane] = water(w, at) / w[MASS * wide + lane]
            w[(SHOWN + 3) * wide + lane] = bottom / weight
            w[(SHOWN + 4) * wide + lane] = free
            w[(SHOWN + 5) * wide + lane] = math.sqrt(math.sqrt(seen)) - KELVIN

    @whole
    def write(
        w: Floats, states: Any, inside: Any, row: int, places: Any, straight: bool, count: int
    ) -> None:
        """What is shown of a state, at a quarter."""
        for q in range(SHOWN_ROWS):
            store(states[q, row], w, base + (SHOWN + q) * wide, places, straight, count)
        humid = base + (SUMS + 6) * wide
        store(states[SHOWN_ROWS, row], w, humid, places, straight, count)
        row -= states.shape[1] - inside.shape[1]  # layers may be kept of the last rows alone
        if row < 0:
            return
        for i in range(layers):
            for at in range(wide):
                r = i * wide + at
                mass = w[LEAF_MASS * size + r] + w[STEM_MASS * size + r]
                w[OVER_WATER * size + r] = w[FILM * size + r] / mass  # worked out anew next step
            r = i * wide
            store(inside[0, row, i], w, LEAF * size + r, places, straight, count)
            store(inside[1, row, i], w, STEM * size + r, places, straight, count)
            store(inside[2, row, i], w, OVER_WATER * size + r, places, straight, count)
            store(inside[3, row, i], w, WARM * size + r, places, straight, count)

    @whole
    def follow_tile(
        w: Floats, saved: Floats, state: Any, given: Any, lanes: Any, ends: Any, means: Any,
        shapes: Any, places: Any, under: Any, states: Any, inside: Any, fluxes: Any, hour: int,
        chosen: Any, spins: Any, marks: Any, cut: bool, first: int, past: int,
    ) -> None:  # fmt: skip
        """A tile through all steps of an hour.

        Lanes that a step moves too far are marked and stay where they began; with `cut`
        such a step is cut in parts.
        """
        count, there = shapes.shape[0], past - first
        seconds = real(3600.0 / count)
        spin, finer_spin = real(spins[0]), real(spins[1])
        # Beyond the end the last lane again; a number without a sign is looked up in one go.
        own, straight = np.empty(wide, dtype=np.uint64), there == wide
        for at in range(wide):
            lane = chosen[min(first + at, past - 1)]
            own[at] = np.uint64(lane)
            straight &= lane == chosen[first] + at
        for i in range(layers):
            for q in range(STATE_ROWS):
                load(w, q * size + i * wide, state[q, i], own, straight)
            for q in range(given.shape[0]):
                load(w, (SHARE + q) * size + i * wide, given[q, i], own, straight)
        for q in range(LANE_PARAMETERS):
            load(w, base + q * wide, lanes[q], own, straight)
        for q in range(ends.shape[1]):
            load(w, base + (AT_START + q) * wide, ends[0, q, hour], own, straight)
            load(w, base + (AT_END + q) * wide, ends[1, q, hour], own, straight)
        load(w, base + HOURS_SUN * wide, means[0, hour], own, straight)
        load(w, base + RAIN * wide, means[1, hour], own, straight)
        for q in range(SUM_ROWS):
            for at in range(wide):
                w[base + (SUMS + q) * wide + at] = 0.0
        for at in range(wide):
            w[base + FAR * wide + at] = 0.0
        for index in range(count):
            for at in range(wide):
                w[base + SUN_SHAPE * wide + at] = shapes[index, places[own[at]]]
            weather_of(w, real((index + WEATHER_AT) / count))
            if cut:
                keep(w, saved, STATE_ROWS * size)
            one(w, seconds, spin)
            if too_far(w, wide):
                if cut:
                    finer(w, saved, seconds, finer_spin)
                else:
                    for at in range(wide):
                        w[base + FAR * wide + at] += w[base + ASKS * wide + at]
            if (index + 1) * 4 % count == 0:
                shown(w, under)
                row = 4 * hour + (index + 1) * 4 // count
                write(w, states, inside, row, own, straight, there)
        some = False
        for at in range(there):
            marks[first + at] = w[base + FAR * wide + at] > 0.0
            some |= marks[first + at]
        for q in range(STATE_ROWS):
            for i in range(layers):
                row = q * size + i * wide
                if some:  # they stay where they began
                    for at in range(there):
                        if not marks[first + at]:
                            state[q, i, own[at]] = w[row + at]
                else:
                    store(state[q, i], w, row, own, straight, there)
        for q in range(fluxes.shape[0]):
            row = base + (SUMS + q + (q >= 6)) * wide  # the skin's humidity is no flux
            store(fluxes[q, hour], w, row, own, straight, there)

    loop = _follow_of(base, size, wide, fingerprint, real)
    known = {**loop.__globals__, "follow_tile": follow_tile}
    return FunctionType(loop.__code__, known, "follow", None, loop.__closure__)


def follow_tile(*_: Any) -> None:
    """In the place of the tile of one number of layers, which `steps_of` puts here."""
    raise NotImplementedError


def _follow_of(base: int, size: int, wide: int, fingerprint: str, real: Real) -> Any:
    """The loop over tiles, `follow_tile` still to be put into its globals.

    It closes over numbers, the fingerprint and the precision alone: a compiled function carries a
    new name in every process, and closed over it would never be found on disk.
    """

    def follow(
        state: Any, given: Any, lanes: Any, ends: Any, means: Any, shapes: Any, places: Any,
        under: Any, states: Any, inside: Any, fluxes: Any, hour: int, chosen: Any, spins: Any,
        first: int, past: int,
    ) -> None:  # fmt: skip
        if fingerprint == "":  # pragma: no cover - never so; it is closed over for the build
            return
        w = np.zeros(base + LANE_ROWS * wide, dtype=real)
        saved = np.zeros(STATE_ROWS * size + SUM_ROWS * wide, dtype=real)
        marks, again = np.zeros(past, dtype=np.bool_), np.empty(past - first, dtype=np.int64)
        for start in range(first, past, wide):
            end = min(start + wide, past)
            follow_tile(
                w, saved, state, given, lanes, ends, means, shapes, places, under, states,
                inside, fluxes, hour, chosen, spins, marks, False, start, end,
            )  # fmt: skip
        # A step cut in parts is dear for all lanes of a tile: those that ask share theirs.
        count = 0
        for number in range(first, past):
            if marks[number]:
                again[count] = chosen[number]
                count += 1
        for start in range(0, count, wide):
            end = min(start + wide, count)
            follow_tile(
                w, saved, state, given, lanes, ends, means, shapes, places, under, states,
                inside, fluxes, hour, again, spins, marks, True, start, end,
            )  # fmt: skip

    return follow
