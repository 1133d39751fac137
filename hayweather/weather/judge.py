"""The one gate: every series, from a file, a service or a table, passes `judged`.

It refuses what cannot be weather of the site, with the evidence in one line,
and notes what may be wrong. What a sensor's noise explains is repaired before,
by name (`hayweather.weather.quality`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from hayweather.errors import HayweatherError, WeatherFileError
from hayweather.farm.records import Site
from hayweather.weather.quality import DEW_POINT_NOISE_K, RANGES, first_outside
from hayweather.weather.record import HOUR, Assumption, Floats, HourlyWeather, Times
from hayweather.windrow.sky import sun_elevation

LONGEST_KM, LONGEST_M = 50.0, 600.0
"""A grid cell further from the site, or higher or lower, is another place (assumed)."""
TOLD_KM, TOLD_M = 10.0, 150.0
LEAST_HOURS = 36
MOST_HOURS = 366 * 24
REFUSED_SHIFT_H = 2
NIGHT_SUN_W_M2 = 100.0
BELOW_HORIZON_RAD = np.deg2rad(-6.0)
LEAST_FIT, HOUR_FIT = 0.8, 0.9
GAIN, HOUR_GAIN = 0.06, 0.025
"""How well a shifted clock must fit the sun (correlation), and how much better than the clock as
it is, to be refused and, at one hour, to be noted. A true clock of ten real years fits at 0.89 to
0.95; two hours off on clear days lose 0.14, one hour 0.03 (measured on the recorded files)."""
WARMEST_SOLAR_HOUR, DAY_CLOCK_H, LEAST_SWING_K = 14.75, 4.0, 4.0
"""Hour of the warmest air by the sun, how far it may lie off, and the least daily swing (half its
range) that tells it: common practice, no source."""

Refusal = Callable[..., HayweatherError]


def judged(
    weather: HourlyWeather, site: Site | None, refusal: type[HayweatherError] = WeatherFileError
) -> HourlyWeather:
    """The weather, with a note on what may be wrong with it.

    Parameters
    ----------
    weather
        Of any origin.
    site
        Where it is to serve; None where nobody knows: then its clock is not judged.
    refusal
        The kind of error, which gives the exit code: 2 for files, 3 for services.

    Raises
    ------
    HayweatherError
        Of that kind, with what was seen, where and what to do.
    """

    def refuse(key: str, **values: object) -> HayweatherError:
        return refusal(key, weather.source.name, **values)

    _possible(weather, refuse)
    if site is None or weather.typical_year:
        return weather
    notes = _clock(weather, site, refuse)
    new = tuple(note for note in notes if note.key not in {told.key for told in weather.assumed})
    return replace(weather, assumed=(*weather.assumed, *new)) if new else weather


def judged_answer(
    weather: HourlyWeather, site: Site, refusal: type[HayweatherError]
) -> HourlyWeather:
    """`judged`, and the grid cell of an answer must be the site's.

    Raises
    ------
    HayweatherError
        As `judged`.
    """
    notes: list[Assumption] = []
    there, here = weather.elevation_m, site.elevation_m
    if weather.latitude is not None and weather.longitude is not None:
        km = distance_km(weather.latitude, weather.longitude, site.latitude, site.longitude)
        if km > LONGEST_KM:
            raise refusal("judge_place_far", weather.source.name, km=f"{km:.0f}", site=site.name)
        if km > TOLD_KM:
            place = f"{weather.latitude:.2f}, {weather.longitude:.2f}"
            notes.append(Assumption("place_differs", {"place": place}))
    if there is not None and here is not None and abs(there - here) > TOLD_M:
        if abs(there - here) > LONGEST_M:
            raise refusal(
                "judge_height_far", weather.source.name, there=f"{there:.0f}", here=f"{here:.0f}",
                site=site.name,
            )  # fmt: skip
        shown: dict[str, object] = {"service": (there, "elevation"), "site": (here, "elevation")}
        notes.append(Assumption("elevation_differs", shown))
    return judged(replace(weather, assumed=(*weather.assumed, *notes)), site, refusal)


def distance_km(latitude: float, longitude: float, other: float, other_longitude: float) -> float:
    """Distance on a sphere of 6371 km between two places in degrees [km].

    Examples
    --------
    >>> round(distance_km(0.0, 0.0, 0.0, 1.0), 1)
    111.2
    """
    a, b, turn = np.deg2rad([latitude, other, other_longitude - longitude])
    half = np.sin((b - a) / 2) ** 2 + np.cos(a) * np.cos(b) * np.sin(turn / 2) ** 2
    return float(2 * 6371.0 * np.arcsin(np.sqrt(half)))


def _possible(weather: HourlyWeather, refuse: Refusal) -> None:
    """Every value within what is possible, the dew point within noise of the air."""
    for name, values in weather.columns.items():
        place = first_outside(values.ravel(), name)
        if place is not None:
            low, high = RANGES[name]
            raise refuse(
                "judge_range", column=name, value=f"{values.ravel()[place]:g}",
                time=_shown(weather, place), low=f"{low:g}", high=f"{high:g}",
            )  # fmt: skip
    air, dew = weather.columns["air_temperature_c"], weather.columns["dew_point_c"]
    with np.errstate(invalid="ignore"):
        above = (dew - air > DEW_POINT_NOISE_K + 1e-9).ravel()
    if above.any():
        place = int(above.argmax())
        raise refuse(
            "judge_dew_point", dew=f"{dew.ravel()[place]:.1f}", air=f"{air.ravel()[place]:.1f}",
            time=_shown(weather, place),
        )  # fmt: skip


def _shown(weather: HourlyWeather, place: int) -> str:
    """The time of a value of a raveled column, for a message."""
    hour, lane = divmod(place, weather.lanes)
    return str((weather.start[lane] + hour * HOUR).astype("datetime64[m]")).replace("T", " ")


def _clock(weather: HourlyWeather, site: Site, refuse: Refusal) -> list[Assumption]:
    """Sun against the sun's elevation; without sun, the day's warmth against the clock."""
    hours = min(weather.hours, MOST_HOURS)
    times = weather.times()[:hours, 0]
    sun = weather.get("shortwave_w_m2")
    if sun is not None and int((sun[:hours, 0] > 0).sum()) >= LEAST_HOURS // 4:
        return _sun_clock(times, sun[:hours, 0], site, refuse)
    _day_clock(times, weather.columns["air_temperature_c"][:hours, 0], site, refuse)
    return []


def _sun_clock(times: Times, sun: Floats, site: Site, refuse: Refusal) -> list[Assumption]:
    """The shift of the clock that fits the sun best; refused from two hours on."""
    wide = np.arange(-12, times.size + 12) * HOUR + times[0] + HOUR // 2
    height = sun_elevation(wide, site.latitude, site.longitude)
    expected = np.maximum(np.sin(height), 0.0)
    known = ~np.isnan(sun)
    apart, best = False, 0
    if int(known.sum()) >= LEAST_HOURS:
        fits = {
            shift: _fit(sun[known], expected[12 + shift : 12 + shift + times.size][known])
            for shift in range(-12, 13)
        }
        best = max(fits, key=lambda shift: (fits[shift], -abs(shift)))
        gain = fits[best] - fits[0]
        if abs(best) >= REFUSED_SHIFT_H and fits[best] > LEAST_FIT and gain > GAIN:
            raise refuse("judge_sun_clock", hours=abs(best), shift=f"{best:+d}")
        apart = abs(best) == 1 and fits[best] > HOUR_FIT and gain > HOUR_GAIN
    here = height[12 : 12 + times.size]
    dark = (here < BELOW_HORIZON_RAD) & (sun > NIGHT_SUN_W_M2)
    if dark.any():
        place = int(dark.argmax())
        time = str(times[place].astype("datetime64[m]")).replace("T", " ")
        raise refuse("judge_sun_at_night", value=f"{sun[place]:.0f}", time=time)
    return [Assumption("clock_an_hour_off", {"shift": f"{best:+d}"})] if apart else []


def _fit(values: Floats, expected: Floats) -> float:
    """Correlation of two series; 0 where one does not change."""
    spread = float(np.std(values) * np.std(expected))
    if spread == 0.0:
        return 0.0
    return float(np.mean((values - values.mean()) * (expected - expected.mean()))) / spread


def _day_clock(times: Times, air: Floats, site: Site, refuse: Refusal) -> None:
    """Refuse air that is warmest four hours or more off the warmest time of the day."""
    days = air.size // 24
    if days < 2:
        return
    whole = air[: 24 * days].reshape(days, 24)
    whole = whole[~np.isnan(whole).any(axis=1)]
    if len(whole) < 2:
        return
    mean = whole.mean(axis=0)
    wave = np.sum((mean - mean.mean()) * np.exp(2j * np.pi * np.arange(24) / 24)) / 12
    if abs(wave) < LEAST_SWING_K:
        return
    since = float((times[0] - times[0].astype("datetime64[D]")) / HOUR)
    warmest = (np.angle(wave) * 24 / (2 * np.pi) + since + site.longitude / 15) % 24
    off = (warmest - WARMEST_SOLAR_HOUR + 12) % 24 - 12
    if abs(off) >= DAY_CLOCK_H:
        raise refuse("judge_day_clock", hour=f"{warmest:.0f}", hours=f"{abs(off):.0f}")
