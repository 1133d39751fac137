"""Windows: stretches of quarter hours in which hay can be baled, or raked."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hayweather.baling.calls import BALED, Call, QuarterCalls, quarterly
from hayweather.baling.cautions import RAIN_AHEAD_HOURS, RAIN_AHEAD_MM, Dangers
from hayweather.baling.setting import Setting
from hayweather.weather.record import HOUR, Booleans, Floats, HourlyWeather
from hayweather.windrow.trajectory import QUARTER, QUARTERS, raked

RAKE_LEAF_WB = (18.0, 40.0)  # leaf soft enough not to shatter, not soaked (assumed)
RAKE_BEFORE_HOURS = 2  # raked at least this long before baling (assumed)
RAKE_SHORTEST_QUARTERS = 2
LOOK_BEFORE = np.timedelta64(45 * 60, "s")


@dataclass(frozen=True)
class Window:
    """A longest run of quarters with one advice about one ready call.

    Attributes
    ----------
    call
        Natural dew, ready or add moisture.
    start, end
        UTC, on quarter hours; a window that is open now starts at this minute.
    water_l_t
        Least and most water to add [L/t]; None as the hay lies.
    chance
        That the hay is so in some quarter of it; None without members.
    good_throughout, half_good
        That it is so in all of it, and in at least half of it; None without members.
    start_range, end_range
        UTC times that eight in ten starts (ends) lie between; None where the
        window is too uncertain to time.
    """

    call: Call
    start: np.datetime64
    end: np.datetime64
    water_l_t: tuple[float, float] | None = None
    chance: float | None = None
    good_throughout: float | None = None
    half_good: float | None = None
    start_range: tuple[np.datetime64, np.datetime64] | None = None
    end_range: tuple[np.datetime64, np.datetime64] | None = None

    @property
    def hours(self) -> float:
        """Length [h]."""
        return float((self.end - self.start) / HOUR)

    def from_minute(self, now: np.datetime64) -> Window:
        """The window with nothing of it before `now`."""
        low = self.start_range
        return replace(
            self,
            start=max(self.start, now),
            start_range=None if low is None else (max(low[0], now), max(low[1], now)),
        )


@dataclass(frozen=True)
class RakeWindow:
    """Quarter hours in which leaves are soft enough to rake; UTC.

    Attributes
    ----------
    start, end
        UTC.
    raked_at
        The middle of them, of which the rest speaks.
    top_wb, middle_wb, bottom_wb
        The windrow just after raking then, free water counted [% wet basis].
    """

    start: np.datetime64
    end: np.datetime64
    raked_at: np.datetime64
    top_wb: float
    middle_wb: float
    bottom_wb: float

    def from_minute(self, now: np.datetime64) -> RakeWindow:
        """The window with nothing of it before `now`."""
        return replace(self, start=max(self.start, now), raked_at=max(self.raked_at, now))


def stopped_quarters(quarters: QuarterCalls, dangers: Dangers, setting: Setting) -> Booleans:
    """True in quarters in which work stops by the call of each lane, (4 * hours, lanes).

    Parameters
    ----------
    quarters
        Calls, with the water of each.
    dangers
        From `dangers_of`, by the hour.
    setting
        Its rig sets the wind that is too much for spraying.
    """
    everyone, spraying = stops_by_way(dangers, setting)
    return np.where(quarters.call == Call.ADD_MOISTURE, spraying, everyone)


def stops_by_way(dangers: Dangers, setting: Setting) -> tuple[Booleans, Booleans]:
    """True in quarters in which work stops as the hay lies, and behind the rig."""
    everyone = quarterly(dangers.everyone())
    return everyone, everyone | quarterly(dangers.rig_only(setting.rig))


def stretches(marks: Booleans) -> list[tuple[int, int]]:
    """First and one-past-last index of every run of True.

    Parameters
    ----------
    marks
        (n,).

    Examples
    --------
    >>> stretches(np.array([False, True, True, False, True]))
    [(1, 3), (4, 5)]
    """
    edges = np.flatnonzero(np.diff(np.concatenate([[False], marks, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


Stretch = tuple[np.datetime64, np.datetime64]
NO_PAUSE = np.timedelta64(0, "s")


def united(spans: Iterable[Stretch], pause: np.timedelta64 = NO_PAUSE) -> list[Stretch]:
    """Stretches of time in order, those with no longer pause between them as one."""
    found: list[Stretch] = []
    for start, end in sorted(spans):
        if found and start - found[-1][1] <= pause:
            found[-1] = (found[-1][0], max(found[-1][1], end))
        else:
            found.append((start, end))
    return found


def find_windows(
    start: np.datetime64, ways: NDArray[np.int8], water_l_t: Floats | None = None
) -> list[Window]:
    """All stretches of one ready call, in order of time.

    Parameters
    ----------
    start
        UTC start of the first quarter.
    ways
        Ready call of every quarter, anything else where there is none, (4 * hours,).
    water_l_t
        Rate of every quarter; None without a rig.
    """
    found = []
    for call in BALED:
        for first, past in stretches(ways == call):
            water = None
            if call == Call.ADD_MOISTURE and water_l_t is not None:
                applied = water_l_t[first:past]
                water = (float(np.nanmin(applied)), float(np.nanmax(applied)))
            found.append(Window(call, start + first * QUARTER, start + past * QUARTER, water))
    return sorted(found, key=lambda window: window.start)


def rake_windows(
    weather: HourlyWeather,
    quarters: QuarterCalls,
    first_ready: int | None,
    stopped: Booleans | None = None,
    counted: Floats | None = None,
) -> list[RakeWindow]:
    """When to rake: soft leaves, no rain within six hours, well before baling.

    Leaves count as soft where they are so in lane 0 and in half of what counts.

    Parameters
    ----------
    weather
        From the first of the quarters on; may reach further than they do.
    quarters
        Calls, (4 * hours, lanes).
    first_ready
        First quarter that can be baled, None where there is none.
    stopped
        Quarters in which work stops, the same shape; no raking then either.
    counted
        How much each lane counts, (lanes,); None: lane 0 alone.
    """
    low, high = RAKE_LEAF_WB
    each = (quarters.leaf_wb >= low) & (quarters.leaf_wb <= high)
    soft = each[:, 0]
    if counted is not None and counted.any():
        soft = soft & (each @ counted >= counted.sum() / 2)
    may = ~quarterly(rain_ahead(weather))[: soft.size, 0]
    if stopped is not None:
        may &= ~stopped[:, 0]
    early = np.ones_like(soft)
    if first_ready is not None:
        early[max(first_ready - RAKE_BEFORE_HOURS * QUARTERS, 0) :] = False
    return [
        _rake_window(weather.start[0], quarters, first, past)
        for first, past in stretches(soft & may & early)
        if past - first >= RAKE_SHORTEST_QUARTERS
    ]


def _rake_window(begin: np.datetime64, quarters: QuarterCalls, first: int, past: int) -> RakeWindow:
    """Quarters `first` to ``past - 1``, and the hay after raking in the middle of them."""
    row = (first + past) // 2
    after = raked(quarters.hay.cut(slice(row, row + 1), slice(0, 1)))
    return RakeWindow(
        start=begin + first * QUARTER,
        end=begin + past * QUARTER,
        raked_at=begin + row * QUARTER,
        top_wb=after.part_wb("top").item(),
        middle_wb=after.part_wb("middle").item(),
        bottom_wb=after.part_wb("bottom").item(),
    )


def rain_ahead(weather: HourlyWeather) -> Booleans:
    """True where rain falls, or may, in the hour or the six after it; nowhere without the column.

    An hour whose rain is blank counts as wet.
    """
    rain = weather.get("rain_mm")
    if rain is None:
        return np.zeros((weather.hours, weather.lanes), dtype=bool)
    wet = ~(rain < RAIN_AHEAD_MM)
    ahead = wet.copy()
    for later in range(1, RAIN_AHEAD_HOURS + 1):
        ahead[:-later] |= wet[later:]
    return ahead
