"""Errors learned in one real summer, used in another: ``cd tests && python -m twin --learn``.

Truth is recorded weather of north-west Colorado, 2017 and 2023 (tests/data/README.md).
No forecasts were recorded there: what stands for them are lagged analogs, six tenths of the
same hour a day before and four tenths of that two days before, so their errors are those of
persistence, larger than a service's.
"""

from functools import cache
from pathlib import Path

import numpy as np

from hayweather.learning.forecast_errors import FittedErrors, Pairs, fit_errors, pairs_of
from hayweather.weather.files import ReadOptions, read_weather_file
from hayweather.weather.record import HOUR, HourlyWeather, Source
from hayweather.windrow.spread import ERRORS

DATA = Path(__file__).parents[1] / "data"
YEARS = (2017, 2023)
SHARES = {24: 0.6, 48: 0.4}
MADE_H = 1  # UTC, 7 pm in Colorado
FIRST_DAY = 3
NINETY = 1.645
NAMES = {"air_temperature_c": "temperature, K", "dew_point_c": "dew point, K",
         "wind_speed_m_s": "wind, logarithm"}  # fmt: skip


@cache
def summer(year: int) -> HourlyWeather:
    """May to September as recorded."""
    file = DATA / f"nw_colorado_{year}_may_september.csv.gz"
    return read_weather_file(file, ReadOptions(wind_height_m=2.0))[0]


def analog(truth: HourlyWeather) -> HourlyWeather:
    """What stands for the forecast of every hour: the hours a day and two days before."""
    columns = {}
    for name in NAMES:
        values = truth.columns[name]
        mixed = np.full(values.shape, np.nan)
        most = max(SHARES)
        mixed[most:] = sum(share * values[most - lag : -lag] for lag, share in SHARES.items())
        columns[name] = mixed
    return HourlyWeather(truth.start, columns, 2.0, Source("lagged analog"))


@cache
def nights(year: int, every: int = 1, colder_k: float = 0.0) -> Pairs:
    """Every evening's analog beside what came; `colder_k` is taken off its air, to be learned."""
    truth = summer(year)
    said = analog(truth)
    said.columns["air_temperature_c"][...] -= colder_k
    midnight = truth.start[0].astype("datetime64[D]").astype("datetime64[s]")
    days = range(FIRST_DAY, truth.hours // 24 - 5, every)
    made = [midnight + (24 * day + MADE_H) * HOUR for day in days]
    return pairs_of([(time, said) for time in made], truth, hours=24)


def held_out(fitted: FittedErrors, pairs: Pairs) -> dict[str, tuple[float, float, float, float]]:
    """By column: root mean square with no bias and with the learned one, and the share of errors
    within the 90 % that the assumed size says, and that the fitted one does."""
    found = {}
    for name, errors in pairs.errors().items():
        if name not in NAMES:
            continue
        column = fitted.errors.columns[name]
        left = errors - column.bias_at(pairs.lead_h)
        known = np.isfinite(errors)
        assumed, size = ERRORS[name].size_at(pairs.lead_h), column.size_at(pairs.lead_h)
        found[name] = (
            float(np.sqrt(np.mean(errors[known] ** 2))),
            float(np.sqrt(np.mean(left[known] ** 2))),
            float((np.abs(errors) <= NINETY * assumed)[known].mean()),
            float((np.abs(left) <= NINETY * size)[known].mean()),
        )
    return found


def learned_report(command: str, every: int = 1) -> str:
    """Both summers, each learned from the other, with and without 1.5 K taken off the air."""
    lines = [
        f"Printed by `{command}`. {' '.join((__doc__ or '').split())}",
        "",
        "| Learned in | Used in | Taken off the air | Column | Error, as forecast | Error, bias "
        "learned | Within assumed 90 % | Within fitted 90 % |",
        "| --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    for colder in (0.0, 1.5):
        for learned, used in (YEARS, YEARS[::-1]):
            fitted = fit_errors(nights(learned, every, colder), draws=0)
            for name, row in held_out(fitted, nights(used, every, colder)).items():
                before, after, within, fits = row
                lines.append(
                    f"| {learned} | {used} | {colder:.1f} K | {NAMES[name]} | {before:.2f} | "
                    f"{after:.2f} | {100 * within:.0f} % | {100 * fits:.0f} % |"
                )
    return "\n".join(lines) + "\n"
