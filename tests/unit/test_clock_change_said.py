"""The night in which clocks are changed: every output says so."""

from dataclasses import replace

import numpy as np
import pytest
from support.outlooks import FOLDER

from hayweather.farm import read_farm
from hayweather.nights import Night, night_of
from hayweather.plan.sheet import make_runsheet
from hayweather.show.outlook_text import outlook_text
from hayweather.show.runsheet_text import runsheet_text
from hayweather.show.screen import screen_text
from hayweather.weather.asked import weather_for

SUMMER = np.datetime64("2025-07-09T00:00", "s")  # 5 pm


def moved(now: str) -> Night:
    """The dewy sample's bench, its weather moved to begin the evening at another time, UTC."""
    farm = read_farm(FOLDER / "sagebeck.toml")
    begin = np.datetime64(now, "s")
    by = begin - SUMMER
    weather = {
        name: replace(item, start=item.start + by)
        for name, item in weather_for(farm, farm.sites).items()
    }
    return night_of(farm, weather, begin, field="bench", members=12)


@pytest.mark.parametrize(
    ("now", "said"),
    [
        ("2025-03-09T01:00", "clocks go forward 60 min at 3 am PDT: less time"),
        ("2025-11-02T00:00", "clocks go back 60 min at 1 am PST: more time"),
        ("2025-11-03T01:00", ""),
        ("2025-07-09T00:00", ""),
    ],
)
def test_a_change_of_the_clock_is_said_in_its_night_alone(now, said):
    night = moved(now)
    texts = (
        screen_text(night, "us"),
        outlook_text(night, "us"),
        runsheet_text(make_runsheet(night), "us"),
    )
    for text in texts:
        flat = " ".join(text.split()).lower()
        assert ("clocks go" in flat) == bool(said)
        assert said.lower() in flat


def test_an_outlook_after_the_change_is_silent_of_it():
    keys = [item.key for item in moved("2025-03-09T13:00").cautions]
    assert keys
    assert not [key for key in keys if "clock" in key]
