"""What to learn from: readings, what happened and what was said, of files named or of the log."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar, cast

import numpy as np

from hayweather.errors import InputError
from hayweather.farm.records import Farm
from hayweather.learning.keep import Kept, each_once, load_kept, logged_outlooks
from hayweather.log import Log, LoggedReading, LoggedWork, has_log, open_log
from hayweather.log.records import INSTANTS, LAYERS, Layer, ReadingKind
from hayweather.log.records import Span as Event
from hayweather.log.said import LONGEST_EVENT
from hayweather.log.sheet import heading_of
from hayweather.log.sheets import SheetName, read_entries


@dataclass(frozen=True)
class FieldReading:
    """One row of READINGS.csv.

    Attributes
    ----------
    time
        UTC.
    field
        Where.
    kind
        What was read; "skin" is the temperature of the windrow's top.
    value
        Moisture [% wet basis], the meter's bias taken off, or temperature [C].
    error
        Standard error of the meter, in the unit of `value`.
    water_l_t
        What the rig had put on before the reading [L/t]; None: no rig.
    layer
        Third of the windrow's depth that it is of; None: the whole.
    """

    time: np.datetime64
    field: str
    kind: ReadingKind
    value: float
    error: float
    water_l_t: float | None = None
    layer: Layer | None = None

    @property
    def end(self) -> np.datetime64:
        """When it was over, as for an entry of the log."""
        return self.time


@dataclass(frozen=True)
class LogEvent:
    """One row of LOG.csv: what the hay of a field was like from `start` to `end` (UTC).

    `moisture_wb` is what was measured meanwhile [% wet basis], None where nothing was.
    """

    start: np.datetime64
    end: np.datetime64
    field: str
    event: Event
    moisture_wb: float | None = None


def read_readings(path: Path, farm: Farm, zones: Mapping[str, str | None]) -> list[FieldReading]:
    """The readings of a farm, in order of time.

    Parameters
    ----------
    path
        READINGS.csv, or the sheet of a night's samples at three depths.
    farm
        Its fields.
    zones
        Time zone of each site, for times without an offset.

    Raises
    ------
    InputError
        If the file, or a value in it, is wrong.
    """
    sheet: SheetName = "depths" if set(LAYERS) & set(heading_of(path)) else "readings"
    entries = cast(Sequence[LoggedReading], read_entries(path, farm, zones, sheet).entries)
    return sorted(map(_field_reading, entries), key=lambda item: item.time)


def read_log(path: Path, farm: Farm, zones: Mapping[str, str | None]) -> list[LogEvent]:
    """What happened on a farm, in order of time; parameters as for `read_readings`.

    Parameters
    ----------
    path
        LOG.csv.
    farm
        Its fields are those that may be named.
    zones
        Of the sites, for local times.

    Raises
    ------
    InputError
        If the file, or a value in it, is wrong.
    """
    entries = cast(Sequence[LoggedWork], read_entries(path, farm, zones, "work").entries)
    return _events(entries, farm)


def logged_readings(log: Log) -> list[FieldReading]:
    """The readings in a farm's log as `read_readings` gives them.

    Parameters
    ----------
    log
        Open. Fields that the farm no longer has are left out.
    """
    return [_field_reading(entry) for entry in log.readings() if entry.field in log.farm.fields]


def logged_events(log: Log) -> list[LogEvent]:
    """What happened, from a farm's log, as `read_log` gives it.

    Parameters
    ----------
    log
        Open. Fields that the farm no longer has are left out.
    """
    return _events([entry for entry in log.work() if entry.field in log.farm.fields], log.farm)


def _field_reading(entry: LoggedReading) -> FieldReading:
    """A reading for the fit."""
    return FieldReading(
        time=entry.time,
        field=entry.field,
        kind=entry.kind,
        value=entry.value,
        error=entry.meter_error,
        water_l_t=entry.water_l_t,
        layer=entry.layer,
    )


def _events(entries: Sequence[LoggedWork], farm: Farm) -> list[LogEvent]:
    """Entries that lasted, and those of a start and a stop, in order of time.

    A machine that was started and stopped in a field within two days baled there, or
    rewetted where the farm has a rig of its name.
    """
    found = [
        LogEvent(entry.time, entry.end, entry.field, cast(Event, entry.event), entry.moisture_wb)
        for entry in entries
        if entry.end is not None and entry.event not in INSTANTS
    ]
    running: dict[tuple[str, str], LoggedWork] = {}
    for entry in sorted(entries, key=lambda item: (item.time, item.id)):
        where = (entry.field, entry.machine)
        if entry.event == "started":
            running[where] = entry
        elif entry.event in ("stopped", "broken") and where in running:
            begun = running.pop(where)
            if begun.time < entry.time <= begun.time + LONGEST_EVENT:
                event: Event = "rig" if entry.machine in (farm.rigs or {}) else "baled"
                moisture = begun.moisture_wb if entry.moisture_wb is None else entry.moisture_wb
                found.append(LogEvent(begun.time, entry.time, entry.field, event, moisture))
    return sorted(found, key=lambda item: item.start)


def sites_of(farm: Farm, readings: Sequence[FieldReading]) -> list[str]:
    """Sites of the fields that have a reading, each once."""
    return list(dict.fromkeys(farm.fields[reading.field].site for reading in readings))


Note = TypeVar("Note", FieldReading, LogEvent)


def noted_before(notes: list[Note], time: np.datetime64 | None, file: str) -> list[Note]:
    """Readings or entries that were over by a time; all of them where it is None.

    Parameters
    ----------
    notes
        In order of time.
    time
        UTC, or None.
    file
        Named in the error.

    Raises
    ------
    InputError
        If none is left.
    """
    found = _over_by(notes, time)
    if not found:
        raise InputError("learning_none_before", file, count=len(notes))
    return found


def _over_by(notes: list[Note], last: np.datetime64 | None) -> list[Note]:
    """What was over by a time."""
    return [note for note in notes if last is None or note.end <= last]


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
    if not has_log(farm):
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
    if has_log(farm):
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


def _zones(farm: Farm) -> dict[str, str | None]:
    """Time zone of each site."""
    return {name: site.timezone for name, site in farm.sites.items()}


def _log_name(farm: Farm) -> str:
    """Name of the log's file, else of the farm's."""
    path = farm.log or farm.path
    return farm.name if path is None else path.name
