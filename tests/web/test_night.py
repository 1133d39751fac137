"""The night in memory: weighed anew it is the night asked for anew; clipped, repaired, told."""

from dataclasses import replace

import numpy as np
import pytest
from support.live import farm_in, live_of

from hayweather.baling.advice import Advice
from hayweather.baling.value import prices_of
from hayweather.farm import read_farm
from hayweather.log import open_log
from hayweather.nights import night_of
from hayweather.plan.candidates import inspected
from hayweather.plan.case import case_of
from hayweather.plan.make import _carried, plan_of_night, plan_repaired, plan_shown
from hayweather.show.outlook_data import outlook_json
from hayweather.show.outlook_words import field_voice, tonight_lines
from hayweather.weather.asked import weather_for
from hayweather.windrow.readings import Reading

MINUTE = np.timedelta64(60, "s")
MEMBERS = 20


@pytest.fixture(scope="module")
def known(tmp_path_factory):
    path = farm_in(tmp_path_factory.mktemp("farm"))
    farm = read_farm(path)
    weather = weather_for(farm, farm.sites)
    now = farm.weather.now
    return farm, weather, now, night_of(farm, weather, now, members=MEMBERS)


@pytest.mark.slow
@pytest.mark.parametrize("moisture", [5.0, 14.0])
def test_weighed_again_is_the_night_asked_for_anew(known, moisture):
    farm, weather, now, prior = known
    later = now + 20 * MINUTE
    read = {"bench": (Reading(later - MINUTE, moisture),)}
    again = prior.weighed_again(later, read)
    anew = night_of(farm, weather, later, read, members=MEMBERS)
    assert outlook_json(again, "us") == outlook_json(anew, "us")
    assert again.now == later


@pytest.mark.slow
def test_fields_without_news_stand_and_a_reading_taken_out_is_gone(known):
    _, _, now, prior = known
    read = {"bench": (Reading(now, 14.0),)}
    with_reading = prior.weighed_again(now, read, prior)
    assert with_reading["creek"] is prior["creek"]
    assert with_reading["bench"] is not prior["bench"]
    without = prior.weighed_again(now, {}, with_reading)
    assert outlook_json(without, "us") == outlook_json(prior, "us")


def test_another_hour_asks_for_another_night(known):
    _, _, now, prior = known
    assert prior.weighed_again(now + 60 * MINUTE, {}) is None


def test_windows_are_clipped_at_the_minute_of_now(known):
    farm, weather, now, _ = known
    running = now + np.timedelta64(3 * 3600, "s")
    prior = night_of(farm, weather, running, members=MEMBERS)
    first = {item.name: item.windows[0] for item in prior if item.windows}
    begun = [name for name, window in first.items() if window.start <= running]
    assert begun, "the sample has a window that has begun by then"
    later = running + 7 * MINUTE
    again = prior.weighed_again(later, {}, prior)
    for name in begun:
        assert again[name].windows[0].start >= later
    for item in again:
        assert all(window.end > later for window in (*item.windows, *item.maybe))


@pytest.mark.slow
@pytest.mark.parametrize("moisture", [6.0, 14.0])
def test_a_repaired_plan_breaks_no_limit_and_the_better_one_is_no_worse(known, moisture):
    farm, _, now, prior = known
    before = plan_of_night(prior)
    night = prior.weighed_again(now, {"bench": (Reading(now, moisture),)})
    assert plan_shown(night) is not None
    repaired = plan_repaired(night, before)
    case = case_of(night, prices_of(farm.money, farm.money.price_per_kg))
    assert inspected(case, _carried(case, before.blocks)) == []
    assert repaired.gain <= plan_of_night(night).gain + 1e-6
    assert {block.field for block in repaired.blocks} <= set(farm.fields)


def test_a_plan_is_repaired_when_its_rig_breaks(known):
    farm, weather, now, prior = known
    before = plan_of_night(prior)
    assert any(block.rig == "rig" for block in before.blocks)
    broken = replace(farm, out_of_order=(("rig", now),))
    repaired = plan_repaired(night_of(broken, weather, now, members=MEMBERS), before)
    assert all(block.rig is None for block in repaired.blocks)


def test_a_reading_in_the_log_is_counted_told_and_taken_out_again(tmp_path):
    live = live_of(farm_in(tmp_path))
    live.step()
    first = live.shown
    assert (first.version, first.changes, first.trouble) == (1, (), ())
    with open_log(live.farm) as log:
        number = log.add_reading("bench", 14.0, time=live.now(), now=live.now()).id
    live.step()
    second = live.shown
    assert second.version > first.version
    assert [item.moisture_wb for item in second.night["bench"].readings] == [14.0]
    told = " ".join(text for change in second.changes for text in change.texts)
    assert "14 %" in told
    assert "Told before:" in told
    with open_log(live.farm) as log:
        log.remove(number, now=live.now())
    live.step()
    assert live.shown.night["bench"].readings == ()
    assert "no longer counts" in live.shown.changes[0].texts[0]
    version = live.shown.version
    live.step()
    assert live.shown.version == version


def test_hay_that_is_logged_as_baled_lies_there_no_more(tmp_path):
    live = live_of(farm_in(tmp_path))
    live.step()
    before = live.shown.night["bench"].setting.field.area_m2
    now = live.now()
    with open_log(live.farm) as log:
        log.add_work("bench", "baled", time=now - 60 * MINUTE, end=now)
    live.step()
    field = live.shown.night["bench"].setting.field
    assert 0 < field.area_m2 < before
    assert field.baled_m2 == pytest.approx(before - field.area_m2)


def test_weather_that_goes_missing_is_said_and_the_last_stays(tmp_path, capsys):
    live = live_of(farm_in(tmp_path))
    live.step()
    night = live.shown.night
    (tmp_path / "sagebeck.csv").write_text("nothing\n")
    live.step()
    assert live.shown.night is night
    assert any("weather could not be had" in text for text in live.shown.trouble)
    assert all(str(tmp_path) not in text for text in live.shown.trouble)
    assert "sagebeck.csv" in capsys.readouterr().err


def test_no_weather_at_all_is_unknown(tmp_path):
    live = live_of(farm_in(tmp_path))
    (tmp_path / "sagebeck.csv").write_text("nothing\n")
    live.step()
    assert live.shown.night is None
    assert live.shown.trouble


@pytest.mark.slow
def test_a_farm_file_that_goes_wrong_is_said_and_mended(tmp_path, capsys):
    path = farm_in(tmp_path)
    live = live_of(path)
    live.step()
    good = path.read_text()
    path.write_text(good + "[nonsense\n")
    live.step()
    assert live.shown.night is not None
    assert any("farm file" in text for text in live.shown.trouble)
    path.write_text(good.replace("area = 118 ", "area = 117 "))
    live.step()
    assert live.shown.trouble == ()
    assert (
        live.shown.farm.fields["bench"].area_m2
        != live_of(farm_in(tmp_path)).farm.fields["bench"].area_m2
    )


def test_a_rig_that_breaks_down_is_told_and_left_out_until_it_runs(tmp_path):
    live = live_of(farm_in(tmp_path))
    live.step()
    assert any(item.setting.rig is not None for item in live.shown.night)
    with open_log(live.farm) as log:
        log.add_work("bench", "broken", machine="rig", time=live.now(), now=live.now())
    live.step()
    assert live.shown.changes[0].texts[0].startswith("Rig out of order since")
    assert all(item.setting.rig is None for item in live.shown.night)
    own = field_voice(live.shown.night["bench"], live.voice)
    lines = tonight_lines(live.shown.night["bench"], own, details=False)
    firm = [line.text for line in lines if line.advice == Advice.GO]
    (told,) = (text for text in live.shown.changes[0].texts if text.startswith("Bench is now told"))
    assert firm  # on dew, as before: left out here, it would read as if nothing were go any more
    assert all(text in told.partition("Told before")[0] for text in firm)
    with open_log(live.farm) as log:
        log.add_work("bench", "mended", machine="rig", time=live.now(), now=live.now())
    live.step()
    assert live.shown.changes[0].texts[0] == "Rig runs again, by the log."
    assert any(item.setting.rig is not None for item in live.shown.night)
