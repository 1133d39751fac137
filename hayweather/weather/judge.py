"""The one gate: every series, from a file, a service or a table, passes `judged`.

It refuses what cannot be weather of the site, with the evidence in one line,
and notes what may be wrong. What a sensor's noise explains is repaired before,
by name (`hayweather.weather.quality`). Checks have names
(`hayweather.weather.catalog.CHECKS`): one that the farm file believes cautions
where it would refuse. A number that is not possible has no such word.

==========  ===============================================================
check       what is compared
==========  ===============================================================
clock       sun against the height of the sun; without sun the warm time of
            the day
sun         sun at night; a day's sun against the sun above the atmosphere
humidity    humidity against dew point and air; one that never moves
units       air against season, latitude and height; its daily range; gust
            against wind; rain of an hour
place       distance from the site
height      height against the site
==========  ===============================================================
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from hayweather.errors import HayweatherError, WeatherFileError
from hayweather.farm.records import Site
from hayweather.farm.zones import distance_km
from hayweather.weather.air import vapor_pressure_from_dew_point
from hayweather.weather.quality import DEW_POINT_NOISE_K, RANGES, first_outside, stuck_runs
from hayweather.weather.record import HOUR, Assumption, Booleans, Floats, HourlyWeather, Times
from hayweather.windrow.sky import DAY_S, day_and_second, extraterrestrial_shortwave, sun_sine
from hayweather.words import Remark

LONGEST_KM, LONGEST_M = 50.0, 600.0
"""A grid cell further from the site, or higher or lower, is another place (assumed)."""
TOLD_KM, TOLD_M = 10.0, 150.0
LEAST_HOURS = 36
MOST_HOURS = 366 * 24
REFUSED_SHIFT_H = 2
NIGHT_SUN_W_M2 = 100.0
BELOW_HORIZON_SINE = np.sin(np.deg2rad(-6.0))
LEAST_FIT, HOUR_FIT = 0.8, 0.9
GAIN, HOUR_GAIN = 0.06, 0.025
"""How well a shifted clock must fit the sun (correlation), and how much better than the clock as
it is, to be refused and, at one hour, to be noted. A true clock of ten real years fits at 0.89 to
0.95; two hours off on clear days lose 0.14, one hour 0.03 (measured on the recorded files)."""
WARMEST_SOLAR_HOUR, DAY_CLOCK_H, LEAST_SWING_K = 14.75, 4.0, 4.0
"""Hour of the warmest air by the sun, how far it may lie off, and the least daily swing (half its
range) that tells it: common practice, no source."""
MOST_CLEARNESS, LEAST_CLEARNESS, LEAST_SUN_ABOVE_W_M2 = 0.95, 0.015, 100.0
"""A day's sun over that above the atmosphere: 0.75 where it is clear, 0.25 where overcast (FAO
Irrigation and Drainage Paper 56, equations 35 and 36), down to a few hundredths under thick cloud.
The upper limit lies beyond what air lets through; the lower one between the darkest days and
another unit, which is at least 278 times too small (MJ/m2, kW/m2; assumed). It holds for the mean
of all whole days, where there is sun to speak of."""
HUMIDITY_APART, HUMIDITY_SHARE, HUMIDITY_DAY = 12.0, 0.25, 0.5
"""Humidity may differ by so much [% RH] from what air and dew point give, beyond it in so large a
share of hours, and of a day's hours, at most: two sensors of 3 % and 0.5 K and an hour's mean
differ by 8 (assumed)."""
CONSTANT_H, CONSTANT_SWING_K = 24, 8.0
"""Humidity that stays the same for so long while the air swings by so much is none: at constant
vapor it falls by 6 to 7 % of itself a kelvin (Clausius-Clapeyron); the limits are assumed."""
ZONAL_MEAN_C, ZONAL_LATITUDE_C = 14.9, -28.0
"""Annual mean at sea level, ``a + b P2(sin latitude)`` (North, Cahalan and Coakley, Energy balance
climate models, Reviews of Geophysics 19, 1981; from memory)."""
SEASON_K_DEGREE, LAG_DAYS, LAPSE_K_M = 0.3, 30.0, 0.005
"""Half the range of the year over land per degree of latitude, how late it is behind the sun, and
how much colder higher places are (assumed; air of a high plain is warmer than free air, whose
standard lapse is 6.5 K/km, ISO 2533)."""
COLDER_K, COLDER_IN_WINTER_K, WARMER_K = 15.0, 30.0, 18.0
"""How far the mean of a series of days may lie off that (assumed): a week of four standard
deviations of a day's mean, 4 K in summer and 8 K in a continental winter."""
MOST_DAILY_RANGE_K = 28.0
"""Mean daily range; 20 to 22 K in the driest valleys (common knowledge, no source)."""
GUST_LOW, GUST_HIGH, GUST_WIND_M_S = 0.9, 3.2, 2.0
"""Gust over wind, its median where wind blows: about 1.3 to 1.7 at airports (from memory). A gust
is never below the mean; in another unit the ratio is 0.7 or 3.4."""
MOST_RAIN_MM = 100.0
"""Of an hour: the hour of a hundred years at the Gulf coast is about 115 mm, in the dry West 25 to
50 mm (NOAA Atlas 14, from memory)."""


@dataclass(frozen=True)
class Doubt:
    """What a check found.

    Attributes
    ----------
    check
        One of `hayweather.weather.catalog.CHECKS`.
    why
        The evidence.
    refused
        False for what is only noted: `why` is then an `Assumption`.
    """

    check: str
    why: Remark
    refused: bool = True


def judged(
    weather: HourlyWeather,
    site: Site | None,
    refusal: type[HayweatherError] = WeatherFileError,
    believe: Collection[str] = (),
) -> HourlyWeather:
    """The weather, with a note on what may be wrong with it.

    Parameters
    ----------
    weather
        Of any origin.
    site
        Where it is to serve; None where nobody knows: then only what is not
        possible anywhere is refused.
    refusal
        The kind of error, which gives the exit code: 2 for files, 3 for services.
    believe
        Checks that shall note what they would refuse.

    Raises
    ------
    HayweatherError
        Of that kind, with what was seen, where and what to do.
    """
    _possible(weather, refusal)
    if site is None:
        return weather
    notes: list[Assumption] = []
    for doubt in doubts_of(weather, site):
        if doubt.refused and doubt.check not in believe:
            raise refusal(
                "judged", weather.source.name, why=doubt.why,
                advice=Remark(f"judge_advice_{doubt.check}"), check=doubt.check,
            )  # fmt: skip
        if doubt.refused:
            notes.append(Assumption("believed", {"check": doubt.check, "why": doubt.why}))
        else:
            notes.append(Assumption(doubt.why.key, doubt.why.values))
    new = tuple(note for note in notes if note not in weather.assumed)
    if not new and weather.humidity_percent is None:
        return weather
    return replace(weather, assumed=(*weather.assumed, *new), humidity_percent=None)


def doubts_of(weather: HourlyWeather, site: Site) -> Iterator[Doubt]:
    """All that speaks against a weather at a site, check by check."""
    yield from _place(weather, site)
    seen = _Seen.of(weather, site)
    yield from _humidity(seen)
    yield from _units(seen)
    if not weather.typical_year:
        yield from _clock(seen)


@dataclass(frozen=True)
class _Seen:
    """What the checks look at: the first lane, a year at most, and its site.

    Attributes
    ----------
    times
        UTC, (hours,).
    columns
        ``{column: (hours,)}``; NaN where missing.
    days
        Hours of the whole days of the site by the sun, (days, 24), indexes.
    """

    weather: HourlyWeather
    site: Site
    times: Times
    columns: dict[str, Floats]
    days: np.ndarray = field(default_factory=lambda: np.zeros((0, 24), dtype=np.int64))

    @classmethod
    def of(cls, weather: HourlyWeather, site: Site) -> _Seen:
        """The first lane of a weather."""
        hours = min(weather.hours, MOST_HOURS)
        times = weather.start[0] + np.arange(hours) * HOUR
        sun_hour = (times[0] - times[0].astype("datetime64[D]")) / HOUR + site.longitude / 15
        first = int(np.ceil(-sun_hour % 24)) % 24
        count = max((hours - first) // 24, 0)
        days = first + np.arange(24 * count).reshape(count, 24)
        columns = {name: values[:hours, 0] for name, values in weather.columns.items()}
        return cls(weather, site, times, columns, days)

    def get(self, name: str) -> Floats | None:
        """A column, (hours,); None where there is none."""
        return self.columns.get(name)

    def when(self, hour: int) -> str:
        """The time of an hour, UTC, for a message."""
        return str(self.times[hour].astype("datetime64[m]")).replace("T", " ")


def _place(weather: HourlyWeather, site: Site) -> Iterator[Doubt]:
    """The place that the weather speaks of against the site; a station is never refused."""
    far = weather.source.measured or weather.typical_year
    if weather.latitude is not None and weather.longitude is not None:
        km = distance_km(weather.latitude, weather.longitude, site.latitude, site.longitude)
        if km > LONGEST_KM and not far:
            yield Doubt("place", Remark("judge_place", {"km": f"{km:.0f}", "site": site.name}))
        elif km > TOLD_KM:
            place = f"{weather.latitude:.2f}, {weather.longitude:.2f}"
            shown: dict[str, object] = {"place": place, "km": f"{km:.0f}"}
            yield Doubt("place", Assumption("place_differs", shown), refused=False)
    there, here = weather.elevation_m, site.elevation_m
    if there is None or here is None or abs(there - here) <= TOLD_M:
        return
    values: dict[str, object] = {"there": f"{there:.0f}", "here": f"{here:.0f}"}
    if abs(there - here) > LONGEST_M and not far:
        yield Doubt("height", Remark("judge_height", {**values, "site": site.name}))
    else:
        heights: dict[str, object] = {"service": (there, "elevation"), "site": (here, "elevation")}
        yield Doubt("height", Assumption("elevation_differs", heights), refused=False)


def _possible(weather: HourlyWeather, refusal: type[HayweatherError]) -> None:
    """Every value within what is possible, the dew point within noise of the air."""
    for name, values in weather.columns.items():
        place = first_outside(values.ravel(), name)
        if place is not None:
            low, high = RANGES[name]
            raise refusal(
                "judge_range", weather.source.name, column=name,
                value=f"{values.ravel()[place]:g}", time=_shown(weather, place),
                low=f"{low:g}", high=f"{high:g}",
            )  # fmt: skip
    air, dew = weather.columns["air_temperature_c"], weather.columns["dew_point_c"]
    with np.errstate(invalid="ignore"):
        above = (dew - air > DEW_POINT_NOISE_K + 1e-9).ravel()
    if above.any():
        place = int(above.argmax())
        raise refusal(
            "judge_dew_point", weather.source.name, dew=f"{dew.ravel()[place]:.1f}",
            air=f"{air.ravel()[place]:.1f}", time=_shown(weather, place),
        )  # fmt: skip


def _shown(weather: HourlyWeather, place: int) -> str:
    """The time of a value of a raveled column, for a message."""
    hour, lane = divmod(place, weather.lanes)
    return str((weather.start[lane] + hour * HOUR).astype("datetime64[m]")).replace("T", " ")


def _humidity(seen: _Seen) -> Iterator[Doubt]:
    """Humidity against dew point and air, and one that never moves."""
    air, dew = seen.columns["air_temperature_c"], seen.columns["dew_point_c"]
    worked_out = _humidity_of(air, dew)
    given = seen.weather.humidity_percent
    if given is not None and given.shape == seen.weather.basis.shape:
        said = given[: air.size, 0]
        with np.errstate(invalid="ignore"):
            known = ~np.isnan(said + worked_out) & (air > 0)
            apart = known & (np.abs(said - worked_out) > HUMIDITY_APART)
        whole_day = (known[seen.days].sum(axis=1) >= 12) & (
            apart[seen.days].sum(axis=1) > HUMIDITY_DAY * known[seen.days].sum(axis=1)
        )
        enough = int(known.sum()) >= 6
        if enough and (apart.sum() > HUMIDITY_SHARE * known.sum() or whole_day.any()):
            hour = int(apart.argmax())
            values: dict[str, object] = {
                "hours": int(apart.sum()), "of": int(known.sum()), "said": f"{said[hour]:.0f}",
                "found": f"{worked_out[hour]:.0f}", "air": f"{air[hour]:.1f}",
                "dew": f"{dew[hour]:.1f}", "time": seen.when(hour),
            }  # fmt: skip
            yield Doubt("humidity", Remark("judge_humidity_apart", values))
    for first, hours in stuck_runs(np.round(worked_out), CONSTANT_H):
        run = air[first : first + hours]
        level = worked_out[first]
        if 2 * hours >= air.size and level < 99 and np.ptp(run) >= CONSTANT_SWING_K:
            found: dict[str, object] = {
                "value": f"{level:.0f}", "hours": hours, "swing": f"{np.ptp(run):.0f}",
            }  # fmt: skip
            yield Doubt("humidity", Remark("judge_humidity_constant", found))
            return


def _humidity_of(air_c: Floats, dew_point_c: Floats) -> Floats:
    """Relative humidity [%] of air and dew point, to the accuracy that a check needs."""
    vapor, most = (vapor_pressure_from_dew_point(values) for values in (dew_point_c, air_c))
    return 100.0 * vapor / most


def _units(seen: _Seen) -> Iterator[Doubt]:
    """Air against the season and its daily range, gust against wind, rain of an hour."""
    yield from _season(seen)
    gust, wind = seen.get("wind_gust_m_s"), seen.columns["wind_speed_m_s"]
    if gust is not None:
        with np.errstate(invalid="ignore"):
            blows = (wind >= GUST_WIND_M_S) & (gust > 0)  # 0: no gust was reported
        if int(blows.sum()) >= LEAST_HOURS // 4:
            ratio = float(np.median(gust[blows] / wind[blows]))
            if not GUST_LOW <= ratio <= GUST_HIGH:
                values: dict[str, object] = {"ratio": f"{ratio:.2f}", "hours": int(blows.sum())}
                yield Doubt("units", Remark("judge_gust", values))
    rain = seen.get("rain_mm")
    if rain is not None and np.any(np.nan_to_num(rain) > MOST_RAIN_MM):
        hour = int(np.nan_to_num(rain).argmax())
        shown: dict[str, object] = {"value": f"{rain[hour]:.0f}", "time": seen.when(hour)}
        yield Doubt("units", Remark("judge_rain", shown))


def usual_air_c(times: Times, site: Site) -> tuple[Floats, Floats]:
    """Air that is usual at a site [C], and how warm the season is, -1 to 1, both (hours,).

    Mean of the day and night; of the plain that lies as high as the site.

    Parameters
    ----------
    times
        UTC, (hours,).
    site
        Its latitude, and elevation where it is known.
    """
    sine = np.sin(np.deg2rad(site.latitude))
    annual = ZONAL_MEAN_C + ZONAL_LATITUDE_C * (3 * sine**2 - 1) / 2
    number, second = day_and_second(times)
    day = number - 1 + second / DAY_S
    season = np.cos(2 * np.pi * (day - 171 - LAG_DAYS) / 365.25) * (-1 if sine < 0 else 1)
    colder = LAPSE_K_M * (site.elevation_m or 0.0)
    return annual + SEASON_K_DEGREE * abs(site.latitude) * season - colder, season


def _season(seen: _Seen) -> Iterator[Doubt]:
    """The mean of the air against what is usual, read as it is and in the other unit."""
    air = seen.columns["air_temperature_c"]
    usual, season = usual_air_c(seen.times, seen.site)
    known = ~np.isnan(air)
    if (known & (season > 0)).sum() >= LEAST_HOURS:
        known &= season > 0
    if int(known.sum()) < LEAST_HOURS:
        return
    mean, wanted = float(air[known].mean()), float(usual[known].mean())
    coldest = COLDER_K if season[known].mean() > 0 else COLDER_IN_WINTER_K

    def fits(value: float) -> bool:
        return -coldest <= value - wanted <= WARMER_K

    values: dict[str, object] = {"mean": f"{mean:.0f}", "usual": f"{wanted:.0f}"}
    others = {"°F": mean * 1.8 + 32, "°C": (mean - 32) / 1.8}
    if not fits(mean):
        for heading, other in others.items():
            if fits(other):
                shown = {**values, "heading": heading, "other": f"{other:.0f}"}
                shown["unit"] = "°C" if heading == "°F" else "°F"
                yield Doubt("units", Remark("judge_season", shown))
                return
        yield Doubt("units", Assumption("air_out_of_season", values), refused=False)
    days = air[seen.days]
    days = days[~np.isnan(days).any(axis=1)]
    if len(days) >= 2:
        swing = float(np.ptp(days, axis=1).mean())
        if swing > MOST_DAILY_RANGE_K:
            yield Doubt("units", Remark("judge_daily_range", {"swing": f"{swing:.0f}"}))


def _clock(seen: _Seen) -> Iterator[Doubt]:
    """Sun against the sun's height; without sun, the day's warmth against the clock."""
    sun = seen.get("shortwave_w_m2")
    if sun is None or np.isnan(sun).all():
        yield from _day_clock(seen)
        return
    if int((sun > 0).sum()) < LEAST_HOURS // 4:
        yield from _day_clock(seen)
    else:
        yield from _sun_clock(seen, sun)
    yield from _sun_of_days(seen, sun)


def _sun_clock(seen: _Seen, sun: Floats) -> Iterator[Doubt]:
    """The shift of the clock that fits the sun best; refused from two hours on."""
    times, site = seen.times, seen.site
    wide = np.arange(-12, times.size + 12) * HOUR + times[0] + HOUR // 2
    height = sun_sine(wide, site.latitude, site.longitude)
    expected = np.maximum(height, 0.0)
    known = ~np.isnan(sun)
    apart, best = False, 0
    if int(known.sum()) >= LEAST_HOURS:
        fits = _fits(sun, expected, known)
        best = max(fits, key=lambda shift: (fits[shift], -abs(shift)))
        gain = fits[best] - fits[0]
        if abs(best) >= REFUSED_SHIFT_H and fits[best] > LEAST_FIT and gain > GAIN:
            values: dict[str, object] = {
                "hours": abs(best), "shift": f"{best:+d}", "fit": f"{fits[best]:.2f}",
                "now": f"{fits[0]:.2f}",
            }  # fmt: skip
            yield Doubt("clock", Remark("judge_sun_clock", values))
            return
        apart = abs(best) == 1 and fits[best] > HOUR_FIT and gain > HOUR_GAIN
    here = height[12 : 12 + times.size]
    dark = (here < BELOW_HORIZON_SINE) & (sun > NIGHT_SUN_W_M2)
    if dark.any():
        hour = int(dark.argmax())
        shown: dict[str, object] = {"value": f"{sun[hour]:.0f}", "time": seen.when(hour)}
        yield Doubt("sun", Remark("judge_sun_at_night", shown))
    if apart:
        shift = Assumption("clock_an_hour_off", {"shift": f"{best:+d}"})
        yield Doubt("clock", shift, refused=False)


def _sun_of_days(seen: _Seen, sun: Floats) -> Iterator[Doubt]:
    """The sun of whole days against the sun above the atmosphere."""
    days = sun[seen.days]
    whole = ~np.isnan(days).any(axis=1)
    if whole.sum() < 2:
        return
    above = extraterrestrial_shortwave(seen.times, seen.site.latitude, seen.site.longitude)
    got, most = days[whole].mean(axis=1), above[seen.days][whole].mean(axis=1)
    over = got > MOST_CLEARNESS * most + 5.0
    if over.any():
        day = int(over.argmax())
        values: dict[str, object] = {
            "value": f"{got[day]:.0f}", "most": f"{most[day]:.0f}",
            "time": seen.when(int(seen.days[whole][day, 12]))[:10],
        }  # fmt: skip
        yield Doubt("sun", Remark("judge_sun_above_sky", values))
    elif most.mean() > LEAST_SUN_ABOVE_W_M2 and got.mean() < LEAST_CLEARNESS * most.mean():
        dim: dict[str, object] = {"value": f"{got.mean():.0f}", "most": f"{most.mean():.0f}"}
        yield Doubt("sun", Remark("judge_sun_dim", dim))


def _fits(sun: Floats, expected: Floats, known: Booleans) -> dict[int, float]:
    """Correlation of sun and height by shift of the clock [h]; 0 where one does not change.

    Parameters
    ----------
    sun, known
        (hours,).
    expected
        Sine of the height of the sun from 12 hours before to 12 hours after them.
    """
    count = int(known.sum())
    values = np.where(known, sun - sun[known].mean(), 0.0)
    weight = known.astype(np.float64)
    total = np.correlate(expected, weight, "valid")
    spread = np.correlate(expected**2, weight, "valid") - total**2 / count
    spread = np.sqrt((values @ values) * np.maximum(spread, 0.0))
    along = np.correlate(expected, values, "valid") - total * values.sum() / count
    found = np.where(spread > 0, along / np.where(spread > 0, spread, 1.0), 0.0)
    return {shift: float(fit) for shift, fit in zip(range(-12, 13), found, strict=True)}


def _day_clock(seen: _Seen) -> Iterator[Doubt]:
    """Air that is warmest four hours or more off the warmest time of the day."""
    whole = seen.columns["air_temperature_c"][seen.days]
    whole = whole[~np.isnan(whole).any(axis=1)]
    if len(whole) < 2:
        return
    mean = whole.mean(axis=0)
    wave = np.sum((mean - mean.mean()) * np.exp(2j * np.pi * np.arange(24) / 24)) / 12
    if abs(wave) < LEAST_SWING_K:
        return
    first = seen.times[seen.days[0, 0]]
    since = float((first - first.astype("datetime64[D]")) / HOUR)
    warmest = (np.angle(wave) * 24 / (2 * np.pi) + since + seen.site.longitude / 15) % 24
    off = (warmest - WARMEST_SOLAR_HOUR + 12) % 24 - 12
    if abs(off) >= DAY_CLOCK_H:
        values: dict[str, object] = {"hour": f"{warmest:.0f}", "hours": f"{abs(off):.0f}"}
        yield Doubt("clock", Remark("judge_day_clock", values))
