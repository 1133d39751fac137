"""The log's file: opened, made, brought up to date, and what goes wrong said in one line.

SQLite in WAL mode: readers never wait, one writer at a time, every change whole or not
at all, whatever kills the process. The number of the layout is `user_version`; a step
of `MIGRATIONS` leads from each to the next inside one transaction.
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import TypeVar

from hayweather.errors import OutputError

APPLICATION_ID = 0x48415957  # "HAYW", in the head of the file
WAIT_S = 10.0
"""How long one writer waits for another."""
COMPANIONS = ("-wal", "-shm", "-journal")
"""Endings of the files that SQLite keeps beside the log."""

_MOMENT = "GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]T[0-9][0-9]:[0-9][0-9]:[0-9][0-9]Z'"
_PERCENT = "BETWEEN 0 AND 100"

VERSION_1 = (
    f"""CREATE TABLE entries (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        uuid TEXT NOT NULL UNIQUE,
        what TEXT NOT NULL CHECK (what IN ('reading', 'work', 'bales')),
        field TEXT NOT NULL,
        time TEXT NOT NULL CHECK (time {_MOMENT}),
        note TEXT NOT NULL,
        by TEXT NOT NULL,
        source TEXT NOT NULL,
        made TEXT NOT NULL CHECK (made {_MOMENT}),
        removed TEXT CHECK (removed {_MOMENT}))""",
    "CREATE INDEX entries_by_time ON entries (what, field, time)",
    f"""CREATE TABLE readings (
        id INTEGER PRIMARY KEY REFERENCES entries (id),
        kind TEXT NOT NULL CHECK (kind IN ('windrow', 'leaf', 'stem', 'bale', 'skin')),
        layer TEXT CHECK (layer IN ('top', 'middle', 'bottom')),
        moisture_wb REAL CHECK (moisture_wb {_PERCENT}),
        skin_temperature_c REAL,
        meter_error REAL NOT NULL CHECK (meter_error > 0),
        bias REAL NOT NULL,
        method TEXT CHECK (method IN ('meter', 'oven')),
        water_l_t REAL CHECK (water_l_t >= 0),
        CHECK ((kind = 'skin') = (moisture_wb IS NULL)),
        CHECK ((kind = 'skin') = (skin_temperature_c IS NOT NULL)))""",
    f"""CREATE TABLE work (
        id INTEGER PRIMARY KEY REFERENCES entries (id),
        event TEXT NOT NULL CHECK (event IN ('baled', 'too_dry', 'too_wet', 'rig', 'rain',
            'started', 'stopped', 'filled', 'note')),
        "end" TEXT CHECK ("end" {_MOMENT}),
        machine TEXT NOT NULL,
        moisture_wb REAL CHECK (moisture_wb {_PERCENT}))""",
    f"""CREATE TABLE bales (
        id INTEGER PRIMARY KEY REFERENCES entries (id),
        count INTEGER CHECK (count > 0),
        mass_kg REAL CHECK (mass_kg > 0),
        moisture_wb REAL CHECK (moisture_wb {_PERCENT}),
        highest_wb REAL CHECK (highest_wb {_PERCENT}),
        temperature_c REAL)""",
    f"""CREATE TABLE observations (
        station TEXT NOT NULL,
        quantity TEXT NOT NULL,
        time TEXT NOT NULL CHECK (time {_MOMENT}),
        value REAL NOT NULL,
        origin TEXT NOT NULL,
        made TEXT NOT NULL CHECK (made {_MOMENT}),
        PRIMARY KEY (station, quantity, time)) WITHOUT ROWID""",
    f"""CREATE TABLE issued (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        what TEXT NOT NULL CHECK (what IN ('outlook', 'plan')),
        field TEXT NOT NULL,
        made TEXT NOT NULL CHECK (made {_MOMENT}),
        advice TEXT NOT NULL,
        content BLOB NOT NULL,
        digest TEXT NOT NULL,
        UNIQUE (what, field, made, digest))""",
    """CREATE TABLE places (
        field TEXT PRIMARY KEY,
        latitude REAL NOT NULL,
        longitude REAL NOT NULL)""",
)
VERSION_2 = (
    f"""CREATE TABLE forecasts (
        id INTEGER PRIMARY KEY AUTOINCREMENT,
        site TEXT NOT NULL,
        source TEXT NOT NULL,
        hour TEXT NOT NULL CHECK (hour {_MOMENT}),
        night INTEGER NOT NULL,
        issued TEXT CHECK (issued {_MOMENT}),
        written TEXT NOT NULL CHECK (written {_MOMENT}),
        latitude REAL NOT NULL,
        longitude REAL NOT NULL,
        content BLOB NOT NULL,
        digest TEXT NOT NULL,
        UNIQUE (site, source, hour, digest))""",
    "CREATE INDEX forecasts_by_night ON forecasts (site, source, night, hour)",
    "ALTER TABLE issued ADD COLUMN forecast INTEGER REFERENCES forecasts (id) ON DELETE SET NULL",
    "CREATE INDEX issued_by_forecast ON issued (forecast)",
)
VERSION_3 = (
    f"""CREATE TABLE work_3 (
        id INTEGER PRIMARY KEY REFERENCES entries (id),
        event TEXT NOT NULL CHECK (event IN ('baled', 'too_dry', 'too_wet', 'rig', 'rain',
            'started', 'stopped', 'filled', 'note', 'broken', 'mended')),
        "end" TEXT CHECK ("end" {_MOMENT}),
        machine TEXT NOT NULL,
        moisture_wb REAL CHECK (moisture_wb {_PERCENT}))""",
    'INSERT INTO work_3 SELECT id, event, "end", machine, moisture_wb FROM work',
    "DROP TABLE work",
    "ALTER TABLE work_3 RENAME TO work",
)
MIGRATIONS: tuple[tuple[str, ...], ...] = (VERSION_1, VERSION_2, VERSION_3)
"""Statements that lead from each version of the layout to the next; the first from nothing."""

Result = TypeVar("Result")


def companions_of(path: Path) -> list[Path]:
    """The log's file and those that may stand beside it."""
    return [path, *(path.with_name(path.name + ending) for ending in COMPANIONS)]


@contextmanager
def faults_said(path: Path) -> Iterator[None]:
    """Whatever the database cannot do is raised as one line.

    Raises
    ------
    OutputError
        In place of the fault; a wrong use of the database stays what it is.
    """
    try:
        yield
    except (sqlite3.ProgrammingError, sqlite3.IntegrityError):
        raise
    except sqlite3.Error as problem:
        raise OutputError(_key_of(problem), str(path), reason=str(problem)) from None
    except UnicodeDecodeError:
        raise OutputError("log_damaged", str(path), reason="text") from None


def _key_of(problem: sqlite3.Error) -> str:
    """The text for a fault of the database."""
    name = getattr(problem, "sqlite_errorname", None) or "SQLITE_ERROR"
    for key, beginnings in _FAULTS.items():
        if name.startswith(beginnings):
            return key
    return "log_failed"


_FAULTS = {
    "log_damaged": ("SQLITE_NOTADB", "SQLITE_CORRUPT", "SQLITE_ERROR", "SQLITE_FORMAT"),
    "log_locked": ("SQLITE_BUSY", "SQLITE_LOCKED", "SQLITE_PROTOCOL"),
    "log_full": ("SQLITE_FULL", "SQLITE_IOERR_WRITE", "SQLITE_TOOBIG"),
    "log_read_only": ("SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_PERM", "SQLITE_AUTH"),
}


def open_to_write(path: Path) -> sqlite3.Connection:
    """A connection that may write; the file is made where there is none, brought up to date.

    Parameters
    ----------
    path
        The log's file.

    Raises
    ------
    OutputError
        If it is no log of this program, of a newer one, damaged, or cannot be written.
    """
    _check_place(path)
    if not path.parent.is_dir():
        raise OutputError("log_no_folder", str(path))
    with faults_said(path):
        connection = _connect(path, "rwc")
        try:
            _check_head(connection, path)
            _patiently(lambda: connection.execute("PRAGMA journal_mode = WAL").fetchall())
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("PRAGMA foreign_keys = ON")
            if _version(connection) < len(MIGRATIONS):
                migrate(connection, path)
        except BaseException:
            connection.close()
            raise
    return connection


def open_to_read(path: Path) -> sqlite3.Connection:
    """A connection that only reads, and changes nothing on disk; empty where there is no file.

    Parameters
    ----------
    path
        The log's file; may lie in a folder that cannot be written.

    Raises
    ------
    OutputError
        If it is no log of this program, of a newer one, or damaged.
    """
    _check_place(path)
    with faults_said(path):
        if not path.exists():
            return _in_memory(None, path)
        connection = _readable(path)
        try:
            _check_head(connection, path)
            if _version(connection) < len(MIGRATIONS):
                with closing(connection):
                    return _in_memory(connection, path)
            connection.execute("PRAGMA query_only = ON")
        except BaseException:
            connection.close()
            raise
    return connection


def _readable(path: Path) -> sqlite3.Connection:
    """A connection to a file that is there.

    SQLite wants to write beside a log of this kind even to read it. Where that cannot
    be, and no change waits in a file beside it, the file is read as it stands.
    """
    connection = _connect(path, "rw")
    try:
        _patiently(lambda: connection.execute("SELECT count(*) FROM sqlite_master").fetchall())
    except sqlite3.OperationalError as problem:
        connection.close()
        waiting = path.with_name(f"{path.name}-wal")
        if _key_of(problem) != "log_read_only" or (waiting.exists() and waiting.stat().st_size):
            raise
        return _connect(path, "ro&immutable=1")
    except BaseException:
        connection.close()
        raise
    return connection


def _in_memory(older: sqlite3.Connection | None, path: Path) -> sqlite3.Connection:
    """A log in memory, up to date: empty, or what stands in an older one."""
    connection = sqlite3.connect(":memory:", isolation_level=None)
    if older is not None:
        older.backup(connection)
    migrate(connection, path)
    connection.execute("PRAGMA query_only = ON")
    return connection


def _connect(path: Path, mode: str) -> sqlite3.Connection:
    """A connection to the file; every transaction is begun by hand."""
    address = f"{path.absolute().as_uri()}?mode={mode}"
    return sqlite3.connect(address, timeout=WAIT_S, isolation_level=None, uri=True)


def _check_place(path: Path) -> None:
    """Refuse a place that holds something else than a file."""
    try:
        other = path.exists() and not path.is_file()
    except OSError as problem:
        reason = problem.strerror or type(problem).__name__
        raise OutputError("log_failed", str(path), reason=reason) from None
    if other:
        raise OutputError("log_no_file", str(path))


def _check_head(connection: sqlite3.Connection, path: Path) -> None:
    """Refuse a database of another program, and one that a newer version made."""
    mark = _patiently(lambda: _mark(connection))
    if mark != APPLICATION_ID:
        tables = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
        # Another process may have made the log since its mark was read, whole or not at all.
        if mark or (tables and _mark(connection) != APPLICATION_ID):
            raise OutputError("log_foreign", str(path))
        if not tables:
            return
    version = _version(connection)
    if version > len(MIGRATIONS):
        raise OutputError("log_newer", str(path), version=version, known=len(MIGRATIONS))


def _mark(connection: sqlite3.Connection) -> int:
    """Whose database it is; 0 for an empty file."""
    return int(connection.execute("PRAGMA application_id").fetchone()[0])


def _version(connection: sqlite3.Connection) -> int:
    """Number of the layout; 0 for an empty file."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def migrate(connection: sqlite3.Connection, path: Path) -> None:
    """Bring a log up to date, all or nothing; another process may have done so meanwhile.

    Parameters
    ----------
    connection
        That may write.
    path
        For messages.
    """
    with transaction(connection):
        _check_head(connection, path)
        for number in range(_version(connection), len(MIGRATIONS)):
            for statement in MIGRATIONS[number]:
                connection.execute(statement)
        connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        connection.execute(f"PRAGMA user_version = {len(MIGRATIONS)}")


@contextmanager
def transaction(connection: sqlite3.Connection) -> Iterator[None]:
    """All that is written inside stands when the block ends well, and none of it otherwise."""
    connection.execute("BEGIN IMMEDIATE")
    try:
        yield
        connection.execute("COMMIT")
    except BaseException:
        with suppress(sqlite3.Error):
            connection.execute("ROLLBACK")
        raise


def _patiently(ask: Callable[[], Result]) -> Result:
    """Ask again while another process holds the file, where SQLite itself does not wait."""
    end = time.monotonic() + WAIT_S
    while True:
        try:
            return ask()
        except sqlite3.OperationalError as problem:
            if _key_of(problem) != "log_locked" or time.monotonic() > end:
                raise
        time.sleep(0.01)
