"""Rain in words: when it comes, how much, and what is told of it again."""

import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from support.outlooks import FOLDER

from hayweather.farm import read_farm
from hayweather.nights import Night, night_of
from hayweather.plan.sheet import make_runsheet
from hayweather.show.evening import Evening, message_lines
from hayweather.show.outlook_text import outlook_text
from hayweather.show.screen import screen_text
from hayweather.show.told import changes, told_of
from hayweather.weather.asked import weather_for
from hayweather.weather.record import HOUR

NOW = np.datetime64("2025-07-09T00:00", "s")  # 5 pm


@cache
def night_with(rain: tuple[tuple[str, float], ...] = (), chance: tuple[str, float] = ("", 0)):
    """The dewy sample with rain [mm] in hours given in UTC, or a chance of it in one."""
    farm = read_farm(FOLDER / "sagebeck.toml")
    (name, item), *_ = weather_for(farm, farm.sites).items()
    column = np.zeros_like(item.columns["rain_mm"])
    for hour, amount in rain:
        column[(np.datetime64(hour, "s") - item.start[0]) // HOUR] = amount
    columns = {**item.columns, "rain_mm": column}
    if chance[0]:
        likely = np.zeros_like(column)
        likely[(np.datetime64(chance[0], "s") - item.start[0]) // HOUR] = chance[1]
        columns["rain_chance_percent"] = likely
    weather = {name: replace(item, columns=columns)}
    return night_of(farm, weather, NOW, field="bench", members=20)


def flat(text: str) -> str:
    return " ".join(text.split())


def texts(night: Night) -> dict[str, str]:
    """What is said of a night by screen, long text and message."""
    sheet = make_runsheet(night)
    made = Evening(night.farm, night.now, "us", sheet)
    return {
        "screen": flat(screen_text(night, "us")),
        "all": flat(outlook_text(night, "us", hours=True, why=True)),
        "message": flat("\n".join(message_lines(made))),
    }


def test_a_rain_has_one_hour_and_one_amount_on_every_output():
    """1.5 mm in each of four hours from 6 am, also where hours of the rain itself are told."""
    hours = [f"2025-07-09T{hour}:00" for hour in (13, 14, 15, 16)]
    for name, text in texts(night_with(tuple((hour, 1.5) for hour in hours))).items():
        said = set(re.findall(r"[Rr]ain from ([^,;]*, [0-9.to ]* in)", text))
        assert said == {"6 am, 0.24 in"}, name


def test_each_of_two_rains_is_told():
    """A shower at 10 pm, and a longer rain at noon, which is no reason to be silent of it."""
    night = night_with((("2025-07-09T05:00", 0.5), ("2025-07-09T19:00", 8.0)))
    for name, text in texts(night).items():
        said = re.findall(r"[Rr]ain from ([^,;]*), ([0-9.]+) in", text)
        assert list(dict.fromkeys(said)) == [("10 pm", "0.02"), ("noon", "0.31")], name


def test_rain_that_comes_sooner_is_told_with_its_own_hour():
    """Not with the hour from which it is less than six hours off."""
    late, soon = (
        told_of(make_runsheet(night_with(((hour, 4.0),))))
        for hour in ("2025-07-09T18:00", "2025-07-09T10:00")
    )
    said = [found for found in changes(late, soon, NOW) if found.key == "changed_danger"]
    assert [found.values["start"] for found in said] == [np.datetime64("2025-07-09T10:00", "s")]
    assert not [found for found in changes(soon, soon, NOW) if found.key == "changed_danger"]


@pytest.mark.parametrize(("percent", "told"), [(20, False), (55, True)])
def test_a_chance_of_rain_is_told_where_no_amount_is_forecast(percent, told):
    for name, text in texts(night_with((), ("2025-07-09T10:00", percent))).items():
        assert ("55 % chance of rain from 3 am" in text) == told, name
