"""Fetch as a process of its own: readers that leave, Ctrl-C, two at once."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from cli.commands import done
from cli.service_farms import farm_file
from weather.server import WeatherServer, hang

PROGRAM = f"'{sys.executable}' -m hayweather"


def process(server: WeatherServer, folder: Path, command: str) -> subprocess.Popen[str]:
    """A true process that asks the server and has the store of the test."""
    environment = {
        **os.environ, **server.environment(), "HAYWEATHER_STORE": str(folder / "store"),
    }  # fmt: skip
    return subprocess.Popen(
        ["bash", "-c", command], env=environment, text=True, cwd=folder, start_new_session=True,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, preexec_fn=heeds_interrupts,
    )  # fmt: skip


def heeds_interrupts() -> None:
    """Ctrl-C as at a terminal, also where the tests themselves run in the background."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


@pytest.mark.slow
@pytest.mark.usefixtures("whole_years")
@pytest.mark.parametrize("unbuffered", ["", "1"])
def test_a_reader_that_leaves_early(server, tmp_path, monkeypatch, unbuffered):
    monkeypatch.setenv("PYTHONUNBUFFERED", unbuffered)
    farm_file(tmp_path)
    command = f"set -o pipefail; {PROGRAM} fetch farm.toml --years 2015 | head -n 1"
    running = process(server, tmp_path, command)
    out, err = running.communicate(timeout=60)
    assert running.returncode == 0
    assert out.startswith("#")
    assert "Traceback" not in err
    assert "Broken" not in err


def test_a_pull_broken_off_leaves_no_half_file(server, tmp_path):
    farm_file(tmp_path)
    server.always = hang()
    running = process(server, tmp_path, f"exec {PROGRAM} fetch farm.toml --out half.csv")
    deadline = time.monotonic() + 30
    while not server.seen and time.monotonic() < deadline:
        time.sleep(0.02)
    running.send_signal(signal.SIGINT)
    _, err = running.communicate(timeout=60)
    assert running.returncode == 130
    assert "Traceback" not in err
    assert [path.name for path in tmp_path.iterdir() if path.is_file()] == ["farm.toml"]


def hours_in(path: Path) -> list[str]:
    """Names of columns and hours of a file; its head tells the second of the fetch."""
    lines = path.read_text(encoding="utf-8").splitlines()
    return [line for line in lines if not line.startswith("#")]


@pytest.mark.slow
@pytest.mark.usefixtures("whole_years")
def test_two_at_once_write_one_store(server, tmp_path, capsys):
    """Both ask the same year and store it; that year and the place are left, each whole."""
    farm_file(tmp_path)
    both = [
        process(server, tmp_path, f"{PROGRAM} fetch farm.toml --years 2015 --out {name}.csv")
        for name in "ab"
    ]
    said = [running.communicate(timeout=60)[1] for running in both]
    assert [running.returncode for running in both] == [0, 0], said
    assert "could not be stored" not in "".join(said)
    assert hours_in(tmp_path / "a.csv") == hours_in(tmp_path / "b.csv")
    assert len(hours_in(tmp_path / "a.csv")) == 1 + 365 * 24
    stored = sorted(path.name.split("-")[0] for path in (tmp_path / "store").iterdir())
    assert stored == ["past", "past"]
    assert "damaged" not in done(capsys, "fetch", "--store", "show")
    asked = len(server.seen)
    done(capsys, "fetch", tmp_path / "farm.toml", "--years", "2015", "--out", tmp_path / "c.csv")
    assert len(server.seen) == asked
    assert hours_in(tmp_path / "c.csv") == hours_in(tmp_path / "a.csv")
