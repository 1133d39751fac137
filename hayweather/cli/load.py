"""From a command's options to a farm, now, and the night or plan asked for, kept as issued."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np

from hayweather.cli.guard import copies_of
from hayweather.cli.language import spoken_as_written, spoken_in
from hayweather.cli.options import DEFAULT_FARM, Output, as_given
from hayweather.cli.write import Destinations, checked
from hayweather.errors import HayweatherError, OptionError
from hayweather.farm import Farm, read_farm
from hayweather.farm.clock import parse_time, to_utc
from hayweather.weather import asked
from hayweather.words import say

if TYPE_CHECKING:
    from hayweather.cli.options import Tonight
    from hayweather.farm.records import UnitSystem
    from hayweather.nights import Night
    from hayweather.nights.night import Readings
    from hayweather.nights.station import Observations
    from hayweather.plan.record import FieldsPlan
    from hayweather.weather.record import HourlyWeather


def farm_from(path: Path | None) -> Farm:
    """The farm file named, else ``farm.toml`` of the current folder.

    Raises
    ------
    OptionError
        If none is named and there is none here.
    FarmFileError
        If the file is wrong.
    """
    if path is None and not DEFAULT_FARM.exists():
        raise OptionError("no_farm_here")
    return farm_at(path or DEFAULT_FARM, os.environ)


@contextmanager
def answering(
    kind: str,
    farm_file: Path | None,
    output: Output,
    *read: Path | None,
    keep: Path | None = None,
) -> Iterator[tuple[Farm, Destinations]]:
    """A farm and the places of an answer from it, looked at; inside, its language is spoken.

    Parameters
    ----------
    kind
        Of the answer, as in its schema.
    farm_file, output
        As the options say.
    *read
        What the run reads beside the farm's own files.
    keep
        A folder for what is kept.

    Raises
    ------
    FarmFileError, OptionError, OutputError
        As `farm_from` and `checked`.
    """
    farm = farm_from(farm_file)
    with spoken_in(farm.language):
        yield farm, checked(kind, output, [*files_of(farm), *read], farm.language, keep)


def farm_at(path: Path, environ: Mapping[str, str] | None = None) -> Farm:
    """The farm file at `path`; what is wrong with it is said in the language that it names.

    Parameters
    ----------
    path
        The file.
    environ
        Of the process, where the farm's weather is going to be asked for.

    Raises
    ------
    FarmFileError
        If the file is wrong.
    """
    with spoken_as_written(path):
        return read_farm(path, environ)


def files_of(farm: Farm) -> list[Path | None]:
    """The farm file and its copies, its files of weather and its log; None where there is none."""
    from hayweather.log.database import companions_of

    copies = None if farm.path is None else copies_of(farm.path)
    log = [] if farm.log is None else companions_of(farm.log)
    stations = [station.file for station in farm.stations]
    return [farm.path, copies, farm.weather.file, *stations, *log]


def now_for(farm: Farm, option: str | None, timezone: str | None) -> np.datetime64:
    """The time that counts as now: the option, an invented sample's own, or the clock's.

    Parameters
    ----------
    farm
        The farm.
    option
        What ``--now`` was given, None when it was not.
    timezone
        Zone of the clock in which a time without an offset is meant.

    Raises
    ------
    OptionError
        If the option is no time.
    """
    if option is None:
        return asked.wall_clock() if farm.weather.now is None else farm.weather.now
    moment = parse_time(option)
    if moment is None:
        raise OptionError("now_without_zone", "--now", value=as_given(option))
    return to_utc(moment, ZoneInfo(timezone or "UTC"))[0]


def until(farm: Farm, option: str | None) -> np.datetime64 | None:
    """The time up to which notes count, on the clock of the farm's first site; None: all.

    Raises
    ------
    OptionError
        If the option is no time.
    """
    zone = next(iter(farm.sites.values())).timezone
    return None if option is None else now_for(farm, option, zone)


def names_sites(path: Path) -> bool:
    """Whether a file is one of sites: its weather stands with its sites, or is a grid."""
    import tomllib

    try:
        document = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError, RecursionError):
        return False  # what is wrong with it is said where farm files are read
    sites = document.get("site")
    inside = sites.values() if isinstance(sites, dict) else ()
    own = any(isinstance(each, dict) and {"weather", "service"} & set(each) for each in inside)
    return "field" not in document and (own or "work" in document or "grid" in document)


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
    from hayweather.learning.spoken import read_spoken
    from hayweather.log.joined import farm_now, stations_logged, with_logged
    from hayweather.nights.night import chosen_fields
    from hayweather.nights.trust import refuse_old_stored
    from hayweather.weather.asked import weather_for
    from hayweather.weather.stations import observations_for

    chosen = chosen_fields(farm, field)
    sites = list(dict.fromkeys(item.site for item in chosen))
    weather = weather_for(farm, sites, offline=tonight.offline, url=tonight.weather_url)
    zones = {name: farm.sites[name].timezone or weather[name].timezone for name in sites}
    moment = now_for(farm, tonight.now, zones[sites[0]])
    refuse_old_stored(weather, moment, old=tonight.old)
    said = read_spoken(tonight.reading or (), farm, zones, moment, field)
    seen = observations_for(
        farm, chosen, weather, moment, stations_logged(farm, moment),
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
