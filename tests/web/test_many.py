"""Many at once lose nothing; many readings in a night cost no memory."""

import resource
import threading
import time
import uuid
from collections import Counter

import numpy as np
import pytest
from support.live import farm_in, live_of, reading, running

from hayweather.cli.main import run
from hayweather.log import open_log
from hayweather.web.doors import Pace

EACH = 8
READINGS = 1000
LOOKED_AT = (1, 100, 250, 500, 750, 1000)
SAMPLE = 3
GROWN_MB = 30.0


@pytest.mark.slow
def test_two_phones_and_a_command_at_once_lose_nothing(tmp_path, monkeypatch):
    monkeypatch.setattr(Pace, "allows", lambda self, name: True)
    path = farm_in(tmp_path)
    with running(live_of(path), lan=True) as served:
        sent: list[str] = []

        def typed(number: int) -> None:
            phone = served.phone()
            for count in range(EACH):
                form = reading(8 + number + count / 10)
                for _ in range(1 + count % 2):  # some are sent twice
                    assert phone.post(form).status == 200
                sent.append(str(form["id"]))

        phones = [threading.Thread(target=typed, args=(number,)) for number in range(2)]
        for each in phones:
            each.start()
        codes = [run(["log", "add", "creek", f"{10 + n}", "--farm", str(path)]) for n in range(3)]
        codes.append(run(["outlook", str(path), "--out", str(tmp_path / "cron.txt")]))
        for each in phones:
            each.join()
        assert codes == [0, 0, 0, 0]
        with open_log(served.live.farm, only_read=True) as log:
            found = log.readings()
        assert Counter(item.uuid for item in found if item.source == "hayweather serve") == Counter(
            sent
        )
        assert len(found) == 2 * EACH + 3
        served.wait_for(lambda: len(served.live.shown.night["creek"].readings) == 1)


def grown_by(readings: int, path) -> float:
    """How much the process grew from a tenth of the readings on [MB]."""
    live = live_of(path, begin=np.datetime64("2025-07-09T03:00", "s"))
    live.step()
    early = 0.0
    for number in range(readings):
        value = 9.0 + number % 30 / 10
        time_ = live.now() - np.timedelta64(60 * (number % 170), "s")
        with open_log(live.farm) as log:
            log.add_reading(
                "bench", value, time=time_, now=live.now(), uuid=str(uuid.UUID(int=number + 1))
            )
        live.step()
        live.let_go()
        if number == readings // 10:
            early = resident_mb()
        if number + 1 in LOOKED_AT:
            print(f"\n{number + 1} readings: {resident_mb():.1f} MB", end="", flush=True)
    with open_log(live.farm, only_read=True) as log:
        assert len(log.readings()) == readings
    return resident_mb() - early


def resident_mb() -> float:
    """Memory of this process now."""
    with open("/proc/self/statm") as file:
        return int(file.read().split()[1]) * resource.getpagesize() / 2**20


@pytest.mark.long
def test_a_thousand_readings_in_a_night_cost_no_memory(tmp_path):
    grown = grown_by(READINGS, farm_in(tmp_path))
    print(f"\n{READINGS} readings: grown by {grown:.1f} MB after the first tenth")
    assert grown < GROWN_MB


@pytest.mark.slow
def test_readings_in_a_night_are_all_kept(tmp_path):
    assert grown_by(SAMPLE, farm_in(tmp_path)) < GROWN_MB


@pytest.mark.long
def test_how_long_a_reading_takes(tmp_path, monkeypatch):
    """The sample farm with its 200 forecast runs: printed, and held under three seconds."""
    from hayweather.nights import drive

    monkeypatch.setattr(drive, "MOST_MEMBERS", 800)
    live = live_of(farm_in(tmp_path), members=200)
    live.step()
    drive.compile_for(live._prior.fields[0].weighed.drawn)
    taken = []
    for number in range(20):
        field = ("bench", "creek", "saddle")[number % 3]
        with open_log(live.farm) as log:
            log.add_reading(field, 7.0 + number % 8, time=live.now(), now=live.now())
        before = time.process_time()
        live.step()
        taken.append((live.weighing_s[-1], time.process_time() - before))
    each, busy = (sorted(values) for values in zip(*taken, strict=True))
    print(f"\nre-weighed and repaired: median {each[10]:.2f} s, longest {each[-1]:.2f} s")
    print(f"with the better plan, of the processor: median {busy[10]:.2f} s, {busy[-1]:.2f} s")
    assert each[10] < 3.0
