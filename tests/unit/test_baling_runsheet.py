"""The run sheet against sums done by hand, and what it says where something is missing."""

from dataclasses import replace

import numpy as np
import pytest
from support.fields import calls_of, hay, setting_of
from support.made_sheets import ALONG_KG_M, BALER, EVENING, FIELD, RIG, farm_of, simple_sheet
from support.outlooks import EACH_SAMPLE
from support.sheets import sheet_of

from hayweather.baling.calls import Call, limits_of
from hayweather.baling.setting import dial_step_l_t
from hayweather.baling.water import brought_in, picked
from hayweather.errors import FarmFileError
from hayweather.farm.records import Shift
from hayweather.plan.pace import machines_of, pace_of
from hayweather.plan.record import Span
from hayweather.plan.sheet import make_runsheet
from hayweather.units import GALLON_L, MPH_M_S, SHORT_TON_KG
from hayweather.weather.record import HOUR
from hayweather.words import Remark, say

MINUTE = np.timedelta64(60, "s")
STEP_2 = replace(RIG, rate_step_l_t=2.5)
NEED_L_T = 1000 * (13 - 10) / (100 - 13) / 0.8  # 43.10, dialed 42.5 in steps of 2.5


def keys(remarks):
    return [remark.key for remark in remarks]


def minutes_after(time):
    return float((time - EVENING) / MINUTE)


def test_an_hour_behind_the_rig_by_hand():
    """16 t/h in the field is 20 t/h moving; 3 kg/m: 1.85 m/s; 42.5 L/t: 14.2 L/min, 680 L/h."""
    sheet = simple_sheet(rig=STEP_2)
    piece = sheet.pieces[0]
    assert (piece.start, piece.hours, piece.call) == (EVENING, 1.0, Call.ADD_MOISTURE)
    assert piece.water_l_t == pytest.approx(42.5)
    assert abs(piece.water_l_t - NEED_L_T) <= 1.25
    assert piece.speed_m_s == pytest.approx(20_000 / ALONG_KG_M / 3600)
    assert piece.flow_l_min == pytest.approx(20 * 42.5 / 60)
    assert piece.mass_kg == pytest.approx(16_000)
    assert piece.bales == pytest.approx(32)
    assert piece.area_m2 == pytest.approx(16_000 / 0.3)
    assert piece.water_l == pytest.approx(16 * 42.5)
    assert piece.loads == pytest.approx(16 * 42.5 / 4000)
    assert piece.burner_fuel_l == 0.0
    assert piece.after_wb == pytest.approx(100 * (100 + 34) / (1000 + 34))


def test_the_tank_empties_and_the_baler_waits():
    """4,000 L at 680 L/h last 352.9 min: filled at 352, 20 minutes, then 8 h are nearly over."""
    sheet = simple_sheet(rig=STEP_2, hours=8)
    (fill,) = sheet.fills
    assert minutes_after(fill.start) == 352
    assert (fill.minutes, fill.baler_waits) == (20, True)
    assert [minutes_after(piece.start) for piece in sheet.pieces[5:7]] == [300, 372]
    (wait,) = [step for step in sheet.baler.steps if step.kind == "wait"]
    assert (wait.start, wait.end) == (fill.start, fill.end)
    assert sheet.pieces[5].hours == pytest.approx(52 / 60)
    assert sheet.totals.rig_hours == pytest.approx(8 - 20 / 60)
    assert sheet.totals.water_l == pytest.approx(680 * sheet.totals.rig_hours)


def test_no_fill_for_the_last_minutes_of_a_window():
    """The tank is dry after 352 of 360 minutes: eight minutes pay no way to the water."""
    sheet = simple_sheet(rig=STEP_2, hours=6)
    assert sheet.fills == ()
    assert minutes_after(sheet.pieces[-1].end) == 352
    assert "sheet_cut_short" in keys(sheet.notes)


def test_the_rig_fills_while_the_baler_works_without_it():
    """Rig two hours, ready as it lies two hours, rig two hours: the fill costs no hour."""
    moisture = np.repeat([10.0, 14.0, 10.0], 8)
    sheet = simple_sheet(np.append(moisture, 10.0), rig=replace(STEP_2, tank_l=1500.0))
    (fill,) = sheet.fills
    assert not fill.baler_waits
    again = next(p for p in sheet.pieces[3:] if p.call == Call.ADD_MOISTURE)
    assert fill.end == again.start
    assert sheet.totals.hours == pytest.approx(6.0)
    dew = [piece for piece in sheet.pieces if piece.call == Call.READY]
    assert sum(p.hours for p in dew) == pytest.approx(sheet.totals.dew_hours)
    assert {(p.water_l, p.loads, p.water_l_t) for p in dew} == {(0.0, 0.0, None)}
    assert {dial.water_l_t for piece in dew for dial in piece.dials} == {0.0}


def test_the_field_ends_the_work():
    """10 ha at 3 t/ha are 30 t: 1 h 52.5 min at 16 t/h."""
    sheet = simple_sheet(field=replace(FIELD, area_m2=100_000.0))
    assert minutes_after(sheet.field.done_at) == pytest.approx(112.5)
    assert sheet.pieces[-1].end == sheet.field.done_at
    assert sheet.totals.area_m2 == pytest.approx(100_000.0)
    assert sheet.totals.mass_kg == pytest.approx(30_000.0)
    assert "sheet_left" not in keys(sheet.notes)


def test_acres_left_are_said():
    sheet = simple_sheet()
    left = next(note for note in sheet.notes if note.key == "sheet_left").values["area"][0]
    assert left == pytest.approx(FIELD.area_m2 - sheet.totals.area_m2)
    assert sheet.field.done_at is None


def test_flow_of_the_rig_slows_the_machines():
    """10 L/min at 42.5 L/t is 14.1 t/h moving, 11.3 t/h in the field."""
    sheet = simple_sheet(rig=replace(STEP_2, flow_max_l_min=10.0))
    piece = sheet.pieces[0]
    assert piece.flow_l_min == pytest.approx(10.0)
    assert piece.mass_kg == pytest.approx(10 * 60 / 42.5 * 1000 * 0.8)
    assert piece.speed_m_s == pytest.approx(10 * 60 / 42.5 * 1000 / ALONG_KG_M / 3600)
    assert "sheet_full_flow" in keys(sheet.notes)


def test_a_fast_light_windrow_is_bound_by_the_top_speed():
    light = replace(FIELD, yield_kg_m2=0.05)
    sheet = simple_sheet(14.0, field=light)
    assert sheet.pieces[0].speed_m_s == pytest.approx(8 * MPH_M_S)  # D497 large square, mem.
    assert sheet.pieces[0].mass_kg == pytest.approx(8 * MPH_M_S * 0.5 * 3600 * 0.8)


def test_hours_whose_water_the_flow_cannot_give_are_left_out():
    """1 L/min at the slowest speed puts on 12.4 L/t: not enough, and said."""
    sheet = simple_sheet(rig=replace(RIG, flow_max_l_min=1.0))
    assert sheet.pieces == ()
    note = next(note for note in sheet.notes if note.key == "sheet_beyond_flow")
    assert note.values["hours"][0] == pytest.approx(6.0)
    assert sheet.totals.hours == 0


def test_the_rate_follows_the_hay_in_steps_that_can_be_dialed():
    sheet = simple_sheet(np.linspace(8.0, 11.9, 25), rig=STEP_2)
    steps = [step for piece in sheet.pieces for step in piece.dials]
    rates = [step.water_l_t for step in steps]
    assert len(set(rates)) > 10
    assert all(rate % 2.5 == pytest.approx(0, abs=1e-9) for rate in rates)
    assert rates == sorted(rates, reverse=True)
    assert all(12 <= piece.after_wb <= 16 for piece in sheet.pieces)


def test_a_meter_that_reads_otherwise_gets_its_rate_by_the_mass_balance():
    """From r % to 13 %: 1000 (13 - r)/87 L/t in the hay, 0.8 of it stays, steps of 2.5."""
    sheet = simple_sheet(rig=STEP_2, leaf_wb=14.0)
    answers = {a.reads_wb: a for a in sheet.rig.pieces[0].dials[0].answers}
    assert set(answers) == {9.0, 10.0, 11.0}
    for reads, answer in answers.items():
        assert answer.kind == "rate"
        assert abs(answer.water_l_t - 1000 * (13 - reads) / 87 / 0.8) <= 1.25 + 1e-9
        assert answer.flow_l_min == pytest.approx(20 * answer.water_l_t / 60)


def test_a_pump_at_its_limit_goes_slower_and_says_so():
    """10 L/min: 9 % asks for 57.5 L/t, so 10.4 t/h moving and 0.97 m/s."""
    sheet = simple_sheet(rig=replace(STEP_2, flow_max_l_min=10.0))
    answers = {a.reads_wb: a for a in sheet.rig.pieces[0].dials[0].answers}
    assert answers[9.0].kind == "slower"
    rate = answers[9.0].water_l_t
    assert answers[9.0].flow_l_min == pytest.approx(10.0)
    assert answers[9.0].speed_m_s == pytest.approx(600 / rate * 1000 / ALONG_KG_M / 3600)
    assert "sheet_full_flow" in keys(sheet.rig.notes)


def test_hay_that_the_rig_cannot_bring_in_is_left_and_damp_hay_needs_none():
    """60 L/t at most is 48 in the hay: from 6 % that makes 10.3 %, below the band."""
    rig = replace(STEP_2, rate_max_l_t=60.0)
    sheet = simple_sheet(np.linspace(8.0, 11.9, 25), rig=rig)
    kinds = {a.reads_wb: a.kind for p in sheet.rig.pieces for d in p.dials for a in d.answers}
    assert kinds[7.0] == "leave"
    assert kinds[12.0] == "none"
    assert kinds[10.0] == "rate"


def test_steps_where_the_farm_file_gives_none():
    """Half a gallon a ton, or two liters a tonne."""
    half_gallon = GALLON_L / 2 / SHORT_TON_KG * 1000
    assert setting_of().rig.rate_step_l_t == pytest.approx(half_gallon)
    assert dial_step_l_t(RIG, "metric") == 2.0
    assert setting_of(rig=STEP_2).rig.rate_step_l_t == 2.5


def test_what_can_be_dialed_keeps_the_limits_or_there_is_no_rate():
    """10 % and 13 % to reach: 43 L/t, in the band from 29 to 90. A step of 300 leaves the ends."""
    quarters, setting = calls_and_setting(replace(RIG, rate_step_l_t=300.0, rate_max_l_t=80.0))
    assert (quarters.call == Call.ADD_MOISTURE).all()
    assert pace_of(machines_of(setting, "us", ""), quarters, 0).rate_l_t == 80.0
    quarters, _ = calls_and_setting(replace(RIG, rate_step_l_t=300.0, rate_max_l_t=200.0))
    assert (quarters.call == Call.TOO_DRY).all()
    assert quarters.dose.off_dial.all()
    assert np.isnan(quarters.dose.applied_l_t).all()


def calls_and_setting(rig):
    setting = setting_of(rig=rig)
    return calls_of(hay(10.0, 10.0), setting), setting


@pytest.mark.parametrize("least_soft", [13.0, 14.0, 15.0, 16.0])
def test_a_dialed_rate_never_leaves_the_leaf_too_dry_nor_the_hay_too_wet(least_soft):
    """Coarse steps: whichever is nearer, the leaf minimum and the wet share are kept."""
    for step in (6.0, 11.0, 17.0):
        rig, baler = replace(RIG, rate_step_l_t=step), replace(BALER, leaf_minimum_wb=least_soft)
        setting = setting_of(rig=rig, baler=baler)
        quarters = calls_of(hay(np.linspace(8.0, 12.0, 5), np.linspace(8.0, 12.0, 5)), setting)
        machines, worked = machines_of(setting, "us", ""), 0
        for row in range(4):
            if quarters.call[row, 0] != Call.ADD_MOISTURE:
                continue
            worked += 1
            pace = pace_of(machines, quarters, row)
            assert pace.rate_l_t in (10.0, 80.0) or pace.rate_l_t % step < 1e-6
            kept = np.array([pace.rate_l_t]) * quarters.dose.efficiency[row]
            at = (np.array([row]), np.array([0]))
            assert brought_in(
                picked(quarters.hay, at),
                quarters.windrow_wb[row],
                kept,
                quarters.dose.landing,
                limits_of(setting),
            )[0]
        assert worked or step == 17.0


def test_work_begins_now_and_keeps_to_the_shifts():
    """Asked at 20:30:20; or with crews from 21:00 to midnight, three of six hours without."""
    late = simple_sheet(now=EVENING + np.timedelta64(1820, "s"))
    assert minutes_after(late.pieces[0].start) == 31
    sheet = simple_sheet(shifts=(Shift(21 * 60, 22 * 60, "a"), Shift(22 * 60, 0, "b")))
    assert minutes_after(sheet.pieces[0].start) == 60
    assert minutes_after(sheet.pieces[-1].end) == 240
    off = next(note for note in sheet.notes if note.key == "sheet_off_duty")
    assert off.values["hours"][0] == pytest.approx(3.0)
    assert keys(sheet.baler.relief) == ["relief_by"]
    assert sheet.baler.relief[0].values["time"] == EVENING + 2 * HOUR


def test_relief_of_those_who_rose_in_the_morning():
    """Up since 06:00, awake 18 hours at midnight (CDC, published: like 0.05 % of alcohol)."""
    sheet = simple_sheet(hours=6)
    assert keys(sheet.baler.relief) == ["relief_awake"]
    assert sheet.baler.relief[0].values["time"] == EVENING + 4 * HOUR
    assert sheet.baler.relief[0].values["whole"] == EVENING + 10 * HOUR
    assert simple_sheet(hours=3).baler.relief == ()


def test_relief_of_a_shift_without_rest():
    long = Shift(14 * 60, 10 * 60, "all")
    sheet = simple_sheet(shifts=(long,))
    assert keys(sheet.baler.relief) == ["relief_long", "relief_rest"]
    until, rest = sheet.baler.relief[0].values["time"], sheet.baler.relief[1].values["hours"]
    assert until == EVENING + 10 * HOUR  # 16 hours after 14:00
    assert rest == (pytest.approx(4.0), "hours")


def test_shifts_of_nobody_in_particular_are_not_told_to_rest():
    sheet = simple_sheet(shifts=(Shift(14 * 60, 10 * 60, ""),))
    assert "relief_rest" not in keys(sheet.baler.relief)


def test_hay_of_unknown_amount_is_worked_to_the_end_of_the_window():
    sheet = simple_sheet(14.0, field=replace(FIELD, area_m2=None))
    assert sheet.field.done_at is None
    assert sheet.totals.mass_kg == pytest.approx(6 * 16_000)


def test_heat_by_rate_of_the_burners_while_water_flows():
    """10 L/h for six hours at 80 % of the time: 48 L."""
    heated = replace(STEP_2, heated=True, fuel_rate_l_h=10.0, tank_l=9000.0)
    sheet = simple_sheet(rig=heated)
    assert sheet.totals.burner_fuel_l == pytest.approx(10 * 6 * 0.8)
    assert "sheet_warm" in keys(sheet.notes)
    assert sheet.rig.pieces[0].dials[0].heat.full_c < 121
    unknown = simple_sheet(rig=replace(heated, fuel_rate_l_h=None))
    assert unknown.totals.burner_fuel_l is None
    assert "sheet_no_fuel" in keys(unknown.notes)
    cool = simple_sheet(rig=replace(heated, fuel_rate_l_h=1.0, water_out_c=90.0))
    assert "sheet_cool" in keys(cool.notes)


def test_without_a_rig_there_is_only_what_is_ready_as_it_lies():
    sheet = simple_sheet(np.append(np.repeat([10.0, 14.0], 12), 14.0), rig=None)
    assert {piece.call for piece in sheet.pieces} == {Call.READY}
    assert (sheet.fills, sheet.totals.water_l, sheet.totals.burner_fuel_l) == ((), 0.0, 0.0)
    assert "sheet_no_rig" in keys(sheet.notes)


def test_what_is_not_known_stays_unknown_and_is_said():
    sheet = simple_sheet(
        field=replace(FIELD, yield_kg_m2=None, area_m2=None),
        baler=replace(BALER, capacity_kg_h=None, bale_mass_kg=None),
    )
    piece = sheet.pieces[0]
    assert piece.water_l_t > 0
    unknown = (piece.mass_kg, piece.bales, piece.area_m2, piece.water_l, piece.flow_l_min)
    assert unknown == (None,) * 5
    assert piece.speed_m_s is None
    assert (sheet.totals.mass_kg, sheet.totals.water_l, sheet.totals.bales) == (None,) * 3
    assert keys(sheet.field.notes) == [
        "sheet_no_capacity", "sheet_no_windrow", "sheet_no_area", "sheet_no_bale",
    ]  # fmt: skip


def test_a_windrow_by_its_mass_gives_speed_and_area():
    """1.76 kg/m2 dry at 12 % on 1.5 m: 3 kg/m; ten meters of field for one of windrow."""
    field = replace(FIELD, yield_kg_m2=None, windrow_mass_kg_m2=1.76, windrow_width_m=1.5)
    sheet = simple_sheet(14.0, field=field)
    assert sheet.pieces[0].speed_m_s == pytest.approx(20_000 / 3.0 / 3600)
    assert sheet.pieces[0].area_m2 == pytest.approx(16_000 / 3.0 * 10)
    assert "sheet_windrow_mass" in keys(sheet.notes)


def test_machines_that_cannot_take_the_windrow_are_refused_in_one_line():
    heavy = replace(FIELD, yield_kg_m2=2.0)
    for baler, field, key in (
        (replace(BALER, speed_min_m_s=1.5), heavy, "runsheet_windrow_heavy"),
        (replace(BALER, windrow_limit_kg_m2=1.0), FIELD, "runsheet_windrow_limit"),
        (replace(BALER, capacity_kg_h=0.0), FIELD, "runsheet_no_throughput"),
    ):
        with pytest.raises(FarmFileError) as refused:
            simple_sheet(field=field, baler=baler)
        assert refused.value.key == key
        assert "\n" not in refused.value.line("en") + refused.value.line("es")
    assert simple_sheet(14.0, field=replace(FIELD, yield_kg_m2=1.0)).pieces  # slow, but it goes


def test_nothing_to_do_is_a_sheet_too():
    sheet = simple_sheet(30.0)
    assert sheet.made.machines == ()
    assert sheet.totals.mass_kg == sheet.totals.water_l == 0.0


def test_stopped_hours_are_left_out():
    thunder = np.where(np.arange(6) == 2, 95.0, 0.0)
    sheet = simple_sheet(14.0, weather_code=thunder)
    assert all(not (120 <= minutes_after(piece.start) < 180) for piece in sheet.pieces)
    assert sheet.totals.hours == pytest.approx(5.0)


def test_signs_speak_of_the_rig_only_where_it_works():
    assert "sign_start_rig" in keys(simple_sheet().baler.signs.start)
    assert "sign_start_rig" not in keys(simple_sheet(14.0).baler.signs.start)
    ceiling = simple_sheet(14.0).baler.signs.stop[0].values["ceiling"][0]
    assert ceiling == setting_of().band.ceiling_wb


def test_the_first_baler_and_rig_of_the_farm_work():
    farm = farm_of()
    assert next(iter(farm.balers.values())) is BALER
    assert simple_sheet().setting.baler == BALER


def test_a_full_hour_of_a_heated_rig_lies_in_the_bands_of_the_trade():
    """Hearsay, wide: 10-18 gal/ton, 7-9 gal of diesel an hour while water flows, 2-14 mph.

    Common practice, no source. Hay of 9 % in 40 ton/h moving, water 60 to 250 F.
    """
    moving_kg_h = 40 * SHORT_TON_KG
    baler = replace(BALER, capacity_kg_h=moving_kg_h * 0.8)
    hot = {"heated": True, "water_in_c": 15.6, "water_out_c": 121.1, "tank_l": 9000.0}
    piece = simple_sheet(9.0, baler=baler, rig=replace(RIG, **hot)).pieces[0]
    gallons_ton = piece.water_l_t / GALLON_L * SHORT_TON_KG / 1000
    assert 10 <= gallons_ton <= 18
    assert 7 <= piece.burner_fuel_l / GALLON_L / 0.8 <= 9
    assert 2 <= piece.speed_m_s / MPH_M_S <= 14


def test_a_tank_of_a_thousand_gallons():
    """At 14 gal/ton it serves 71.4 tons, 4.46 h at 16 ton/h (calculated); whole minutes here."""
    rate = 14 * GALLON_L / SHORT_TON_KG * 1000
    fixed = {"rate_min_l_t": rate, "rate_max_l_t": rate, "rate_step_l_t": rate}
    rig = replace(RIG, tank_l=1000 * GALLON_L, flow_max_l_min=60.0, **fixed)
    baler = replace(BALER, capacity_kg_h=16 * SHORT_TON_KG)
    sheet = simple_sheet(9.5, hours=8, baler=baler, rig=rig)
    hours = minutes_after(sheet.fills[0].start) / 60
    assert 4.46 - 1 / 60 <= hours <= 4.47
    before = sum(p.mass_kg for p in sheet.rig.pieces if p.end <= sheet.fills[0].start)
    assert before / SHORT_TON_KG == pytest.approx(71.4, abs=16 / 60)


@pytest.mark.parametrize("name", EACH_SAMPLE)
def test_how_sure_a_piece_is_speaks_of_its_own_call(name):
    """The number of an hour that is called otherwise says nothing of this piece."""
    sheet = sheet_of(name)
    for machine in sheet.machines:
        for piece in machine.pieces:
            chances = {hour.start: hour.chance for hour in sheet.night[piece.field].hours}
            chance = chances[piece.start.astype("datetime64[h]").astype("datetime64[s]")]
            said = [r.values["chance"] for r in piece.cautions if "confidence" in r.key]
            share = chance[piece.call]
            assert said == ([f"{100 * share:.0f}"] if share < 0.5 else [])


def minute(time):
    return round(minutes_after(time))


def test_a_tank_nearly_empty_makes_a_fill_first():
    """100 L at 11.3 L a minute last 8.8 minutes; asked at 20:00 the rig goes for water at once."""
    low = replace(STEP_2, in_tank_l=100.0)
    sheet = simple_sheet(rig=low)
    assert minute(sheet.fills[0].start) == 0
    assert minute(sheet.pieces[0].start) == 20
    assert "sheet_tank" in keys(sheet.rig.notes)
    full = simple_sheet(rig=STEP_2)
    assert full.fills == ()
    assert "sheet_tank_full" in keys(full.rig.notes)


def test_a_tank_half_full_is_filled_in_the_time_before_work():
    """Dry hay from 21:00 on only: the rig has the hour before to fill and to set up."""
    shifts = (Shift(21 * 60, 5 * 60, "night"),)
    sheet = simple_sheet(rig=replace(STEP_2, in_tank_l=1000.0), shifts=shifts)
    (fill, *_) = sheet.fills
    assert not fill.baler_waits
    assert (minute(fill.start), minute(fill.end)) == (25, 45)
    kinds = [step.kind for step in sheet.rig.steps][:3]
    assert kinds == ["fill", "set_up", "work"]
    assert minute(sheet.pieces[0].start) == 60


def test_water_too_hot_by_calculation_is_refused():
    """30 L/h into 14.2 L/min at 80 %: above 121 C, so no such setting with full burners."""
    hot = replace(STEP_2, heated=True, fuel_rate_l_h=30.0)
    sheet = simple_sheet(rig=hot)
    dial = sheet.rig.pieces[0].dials[0]
    assert dial.heat.refused
    assert dial.heat.assumed
    assert dial.heat.limit_c * 1.8 + 32 == pytest.approx(250)
    assert "sheet_too_hot_assumed" in keys(sheet.rig.notes)
    assert sheet.totals.burner_fuel_l < 30 * 6 * 0.8
    own = simple_sheet(rig=replace(hot, water_out_c=90.0))
    assert own.rig.pieces[0].dials[0].heat.limit_c == 90.0
    assert "sheet_too_hot" in keys(own.rig.notes)


def test_there_is_no_heat_with_no_flow():
    moisture = np.append(np.repeat([10.0, 14.0], 12), 14.0)
    sheet = simple_sheet(
        moisture, rig=replace(STEP_2, heated=True, fuel_rate_l_h=8.0, tank_l=600.0)
    )
    fills = [step for step in sheet.rig.steps if step.kind == "fill"]
    assert fills
    assert {step.remark.key for step in fills} == {"step_no_heat"}
    assert all(piece.rig is None for piece in sheet.pieces if piece.call == Call.READY)


def test_frost_after_the_rig_drains_and_no_hour_is_told_both():
    sheet = simple_sheet(
        np.append(np.repeat([10.0, 30.0], 12), 30.0),
        air_temperature_c=np.linspace(4.0, -6.0, 6), dew_point_c=-8.0,
    )  # fmt: skip
    drains = [step for step in sheet.rig.steps if step.kind == "drain"]
    assert [drain.start for drain in drains] == [sheet.rig.pieces[-1].end]
    for piece in sheet.rig.pieces:
        assert all(step.end <= piece.start or step.start >= piece.end for step in drains)
        assert not any("drain" in say(r.key, "en") for r in piece.cautions)


def test_a_shift_gap_is_a_row_and_crews_hand_over():
    shifts = (Shift(20 * 60, 21 * 60, "a"), Shift(21 * 60, 22 * 60, "b"), Shift(23 * 60, 0, "c"))
    sheet = simple_sheet(shifts=shifts, hours=4)
    rows = [(s.kind, minute(s.start), minute(s.end)) for s in sheet.baler.steps]
    assert ("hand_over", 60, 60) in rows
    assert ("off", 120, 180) in rows
    off = next(note for note in sheet.field.notes if note.key == "sheet_off_duty")
    assert off.values["hours"][0] == pytest.approx(1.0)


def test_a_window_of_a_quarter_hour_is_not_worth_the_drive():
    moisture = np.append(np.repeat([30.0, 14.0, 30.0], [8, 2, 14]), 30.0)
    sheet = simple_sheet(moisture, rig=None)
    assert sheet.pieces == ()
    assert "sheet_short_visit" in keys(sheet.field.notes)
    little = replace(FIELD, area_m2=12_000.0)  # 3.6 t: 13.5 minutes finish it
    done = simple_sheet(moisture, rig=None, field=little)
    assert done.field.done_at == done.pieces[-1].end
    assert sum(piece.hours for piece in done.pieces) == pytest.approx(13.5 / 60)


def test_a_field_in_which_the_machines_may_stand_already_is_gone_on_with():
    moisture = np.append(np.repeat([14.0, 30.0], [2, 22]), 30.0)
    sheet = simple_sheet(moisture, rig=None)
    assert 0 < sum(piece.hours for piece in sheet.pieces) < 20 / 60
    assert minute(sheet.pieces[0].start) == 0


def two_fields(blocks, **machines):
    """Dry hay on two fields of one site for six hours, worked in these blocks."""
    alone = simple_sheet(rig=STEP_2, field=replace(FIELD, area_m2=100_000.0))
    night = alone.made.night
    field = night.fields[0]
    south = replace(field.setting.field, name="south", area_m2=None)
    other = replace(field, setting=replace(field.setting, field=south))
    fields = {"north": field.setting.field, "south": south}
    balers = {"baler": BALER, "second": replace(BALER, name="second")}
    farm = replace(night.farm, fields=fields, **{"balers": balers, **machines})
    return make_runsheet(replace(night, farm=farm, fields=(field, other)), blocks)


def block(baler, field, start, end, rig="rig", way="rig"):
    hours = [EVENING + np.timedelta64(60 * minutes, "s") for minutes in (start, end)]
    return Span(baler, field, rig, way, *hours)


def test_one_machine_drives_from_field_to_field_with_the_water_it_has():
    """1,020 L in the first hour and a half; half an hour's way; the tank goes on from there."""
    made = two_fields([block("baler", "north", 0, 90), block("baler", "south", 90, 360)])
    baler, rig = made.machines
    for sheet in (baler, rig):
        assert [piece.field for piece in sheet.pieces][:3] == ["north", "north", "south"]
        drive = next(step for step in sheet.steps if step.kind == "drive")
        set_up = next(
            step for step in sheet.steps if step.kind == "set_up" and step.start > EVENING
        )
        assert (minute(drive.start), minute(drive.end)) == (90, 105)
        assert (minute(set_up.start), minute(set_up.end)) == (105, 120)
        south = [piece for piece in sheet.pieces if piece.field == "south"]
        assert minute(south[0].start) == 120
    used = sum(piece.water_l for piece in rig.pieces)
    assert used == pytest.approx(680 * sum(piece.hours for piece in rig.pieces))
    assert rig.fills == ()  # 1,020 + 2,720 of 4,000 L


def test_each_baler_has_its_own_bales_and_limits():
    """16 t/h: 32 bales of 500 kg, 40 of 400; the rig serves both, their limits alike."""
    night_balers = {"second": replace(BALER, name="second", bale_mass_kg=400.0)}
    made = two_fields(
        [block("baler", "south", 0, 60), block("second", "south", 0, 60)],
        balers={"baler": BALER, **night_balers},
    )
    square, rolls, rig = made.machines
    assert square.pieces[0].bales == pytest.approx(32)
    assert rolls.pieces[0].bales == pytest.approx(40)
    assert rig.pieces[0].bales == pytest.approx(72)
    limits = [[n for n in sheet.notes if n.key == "limits"] for sheet in made.machines]
    assert limits[0] == limits[1] == limits[2]
    unlike = {"second": replace(BALER, name="second", kind="round")}
    made = two_fields(
        [block("baler", "south", 0, 60), block("second", "south", 0, 60)],
        balers={"baler": BALER, **unlike},
    )
    assert [sheet.name for sheet in made.machines] == ["baler", "rig"]  # one rate for one limit


def test_two_balers_behind_one_rig_share_its_tank_and_flow():
    """Both take 16 t/h: 1,360 L an hour, dry after 176 minutes; 14.2 L/min each."""
    made = two_fields([block("baler", "south", 0, 360), block("second", "south", 0, 360)])
    one, two, rig = made.machines
    assert (one.name, two.name, rig.name) == ("baler", "second", "rig")
    assert rig.pieces[0].flow_l_min == pytest.approx(2 * 20 * 42.5 / 60)
    assert rig.pieces[0].mass_kg == pytest.approx(32_000)
    assert one.pieces[0].mass_kg == two.pieces[0].mass_kg == pytest.approx(16_000)
    assert minute(rig.fills[0].start) == 176
    for baler in (one, two):
        assert [step.start for step in baler.steps if step.kind == "wait"] == [
            fill.start for fill in rig.fills if fill.baler_waits
        ]
    slow = replace(STEP_2, flow_max_l_min=20.0)
    made = two_fields(
        [block("baler", "south", 0, 60), block("second", "south", 0, 60)], rigs={"rig": slow}
    )
    assert made.machines[2].pieces[0].flow_l_min == pytest.approx(20.0)
    crawls = replace(STEP_2, speed_max_m_s=0.75)  # ahead of both, not of each
    made = two_fields(
        [block("baler", "south", 0, 60), block("second", "south", 0, 60)], rigs={"rig": crawls}
    )
    assert made.machines[2].pieces[0].speed_m_s == pytest.approx(0.75)


def test_a_missed_date_is_kept():
    missed = (Remark("caution_frost"),)
    made = make_runsheet(simple_sheet().made.night, [], missed)
    assert made.missed == missed
    assert made.machines == ()
