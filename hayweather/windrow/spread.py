"""How far one forecast may be off: the same night many times, each a little different.

Errors of the hourly weather at one field follow each other from hour to hour
(AR(1)); the windrow's own numbers are drawn once a member. Sizes are assumed,
or those of the weather fitted to what was forecast and measured at the farm
(`ForecastErrors`); every output with chances says which.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from statistics import NormalDist
from typing import Any

import numpy as np

from hayweather.catalog import rigs
from hayweather.weather.record import (
    DERIVED,
    HOUR,
    MEASURED,
    MEASURED_THERE,
    SKY_ASSUMED,
    Assumption,
    Booleans,
    Floats,
    HourlyWeather,
)
from hayweather.windrow.carried import CALM_M_S, Drift, Measured, conditioned
from hayweather.windrow.forcing import Place, cloud_at_starts, is_complete
from hayweather.windrow.lanes import repeat_weather
from hayweather.windrow.parameters import WindrowParameters

MEMBERS = 200
SEED = 20_260_708
ENSEMBLE_SHARE = 0.7  # local errors on top of a service's members, of the sizes below (assumed)
TEMPERATURE_TIE = 0.3  # correlation of dew-point with temperature errors (assumed)


LEAD_H = (3.0, 9.0, 18.0, 36.0, 72.0)
"""Hours ahead at which errors are given: the middles of `LEAD_EDGES_H`, between them a line,
before the first and after the last the nearest."""
LEAD_EDGES_H = (0.0, 6.0, 12.0, 24.0, 48.0, 96.0)


@dataclass(frozen=True)
class HourlyError:
    """Error of one weather column: forecast minus measured; for wind of the logarithms.

    Attributes
    ----------
    memory
        Correlation from one hour to the next [-].
    size
        Standard deviation, in the column's unit.
    sizes, biases
        Standard deviation and mean at each of `LEAD_H` hours ahead; empty: `size`
        and no bias, at any lead.
    nights
        Nights behind each of `LEAD_H`; empty where all is assumed.
    """

    memory: float
    size: float
    sizes: tuple[float, ...] = ()
    biases: tuple[float, ...] = ()
    nights: tuple[int, ...] = ()

    @property
    def fitted(self) -> bool:
        """Whether nights stand behind it."""
        return any(self.nights)

    def size_at(self, lead_h: Floats) -> Floats:
        """Standard deviation so many hours ahead, shape of `lead_h`."""
        return np.interp(lead_h, LEAD_H, self.sizes or [self.size] * len(LEAD_H))

    def bias_at(self, lead_h: Floats) -> Floats:
        """Mean of forecast minus measured so many hours ahead, shape of `lead_h`."""
        return np.interp(lead_h, LEAD_H, self.biases or [0.0] * len(LEAD_H))


ERRORS = {
    "air_temperature_c": HourlyError(0.93, 1.6),
    "dew_point_c": HourlyError(0.93, 2.2),
    "wind_speed_m_s": HourlyError(0.75, 0.4),
    "cloud_fraction": HourlyError(0.85, 0.25),
}
"""What is assumed where nothing was fitted."""
TIES = {("air_temperature_c", "dew_point_c"): TEMPERATURE_TIE}


@dataclass(frozen=True)
class ForecastErrors:
    """Errors of the hourly forecast at one place, as members are drawn with them.

    Attributes
    ----------
    columns
        Error of each column, all of `ERRORS`, in their order; columns without
        enough nights are assumed ones.
    ties
        Correlation of two columns' errors in one hour [-]; others are apart.
    nights, until
        Nights behind it, and the evening of the last; 0 and None: assumed.
    """

    columns: Mapping[str, HourlyError] = field(default_factory=lambda: ERRORS)
    ties: Mapping[tuple[str, str], float] = field(default_factory=lambda: TIES)
    nights: int = 0
    until: np.datetime64 | None = None

    @property
    def fitted(self) -> bool:
        """Whether any column was fitted."""
        return any(error.fitted for error in self.columns.values())

    def memory(self, column: str) -> float:
        """Correlation of a column's error from one hour to the next [-], fitted or assumed."""
        return self.columns[column].memory

    def mixing(self) -> Floats:
        """Lower triangle that makes tied fresh errors out of independent ones, (columns, columns).

        Errors of unlike memory are tied less than what is fresh in them; ties
        that no errors can have are drawn together until some can.
        """
        names = list(self.columns)
        fresh = np.eye(len(names))
        for (one, other), tie in self.ties.items():
            a, b = self.memory(one), self.memory(other)
            apart = 1.0 if a == b else (1 - a * b) / np.sqrt((1 - a * a) * (1 - b * b))
            at = names.index(one), names.index(other)
            fresh[at] = fresh[at[::-1]] = tie * apart
        for share in np.linspace(1.0, 0.0, 101):
            try:
                return np.linalg.cholesky(np.eye(len(names)) + share * (fresh - np.eye(len(names))))
            except np.linalg.LinAlgError:
                continue
        return np.eye(len(names))


ASSUMED = ForecastErrors()


# Lowest and highest of the windrow's own numbers, drawn evenly on a log scale (assumed).
WINDROW_RANGES = {
    "air_resistance_s": (110.0, 208.0),
    "air_resistance_max_s_m": (200.0, 400.0),
    "night_cap": (1.25, 2.0),
    "wind_floor_m_s": (0.3, 0.7),
    "sky_view": (0.85, 1.0),
    "density_kg_m3": (5.0, 7.5),
    "hay_area_m2_kg": (6.0, 14.0),
    "clumping": (0.45, 0.8),
    "sun_extinction": (0.5, 0.6),
    "longwave_extinction": (0.7, 1.0),
    "wind_mixing": (0.9, 4.0),
    "wind_reach_m": (0.05, 0.2),
    "free_mixing": (10.0, 40.0),
    "permeability_m2": (3e-6, 3e-5),
    "side_flow_m_s": (0.0002, 0.004),
    "soil_contact_w_m2_k": (2.0, 5.0),
    "soil_swing": (0.25, 0.6),
    "soil_lag_h": (1.0, 4.0),
    "heat_capacity_j_kg_k": (1300.0, 1800.0),
    "film_leaf_time_h": (0.1, 1.0),
}
# Set draws of their own apart from those of any day.
RIG_STREAM, SKY_STREAM = 2**40, 2**41
# The same as factors on the windrow's own number (assumed); one that is NaN stays.
WINDROW_FACTORS = {
    "dry_matter_kg_m2": (0.7, 1.4),
    "stem_time_h": (0.5, 2.0),
    "leaf_time_h": (1 / 3, 3.0),
    "ground_resistance_s_m": (0.5, 2.0),
    "ground_humidity": (0.9, 1.1),
}
SOIL_OFFSET_K = (-2.0, 2.0)  # added to the windrow's own, drawn evenly (assumed)
# Logarithm of the drying rate from cutting to cured, standard deviation: measured rates vary by
# about 45 % from day to day (assumed), of which a model with an R2 of 0.64 (Rotz & Chen 1985,
# published) leaves the root of 0.36 unexplained. It is taken to last from cutting to cured.
DRYING_SPREAD = 0.45 * float(np.sqrt(1 - 0.64))
# Factor on the moisture that leaf and stem hold: how far published tables for hay
# contradict each other below 80 % humidity, 3-4 points at 15-20 % wet basis.
CURVE_FACTOR = (0.8, 1.25)


@dataclass(frozen=True)
class Members:
    """The forecast and its members as lanes; lane 0 is the forecast itself.

    Attributes
    ----------
    weather, windrow
        Weather and parameters of every lane.
    dropped
        Members of the source left out because of a gap.
    rig_shares
        Where a rig's water lands in each lane, by the names of
        `hayweather.catalog.rigs.DRAWN`, (lanes,); empty where nothing is drawn.
    """

    weather: HourlyWeather
    windrow: WindrowParameters
    dropped: int
    rig_shares: Mapping[str, Floats] = field(default_factory=dict)


def with_cloud(weather: HourlyWeather, place: Place) -> HourlyWeather:
    """The weather with a cloud column, derived where it was not given.

    Parameters
    ----------
    weather
        Hourly; its cloud is kept where it has one.
    place
        Latitude and longitude, for the sun.
    """
    return clouded(weather, place)[0]


def clouded(weather: HourlyWeather, place: Place) -> tuple[HourlyWeather, Booleans]:
    """The weather `with_cloud`, and where nothing told the cloud, (hours, lanes)."""
    if is_complete(weather.get("cloud_fraction")):
        return weather, np.zeros(weather.basis.shape, dtype=bool)
    given = weather.get("cloud_fraction")
    start, sky_unknown = cloud_at_starts(weather, place)
    filled = np.ones(weather.basis.shape, dtype=bool) if given is None else np.isnan(given)
    columns = {**weather.columns, "cloud_fraction": start}
    basis = weather.basis | np.where(filled, DERIVED["cloud_fraction"], 0).astype(np.uint8)
    basis |= np.where(sky_unknown, SKY_ASSUMED, 0).astype(np.uint8)
    return replace(weather, columns=columns, basis=basis), sky_unknown


def make_members(
    weather: HourlyWeather,
    windrow: WindrowParameters,
    count: int = MEMBERS,
    size: float = 1.0,
    seed: int = SEED,
    sky_unknown: Booleans | None = None,
    measured: Measured | None = None,
    errors: ForecastErrors = ASSUMED,
    issued: np.datetime64 | None = None,
) -> Members:
    """The forecast and `count` members around it, the same for the same seed.

    Parameters
    ----------
    weather
        Lane 0 is the forecast; further lanes, if any, are members of a service,
        which carry the large-scale error: local errors of 0.7 of the size go on
        top. A member of the service with a gap that the forecast has not is
        left out; with none left the forecast's own errors are taken whole.
        Needs a cloud column (`with_cloud`).
    windrow
        Parameters of the windrow.
    count
        Members besides lane 0. A service's members are each taken the same
        number of times, at least once, so that about `count` come out.
    size
        Factor on all hourly errors.
    seed
        Of the random numbers: an hour of a member gets the same error wherever
        the weather begins and ends.
    sky_unknown
        Hours whose cloud nobody told, (hours, lanes): there each member has a sky
        of its own, from clear to overcast; None for no such hour.
    measured
        What a station measured; None where there is none.
    errors
        Of the forecast; every lane, the first too, is corrected by their bias.
    issued
        UTC hour that lead is counted from; None: the first hour.
    """
    whole = _whole_lanes(weather)
    base = _base_lanes(weather, whole, count)
    local = size * (ENSEMBLE_SHARE if whole else 1.0)
    first = int((weather.start[0] - np.datetime64(0, "s")) // HOUR)
    begun = first if issued is None else int((issued - np.datetime64(0, "s")) // HOUR)
    noise = hourly_errors(seed, first, weather.hours, base.size - 1, errors, begun)
    shifts = {name: local * np.pad(values, ((0, 0), (1, 0))) for name, values in noise.items()}
    lead_h = np.arange(weather.hours, dtype=float)[:, None] + (first - begun)
    for name, error in errors.columns.items():
        if error.biases:
            # What was measured stands as it is.
            seen = (weather.basis[:, :1] & (MEASURED | MEASURED_THERE.get(name, 0))) > 0
            shifts[name] -= np.where(seen, 0.0, error.bias_at(lead_h))
    lanes = repeat_weather(weather, base)
    if sky_unknown is not None and sky_unknown.any():
        lanes = _with_skies(lanes, sky_unknown[:, base], seed)
    lanes = _shifted(lanes, shifts)
    if measured:
        drifts = {
            name: Drift(error.memory, size * error.size_at(lead_h[:, 0]))
            for name, error in errors.columns.items()
        }
        lanes = conditioned(lanes, measured, drifts, seed)
    windrows = spread_windrow(np.random.default_rng(seed), windrow, base.size - 1)
    told = replace(lanes, assumed=(*lanes.assumed, *_told(len(whole), count, errors)))
    dropped = weather.lanes - 1 - len(whole)
    return Members(told, windrows, dropped, _rig_shares(seed, base.size - 1))


def _with_skies(weather: HourlyWeather, unknown: Booleans, seed: int) -> HourlyWeather:
    """The lanes after the first with a cloud of their own where it is unknown, 0 to 1."""
    random = np.random.default_rng([seed, SKY_STREAM])
    skies = np.pad(_parts(random, weather.lanes - 1), (1, 0))
    told = weather.columns["cloud_fraction"]
    drawn = np.where(unknown & (np.arange(weather.lanes) > 0), skies, told)
    return replace(weather, columns={**weather.columns, "cloud_fraction": drawn})


def _rig_shares(seed: int, count: int) -> dict[str, Floats]:
    """Where a rig's water lands in lane 0 and `count` draws, evenly over the ranges."""
    random = np.random.default_rng([seed, RIG_STREAM])
    return {
        name: np.concatenate(
            [[rigs.DEFAULTS[name].value], low + (high - low) * _parts(random, count)]
        )
        for name, (low, high) in rigs.DRAWN.items()
    }


def _told(runs: int, count: int, errors: ForecastErrors) -> tuple[Assumption, ...]:
    """Which errors the spread stands on; nothing where no members are drawn."""
    if not count:
        return ()
    fitted: tuple[Assumption, ...] = ()
    if errors.fitted and errors.until is not None:
        until = str(errors.until.astype("datetime64[D]"))
        fitted = (Assumption("spread_fitted", {"nights": f"{errors.nights}", "until": until}),)
    if not runs:
        return fitted or (Assumption("spread_of_one"),)
    share = f"{100 * ENSEMBLE_SHARE:.0f}"
    return (Assumption("spread_of_runs", {"count": f"{runs}", "share": share}), *fitted)


def _whole_lanes(weather: HourlyWeather) -> list[int]:
    """Members of the source without a gap that the forecast has not."""
    gaps = weather.missing()
    return [lane for lane in range(1, weather.lanes) if not (gaps[:, lane] & ~gaps[:, 0]).any()]


def _base_lanes(weather: HourlyWeather, whole: list[int], count: int) -> np.ndarray:
    """Which lane of the source each lane starts from.

    Every member of the source counts the same number of times, and their order
    in it does not matter.
    """
    if not whole or not count:
        return np.zeros(count + 1, dtype=np.int64)
    ordered = sorted(whole, key=lambda lane: _contents(weather, lane))
    return np.array([0, *(ordered * max(round(count / len(whole)), 1))])


def _contents(weather: HourlyWeather, lane: int) -> bytes:
    """All values of one lane, to sort by."""
    columns = sorted(weather.columns)
    return b"".join(weather.columns[name][:, lane].tobytes() for name in columns)


def differences(weather: HourlyWeather) -> dict[str, Floats]:
    """How far each lane lies from lane 0, mean over the hours, (lanes,); wind as logarithm.

    Parameters
    ----------
    weather
        Lanes of `make_members`, the hours that are looked at.
    """
    values = {name: weather.columns[name] for name in ERRORS}
    values["wind_speed_m_s"] = np.log(np.maximum(values["wind_speed_m_s"], CALM_M_S))
    return {
        name: np.nan_to_num(lanes - lanes[:, :1]).mean(axis=0) for name, lanes in values.items()
    }


BLOCK_H, WARM_UP_H = 240, 168
"""Errors are followed in blocks of hours since 1970, each from so long before it: by then what
came earlier has left nothing (0.93 to the power of 168 is 5e-6)."""
DAY_H = 24


def hourly_errors(
    seed: int,
    first: int,
    hours: int,
    count: int,
    errors: ForecastErrors = ASSUMED,
    issued: int | None = None,
) -> dict[str, Floats]:
    """Errors of each column, AR(1) over the hours, (hours, count).

    An hour's errors hang on seed, hour and count alone.

    Parameters
    ----------
    seed
        Of the random numbers.
    first
        The first hour, counted since 1970, UTC.
    hours, count
        How many hours and members.
    errors
        Their sizes and memory.
    issued
        The hour that lead is counted from, since 1970; None: the first.
    """
    drawn: dict[int, Floats] = {}
    parts = [
        _block(seed, block, count, drawn, errors)[
            :, max(first - block * BLOCK_H, 0) : first + hours - block * BLOCK_H
        ]
        for block in range(first // BLOCK_H, (first + max(hours, 1) - 1) // BLOCK_H + 1)
    ]
    values = np.concatenate(parts, axis=1)
    lead_h = np.arange(hours, dtype=float)[:, None] + (
        first - (first if issued is None else issued)
    )
    return {
        name: error.size_at(lead_h) * values[i]
        for i, (name, error) in enumerate(errors.columns.items())
    }


def _block(
    seed: int, block: int, count: int, drawn: dict[int, Floats], errors: ForecastErrors
) -> Floats:
    """Standard errors of a block's hours, (columns, `BLOCK_H`, count); `drawn` keeps its days."""
    begin = block * BLOCK_H - WARM_UP_H
    days = range(begin // DAY_H, (begin + WARM_UP_H + BLOCK_H) // DAY_H)
    for day in days:
        if day not in drawn:
            random = np.random.default_rng((seed, day % 2**32))
            drawn[day] = random.standard_normal((len(ERRORS), DAY_H, count))
    draws = _tied(np.concatenate([drawn[day] for day in days], axis=1), errors.mixing())
    memory = np.array([error.memory for error in errors.columns.values()])[:, None]
    fresh = np.sqrt(1 - memory**2)
    for hour in range(1, draws.shape[1]):
        draws[:, hour] = memory * draws[:, hour - 1] + fresh * draws[:, hour]
    return draws[:, WARM_UP_H:]


def _tied(draws: Floats, mixing: Floats) -> Floats:
    """Independent draws of each column mixed; a column that is tied to none stays as it is."""
    tied = draws.copy()
    for row, shares in enumerate(mixing):
        used = np.flatnonzero(shares[: row + 1])
        if used.size > 1:
            tied[row] = sum(shares[each] * draws[each] for each in used)
    return tied


def _shifted(weather: HourlyWeather, shifts: dict[str, Floats]) -> HourlyWeather:
    """The weather with errors added; dew point never above the air, cloud within 0-1."""
    columns = dict(weather.columns)
    air = columns["air_temperature_c"] + shifts["air_temperature_c"]
    dew_point = columns["dew_point_c"] + shifts["dew_point_c"]
    columns["air_temperature_c"], columns["dew_point_c"] = (
        air,
        np.where(dew_point > air, air, dew_point),
    )
    columns["wind_speed_m_s"] = columns["wind_speed_m_s"] * np.exp(shifts["wind_speed_m_s"])
    cloud = columns["cloud_fraction"] + shifts["cloud_fraction"]
    columns["cloud_fraction"] = np.clip(cloud, 0.0, 1.0)
    return replace(weather, columns=columns)


def spread_windrow(
    random: np.random.Generator, windrow: WindrowParameters, count: int
) -> WindrowParameters:
    """The windrow as lane 0 and `count` draws, each number evenly over its range (log scale).

    A number is drawn once in every of `count` equal parts of its range (Latin
    hypercube), so that few members cover it well.
    """

    def draw(low: float, high: float, center: float) -> Floats:
        return np.concatenate([[center], low * (high / low) ** _parts(random, count)])

    drawn: dict[str, Any] = {}
    for name, (low, high) in WINDROW_RANGES.items():
        drawn[name] = draw(low, high, getattr(windrow, name))
    for name, factors in WINDROW_FACTORS.items():
        drawn[name] = getattr(windrow, name) * draw(*factors, 1.0)
    drawn["ground_humidity"] = np.minimum(drawn["ground_humidity"], 1.0)
    low, high = SOIL_OFFSET_K
    shift = np.concatenate([[0.0], low + (high - low) * _parts(random, count)])
    drawn["soil_offset_k"] = windrow.soil_offset_k + shift
    for name in ("leaf", "stem"):
        curve = getattr(windrow, name)
        drawn[name] = replace(curve, amount=curve.amount * draw(*CURVE_FACTOR, 1.0))
    # Drawn last: whatever is added leaves the draws above as they were.
    normal = np.array([NormalDist().inv_cdf(part) for part in _parts(random, count)])
    drying = np.concatenate([[1.0], np.exp(DRYING_SPREAD * normal)])
    return replace(windrow, **drawn, drying_factor=windrow.drying_factor * drying)


def _parts(random: np.random.Generator, count: int) -> Floats:
    """One number in each of `count` equal parts of 0 to 1, in random order."""
    return (random.permutation(count) + random.random(count)) / count
