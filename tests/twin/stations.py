"""What a thermo-hygrometer, a hand meter and both cut off the error of the moisture at 06:00.

In the made-up world of `twin.world`: each truth's own air, with the errors that a station is
assumed to have, is measured every hour up to 20:00 or midnight, and joined to the outlook of
18:00 as a station's is. A second table is of forecasts that are off by `BIAS`, always, with and
without that bias learned in the other summer.
``cd tests && python -m twin --stations [--every N]``.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import cache

import numpy as np
from support.seasons import read_season
from twin.collect import DAWN, LEAST_READING_WB, METER_SEED
from twin.measures import Figure, bootstrap
from twin.tables import HEADING, markdown, percent
from twin.world import (
    CHUNK,
    FIELD,
    LAST_ROW,
    NOW_ROW,
    SAME,
    SEASONS,
    SITE,
    TRUTHS,
    farm,
    night_list,
    plan_for,
    truth_plan,
)

from hayweather.baling.setting import setting_for
from hayweather.learning.forecast_errors import Pairs, fit_errors
from hayweather.nights.drive import Drawn, drawn_of, members_that_agree, run_together
from hayweather.weather.observed import SENSOR_ERRORS
from hayweather.weather.record import HOUR, Floats, HourlyWeather
from hayweather.windrow.carried import Shown
from hayweather.windrow.lanes import repeat_weather
from hayweather.windrow.readings import Reading, moisture_at
from hayweather.windrow.spread import ASSUMED, ForecastErrors, make_members, with_cloud
from hayweather.windrow.trajectory import WindrowTrajectory

TIMES = {"20:00": 30, "00:00": 34}
WAYS = ("nothing", "thermo-hygrometer", "hand meter", "both")
NAMES = {"air_temperature_c": "air", "dew_point_c": "dew point"}
STATION_SEED = 66_000
BIAS = {"air_temperature_c": 1.0, "dew_point_c": -1.5}
LEARNED_WAYS = ("nothing", "thermo-hygrometer", "learned bias", "both")
LEARN_SEED = 67_000
BIASED_EVERY = 4
"""Of the nights looked at every so many-th is looked at with a forecast that is off, too."""


@dataclass
class StationErrors:
    """By time and way: error of the moisture at 06:00, (truths,) a night [points wet basis]."""

    errors: dict[tuple[str, str], list[Floats]] = field(
        default_factory=lambda: {(time, way): [] for time in TIMES for way in WAYS}
    )
    biased: dict[tuple[str, str], list[Floats]] = field(
        default_factory=lambda: {(time, way): [] for time in TIMES for way in LEARNED_WAYS}
    )

    def cut(self, time: str, way: str, biased: bool = False) -> Figure:
        """Share of the root mean square error that a way cuts off."""
        found = self.biased if biased else self.errors
        before, after = (
            (np.stack(found[time, each]) ** 2).sum(axis=1) for each in ("nothing", way)
        )
        return bootstrap(
            np.stack([before, after], axis=1),
            lambda total: float(1 - np.sqrt(total[1] / total[0])),
        )

    def root_mean(self, time: str, way: str, biased: bool = False) -> float:
        """Root mean square error [points]."""
        found = self.biased if biased else self.errors
        return float(np.sqrt(np.mean(np.stack(found[time, way]) ** 2)))


def off_by_bias(weather: HourlyWeather) -> HourlyWeather:
    """A forecast that is off by `BIAS` in all its hours."""
    columns = {name: values + BIAS.get(name, 0.0) for name, values in weather.columns.items()}
    columns["dew_point_c"] = np.minimum(columns["dew_point_c"], columns["air_temperature_c"])
    return replace(weather, columns=columns)


@cache
def learned_in(season: str) -> ForecastErrors:
    """The errors learned from every third night of one summer, a truth each."""
    rows = slice(NOW_ROW, LAST_ROW)
    forecast: dict[str, list[Floats]] = {name: [] for name in BIAS}
    measured: dict[str, list[Floats]] = {name: [] for name in BIAS}
    listed = [item for item in night_list(3) if item[0] == season]
    for _, lane, _ in listed:
        known = repeat_weather(read_season(season).weather, [lane])
        setting = setting_for(farm(), FIELD, SITE, known.start[0])
        said, made = off_by_bias(known), with_cloud(known, setting.place)
        truth = make_members(made, setting.windrow, 1, seed=LEARN_SEED + lane).weather
        for name in BIAS:
            forecast[name].append(said.columns[name][rows, 0])
            measured[name].append(truth.columns[name][rows, 1])
    days = np.array([day for _, _, day in listed], dtype="datetime64[D]")
    pairs = Pairs(
        days, np.arange(float(LAST_ROW - NOW_ROW)),
        {name: np.stack(values) for name, values in forecast.items()},
        {name: np.stack(values) for name, values in measured.items()},
    )  # fmt: skip
    return fit_errors(pairs, draws=0).errors


def measured_in(truth: Drawn, draw: int, hour: int, seed: int) -> dict[str, Shown]:
    """What a thermo-hygrometer in one truth shows up to an hour."""
    random = np.random.default_rng(seed)
    found = {}
    for name in ("air_temperature_c", "dew_point_c"):
        error = SENSOR_ERRORS[name]
        true = truth.members.weather.columns[name][: hour + 1, draw + 1]
        shown = true + error.lasting * random.standard_normal()
        shown = shown + error.passing * random.standard_normal(hour + 1)
        at = np.arange(hour + 1, dtype=np.float64)
        found[name] = Shown(at, shown, error.lasting, error.passing)
    return found


def collect_stations(every: int = 1, biased: int = BIASED_EVERY) -> StationErrors:
    """All nights, or every n-th, in the world whose physics the outlook knows.

    Every `biased`-th of them with a forecast that is off, too; 0: none.
    """
    into, listed = StationErrors(), list(enumerate(night_list(every)))
    for first in range(0, len(listed), CHUNK):
        _add(into, listed[first : first + CHUNK], biased)
    return into


def _add(
    into: StationErrors, listed: Iterable[tuple[int, tuple[str, int, object]]], biased: int
) -> None:
    """Some nights in as few runs as may be."""
    numbers, nights = zip(*listed, strict=True)
    plans = [plan_for(season, lane) for season, lane, _ in nights]
    truths = [
        truth_plan(plan, SAME, season, lane)
        for plan, (season, lane, _) in zip(plans, nights, strict=True)
    ]
    runs, came = run_together(plans), run_together(truths)
    others = dict((SEASONS, SEASONS[::-1]))
    for number, plan in enumerate(plans):
        season, lane, _ = nights[number]
        seed = 1000 * lane + (0 if season.endswith("2017") else 500)
        _add_night(into, plan, runs[number], truths[number], came[number], seed)
        if biased and numbers[number] % biased == 0:
            fitted = learned_in(others[season])
            _add_biased(into, plan, fitted, truths[number], came[number], seed)


def _add_biased(
    into: StationErrors,
    plan: Drawn,
    fitted: ForecastErrors,
    truth: Drawn,
    came: WindrowTrajectory,
    seed: int,
) -> None:
    """One night of a forecast that is off: with and without station and learned bias."""
    source = off_by_bias(plan.source)
    dawn = Reading(came.start[0] + DAWN * HOUR, 0.0)
    true_dawn = moisture_at(came, dawn)[1:]
    bare = [drawn_of(plan.setting, plan.span, source, errors=each) for each in (ASSUMED, fitted)]
    jobs = []
    for time, hour in TIMES.items():
        for draw in range(TRUTHS):
            measured = measured_in(truth, draw, hour, STATION_SEED + seed + draw)
            for way, errors in (("thermo-hygrometer", ASSUMED), ("both", fitted)):
                made = drawn_of(plan.setting, plan.span, source, measured=measured, errors=errors)
                jobs.append((time, way, draw, made))
    ran = run_together([*bare, *(made for *_, made in jobs)])
    found = {key: np.empty(TRUTHS) for key in into.biased}
    for way, lanes in zip(("nothing", "learned bias"), ran, strict=False):
        for time in TIMES:
            found[time, way][:] = moisture_at(lanes, dawn)[1:].mean() - true_dawn
    for (time, way, draw, _), lanes in zip(jobs, ran[2:], strict=True):
        found[time, way][draw] = moisture_at(lanes, dawn)[1:].mean() - true_dawn[draw]
    for key, errors in found.items():
        into.biased[key].append(errors)


def _add_night(
    into: StationErrors,
    plan: Drawn,
    run: WindrowTrajectory,
    truth: Drawn,
    came: WindrowTrajectory,
    seed: int,
) -> None:
    """One night: every truth read and measured at each of the times."""
    start = came.start[0]
    dawn = Reading(start + DAWN * HOUR, 0.0)
    true_dawn = moisture_at(came, dawn)[1:]
    jobs, read = [], {}
    random = np.random.default_rng(METER_SEED + seed)
    for time, hour in TIMES.items():
        at = start + hour * HOUR
        shown = moisture_at(came, Reading(at, 0.0))[1:] + random.standard_normal(TRUTHS)
        for draw in range(TRUTHS):
            read[time, draw] = Reading(at, float(max(shown[draw], LEAST_READING_WB)))
            measured = measured_in(truth, draw, hour, STATION_SEED + seed + draw)
            made = drawn_of(plan.setting, plan.span, plan.source, measured=measured)
            jobs.append((time, draw, made))
    ran = run_together([made for _, _, made in jobs])
    found = {key: np.empty(TRUTHS) for key in into.errors}
    for (time, draw, made), moved in zip(jobs, ran, strict=True):
        for way, drawn, lanes in (("nothing", plan, run), ("thermo-hygrometer", made, moved)):
            mean = float(moisture_at(lanes, dawn)[1:].mean())
            found[time, way][draw] = mean - true_dawn[draw]
            _, followed, weights = members_that_agree(drawn, lanes, [read[time, draw]], _as_it_is)
            other = "hand meter" if way == "nothing" else "both"
            mean = float(moisture_at(followed, dawn) @ weights.weights)
            found[time, other][draw] = mean - true_dawn[draw]
    for key, errors in found.items():
        into.errors[key].append(errors)


def _as_it_is(drawn: Drawn, count: int) -> tuple[Drawn, WindrowTrajectory]:
    """Fresh members, as the outlook draws them where few agree."""
    made = drawn_of(
        drawn.setting, drawn.span, drawn.source, min(count, 400), drawn.seed, drawn.measured
    )
    return made, run_together([made])[0]


def stations_report(found: StationErrors, command: str) -> str:
    """Both tables, with the command that made them."""
    nights = len(found.errors["20:00", "both"])
    off_nights = len(found.biased["20:00", "both"])
    off = ", ".join(f"{value:+g} K of {NAMES[name]}" for name, value in BIAS.items())
    return (
        "\n\n".join(
            [
                f"### {HEADING}",
                f"{nights} nights, {TRUTHS} truths each; the station's own errors: "
                f"{SENSOR_ERRORS['air_temperature_c'].lasting:g} K of air and "
                f"{SENSOR_ERRORS['dew_point_c'].lasting:g} K of dew point that last, the meter's 1 "
                f"point. Made by `{command}`.",
                _table(found, WAYS, biased=False),
                f"The same on {off_nights} of them, where every forecast is off by {off}, and that "
                "is learned in the other summer's nights:",
                _table(found, LEARNED_WAYS, biased=True),
            ]
        )
        + "\n"
    )


def _table(found: StationErrors, ways: Sequence[str], *, biased: bool) -> str:
    """Error of the moisture at 06:00 by time and way, and what each way cuts off."""
    rows = []
    for time in TIMES:
        said = [f"{found.root_mean(time, way, biased):.2f}" for way in ways]
        rows.append([f"read at {time}: error at 06:00, points", *said])
        rows.append(["cut", "", *(percent(found.cut(time, way, biased)) for way in ways[1:])])
    return markdown(["measured with", *ways], rows)
