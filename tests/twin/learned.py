"""Errors learned in one real summer, used in another.

Truth is recorded weather of north-west Colorado, 2017 and 2023 (folder `tests/data`).
No forecasts were recorded there: what stands for them are lagged analogs, six tenths of the
same hour a day before and four tenths of that two days before, so their errors are those of
persistence, larger than a service's.
"""

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
from twin.collect import DAWN
from twin.world import NOW_ROW, SEASONS, night_list, plan_for

from hayweather.learning.forecast_errors import FittedErrors, Pairs, fit_errors, pairs_of
from hayweather.nights.drive import Drawn, drawn_of, run_together
from hayweather.weather.files import ReadOptions, read_weather_file
from hayweather.weather.observed import SENSOR_ERRORS
from hayweather.weather.record import HOUR, HourlyWeather, Source
from hayweather.windrow.carried import Shown
from hayweather.windrow.readings import Reading, moisture_at
from hayweather.windrow.spread import ASSUMED, ERRORS

DATA = Path(__file__).parents[1] / "data"
YEARS = (2017, 2023)
SHARES = {24: 0.6, 48: 0.4}
MADE_H = 0  # UTC, 6 pm in Colorado
SEASON = {2017: SEASONS[0], 2023: SEASONS[1]}
STATION_UNTIL = {"20:00": 30, "00:00": 34}  # rows of a night, as in `twin.stations`
WAYS = ("as forecast", "bias learned", "station", "station and bias learned")
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


def moisture_errors(
    learned: int, used: int, every: int = 1, colder_k: float = 0.0
) -> dict[tuple[str, str], float]:
    """Root mean square error of the moisture at 06:00 [points], by time of the station and way.

    Truth is the windrow in the recorded hours; the forecast made at 18:00 is the analog. A
    thermo-hygrometer with the errors that stations are taken to have shows the recorded
    hours up to a time. One run, no members: nothing of the windrow is drawn.
    """
    fitted = fit_errors(nights(learned, 1, colder_k), draws=0).errors
    said, truth = analog(summer(used)), summer(used)
    said.columns["air_temperature_c"][...] -= colder_k
    random = np.random.default_rng(11)
    jobs: list[tuple[tuple[str, str], Drawn]] = []
    for season, lane, _ in night_list():
        if season != SEASON[used] or lane % every:
            continue
        plan = plan_for(season, lane, 0)
        row = int((plan.source.start[0] - truth.start[0]) // HOUR)
        ahead = slice(NOW_ROW, plan.source.hours)
        columns = {name: values.copy() for name, values in plan.source.columns.items()}
        for name in NAMES:
            columns[name][ahead] = said.columns[name][row + NOW_ROW : row + plan.source.hours]
        columns["dew_point_c"] = np.minimum(columns["dew_point_c"], columns["air_temperature_c"])
        if any(np.isnan(columns[name]).any() for name in NAMES):
            continue
        source = replace(plan.source, columns=columns)
        jobs.append((("", "truth"), plan))
        for time, last in STATION_UNTIL.items():
            measured = {}
            for name in ("air_temperature_c", "dew_point_c"):
                error, hours = SENSOR_ERRORS[name], np.arange(last + 1.0)
                shown = plan.source.columns[name][: last + 1, 0] + error.lasting * random.normal()
                shown = shown + error.passing * random.normal(size=hours.size)
                measured[name] = Shown(hours, shown, error.lasting, error.passing)
            for way, seen, errors in zip(
                WAYS, (None, None, measured, measured), (ASSUMED, fitted) * 2, strict=True
            ):
                made = drawn_of(plan.setting, plan.span, source, 0, measured=seen, errors=errors)
                jobs.append(((time, way), made))
    squares: dict[tuple[str, str], list[float]] = {}
    true = float("nan")
    ran = run_together([made for _, made in jobs])
    for (key, made), run in zip(jobs, ran, strict=True):
        dawn = Reading(made.source.start[0] + DAWN * HOUR, 0.0)
        moisture = float(moisture_at(run, dawn)[0])
        if key[1] == "truth":
            true = moisture
        else:
            squares.setdefault(key, []).append((moisture - true) ** 2)
    return {key: float(np.sqrt(np.nanmean(each))) for key, each in squares.items()}


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
    lines += [
        "",
        "Error of the moisture at 06:00 in those summers, points, truth being the windrow in the "
        "recorded hours; the forecast is of 18:00, the hours before it are the recorded ones; the "
        "station is a thermo-hygrometer with its own errors.",
        "",
        f"| Learned in | Used in | Taken off the air | Station to | {' | '.join(WAYS)} |",
        "| --- | --- | --- | --- | --- | --- | --- | --- |",
    ]
    for colder in (0.0, 1.5):
        for learned, used in (YEARS, YEARS[::-1]):
            found = moisture_errors(learned, used, every, colder)
            for time in STATION_UNTIL:
                said = " | ".join(f"{found[time, way]:.2f}" for way in WAYS)
                lines.append(f"| {learned} | {used} | {colder:.1f} K | {time} | {said} |")
    return "\n".join(lines) + "\n"
