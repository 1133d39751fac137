"""What a telephone sends: taken once, however often it is sent, and shown with its value."""

from uuid import uuid4

from support.live import farm_in

from hayweather.farm import read_farm
from hayweather.log import open_log
from hayweather.show.voice import Voice
from hayweather.web.forms import take
from hayweather.web.pages import entry_text

RIG = "[rig]"


def test_the_only_machine_reported_broken_without_its_name_is_known_when_sent_again(tmp_path):
    path = farm_in(tmp_path)
    text = path.read_text(encoding="utf-8")
    begin, end = text.index(RIG), text.index("[[shift]]")
    path.write_text(text[:begin] + text[end:], encoding="utf-8")
    farm = read_farm(path)
    form = {"form": "work", "event": "broken", "machine": "", "field": "bench", "id": str(uuid4())}
    first, again = (take(farm, form, farm.weather.now) for _ in range(2))
    assert (first.known, again.known) == (False, True)
    assert first.entry == again.entry
    assert again.entry.machine == "baler"


def test_a_temperature_in_the_log_is_shown_with_its_value(tmp_path):
    farm = read_farm(farm_in(tmp_path))
    with open_log(farm) as log:
        now = farm.weather.now
        entry = log.add_reading("bench", kind="skin", skin_temperature_c=10.0, time=now, now=now)
    assert "50 °F" in entry_text(entry, Voice.of(farm, "us", "America/Los_Angeles"))
