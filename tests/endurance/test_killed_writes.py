"""A process killed in the middle of a write leaves the old file or the new one, never half.

Two contents are written in turn, over and over, until SIGKILL; then the file
must hold exactly one of them, and the next write must still work. A few kills
by default; 60 of each with ``pytest -m long tests/endurance``.
"""

import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest

from hayweather.weather.store import AnswerStore, StoredAnswer

BYTES = 400_000
SETTLE_S, LONGEST_S = 0.02, 0.08
WRITERS = {
    "results": (
        "from hayweather.cli.write import write_all\n"
        "def write(text): write_all([(folder + '/out.csv', text), (folder + '/b.csv', text)], 'en')"
    ),
    "store": (
        "from pathlib import Path\n"
        "import numpy as np\n"
        "from hayweather.weather.store import AnswerStore, StoredAnswer\n"
        "now = np.datetime64('2026-07-09T00:00', 's')\n"
        "store = AnswerStore(Path(folder))\n"
        "def write(text): assert store.save(StoredAnswer('https://x/y', text.encode(), now, False))"
    ),
}
PROGRAM = f"""
import sys
folder = sys.argv[1]
{{writer}}
contents = [letter * {BYTES} for letter in "ab"]
print("ready", flush=True)
sys.stderr = open("/dev/null", "w")
while True:
    for content in contents:
        write(content)
"""


def kill_while_writing(writer: str, folder: Path, wait_s: float) -> None:
    """Let a process of its own write until it is killed."""
    program = PROGRAM.format(writer=WRITERS[writer])
    process = subprocess.Popen(
        [sys.executable, "-c", program, str(folder)], stdout=subprocess.PIPE, text=True
    )
    assert process.stdout is not None
    with process.stdout:
        assert process.stdout.readline() == "ready\n"
        time.sleep(SETTLE_S + wait_s)
        process.send_signal(signal.SIGKILL)
        assert process.wait() == -signal.SIGKILL


def held(writer: str, folder: Path) -> list[str]:
    """What the files hold."""
    if writer == "results":
        return [(folder / name).read_text() for name in ("out.csv", "b.csv")]
    lookup = AnswerStore(folder).load("https://x/y")
    assert lookup.answer is not None
    assert not lookup.damaged
    return [lookup.answer.body.decode()]


def check_kills(writer: str, folder: Path, kills: int) -> None:
    """Every kill leaves whole files, and writing goes on afterwards."""
    waits = random.Random(kills)
    seen = set()
    for _ in range(kills):
        kill_while_writing(writer, folder, waits.uniform(0, LONGEST_S))
        for content in held(writer, folder):
            assert content in ("a" * BYTES, "b" * BYTES)
            seen.add(content[0])
    assert seen <= {"a", "b"}


@pytest.mark.parametrize("writer", WRITERS)
def test_a_few_kills(writer, tmp_path):
    check_kills(writer, tmp_path, 2)


@pytest.mark.long
@pytest.mark.parametrize("writer", WRITERS)
def test_many_kills(writer, tmp_path):
    check_kills(writer, tmp_path, 60)


def test_writing_goes_on_after_a_kill(tmp_path):
    kill_while_writing("store", tmp_path, 0.0)
    now = np.datetime64("2026-07-09T00:00", "s")
    store = AnswerStore(tmp_path)
    assert store.save(StoredAnswer("https://x/y", b"new", now, False))
    answer = store.load("https://x/y").answer
    assert answer is not None
    assert answer.body == b"new"
