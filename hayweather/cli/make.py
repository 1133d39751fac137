"""From a command's options to the outlook that they ask for."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from hayweather.farm.records import Farm
    from hayweather.nights import Night


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
    """The outlook asked for.

    Parameters
    ----------
    farm
        The farm.
    field, now, readings, url
        What the options of the same names were given.
    old, offline
        The switches.
    """
    from hayweather.cli.load import now_for, refuse_old_stored, sites_of, weather_for
    from hayweather.learning.spoken import read_spoken
    from hayweather.nights import night_of

    sites = sites_of(farm, field)
    weather = weather_for(farm, sites, offline=offline, url=url)
    zones = {name: farm.sites[name].timezone or weather[name].timezone for name in sites}
    moment = now_for(farm, now, zones[sites[0]])
    refuse_old_stored(weather, moment, old=old)
    said = read_spoken(readings, farm, zones, moment, field)
    return night_of(farm, weather, moment, field=field, old=old, readings=said)
