"""Nights of a series of hours cut out as lanes, and what each of them gave.

A night's lane begins at 14:00 local of the day before its evening (one night of
spin-up) and reaches one hour beyond 14:00 of the day after, so that the last
hour has both its ends. The night itself is counted from sunset to four hours
after sunrise.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from hayweather.baling.calls import CAUTIOUS_FIRST, Call, QuarterCalls
from hayweather.baling.clock import local_hour, turns_of
from hayweather.baling.machines import field_efficiency, flow_limit_kg_h, with_fills_kg_h
from hayweather.baling.setting import Setting
from hayweather.baling.value import losses_percent
from hayweather.farm.bands import Band
from hayweather.farm.records import Rig
from hayweather.nights.drive import Loop, calls_of, drive_nights, lanes_from
from hayweather.seasons.record.nights import RAIN_HOURS, Missing, Nights, join_nights
from hayweather.weather.record import HOUR, Booleans, Floats, HourlyWeather, Times
from hayweather.windrow.sky import sun_sine
from hayweather.windrow.trajectory import QUARTER, QUARTERS, WindrowTrajectory
from hayweather.windrow.vapor import wind_at_two_meters

AFTER_SUNRISE_H = 4
LANE_HOURS = 50  # two days of up to 49 hours by a clock change, and one hour's end
_SEARCHED = QUARTERS * 25  # from 14:00 to 14:00, a clock change within
LANE_COLUMNS = (
    "air_temperature_c",
    "dew_point_c",
    "wind_speed_m_s",
    "cloud_fraction",
    "pressure_kpa",
    "shortwave_w_m2",
    "rain_mm",
    "thunder_chance_percent",
    "lightning_level",
    "weather_code",
    "red_flag",
)
_CAUSES = {
    "air_temperature_c": Missing.AIR_TEMPERATURE,
    "dew_point_c": Missing.DEW_POINT,
    "wind_speed_m_s": Missing.WIND,
    "rain_mm": Missing.RAIN,
}


@dataclass(frozen=True)
class NightCuts:
    """Nights of one series, each array (nights,); rows count from the lane's first hour.

    Attributes
    ----------
    evening
        Local date of the evening.
    first
        Index in the series of the lane's first hour; may lie outside it.
    starts
        Rows at which the windrow may start in equilibrium: 14:00 of the day
        before and of the evening, (nights, 2).
    turn
        Quarter of 14:00 of the evening.
    window
        First and one-past-last quarter of sunset to four hours after sunrise,
        (nights, 2); both 0 where the sun does not set.
    clock
        Place of each whole hour from `turn` on in a day that begins at 14:00
        local, (nights, 25); -1 beyond 14:00 of the next day.
    """

    evening: Times
    first: NDArray[np.int64]
    starts: NDArray[np.int64]
    turn: NDArray[np.int64]
    window: NDArray[np.int64]
    clock: NDArray[np.int64]

    def only(self, chosen: Booleans | slice) -> NightCuts:
        """Some of the nights."""
        return NightCuts(**{item.name: getattr(self, item.name)[chosen] for item in fields(self)})

    def later(self, hours: int) -> NightCuts:
        """The same nights in lanes that begin some hours later."""
        quarters = QUARTERS * hours
        sets = self.window[:, 1:] > 0
        return replace(
            self,
            first=self.first + hours,
            starts=self.starts - hours,
            turn=self.turn - quarters,
            window=np.where(sets, self.window - quarters, 0),
        )


def evenings_between(first: date, last: date, months: Sequence[int]) -> list[date]:
    """Evenings from `first` to `last` that lie in the months asked for."""
    days = np.arange(np.datetime64(first, "D"), np.datetime64(last, "D") + 1)
    month = days.astype("datetime64[M]").astype(np.int64) % 12 + 1
    found: list[date] = days[np.isin(month, list(months))].tolist()
    return found


def years_with_hours(times: Times, months: Sequence[int]) -> list[int]:
    """Years of which more than a day of the hours `times` (UTC) lies in these months, in order."""
    number, hours = _hours_by_month(times)
    wanted = np.isin(number % 12 + 1, list(months))
    years = number[wanted] // 12 + 1970
    return [int(year) for year in np.unique(years) if hours[wanted][years == year].sum() > 24]


def _hours_by_month(times: Times) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Months since 1970 in which hours lie, in order, and how many do."""
    number = times.astype("datetime64[M]").astype(np.int64)
    first = number.min() if number.size else 0
    hours = np.bincount(number - first)
    return np.flatnonzero(hours) + first, hours[hours > 0]


MONTH_HOURS = 240
"""A month counts as one with data from ten days of hours in some year (assumed)."""


def months_with_hours(times: Times) -> list[int]:
    """Months that have ten days or more of the hours `times` (UTC) in some year; else any."""
    number, hours = _hours_by_month(times)
    whole = number[hours >= MONTH_HOURS] if (hours >= MONTH_HOURS).any() else number[hours > 24]
    return sorted({int(month) % 12 + 1 for month in whole})


def cuts_of(
    series: HourlyWeather,
    timezone: str,
    latitude: float,
    longitude: float,
    evenings: Sequence[date] | Times,
) -> NightCuts:
    """Where the nights of some evenings lie in a series of one lane.

    Parameters
    ----------
    series
        Hours, (hours, 1).
    timezone, latitude, longitude
        Of the site.
    evenings
        Local dates.
    """
    evening = np.asarray(evenings, dtype="datetime64[D]")
    around = evening[:, None] + np.arange(-1, 2)
    days, place = np.unique(around, return_inverse=True)
    turns = turns_of(days.astype("datetime64[D]"), timezone)
    before, turn, after = turns[place.reshape(around.shape)].T
    begin = series.start[0]
    first = ((before - begin) // HOUR).astype(np.int64)
    start = begin + first * HOUR
    starts = np.stack([-((start - before) // HOUR), -((start - turn) // HOUR)], axis=1)
    quarter = ((turn - start) // QUARTER).astype(np.int64)
    return NightCuts(
        evening=evening,
        first=first,
        starts=starts.astype(np.int64),
        turn=quarter,
        window=_windows(start, quarter, latitude, longitude),
        clock=_clock(start - (-quarter // QUARTERS) * HOUR, after, timezone),
    )


def move_cuts(
    cuts: NightCuts, begin: np.datetime64, latitude: float, longitude: float
) -> NightCuts:
    """The same nights at another place of the same clock: only sun times differ.

    Parameters
    ----------
    cuts
        Nights of a series that begins at `begin`.
    begin
        UTC.
    latitude, longitude
        Of the other place.
    """
    start = begin + cuts.first * HOUR
    return replace(cuts, window=_windows(start, cuts.turn, latitude, longitude))


def _windows(
    start: Times, turn: NDArray[np.int64], latitude: float, longitude: float
) -> NDArray[np.int64]:
    """First and one-past-last quarter of each night, (nights, 2), from the sun's center."""
    rows = turn + np.arange(_SEARCHED + 1)[:, None]
    up = np.asarray(sun_sine(start + rows * QUARTER, latitude, longitude) > 0)
    sets = np.asarray(up[:-1] & ~up[1:])
    sunset = np.where(sets.any(axis=0), sets.argmax(axis=0) + 1, _SEARCHED)
    rises = np.asarray(up & (np.arange(_SEARCHED + 1)[:, None] > sunset))
    sunrise = rises.argmax(axis=0)
    there = np.asarray(sets.any(axis=0) & rises.any(axis=0))
    window = np.stack([turn + sunset, turn + sunrise + QUARTERS * AFTER_SUNRISE_H], axis=1)
    window[:, 1] = np.minimum(window[:, 1], turn + _SEARCHED - QUARTERS)
    return np.where(there[:, None], window, 0)


def _clock(start: Times, after: Times, timezone: str) -> NDArray[np.int64]:
    """Place of 25 hours from `start` on in a day that begins at 14:00 local, (nights, 25)."""
    times = start[:, None] + np.arange(25) * HOUR
    places = (_local_hours(times, timezone) - 14) % 24
    return np.where(times < after[:, None], places, -1)


def _local_hours(times: Times, timezone: str) -> NDArray[np.int64]:
    """Hour of the local clock, each different time worked out once."""
    unique, back = np.unique(times, return_inverse=True)
    return local_hour(unique, timezone)[back].reshape(times.shape)


def cut_lanes(series: HourlyWeather, cuts: NightCuts) -> HourlyWeather:
    """The hours of each night as a lane, (LANE_HOURS, nights), with the columns of all lanes.

    The wind is brought to 2 m; a column that the series has not is blank, rain
    that it has not is none, so that lanes of all sites fit side by side. Hours
    outside the series are blank.
    """
    lanes = lanes_from(series, cuts.first, LANE_HOURS)
    blank = np.full((LANE_HOURS, lanes.lanes), np.nan)
    columns = {name: lanes.columns.get(name, blank) for name in LANE_COLUMNS}
    columns["rain_mm"] = np.where(gauged(series, cuts), columns["rain_mm"], 0.0)
    wind = columns["wind_speed_m_s"]
    columns["wind_speed_m_s"] = wind_at_two_meters(wind, series.wind_height_m)
    return HourlyWeather(lanes.start, columns, 2.0, series.source)


def begins_of(cuts: NightCuts) -> Booleans:
    """Rows at which each lane may start in equilibrium, (LANE_HOURS, nights)."""
    rows = np.arange(LANE_HOURS)[:, None]
    return np.asarray((rows == cuts.starts[:, 0]) | (rows == cuts.starts[:, 1]))


def gauged(series: HourlyWeather, cuts: NightCuts) -> Booleans:
    """Nights of years in which the series has rain at all, (nights,)."""
    rain = series.get("rain_mm")
    years, place = np.unique(cuts.evening.astype("datetime64[Y]"), return_inverse=True)
    if rain is None:
        return np.zeros(cuts.evening.size, dtype=bool)
    begins = np.stack([years, years + 1]).astype("datetime64[s]")
    rows = np.clip(-((series.start[0] - begins) // HOUR), 0, series.hours)
    known = [bool(np.isfinite(rain[a:b]).any()) for a, b in rows.T]
    return np.array(known, dtype=bool)[place]


def rain_before(series: HourlyWeather, cuts: NightCuts) -> tuple[Floats, Booleans]:
    """Rain of the 48 hours before each sunset [mm], and True where some of it is unknown."""
    rain = series.get("rain_mm")
    count = cuts.evening.size
    if rain is None:
        return np.zeros(count), np.zeros(count, dtype=bool)
    rows = cuts.first + cuts.window[:, 0] // QUARTERS + np.arange(-RAIN_HOURS, 0)[:, None]
    there = (rows >= 0) & (rows < series.hours)
    fallen = np.where(there, rain[np.clip(rows, 0, series.hours - 1), 0], np.nan)
    blank = np.isnan(fallen)
    unknown = blank.any(axis=0) & gauged(series, cuts)
    return np.where(blank, 0.0, fallen).sum(axis=0), np.asarray(unknown)


def causes_of(series: HourlyWeather, cuts: NightCuts) -> NDArray[np.int16]:
    """What is blank between 14:00 and the end of each night, as `Missing`, (nights,)."""
    # The needed hours stand in a row: how many of them are blank is a difference of two counts.
    first = cuts.first + cuts.turn // QUARTERS
    past = np.maximum(cuts.first - (-cuts.window[:, 1] // QUARTERS) + 1, first)
    rows = np.clip(np.stack([first, past]), 0, series.hours)
    causes = np.zeros(cuts.evening.size, dtype=np.int16)
    for name, cause in _CAUSES.items():
        column = series.get(name)
        if column is not None and (blanks := np.isnan(column[:, 0])).any():
            count = np.concatenate([[0], np.cumsum(blanks)])
            blank = count[rows[1]] > count[rows[0]]
            if cause == Missing.RAIN:
                blank &= gauged(series, cuts)
            causes[blank] |= cause
    causes[(past > first) & ((first < 0) | (past > series.hours))] |= Missing.NO_HOURS
    causes[cuts.window[:, 1] == 0] |= Missing.NO_SUNSET
    return causes


QUARTER_H = 1 / QUARTERS


@dataclass(frozen=True)
class Block:
    """Nights that are run together, of one site or of many.

    Attributes
    ----------
    weather
        Lanes of `LANE_HOURS` hours.
    cuts
        Where in its lane each night lies.
    setting
        What holds there; place and windrow may have a number for every lane.
    bands
        Lanes, band and the rig's target [% wet basis] of those that follow each other
        and are called alike; empty: all of them as `setting` says.
    rain_before_mm, causes
        Rain of the 48 hours before sunset; `Missing` of each night, as far as
        the hours tell it.
    rain_known
        Nights of years whose source has rain.
    capacity_kg_h
        Of the baler.
    """

    weather: HourlyWeather
    cuts: NightCuts
    setting: Setting
    rain_before_mm: Floats
    causes: NDArray[np.int16]
    rain_known: Booleans
    capacity_kg_h: float
    bands: tuple[tuple[int, Band, float], ...] = ()

    def parts(self, most: int) -> Iterator[tuple[slice, Block]]:
        """Lanes called alike, at most so many together, and the block that they are."""
        setting, first = self.setting, 0
        for count, band, target in self.bands or (
            (self.weather.lanes, setting.band, setting.target_wb),
        ):
            past = first + count
            for begin in range(first, past, most):
                lanes = slice(begin, min(begin + most, past))
                yield lanes, self._only(lanes, replace(setting, band=band, target_wb=target))
            first = past

    def _only(self, lanes: slice, setting: Setting) -> Block:
        """Some of the lanes, called as a setting says."""
        weather = replace(
            self.weather,
            start=self.weather.start[lanes],
            columns={name: values[:, lanes] for name, values in self.weather.columns.items()},
            repaired=self.weather.repaired[:, lanes],
            basis=self.weather.basis[:, lanes],
        )
        place = {
            name: value[lanes] for name, value in vars(setting.place).items() if np.ndim(value)
        }
        return Block(
            weather=weather,
            cuts=self.cuts.only(lanes),
            setting=replace(setting, place=replace(setting.place, **place)),
            rain_before_mm=self.rain_before_mm[lanes],
            causes=self.causes[lanes],
            rain_known=self.rain_known[lanes],
            capacity_kg_h=self.capacity_kg_h,
        )


CALLED = 1000  # nights whose calls are made together; measured


def nights_of(block: Block, loop: Loop = "auto") -> Nights:
    """What each night of a block gave; the same whatever else is in the block."""
    first = int(block.cuts.turn.min()) // QUARTERS  # what comes before an evening is spin-up
    block, trajectory = driven(block, loop, first)
    return join_nights(
        [_told(part, trajectory.lanes(lanes), first) for lanes, part in block.parts(CALLED)]
    )


def driven(
    block: Block, loop: Loop = "auto", layers_from: int = 0
) -> tuple[Block, WindrowTrajectory]:
    """The windrow of all nights of a block, and the block with its cloud.

    Parameters
    ----------
    block
        The nights.
    loop, layers_from
        As in `hayweather.nights.drive.drive`.
    """
    weather, trajectory = drive_nights(
        block.weather, block.setting, begins_of(block.cuts), loop, layers_from
    )
    return replace(block, weather=weather), trajectory


def _told(block: Block, trajectory: WindrowTrajectory, first: int) -> Nights:
    """The nights of a block whose windrow was run, from the hour `first` of its lanes on."""
    quarters, stopped = calls_of(block.weather, trajectory, block.setting, first)
    cuts = block.cuts.later(first)
    window = _window(cuts, LANE_HOURS - first)
    lanes = np.arange(cuts.evening.size)
    started = trajectory.started[block.cuts.starts[:, 1], lanes]
    return Nights(
        evening=cuts.evening,
        missing=_missing(block, quarters, window),
        spun_up=~started,
        rain_before_mm=block.rain_before_mm,
        rain_known=block.rain_known,
        **_hours(cuts, quarters, window, stopped),
        **_rig(block, quarters, window & ~stopped),
        **_losses(block, quarters, window & ~stopped),
        hours=clock_hours(cuts, quarters),
    )


def _window(cuts: NightCuts, hours: int) -> Booleans:
    """Quarters of each night from sunset to four hours after sunrise, (4 * hours, nights)."""
    rows = np.arange(QUARTERS * hours)[:, None]
    return np.asarray((rows >= cuts.window[:, 0]) & (rows < cuts.window[:, 1]))


def _missing(block: Block, quarters: QuarterCalls, window: Booleans) -> NDArray[np.int16]:
    """Why a night cannot be told: a quarter without data in it names what is blank."""
    unknown = (window & (quarters.call == Call.NO_DATA)).any(axis=0)
    unknown |= block.cuts.window[:, 1] == 0
    own = np.where(unknown, block.causes & ~Missing.RAIN_BEFORE, 0)
    # A blank just before the night, so that no run could begin, leaves no cause of its own.
    own = np.where(unknown & (own == 0), Missing.NO_HOURS, own)
    return np.asarray(own | (block.causes & Missing.RAIN_BEFORE), dtype=np.int16)


def _hours(
    cuts: NightCuts, quarters: QuarterCalls, window: Booleans, stopped: Booleans
) -> dict[str, Floats]:
    """Hours of each kind, and the first and last moment on dew [h after 14:00]."""
    call = quarters.call
    kinds = {"dew_h": Call.NATURAL_DEW, "rig_h": Call.ADD_MOISTURE}
    found = {name: _count(window & ~stopped & (call == kind)) for name, kind in kinds.items()}
    found["wet_h"] = _count(window & (call == Call.TOO_WET))
    found["dry_h"] = _count(window & (call == Call.TOO_DRY))
    ready = window & np.isin(call, list(kinds.values()))
    found["stop_h"] = _count(ready & stopped)
    dew = window & ~stopped & (call == Call.NATURAL_DEW)
    any_dew, rows = dew.any(axis=0), dew.shape[0]
    first, past = dew.argmax(axis=0), rows - dew[::-1].argmax(axis=0)
    turn = cuts.turn
    found["first_h"] = np.where(any_dew, (first - turn) * QUARTER_H, np.nan)
    found["last_h"] = np.where(any_dew, (past - turn) * QUARTER_H, np.nan)
    return found


def _count(marks: Booleans) -> Floats:
    """Quarters that are True as hours, (nights,)."""
    return np.asarray(marks.sum(axis=0) * QUARTER_H)


def _rig(block: Block, quarters: QuarterCalls, open_: Booleans) -> dict[str, Floats]:
    """What a rig would put on and bale in the hours that it can help."""
    rig, water = block.setting.rig, quarters.dose
    if rig is None or water is None:
        raise ValueError("seasons are run with a rig")
    marks = open_ & (quarters.call == Call.ADD_MOISTURE)
    applied = np.where(marks, water.applied_l_t, 0.0)
    efficiency = field_efficiency(block.setting.baler)
    rate = np.where(marks, applied, 1.0)
    pace, flowing = rig_pace(rate, rig, block.capacity_kg_h, efficiency)
    baled_kg = np.where(marks, pace * QUARTER_H, 0.0)
    count = marks.sum(axis=0)
    mean = applied.sum(axis=0) / np.maximum(count, 1)
    return {
        "water_l_t": np.where(count > 0, mean, np.nan),
        "rig_kg": baled_kg.sum(axis=0),
        "water_l": (baled_kg / 1000 * applied).sum(axis=0),
        "flow_h": np.where(marks, flowing * QUARTER_H, 0.0).sum(axis=0),
    }


def rig_pace(
    applied_l_t: Floats, rig: Rig, capacity_kg_h: float, efficiency: float
) -> tuple[Floats, Floats]:
    """Hay baled behind a rig [kg/h], fills included, and the share of time that water flows.

    As on the run sheet: the baler's capacity or the rig's flow between turns is
    the limit; an empty tank takes its time to fill.

    Parameters
    ----------
    applied_l_t
        Water put on.
    rig, capacity_kg_h, efficiency
        The rig; what the baler does in an hour in the field, and its field
        efficiency [-].

    Examples
    --------
    >>> rig = Rig("rig", 4000.0, 10.0, 80.0, 40.0, 30.0)
    >>> pace, share = rig_pace(np.array([100.0, 200.0]), rig, 20_000.0, 0.8)
    >>> pace.round(1).tolist(), share.round(3).tolist()
    ([15483.9, 7741.9], [0.645, 0.645])
    """
    working = np.minimum(capacity_kg_h, efficiency * flow_limit_kg_h(rig, applied_l_t))
    pace = with_fills_kg_h(working, rig, applied_l_t)
    return pace, pace / working * efficiency


def _losses(block: Block, quarters: QuarterCalls, open_: Booleans) -> dict[str, Floats]:
    """Dry matter that the baler loses [%]: on dew, with the rig, and dry in the rig's hours."""
    names = ("dew_loss", "rig_loss", "dry_loss")
    if quarters.dose is None:
        return {name: np.full(block.cuts.evening.size, np.nan) for name in names}
    crop, baler = block.setting.field.crop, block.setting.baler
    on_dew = open_ & (quarters.call == Call.NATURAL_DEW)
    with_rig = open_ & (quarters.call == Call.ADD_MOISTURE)
    as_it_lies, helped = losses_percent(
        quarters.hay,
        quarters.windrow_wb,
        quarters.dose,
        on_dew | with_rig,
        with_rig,
        crop,
        baler,
    )
    means = (_mean(as_it_lies, on_dew), _mean(helped, with_rig), _mean(as_it_lies, with_rig))
    return dict(zip(names, means, strict=True))


def _mean(values: Floats, marks: Booleans) -> Floats:
    """Mean over the quarters marked, NaN where none is, (nights,)."""
    count = marks.sum(axis=0)
    total = np.where(marks, values, 0.0).sum(axis=0)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def clock_hours(cuts: NightCuts, quarters: QuarterCalls) -> NDArray[np.int8]:
    """The call that holds longest in each hour from 14:00 local on, (nights, 24).

    As the outlook shows an hour: of two calls that hold equally long, the more
    cautious. -1 where the clock has no such hour.
    """
    count = cuts.evening.size
    order = np.array([int(call) for call in CAUTIOUS_FIRST], dtype=np.int8)
    calls = quarters.call.reshape(-1, QUARTERS, count)
    held = np.stack([(calls == call).sum(axis=1, dtype=np.int8) for call in order])
    longest = order[held.argmax(axis=0)]
    shown = np.full((count, 24), -1, dtype=np.int8)
    lanes = np.arange(count)
    for hour in range(cuts.clock.shape[1]):
        row = -(-cuts.turn // QUARTERS) + hour
        there = cuts.clock[:, hour] >= 0
        shown[lanes[there], cuts.clock[there, hour]] = longest[row[there], lanes[there]]
    return shown
