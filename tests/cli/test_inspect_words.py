"""What inspect says of a farm's values and of repairs: their column, how often, where the first."""

import json

import numpy as np
import pytest
from cli.commands import done, farm_with

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


def test_every_kind_of_value_is_told_as_it_is_in_force(tmp_path, capsys):
    classes = "supreme = 205, premium = 200, good = 180, fair = 150, utility = 120"
    prices = f"rfv_prices = [[130, 150], [170, 200]]\nclass_prices = {{ {classes} }}"
    farm = farm_with(
        tmp_path,
        ("[farm]", '[farm]\nrest = 10\nlog = "own.sqlite"\ndecimals = "comma"'),
        ("[baler]", "[baler]\nleaf_loss = 1.2\nleaf_loss_range = [0.7, 1.8]"),
        ("[money]", f"[money]\n{prices}"),
    )
    text = " ".join(done(capsys, "inspect", farm).split())
    for told in (
        "rest 10 h log own.sqlite decimals comma",
        "leaf_loss_range 0,7 to 1,8",
        "rfv_prices 130: 150 /ton, 170: 200 /ton",
        "class_prices supreme: 205 /ton, premium: 200 /ton",
    ):
        assert told in text
    settings = json.loads(done(capsys, "inspect", farm, "--format", "json"))["settings"]
    [pairs] = [row for row in settings if row["key"] == "rfv_prices"]
    assert (pairs["value"], pairs["unit"]) == ([[130, 150], [170, 200]], "/ton")
