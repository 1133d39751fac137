"""Many commands at the same time on one store, and many outlooks in one process."""

import gc
import json
import os
import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

from hayweather.weather.store import AnswerStore, StoredAnswer

SAMPLES = Path(__file__).parents[2] / "sample_forecasts"
OUTLOOKS, PROCESSES, CALLS = 200, 8, 200
NOW = np.datetime64("2026-07-09T00:00", "s")
STORE_CALLER = """
import sys
from pathlib import Path
import numpy as np
from hayweather.weather.store import AnswerStore, StoredAnswer
store, mark = AnswerStore(Path(sys.argv[1])), sys.argv[2]
for turn in range(int(sys.argv[3])):
    body = (mark * 50_000).encode()
    assert store.save(StoredAnswer("https://x/one", body, np.datetime64("2026-07-09", "s"), False))
    found = store.load("https://x/one").answer
    assert found is not None and len(set(found.body)) == 1 and len(found.body) == 50_000
assert not any(name.startswith("hayweather.windrow") for name in sys.modules)
"""


def outlook_in_a_process(folder: Path) -> str:
    """The JSON that a process of its own prints."""
    sample = SAMPLES / "sagebeck.toml"
    done = subprocess.run(
        [sys.executable, "-m", "hayweather", "outlook", str(sample), "--format", "json"],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "HAYWEATHER_STORE": str(folder)},
    )
    return done.stdout


def test_store_read_and_written_by_threads(tmp_path):
    store = AnswerStore(tmp_path)
    together = threading.Barrier(PROCESSES)

    def work(mark: int) -> None:
        together.wait()
        for _ in range(5):
            body = bytes([65 + mark]) * 20_000
            assert store.save(StoredAnswer("https://x/one", body, NOW, False))
            found = store.load("https://x/one").answer
            assert found is not None
            assert len(set(found.body)) == 1

    with ThreadPoolExecutor(PROCESSES) as threads:
        list(threads.map(work, range(PROCESSES)))
    assert len(store.entries()) == 1


@pytest.mark.long
def test_store_read_and_written_by_processes_without_the_model(tmp_path):
    turns = CALLS // PROCESSES
    command = [sys.executable, "-c", STORE_CALLER, str(tmp_path)]
    working = [
        subprocess.Popen([*command, mark, str(turns)], stderr=subprocess.PIPE)
        for mark in "abcdefgh"
    ]
    for process in working:
        _, said = process.communicate()
        assert (process.returncode, said) == (0, b"")
    assert len(AnswerStore(tmp_path).entries()) == 1


@pytest.mark.long
def test_many_outlooks_by_processes_are_alike(tmp_path):
    with ThreadPoolExecutor(PROCESSES) as threads:
        printed = set(threads.map(outlook_in_a_process, [tmp_path] * OUTLOOKS))
    (only,) = printed
    assert json.loads(only)["schema"] == "hayweather/outlook/2"


@pytest.mark.long
def test_memory_is_flat_over_many_outlooks(tmp_path):
    from hayweather.cli.main import run

    arguments = ["outlook", str(SAMPLES / "sagebeck.toml"), "--out", str(tmp_path / "o.csv")]
    held_mb = []
    for number in range(1000):
        assert run(arguments) == 0
        if number % 100 == 99:
            gc.collect()
            held_mb.append(resident_mb())
    assert held_mb[-1] - held_mb[0] < 30.0


def resident_mb() -> float:
    """Memory that this process holds now [MB], from the Linux process table."""
    fields = Path("/proc/self/statm").read_text(encoding="ascii").split()
    return int(fields[1]) * os.sysconf("SC_PAGE_SIZE") / 1e6
