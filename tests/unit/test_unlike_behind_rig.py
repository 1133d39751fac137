"""Behind one rig only balers of like limits work at once: one rate is printed for all."""

import re

import numpy as np
import pytest
from support.outlooks import FOLDER

from hayweather.baling.value import prices_of
from hayweather.farm import read_farm
from hayweather.nights import Night, night_of
from hayweather.plan.candidates import inspected, rule_schedules
from hayweather.plan.case import case_of
from hayweather.plan.make import plan_repaired
from hayweather.plan.work import carried_out
from hayweather.weather.asked import weather_for
from hayweather.windrow.readings import Reading

BALER = """[baler.{name}]
kind = "large-square"
bale_size = "{size}"
bale_weight = {weight}
capacity = {pace}
"""


@pytest.fixture(scope="module")
def night(tmp_path_factory) -> Night:
    """One field, a 4x4 and a 3x4 baler, and a rig that has water for little more than one."""
    text = (FOLDER / "sagebeck.toml").read_text()
    head, _, rest = text.partition("[baler]")
    own = BALER.format(name="tall", size="4x4", weight=1500, pace=20)
    own += BALER.format(name="flat", size="3x4", weight=1250, pace=20)
    text = head + own + rest[rest.index("# Round figures") :]
    text = re.sub(r"\[\[shift\]\].*?(?=\[money\])", "", text, flags=re.DOTALL)
    for field in ("creek", "saddle"):
        text = re.sub(rf"\[field\.{field}\].*?(?=^\[)", "", text, flags=re.DOTALL | re.MULTILINE)
    path = tmp_path_factory.mktemp("rig") / "farm.toml"
    path.write_text(text.replace('"sagebeck.csv"', f'"{FOLDER / "sagebeck.csv"}"'))
    farm = read_farm(path)
    now = farm.weather.now
    read = {"bench": (Reading(now - np.timedelta64(60, "s"), 9.0),)}
    return night_of(farm, weather_for(farm, farm.sites), now, read, members=40)


def test_what_the_rules_carry_out_keeps_to_the_rig(night):
    case = case_of(night, prices_of(night.farm.money, night.farm.money.price_per_kg))
    together = 0
    for schedule in rule_schedules(case).values():
        both = (schedule.field >= 0) & (schedule.mode == 1)
        together += int(both.all(axis=0).sum())
        done, work = carried_out(case, schedule)
        assert inspected(case, done, visits=False) == []
        for stretch in work.walk.stretches:
            bands = {machine.setting.band for machine in stretch.slot.team.machines}
            assert stretch.slot.team.rig is None or len(bands) == 1
    assert together  # the rules do send both


def test_a_repaired_plan_stands(night):
    assert plan_repaired(night, None).blocks
