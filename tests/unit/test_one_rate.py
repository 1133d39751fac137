"""One night, one rate: what is dialed is what every output says, by a reader of its own."""

import json
import re

import numpy as np
import pytest
from support.all_outputs import outlook_outputs, work_outputs
from support.outlooks import EACH_SAMPLE, outlook_of

from hayweather.baling.water import dialed_l_t
from hayweather.farm.records import Rig
from hayweather.plan.sheet import make_runsheet
from hayweather.show.voice import Voice

UNIT = {"us": r"(?:gal/ton|gal per ton)", "metric": r"(?:L/t|L per t|L por t)"}
NUMBER = r"\d+(?:[.,]\d+)?"
KEY = {"us": "gal_per_ton", "metric": "l_per_t"}
L_T = {"us": 231 * 0.0254**3 * 1000 / 0.90718474, "metric": 1.0}  # a gallon in a short ton
STEP = {"us": 0.5 * L_T["us"], "metric": 2.0}


def rates_said(text, units):
    """Every rate that stands before its unit, ranges with both ends; not what no rig could give."""
    text = re.sub(r"\s+", " ", text.replace("\r\n ", "").replace("\\,", ","))
    text = re.sub(rf"(would need|pediría) {NUMBER}( (to|a) {NUMBER})? ?{UNIT[units]}", "", text)
    joined = rf"({NUMBER})(?: falling to | rising to | to | bajando a | subiendo a | a | - |-)"
    ends = re.findall(rf"(?:{joined})?({NUMBER}) ?{UNIT[units]}", text)
    return {float(number.replace(",", ".")) for pair in ends for number in pair if number}


def can_be_read(farm, units):
    """Every rate that some rig of the farm can be set to, and its step, as a reader sees them."""
    found = set()
    for rig in farm.rigs.values():
        steps = np.arange(0.0, rig.rate_max_l_t + STEP[farm.units], STEP[farm.units])
        ends = (rig.rate_min_l_t, rig.rate_max_l_t)
        inside = [s for s in steps if ends[0] - 1e-6 <= s <= ends[1] + 1e-6]
        found |= {f"{rate / L_T[units]:.1f}" for rate in (*inside, *ends, STEP[farm.units])}
    return np.array(sorted(float(text) for text in found))


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("name", EACH_SAMPLE)
def test_every_rate_that_is_said_can_be_dialed(name, units):
    night = outlook_of(name)
    dial = can_be_read(night.farm, units)
    written = outlook_outputs(night, 80, units) | work_outputs(night, units)
    said = {kind: rates_said(text, units) for kind, text in written.items()}
    assert any(said.values()) or name == "sagebeck_shower"
    for kind, rates in said.items():
        for rate in rates:
            assert np.abs(dial - rate).min() < 0.051, (kind, rate)
    for field in json.loads(written["json"])["fields"]:
        for hour in field["hours"]:
            if (rate := hour[f"water_{KEY[units]}"]) is not None:
                assert np.abs(dial - rate).min() < 0.051, hour["start"]


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("name", EACH_SAMPLE)
def test_screen_message_calendar_page_and_plan_say_what_the_sheet_dials(name, units):
    night = outlook_of(name)
    written = work_outputs(night, units)
    voice = Voice.of(night.farm, units, night.timezone)
    machines = [item for item in make_runsheet(night).machines if item.kind == "rig"]
    dials = [d for item in machines for piece in item.pieces for d in piece.dials if d.water_l_t]
    dialed = {float(voice.number(d.water_l_t, "water_rate").replace(",", ".")) for d in dials}
    until = max(field.headline.turn for field in night)
    shown = [d.water_l_t for d in dials if d.start < until]
    if not shown:
        return
    least, most = (float(voice.number(f(shown), "water_rate").replace(",", "."))
                   for f in (min, max))  # fmt: skip
    on_screen = rates_said(written["screen"], units)
    assert {least, most} <= on_screen <= dialed
    written["sheet calendar"] = written["sheet calendar"].replace("\r\n ", "").replace("\\,", ",")
    for rate in (least, most):
        text = voice.signed(f"{rate:.1f}")
        for kind in ("sheet text", "sheet page", "sheet calendar", "message"):
            assert text in written[kind], (kind, text)
    blocks = [b for b in json.loads(written["plan json"])["blocks"] if b["rig"]]
    ends = {round(b[f"water_{end}_{KEY[units]}"], 1) for b in blocks for end in ("least", "most")}
    assert {least, most} <= ends


def test_a_rate_becomes_the_nearest_step_that_serves():
    """Steps of 2 from 10 to 79: 13.9 is 14, or 12 where 14 is too much, or none."""
    rig = Rig("rig", 3000.0, 10.0, 79.0, 40.0, 20.0, rate_step_l_t=2.0)
    rates = np.array([13.9, 13.1, 78.9, 10.4])
    assert dialed_l_t(rates, rig, lambda r: r < 1000).tolist() == [14.0, 14.0, 79.0, 10.0]
    assert dialed_l_t(rates, rig, lambda r: r <= 13.95).tolist()[:2] == [12.0, 12.0]
    assert np.isnan(dialed_l_t(np.array([13.9]), rig, lambda r: r == 13.9)).all()
    assert dialed_l_t(rates, rig, lambda r: r < 0).tolist() == [14.0, 14.0, 79.0, 10.0]
    assert dialed_l_t(rates, rig, lambda r: r < 1000, 13.0).tolist() == [12.0, 12.0, 12.0, 10.0]


def test_a_rate_shows_the_decimals_that_it_is_dialed_with():
    """Steps of a quarter gallon need two; what is only worked out has one."""
    us, comma = Voice("en", "us", "UTC"), Voice("es", "metric", "UTC")
    assert us.number(6.25 * L_T["us"], "water_rate") == "6.25"
    assert us.amount(4.0 * L_T["us"], "water_rate") == "4 gal/ton"
    assert us.number(6.2512 * L_T["us"], "water_rate") == "6.3"
    assert comma.amount(2.5, "water_rate") == "2,5 L/t"


def test_rates_with_a_comma_are_parted_by_more_than_one():
    """21:00 90,0; 21:15 84,0 L/t, each rate once, in the message and in the calendar."""
    night = outlook_of("vallumbria")
    written = work_outputs(night, "metric")
    calendar = written["sheet calendar"].replace("\r\n ", "").replace("\\,", ",")
    calendar = calendar.replace("\\;", ";")
    for kind, text in (("message", written["message"]), ("calendar", calendar)):
        found = re.findall(r"\d\d:\d\d \d+,\d; \d\d:\d\d \d+,\d", " ".join(text.split()))
        assert found, kind
        assert not re.search(r"\d\d:\d\d \d+,\d, \d\d:\d\d", text), kind
