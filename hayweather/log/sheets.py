"""The log as sheets: READINGS.csv, LOG.csv, BALES.csv, and the night's samples at three depths.

One reader for what people keep beside the log and for what it exports. An exported
sheet, read into an empty log, gives the same entries; a row without a uuid gets one
from its content, so that a sheet read twice adds nothing twice.
"""

from __future__ import annotations

import uuid as uuids
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal, cast
from zoneinfo import ZoneInfo

import numpy as np

from hayweather.baling.clock import to_utc as utc_of
from hayweather.farm.clock import parse_time, to_utc
from hayweather.farm.records import Farm
from hayweather.log.records import (
    EVENTS,
    INSTANTS,
    KINDS,
    LAYERS,
    METER_ERRORS,
    METHODS,
    OVEN_ERROR_WB,
    Entry,
    Event,
    Layer,
    LoggedBales,
    LoggedReading,
    LoggedWork,
    Method,
    ReadingKind,
    with_uuid_of,
)
from hayweather.log.said import LONGEST_EVENT, POSSIBLE_WB, local_text, one_line
from hayweather.log.sheet import Row, heading_of, read_sheet
from hayweather.spreadsheet import let_go
from hayweather.units import to_inside

SheetName = Literal["readings", "work", "bales", "depths"]

MOISTURE_RANGE_WB = (1.0, 80.0)  # what a meter in hay can show
METER_ERROR_RANGE = (0.1, 20.0)
BIAS_RANGE = (-15.0, 15.0)
SKIN_RANGE_C = (-30.0, 70.0)
WATER_RANGE_L_T = (0.0, 500.0)
BALES_RANGE = (1.0, 10_000.0)
BALE_MASS_RANGE_KG = (5.0, 1500.0)
BALE_RANGE_C = (-30.0, 120.0)

SIGNED = ("note", "by", "made", "source", "uuid")
COLUMNS: dict[SheetName, tuple[str, ...]] = {
    "readings": (
        *("time", "field", "moisture_wb", "kind", "layer", "meter_error", "bias", "method"),
        *("skin_temperature_c", "water_l_per_t", *SIGNED),
    ),
    "work": ("start", "end", "field", "event", "moisture_wb", "machine", *SIGNED),
    "bales": (
        *("time", "field", "bales", "bale_mass_kg", "moisture_wb", "highest_wb"),
        *("bale_temperature_c", *SIGNED),
    ),
    "depths": ("time", "field", *LAYERS, "kind", "method", "meter_error", "note", "by"),
}
"""Columns of each sheet, as they are exported."""
ALSO_READ: dict[SheetName, tuple[str, ...]] = {
    "readings": ("skin_temperature_f", "water_gal_per_ton"),
    "work": (),
    "bales": (),
    "depths": (),
}
NEEDED: dict[SheetName, tuple[str, ...]] = {
    "readings": ("time",),
    "work": ("start", "end", "event"),
    "bales": ("time", "bales"),
    "depths": ("time",),
}
FILE_NAMES: dict[SheetName, str] = {
    "readings": "READINGS.csv",
    "work": "LOG.csv",
    "bales": "BALES.csv",
}
"""Of the sheets in a folder that was exported."""


@dataclass(frozen=True)
class Sheet:
    """What was read.

    Attributes
    ----------
    name
        Which sheet it is.
    entries
        In the order of its rows.
    doubled
        Times that the clock showed twice, and of which the first was taken.
    """

    name: SheetName
    entries: tuple[Entry, ...]
    doubled: int = 0


def read_entries(
    path: Path,
    farm: Farm,
    zones: Mapping[str, str | None],
    name: SheetName | None = None,
    *,
    field: str | None = None,
    now: np.datetime64 | None = None,
) -> Sheet:
    """The entries of a sheet.

    Parameters
    ----------
    path
        CSV; which sheet it is, its columns tell.
    farm
        Its fields are those that may be named.
    zones
        Time zone of each site, for times without an offset. In an hour that the clock
        showed twice, rows of one field in their order tell which is meant.
    name
        Which sheet is wanted, where only one will do.
    field
        The one meant where a row names none.
    now
        UTC; nothing may be later. None: no limit.

    Raises
    ------
    InputError
        If the file, or a value in it, is wrong.
    """
    found = name or _sheet_of(heading_of(path))
    rows = read_sheet(path, (*COLUMNS[found], *ALSO_READ[found]), NEEDED[found])
    reader = _Reader(farm, zones, field, now)
    entries = [
        replace(entry, **_signed(row)) for row in rows for entry in _READERS[found](reader, row)
    ]
    return Sheet(found, tuple(_with_uuids(entries)), reader.doubled)


def _sheet_of(heading: Sequence[str]) -> SheetName:
    """Which sheet has these columns."""
    if set(LAYERS) & set(heading):
        return "depths"
    if "event" in heading or "start" in heading:
        return "work"
    return "bales" if "bales" in heading else "readings"


class _Reader:
    """Rows of one sheet as entries; remembers the times of each field before."""

    def __init__(
        self,
        farm: Farm,
        zones: Mapping[str, str | None],
        field: str | None,
        now: np.datetime64 | None,
    ) -> None:
        self.usual, self.now = field, now
        self.names = list(farm.fields)
        self.zones = {name: zones.get(field.site) for name, field in farm.fields.items()}
        self.last: dict[str, np.datetime64] = {}
        self.doubled = 0

    def field(self, row: Row) -> str:
        """The field of a row."""
        if "field" not in row.cells:
            return self.usual or row.name("field", self.names)
        cells = {**row.cells, "field": let_go(row.cells["field"])}
        return replace(row, cells=cells).name("field", self.names)

    def time(self, row: Row, column: str, field: str) -> np.datetime64:
        """A time as UTC; one that the clock never showed is refused."""
        zone = self.zones[field]
        moment = parse_time(row.cells.get(column))
        if moment is None:
            raise row.error("sheet_time", column)
        if moment.tzinfo is None and zone is None:
            raise row.error("reading_no_zone", column)
        time, change = to_utc(moment, ZoneInfo(zone) if zone else None)
        if change == "missing":
            raise row.error("log_time_missing", column, zone=zone)
        if change == "doubled" and zone is not None:
            second = utc_of(moment.replace(tzinfo=ZoneInfo(zone), fold=1))
            if field in self.last and self.last[field] >= time and self.last[field] < second:
                time = second
            else:
                self.doubled += 1
        if self.now is not None and time > self.now:
            said = {"time": local_text(time, zone), "now": local_text(self.now, zone)}
            raise row.error("log_after_now", column, **said)
        self.last[field] = time
        return time

    def reading(self, row: Row) -> Iterator[LoggedReading]:
        """A row of READINGS.csv."""
        field = self.field(row)
        time = self.time(row, "time", field)
        layer = cast(Layer, row.word("layer", LAYERS)) if "layer" in row.cells else None
        skin = _skin_c(row)
        if skin is not None:
            error = _skin_error(row)
            yield LoggedReading(
                field=field, time=time, kind="skin", skin_temperature_c=skin, meter_error=error
            )
            return
        moisture = row.number("moisture_wb", *_moistures(row))
        if moisture is None:
            raise row.error("reading_nothing", "moisture_wb")
        yield LoggedReading(
            field=field, time=time, layer=layer, moisture_wb=moisture,
            bias=row.number("bias", *BIAS_RANGE) or 0.0, water_l_t=_water_l_t(row),
            **_means(row),
        )  # fmt: skip

    def depths(self, row: Row) -> Iterator[LoggedReading]:
        """A row of the night's samples: a reading for each depth that was taken."""
        field = self.field(row)
        time = self.time(row, "time", field)
        found = [(layer, row.number(layer, *_moistures(row))) for layer in LAYERS]
        if all(moisture is None for _, moisture in found):
            raise row.error("log_no_depth", "top")
        for layer, moisture in found:
            if moisture is not None:
                yield LoggedReading(
                    field=field, time=time, layer=layer, moisture_wb=moisture, **_means(row)
                )

    def work(self, row: Row) -> Iterator[LoggedWork]:
        """A row of LOG.csv."""
        field = self.field(row)
        event = cast(Event, row.word("event", EVENTS))
        start = self.time(row, "start", field)
        end = None
        if event not in INSTANTS or "end" in row.cells:
            end = self.time(row, "end", field)
            if end <= start:
                raise row.error("log_reversed", "end")
            if end - start > LONGEST_EVENT:
                raise row.error("log_long", "end")
        if end is not None and event in INSTANTS:
            raise row.error("log_moment_only", "end")
        yield LoggedWork(
            field=field, time=start, end=end, event=event,
            machine=_text(row, "machine"),
            moisture_wb=row.number("moisture_wb", *_moistures(row)),
        )  # fmt: skip

    def bales(self, row: Row) -> Iterator[LoggedBales]:
        """A row of BALES.csv."""
        field = self.field(row)
        count = row.number("bales", *BALES_RANGE)
        yield LoggedBales(
            field=field, time=self.time(row, "time", field),
            count=None if count is None else round(count),
            mass_kg=row.number("bale_mass_kg", *BALE_MASS_RANGE_KG),
            moisture_wb=row.number("moisture_wb", *_moistures(row)),
            highest_wb=row.number("highest_wb", *_moistures(row)),
            temperature_c=row.number("bale_temperature_c", *BALE_RANGE_C),
        )  # fmt: skip


_READERS: dict[SheetName, Callable[[_Reader, Row], Iterator[Entry]]] = {
    "readings": _Reader.reading,
    "work": _Reader.work,
    "bales": _Reader.bales,
    "depths": _Reader.depths,
}


def _moistures(row: Row) -> tuple[float, float]:
    """Moistures that may stand in a row; in one that came out of a log, all that it may hold."""
    return POSSIBLE_WB if "uuid" in row.cells else MOISTURE_RANGE_WB


def _means(row: Row) -> dict[str, Any]:
    """What was read and by what, with the error of that."""
    kind = cast(ReadingKind, row.word("kind", [k for k in KINDS if k != "skin"], "windrow"))
    method = cast(Method, row.word("method", METHODS)) if "method" in row.cells else None
    usual = OVEN_ERROR_WB if method == "oven" else METER_ERRORS[kind]
    error = row.number("meter_error", *METER_ERROR_RANGE) or usual
    return {"kind": kind, "method": method, "meter_error": error}


def _signed(row: Row) -> dict[str, Any]:
    """Note and bookkeeping of a row."""
    said: dict[str, Any] = {name: _text(row, name) for name in ("note", "by", "source")}
    if "uuid" in row.cells:
        try:
            said["uuid"] = str(uuids.UUID(row.cells["uuid"]))
        except ValueError:
            raise row.error("log_uuid", "uuid") from None
    if "made" in row.cells:
        said["made"] = row.time("made", "UTC")
    return said


def _text(row: Row, column: str) -> str:
    """A cell of words, as it was before the spreadsheet was kept from running it."""
    return one_line(let_go(row.cells.get(column, "")), row.where(column))


def _with_uuids(entries: Sequence[Entry]) -> Iterator[Entry]:
    """Entries, each with a uuid."""
    seen: Counter[str] = Counter()
    for entry in entries:
        if entry.uuid:
            yield entry
            continue
        first = with_uuid_of(entry)
        yield replace(entry, uuid=with_uuid_of(entry, seen[first]))
        seen[first] += 1


def _skin_c(row: Row) -> float | None:
    """Temperature of the windrow's top [C], in either unit."""
    low, high = SKIN_RANGE_C
    warm = row.number("skin_temperature_f", low * 1.8 + 32, high * 1.8 + 32)
    if warm is not None:
        return float(to_inside(warm, "temperature", "°F"))
    return row.number("skin_temperature_c", low, high)


def _skin_error(row: Row) -> float:
    """Error of a skin thermometer [K], given in the unit of its temperature."""
    given = row.number("meter_error", *METER_ERROR_RANGE)
    if given is None:
        return METER_ERRORS["skin"]
    return given / 1.8 if "skin_temperature_f" in row.cells else given


def _water_l_t(row: Row) -> float | None:
    """What the rig had put on [L/t], in either unit."""
    low, high = WATER_RANGE_L_T
    gallons = row.number(
        "water_gal_per_ton", low, float(high / to_inside(1.0, "water_rate", "gal/ton"))
    )
    if gallons is not None:
        return float(to_inside(gallons, "water_rate", "gal/ton")) or None
    return row.number("water_l_per_t", low, high) or None


# From the log to a sheet

ATTRIBUTES = {
    "start": "time",
    "water_l_per_t": "water_l_t",
    "bales": "count",
    "bale_mass_kg": "mass_kg",
    "bale_temperature_c": "temperature_c",
}
"""Columns that are called otherwise in the records."""


def rows_of(
    name: SheetName, entries: Sequence[Entry], zone_of: Callable[[str], str | None]
) -> list[list[object]]:
    """Entries as rows of a sheet, under `COLUMNS`; every digit is kept.

    Parameters
    ----------
    name
        Which sheet; "depths" is only read.
    entries
        Of the kind that stands in it.
    zone_of
        Time zone of a field, in which its times are written; UTC where it is None.
    """
    return [[cell_of(entry, column, zone_of) for column in COLUMNS[name]] for entry in entries]


def has_column(entry: Entry, column: str) -> bool:
    """Whether entries of this kind have such a value at all."""
    return hasattr(entry, ATTRIBUTES.get(column, column))


def cell_of(entry: Entry, column: str, zone_of: Callable[[str], str | None]) -> object:
    """One value of an entry, a time as local text; None where it has none."""
    value = getattr(entry, ATTRIBUTES.get(column, column), None)
    return local_text(value, zone_of(entry.field)) if isinstance(value, np.datetime64) else value
