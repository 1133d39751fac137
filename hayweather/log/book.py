"""The farm's log: one file a farm, everything that was read, done, measured and issued."""

from __future__ import annotations

import hashlib
import json
import math
import sqlite3
import uuid as uuids
import zlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import fields, replace
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Literal, NoReturn, TypeVar

import numpy as np

from hayweather.errors import InputError, OutputError
from hayweather.farm.clock import wall_clock
from hayweather.farm.records import Farm
from hayweather.farm.zones import distance_km
from hayweather.log import database
from hayweather.log.records import (
    EVENTS,
    INSTANTS,
    KINDS,
    LAYERS,
    METER_ERRORS,
    METHODS,
    OF_MACHINES,
    OVEN_ERROR_WB,
    Entry,
    Event,
    Issued,
    KeptForecast,
    Layer,
    LoggedBales,
    LoggedReading,
    LoggedWork,
    Method,
    Observation,
    ReadingKind,
    new_uuid,
)
from hayweather.log.said import (
    LONGEST_EVENT,
    Moment,
    checked_moisture,
    field_said,
    local_text,
    machine_said,
    moment_of,
    one_line,
    refuse_future,
    zone_of,
)
from hayweather.log.sheets import (
    BIAS_RANGE,
    METER_ERROR_RANGE,
    SKIN_RANGE_C,
    WATER_RANGE_L_T,
)

if TYPE_CHECKING:
    import pandas as pd

E = TypeVar("E", bound=Entry)
OTHER_PLACE_KM = 50.0
"""So far from where a field lay when it was first logged it is another farm's (assumed)."""

NIGHTS_KEPT = 2000
"""Nights of which a site's forecasts are kept; the oldest go (some 2 kB each)."""
NIGHTS_WHOLE = 3
"""Of so many nights every forecast stays, of those before it the first of each night."""

_WHAT: dict[type[Entry], str] = {LoggedReading: "reading", LoggedWork: "work", LoggedBales: "bales"}
_TABLE = {"reading": "readings", "work": "work", "bales": "bales"}
_COMMON = ("field", "time", "note", "uuid", "by", "source", "made", "removed", "id")
_TIMES = frozenset({"time", "made", "removed", "end"})
_WORDS: dict[str, Sequence[str | None]] = {
    "kind": KINDS,
    "layer": (None, *LAYERS),
    "method": (None, *METHODS),
    "event": EVENTS,
}
Issue = Literal["outlook", "plan"]


def open_log(farm: Farm, *, only_read: bool = False) -> Log:
    """The log of a farm; use it in a ``with`` block.

    Parameters
    ----------
    farm
        As read from its file, which says where the log lies.
    only_read
        True to change nothing on disk: without a file the log is empty, and a file
        in a folder that cannot be written is read all the same.

    Raises
    ------
    InputError
        If the farm came from no file, or a field of it was logged far from its site.
    OutputError
        If the file is no log, of a newer version, damaged, locked, or cannot be written.
    """
    if farm.log is None:
        raise InputError("log_no_place", farm.name)
    opened = database.open_to_read if only_read else database.open_to_write
    log = Log(farm, farm.log, opened(farm.log))
    try:
        log.check_places()
    except BaseException:
        log.close()
        raise
    return log


def has_log(farm: Farm) -> bool:
    """Whether a farm's log is there; none is made."""
    return farm.log is not None and farm.log.exists()


class Log:
    """An open log. Adding the same uuid again adds nothing; removing marks and loses nothing.

    Parameters
    ----------
    farm
        Its fields and their clocks.
    path, connection
        The file.
    """

    def __init__(self, farm: Farm, path: Path, connection: sqlite3.Connection) -> None:
        self.farm = farm
        self.path = path
        self._connection = connection

    def __enter__(self) -> Log:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        problem: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the file."""
        self._connection.close()

    # What people type

    def add_reading(
        self,
        field: str,
        moisture_wb: float | None = None,
        *,
        time: Moment | None = None,
        kind: ReadingKind = "windrow",
        layer: Layer | None = None,
        skin_temperature_c: float | None = None,
        meter_error: float | None = None,
        bias: float = 0.0,
        method: Method | None = None,
        water_l_t: float | None = None,
        note: str = "",
        by: str = "",
        source: str = "python",
        uuid: str | None = None,
        now: np.datetime64 | None = None,
        sure: bool = False,
    ) -> LoggedReading:
        """Write down a reading.

        Parameters
        ----------
        field
            A field of the farm.
        moisture_wb
            As the meter showed it [% wet basis].
        time
            Now where it is left out; without an offset on the clock of the site.
        kind, layer, skin_temperature_c, meter_error, bias, method, water_l_t, note, by, source
            As in `LoggedReading`; without `meter_error` that assumed for kind or oven.
        uuid
            Of an entry that may be sent twice; a new one without.
        now
            UTC; nothing may be later. The computer's clock without.
        sure
            True to take a moisture that is hardly possible.

        Returns
        -------
        LoggedReading
            As it stands in the log: what was there before, if it had this uuid.

        Raises
        ------
        InputError
            If anything cannot be, the reading is of the future, or the uuid has
            another content.
        OutputError
            If the file cannot be written.
        """
        name, moment, last = self._place_and_time(field, time, now)
        if moisture_wb is not None:
            checked_moisture(moisture_wb, sure=sure, where="moisture_wb")
        if (kind == "skin") != (moisture_wb is None) or (kind == "skin") != (
            skin_temperature_c is not None
        ):
            raise InputError("log_reading_nothing", name)
        for word, value in (("kind", kind), ("layer", layer), ("method", method)):
            _check_word(word, value)
        _check_number("bias", bias, BIAS_RANGE)
        _check_number("water_l_t", water_l_t, WATER_RANGE_L_T)
        _check_number("skin_temperature_c", skin_temperature_c, SKIN_RANGE_C)
        usual = OVEN_ERROR_WB if method == "oven" else METER_ERRORS[kind]
        error = usual if meter_error is None else meter_error
        _check_number("meter_error", error, METER_ERROR_RANGE)
        entry = LoggedReading(
            field=name,
            time=moment,
            kind=kind,
            layer=layer,
            moisture_wb=None if moisture_wb is None else float(moisture_wb),
            skin_temperature_c=skin_temperature_c,
            meter_error=float(error),
            bias=float(bias),
            method=method,
            water_l_t=water_l_t,
            **_signed(note, by, source, uuid),
        )
        return self.add_all([entry], last)[0][0]

    def add_work(
        self,
        field: str,
        event: Event,
        *,
        time: Moment | None = None,
        end: Moment | None = None,
        machine: str = "",
        moisture_wb: float | None = None,
        note: str = "",
        by: str = "",
        source: str = "python",
        uuid: str | None = None,
        now: np.datetime64 | None = None,
    ) -> LoggedWork:
        """Write down work, or what the hay was like; otherwise as `add_reading`.

        Parameters
        ----------
        field, event, time, end, machine, moisture_wb
            As in `LoggedWork`; an event that lasts needs `time` and `end`.
        note, by, source, uuid, now
            As for `add_reading`.
        """
        _check_word("event", event)
        name, moment, last = self._place_and_time(field, time, now)
        over = None if end is None else moment_of(end, zone_of(self.farm, name), "end")
        if (over is None) != (event in INSTANTS):
            key = "log_moment_only" if event in INSTANTS else "log_span_needed"
            raise InputError(key, name, value=event)
        check_span(moment, over, zone_of(self.farm, name), name)
        if moisture_wb is not None:
            checked_moisture(moisture_wb, where="moisture_wb")
        if event in OF_MACHINES:
            machine = machine_said(machine, self.farm)
        entry = LoggedWork(
            field=name,
            time=moment,
            event=event,
            end=over,
            machine=one_line(machine, "machine"),
            moisture_wb=moisture_wb,
            **_signed(note, by, source, uuid),
        )
        return self.add_all([entry], last)[0][0]

    def _place_and_time(
        self, field: str, time: Moment | None, now: np.datetime64 | None
    ) -> tuple[str, np.datetime64, np.datetime64]:
        """Name of the field, time of the entry, and now."""
        name = field_said(field, self.farm, "field")
        last = wall_clock() if now is None else now.astype("datetime64[s]")
        moment = last if time is None else moment_of(time, zone_of(self.farm, name))
        return name, moment, last

    def add_all(
        self, entries: Sequence[E], now: np.datetime64 | None = None
    ) -> list[tuple[E, bool]]:
        """Write down entries, all or none.

        Parameters
        ----------
        entries
            Checked; each with its uuid.
        now
            UTC; nothing may be later.

        Returns
        -------
        list of (entry, bool)
            As each stands in the log, and whether it is new there.

        Raises
        ------
        InputError
            If one is of the future, or a uuid has another content in the log.
        OutputError
            If the file cannot be written.
        """
        last = wall_clock() if now is None else now
        for entry in entries:
            refuse_future(entry.over, last, zone_of(self.farm, entry.field), entry.field)
        with self._writing():
            return [self._add(entry, last) for entry in entries]

    def _add(self, entry: E, now: np.datetime64) -> tuple[E, bool]:
        """One entry inside a transaction."""
        row = self._connection.execute(
            "SELECT id FROM entries WHERE uuid = ?", (entry.uuid,)
        ).fetchone()
        if row is not None:
            found = self.entry(row[0])
            if type(found) is not type(entry) or found.content() != entry.content():
                raise InputError("log_uuid_taken", entry.field, value=entry.uuid, id=found.id)
            return found, False
        entry = replace(entry, made=now if entry.made is None else entry.made, removed=None)
        self._remember_place(entry.field)
        what = _WHAT[type(entry)]
        common = [_cell(getattr(entry, name)) for name in _COMMON[:-1]]
        marks = ", ".join("?" * (len(common) + 1))
        number = self._connection.execute(
            f"INSERT INTO entries ({', '.join(_COMMON[:-1])}, what) VALUES ({marks})",
            (*common, what),
        ).lastrowid
        names = _details(type(entry))
        cells = [_cell(getattr(entry, name)) for name in names]
        columns = ", ".join(f'"{name}"' for name in names)
        marks = ", ".join("?" * (len(names) + 1))
        self._connection.execute(
            f"INSERT INTO {_TABLE[what]} (id, {columns}) VALUES ({marks})", (number, *cells)
        )
        return replace(entry, id=int(number or 0)), True

    def remove(self, number: int, *, now: np.datetime64 | None = None) -> Entry:
        """Take an entry out: it is marked, nobody reckons with it, and nothing is lost.

        Parameters
        ----------
        number
            Its id.
        now
            UTC; when.

        Returns
        -------
        Entry
            As it is now.

        Raises
        ------
        InputError
            If there is no such entry, or it was removed before.
        """
        with self._writing():
            found = self.entry(number)
            if found.removed is not None:
                when = local_text(found.removed, zone_of(self.farm, found.field))
                raise InputError("log_removed_before", self.path.name, id=number, time=when)
            when_now = wall_clock() if now is None else now.astype("datetime64[s]")
            self._connection.execute(
                "UPDATE entries SET removed = ? WHERE id = ?", (_cell(when_now), number)
            )
            return self.entry(number)

    # What stands in it

    def entry(self, number: int) -> Entry:
        """The entry of an id, removed or not.

        Raises
        ------
        InputError
            If there is none.
        """
        with self._faults_said():
            row = self._connection.execute(
                "SELECT what FROM entries WHERE id = ?", (number,)
            ).fetchone()
            if row is None:
                raise InputError("log_no_entry", self.path.name, value=number)
            kinds = {what: kind for kind, what in _WHAT.items()}
            if row[0] not in kinds:
                self._damaged()
            found = self._select(kinds[row[0]], "e.id = ?", (number,))
            if not found:
                self._damaged()
            return found[0]

    def by_uuid(self, uuid: str) -> Entry | None:
        """The entry of a uuid, removed or not; None where there is none."""
        with self._faults_said():
            row = self._connection.execute(
                "SELECT id FROM entries WHERE uuid = ?", (uuid,)
            ).fetchone()
        return None if row is None else self.entry(row[0])

    def readings(
        self,
        field: str | None = None,
        since: np.datetime64 | None = None,
        until: np.datetime64 | None = None,
        *,
        removed: bool = False,
    ) -> list[LoggedReading]:
        """Readings in order of time.

        Parameters
        ----------
        field
            None: of every field, also of those that the farm file no longer names.
        since, until
            UTC, both included; None: no limit.
        removed
            True for those too that were removed.
        """
        return self._entries(LoggedReading, field, since, until, removed)

    def work(
        self,
        field: str | None = None,
        since: np.datetime64 | None = None,
        until: np.datetime64 | None = None,
        *,
        removed: bool = False,
    ) -> list[LoggedWork]:
        """Work in order of its start; parameters as for `readings`."""
        return self._entries(LoggedWork, field, since, until, removed)

    def bales(
        self,
        field: str | None = None,
        since: np.datetime64 | None = None,
        until: np.datetime64 | None = None,
        *,
        removed: bool = False,
    ) -> list[LoggedBales]:
        """Bales in order of time; parameters as for `readings`."""
        return self._entries(LoggedBales, field, since, until, removed)

    def _entries(
        self,
        kind: type[E],
        field: str | None,
        since: np.datetime64 | None,
        until: np.datetime64 | None,
        removed: bool,
    ) -> list[E]:
        """Entries of a kind."""
        where, values = _limits({"e.field =": field, "e.time >=": since, "e.time <=": until})
        where += "" if removed else " AND e.removed IS NULL"
        return self._select(kind, where, values)

    def _select(self, kind: type[E], where: str, values: Sequence[object]) -> list[E]:
        """Entries of a kind as records."""
        names = (*(f"e.{name}" for name in _COMMON), *(f'd."{n}"' for n in _details(kind)))
        table = _TABLE[_WHAT[kind]]
        with self._faults_said():
            rows = self._connection.execute(
                f"SELECT {', '.join(names)} FROM entries e JOIN {table} d ON d.id = e.id"
                f" WHERE {where} ORDER BY e.time, e.id",
                values,
            ).fetchall()
            return [self._record(kind, row) for row in rows]

    def _record(self, kind: type[E], row: Sequence[Any]) -> E:
        """A row as a record.

        Raises
        ------
        OutputError
            If a value in it cannot have been written here.
        """
        names = (*_COMMON, *_details(kind))
        try:
            values: dict[str, Any] = {
                name: _moment(value) if name in _TIMES and value is not None else value
                for name, value in zip(names, row, strict=True)
            }
            for name, known in _WORDS.items():
                if name in values and values[name] not in known:
                    self._damaged()
            return kind(**values)
        except (ValueError, TypeError):
            self._damaged()

    # Stations

    def add_observations(
        self, observations: Iterable[Observation], *, now: np.datetime64 | None = None
    ) -> int:
        """Keep measured values; a later value of the same hour takes the place of the earlier.

        Parameters
        ----------
        observations
            Of any station; values that are not known are left out.
        now
            UTC.

        Returns
        -------
        int
            How many were new or changed.
        """
        made = _cell(wall_clock() if now is None else now)
        rows = [
            (item.station, item.quantity, _cell(item.time), float(item.value), item.origin, made)
            for item in observations
            if math.isfinite(item.value)
        ]
        with self._writing():
            before = self._connection.total_changes
            self._connection.executemany(
                "INSERT INTO observations (station, quantity, time, value, origin, made)"
                " VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT (station, quantity, time) DO UPDATE"
                " SET value = excluded.value, origin = excluded.origin, made = excluded.made"
                " WHERE value <> excluded.value OR origin <> excluded.origin",
                rows,
            )
            return self._connection.total_changes - before

    def observations(
        self,
        station: str | None = None,
        since: np.datetime64 | None = None,
        until: np.datetime64 | None = None,
    ) -> list[Observation]:
        """Measured values in order of time; `since` and `until` (UTC) are included."""
        where, values = _limits({"station =": station, "time >=": since, "time <=": until})
        with self._faults_said():
            rows = self._connection.execute(
                "SELECT station, time, quantity, value, origin FROM observations"
                f" WHERE {where} ORDER BY time, station, quantity",
                values,
            ).fetchall()
            try:
                return [
                    Observation(station, _moment(time), quantity, value, origin)
                    for station, time, quantity, value, origin in rows
                ]
            except (ValueError, TypeError):
                self._damaged()

    # What was issued

    def add_outlook(
        self,
        field: str,
        made: np.datetime64,
        content: Mapping[str, Any],
        advice: str = "",
        forecast: int | None = None,
    ) -> bool:
        """Keep an outlook of a field as it was issued; the same one is kept once.

        Parameters
        ----------
        field, made, content, advice, forecast
            As in `Issued`; numbers of `content` keep every digit, NaN becomes null.

        Returns
        -------
        bool
            Whether it is new.
        """
        return self._issue("outlook", Issued(field, made, advice, content, forecast))

    def add_plan(self, made: np.datetime64, content: Mapping[str, Any], advice: str = "") -> bool:
        """Keep a plan as it was issued; as `add_outlook`, over all fields."""
        return self._issue("plan", Issued("", made, advice, content))

    def _issue(self, what: Issue, issued: Issued) -> bool:
        """Keep something issued, packed, once."""
        text = json.dumps(_plain(issued.content), ensure_ascii=False, allow_nan=False)
        digest = hashlib.sha256(text.encode()).hexdigest()
        cells = (what, issued.field, _cell(issued.made), issued.advice, issued.forecast, digest)
        with self._writing():
            done = self._connection.execute(
                "INSERT INTO issued (what, field, made, advice, forecast, digest, content)"
                " VALUES (?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING",
                (*cells, zlib.compress(text.encode(), 6)),
            )
            return done.rowcount > 0

    def outlooks(
        self,
        field: str | None = None,
        since: np.datetime64 | None = None,
        until: np.datetime64 | None = None,
    ) -> list[Issued]:
        """Outlooks in the order in which they were made; `since` and `until` (UTC) included."""
        return self._issued("outlook", field, since, until)

    def plans(
        self, since: np.datetime64 | None = None, until: np.datetime64 | None = None
    ) -> list[Issued]:
        """Plans in the order in which they were made; `since` and `until` (UTC) included."""
        return self._issued("plan", None, since, until)

    def _issued(
        self,
        what: Issue,
        field: str | None,
        since: np.datetime64 | None,
        until: np.datetime64 | None,
    ) -> list[Issued]:
        """What was issued of a kind."""
        asked = {"what =": what, "field =": field, "made >=": since, "made <=": until}
        where, values = _limits(asked)
        with self._faults_said():
            rows = self._connection.execute(
                f"SELECT field, made, advice, content, digest, forecast FROM issued WHERE {where}"
                " ORDER BY made, id",
                values,
            ).fetchall()
            return [self._unpacked(row) for row in rows]

    def _unpacked(self, row: Sequence[Any]) -> Issued:
        """A row of what was issued; damaged where its digest is another."""
        field, made, advice, content, digest, forecast = row
        form = self._opened(content, digest)
        try:
            return Issued(field, _moment(made), advice, form, forecast)
        except (ValueError, TypeError):
            self._damaged()

    def _opened(self, content: bytes, digest: str) -> Any:
        """What was packed; damaged where its digest is another."""
        try:
            raw = zlib.decompress(content)
        except (zlib.error, TypeError):
            self._damaged()
        if hashlib.sha256(raw).hexdigest() != digest:
            self._damaged()
        return json.loads(raw)

    # Forecasts as they came

    def add_forecast(self, forecast: KeptForecast) -> int:
        """Keep the hours of a forecast as they came, and return its number; the same one once.

        What grows too old goes: see `NIGHTS_WHOLE` and `NIGHTS_KEPT`.

        Parameters
        ----------
        forecast
            Not yet moved by a station or a learned error.
        """
        form = {"wind_height_m": forecast.wind_height_m, "columns": dict(forecast.columns)}
        text = json.dumps(_plain(form), ensure_ascii=False, allow_nan=False)
        digest = hashlib.sha256(text.encode()).hexdigest()
        key = (forecast.site, forecast.source, _cell(forecast.hour), digest)
        issued = None if forecast.issued is None else _cell(forecast.issued)
        rest = (
            forecast.night, issued, _cell(forecast.written), forecast.latitude,
            forecast.longitude, zlib.compress(text.encode(), 6),
        )  # fmt: skip
        with self._writing():
            self._connection.execute(
                "INSERT INTO forecasts (site, source, hour, digest, night, issued, written,"
                " latitude, longitude, content) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
                " ON CONFLICT DO NOTHING",
                (*key, *rest),
            )
            self._thin_out(forecast)
            found = self._connection.execute(
                "SELECT id FROM forecasts WHERE site = ? AND source = ? AND hour = ?"
                " AND digest = ?",
                key,
            ).fetchone()
        return 0 if found is None else int(found[0])

    def _thin_out(self, newest: KeptForecast) -> None:
        """Of nights some days back the first forecast of each stays, of very old ones none."""
        own = (newest.site, newest.source)
        self._connection.execute(
            "DELETE FROM forecasts WHERE site = ?1 AND source = ?2 AND night <= ?3"
            " AND id NOT IN (SELECT id FROM (SELECT id, min(hour) FROM forecasts"
            " WHERE site = ?1 AND source = ?2 AND night <= ?3 GROUP BY night))",
            (*own, newest.night - NIGHTS_WHOLE),
        )
        self._connection.execute(
            "DELETE FROM forecasts WHERE site = ?1 AND night <= (SELECT night FROM forecasts"
            " WHERE site = ?1 GROUP BY night ORDER BY night DESC LIMIT 1 OFFSET ?2)",
            (newest.site, NIGHTS_KEPT),
        )

    def forecasts(self, site: str | None = None) -> list[KeptForecast]:
        """Forecasts as they came, in the order of the hours in which they were used."""
        where, values = _limits({"site =": site})
        with self._faults_said():
            rows = self._connection.execute(
                "SELECT id, site, source, hour, issued, written, latitude, longitude, content,"
                f" digest FROM forecasts WHERE {where} ORDER BY hour, id",
                values,
            ).fetchall()
            return [self._forecast(row) for row in rows]

    def _forecast(self, row: Sequence[Any]) -> KeptForecast:
        """A row of what came."""
        number, site, source, hour, issued, written, latitude, longitude, content, digest = row
        form = self._opened(content, digest)
        try:
            columns = {
                name: np.array([np.nan if value is None else value for value in values], float)
                for name, values in form["columns"].items()
            }
            return KeptForecast(
                site, source, _moment(hour), None if issued is None else _moment(issued),
                _moment(written), latitude, longitude, columns, form["wind_height_m"], number,
            )  # fmt: skip
        except (ValueError, TypeError, KeyError):
            self._damaged()

    # All of it

    def counts(self) -> dict[str, int]:
        """How many values of stations, outlooks, plans and forecasts as they came are kept."""
        asked = {
            "observations": "SELECT count(*) FROM observations",
            "outlooks": "SELECT count(*) FROM issued WHERE what = 'outlook'",
            "plans": "SELECT count(*) FROM issued WHERE what = 'plan'",
            "forecasts": "SELECT count(*) FROM forecasts",
        }
        with self._faults_said():
            return {
                name: int(self._connection.execute(question).fetchone()[0])
                for name, question in asked.items()
            }

    def to_frames(self) -> dict[str, pd.DataFrame]:
        """All of it as tables: readings, work, bales, observations, outlooks.

        Times are UTC with their zone; entries that were removed are left out; units
        stand in the names of the columns.
        """
        import pandas as pd

        records: dict[str, tuple[list[str], list[dict[str, Any]]]] = {
            _TABLE[what]: (
                [item.name for item in fields(kind)],
                [
                    {item.name: getattr(entry, item.name) for item in fields(kind)}
                    for entry in self._entries(kind, None, None, None, removed=False)
                ],
            )
            for kind, what in _WHAT.items()
        }
        names = [item.name for item in fields(Observation)]
        records["observations"] = (names, [vars(item) for item in self.observations()])
        records["outlooks"] = (
            ["field", "made", "advice"],
            [{"field": o.field, "made": o.made, "advice": o.advice} for o in self.outlooks()],
        )
        frames = {}
        for table, (columns, rows) in records.items():
            frame = pd.DataFrame(rows, columns=columns)
            for column in _TIMES.intersection(columns):
                frame[column] = pd.to_datetime(frame[column], utc=True)
            frames[table] = frame
        return frames

    def copy(self) -> bytes:
        """The whole file as bytes, after it was found to be sound.

        Raises
        ------
        OutputError
            If it is damaged.
        """
        with self._faults_said():
            if self._connection.execute("PRAGMA quick_check(1)").fetchone()[0] != "ok":
                self._damaged()
            return self._connection.serialize()

    # The file

    def check_places(self) -> None:
        """Refuse a farm of which a field lies far from where it was when it was logged.

        Raises
        ------
        InputError
            If one does: the log is another farm's.
        """
        with self._faults_said():
            rows = self._connection.execute("SELECT field, latitude, longitude FROM places")
            for name, latitude, longitude in rows.fetchall():
                if name not in self.farm.fields:
                    continue
                site = self.farm.sites[self.farm.fields[name].site]
                away = distance_km(site.latitude, site.longitude, latitude, longitude)
                if away > OTHER_PLACE_KM:
                    values = {"value": name, "distance": f"{away:.0f}"}
                    raise InputError("log_other_place", str(self.path), **values)

    def _remember_place(self, field: str) -> None:
        """Where a field lies, when it is first logged."""
        site = self.farm.sites[self.farm.fields[field].site]
        self._connection.execute(
            "INSERT INTO places VALUES (?, ?, ?) ON CONFLICT DO NOTHING",
            (field, site.latitude, site.longitude),
        )

    @contextmanager
    def _writing(self) -> Iterator[None]:
        """One change of the file, whole or not at all."""
        with self._faults_said(), database.transaction(self._connection):
            yield

    @contextmanager
    def _faults_said(self) -> Iterator[None]:
        """Whatever the file cannot do is one line."""
        with database.faults_said(self.path):
            yield

    def _damaged(self) -> NoReturn:
        """Say that the file is damaged."""
        raise OutputError("log_damaged", str(self.path), reason="values")


def check_span(
    start: np.datetime64, end: np.datetime64 | None, zone: str | None, where: str
) -> None:
    """Refuse an end that is not after its start, or lies days after it.

    Raises
    ------
    InputError
        If it is so.
    """
    if end is None:
        return
    if end <= start:
        raise InputError("log_reversed", where, value=local_text(end, zone))
    if end - start > LONGEST_EVENT:
        raise InputError("log_long", where, value=local_text(end, zone))


def _signed(note: str, by: str, source: str, uuid: str | None) -> dict[str, Any]:
    """Note and bookkeeping of a new entry."""
    return {
        "note": one_line(note),
        "by": one_line(by, "--by"),
        "source": one_line(source, "source"),
        "uuid": new_uuid() if uuid is None else checked_uuid(uuid),
    }


def checked_uuid(text: str, where: str = "--id") -> str:
    """A uuid in its usual form.

    Raises
    ------
    InputError
        If it is none.
    """
    try:
        return str(uuids.UUID(text.strip()))
    except ValueError:
        raise InputError("log_uuid", where, value=one_line(text)[:40]) from None


def _check_word(name: str, value: str | None) -> None:
    """Refuse a word that is not known."""
    if value not in _WORDS[name]:
        known = ", ".join(word for word in _WORDS[name] if word is not None)
        raise InputError("log_word", name, value=one_line(str(value))[:40], known=known)


def _check_number(name: str, value: float | None, limits: tuple[float, float]) -> None:
    """Refuse a number that a sheet would refuse too."""
    low, high = limits
    if value is not None and not low <= value <= high:
        said = {"value": f"{value:g}", "low": f"{low:g}", "high": f"{high:g}"}
        raise InputError("sheet_range", name, **said)


def _limits(asked: Mapping[str, object]) -> tuple[str, list[object]]:
    """A condition on columns and its values; what is None limits nothing."""
    known = {text: _cell(value) for text, value in asked.items() if value is not None}
    return " AND ".join(["1", *(f"{text} ?" for text in known)]), list(known.values())


def _details(kind: type[Entry]) -> tuple[str, ...]:
    """Columns that entries of a kind have beside those of all."""
    return tuple(item.name for item in fields(kind) if item.name not in _COMMON)


def _cell(value: object) -> object:
    """A value as the file has it."""
    if isinstance(value, np.datetime64):
        return f"{value.astype('datetime64[s]')}Z"
    return value.item() if isinstance(value, np.generic) else value


def _moment(cell: object) -> np.datetime64:
    """A time as the file has it.

    Raises
    ------
    ValueError
        If it is none.
    """
    moment = datetime.fromisoformat(str(cell).removesuffix("Z"))
    if moment.tzinfo is not None:
        raise ValueError(cell)
    return np.datetime64(moment, "s")


def _plain(value: object) -> Any:
    """Anything that is issued as plain JSON: every digit kept, what is not known null."""
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, np.ndarray | list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, np.datetime64):
        return None if np.isnat(value) else _cell(value)
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
