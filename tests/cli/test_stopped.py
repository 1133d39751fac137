"""A stop at any moment, hostile files and a full disk: one line, the right exit code."""

import os
import random
import signal
import ssl
import subprocess
import sys
import time
from pathlib import Path

import pytest
from cli.commands import SAGEBECK, farm_with, refused
from requests.exceptions import SSLError
from support.outlooks import FOLDER

from hayweather.cli import main
from hayweather.weather.services.http import Request, _Call
from hayweather.weather.services.settings import Limits

PATIENCE_S = 30.0
STOPPED = ["stopped; no file is left half-written"]
CODES = {signal.SIGINT: 130, signal.SIGTERM: 143}


def started(folder: Path, *arguments: object) -> subprocess.Popen[str]:
    """The program, from the moment on at which it listens to a stop."""
    running = subprocess.Popen(
        [sys.executable, "-m", "hayweather", *map(str, arguments)],
        cwd=folder, env={**os.environ, "PYTHONPATH": str(FOLDER.parent)}, text=True,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )  # fmt: skip
    deadline = time.monotonic() + PATIENCE_S
    while time.monotonic() < deadline and not listens(running.pid):
        time.sleep(0.001)
    return running


def listens(pid: int) -> bool:
    """Whether a process has a handler for SIGTERM."""
    lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    caught = next(line for line in lines if line.startswith("SigCgt:"))
    return bool(int(caught.split()[1], 16) >> (signal.SIGTERM - 1) & 1)


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="needs /proc")
@pytest.mark.parametrize("number", CODES)
def test_a_stop_while_modules_are_loaded_or_the_work_is_done_is_one_line(number, tmp_path):
    moments = random.Random(8)
    for most_s in (0.02, 0.5):  # the run lasts longer than all of these
        out = tmp_path / "out.txt"
        running = started(tmp_path, "outlook", SAGEBECK, "--out", out)
        time.sleep(moments.uniform(0, most_s))
        running.send_signal(number)
        said, err = running.communicate(timeout=PATIENCE_S)
        assert (said, err.splitlines(), running.returncode) == ("", STOPPED, CODES[number])
        assert list(tmp_path.iterdir()) == []


HOSTILE = {
    "brackets": "a = " + "[" * 5000 + "]" * 5000,
    "open brackets": "a = " + "[" * 5000,
    "tables": "a = " + "{a=" * 5000 + "1" + "}" * 5000,
    "dotted": ".".join("a" * 5000) + " = 1",
    "digits": "a = " + "9" * 5000,
    "digits of 16": "a = 0x" + "f" * 5000,
    "digits of a part": "a = 0." + "9" * 5000,
    "digits of a power": "a = 1e" + "9" * 5000,
    "tables without end": "".join(f"[a{number}]\n" for number in range(40_000)),
    "one line": "=" * 400_000,
    "large": "#" * 8_000_000,
}


def each_by(command):
    """All of them by one command; by the others the rest goes to the long lane."""
    for name in HOSTILE:
        late = command != "inspect" and name not in ("brackets", "digits", "large")
        yield pytest.param(command, name, marks=[pytest.mark.long] if late else [])


@pytest.mark.slow
@pytest.mark.parametrize(
    ("command", "name"),
    [case for each in ("inspect", "outlook", "seasons") for case in each_by(each)],
)
def test_a_hostile_farm_file_is_refused_in_one_line(command, name, tmp_path, capsys):
    for text in (HOSTILE[name], SAGEBECK.read_text(encoding="utf-8") + "\n" + HOSTILE[name]):
        path = tmp_path / "farm.toml"
        path.write_text(text, encoding="utf-8")
        line = refused(capsys, command, path)
        assert "farm.toml" in line
        assert "mistake in hayweather" not in line


@pytest.mark.parametrize("value", ["9" * 5000, "0x" + "f" * 5000, "9" * 5000 + ".5", "1e999"])
@pytest.mark.parametrize("key", ["latitude = 43.2", "cutting = 2"])
def test_a_number_beyond_reason_at_its_place_is_refused(key, value, tmp_path, capsys):
    name = key.partition(" ")[0]
    text = SAGEBECK.read_text(encoding="utf-8")
    begin = text.index(f"\n{name} = ") + 1
    (tmp_path / "farm.toml").write_text(
        f"{text[:begin]}{name} = {value}{text[text.index(chr(10), begin) :]}", encoding="utf-8"
    )
    line = refused(capsys, "inspect", tmp_path / "farm.toml")
    assert len(line) < 300


def test_outlooks_kept_that_are_nested_without_end_are_named_and_left(tmp_path, capsys):
    kept = tmp_path / "kept"
    kept.mkdir()
    (kept / "a.json").write_text("[" * 100_000)
    log = FOLDER / "sagebeck_log.csv"
    assert "no outlook" in refused(capsys, "score", SAGEBECK, log, "--kept", kept)


def test_a_full_disk_is_one_line_and_leaves_what_stood_there(tmp_path, capsys, monkeypatch):
    farm, place = farm_with(tmp_path), tmp_path / "a.csv"
    assert main.run(["inspect", str(farm), "--out", str(place)]) == 0
    capsys.readouterr()
    before, names = place.read_bytes(), set(tmp_path.iterdir())

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    line = refused(capsys, "inspect", farm, "--out", place)
    assert line.startswith(f"{place}: cannot be written (No space left on device)")
    assert place.read_bytes() == before
    assert set(tmp_path.iterdir()) == names


def test_a_failure_of_tls_says_certificate():
    request = Request("the service", "https://weather.example", "/")
    trouble = SSLError(ssl.SSLCertVerificationError("self-signed certificate"))
    failure = _Call(request, None, Limits())._failure_of(trouble)
    assert "has no certificate that this computer trusts" in failure.line("en")
    assert "certificado" in failure.line("es")
    assert failure.exit_code == 3
    assert failure.family == "unreachable"
    assert not failure.retry
