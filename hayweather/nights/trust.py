"""What must hold of weather, forecast runs and readings, and what is said where it does not."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from hayweather.baling.calls import middles
from hayweather.baling.clock import Span, to_local
from hayweather.baling.setting import Setting, out_of_order
from hayweather.baling.value import crop_cautions
from hayweather.errors import (
    FarmFileError,
    InputError,
    WeatherFileError,
    WeatherUnavailableError,
)
from hayweather.farm.records import Farm, Field, Site, Tuning
from hayweather.nights.station import StationNight
from hayweather.weather.record import CAUTIONS, HOUR, Assumption, Booleans, HourlyWeather, Source
from hayweather.windrow.readings import Reading, Weights
from hayweather.windrow.sky import sun_elevation
from hayweather.windrow.trajectory import QUARTER, QUARTERS, WindrowTrajectory
from hayweather.words import Remark

OLD_CAUTION_HOURS = 12.0
OLD_REFUSED_HOURS = 24.0
CLOCKS_DIFFER = np.timedelta64(3600, "s")  # of two computers (assumed)
ELEVATION_GAP_M = 100.0


@dataclass(frozen=True)
class WeatherFacts:
    """What people should know of a site's weather.

    `age_hours` is None where neither the forecast's nor the file's time is
    known; `hours_missing` counts hours of the outlook without a needed value.
    """

    weather: HourlyWeather
    age_hours: float | None
    hours_missing: int
    assumed: tuple[Assumption, ...]


def complete_site(site: Site, weather: HourlyWeather, where: str) -> Site:
    """The site with elevation and zone, from its weather where the farm file has none.

    Raises
    ------
    FarmFileError
        If neither tells the zone or the elevation.
    """
    timezone = site.timezone or weather.timezone
    if timezone is None:
        raise FarmFileError("site_without_zone", where, site=site.name)
    elevation = site.elevation_m if site.elevation_m is not None else weather.elevation_m
    if elevation is None:
        raise FarmFileError("site_without_elevation", where, site=site.name)
    return replace(site, timezone=timezone, elevation_m=elevation)


def check_cover(weather: HourlyWeather, span: Span, now: np.datetime64, timezone: str) -> None:
    """Refuse weather that does not hold now, or ends too early.

    Raises
    ------
    WeatherFileError, WeatherUnavailableError
        If it does not; the latter where an answer of a service ends too early.
    """
    begin, end = weather.start[0], weather.end[0]
    times = {"first": begin, "last": end, "now": now, "needed": span.needed}
    shown = {name: f"{to_local(time, timezone):%Y-%m-%d %H:%M}" for name, time in times.items()}
    if not begin <= span.first < end:
        raise WeatherFileError("weather_not_now", weather.source.name, **shown)
    if end < span.needed:
        kind = WeatherUnavailableError if weather.source.answered else WeatherFileError
        raise kind("weather_ends_early", weather.source.name, **shown)


def known_age(farm: Farm, weather: HourlyWeather, now: np.datetime64, *, old: bool) -> float | None:
    """Age of the forecast [h]; more than a day needs the reader's word.

    Raises
    ------
    WeatherFileError
        If it is that old and `old` is not said.
    """
    age = None if farm.weather.invented else forecast_age_h(weather.source, now)
    if age is not None and age > OLD_REFUSED_HOURS and not old:
        raise WeatherFileError("weather_old", weather.source.name, hours=f"{age:.0f}")
    return age


def forecast_age_h(source: Source, now: np.datetime64) -> float | None:
    """Age of a forecast at `now` [h] since it was issued, else fetched.

    None when not known, and where a past `now` was asked for that it did not know.
    """
    made = source.fetched if source.issued is None else source.issued
    if made is None or made - now > CLOCKS_DIFFER:
        return None
    return max(float((now - made) / HOUR), 0.0)


def refuse_old_stored(
    weather: Mapping[str, HourlyWeather], now: np.datetime64, *, old: bool
) -> None:
    """Refuse a stored forecast of more than a day where no new one could be had.

    Parameters
    ----------
    weather
        By site.
    now
        UTC time of the outlook.
    old
        True to let an old one pass.

    Raises
    ------
    WeatherUnavailableError
        Saying why there is no new one (exit 3).
    """
    for record in weather.values():
        age = forecast_age_h(record.source, now)
        if old or not record.source.stored or age is None or age <= OLD_REFUSED_HOURS:
            continue
        why = next(note.key for note in record.assumed if note.key.startswith("stored_"))
        raise WeatherUnavailableError(f"old_{why}", record.source.name, hours=f"{age:.0f}")


def facts_of(
    shown: HourlyWeather, derived: tuple[Assumption, ...], age: float | None
) -> WeatherFacts:
    """What people should know of the weather shown."""
    missing = int(shown.missing()[:, 0].sum())
    noted = [item for item in (*shown.assumed, *derived) if item.key not in CAUTIONS]
    assumed = tuple({item.key: item for item in noted}.values())
    return WeatherFacts(shown, age, missing, assumed)


def common_cautions(
    farm: Farm,
    looked: Iterable[tuple[WeatherFacts, Setting]],
    stations: Iterable[StationNight] = (),
) -> tuple[Remark, ...]:
    """Cautions of the whole farm: old or unknown weather, no readings of its own yet."""
    found = {str(item.values["machine"]): item for item in out_of_order(farm)}
    for facts, setting in looked:
        age = facts.age_hours
        if age is not None and age > OLD_CAUTION_HOURS:
            found["old"] = Remark("caution_old", {"hours": f"{age:.0f}"})
        if facts.weather.get("rain_mm") is None:
            found["rain"] = Remark("caution_rain_unknown")
        for note in facts.weather.assumed:
            if note.key in CAUTIONS:
                said = Remark(f"assumed_{note.key}", note.values)
                found[f"{note.key} {note.values.get('check')}"] = said
        if facts.weather.source.stored:
            hours = "?" if age is None else f"{age:.0f}"
            found["stored"] = Remark("caution_stored", {"hours": hours})
        if setting.band.by_label:
            found["label"] = Remark("caution_label")
        crop = setting.field.crop
        found |= {f"{said.key} {crop}": said for said in crop_cautions(crop)}
    for station in stations:
        found |= {str(said): said for said in station.said()}
    if farm.tuning == Tuning():
        found["unmeasured"] = Remark("caution_no_measured_night")
    return tuple(found.values())


def doubts(dropped: int, weights: Weights) -> tuple[Remark, ...]:
    """What people should know of the members and the readings.

    Parameters
    ----------
    dropped
        Members of the source left out because of a gap.
    weights
        How much each member counts.
    """
    gaps = (Remark("members_dropped", {"count": f"{dropped}"}),) if dropped else ()
    return (*gaps, *agreement(weights))


def limits_said(
    weather: HourlyWeather, setting: Setting, readings: Sequence[Reading]
) -> tuple[Remark, ...]:
    """Why no hour of a field may be more than "probe first"; empty where one may.

    Cured hay is what the grower has called cured, or read the stems of; a
    calculated cure never says go. Nor does weather without any rain, nor a field whose
    balers are all out of order.

    Parameters
    ----------
    weather, setting, readings
        Of the field.
    """
    dry_stem = [item for item in readings if item.kind == "stem" and _is_cured(item, setting)]
    said = setting.field.cured is not None or bool(dry_stem)
    stems = () if said else (Remark("advice_probe_stems"),)
    rain = () if weather.has_rain else (Remark("advice_rain_unknown"),)
    out: tuple[Remark, ...] = ()
    if setting.baler_out is not None:
        values: dict[str, object] = {"baler": setting.baler.name, "time": setting.baler_out}
        out = (Remark("advice_baler_out", values),)
    return (*out, *stems, *rain)


def _is_cured(reading: Reading, setting: Setting) -> bool:
    """Whether a stem was read as dry as cured hay's."""
    return reading.true_wb <= setting.band.stem_limit_wb + reading.error_wb


EVENING = 8 * HOUR  # a reading so long before dark belongs to the night ahead

SUN_HOURS = 2 * HOUR
"""Sun that it takes until hay read near its ceiling may be baled without another reading."""


def near_ceiling(weather: HourlyWeather, setting: Setting, readings: Sequence[Reading]) -> Booleans:
    """Quarters after a reading near the bale's ceiling, or above, until two hours of sun.

    Of the whole windrow or a bale, within the meter's error; a later, lower
    reading lifts it.

    Parameters
    ----------
    weather, setting, readings
        Of the field.

    Returns
    -------
    ndarray
        (4 * hours,).
    """
    times = weather.start[0] + np.arange(QUARTERS * weather.hours) * QUARTER
    held = np.zeros(times.size, dtype=bool)
    up = sun_elevation(times[:, None], setting.place.latitude, setting.place.longitude)[:, 0] > 0
    for reading in whole_readings(readings):
        after = times + QUARTER > reading.time
        held &= ~after
        if reading.true_wb < setting.band.ceiling_wb - reading.error_wb:
            continue
        dark = np.flatnonzero(after & ~up)
        risen = np.flatnonzero(up & (np.arange(times.size) > (dark[0] if dark.size else 0)) & after)
        tonight = dark.size and times[dark[0]] - reading.time < EVENING
        begin = times[risen[0]] if tonight and risen.size else reading.time
        held |= after & (times < begin + SUN_HOURS)
    return held


ANEW = 24 * HOUR
"""Until a run that began anew no longer shows from what it began (the spin-up of every run)."""


def begun_anew(
    trajectory: WindrowTrajectory, given: Collection[int], readings: Sequence[Reading]
) -> Booleans:
    """Quarters within a day of a start after a gap: what the hay took up in it nobody knows.

    A reading of the whole windrow or of a bale after that start lifts it.

    Parameters
    ----------
    trajectory
        Of the members; lane 0 is the answer.
    given
        Hours that begin from a moisture that somebody gave.
    readings
        Of the field.

    Returns
    -------
    ndarray
        (4 * hours,).
    """
    times = trajectory.times()[:-1, 0]
    known = np.isfinite(trajectory.windrow_db[:, 0])
    anew = np.zeros(times.size, dtype=bool)
    for hour in np.flatnonzero(trajectory.started[:, 0]):
        at = QUARTERS * hour
        if hour in given or not known[:at].any() or known[at - 1]:
            continue
        read = [item.time for item in whole_readings(readings) if item.time >= times[at]]
        past = min([times[at] + ANEW, *read])
        anew |= (times >= times[at]) & (times < past)
    return anew


def held_in_band(
    trajectory: WindrowTrajectory, setting: Setting, readings: Sequence[Reading]
) -> Booleans:
    """Quarters after a reading in the band while the answer keeps the windrow there: no water.

    Of the whole windrow or a bale; from where the windrow shown is in the band until it
    falls below, or the next reading.

    Parameters
    ----------
    trajectory
        Of the members; lane 0 is the answer.
    setting, readings
        Of the field.

    Returns
    -------
    ndarray
        (4 * hours,).
    """
    times = trajectory.times()[:-1, 0]
    held = np.zeros(times.size, dtype=bool)
    low, high = setting.band.low_wb, setting.band.high_wb
    below = middles(trajectory.windrow_wb[:, 0]) < low
    for reading in whole_readings(readings):
        after = times + QUARTER > reading.time
        held &= ~after
        if not low <= reading.true_wb <= high or reading.water_l_t:
            continue
        # The answer may lie a little under a reading near the bottom, and rise into the band.
        inside = np.flatnonzero(after & ~below)
        if inside.size:
            falls = np.flatnonzero(below[inside[0] :])
            held[inside[0] : inside[0] + falls[0] if falls.size else None] = True
    return held


def whole_readings(readings: Sequence[Reading]) -> list[Reading]:
    """Those of the whole windrow or of a bale, in order of time."""
    whole = [item for item in readings if item.layer is None and item.kind in ("windrow", "bale")]
    return sorted(whole, key=lambda item: item.time)


def agreement(weights: Weights) -> tuple[Remark, ...]:
    """What people should know of their readings: how many members agree, which fit none."""
    counts: dict[str, object] = {"count": f"{weights.effective:.0f}", "all": f"{weights.members}"}
    agree = (Remark("readings_agree", counts),)
    explained = set(weights.readings) - set(weights.unexplained)
    return (
        *(agree if explained else ()),
        *(_remark("reading_unexplained", reading) for reading in weights.unexplained),
        *(_remark("reading_unused", reading) for reading in weights.unused),
    )


FAR_APART_WB = 6.0
"""Readings of one place and time that differ by more are not one windrow's (assumed)."""


def apart(readings: Sequence[Reading]) -> list[Remark]:
    """Readings taken as one that can hardly be of one windrow: one of them is a slip.

    Parameters
    ----------
    readings
        Joined, as the windrow weighs them.
    """
    return [
        Remark(
            "readings_apart",
            {"low": (min(item.values_wb), "percent"), "high": (max(item.values_wb), "percent"),
             "time": item.time},
        )
        for item in readings
        if item.values_wb and max(item.values_wb) - min(item.values_wb) > FAR_APART_WB
    ]  # fmt: skip


def baled_already(field: Field) -> list[Remark]:
    """What of a field the log has as baled this night, and the night before."""
    left, said = (field.area_m2 or 0.0, "area"), []
    if field.baled_before_m2 and not field.all_baled:
        area = (field.baled_before_m2, "area")
        said.append(Remark("field_baled_before", {"area": area, "left": left}))
    if field.baled_m2:
        said.append(Remark("field_baled", {"area": (field.baled_m2, "area"), "left": left}))
    return said


def taken_by(readings: Sequence[Reading], setting: Setting, now: np.datetime64) -> None:
    """Refuse a reading dated after now: what has not been read cannot say how the hay is.

    Parameters
    ----------
    readings, setting
        Of a field.
    now
        UTC.

    Raises
    ------
    InputError
        If there is one.
    """
    zone = str(setting.site.timezone)
    for reading in readings:
        if reading.time > now:
            times = {"time": reading.time, "now": now}
            raise InputError(
                "reading_after_now",
                setting.field.name,
                value=f"{reading.moisture_wb:g} %",
                **{name: f"{to_local(at, zone):%Y-%m-%d %H:%M}" for name, at in times.items()},
            )


def _remark(key: str, reading: Reading) -> Remark:
    """What is to be said of a reading, with its value and time."""
    return Remark(key, {"time": reading.time, "value": (reading.moisture_wb, "percent")})


def elevation_gap(site: Site, weather: HourlyWeather) -> tuple[Remark, ...]:
    """The weather of a place much higher or lower than the field."""
    if weather.elevation_m is None or site.elevation_m is None:
        return ()
    if abs(weather.elevation_m - site.elevation_m) <= ELEVATION_GAP_M:
        return ()
    values: dict[str, object] = {
        "site": (site.elevation_m, "elevation"),
        "weather": (weather.elevation_m, "elevation"),
    }
    return (Remark("elevation_differs", values),)
