"""What to learn from: files that are named, else what stands in the farm's log."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from hayweather.errors import InputError
from hayweather.farm.records import Farm
from hayweather.learning.keep import Kept, each_once, load_kept, logged_outlooks
from hayweather.learning.logs import (
    FieldReading,
    LogEvent,
    Note,
    logged_events,
    logged_readings,
    noted_before,
    read_log,
    read_readings,
)
from hayweather.log import open_log

USUAL_FOLDER = Path("outlooks")


@dataclass(frozen=True)
class Past:
    """What a score is made of.

    Attributes
    ----------
    outlooks
        In order of time, each once.
    events, readings
        What happened, and what was read.
    other
        Names of files in the folder that are no outlooks.
    """

    outlooks: list[Kept]
    events: list[LogEvent]
    readings: list[FieldReading]
    other: list[str]


def past_readings(
    farm: Farm, file: Path | None = None, last: np.datetime64 | None = None
) -> list[FieldReading]:
    """Readings to fit, in order of time.

    Parameters
    ----------
    farm
        Its fields, and its log.
    file
        READINGS.csv, or a sheet of samples at three depths; None: the farm's log.
    last
        UTC; later readings do not count. None: all of them.

    Raises
    ------
    InputError
        If the file is wrong, or there is no reading.
    """
    if file is not None:
        return noted_before(read_readings(file, farm, _zones(farm)), last, file.name)
    if not _has_log(farm):
        raise InputError("tune_no_readings", _log_name(farm))
    with open_log(farm, only_read=True) as log:
        found = logged_readings(log)
    if not found:
        raise InputError("tune_no_readings", _log_name(farm))
    return noted_before(found, last, _log_name(farm))


def past_of(
    farm: Farm,
    log_file: Path | None = None,
    readings_file: Path | None = None,
    folder: Path | None = None,
    last: np.datetime64 | None = None,
) -> Past:
    """Outlooks, and what happened; a file named takes the place of that part of the farm's log.

    Parameters
    ----------
    farm
        Its fields, and its log.
    log_file, readings_file
        LOG.csv and READINGS.csv; None: what stands in the log.
    folder
        Of outlooks kept, beside those in the log; None: ``outlooks`` where it is there.
    last
        UTC; what was over later does not count. None: all of it.

    Raises
    ------
    InputError
        If a file is wrong, or there is no outlook, or nothing that happened.
    """
    zones, name = _zones(farm), _log_name(farm)
    events: list[LogEvent] = []
    readings: list[FieldReading] = []
    logged: list[Kept] = []
    if _has_log(farm):
        with open_log(farm, only_read=True) as log:
            events, readings, logged = (
                logged_events(log),
                logged_readings(log),
                logged_outlooks(log),
            )
    if log_file is not None:
        events = noted_before(read_log(log_file, farm, zones), last, log_file.name)
    if readings_file is not None:
        readings = read_readings(readings_file, farm, zones)
    if not events and not readings:
        raise InputError("score_no_log", name)
    count = len(events) + len(readings)
    events, readings = _over_by(events, last), _over_by(readings, last)
    if not events and not readings:
        raise InputError("learning_none_before", name, count=count)
    kept, other = _kept_in(folder, needed=not logged)
    return Past(each_once([*kept, *logged]), events, readings, other)


def _kept_in(folder: Path | None, *, needed: bool) -> tuple[list[Kept], list[str]]:
    """Outlooks of a folder, and files in it that are none."""
    if folder is not None:
        return load_kept(folder)
    if USUAL_FOLDER.is_dir():
        try:
            return load_kept(USUAL_FOLDER)
        except InputError:
            if needed:
                raise
    if needed:
        raise InputError("score_no_outlook", folder=USUAL_FOLDER)
    return [], []


def _over_by(notes: list[Note], last: np.datetime64 | None) -> list[Note]:
    """What was over by a time."""
    return [note for note in notes if last is None or note.end <= last]


def _zones(farm: Farm) -> dict[str, str | None]:
    """Time zone of each site."""
    return {name: site.timezone for name, site in farm.sites.items()}


def _has_log(farm: Farm) -> bool:
    """Whether the farm has a log; none is made."""
    return farm.log is not None and farm.log.exists()


def _log_name(farm: Farm) -> str:
    """Name of the log's file, else of the farm's."""
    path = farm.log or farm.path
    return farm.name if path is None else path.name
