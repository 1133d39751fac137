"""The sheet of a baler that works without a rig, and what it says was baled already."""

from dataclasses import replace
from functools import cache

from support.outlooks import FOLDER

from hayweather.farm import read_farm
from hayweather.nights import night_of
from hayweather.plan.sheet import make_runsheet
from hayweather.plan.sheet_record import RunSheet
from hayweather.show.page import runsheet_page
from hayweather.show.runsheet_text import runsheet_text
from hayweather.weather.asked import weather_for


@cache
def sheet(*, rig: bool) -> RunSheet:
    """Of the dewy sample's bench, 10 of its hectares baled the night before, 2 this night."""
    farm = read_farm(FOLDER / "sagebeck.toml")
    bench = replace(farm.fields["bench"], baled_before_m2=100_000, baled_m2=20_000)
    farm = replace(farm, fields={"bench": bench}, rigs=farm.rigs if rig else None, shifts=())
    weather = weather_for(farm, farm.sites)
    return make_runsheet(night_of(farm, weather, farm.weather.now, members=40))


def flat(text: str) -> str:
    return " ".join(text.split())


def test_nothing_of_a_rig_is_told_to_who_has_none():
    for text in (runsheet_text(sheet(rig=False), "us"), runsheet_page(sheet(rig=False), "us")):
        assert "although the rate is at its most" not in flat(text)
        assert "dust stands behind the pickup" in flat(text)
        assert "Row and then has" not in flat(text)
        assert "Row: moisture of the windrow" in flat(text)
    with_rig = flat(runsheet_text(sheet(rig=True), "us"))
    assert "although the rate is at its most" in with_rig
    assert "Row and then has" in with_rig


def test_the_sheet_says_what_the_log_has_as_baled():
    text = flat(runsheet_text(sheet(rig=False), "us"))
    assert "25 acres baled the night before by the log" in text
    assert "5 acres baled this night by the log" in text
