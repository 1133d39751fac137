"""What is said of hand-made schedules: reasons of blocks, quality, hay left, order of rules."""

from dataclasses import replace

import numpy as np
import pytest
from support.fields import EVENING, days
from support.fields_farm import case_for, farm_with, field, weather_of

from hayweather.baling.calls import Call
from hayweather.baling.value import Sheet, baled_sheet, baling_loss_percent
from hayweather.farm.records import Baler, Rig
from hayweather.plan import make, results
from hayweather.plan.candidates import rule_schedules
from hayweather.plan.case import Case
from hayweather.plan.results import results_of
from hayweather.plan.task import IDLE, Schedule, nothing
from hayweather.plan.work import runs_of
from hayweather.weather.record import HOUR

BALER = Baler("b", capacity_kg_h=18_000.0)
RIG = Rig("rig", 8000.0, 8.0, 90.0, 200.0, 20.0)
DRY_KG = 1000.0


def quarter_with(case: Case, call: Call, f: int = 0, mode: int = 0) -> int:
    """The first quarter that may be baled so, with this call."""
    may = (case.task.rate_kg[0, f, :, mode] > 0) & (case.ways[0, f, mode].look.call == call)
    assert may.any()
    return int(may.argmax())


def one_quarter(case: Case, quarter: int, f: int = 0, mode: int = 0) -> Schedule:
    """The first baler works in one quarter."""
    idle = nothing(case.task)
    where, how, kg = idle.field.copy(), idle.mode.copy(), idle.kg.copy()
    where[0, quarter], how[0, quarter], kg[0, quarter] = f, mode, DRY_KG
    return Schedule(where, how, kg)


def reasons_of(case: Case, schedule: Schedule) -> dict:
    """Values of the reasons of the only run of work, by key."""
    (run,) = runs_of(case, schedule.field, schedule.mode)
    return {remark.key: remark.values for remark in results.reasons_of(case, run, None)}


def test_reasons_name_the_rain_the_dry_leaf_and_what_the_field_is_due_for():
    rain = np.zeros(76)
    rain[50:52] = 2.0
    weather = {"home": days(76, dew_point_c=7.0, rain_mm=rain)}
    finish, irrigation = EVENING + 30 * HOUR, EVENING + 34 * HOUR
    due = field("a", 60, finish_before=finish, irrigation_due=irrigation)
    case = case_for(farm_with({"a": due}, {"b": BALER}, {}), weather)
    quarter = quarter_with(case, Call.TOO_DRY)
    said = reasons_of(case, one_quarter(case, quarter))
    leaf = case.ways[0, 0, 0].look.leaf_wb[quarter]
    assert said["fields_reason_dry"]["leaf"] == (leaf, leaf, "percent")
    assert said["fields_reason_rain"]["time"] == weather["home"].start[0] + 50 * HOUR
    assert said["fields_reason_finish"]["time"] == finish
    assert said["fields_reason_irrigation"]["time"] == irrigation - 4 * HOUR
    assert "fields_reason_last" not in said
    late = case.starts[quarter] - HOUR
    passed = field("a", 60, finish_before=late, irrigation_due=late + 4 * HOUR)
    case = case_for(farm_with({"a": passed}, {"b": BALER}, {}), weather)
    said = reasons_of(case, one_quarter(case, quarter))
    assert not {"fields_reason_finish", "fields_reason_irrigation"} & set(said)


def test_what_a_field_is_due_for_after_the_plan_is_no_reason():
    later = {"finish_before": EVENING + 300 * HOUR, "irrigation_due": EVENING + 300 * HOUR}
    case = case_for(farm_with({"a": field("a", 60, **later)}, {"b": BALER}, {}), weather_of(4))
    said = reasons_of(case, one_quarter(case, quarter_with(case, Call.NATURAL_DEW)))
    assert "fields_reason_dew" in said
    assert not {"fields_reason_finish", "fields_reason_irrigation", "fields_reason_rain"} & {*said}


@pytest.mark.parametrize(("rate_max", "after_wb"), [(200.0, 14.0), (60.0, None)])
def test_quality_behind_a_rig_counts_its_water(rate_max, after_wb):
    """Its own target where the rig reaches it, else its whole rate; by layer, leaf first."""
    known = {"crude_protein_percent": 20.5, "ndf_percent": 37.0, "adf_percent": 29.0}
    rigs = {"rig": replace(RIG, target_wb=14.0, rate_max_l_t=rate_max)}
    case = case_for(farm_with({"a": field("a", 60, **known)}, {"b": BALER}, rigs), weather_of(4))
    quarter = quarter_with(case, Call.ADD_MOISTURE, mode=1)
    look = case.ways[0, 0, 1].look
    before = float(look.windrow_wb[quarter])
    if after_wb is None:
        assert look.water_l_t[quarter] == rate_max
        after_wb = before + float(look.added_wb[quarter])
        assert 12.0 <= after_wb < 14.0
    (found,) = results_of(case, one_quarter(case, quarter, mode=1))
    plain_look = case.ways[0, 0, 0].look
    assert look.loss_percent[quarter] < plain_look.loss_percent[quarter]
    lost_of_mean = baling_loss_percent(plain_look.leaf_wb[quarter], "alfalfa", BALER.kind)
    # The layers differ, and the curve bends.
    assert plain_look.loss_percent[quarter] != pytest.approx(lost_of_mean, rel=1e-5)
    loss = float(look.loss_percent[quarter])
    expected = baled_sheet(Sheet(20.5, 37.0, 29.0), loss, "alfalfa")
    assert found.sheet.crude_protein == pytest.approx(expected.crude_protein, abs=1e-9)
    (plain,) = results_of(case, one_quarter(case, quarter_with(case, Call.TOO_DRY)))
    assert plain.sheet.crude_protein < found.sheet.crude_protein


def test_a_baler_that_cannot_take_the_windrow_changes_nothing():
    weak = Baler("weak", capacity_kg_h=30_000.0, windrow_limit_kg_m2=0.5)
    fields = {"a": field("a", 60)}
    alone = case_for(farm_with(fields, {"b": BALER}, {}), weather_of(4))
    both = case_for(farm_with(fields, {"b": BALER, "weak": weak}, {}), weather_of(4))
    assert not both.task.rate_kg[1].any()
    np.testing.assert_array_equal(both.left, alone.left)
    costs = [results_of(case, nothing(case.task))[0].left_cost_per_kg for case in (alone, both)]
    assert costs[0] == costs[1] > 0


def test_the_field_cured_longest_comes_first_by_the_time_given():
    fields = {
        "new": field("new", 20, cured=EVENING - 48 * HOUR),
        "old": field("old", 20, cured=EVENING - 96 * HOUR),
    }
    case = case_for(farm_with(fields, {"b": BALER}, {}), weather_of(4))
    work = rule_schedules(case)["longest_cured"].field[0]
    assert work[work != IDLE][0] == 1


def test_a_plan_that_breaks_a_limit_is_never_shown(monkeypatch):
    monkeypatch.setattr(make, "inspected", lambda *_, **__: ["b: twice at once", "a: late"])
    farm = farm_with({"a": field("a", 20)}, {"b": BALER}, {})
    with pytest.raises(RuntimeError, match="b: twice at once; a: late"):
        make.plan_fields(farm, weather_of(4), EVENING, days=1, seconds=1, members=2, unseen=0)


def test_the_last_hours_fit_are_named():
    farm = replace(farm_with({"a": field("a", 60)}, {"b": BALER}, {}), rest_h=0.0)
    case = case_for(farm, weather_of(4))
    fit = (case.task.rate_kg[0, 0, :, 0] > 0) & (case.ways[0, 0, 0].look.call == Call.NATURAL_DEW)
    first, last = (int(quarter) for quarter in np.flatnonzero(fit)[[0, -1]])
    early, late = (reasons_of(case, one_quarter(case, quarter)) for quarter in (first, last))
    assert "fields_reason_last" in late
    assert "fields_reason_last" not in early
