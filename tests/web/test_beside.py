"""What takes long goes on beside: no reading waits for a service, and none is counted twice."""

import json
import threading
from urllib.parse import parse_qs, urlsplit

import numpy as np
import pytest
from cli.service_farms import farm_file
from support.live import FEW, farm_in, live_of, reading, running
from weather.server import WeatherServer, usual_answer

from hayweather.log import open_log
from hayweather.nights import night_of
from hayweather.plan.make import plan_of_night
from hayweather.show.outlook_data import outlook_json
from hayweather.weather import asked
from hayweather.web import live as live_module

NOW = np.datetime64("2017-07-10T03:20", "s")  # 9 pm at the place of the answers
WARMER = 4.0


class Held:
    """A service that says nothing until it is let go, and then that it gets warmer."""

    def __init__(self) -> None:
        self.asked, self.goes_on = threading.Event(), threading.Event()

    def __call__(self, handler) -> None:
        self.asked.set()
        assert self.goes_on.wait(60)
        parts = urlsplit(handler.path)
        query = {name: values[0] for name, values in parse_qs(parts.query).items()}
        status, content = usual_answer(parts.path, query)
        hours = content["hourly"]
        for name in ("temperature_2m", "dew_point_2m"):
            hours[name] = [None if each is None else each + WARMER for each in hours[name]]
        handler.send(status, json.dumps(content).encode())


@pytest.fixture
def server(tmp_path, monkeypatch):
    with WeatherServer() as found:
        for name, value in found.environment().items():
            monkeypatch.setenv(name, value)
        monkeypatch.setenv("HAYWEATHER_STORE", str(tmp_path / "store"))
        monkeypatch.setattr(asked, "wall_clock", lambda: NOW)
        yield found


def rewritten(path) -> None:
    """The farm file, as somebody saves it anew: its weather is asked for again."""
    path.write_text(path.read_text() + "\n")


def test_a_reading_waits_for_no_service_and_counts_once(server, tmp_path):
    path = farm_file(tmp_path)
    live = live_of(path, begin=NOW)
    with running(live) as served:
        held = server.always = Held()
        rewritten(path)
        assert held.asked.wait(60)
        phone = served.phone()
        typed = reading(14.0, field="north")
        assert phone.post(typed).status == 200
        served.wait_for(lambda: live.shown.night["north"].readings)
        assert not held.goes_on.is_set(), "counted while the service has not answered"
        before = live.shown
        assert phone.post(typed).data["known"]  # the telephone tries once more
        held.goes_on.set()
        served.wait_for(lambda: live.shown.version > before.version)
        after = live.shown
        assert b"weather" in phone.get("/").body
        with open_log(live.farm, only_read=True) as log:
            assert len(log.readings()) == 1
    told = [text for change in after.changes for text in change.texts]
    assert sum("14 %" in text for text in told) == 1
    assert any("weather" in text for text in told)
    (counted,) = after.night["north"].readings
    weather = asked.weather_for(live.farm, live.farm.sites)
    at_once = night_of(live.farm, weather, after.night.now, {"north": (counted,)}, members=FEW)
    assert outlook_json(after.night, "us") == outlook_json(at_once, "us")
    assert outlook_json(after.night, "us") != outlook_json(before.night, "us")


def test_hours_that_a_changed_file_has_overtaken_are_not_shown(server, tmp_path):
    path = farm_file(tmp_path)
    live = live_of(path, begin=NOW)
    live.step()
    held = server.always = Held()
    rewritten(path)
    live.step(wait=False)
    assert held.asked.wait(60)
    path.write_text(path.read_text().replace('name = "Hill"', 'name = "Dale"'))
    live.step(wait=False)
    assert live.shown.farm.name == "Hill", "the night that stands is still the old file's"
    held.goes_on.set()
    live.step()
    assert live.shown.night.farm.name == "Hill"
    live.step()
    assert live.shown.farm.name == live.shown.night.farm.name == "Dale"


@pytest.mark.slow
def test_a_reading_waits_for_no_better_plan(tmp_path, monkeypatch):
    live = live_of(farm_in(tmp_path))
    live.step()
    assert live.shown.plan is not None
    goes_on, sought = threading.Event(), []

    def slowly(night):
        sought.append(night)
        assert goes_on.wait(60)
        return plan_of_night(night)

    monkeypatch.setattr(live_module, "plan_of_night", slowly)
    for number, moisture in enumerate((14.0, 9.0), 1):
        with open_log(live.farm) as log:
            age = np.timedelta64(2400 * (3 - number), "s")
            log.add_reading("bench", moisture, time=live.now() - age, now=live.now())
        live.step(wait=False)
        assert len(live.shown.night["bench"].readings) == number
    (first,) = sought
    goes_on.set()
    live.step()  # takes up what was overtaken, and seeks anew
    live.step()
    assert sought[0] is first
    assert len(sought) == 2
    assert sought[1]["bench"].readings == live.shown.night["bench"].readings
