"""The time axis of a chart: hours since its start, said by the clock of the site."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cached_property

import numpy as np

from hayweather.baling.windows import stretches
from hayweather.show.voice import Voice
from hayweather.weather.record import HOUR
from hayweather.windrow.sky import sun_elevation

SUN_AT_HORIZON_DEG = -0.833  # center of the sun when its rim sets, refraction 34' (USNO)
MINUTES = 60
QUARTER_H = 0.25

Stretch = tuple[float, float]


@dataclass(frozen=True)
class Clock:
    """Positions on a chart are hours since `start`; words are of the local clock.

    Attributes
    ----------
    start
        UTC.
    hours
        Length of the chart.
    voice
        Zone of the site, language and clock of the reader.
    """

    start: np.datetime64
    hours: int
    voice: Voice

    def position(self, time: np.datetime64) -> float:
        """Hours from the start to a UTC time."""
        return float((time - self.start) / np.timedelta64(1, "s")) / 3600

    def time(self, position: float) -> np.datetime64:
        """The UTC time at a position, to the minute."""
        return self.start + np.timedelta64(round(position * MINUTES) * MINUTES, "s")

    def text(self, position: float) -> str:
        """``"1:15 am"`` or ``"01:15"``."""
        return self.voice.clock(self.time(position), words=False)

    def span_text(self, stretch: Stretch) -> str:
        """``"1:15 am-4:30 am"``, with the days where it is longer than one."""
        if stretch[1] - stretch[0] >= 24:
            return self.voice.span(self.time(stretch[0]), self.time(stretch[1]))
        return f"{self.text(stretch[0])}-{self.text(stretch[1])}"

    @cached_property
    def _quarters(self) -> list[tuple[float, datetime]]:
        """Every quarter hour of the chart with its local time."""
        positions = [QUARTER_H * index for index in range(round(self.hours / QUARTER_H) + 1)]
        return [(at, self.voice.local(self.time(at))) for at in positions]

    def ticks(self, step: int) -> list[float]:
        """Positions of the full clock hours that `step` divides."""
        return [at for at, time in self._quarters if time.minute == 0 and time.hour % step == 0]

    def days(self) -> list[tuple[Stretch, date]]:
        """Every local date and the stretch it takes of the chart."""
        found: list[tuple[Stretch, date]] = []
        dates = [time.date() for _, time in self._quarters[:-1]]
        for day in dict.fromkeys(dates):
            first = dates.index(day) * QUARTER_H
            found.append(((first, first + dates.count(day) * QUARTER_H), day))
        return found

    def changes(self) -> list[tuple[float, bool]]:
        """Where the clock is moved, and whether it goes forward."""
        found = []
        for (_, before), (at, after) in zip(self._quarters, self._quarters[1:], strict=False):
            moved = (after.utcoffset() or timedelta()) - (before.utcoffset() or timedelta())
            if moved:
                found.append((at, moved > timedelta()))
        return found

    def dark(self, latitude: float, longitude: float) -> list[Stretch]:
        """From sunset to sunrise, to the minute; cut at the ends of the chart."""
        times = self.start + np.arange(self.hours * MINUTES) * (HOUR // MINUTES)
        down = np.rad2deg(sun_elevation(times, latitude, longitude)) < SUN_AT_HORIZON_DEG
        return [(first / MINUTES, past / MINUTES) for first, past in stretches(down)]
