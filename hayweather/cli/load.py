"""From names on the command line to a farm, its weather and the time that counts as now."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from hayweather.cli.guard import copies_of
from hayweather.cli.language import spoken_as_written, spoken_in
from hayweather.cli.options import DEFAULT_FARM, Output, as_given
from hayweather.cli.write import Destinations, checked
from hayweather.errors import FarmFileError, OptionError
from hayweather.farm import Farm, read_farm
from hayweather.farm.clock import parse_time, to_utc
from hayweather.weather import asked


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


def sites_of(farm: Farm, field: str | None) -> list[str]:
    """Names of the sites whose weather is needed, each once.

    Raises
    ------
    FarmFileError
        If there is no such field.
    """
    if field is None:
        return list(dict.fromkeys(item.site for item in farm.fields.values()))
    if field not in farm.fields:
        known = ", ".join(farm.fields)
        raise FarmFileError("no_such_field", str(farm.path or ""), value=field, known=known)
    return [farm.fields[field].site]


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
