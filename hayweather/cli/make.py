"""From a command's options to the night or the plan that they ask for."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np

    from hayweather.farm.records import Farm
    from hayweather.nights import Night
    from hayweather.nights.night import Readings
    from hayweather.plan.record import FieldsPlan
    from hayweather.weather.record import HourlyWeather


def outlook_asked(
    farm: Farm,
    field: str | None,
    now: str | None,
    readings: Sequence[str],
    url: str | None,
    *,
    old: bool,
    offline: bool,
) -> Night:
    """The night asked for; parameters are what the options of the same names were given."""
    from hayweather.nights import night_of

    weather, moment, said = _known(farm, field, now, readings, url, old=old, offline=offline)
    return night_of(farm, weather, moment, readings=said, field=field, old=old)


def plan_asked(
    farm: Farm,
    days: int,
    now: str | None,
    readings: Sequence[str],
    url: str | None,
    seconds: float,
    *,
    old: bool,
    offline: bool,
) -> FieldsPlan:
    """The plan asked for; what it needs is looked for before any weather is asked for."""
    from hayweather.plan.make import check_days, plan_fields, price_needed

    check_days(days)
    price_needed(farm)
    weather, moment, said = _known(farm, None, now, readings, url, old=old, offline=offline)
    return plan_fields(farm, weather, moment, days=days, seconds=seconds, old=old, readings=said)


def _known(
    farm: Farm,
    field: str | None,
    now: str | None,
    readings: Sequence[str],
    url: str | None,
    *,
    old: bool,
    offline: bool,
) -> tuple[dict[str, HourlyWeather], np.datetime64, Readings]:
    """Weather by site, the time that counts as now, and readings by field."""
    from hayweather.cli.load import now_for, sites_of
    from hayweather.learning.spoken import read_spoken
    from hayweather.log.joined import with_logged
    from hayweather.nights.trust import refuse_old_stored
    from hayweather.weather.asked import weather_for

    sites = sites_of(farm, field)
    weather = weather_for(farm, sites, offline=offline, url=url)
    zones = {name: farm.sites[name].timezone or weather[name].timezone for name in sites}
    moment = now_for(farm, now, zones[sites[0]])
    refuse_old_stored(weather, moment, old=old)
    said = read_spoken(readings, farm, zones, moment, field)
    return weather, moment, with_logged(farm, moment, said)
