"""The log under many hands and sudden ends: nothing lost, nothing half written.

A process that adds entries is killed with SIGKILL at a random moment; then the file
must be sound, every entry have its other half, and everything that the process had
been told is written be there. A few kills by default, 300 with
``pytest -m long tests/endurance/test_log.py``.
"""

import os
import random
import select
import signal
import sqlite3
import time
from contextlib import closing, nullcontext
from dataclasses import replace
from multiprocessing import get_context
from pathlib import Path

import pytest
from support.fields import CURED, EVENING, farm_of

from hayweather.log import LoggedReading, LoggedWork, Observation, open_log
from hayweather.log import database as database_module
from hayweather.log.records import new_uuid

ROWS = 200
LONGEST_S, PATIENCE_S = 0.15, 20.0
TOLD = 36  # letters of a uuid
fork_of_threads = pytest.mark.filterwarnings("ignore:.*multi-threaded.*:DeprecationWarning")


def farm_at(folder):
    """A farm with one field and its log in a folder."""
    field = replace(CURED, name="north")
    return replace(farm_of(fields={"north": field}), log=folder / "hayweather.sqlite")


def open_each_time(folder, name, rows):
    """Add readings one after another, as a command does: opened and closed for each."""
    for number in range(rows):
        with open_log(farm_at(folder)) as log:
            log.add_reading("north", 10, time=EVENING, note=f"{name} {number}")


def one_open(folder, name, rows):
    """Add readings one after another with the log open all the while."""
    with open_log(farm_at(folder)) as log:
        for number in range(rows):
            log.add_reading("north", 10, time=EVENING, note=f"{name} {number}")


def import_sheets(folder, name, rows):
    """Add ten readings at a time, all or none."""
    with open_log(farm_at(folder)) as log:
        for number in range(0, rows, 10):
            log.add_all(
                [
                    LoggedReading(
                        field="north", time=EVENING, moisture_wb=10.0,
                        note=f"{name} {number + k}", uuid=new_uuid(),
                    )
                    for k in range(10)
                ]
            )  # fmt: skip


def asked(path, question):
    """The answer of the file."""
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute(question).fetchall()


def check_sound(path):
    """The file is whole, and every entry has its other half."""
    assert asked(path, "PRAGMA integrity_check") == [("ok",)]
    assert asked(path, "PRAGMA foreign_key_check") == []
    halves = "SELECT id FROM readings UNION ALL SELECT id FROM work UNION ALL SELECT id FROM bales"
    numbers = [number for (number,) in asked(path, "SELECT id FROM entries ORDER BY id")]
    assert sorted(number for (number,) in asked(path, halves)) == numbers


@fork_of_threads
@pytest.mark.parametrize(
    "write",
    [
        open_each_time,
        *(pytest.param(way, marks=pytest.mark.slow) for way in (one_open, import_sheets)),
    ],
)
def test_two_processes_lose_nothing(write, tmp_path):
    """Both begin where there is no file yet, at the same time."""
    context = get_context("fork")
    processes = [
        context.Process(target=write, args=(tmp_path, name, ROWS)) for name in ("tractor", "house")
    ]
    for process in processes:
        process.start()
    for process in processes:
        process.join()
        assert process.exitcode == 0
    path = farm_at(tmp_path).log
    check_sound(path)
    with open_log(farm_at(tmp_path), only_read=True) as log:
        notes = [entry.note for entry in log.readings()]
    assert sorted(notes) == sorted(f"{n} {k}" for n in ("tractor", "house") for k in range(ROWS))
    assert [item.name for item in tmp_path.iterdir()] == [path.name]


@fork_of_threads
def test_the_same_entries_sent_by_two_are_there_once(tmp_path):
    names = [new_uuid() for _ in range(50)]

    def send(order):
        with open_log(farm_at(tmp_path)) as log:
            for name in order:
                log.add_reading("north", 10, time=EVENING, uuid=name)

    context = get_context("fork")
    processes = [
        context.Process(target=send, args=(order,)) for order in (names, names[::-1], names)
    ]
    for process in processes:
        process.start()
    for process in processes:
        process.join()
        assert process.exitcode == 0
    with open_log(farm_at(tmp_path), only_read=True) as log:
        assert sorted(entry.uuid for entry in log.readings()) == sorted(names)


def write_until_killed(folder, told):
    """Add entries of every kind and say which are written, until SIGKILL."""
    number = 0
    while True:
        with open_log(farm_at(folder)) as log:
            for _ in range(5):
                number += 1
                names = [new_uuid() for _ in range(4)]
                common = {"field": "north", "time": EVENING, "note": "x" * (number % 400)}
                log.add_all(
                    [
                        *(
                            LoggedReading(**common, moisture_wb=9.0, uuid=name)
                            for name in names[:3]
                        ),
                        LoggedWork(**common, event="filled", uuid=names[3]),
                    ]
                )
                os.write(told, "".join(names).encode())
                log.add_observations([Observation("house", EVENING, "rain_mm", float(number))])
                log.add_outlook("north", EVENING, {"number": number, "hours": list(range(300))})
                if number % 3 == 0:
                    log.remove(log.readings()[0].id)


def kill_while_writing(folder, chance, patience_s):
    """Uuids that were said to be written before a kill some time after the first of them.

    Or after `patience_s`, when none has come by then.
    """
    read, told = os.pipe()
    process = get_context("fork").Process(target=write_until_killed, args=(folder, told))
    process.start()
    os.close(told)
    select.select([read], [], [], patience_s)
    time.sleep(chance.uniform(0.01, LONGEST_S))
    process.kill()
    process.join()
    assert process.exitcode == -signal.SIGKILL
    with os.fdopen(read, "rb") as pipe:
        said = pipe.read().decode()
    return {said[at : at + TOLD] for at in range(0, len(said), TOLD)}


def check_kills(folder, kills):
    """Kill over and over; how many were killed with changes waiting beside the file."""
    path = farm_at(folder).log
    chance = random.Random(kills)
    told: set[str] = set()
    waiting = 0
    for number in range(kills):
        told |= kill_while_writing(folder, chance, PATIENCE_S if number % 3 else 0.0)
        left = Path(f"{path}-wal")
        waiting += left.exists() and left.stat().st_size > 0
        if not path.exists():  # killed before there was one
            continue
        with open_log(farm_at(folder)) as log:
            there = {entry.uuid for entry in (*log.readings(removed=True), *log.work())}
            assert told <= there, "lost"
            assert len(there) % 4 == 0, "half of what belongs together"
            log.outlooks(since=EVENING)
        check_sound(path)
    with open_log(farm_at(folder)) as log:
        log.add_reading("north", 10, time=EVENING)
    assert told
    return waiting


@fork_of_threads
def test_some_kills(tmp_path):
    assert check_kills(tmp_path, 6) > 0


@pytest.mark.long
@fork_of_threads
def test_many_kills(tmp_path):
    waiting = 0
    for part in range(10):
        folder = tmp_path / str(part)
        folder.mkdir()
        waiting += check_kills(folder, 30)
    print(f"\nlog: 300 kills, {waiting} with changes waiting beside the file, all sound")
    assert waiting > 100


@pytest.mark.slow
@fork_of_threads
def test_without_transactions_the_check_would_fail(tmp_path, monkeypatch):
    """The check can fail: entries and their other halves written apart are soon apart."""
    open_log(farm_at(tmp_path)).close()
    monkeypatch.setattr(database_module, "transaction", lambda _connection: nullcontext())
    with pytest.raises(AssertionError):
        check_kills(tmp_path, 40)
