"""Whether a station is to be believed: the judge of all weather, and checks of its sensors.

What a check leaves out is blank in what comes back, and said; the rest serves. Each has a
name that stands in its text ``sensor_<name>``:

=========  ================================================================
check      what is left out
=========  ================================================================
clock      all of it: values of the future, or the day of the forecast two
           hours or more away
apart      all of it: hours of air that is not the field's
judged     all of it: what the judge of all weather refuses
stuck      a value that stands still while the air moves
jump       values after a leap that the forecast does not know, until they
           come back; all of it where it leaps often
sun        air and dew point by day, where the sun heats the sensor
stale      nothing, but it serves only hours that no forecast has
=========  ================================================================

All limits are assumed.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

import numpy as np

from hayweather.errors import HayweatherError, WeatherFileError
from hayweather.farm.records import Site
from hayweather.weather.judge import judged
from hayweather.weather.observed import Observed
from hayweather.weather.record import HOUR, Booleans, Floats, HourlyWeather, Times
from hayweather.windrow.sky import sun_elevation
from hayweather.words import Remark

AIR, DEW, WIND = "air_temperature_c", "dew_point_c", "wind_speed_m_s"
DAY = np.timedelta64(24 * 3600, "s")
AHEAD = np.timedelta64(900, "s")
"""A clock that is right may run so far ahead."""
LOOKED_BACK = np.timedelta64(48 * 3600, "s")
LEAST_CLOCK_HOURS, MOST_SHIFT_H = 18, 12
SHIFT_GAIN_K, SHIFT_SHARE = 1.5, 0.6
"""A shift of two hours or more is one where it fits the forecast better by so much [K], and the
error left is less than this share of that of the clock as it is."""
APART_K = {AIR: 9.0, DEW: 12.0}
"""A median over the last hours further from the forecast is not the field's air."""
APART_OVER = np.timedelta64(6 * 3600, "s")
STUCK_OVER, STUCK_MOVES_K = np.timedelta64(4 * 3600, "s"), 3.0
STUCK_WIND_OVER, STUCK_WIND_M_S = np.timedelta64(6 * 3600, "s"), 2.0
STUCK_WITHIN = {AIR: 0.06, DEW: 0.06, WIND: 0.03}
"""A value that stays within this while the forecast moves by `STUCK_MOVES_K` is stuck; calm at
night is none while the forecast too has less than `STUCK_WIND_M_S`."""
STUCK_HUMIDITY = 1.0
STUCK_HUMIDITY_MOVES, HUMIDITY_EACH_K = 5.0, 0.06
"""Humidity in whole points stands still by itself in dry air: it is stuck only where the air moves
so far that the same vapor would move it by so many points, 6 % of itself each K."""
JUMP_K = {AIR: 8.0, DEW: 9.0}
JUMP_WITHIN = np.timedelta64(3600, "s")
MOST_LEAPS, LEAPS_OVER = 3, np.timedelta64(24 * 3600, "s")
"""A sensor that leaps so often in a day is broken, or its contact loose."""
SUN_UP_RAD = np.deg2rad(15.0)
SUN_HEATS_K, SUN_LEAST_ROWS = 3.5, 3
SUN_GOES = np.timedelta64(3600, "s")
"""By day so much warmer against the forecast than by night; a shield cools in an hour."""


def checked(
    observed: Observed,
    forecast: HourlyWeather,
    site: Site,
    now: np.datetime64,
    believe: Collection[str] = (),
    clock: np.datetime64 | None = None,
    by_sun: bool = True,
) -> Observed:
    """A station with what is not to be believed left out, and said.

    Parameters
    ----------
    observed
        As it was read.
    forecast
        Of the same place; its first lane is compared.
    site
        Where the field lies.
    now
        UTC.
    believe
        Checks of the judge that shall not refuse.
    clock
        UTC time on the wall, where that is not `now`: what was measured between the two
        is not looked at, what is later than both is a clock that is wrong.
    by_sun
        Whether a sensor in the sun is looked for.
    """
    if observed.refused is not None:
        return observed
    ahead, wall = observed.last, now if clock is None else max(clock, now)
    if ahead is not None and ahead > wall + AHEAD:
        minutes = float((ahead - wall) / np.timedelta64(60, "s"))
        return observed.left_out(Remark("sensor_clock_ahead", {"minutes": f"{minutes:.0f}"}))
    observed = observed.until(now)
    if observed.last is None:
        return observed.left_out(Remark("sensor_nothing"))
    shift = _shift(observed, forecast, now)
    if shift:
        return observed.left_out(Remark("sensor_clock", {"hours": f"{shift:+d}"}))
    apart = _apart(observed, forecast)
    if apart is not None:
        return observed.left_out(apart)
    try:
        as_weather = observed.as_weather()
        if as_weather is not None:
            judged(as_weather, site, WeatherFileError, believe)
    except HayweatherError as refusal:
        why = refusal.values.get("why")
        told = why if isinstance(why, Remark) else Remark(f"error_{refusal.key}", refusal.values)
        return observed.left_out(Remark("sensor_judged", {"why": told}))
    for check in (_stuck, _jumped, *([_sun_heated] if by_sun else [])):
        observed = check(observed, forecast, site)
        if observed.refused is not None:
            return observed
    if observed.last is None:
        why = observed.notes[-1] if observed.notes else Remark("sensor_nothing")
        return observed.left_out(why)
    if observed.is_stale(now):
        hours = float((now - observed.last) / HOUR)
        older = ahead is not None and observed.last < min(ahead, now) - AHEAD
        key = "sensor_stale_sound" if older else "sensor_stale"
        note = Remark(key, {"hours": f"{hours:.0f}", "time": observed.last})
        return replace(observed, fills_only=True, notes=(*observed.notes, note))
    return observed


def checked_days(
    observed: Observed, forecast: HourlyWeather, site: Site, believe: Collection[str] = ()
) -> Observed:
    """A long record with what is not to be believed left out, day by day, and said.

    Every day is checked together with the one before it, as a station is in a night, so that
    one bad day costs itself alone. Sun on the sensor is looked for over the whole record: a
    forecast that was wrong one afternoon shall not pass for it. `notes` hold each check once
    with the ``days`` that it cost, as ``sensor_days``.

    Parameters
    ----------
    observed
        As it was read.
    forecast
        Of the same hours; NaN where there is none.
    site, believe
        As in `checked`.
    """
    if observed.refused is not None or not observed.times.size:
        return observed
    columns = {name: np.full(observed.times.size, np.nan) for name in observed.columns}
    cost: dict[str, tuple[Remark, int]] = {}
    first = observed.times[0].astype("datetime64[D]").astype("datetime64[s]")
    for number in range(int((observed.times[-1] - first) // DAY) + 1):
        end = first + (number + 1) * DAY
        rows = (observed.times >= end - LOOKED_BACK) & (observed.times < end)
        own = observed.times[rows] >= end - DAY
        if not own.any():
            continue
        part = replace(
            observed, times=observed.times[rows], rain_start=None, rain_mm=np.zeros(0),
            columns={name: values[rows] for name, values in observed.columns.items()},
        )  # fmt: skip
        found = checked(part, forecast, site, end, believe, end, by_sun=False)
        notes = found.notes if found.refused is None else (found.refused,)
        for note in notes:
            if note.key not in ("sensor_stale", "sensor_stale_sound", "sensor_nothing"):
                why, days = cost.get(note.key, (note, 0))
                cost[note.key] = (why, days + 1)
        if found.refused is None:
            for name, values in found.columns.items():
                columns[name][np.flatnonzero(rows)[own]] = values[-int(own.sum()) :]
    whole = replace(observed, columns=columns)
    whole = _sun_over(whole, forecast, site)
    told = [Remark("sensor_days", {"why": why, "days": days}) for why, days in cost.values()]
    return replace(whole, notes=(*whole.notes, *told))


def _sun_over(observed: Observed, forecast: HourlyWeather, site: Site) -> Observed:
    """A long record without the air of its days, where the sun warms the sensor on most."""
    height = sun_elevation(observed.times[:, None], site.latitude, site.longitude)[:, 0]
    off = _off(observed, forecast, AIR)
    known = ~np.isnan(off)
    day, night = off[known & (height > SUN_UP_RAD)], off[known & (height < 0)]
    if min(day.size, night.size) < SUN_LEAST_ROWS:
        return observed
    heated = float(np.median(day) - np.median(night))
    if heated < SUN_HEATS_K:
        return observed
    lit = observed.times[height > 0]
    since = np.searchsorted(lit, observed.times, side="right") - 1
    near = (since >= 0) & (observed.times - lit[np.maximum(since, 0)] < SUN_GOES)
    value = (heated, "temperature_difference")
    return _leave(observed, near, (AIR, DEW), Remark("sensor_sun", {"off": value}))


def at_times(forecast: HourlyWeather, name: str, times: Times) -> Floats:
    """A column of the forecast's first lane at any times; NaN where it does not reach."""
    values = forecast.get(name)
    if values is None or forecast.hours < 1:
        return np.full(times.size, np.nan)
    at = (times - forecast.start[0]) / HOUR
    row = np.clip(np.floor(at).astype(np.int64), 0, forecast.hours - 1)
    later = np.minimum(row + 1, forecast.hours - 1)
    share = np.clip(at - row, 0.0, 1.0)
    line = np.where(
        share == 0, values[row, 0], values[row, 0] * (1 - share) + values[later, 0] * share
    )
    return np.where((at < 0) | (at > forecast.hours), np.nan, line)


def _off(observed: Observed, forecast: HourlyWeather, name: str) -> Floats:
    """Measured less forecast, (rows,)."""
    values = observed.columns.get(name)
    if values is None:
        return np.full(observed.times.size, np.nan)
    return values - at_times(forecast, name, observed.times)


def _shift(observed: Observed, forecast: HourlyWeather, now: np.datetime64) -> int:
    """Hours that the clock must be set on to fit the forecast; 0 where it is right."""
    first = (now - LOOKED_BACK).astype("datetime64[h]").astype("datetime64[s]")
    wide = int(LOOKED_BACK / HOUR)
    measured = observed.on_hours(first, wide + 1).get(AIR)
    if measured is None:
        return 0
    errors = {}
    for shift in range(-MOST_SHIFT_H, MOST_SHIFT_H + 1):
        hours = first + (np.arange(wide + 1) + shift) * HOUR
        off = measured - at_times(forecast, AIR, hours)
        if int((~np.isnan(off)).sum()) >= LEAST_CLOCK_HOURS:
            errors[shift] = float(np.nanstd(off))
    if 0 not in errors:
        return 0
    best = min(errors, key=lambda shift: (errors[shift], abs(shift)))
    much = errors[0] - errors[best] > SHIFT_GAIN_K and errors[best] < SHIFT_SHARE * errors[0]
    return best if abs(best) >= 2 and much else 0


def _apart(observed: Observed, forecast: HourlyWeather) -> Remark | None:
    """Why its air of the last hours is not the field's; None where it may be."""
    assert observed.last is not None
    lately = observed.times > observed.last - APART_OVER
    for name, most in APART_K.items():
        off = _off(observed, forecast, name)[lately]
        off = off[~np.isnan(off)]
        if off.size and abs(float(np.median(off))) > most:
            value = (abs(float(np.median(off))), "temperature_difference")
            return Remark("sensor_apart_air" if name == AIR else "sensor_apart_dew", {"off": value})
    return None


def _runs(same: Booleans) -> list[tuple[int, int]]:
    """First and last row of every run of rows that are the same as the one before."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], same, [False]]).astype(np.int8)))
    return [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _still(observed: Observed, values: Floats, within: float) -> list[Booleans]:
    """Rows of every stretch over which values stay, (rows,) each; blanks do not end one."""
    known = np.flatnonzero(~np.isnan(values))
    if known.size < 3:
        return []
    held = values[known]
    same = np.concatenate([[False], np.abs(np.diff(held)) <= within])
    # A slow drift is no standing still: within a stretch all values are alike.
    found = []
    for first, last in _runs(same):
        begin = max(first - 1, 0)
        if np.ptp(held[begin : last + 1]) <= 2 * within:
            rows = np.zeros(values.size, dtype=bool)
            rows[known[begin] : known[last] + 1] = True
            found.append(rows)
    return found


def _stuck(observed: Observed, forecast: HourlyWeather, site: Site) -> Observed:
    """Without values that stand still while the air of the forecast moves."""
    air, dew = observed.columns.get(AIR), observed.columns.get(DEW)
    if air is None or dew is None:
        return observed
    kinds: list[tuple[str, Floats, float, tuple[str, ...]]] = [
        ("sensor_stuck_air", air, STUCK_WITHIN[AIR], (AIR, DEW)),
        ("sensor_stuck_humidity", _humidity(air, dew), STUCK_HUMIDITY, (DEW,)),
    ]
    for key, values, within, names in kinds:
        for rows in _still(observed, values, within):
            times = observed.times[rows]
            moved = at_times(forecast, AIR, times)
            long = times[-1] - times[0] >= STUCK_OVER
            fog = key == "sensor_stuck_humidity" and np.nanmedian(values[rows]) > 97.5
            moves = not np.isnan(moved).all() and np.nanmax(moved) - np.nanmin(moved)
            if key == "sensor_stuck_humidity":
                shows = HUMIDITY_EACH_K * moves * float(np.nanmedian(values[rows]))
                long = long and shows >= STUCK_HUMIDITY_MOVES
            if long and not fog and moves >= STUCK_MOVES_K:
                observed = _leave(observed, rows, names, Remark(key, {"time": times[0]}))
    wind = observed.columns.get(WIND)
    for rows in [] if wind is None else _still(observed, wind, STUCK_WITHIN[WIND]):
        times = observed.times[rows]
        blows = at_times(forecast, WIND, times)
        calm = np.isnan(blows).all() or np.nanmean(blows) < STUCK_WIND_M_S
        if times[-1] - times[0] >= STUCK_WIND_OVER and not calm:
            note = Remark("sensor_stuck_wind", {"time": times[0]})
            observed = _leave(observed, rows, (WIND,), note)
    return observed


def _humidity(air_c: Floats, dew_point_c: Floats) -> Floats:
    """Relative humidity [%] in whole numbers, to the accuracy that standing still needs."""
    from hayweather.weather.air import vapor_pressure_from_dew_point

    vapor, most = (vapor_pressure_from_dew_point(values) for values in (dew_point_c, air_c))
    return np.asarray(np.round(100.0 * vapor / most))


def _leave(observed: Observed, rows: Booleans, names: tuple[str, ...], why: Remark) -> Observed:
    """Without the rows of some columns, and why; what a check said before is not said again."""
    notes = observed.notes
    if all(note.key != why.key for note in notes):
        notes = (*notes, why)
    return replace(observed.without(rows, *names), notes=notes)


def _jumped(observed: Observed, forecast: HourlyWeather, site: Site) -> Observed:
    """Without the values after a leap that the forecast does not know, until they come back."""
    rows = np.zeros(observed.times.size, dtype=bool)
    for name, most in JUMP_K.items():
        off = _off(observed, forecast, name)
        before, when = np.nan, observed.times[:1]
        for row in np.flatnonzero(~np.isnan(off)).tolist():
            near = when.size and observed.times[row] - when[0] <= 6 * JUMP_WITHIN
            if not np.isnan(before) and near and abs(off[row] - before) > most:
                rows[row] = True
                continue
            before, when = float(off[row]), observed.times[row : row + 1]
    if not rows.any():
        return observed
    leaps = int((np.diff(rows.astype(np.int8), prepend=0) == 1)[
        observed.times > observed.times[-1] - LEAPS_OVER].sum())  # fmt: skip
    if leaps >= MOST_LEAPS:
        return observed.left_out(Remark("sensor_jumps", {"count": f"{leaps}"}))
    note = Remark("sensor_jump", {"time": observed.times[rows][0], "count": f"{int(rows.sum())}"})
    return _leave(observed, rows, (AIR, DEW), note)


def _sun_heated(observed: Observed, forecast: HourlyWeather, site: Site) -> Observed:
    """Without the air of the day, where the sun warms the sensor against forecast and night."""
    off = _off(observed, forecast, AIR)
    known = ~np.isnan(off)
    height = sun_elevation(observed.times[:, None], site.latitude, site.longitude)[:, 0]
    lately = observed.times > observed.times[-1] - LOOKED_BACK
    day, night = known & lately & (height > SUN_UP_RAD), known & lately & (height < 0)
    if int(day.sum()) < SUN_LEAST_ROWS:
        return observed
    usual = float(np.median(off[night])) if int(night.sum()) >= SUN_LEAST_ROWS else 0.0
    heated = float(np.median(off[day]))
    if heated - usual < SUN_HEATS_K or heated < SUN_HEATS_K / 2:
        return observed
    up = height > 0
    gone = np.array([bool(up[(observed.times <= t) & (observed.times > t - SUN_GOES)].any())
                     for t in observed.times])  # fmt: skip
    value = (heated - usual, "temperature_difference")
    return _leave(observed, up | gone, (AIR, DEW), Remark("sensor_sun", {"off": value}))
