"""Where a field's run begins: cured hay at 14:00, a given moisture, or the cutting."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from hayweather.baling.calls import quarterly, rain_or_none
from hayweather.baling.clock import TURN_HOUR, Span, hour_index, local_hour, turn_of
from hayweather.baling.setting import Setting
from hayweather.weather.record import HOUR, Booleans, Floats, HourlyWeather
from hayweather.windrow.column import State
from hayweather.windrow.drying import HAND_OVER_DB, Swath, dry_down, hand_over, hand_over_state
from hayweather.windrow.forcing import Forcing, prepare
from hayweather.windrow.readings import Weights
from hayweather.windrow.starts import moisture_state
from hayweather.windrow.trajectory import QUARTER, QUARTERS
from hayweather.words import Remark

AFTERNOON_HOURS = range(12, 18)  # weather that begins here may start a run at once
SPIN_UP_BY = np.timedelta64(4 * 3600, "s")  # after 14:00: a start until 18:00 has the whole night
NEVER_CURED_WITHIN = np.timedelta64(36 * 3600, "s")  # of cutting, in the best weather (assumed)

# More rain than this in the day before 14:00 and hay is not in equilibrium with the air;
# the run then begins up to so many days earlier, where the weather reaches back (assumed).
RAINED_MM = 1.0
RAINED_HOURS = 24
MOST_DAYS_BACK = 4
CURED = {
    "between": "start_cured_between",
    "at": "start_cured_at",
    "from": "start_cured_from",
}
AGAIN = {
    "between": "start_again_between",
    "at": "start_again_at",
    "from": "start_again_from",
    "never": "start_again_never",
}
CURED_LEVELS = (0.1, 0.9)  # shares of the forecast runs between which hay is said to cure


@dataclass(frozen=True)
class Start:
    """How the run of one field begins.

    Attributes
    ----------
    starts
        States given for the start of an hour, for `hayweather.windrow.run.run`.
    equilibrium
        Hours in which an unknown windrow may start in equilibrium with the air,
        (hours, lanes).
    uncured
        Quarters that are not cured whatever the stem says, (4 * hours, lanes).
    swath_db
        Water of the drying swath at the hour starts [kg/kg], (hours + 1, lanes),
        as `hayweather.windrow.drying.dry_down` gives it; None where the hay is
        taken as cured.
    cured_hour
        First hour at whose start each lane is cured by the calculation, -1 where
        the weather ends before, (lanes,); None without a swath.
    again_hour
        The last hour in which it is; later where rain has made it wet again; the first
        where the swath is unknown in the end.
    remarks
        What people should know of this start.
    """

    starts: dict[int, State]
    equilibrium: Booleans
    uncured: Booleans
    swath_db: Floats | None
    remarks: tuple[Remark, ...]
    cured_hour: NDArray[np.int64] | None = None
    again_hour: NDArray[np.int64] | None = None

    def cured_when(self, begin: np.datetime64, weights: Weights) -> tuple[Remark, ...]:
        """Between which hours the forecast runs call the hay cured, eight in ten of them.

        Nothing where the hay is not followed from its cutting, or without runs.

        Parameters
        ----------
        begin
            UTC start of the run.
        weights
            How much each forecast run counts.
        """
        if self.cured_hour is None or self.again_hour is None or not weights.weights.any():
            return ()
        shares = weights.weights / weights.weights.sum()
        said = _between(CURED, begin, self.cured_hour, shares)
        rained = float(shares[self.again_hour != self.cured_hour].sum())
        if rained < CURED_LEVELS[0]:
            return said
        return (*said, *_between(AGAIN, begin, self.again_hour, shares))


def _between(
    keys: Mapping[str, str], begin: np.datetime64, hours: NDArray[np.int64], shares: Floats
) -> tuple[Remark, ...]:
    """Eight in ten of the hours of the runs; -1 is "not before the weather ends"."""
    counted = np.where(hours < 0, np.inf, hours)
    order = np.argsort(counted, kind="stable")
    passed = np.cumsum(shares[order])
    first, last = (
        counted[order][min(int(np.searchsorted(passed, level - 1e-9)), order.size - 1)]
        for level in CURED_LEVELS
    )
    never = f"{100 * float(shares[~np.isfinite(counted)].sum()):.0f}"
    if not np.isfinite(first):
        return (Remark(keys["never"]),) if "never" in keys else ()
    early = begin + int(first) * HOUR
    if not np.isfinite(last):
        return (Remark(keys["from"], {"time": early, "never": never}),)
    if first == last:
        return (Remark(keys["at"], {"time": early}),)
    return (Remark(keys["between"], {"first": early, "last": begin + int(last) * HOUR}),)


def first_hour(weather: HourlyWeather, setting: Setting, span: Span) -> int:
    """Index of the weather hour from which a field needs the weather."""
    field = setting.field
    if field.moisture_now_wb is not None:
        begin = span.start
    elif field.cured is None and field.cut_at is not None:
        begin = min(span.start, field.cut_at)
    else:
        begin = _before_rain(weather, setting, span)
    return max(hour_index(weather.start[0], begin), 0)


def _before_rain(weather: HourlyWeather, setting: Setting, span: Span) -> np.datetime64:
    """The last 14:00 from which a run has its night of spin-up and no rain in the day before."""
    rained = _rained(weather, setting)
    for days in range(MOST_DAYS_BACK + 1):
        begin = turn_of(span.evening - timedelta(days=1 + days), str(setting.site.timezone))
        hour = hour_index(weather.start[0], begin)
        if hour <= 0 or not rained[min(hour, weather.hours - 1)]:
            break
    return begin


def _rained(weather: HourlyWeather, setting: Setting) -> Booleans:
    """True in hours with more than `RAINED_MM` on this hay in the day before, (hours,)."""
    rain = np.nan_to_num(rain_or_none(weather)[:, 0])
    if setting.field.cut_at is not None:
        rain = np.where(weather.times()[:, 0] < setting.field.cut_at, 0.0, rain)
    fallen = np.concatenate([[0.0], np.cumsum(rain)])
    hours = np.arange(weather.hours)
    return np.asarray(fallen[hours] - fallen[np.maximum(hours - RAINED_HOURS, 0)] > RAINED_MM)


def start_of(weather: HourlyWeather, setting: Setting, span: Span) -> Start:
    """How the run of `setting` begins in `weather` (which begins where the run may).

    Parameters
    ----------
    weather
        Hours from `first_hour` on, any lanes.
    setting, span
        The field, and the hours asked for.
    """
    field = setting.field
    forcing = prepare(weather, setting.place)
    if field.moisture_now_wb is not None:
        return _from_moisture(weather, forcing, field.moisture_now_wb, setting, span)
    if field.cured is None and field.cut_at is not None:
        return _from_cutting(weather, forcing, setting, field.cut_at)
    return _from_afternoon(weather, setting, span)


def _nothing(weather: HourlyWeather) -> Booleans:
    return np.zeros((weather.hours, weather.lanes), dtype=bool)


def _before(weather: HourlyWeather, time: np.datetime64) -> Booleans:
    """True in quarters that begin before `time`."""
    quarters = weather.start[None, :] + np.arange(QUARTERS * weather.hours)[:, None] * QUARTER
    return np.asarray(quarters < time)


def _uncured_before_named(weather: HourlyWeather, setting: Setting) -> Booleans:
    """Quarters before the time that the grower named as cured."""
    cured = setting.field.cured
    return (
        _before(weather, cured)
        if isinstance(cured, np.datetime64)
        else quarterly(_nothing(weather))
    )


def _from_afternoon(weather: HourlyWeather, setting: Setting, span: Span) -> Start:
    """Cured hay: in equilibrium with the air at 14:00 local, the evening before if there is one."""
    may = _turns(weather, setting)
    begin = weather.start[0]
    remarks = []
    if begin > span.start and _clock(weather, setting)[0] in AFTERNOON_HOURS:
        if not may[0, 0]:
            remarks.append(Remark("start_off_hour", {"time": begin}))
        may[0] = True
    past = slice(0, hour_index(begin, span.first) + 1)
    known = np.flatnonzero(may[past, 0] & ~weather.missing()[past, 0])
    if known.size and begin + known[0] * HOUR > span.start + SPIN_UP_BY:
        remarks.insert(0, Remark("start_without_spin_up"))
    elif not known.size and np.any((_clock(weather, setting) == TURN_HOUR)[past] & ~may[past, 0]):
        remarks.append(Remark("start_after_rain"))
    elif not known.size and begin > span.start:
        remarks.append(Remark("start_too_late", {"time": begin}))
    return Start({}, may, _uncured_before_named(weather, setting), None, tuple(remarks))


def _clock(weather: HourlyWeather, setting: Setting) -> np.ndarray:
    """Hour of the local clock of each hour, (hours,)."""
    return local_hour(weather.times()[:, 0], str(setting.site.timezone))


def _turns(weather: HourlyWeather, setting: Setting) -> Booleans:
    """True in hours that begin at 14:00 local without rain in the day before, (hours, lanes)."""
    turns = (_clock(weather, setting) == TURN_HOUR) & ~_rained(weather, setting)
    return np.repeat(turns[:, None], weather.lanes, axis=1)


def _from_moisture(
    weather: HourlyWeather, forcing: Forcing, moisture_wb: float, setting: Setting, span: Span
) -> Start:
    """The whole windrow at the moisture that the grower measured, from the current hour on.

    Where the grower says that it is cured, the next 14:00 starts it anew after a gap.
    """
    hour = hour_index(weather.start[0], span.first)
    temperature, dew_point = forcing.temperature_c[hour], forcing.dew_point_c[hour]
    state = moisture_state(moisture_wb, moisture_wb, temperature, dew_point)
    remark = Remark("start_from_moisture", {"value": (moisture_wb, "percent"), "time": span.first})
    uncured = _uncured_before_named(weather, setting)
    may = _nothing(weather)
    if setting.field.cured is not None:
        may[hour + 1 :] = _turns(weather, setting)[hour + 1 :]
    return Start({hour: state}, may, uncured, None, (remark,))


def _from_cutting(
    weather: HourlyWeather, forcing: Forcing, setting: Setting, cut_at: np.datetime64
) -> Start:
    """A swath that dries from its cutting until the windrow model takes over at 20 %.

    Each lane at its own hour, by the drying factor of its windrow. Rain that
    makes it wet again gives it back to the swath's account until it is dry again.
    """
    cut_hour = hour_index(weather.start[0], cut_at)
    if cut_hour < 0:
        remark = Remark("start_cut_before_weather", {"time": cut_at, "first": weather.start[0]})
        uncured = _before(weather, cut_at + NEVER_CURED_WITHIN)
        return Start({}, _nothing(weather), uncured, None, (remark,))
    if cut_hour >= weather.hours:
        remark = Remark("start_not_cut", {"time": cut_at})
        return Start({}, _nothing(weather), quarterly(~_nothing(weather)), None, (remark,))
    swath = _dry_down(weather, forcing, setting, cut_hour)
    wet = _wet_hours(swath)
    wet[:cut_hour] = True
    starts = {}
    dry = ~wet & (swath[:-1] <= HAND_OVER_DB)
    takes_over = dry & np.concatenate([np.ones_like(dry[:1]), wet[:-1]])
    for hour in np.flatnonzero(takes_over.any(axis=1)).tolist():
        state = hand_over_state(forcing, hour, setting.windrow)
        starts[hour] = State(*(np.where(takes_over[hour], part, np.nan) for part in state))
    ready = hand_over(swath)
    ready = np.where(ready < weather.hours, ready, -1)  # dry only at the end of the last hour
    again = np.where(dry[-1], weather.hours - 1 - takes_over[::-1].argmax(axis=0), -1)
    again = np.where(np.isfinite(swath[-1]), again, ready)  # nobody knows that it rains
    remark = Remark("start_from_cutting")
    if ready[0] < 0 and np.isfinite(swath[-1, 0]):
        remark = Remark("start_still_drying")
    elif ready[0] < 0:
        remark = Remark("start_drying_unknown")
    return Start(
        starts,
        _nothing(weather),
        quarterly(wet),
        swath,
        (remark,),
        cured_hour=ready,
        again_hour=again,
    )


def _wet_hours(swath_db: Floats) -> Booleans:
    """Hours in which a swath is not cured: drying yet, or wet again by a shower, (hours, lanes)."""
    known = np.isfinite(swath_db[1:])
    wet = np.maximum(swath_db[:-1], swath_db[1:]) > HAND_OVER_DB
    return np.asarray(known & wet)


def _dry_down(weather: HourlyWeather, forcing: Forcing, setting: Setting, cut_hour: int) -> Floats:
    """The drying swath, unknown after any missing value: a blank rain is not "no rain"."""
    swath = dry_down(forcing, swath_of(setting, weather.start[0], cut_hour), setting.windrow)
    gaps = weather.missing()
    gaps[:cut_hour] = False
    swath[1:][np.logical_or.accumulate(gaps, axis=0)] = np.nan
    return swath


def swath_of(setting: Setting, begin: np.datetime64, cut_hour: int) -> Swath:
    """How the swath of a field lies: as cut, and from its raking or merging on as the windrow.

    Parameters
    ----------
    setting
        The field; its windrow may have a mass for each lane.
    begin
        UTC start of the run.
    cut_hour
        Hour of the run in which it was cut.
    """
    field = setting.field
    raked = None if field.raked_at is None else hour_index(begin, field.raked_at)
    return Swath(
        cut_hour,
        swath_density_kg_m2(setting),
        raked,
        setting.windrow.dry_matter_kg_m2,
        field.conditioned,
    )


SWATH_KG_M2 = 0.45  # where widths are not given: about 70 % of the cut width covered (assumed)


def swath_density_kg_m2(setting: Setting) -> float | Floats:
    """Dry matter per area of the swath before raking [kg/m2], as the lanes' windrows are heavy.

    The windrow's, spread back over the swaths raked together.
    """
    field = setting.field
    if field.swath_width_m and field.windrow_width_m:
        spread = field.windrow_width_m / (field.swath_width_m * field.swaths_per_windrow)
    else:
        spread = SWATH_KG_M2 / field.windrow_mass_kg_m2
    return setting.windrow.dry_matter_kg_m2 * spread
