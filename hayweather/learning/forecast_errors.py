"""Errors of the forecast at one place, fitted to nights that were forecast and then measured.

An error is forecast minus measured, for wind of the logarithms. What nights say is
drawn toward what is assumed by their number: with `PRIOR_NIGHTS` nights both count
alike, and with fewer than `LEAST_NIGHTS` all stays assumed. No size falls below
`LEAST_SIZE_SHARE` of the assumed one: a few calm weeks must not make chances sure.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise

import numpy as np

from hayweather.weather.record import HOUR, Floats, HourlyWeather, Times
from hayweather.windrow.carried import CALM_M_S
from hayweather.windrow.spread import (
    ASSUMED,
    ERRORS,
    LEAD_EDGES_H,
    TIES,
    ForecastErrors,
    HourlyError,
)

LEAST_NIGHTS = 20
PRIOR_NIGHTS = 20.0  # nights that the assumed errors count for (assumed)
LEAST_SIZE_SHARE = 0.6  # of the assumed size (assumed)
MOST_MEMORY = 0.98
LAGS_H = range(1, 7)  # hours over which memory is fitted
BAR = (5.0, 95.0)  # percentiles
DRAWS, SEED = 200, 20_260_708  # of the bootstrap over nights
Bars = tuple[float, float]


@dataclass(frozen=True)
class Pairs:
    """What was forecast for some nights, and measured.

    Attributes
    ----------
    evenings
        Date of each night, ``datetime64``, (nights,).
    lead_h
        Hours ahead of when the forecast was made, one by one, (hours,).
    forecast, measured
        Columns of `hayweather.windrow.spread.ERRORS`, (nights, hours), NaN where
        unknown; a column may be absent.
    """

    evenings: Times
    lead_h: Floats
    forecast: Mapping[str, Floats]
    measured: Mapping[str, Floats]

    def errors(self) -> dict[str, Floats]:
        """Forecast minus measured of every column that has both, (nights, hours)."""
        found = {}
        for name in ERRORS:
            if name in self.forecast and name in self.measured:
                said, was = self.forecast[name], self.measured[name]
                if name == "wind_speed_m_s":
                    said, was = (np.log(np.maximum(each, CALM_M_S)) for each in (said, was))
                found[name] = said - was
        return found


def pairs_of(
    forecasts: Sequence[tuple[np.datetime64, HourlyWeather]],
    measured: HourlyWeather,
    hours: int = int(LEAD_EDGES_H[-1]),
) -> Pairs:
    """What was forecast each evening beside what was measured.

    Parameters
    ----------
    forecasts
        UTC hour in which each was made and its hours, lane 0; one a night, not yet
        corrected by a learned bias.
    measured
        Hours of the station or archive, lane 0.
    hours
        How far ahead to look.
    """
    forecast: dict[str, list[Floats]] = {name: [] for name in ERRORS}
    was: dict[str, list[Floats]] = {name: [] for name in ERRORS}
    for made, weather in forecasts:
        for name in ERRORS:
            forecast[name].append(hours_from(weather, name, made, hours))
            was[name].append(hours_from(measured, name, made, hours))
    evenings = np.array([made for made, _ in forecasts], dtype="datetime64[D]")
    known = [name for name in ERRORS if forecasts]
    return Pairs(
        evenings,
        np.arange(float(hours)),
        {name: np.stack(forecast[name]) for name in known},
        {name: np.stack(was[name]) for name in known},
    )


def hours_from(weather: HourlyWeather, name: str, first: np.datetime64, hours: int) -> Floats:
    """So many hours of a column's lane 0 from an hour on; NaN where there are none."""
    found = np.full(hours, np.nan)
    values = weather.get(name)
    if values is None:
        return found
    rows = int((first - weather.start[0]) // HOUR) + np.arange(hours)
    there = (rows >= 0) & (rows < weather.hours)
    found[there] = values[rows[there], 0]
    return found


@dataclass(frozen=True)
class Estimate:
    """A number as nights say it, its bar over resampled nights, and what is used.

    Attributes
    ----------
    value, bar
        NaN where nights say nothing; the bar from the 5th to the 95th percentile.
    assumed, used
        Without these nights, and after they were weighed.
    nights
        Behind it.
    """

    value: float
    bar: Bars
    assumed: float
    used: float
    nights: int


@dataclass(frozen=True)
class FittedErrors:
    """Errors fitted to nights, beside the assumed.

    Attributes
    ----------
    errors
        As members are drawn with them.
    biases, sizes
        By column, one for each of `hayweather.windrow.spread.LEAD_H`.
    memories
        By column.
    ties
        Correlation by pair of columns.
    """

    errors: ForecastErrors
    biases: Mapping[str, tuple[Estimate, ...]]
    sizes: Mapping[str, tuple[Estimate, ...]]
    memories: Mapping[str, Estimate]
    ties: Mapping[tuple[str, str], Estimate]


def fit_errors(pairs: Pairs, draws: int = DRAWS, seed: int = SEED) -> FittedErrors:
    """Bias, size, memory and ties of the errors of some nights.

    Parameters
    ----------
    pairs
        Nights, one forecast each.
    draws, seed
        Resamples of whole nights for the bars; seed of their random numbers.
    """
    errors = pairs.errors()
    bands = [
        np.flatnonzero((pairs.lead_h >= low) & (pairs.lead_h < high))
        for low, high in pairwise(LEAD_EDGES_H)
    ]
    found = _raw(errors, bands)
    random = np.random.default_rng(seed)
    nights = len(pairs.evenings)
    again = []
    for _ in range(draws if nights else 0):
        chosen = random.integers(0, nights, nights)
        again.append(_raw({name: each[chosen] for name, each in errors.items()}, bands))
    counts = {
        name: [int(np.isfinite(each[:, band]).any(axis=1).sum()) for band in bands]
        for name, each in errors.items()
    }

    def estimate(key: tuple[str, ...], assumed: float, used: float, count: int) -> Estimate:
        values = np.array([one[key] for one in again if np.isfinite(one[key])])
        bar = np.percentile(values, BAR) if values.size else (np.nan, np.nan)
        return Estimate(found[key], (float(bar[0]), float(bar[1])), assumed, used, count)

    biases, sizes, memories, columns = {}, {}, {}, {}
    for name, each in errors.items():
        assumed = ERRORS[name]
        used = [
            _used(found["bias", name, str(at)], each[:, band], assumed.size, count)
            for at, (band, count) in enumerate(zip(bands, counts[name], strict=True))
        ]
        biases[name] = tuple(
            estimate(("bias", name, str(at)), 0.0, bias, counts[name][at])
            for at, (bias, _) in enumerate(used)
        )
        sizes[name] = tuple(
            estimate(("size", name, str(at)), assumed.size, size, counts[name][at])
            for at, (_, size) in enumerate(used)
        )
        most = int(np.isfinite(each).any(axis=1).sum())
        memory = _drawn(found["memory", name], assumed.memory, most)
        memories[name] = estimate(("memory", name), assumed.memory, memory, most)
        behind = tuple(count if count >= LEAST_NIGHTS else 0 for count in counts[name])
        if any(behind):
            columns[name] = HourlyError(
                memory,
                assumed.size,
                tuple(size for _, size in used),
                tuple(bias for bias, _ in used),
                behind,
            )
    ties = {}
    for pair in combinations(errors, 2):
        both = np.isfinite(errors[pair[0]]) & np.isfinite(errors[pair[1]])
        count = int(both.any(axis=1).sum())
        before = TIES.get(pair, 0.0)
        ties[pair] = estimate(
            ("tie", *pair), before, _drawn(found["tie", *pair], before, count), count
        )
    return FittedErrors(_record(pairs, errors, columns, ties), biases, sizes, memories, ties)


def _record(
    pairs: Pairs,
    errors: Mapping[str, Floats],
    columns: Mapping[str, HourlyError],
    ties: Mapping[tuple[str, str], Estimate],
) -> ForecastErrors:
    """The errors as members are drawn with them; the assumed where no column has enough nights."""
    if not columns:
        return ASSUMED
    known = np.zeros(len(pairs.evenings), dtype=bool)
    for name in columns:
        known |= np.isfinite(errors[name]).any(axis=1)
    return ForecastErrors(
        {name: columns.get(name, ERRORS[name]) for name in ERRORS},
        {**TIES, **{pair: tie.used for pair, tie in ties.items()}},
        int(known.sum()),
        pairs.evenings[known].max(),
    )


def _used(bias: float, errors: Floats, assumed: float, nights: int) -> tuple[float, float]:
    """Bias and size of a lead after the nights were weighed; what bias is left counts as size."""
    if nights < LEAST_NIGHTS:
        return 0.0, assumed
    share = nights / (nights + PRIOR_NIGHTS)
    kept = share * bias
    found = float(np.nanmean((errors - kept) ** 2))
    size = float(np.sqrt(share * found + (1 - share) * assumed**2))
    return kept, max(size, LEAST_SIZE_SHARE * assumed)


def _drawn(value: float, assumed: float, nights: int) -> float:
    """A number drawn toward the assumed one."""
    if nights < LEAST_NIGHTS or not np.isfinite(value):
        return assumed
    share = nights / (nights + PRIOR_NIGHTS)
    return float(share * value + (1 - share) * assumed)


def _raw(errors: Mapping[str, Floats], bands: list[np.ndarray]) -> dict[tuple[str, ...], float]:
    """Every number as these nights say it, by kind, column and lead; NaN where they do not."""
    found: dict[tuple[str, ...], float] = {}
    standard = {}
    for name, each in errors.items():
        one = np.full(each.shape, np.nan)
        for at, band in enumerate(bands):
            part = each[:, band]
            nights = int(np.isfinite(part).any(axis=1).sum())
            bias = size = float("nan")
            if nights > 1:
                bias = float(np.nanmean(part))
                spread = float(np.nanmean((part - bias) ** 2))
                size = float(np.sqrt(spread * nights / (nights - 1)))
                if size > 0:
                    one[:, band] = (part - bias) / size
            found["bias", name, str(at)], found["size", name, str(at)] = bias, size
        standard[name] = one
        found["memory", name] = _memory(one)
    for pair in combinations(errors, 2):
        found["tie", *pair] = _mean_product(standard[pair[0]], standard[pair[1]])
    return found


def _mean_product(one: Floats, other: Floats) -> float:
    """Correlation of two columns of standard errors; NaN where they share no hour."""
    both = np.isfinite(one) & np.isfinite(other)
    if not both.any():
        return float("nan")
    a, b = one[both], other[both]
    return float(np.clip((a * b).mean() / np.sqrt((a * a).mean() * (b * b).mean()), -1.0, 1.0))


_MEMORIES = np.linspace(0.0, MOST_MEMORY, 197)


def _memory(standard: Floats) -> float:
    """The memory whose powers lie nearest to the correlation over `LAGS_H` hours.

    Several lags, because the noise of a sensor lowers each alike, and would pass
    for a short memory in the first.
    """
    lags = [lag for lag in LAGS_H if lag < standard.shape[1]]
    told = np.array([_mean_product(standard[:, :-lag], standard[:, lag:]) for lag in lags])
    known = np.isfinite(told)
    if not known.any():
        return float("nan")
    powers = _MEMORIES[:, None] ** np.array(lags)[known]
    return float(_MEMORIES[((powers - told[known]) ** 2).sum(axis=1).argmin()])
