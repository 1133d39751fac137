"""A field's course: weather, windrow and calls of the same hours, held together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hayweather.baling.calls import READY, QuarterCalls, call_quarters
from hayweather.baling.cautions import dangers_of
from hayweather.baling.setting import Setting
from hayweather.baling.start import Start
from hayweather.baling.windows import Window, find_windows, stopped_quarters
from hayweather.weather.record import Booleans, HourlyWeather
from hayweather.windrow.run import run
from hayweather.windrow.trajectory import QUARTERS, WindrowTrajectory


@dataclass(frozen=True)
class Course:
    """The hours of one field in full; lane 0 is the forecast as it stands.

    Attributes
    ----------
    weather, trajectory, quarters
        The same hours and lanes.
    stopped
        Quarters in which work stops, (4 * hours, lanes).
    """

    weather: HourlyWeather
    trajectory: WindrowTrajectory
    quarters: QuarterCalls
    stopped: Booleans

    def between(self, first: int, last: int) -> Course:
        """The hours ``first`` to ``last - 1``."""
        return Course(
            self.weather.between(first, last),
            self.trajectory.between(first, last),
            self.quarters.between(first, last),
            self.stopped[QUARTERS * first : QUARTERS * last],
        )

    def windows(self, lane: int = 0) -> list[Window]:
        """Windows of a lane, in order of time."""
        return find_windows(self.weather.start[lane], self.quarters, self.stopped, lane)

    def first_ready(self) -> int | None:
        """First quarter of lane 0 that can be baled."""
        ready = np.isin(self.quarters.call[:, 0], READY) & ~self.stopped[:, 0]
        return int(ready.argmax()) if ready.any() else None


def follow(weather: HourlyWeather, setting: Setting, start: Start) -> Course:
    """Run the windrow of a field through its weather and call every quarter hour."""
    trajectory = run(weather, setting.place, setting.windrow, start.starts, start.equilibrium)
    quarters = call_quarters(weather, trajectory, setting, start.uncured)
    stopped = stopped_quarters(quarters, dangers_of(weather), setting)
    return Course(weather, trajectory, quarters, stopped)
