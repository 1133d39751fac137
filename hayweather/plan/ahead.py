"""The hours ahead of every field: weather, windrow and calls over the days of a plan."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from hayweather.baling.clock import Span, hour_index, span_ahead
from hayweather.baling.course import Course, course_of
from hayweather.baling.decide import Costs
from hayweather.baling.setting import Setting, setting_for
from hayweather.baling.water import target_for
from hayweather.catalog.balers import TARGET_ABOVE_BAND_WB
from hayweather.farm.bands import band_for
from hayweather.farm.records import Baler, Farm, Field, Rig, Site
from hayweather.nights.draw import Plan, plan_of, run_together
from hayweather.nights.outlook import WeatherFacts, check_cover, complete_site, facts_of, known_age
from hayweather.nights.start import first_hour
from hayweather.weather.record import HourlyWeather
from hayweather.windrow.readings import weigh
from hayweather.windrow.spread import SEED
from hayweather.windrow.trajectory import WindrowTrajectory
from hayweather.words import Remark

UNSEEN_SEED = SEED + 1


@dataclass(frozen=True)
class FieldAhead:
    """One field run through the hours ahead.

    Attributes
    ----------
    setting
        With the farm's first baler, without a rig.
    plan, trajectory
        Members and their run; lane 0 the forecast.
    first, last
        Hours of the run that the plan spans.
    facts
        Of the weather there.
    """

    setting: Setting
    plan: Plan
    trajectory: WindrowTrajectory
    first: int
    last: int
    facts: WeatherFacts

    def course(self, baler: Baler, rig: Rig | None, costs: Costs) -> Course:
        """The hours of the plan as one baler, with or without a rig, would find them."""
        setting = with_machines(self.setting, baler, rig)
        weights = weigh(self.trajectory, ())
        uncured = self.plan.start.uncured
        weather = self.plan.members.weather
        whole = course_of(weather, self.trajectory, setting, uncured, weights, costs)
        return whole.between(self.first, self.last)

    @property
    def remarks(self) -> tuple[Remark, ...]:
        """How the run began."""
        return self.plan.start.remarks


@dataclass(frozen=True)
class Ahead:
    """All fields over the hours of a plan.

    Attributes
    ----------
    fields
        In the order of the farm file.
    start, end
        UTC; whole hours.
    timezone
        Zone of the first field's site: the clock of the crews.
    short_by_h
        Hours asked for that the forecast does not reach.
    """

    fields: tuple[FieldAhead, ...]
    start: np.datetime64
    end: np.datetime64
    timezone: str
    short_by_h: float


def look_ahead(
    farm: Farm,
    weather: Mapping[str, HourlyWeather],
    now: np.datetime64,
    days: int,
    *,
    members: int,
    old: bool = False,
    seed: int = SEED,
) -> Ahead:
    """Run every field of a farm through the hours ahead.

    Parameters
    ----------
    farm
        The farm.
    weather
        Hourly weather by site name.
    now
        UTC.
    days
        Nights asked for, tonight the first.
    members
        Members drawn around the forecast.
    old
        True to accept a forecast of more than 24 hours.
    seed
        Of the members.

    Raises
    ------
    WeatherFileError
        If the weather does not cover now, ends too early or is too old.
    """
    names = list(dict.fromkeys(field.site for field in farm.fields.values()))
    sites = {n: complete_site(farm.sites[n], weather[n], str(farm.path or "")) for n in names}
    zone = str(sites[names[0]].timezone)
    asked = span_ahead(now, zone, days)
    end = min(asked.last, *(weather[name].end[0] for name in names))
    found: dict[str, FieldAhead] = {}
    for name in names:
        here = [field for field in farm.fields.values() if field.site == name]
        span = replace(span_ahead(now, str(sites[name].timezone), days), last=end)
        found |= _site(farm, sites[name], here, weather[name], span, now, members, seed, old)
    short = float((asked.last - end) / np.timedelta64(3600, "s"))
    return Ahead(tuple(found[name] for name in farm.fields), asked.first, end, zone, short)


def _site(
    farm: Farm,
    site: Site,
    fields: Sequence[Field],
    weather: HourlyWeather,
    span: Span,
    now: np.datetime64,
    members: int,
    seed: int,
    old: bool,
) -> dict[str, FieldAhead]:
    """The fields of one site."""
    check_cover(weather, span, now, str(site.timezone))
    age = known_age(farm, weather, now, old=old)
    settings = [replace(setting_for(farm, field, site, now), rig=None) for field in fields]
    begin = min(first_hour(weather, setting, span) for setting in settings)
    ahead = weather.between(begin, weather.hours)
    plans = [plan_of(setting, span, ahead, members, seed, skip=begin) for setting in settings]
    result = {}
    for plan, trajectory in zip(plans, run_together(plans), strict=True):
        start = plan.members.weather.start[0]
        first, last = hour_index(start, span.first), hour_index(start, span.last)
        shown = plan.members.weather.between(first, last)
        facts = facts_of(shown, trajectory.assumed, age)
        name = plan.setting.field.name
        result[name] = FieldAhead(plan.setting, plan, trajectory, first, last, facts)
    return result


def with_machines(setting: Setting, baler: Baler, rig: Rig | None) -> Setting:
    """What holds for a field with another baler, and with a rig or none."""
    band = band_for(baler, setting.field)
    low = band.low_wb
    target = low + TARGET_ABOVE_BAND_WB if rig is None else target_for(rig, low)
    return replace(setting, baler=baler, band=band, rig=rig, target_wb=target)
