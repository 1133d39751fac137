"""From a command's options to the night or the plan that they ask for, kept as it was issued."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from hayweather.errors import HayweatherError
from hayweather.words import say

if TYPE_CHECKING:
    import numpy as np

    from hayweather.cli.options import Tonight
    from hayweather.farm.records import Farm, UnitSystem
    from hayweather.nights import Night
    from hayweather.nights.night import Readings
    from hayweather.nights.station import Observations
    from hayweather.plan.record import FieldsPlan
    from hayweather.weather.record import HourlyWeather


def outlook_asked(
    farm: Farm, field: str | None, tonight: Tonight, needed: str | None = None
) -> Night:
    """The night asked for, of a field or of all; one `needed` is looked for before any weather."""
    from hayweather.learning.learned_file import learned_for
    from hayweather.nights import night_of
    from hayweather.nights.night import chosen_fields

    chosen_fields(farm, needed)
    farm, weather, moment, said, seen = _known(farm, field, tonight)
    return night_of(
        farm, weather, moment, readings=said, observations=seen, field=field, old=tonight.old,
        errors=learned_for(farm, weather, moment),
    )  # fmt: skip


def plan_asked(farm: Farm, days: int | None, tonight: Tonight, seconds: float) -> FieldsPlan:
    """The plan asked for; what it needs is looked for before any weather is asked for."""
    from hayweather.learning.learned_file import learned_for
    from hayweather.plan.make import check_days, plan_fields, price_needed

    check_days(days)
    price_needed(farm)
    farm, weather, now, said, seen = _known(farm, None, tonight)
    return plan_fields(
        farm, weather, now, days=days, seconds=seconds, old=tonight.old, readings=said,
        observations=seen, errors=learned_for(farm, weather, now),
    )  # fmt: skip


def _known(
    farm: Farm, field: str | None, tonight: Tonight
) -> tuple[Farm, dict[str, HourlyWeather], np.datetime64, Readings, Observations]:
    """The farm as it lies now, weather by site, the time that counts as now, readings, stations."""
    from hayweather.cli.load import now_for, sites_of
    from hayweather.learning.spoken import read_spoken
    from hayweather.log.joined import farm_now, stations_logged, with_logged
    from hayweather.nights.night import chosen_fields
    from hayweather.nights.trust import refuse_old_stored
    from hayweather.weather.asked import weather_for
    from hayweather.weather.stations import observations_for

    sites = sites_of(farm, field)
    weather = weather_for(farm, sites, offline=tonight.offline, url=tonight.weather_url)
    zones = {name: farm.sites[name].timezone or weather[name].timezone for name in sites}
    moment = now_for(farm, tonight.now, zones[sites[0]])
    refuse_old_stored(weather, moment, old=tonight.old)
    said = read_spoken(tonight.reading or (), farm, zones, moment, field)
    seen = observations_for(
        farm, chosen_fields(farm, field), weather, moment, stations_logged(farm, moment),
        offline=tonight.offline, url=tonight.weather_url,
    )  # fmt: skip
    return farm_now(farm, moment), weather, moment, with_logged(farm, moment, said), seen


def keep_in_log(
    farm: Farm, made: Night | FieldsPlan, units: UnitSystem, *, make: bool = False
) -> None:
    """Keep an answer that was given, every digit, and its forecast as it came, in the farm's log.

    A log that cannot be written costs one line on standard error, never the answer.

    Parameters
    ----------
    farm
        Its log.
    made
        An outlook, also where it was shown as a run sheet, or a plan.
    units
        Of the sentences in it.
    make
        Whether a log is made where there is none.
    """
    from hayweather.log import has_log, keep_forecasts, keep_issued, open_log
    from hayweather.log.joined import keep_measured
    from hayweather.plan.record import FieldsPlan
    from hayweather.show.outlook_data import outlook_form
    from hayweather.show.plan_data import plan_form

    if farm.log is None or not (make or has_log(farm)):
        return
    sys.stdout.flush()
    try:
        with open_log(farm) as log:
            night = made.night if isinstance(made, FieldsPlan) else made
            seen = [station.observed for field in night.fields for station in field.stations]
            keep_measured(log, seen, night.now)
            came = keep_forecasts(log, night.weather, night.now)
            if isinstance(made, FieldsPlan):
                keep_issued(log, None, plan_form(made, units, exact=True))
            else:
                keep_issued(log, outlook_form(made, units, exact=True), forecasts=came)
    except HayweatherError as problem:
        reason = problem.line(farm.language)
        print(say("log_not_kept", farm.language, reason=reason), file=sys.stderr)
