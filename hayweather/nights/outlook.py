"""The outlook: farm and weather in, every field's hours and windows out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from hayweather.baling.clock import Span, hour_index, span_of, to_local
from hayweather.baling.course import Course
from hayweather.baling.decide import Costs
from hayweather.baling.headline import Headline, headline_of
from hayweather.baling.hours import HourCall, hour_calls, with_remarks
from hayweather.baling.setting import Setting, setting_for
from hayweather.baling.value import crop_cautions
from hayweather.baling.windows import RakeWindow, Window, rake_windows
from hayweather.errors import FarmFileError, WeatherFileError
from hayweather.farm.records import Farm, Field, Site, Tuning
from hayweather.nights.doubts import doubts, elevation_gap
from hayweather.nights.draw import Plan, course_with_readings, plan_of, run_together
from hayweather.nights.start import first_hour
from hayweather.weather.record import HOUR, Assumption, HourlyWeather, Source
from hayweather.windrow.readings import Reading
from hayweather.windrow.spread import MEMBERS
from hayweather.words import Remark

OLD_CAUTION_HOURS = 12.0
OLD_REFUSED_HOURS = 24.0


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


@dataclass(frozen=True)
class FieldOutlook:
    """One field: its hours from now on, its windows, and what stands behind them.

    Attributes
    ----------
    setting, span
        The field and the hours spoken of.
    hours
        From the current hour to the end of the span.
    windows, rake
        Runs of quarters to bale and to rake, within the span.
    headline
        Facts of the first screen.
    remarks
        How the run began, what differs.
    shown
        The same hours in full, for charts.
    facts
        Of the weather.
    readings
        Moisture readings of this night, in order of time.
    """

    setting: Setting
    span: Span
    hours: tuple[HourCall, ...]
    windows: tuple[Window, ...]
    rake: tuple[RakeWindow, ...]
    headline: Headline
    remarks: tuple[Remark, ...]
    shown: Course
    facts: WeatherFacts
    readings: tuple[Reading, ...] = ()


@dataclass(frozen=True)
class Outlook:
    """A farm's outlook, made at `now` (UTC); `cautions` hold for all of it."""

    farm: Farm
    now: np.datetime64
    fields: tuple[FieldOutlook, ...]
    cautions: tuple[Remark, ...]


def make_outlook(
    farm: Farm,
    weather: Mapping[str, HourlyWeather],
    now: np.datetime64,
    *,
    field: str | None = None,
    old: bool = False,
    readings: Mapping[str, Sequence[Reading]] | None = None,
    members: int = MEMBERS,
) -> Outlook:
    """The outlook of a farm, or of one of its fields.

    Parameters
    ----------
    farm
        The farm.
    weather
        Hourly weather by site name; lane 0 the forecast, further lanes a
        service's members.
    now
        UTC.
    field
        Only this field.
    old
        True to accept a forecast of more than 24 hours.
    readings
        Moisture readings by field name.
    members
        Members to draw around the forecast; 0 for none, then there are no chances.

    Raises
    ------
    FarmFileError
        If there is no such field.
    WeatherFileError
        If the weather does not cover now, ends too early or is too old.
    """
    outlooks: dict[str, FieldOutlook] = {}
    chosen = _chosen(farm, field)
    for name in dict.fromkeys(item.site for item in chosen):
        here = [item for item in chosen if item.site == name]
        site = complete_site(farm.sites[name], weather[name], str(farm.path or ""))
        outlooks |= _site_outlooks(
            farm, site, here, weather[name], now, old=old, readings=readings or {}, members=members
        )
    ordered = tuple(outlooks[item.name] for item in chosen)
    looked = [(item.facts, item.setting) for item in ordered]
    return Outlook(farm, now, ordered, common_cautions(farm, looked))


def _chosen(farm: Farm, name: str | None) -> list[Field]:
    """The fields asked for."""
    if name is None:
        return list(farm.fields.values())
    if name not in farm.fields:
        known = ", ".join(farm.fields)
        raise FarmFileError("no_such_field", str(farm.path or ""), value=name, known=known)
    return [farm.fields[name]]


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


def _site_outlooks(
    farm: Farm,
    site: Site,
    fields: Sequence[Field],
    weather: HourlyWeather,
    now: np.datetime64,
    *,
    old: bool,
    readings: Mapping[str, Sequence[Reading]],
    members: int,
) -> dict[str, FieldOutlook]:
    """The fields of one site, from weather to windows."""
    span = span_of(now, str(site.timezone))
    check_cover(weather, span, now, str(site.timezone))
    age = known_age(farm, weather, now, old=old)
    settings = [setting_for(farm, field, site, now) for field in fields]
    begin = min(first_hour(weather, setting, span) for setting in settings)
    ahead = weather.between(begin, weather.hours)
    plans = [plan_of(setting, span, ahead, members, skip=begin) for setting in settings]
    costs = Costs.of(farm.money)
    result = {}
    for plan, trajectory in zip(plans, run_together(plans), strict=True):
        name = plan.setting.field.name
        read = tuple(readings.get(name, ()))
        used, course = course_with_readings(plan, trajectory, read, costs)
        result[name] = _field_outlook(used, course, age, read, now)
    return result


def _field_outlook(
    plan: Plan,
    course: Course,
    age: float | None,
    readings: tuple[Reading, ...],
    now: np.datetime64,
) -> FieldOutlook:
    """One field from its course to hours, windows and the first screen."""
    setting, span, start = plan.setting, plan.span, plan.start
    begin = course.weather.start[0]
    first = hour_index(begin, span.first)
    last = min(hour_index(begin, span.last), course.weather.hours)
    shown = course.between(first, last)
    ahead = course.between(first, course.weather.hours)
    hours = hour_calls(ahead, setting, last - first)
    rake = rake_windows(ahead.weather, shown.quarters, shown.first_ready(), shown.stopped)
    mass = np.asarray(plan.members.windrow.dry_matter_kg_m2)
    errors = {**plan.members.errors, "dry_matter_kg_m2": np.broadcast_to(mass, mass.shape)}
    return FieldOutlook(
        setting=setting,
        span=span,
        hours=tuple(with_remarks(hour, start.remarks) for hour in hours),
        windows=tuple(shown.windows()),
        rake=tuple(rake),
        headline=headline_of(ahead, setting, span, errors),
        remarks=(
            *start.remarks,
            *elevation_gap(setting.site, course.weather),
            *doubts(plan.members.dropped, course.weights, readings, now),
        ),
        shown=shown,
        facts=facts_of(shown.weather, course.trajectory.assumed, age),
        readings=readings,
    )


def check_cover(weather: HourlyWeather, span: Span, now: np.datetime64, timezone: str) -> None:
    """Refuse weather that does not hold now, or ends too early.

    Raises
    ------
    WeatherFileError
        If it does not.
    """
    begin, end = weather.start[0], weather.end[0]
    times = {"first": begin, "last": end, "now": now, "needed": span.needed}
    shown = {name: f"{to_local(time, timezone):%Y-%m-%d %H:%M}" for name, time in times.items()}
    if not begin <= span.first < end:
        raise WeatherFileError("weather_not_now", weather.source.name, **shown)
    if end < span.needed:
        raise WeatherFileError("weather_ends_early", weather.source.name, **shown)


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
    """Age of a forecast at `now` [h] since it was issued, else fetched; None when not known."""
    made = source.fetched if source.issued is None else source.issued
    return None if made is None else max(float((now - made) / HOUR), 0.0)


def facts_of(
    shown: HourlyWeather, derived: tuple[Assumption, ...], age: float | None
) -> WeatherFacts:
    """What people should know of the weather shown."""
    missing = int(shown.missing()[:, 0].sum())
    assumed = tuple({item.key: item for item in (*shown.assumed, *derived)}.values())
    return WeatherFacts(shown, age, missing, assumed)


def common_cautions(
    farm: Farm, looked: Iterable[tuple[WeatherFacts, Setting]]
) -> tuple[Remark, ...]:
    """Cautions of the whole farm: old or unknown weather, no readings of its own yet."""
    found: dict[str, Remark] = {}
    for facts, setting in looked:
        age = facts.age_hours
        if age is not None and age > OLD_CAUTION_HOURS:
            found["old"] = Remark("caution_old", {"hours": f"{age:.0f}"})
        if facts.weather.get("rain_mm") is None:
            found["rain"] = Remark("caution_rain_unknown")
        if facts.weather.source.stored:
            hours = "?" if age is None else f"{age:.0f}"
            found["stored"] = Remark("caution_stored", {"hours": hours})
        if setting.band.by_label:
            found["label"] = Remark("caution_label")
        crop = setting.field.crop
        found |= {f"{said.key} {crop}": said for said in crop_cautions(crop)}
    if farm.tuning == Tuning():
        found["unmeasured"] = Remark("caution_no_measured_night")
    return tuple(found.values())
