"""The inside of the windrow: one step of a column of layers, state in, state and fluxes out.

Each layer has its own temperature, leaf and stem moisture, vapor and free water.
Heat and vapor of all layers are found together, implicitly, from one linear
system per lane (two unknowns a layer), so that both ledgers, water and energy,
close whatever the step. What moves them:

- sun and long-wave from the sky are taken up over the hay's own clumped area;
  layers radiate to each other (diffusion limit of the two-stream equations);
- air mixes between layers: still air, wind that dies with depth, and free
  convection (`overturning`), judged for the column: it acts wherever the hay
  below is warmer on average than the coldest layer above, by a Darcy-Rayleigh
  number (Elder 1967, ``Nu = Ra/40``, from memory). By day it stands still;
- the top layer's air is tied to the air at 2 m, the bottom layer to the soil.

Arrays are (layers, lanes), top first; leaf and stem stand before that,
(2, layers, lanes). Functions of single numbers are compiled from here for
the fast loop too (`hayweather.windrow.compiled`).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from hayweather.weather.record import Floats
from hayweather.windrow.hay import (
    FULL_LEAF_DB,
    FULL_ODDS,
    FULL_STEM_DB,
    MOISTURE_FLOOR_DB,
    drawn_in,
    dripping,
    exchange,
    rain_caught,
)
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.skin import GRAVITY_M_S2, Air, air_resistance
from hayweather.windrow.sky import STEFAN_BOLTZMANN_W_M2_K4
from hayweather.windrow.vapor import (
    KELVIN,
    saturation_vapor_pressure,
    saturation_vapor_pressure_ice,
    slope_of,
)

LAYERS = 6  # calls within a quarter hour of twenty; chosen by tests/regression/test_column.py
PARTS = {"top": (0.0, 0.15), "middle": (0.15, 0.5), "bottom": (0.5, 1.0)}  # of the dry matter
SORPTION_HEAT_J_KG = 0.2e6  # on top of the latent heat, near 10 % moisture (assumed)
WATER_HEAT_J_KG_K = 4186.0
WIND_AT_1_M = 0.849  # over that at 2 m, FAO-56 Eq 47
AIR_VISCOSITY_M2_S = 1.5e-5  # at 15 C
RAYLEIGH_ONSET = 40.0  # Elder 1967, from memory: Nu = Ra/40 above it
OVERTURNING_H = 0.25  # time in which free convection sets in and dies (assumed)
SETTLING_PASSES = 6
LARGEST_MOVE_K, FINER = 8.0, 12  # a step that would move a layer further is cut in as many parts
"""With 4 parts more dew would condense at sunset than radiation allows (tests/published)."""
OVER_SATURATION = 1 + 1e-6  # beyond rounding, in single precision too
ICE_A, ICE_B = 21.8745584, 265.5  # of `saturation_vapor_pressure_ice`, for its slope


class Column(NamedTuple):
    """A windrow cut into layers: what stays the same through a run.

    (2, layers, lanes or 1), (layers, lanes or 1) or, where a name stands alone
    in `WindrowParameters`, (lanes or 1,).

    Attributes
    ----------
    shares, organ_mass, layer_mass, mass_below, mass
        Share of each layer in the dry matter [-], (layers,); dry matter of leaf
        and stem, of each layer, of all below each layer, and of all [kg/m2].
    amount, exponent, wetting_odds, full_share, full_db, time_h
        Of leaf and stem, (2, 1, lanes or 1).
    sun, sky
        Share of the sun and of the sky's long-wave that each layer takes up [-].
    radiating
        Exchange between a layer and the next below per black-body emission [-].
    per_m, wind_share, rayleigh_per_k
        One over the distance of two layers' middles [1/m], mean decay of the wind
        there [-], and Rayleigh number per kelvin, (lanes or 1,).
    """

    shares: Floats
    organ_mass: Floats
    layer_mass: Floats
    mass_below: Floats
    mass: Floats
    amount: Floats
    exponent: Floats
    wetting_odds: Floats
    full_share: Floats
    full_db: Floats
    time_h: Floats
    sun: Floats
    sky: Floats
    radiating: Floats
    per_m: Floats
    wind_share: Floats
    rayleigh_per_k: Floats
    sky_view: Floats
    albedo: Floats
    emissivity: Floats
    air_resistance_s: Floats
    night_cap: Floats
    air_resistance_max_s_m: Floats
    wind_floor_m_s: Floats
    still_mixing_m2_s: Floats
    free_mixing: Floats
    side_flow_m_s: Floats
    soil_contact_w_m2_k: Floats
    ground_resistance_s_m: Floats
    ground_humidity: Floats
    heat_capacity_j_kg_k: Floats
    film_leaf_time_h: Floats
    film_stem_time_h: Floats
    drip_time_h: Floats


_PLAIN = Column._fields[Column._fields.index("sky_view") :]  # as in `WindrowParameters`


def layer_shares(count: int = LAYERS) -> Floats:
    """Share of each layer in the dry matter, top first, (count,); none lies in two parts."""
    if count < len(PARTS):
        raise ValueError(f"a column has at least {len(PARTS)} layers, not {count}")
    sizes = ((count + 2) // 3, (count + 1) // 3, count // 3)
    growth = (2.0, 4 / 3, 2 / 3)  # last over first layer of a part: thin at both ends
    cut = []
    for size, grows, (first, past) in zip(sizes, growth, PARTS.values(), strict=True):
        widths = np.linspace(1.0, grows, size)
        cut.append((past - first) * widths / widths.sum())
    return np.concatenate(cut)


def organ_mass(windrow: WindrowParameters, shares: Floats | None = None) -> Floats:
    """Dry matter of leaf and stem of each layer [kg/m2], (2, layers, lanes or 1)."""
    cut = layer_shares() if shares is None else shares
    leaf = np.atleast_1d(np.asarray(windrow.leaf_share, dtype=np.float64))
    mass = np.atleast_1d(np.asarray(windrow.dry_matter_kg_m2, dtype=np.float64))
    return np.stack([leaf * mass, (1 - leaf) * mass])[:, None, :] * cut[None, :, None]


def column_of(windrow: WindrowParameters, layers: int = LAYERS) -> Column:
    """The windrow cut into layers.

    Parameters
    ----------
    windrow
        Its numbers.
    layers
        How many; at least three.
    """
    shares = layer_shares(layers)

    def lane(value: float | Floats) -> Floats:
        return np.atleast_1d(np.asarray(value, dtype=np.float64))

    def both(leaf: float | Floats, stem: float | Floats) -> Floats:
        return np.stack(np.broadcast_arrays(lane(leaf), lane(stem)))[:, None, :]

    organs = organ_mass(windrow, shares)
    layer_mass = organs.sum(axis=0)
    mass = lane(windrow.dry_matter_kg_m2)
    depth = mass / lane(windrow.density_kg_m3)
    edges = np.concatenate([[0.0], np.cumsum(shares)])
    middles = (edges[:-1] + edges[1:]) / 2
    area = mass * lane(windrow.hay_area_m2_kg) * lane(windrow.clumping)
    shade = np.exp(-lane(windrow.sun_extinction) * area * edges[:, None])
    thick = lane(windrow.longwave_extinction) * area
    open_ = np.exp(-thick * edges[:, None])
    open_[-1] = 0.0  # what no layer above takes up, the bottom does
    apart = np.append(np.diff(middles), 1.0)[:, None]
    reach = lane(windrow.wind_reach_m) / depth
    decay = np.exp(-middles[:, None] / reach)
    wind = np.zeros_like(decay)
    wind[:-1] = (decay[:-1] - decay[1:]) * reach / apart[:-1]
    radiating, per_m = 2 / (thick * apart), 1 / (depth * apart)
    for values in (radiating, per_m):
        values[-1] = 0.0  # beneath the last layer is the soil
    leaf, stem = windrow.leaf, windrow.stem
    exponent, wetting = both(leaf.exponent, stem.exponent), both(leaf.wetting, stem.wetting)
    carry = (
        lane(windrow.permeability_m2)
        * depth
        / (AIR_VISCOSITY_M2_S * lane(windrow.still_mixing_m2_s))
    )
    return Column(
        shares=shares,
        organ_mass=organs,
        layer_mass=layer_mass,
        mass_below=np.cumsum(layer_mass[::-1], axis=0)[::-1] - layer_mass,
        mass=mass,
        amount=both(leaf.amount, stem.amount),
        exponent=exponent,
        wetting_odds=wetting ** (-1 / exponent),
        full_share=wetting * FULL_ODDS**exponent,
        full_db=both(FULL_LEAF_DB, FULL_STEM_DB),
        time_h=both(windrow.leaf_time_h, windrow.stem_time_h),
        sun=-np.diff(shade, axis=0),
        sky=-np.diff(open_, axis=0),
        radiating=radiating,
        per_m=per_m,
        wind_share=wind * lane(windrow.wind_mixing) * WIND_AT_1_M,
        rayleigh_per_k=GRAVITY_M_S2 / (15 + KELVIN) * carry,
        **{name: lane(getattr(windrow, name)) for name in _PLAIN},
    )


class State(NamedTuple):
    """The windrow at one moment.

    Attributes
    ----------
    moisture_db
        Leaf and stem of each layer [kg/kg], (2, layers, lanes).
    film_kg_m2
        Free water in each layer [kg/m2], (layers, lanes).
    humidity
        Humidity of each layer's air in the step before [-], (layers, lanes).
    temperature_c
        Of each layer [C], (layers, lanes).
    overturning
        Free convection between each layer and the next below, times still air
        [-], (layers, lanes); 0 in the last.
    """

    moisture_db: Floats
    film_kg_m2: Floats
    humidity: Floats
    temperature_c: Floats
    overturning: Floats

    @property
    def lanes(self) -> int:
        """Number of lanes."""
        return int(self.film_kg_m2.shape[-1])

    def water(self, organ_mass: Floats) -> Floats:
        """All water in the windrow [kg/m2], (lanes,)."""
        return (self.moisture_db * organ_mass).sum(axis=(0, 1)) + self.film_kg_m2.sum(axis=0)


class Fluxes(NamedTuple):
    """What moved in one step, each (lanes,); water in kg/m2, the same as mm.

    Attributes
    ----------
    dew
        Vapor of the air that came down while the top was below its dew point.
    internal
        Vapor from inside the windrow that reached a saturated top; not dew.
    from_air, from_ground
        Vapor toward the hay; negative when it dries.
    rain_caught, runoff
        Rain held by the windrow; water dripping to the ground.
    skin_humidity
        Vapor pressure of the air over saturation at the top layer [-].
    water_error, energy_error
        Of the ledgers of this step [kg/m2], [W/m2].
    """

    dew: Floats
    internal: Floats
    from_air: Floats
    from_ground: Floats
    rain_caught: Floats
    runoff: Floats
    skin_humidity: Floats
    water_error: Floats
    energy_error: Floats

    def then(self, later: Fluxes) -> Fluxes:
        """Of this step and a later one together: sums, the later humidity, the larger errors."""
        sums = [before + after for before, after in zip(self[:6], later[:6], strict=True)]
        errors = [np.maximum(*pair) for pair in zip(self[7:], later[7:], strict=True)]
        return Fluxes._make([*sums, later.skin_humidity, *errors])


def skin_temperature(temperature_c: Floats, sky: Floats) -> Floats:
    """What a thermometer in the sky reads [C], (lanes,): each layer as far as the sky sees it.

    Parameters
    ----------
    temperature_c
        (layers, lanes).
    sky
        Of the `Column`.
    """
    kelvin = temperature_c + KELVIN
    return np.sqrt(np.sqrt((sky * (kelvin * kelvin) * (kelvin * kelvin)).sum(axis=0))) - KELVIN


def nusselt(rayleigh: Floats, most: Floats) -> Floats:
    """What free convection adds to still air, times still air [-]: ``Ra/40 - 1``, 0 to `most`."""
    return np.minimum(np.maximum(rayleigh / RAYLEIGH_ONSET - 1.0, 0.0), most)


def overturned(seconds: float) -> float:
    """How far free convection comes in a step toward what is asked [-]."""
    return 1.0 - float(np.exp(-seconds / 3600 / OVERTURNING_H))


def overturning_asked(temperature_c: Floats, column: Column) -> Floats:
    """Free convection that the temperatures ask for, times still air [-], (layers, lanes).

    Parameters
    ----------
    temperature_c
        (layers, lanes).
    column
        Its layers.
    """
    asked = np.zeros_like(temperature_c)
    heavy, coldest = column.layer_mass * temperature_c, temperature_c.copy()
    under = heavy[-1]
    for i in range(temperature_c.shape[0] - 1, 0, -1):
        asked[i - 1] = under
        under = under + heavy[i - 1]
    for i in range(1, temperature_c.shape[0]):
        np.minimum(coldest[i - 1], coldest[i], out=coldest[i])
    warmer = asked[:-1] / column.mass_below[:-1] - coldest[:-1]
    asked[:-1] = nusselt(column.rayleigh_per_k * warmer, column.free_mixing)
    return asked


class System(NamedTuple):
    """The linear system of one step: heat and vapor of every layer.

    Attributes
    ----------
    heat, vapor, latent
        Conductance between a layer and the next below [W/m2/K], [kg/m2/s/kPa],
        and that times the latent heat [W/m2/kPa]; 0 in the last, (layers, lanes).
    heat_own, heat_given
        What ties each layer to itself and its surroundings [W/m2/K], and what
        it is given [W/m2], counted from `before_c`, (layers, lanes).
    vapor_own, vapor_given
        The same of vapor [kg/m2/s/kPa], [kg/m2/s], hay left out, (layers, lanes).
    hay, release
        Conductance of the hay, and that times its activity [kg/m2/s], (layers, lanes).
    before_c, over_water, warming
        Temperature before the step, saturation over water there [kPa], and how
        much the layer's humidity falls per kelvin at the same vapor [1/K], (layers, lanes).
    ceiling, ceiling_slope, wet_humidity
        Where vapor condenses (over ice below 0 C) [kPa], [kPa/K], and the
        humidity there [-], (layers, lanes).
    latent_heat
        [J/kg], (lanes,).
    """

    heat: Floats
    vapor: Floats
    latent: Floats
    heat_own: Floats
    heat_given: Floats
    vapor_own: Floats
    vapor_given: Floats
    hay: Floats
    release: Floats
    before_c: Floats
    over_water: Floats
    warming: Floats
    ceiling: Floats
    ceiling_slope: Floats
    wet_humidity: Floats
    latent_heat: Floats


def rows_of(
    wet: Floats,
    heat_own: Floats,
    heat_given: Floats,
    vapor_own: Floats,
    vapor_given: Floats,
    hay: Floats,
    release: Floats,
    over_water: Floats,
    warming: Floats,
    ceiling: Floats,
    ceiling_slope: Floats,
    wet_humidity: Floats,
    latent_heat: Floats,
    spent: Floats,
) -> tuple[Floats, Floats, Floats, Floats, Floats, Floats]:
    """A layer's two rows, heat and vapor: its own block of four, and both right sides.

    Arguments as in `System` and `solve`.
    """
    dry, is_wet = 1.0 - wet, wet > 0
    of_hay = SORPTION_HEAT_J_KG * hay * dry
    per_kpa = hay / over_water
    a11 = heat_own + of_hay * warming
    a12 = latent_heat * vapor_own - of_hay / over_water
    bound = SORPTION_HEAT_J_KG * (hay * wet * wet_humidity - release)
    r1 = heat_given + latent_heat * vapor_given + bound
    a21 = np.where(is_wet, -ceiling_slope, -(hay * warming))
    a22 = np.where(is_wet, 1.0, vapor_own + per_kpa)
    r2 = np.where(is_wet, ceiling, vapor_given + release + spent)
    return a11, a12, a21, a22, r1, r2


def eliminate(
    a11: Floats, a12: Floats, a21: Floats, a22: Floats, first: Floats, second: Floats
) -> tuple[Floats, Floats]:
    """Both unknowns of a layer from its two rows and their right sides; any number of them.

    Parameters
    ----------
    a11, a12, a21, a22
        Its rows, the layers above folded in.
    first, second
        Right sides of heat and of vapor.
    """
    inverse = 1.0 / (a11 * a22 - a12 * a21)
    return (a22 * first - a12 * second) * inverse, (a11 * second - a21 * first) * inverse


def solve(system: System, wet: Floats, spent: Floats) -> tuple[Floats, Floats]:
    """Change of temperature [K] and vapor pressure [kPa] of every layer, both (layers, lanes).

    One sweep down and one up through blocks of two (heat, vapor). On the way down
    each layer is written as straight lines in the two unknowns of the one below.

    Parameters
    ----------
    system
        Of this step.
    wet
        1 where free water holds the air saturated, else 0, (layers, lanes).
    spent
        Rate at which an overdrawn film gives its last water [kg/m2/s], (layers, lanes).
    """
    s, dry, count = system, 1.0 - wet, wet.shape[0]
    a11, a12, a21, a22, r1, r2 = rows_of(
        wet, s.heat_own, s.heat_given, s.vapor_own, s.vapor_given, s.hay, s.release, s.over_water,
        s.warming, s.ceiling, s.ceiling_slope, s.wet_humidity, s.latent_heat, spent,
    )  # fmt: skip
    # Right side, then what the layer below adds per kelvin and per kPa of its own.
    first, second = np.empty((2, count, 3, wet.shape[1]), dtype=wet.dtype)
    first[:, 0], first[:, 1], first[:, 2] = r1, s.heat, s.latent
    second[:, 0], second[:, 1], second[:, 2] = r2, 0.0, s.vapor * dry
    for i in range(count):
        if i > 0:
            (q1, p11, p12), (q2, p21, p22) = first[i - 1], second[i - 1]
            heat, latent, up = s.heat[i - 1], s.latent[i - 1], s.vapor[i - 1] * dry[i]
            a11[i] -= heat * p11 + latent * p21
            a12[i] -= heat * p12 + latent * p22
            a21[i] -= up * p21
            a22[i] -= up * p22
            first[i, 0] += heat * q1 + latent * q2
            second[i, 0] += up * q2
        first[i], second[i] = eliminate(a11[i], a12[i], a21[i], a22[i], first[i], second[i])
    change, vapor = np.empty_like(wet), np.empty_like(wet)
    change[-1], vapor[-1] = first[-1, 0], second[-1, 0]
    for i in range(count - 2, -1, -1):
        (q1, p11, p12), (q2, p21, p22) = first[i], second[i]
        change[i] = q1 + p11 * change[i + 1] + p12 * vapor[i + 1]
        vapor[i] = q2 + p21 * change[i + 1] + p22 * vapor[i + 1]
    return change, vapor


def supply(system: System, vapor_kpa: Floats) -> Floats:
    """Vapor reaching each layer from above, below and outside [kg/m2/s], (layers, lanes)."""
    found = system.vapor_given - system.vapor_own * vapor_kpa
    found[:-1] += system.vapor[:-1] * vapor_kpa[1:]
    found[1:] += system.vapor[:-1] * vapor_kpa[:-1]
    return found


def humidity_of(system: System, change_k: Floats, vapor_kpa: Floats, wet: Floats) -> Floats:
    """Humidity of each layer's air as the hay feels it in this step [-], (layers, lanes)."""
    dry = vapor_kpa / system.over_water - system.warming * change_k
    return np.where(wet > 0, system.wet_humidity, dry)


def settle(
    system: System, film_kg_m2: Floats, seconds: float
) -> tuple[Floats, Floats, Floats, Floats]:
    """The system solved, with the films that hold, begin or are spent within the step.

    Parameters
    ----------
    system
        Of this step.
    film_kg_m2
        Free water of each layer at the start [kg/m2], (layers, lanes).
    seconds
        Length of the step.

    Returns
    -------
    change, vapor, wet, gained
        Change of temperature [K], vapor pressure [kPa], where free water holds
        the air saturated, and vapor less what the hay takes up [kg/m2/s].
    """
    wet = (film_kg_m2 > 0).astype(film_kg_m2.dtype)
    none = np.zeros_like(film_kg_m2)
    return _settled(system, film_kg_m2, seconds, wet, none, none, SETTLING_PASSES)


def _settled(
    system: System,
    film_kg_m2: Floats,
    seconds: float,
    wet: Floats,
    gone: Floats,
    spent: Floats,
    passes: int,
) -> tuple[Floats, Floats, Floats, Floats]:
    """As `settle`, from films found so far; the lanes whose films move are solved again.

    Parameters
    ----------
    gone
        1 where a film was spent within the step, (layers, lanes).
    passes
        How often they may be.
    """
    change, vapor = solve(system, wet, spent)
    humid = humidity_of(system, change, vapor, wet)
    gained = supply(system, vapor) - system.hay * humid + system.release
    ceiling = (system.ceiling + system.ceiling_slope * change) * OVER_SATURATION
    over = (wet + gone == 0.0) & (vapor > ceiling)
    overdrawn = (wet > 0) & (film_kg_m2 + gained * seconds < 0)
    lanes = np.flatnonzero((over | overdrawn).any(axis=0))
    if lanes.size and passes:
        # `take`, since an index in brackets would lay layers side by side in memory, not lanes.
        begins, ends = over.take(lanes, axis=-1), overdrawn.take(lanes, axis=-1)
        film, was_wet, was_gone, was_spent = (
            values.take(lanes, axis=-1) for values in (film_kg_m2, wet, gone, spent)
        )
        again = _settled(
            System(*(values.take(lanes, axis=-1) for values in system)),
            film,
            seconds,
            np.where(begins, 1.0, np.where(ends, 0.0, was_wet)),
            np.where(ends, 1.0, was_gone),
            np.where(ends, film / seconds, was_spent),
            passes - 1,
        )
        for values, settled in zip((change, vapor, wet, gained), again, strict=True):
            values[:, lanes] = settled
    return change, vapor, wet, gained


def ice_limits(
    temperature_c: Floats, over_water_kpa: Floats, slope_kpa_k: Floats
) -> tuple[Floats, Floats, Floats]:
    """Where vapor condenses: pressure [kPa], slope [kPa/K], humidity there [-]; ice below 0 C."""
    freezes = temperature_c < 0
    cold = np.minimum(temperature_c, 0.0)
    ice = saturation_vapor_pressure_ice(cold)
    ice_slope = ICE_A * ICE_B * ice / ((cold + ICE_B) * (cold + ICE_B))
    ceiling = np.where(freezes, ice, over_water_kpa)
    return ceiling, np.where(freezes, ice_slope, slope_kpa_k), ceiling / over_water_kpa


def sink(
    moisture_db: Floats, film_kg_m2: Floats, temperature_c: Floats, column: Column, seconds: float
) -> tuple[Floats, Floats, Floats]:
    """Free water sinking and drawn in: new moisture, new film, run-off (lanes,)."""
    runoff = np.zeros_like(film_kg_m2[0])
    lanes = np.flatnonzero((film_kg_m2 > 0).any(axis=0))
    if not lanes.size:
        return moisture_db, film_kg_m2, runoff
    moisture, film = moisture_db.copy(), film_kg_m2.copy()
    if 2 * lanes.size > runoff.size:  # else those alone that have any
        return _sink(moisture, film, temperature_c, column, seconds)
    here, wet, warm = (values.take(lanes, axis=-1) for values in (moisture, film, temperature_c))
    some = column._replace(**{name: _of(getattr(column, name), lanes) for name in _SINKING})
    moisture[..., lanes], film[:, lanes], runoff[lanes] = _sink(here, wet, warm, some, seconds)
    return moisture, film, runoff


_SINKING = ("organ_mass", "layer_mass", "film_leaf_time_h", "film_stem_time_h", "drip_time_h")


def _of(values: Floats, lanes: NDArray[np.intp]) -> Floats:
    """Some lanes; what all share stays."""
    return values if values.shape[-1] == 1 else values.take(lanes, axis=-1)


def _sink(
    moisture: Floats, film: Floats, temperature_c: Floats, column: Column, seconds: float
) -> tuple[Floats, Floats, Floats]:
    """As `sink`, of lanes with free water; the first two are written over."""
    c, runoff = column, np.zeros_like(film[0])
    frozen = temperature_c < 0
    thawed = (~frozen).astype(film.dtype)
    leaf_share = thawed * (seconds / (seconds + 3600 * c.film_leaf_time_h))
    stem_share = thawed * (seconds / (seconds + 3600 * c.film_stem_time_h))
    for i in range(film.shape[0]):
        # Implicit, so that the mean time on the way does not hang on steps or layers.
        through = seconds / (seconds + 3600 * c.drip_time_h * c.shares[i])
        film[i] = film[i] + runoff
        runoff = dripping(film[i], c.layer_mass[i], frozen[i], through)
        film[i] = film[i] - runoff
    into_leaf = drawn_in(film, leaf_share, moisture[0], FULL_LEAF_DB, c.organ_mass[0])
    film = film - into_leaf
    into_stem = drawn_in(film, stem_share, moisture[1], FULL_STEM_DB, c.organ_mass[1])
    film = film - into_stem
    moisture[0] = moisture[0] + into_leaf / c.organ_mass[0]
    moisture[1] = moisture[1] + into_stem / c.organ_mass[1]
    return moisture, film, runoff


def step(state: State, air: Air, column: Column, seconds: float) -> tuple[State, Fluxes]:
    """Carry the windrow through one step.

    A lane that a linear step would move by more than `LARGEST_MOVE_K` (a start in
    the sun) goes through it again in `FINER` parts.

    Parameters
    ----------
    state
        The windrow before the step.
    air
        Weather of the step, (lanes,).
    column
        The windrow cut into layers.
    seconds
        Length of the step.
    """
    after, moved = linear_step(state, air, column, seconds)
    far = np.abs(after.temperature_c - state.temperature_c).max(axis=0) > LARGEST_MOVE_K
    if not far.any():
        return after, moved
    lanes = np.flatnonzero(far)
    own = Air(*(values[lanes] for values in air))
    some = _some_lanes(column._replace(shares=column.shares[:, None]), lanes)
    some = some._replace(shares=column.shares)
    part = State(*(values.take(lanes, axis=-1) for values in state))
    part, together = linear_step(part, own, some, seconds / FINER)
    for _ in range(FINER - 1):
        part, flux = linear_step(part, own, some, seconds / FINER)
        together = together.then(flux)
    for values, finer in zip((*after, *moved), (*part, *together), strict=True):
        values[..., lanes] = finer
    return after, moved


def _some_lanes(column: Column, lanes: NDArray[np.intp]) -> Column:
    """The column of some lanes; what all lanes share stays."""
    return Column(*(_of(values, lanes) for values in column))


def linear_step(state: State, air: Air, column: Column, seconds: float) -> tuple[State, Fluxes]:
    """One step by the linear system of its start; arguments as `step`."""
    c, before_c = column, state.temperature_c
    moisture, film = state.moisture_db, state.film_kg_m2
    held = moisture * c.organ_mass
    hay_water = held[0] + held[1]
    water_before = (hay_water + film).sum(axis=0)
    rain_mm = air.rain_mm_h * (seconds / 3600)
    caught = np.zeros_like(rain_mm)
    if (rain_mm > 0).any():
        caught = rain_caught(rain_mm, water_before, c.mass)
        film = film.copy()
        film[0] = film[0] + caught

    stored = (
        c.heat_capacity_j_kg_k * c.layer_mass + WATER_HEAT_J_KG_K * (hay_water + film)
    ) / seconds
    # Free water moves half before and half after the vapor: twice as true at the same step.
    moisture, film, runoff = sink(moisture, film, before_c, c, seconds / 2)

    # Saturation, and the hay against its air.
    over_water = saturation_vapor_pressure(before_c)
    slope = slope_of(before_c, over_water)
    ceiling, ceiling_slope, wet_humidity = over_water, slope, np.ones_like(slope)
    if (before_c < 0).any():
        ceiling, ceiling_slope, wet_humidity = ice_limits(before_c, over_water, slope)
    way = (seconds / 3600) / c.time_h
    pull, activity = exchange(
        moisture, state.humidity, before_c,
        c.amount, c.exponent, c.wetting_odds, c.full_share, c.full_db, way,
    )  # fmt: skip
    conductance = pull * c.organ_mass / seconds
    released = conductance * activity

    # What ties the layers to each other.
    spin = overturned(seconds)
    overturning = state.overturning + spin * (overturning_asked(before_c, c) - state.overturning)
    wind = np.maximum(air.wind_2m_m_s, c.wind_floor_m_s)
    mixing = c.still_mixing_m2_s * c.per_m * (1 + c.wind_share * wind + overturning)
    vapor_tie = air.vapor_coefficient * mixing
    radiates = c.emissivity * air.radiating_w_m2_k
    heat_tie = air.heat_j_m3_k * mixing + radiates * c.radiating

    # What ties them to air, sky and soil; temperatures count from before the step.
    resistance = air_resistance(
        air.temperature_c, air.wind_2m_m_s, before_c[0], c.air_resistance_s, c.night_cap,
        c.air_resistance_max_s_m, c.wind_floor_m_s,
    )  # fmt: skip
    shares = c.layer_mass / c.mass
    open_ = c.side_flow_m_s * wind / 1.5 * shares
    open_[0] = open_[0] + 1 / resistance
    to_air = air.heat_j_m3_k * open_
    vapor_air = air.vapor_coefficient * open_
    kelvin = before_c + KELVIN
    seen = c.emissivity * c.sky_view * c.sky
    emission = STEFAN_BOLTZMANN_W_M2_K4 * (kelvin * kelvin) * (kelvin * kelvin)
    to_sky = 4 * seen * emission / kelvin
    net = seen * (air.longwave_w_m2 - emission) + (1 - c.albedo) * air.shortwave_w_m2 * c.sun
    heat_own = stored + to_air + to_sky + heat_tie
    heat_given = net + to_air * (air.temperature_c - before_c)
    vapor_own = vapor_air + vapor_tie
    vapor_given = vapor_air * air.vapor_pressure_kpa
    drop = heat_tie[:-1] * (before_c[1:] - before_c[:-1])
    heat_own[1:] += heat_tie[:-1]
    heat_given[:-1] += drop
    heat_given[1:] -= drop
    vapor_own[1:] += vapor_tie[:-1]
    ground = air.vapor_coefficient / c.ground_resistance_s_m
    humid = np.where(np.isnan(c.ground_humidity), 0.0, c.ground_humidity)
    own = np.where(np.isnan(c.ground_humidity), air.vapor_pressure_kpa, 0.0)
    ground_kpa = np.minimum(own + humid * air.soil_saturation_kpa, air.soil_saturation_kpa)
    vapor_own[-1] = vapor_own[-1] + ground
    vapor_given[-1] = vapor_given[-1] + ground * ground_kpa
    heat_own[-1] = heat_own[-1] + c.soil_contact_w_m2_k
    heat_given[-1] = heat_given[-1] + c.soil_contact_w_m2_k * (air.soil_c - before_c[-1])

    system = System(
        heat_tie, vapor_tie, air.latent_heat_j_kg * vapor_tie,
        heat_own, heat_given, vapor_own, vapor_given,
        conductance[0] + conductance[1], released[0] + released[1],
        before_c, over_water, state.humidity * slope / over_water,
        ceiling, ceiling_slope, wet_humidity, air.latent_heat_j_kg,
    )  # fmt: skip
    change, vapor, wet, gained = settle(system, film, seconds)

    # Move it.
    temperature = before_c + change
    humidity = humidity_of(system, change, vapor, wet)
    uptake = conductance * (humidity - activity)
    kept = wet * (film + gained * seconds)
    # Beyond what the linear step is good for: taken from the air, never lost.
    dried = moisture + uptake * seconds / c.organ_mass
    least = np.minimum(moisture, MOISTURE_FLOOR_DB / 2)
    lack = np.maximum(least - dried, 0.0)
    beyond = np.maximum(dried - np.maximum(moisture, c.full_db), 0.0)  # stays outside as free water
    moisture = dried + lack - beyond
    short = np.minimum(kept, 0.0) - (lack[0] * c.organ_mass[0] + lack[1] * c.organ_mass[1])
    beyond = beyond * c.organ_mass
    film = np.maximum(kept, 0.0) + beyond[0] + beyond[1]
    vapor_in = vapor_air * (air.vapor_pressure_kpa - vapor)
    from_air = vapor_in.sum(axis=0) * seconds - short.sum(axis=0)
    ground_rate = ground * (ground_kpa - vapor[-1])
    from_ground = ground_rate * seconds
    top_limit = ceiling[0] + ceiling_slope[0] * change[0]
    condenses = (wet[0] > 0) & (air.vapor_pressure_kpa > top_limit)
    dew = np.where(condenses, np.maximum(from_air, 0.0), 0.0)
    upward = vapor_tie[0] * np.maximum(vapor[1] - vapor[0], 0.0) * seconds
    internal = wet[0] * upward

    # Free water is drawn in and sinks; frost does neither.
    moisture, film, last = sink(moisture, film, temperature, c, seconds / 2)
    runoff = runoff + last
    after = State(
        moisture, film, np.minimum(np.maximum(humidity, 0.0), 1.0), temperature, overturning
    )

    # Both ledgers, each against what crossed the windrow's own edges.
    held = moisture * c.organ_mass
    water_after = (held[0] + held[1] + film).sum(axis=0)
    water_error = np.abs(water_after - water_before - (from_air + from_ground + caught - runoff))
    bound = SORPTION_HEAT_J_KG * (uptake[0] + uptake[1])
    outside = net - to_sky * change + to_air * (air.temperature_c - temperature)
    crossed = (outside + air.latent_heat_j_kg * vapor_in + bound - stored * change).sum(axis=0)
    from_soil = c.soil_contact_w_m2_k * (air.soil_c - temperature[-1])
    energy_error = np.abs(crossed + air.latent_heat_j_kg * ground_rate + from_soil)
    skin_humidity = air.vapor_pressure_kpa / top_limit
    return after, Fluxes(
        dew, internal, from_air, from_ground, caught, runoff,
        skin_humidity, water_error, energy_error,
    )  # fmt: skip
