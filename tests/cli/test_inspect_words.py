"""What inspect says of repairs: their column, how often, and where the first one is."""

import numpy as np
import pytest

from hayweather.show.inspect import repair_text
from hayweather.show.voice import Voice
from hayweather.weather.quality import Repair

FIRST = np.datetime64("2025-07-09T05:00", "s")
EN, ES = Voice("en", "us", "UTC"), Voice("es", "metric", "UTC")


@pytest.mark.parametrize("voice", [EN, ES])
def test_a_repair_names_column_count_and_place(voice):
    gap = Repair("gap_filled", "air_temperature_c", 3, first=FIRST)
    column = voice.say("record_air_temperature_c")
    text = repair_text(gap, "repair", voice)
    assert voice.say("repair_gap_filled") in text
    assert column in text
    assert "3" in text
    assert "2025-07-09 05:00" in text
    by_line = repair_text(Repair("gap_filled", "air_temperature_c", 3, line=17), "repair", voice)
    assert "17" in by_line
    assert "2025" not in by_line


def test_a_repair_of_whole_rows_names_no_column():
    text = repair_text(Repair("gap_filled", "", 2), "repair", EN)
    assert text == EN.say("inspect_repair", text=EN.say("repair_gap_filled"), count=2)
