"""Messages of a sensor against a broker on 127.0.0.1: none lost, none doubled."""

import threading
import time

import pytest
from support.broker import Sensor, TestBroker

from hayweather.cli.listen import listener_of
from hayweather.farm import farm_of
from hayweather.log import open_log


def farm_at(folder, broker):
    home = {
        "latitude": 43.2,
        "longitude": -120.6,
        "elevation": "4300 ft",
        "timezone": "America/Los_Angeles",
    }
    station = {"broker": "127.0.0.1", "port": broker.port, "topic": "farm/#"}
    farm = farm_of(
        site={"home": home}, field={"bench": {"cured": True}}, weather={"service": "us-nws"},
        baler={"useful_hours": 2}, station={"yard": station},
        farm={"log": str(folder / "log.sqlite")},
    )  # fmt: skip
    with open_log(farm):
        pass
    return farm


class Listening:
    """A listener in a thread; ends with what it had got."""

    def __init__(self, farm):
        self.farm, self.ends = farm, threading.Event()
        self.ready = threading.Event()
        self.thread = threading.Thread(target=self._run)

    def _run(self):
        with open_log(self.farm) as log:
            self.listener = listener_of(self.farm, log)
            self.listener.said = lambda remark: self.ready.set()
            self.listener.run(self.ends.is_set)

    def __enter__(self):
        self.thread.start()
        assert self.ready.wait(20)
        time.sleep(0.3)  # the broker has the subscription
        return self

    def __exit__(self, *_):
        self.ends.set()
        self.thread.join(30)


def kept(farm):
    with open_log(farm, only_read=True) as log:
        return [(row.time, row.quantity) for row in log.observations("yard")]


def until_kept(farm, count, seconds):
    ends = time.monotonic() + seconds
    while time.monotonic() < ends and len(kept(farm)) < 2 * count:
        time.sleep(0.2)
    rows = kept(farm)
    assert len(rows) == len(set(rows))
    return len(rows) // 2


def went_through(folder, count, seconds):
    """A burst; the listener goes and comes back; the broker does; messages in all of it."""
    with TestBroker() as broker:
        farm = farm_at(folder, broker)
        with Listening(farm):
            sensor = Sensor(broker)
            sensor.send(count)
        sensor.send(count // 2)  # nobody listens: the broker holds them
        with Listening(farm):
            got = until_kept(farm, sensor.sent, seconds)
            assert got == sensor.sent
            broker.stop()
            sensor.send(count // 4, wait=0)
            time.sleep(1.0)
            broker.start()
            got = until_kept(farm, sensor.sent, seconds)
        sensor.close()
        return sensor.sent, got


@pytest.mark.slow
def test_none_lost_none_doubled(tmp_path):
    sent, got = went_through(tmp_path, 60, 30)
    assert got == sent


@pytest.mark.long
def test_ten_thousand_in_a_burst(tmp_path):
    sent, got = went_through(tmp_path, 10_000, 120)
    assert got == sent == 17_500
