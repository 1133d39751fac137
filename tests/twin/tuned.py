"""Synthetic readings of a windrow whose numbers are known, on real nights."""

from __future__ import annotations

import threading
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import date, datetime, timedelta
from functools import cache
from unittest import mock
from zoneinfo import ZoneInfo

import numpy as np
from support.seasons import COLUMNS, SITES, find_file, read_columns
from twin.world import SEASONS, SITE, farm

from hayweather.baling.clock import to_utc
from hayweather.farm.records import Farm, Tuning
from hayweather.learning import tune
from hayweather.learning.past import FieldReading, ReadingKind
from hayweather.learning.predict import SiteNights, predict, settings_for, site_nights
from hayweather.learning.tune import Fit
from hayweather.weather.record import HourlyWeather, Source
from hayweather.windrow.lanes import repeat_weather
from hayweather.windrow.spread import make_members, with_cloud

DEWY_NIGHTS = (
    date(2017, 5, 7),
    date(2017, 5, 18),
    date(2017, 5, 22),
    date(2017, 8, 11),
    date(2017, 8, 14),
    date(2017, 9, 23),
)
# Local hour and kind of the readings of one night.
DAWN_AND_NOON: tuple[tuple[int, ReadingKind], ...] = ((6, "windrow"), (12, "leaf"))


@cache
def season_weather(season: str = SEASONS[0]) -> HourlyWeather:
    """A whole season as one lane."""
    site = SITES[season]
    path = find_file(site)
    if path is None:
        raise FileNotFoundError(season)
    begin, columns = read_columns(path)
    known = {name for name, _ in COLUMNS.values()}
    shaped = {name: values[:, None] for name, values in columns.items() if name in known}
    return HourlyWeather(np.array([begin]), shaped, site.wind_height_m, Source(season))


def blank_readings(
    nights: Sequence[date] = DEWY_NIGHTS,
    plan: Sequence[tuple[int, ReadingKind]] = DAWN_AND_NOON,
) -> list[FieldReading]:
    """Readings at the planned times, their values still to be filled."""
    zone = ZoneInfo(str(SITE.timezone))
    found = []
    for evening in nights:
        for hour, kind in plan:
            day = evening + timedelta(days=hour < 14)
            time = to_utc(datetime(day.year, day.month, day.day, hour, tzinfo=zone))
            found.append(FieldReading(time, "north", kind, 0.0, 1.0))
    return found


def true_values(truth: list[Tuning], blanks: list[FieldReading]) -> np.ndarray:
    """What meters without error would have shown, (truths, readings)."""
    (nights,) = site_nights(farm(), {"home": season_weather()}, blanks)
    return predict(farm(), nights, truth)


def values_off_weather(truths: list[Tuning], blanks: list[FieldReading], seed: int) -> np.ndarray:
    """As `true_values`, each truth under weather that is off as assumed, (truths, readings)."""
    (nights,) = site_nights(farm(), {"home": season_weather()}, blanks)
    setting = settings_for(farm(), nights, Tuning())[0]
    whole = with_cloud(nights.weather, setting.place)
    rows = []
    for number, truth in enumerate(truths):
        drawn = [
            make_members(
                repeat_weather(whole, [lane]), setting.windrow, 1, seed=seed + 100 * number + lane
            )
            for lane in range(nights.count)
        ]
        columns = {
            name: np.stack([each.weather.columns[name][:, 1] for each in drawn], axis=1)
            for name in whole.columns
        }
        off = replace(nights, weather=replace(whole, columns=columns))
        rows.append(predict(farm(), off, [truth])[0])
    return np.stack(rows)


def with_noise(blanks: list[FieldReading], values: np.ndarray, seed: int) -> list[FieldReading]:
    """Readings as a meter with its error would show them."""
    noise = np.random.default_rng(seed).standard_normal(len(blanks))
    return [
        replace(blank, value=float(value + blank.error * off))
        for blank, value, off in zip(blanks, values, noise, strict=True)
    ]


class Together:
    """Stands in for `predict` while many fits run in threads: their runs become lanes of one.

    Each fit waits until all fits still at work have asked; then one run answers
    all of them. Only for fits to readings at the same times.
    """

    def __init__(self, fits: int) -> None:
        self.working = fits
        self.asked: dict[int, Sequence[Tuning]] = {}
        self.answers: dict[int, np.ndarray] = {}
        self.turn = threading.Condition()

    def predict(self, farm: Farm, nights: SiteNights, tunings: Sequence[Tuning]) -> np.ndarray:
        """As `hayweather.learning.predict.predict`."""
        me = threading.get_ident()
        with self.turn:
            self.asked[me] = tunings
            self._answer_if_all(farm, nights)
            self.turn.wait_for(lambda: me in self.answers)
            return self.answers.pop(me)

    def leave(self, farm: Farm, nights: SiteNights) -> None:
        """One fit is done."""
        with self.turn:
            self.working -= 1
            self._answer_if_all(farm, nights)

    def _answer_if_all(self, farm: Farm, nights: SiteNights) -> None:
        """Run what was asked, once nobody is left who may still ask."""
        if not self.asked or len(self.asked) < self.working:
            return
        flat = [tuning for tunings in self.asked.values() for tuning in tunings]
        values = predict(farm, nights, flat)
        edges = np.cumsum([len(tunings) for tunings in self.asked.values()])[:-1]
        self.answers |= dict(zip(self.asked, np.split(values, edges), strict=True))
        self.asked = {}
        self.turn.notify_all()


def fit_all(sets: Sequence[list[FieldReading]], *, at_field: bool = True) -> list[Fit]:
    """Fits to many sets of readings at the same times, their runs side by side."""
    whole, weather = farm(), {"home": season_weather()}
    (nights,) = site_nights(whole, weather, sets[0])
    together = Together(len(sets))

    def one(readings: list[FieldReading]) -> Fit:
        try:
            return tune.fit(whole, weather, readings, at_field=at_field)
        finally:
            together.leave(whole, nights)

    with (
        mock.patch.object(tune, "predict", together.predict),
        ThreadPoolExecutor(len(sets)) as threads,
    ):
        return list(threads.map(one, sets))
