"""Laws of the run sheet that hold for any machines, windrow, shifts and night."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.made_sheets import BALER, FIELD, RIG, Alone, sample_sheet
from support.outlooks import SAMPLES

from hayweather.baling.calls import Call
from hayweather.baling.machines import covered_width_m, field_efficiency, speed_limits
from hayweather.catalog import BALERS
from hayweather.catalog.rigs import HOTTEST_C
from hayweather.errors import FarmFileError
from hayweather.farm.records import Shift
from hayweather.weather.record import HOUR
from hayweather.windrow.trajectory import QUARTER

EXAMPLES = settings(max_examples=25, deadline=None, derandomize=True)
SUMMED = ("mass_kg", "bales", "area_m2", "loads", "water_l", "burner_fuel_l")
KINDS = tuple(BALERS)
CLOSE = 1e-6


@st.composite
def rigs(draw):
    least = draw(st.floats(2.0, 40.0))
    return replace(
        RIG,
        tank_l=draw(st.floats(100.0, 8000.0)),
        rate_min_l_t=least,
        rate_max_l_t=least + draw(st.floats(0.0, 120.0)),
        flow_max_l_min=draw(st.floats(2.0, 80.0)),
        fill_minutes=draw(st.floats(1.0, 90.0)),
        heated=draw(st.booleans()),
        fuel_rate_l_h=draw(st.none() | st.floats(1.0, 60.0)),
        water_out_c=draw(st.none() | st.floats(20.0, 150.0)),
        efficiency=draw(st.floats(0.4, 1.0)),
        rate_step_l_t=draw(st.floats(0.2, 30.0)),
        lag_minutes=draw(st.floats(0.0, 30.0)),
        spray_wind_limit_m_s=draw(st.none() | st.floats(1.0, 8.0)),
        speed_max_m_s=draw(st.none() | st.floats(1.0, 6.0)),
    )


@st.composite
def sheets(draw):
    """A run sheet of some night with some machines; None where the windrow is too heavy."""
    kind = draw(st.sampled_from(KINDS))
    capacity = draw(st.floats(3_000.0, 40_000.0))
    baler = replace(BALER, kind=kind, capacity_kg_h=capacity, field_efficiency=None)
    field = replace(
        FIELD,
        area_m2=draw(st.floats(5_000.0, 1_500_000.0)),
        yield_kg_m2=draw(st.floats(0.05, 0.6)),
    )
    starts = draw(st.lists(st.integers(0, 5), min_size=0, max_size=3, unique=True))
    shifts = tuple(Shift(240 * at, 240 * at + 180, f"crew {at}") for at in starts)
    rig = draw(st.none() | rigs())
    name = draw(st.sampled_from(SAMPLES))
    try:
        return sample_sheet(name, field, baler, rig, shifts, draw(st.integers(0, 20_000)))
    except FarmFileError as refused:
        if refused.key != "runsheet_windrow_heavy":
            raise
        return None


def quarter_rows(sheet: Alone, start, end):
    """Rows of the quarters that a time touches."""
    first = sheet.field.night.shown.weather.start[0]
    return range(int((start - first) // QUARTER), int(-((first - end) // QUARTER)))


@pytest.mark.slow
@EXAMPLES
@given(sheets())
def test_totals_are_the_sums_of_the_parts(sheet):
    if sheet is None:
        return
    for name in SUMMED:
        parts = [getattr(piece, name) for piece in sheet.pieces]
        total = getattr(sheet.totals, name)
        if None in parts:
            assert total is None
        else:
            assert abs(total - sum(parts)) <= CLOSE * max(1.0, abs(total))
    hours = sum(piece.hours for piece in sheet.pieces)
    assert abs(sheet.totals.hours - hours) < CLOSE
    assert abs(sheet.totals.dew_hours + sheet.totals.rig_hours - hours) < CLOSE
    assert sheet.totals.fills == len(sheet.fills)
    assert abs(sheet.totals.fill_minutes - sum(fill.minutes for fill in sheet.fills)) < CLOSE


@pytest.mark.slow
@EXAMPLES
@given(sheets())
def test_pieces_lie_in_windows_without_stops_and_follow_one_another(sheet):
    if sheet is None:
        return
    quarters, stopped = sheet.field.night.shown.quarters, sheet.field.night.shown.stopped
    before = None
    for piece in sheet.pieces:
        assert piece.start < piece.end <= piece.start + HOUR
        assert before is None or before <= piece.start
        before = piece.end
        rows = list(quarter_rows(sheet, piece.start, piece.end))
        assert not stopped[rows, 0].any()
        assert (quarters.call[rows, 0] == piece.call).all()
        assert piece.reasons
    for fill in sheet.fills:
        crossing = [p for p in sheet.pieces if p.start < fill.end and fill.start < p.end]
        assert all(piece.call == Call.NATURAL_DEW for piece in crossing)


@pytest.mark.slow
@EXAMPLES
@given(sheets())
def test_water_never_passes_tank_and_fills(sheet):
    """Walked in order of time: what is aboard is never below zero."""
    if sheet is None or sheet.setting.rig is None:
        return
    tank = sheet.setting.rig.tank_l
    aboard = tank
    fills = list(sheet.fills)
    for piece in sheet.pieces:
        while fills and fills[0].end <= piece.start:
            aboard, fills = tank, fills[1:]
        aboard -= piece.water_l
        assert aboard >= -CLOSE
    assert sheet.totals.water_l <= tank * (1 + sheet.totals.fills) + CLOSE


@pytest.mark.slow
@EXAMPLES
@given(sheets())
def test_machines_keep_their_limits(sheet):
    if sheet is None:
        return
    setting = sheet.setting
    rig, baler, band = setting.rig, setting.baler, setting.band
    moving = baler.capacity_kg_h / field_efficiency(baler)
    along = setting.field.yield_kg_m2 * covered_width_m(setting.field)
    for piece in sheet.pieces:
        limits = speed_limits(baler, rig if piece.call == Call.ADD_MOISTURE else None)
        room = 1 + CLOSE
        assert limits.slowest_m_s / room <= piece.speed_m_s <= limits.fastest_m_s * room
        assert piece.speed_m_s * along * 3600 <= moving * room
        assert piece.mass_kg <= baler.capacity_kg_h * piece.hours * room + 1
        if piece.call == Call.NATURAL_DEW:
            continue
        assert rig.rate_min_l_t / room <= piece.water_l_t <= rig.rate_max_l_t * room
        assert piece.flow_l_min <= rig.flow_max_l_min * room
        assert band.low_wb - CLOSE <= piece.after_wb <= band.high_wb + CLOSE
        assert piece.dials[0].start == piece.start
        assert piece.dials[-1].end == piece.end
        for dial in piece.dials:
            assert dial.flow_l_min <= rig.flow_max_l_min * room
            assert limits.slowest_m_s / room <= dial.speed_m_s <= limits.fastest_m_s * room
            for answer in dial.answers:
                if answer.water_l_t is not None:
                    assert answer.kind in ("rate", "slower")
                    assert rig.rate_min_l_t / room <= answer.water_l_t <= rig.rate_max_l_t * room
                    assert answer.flow_l_min <= rig.flow_max_l_min * room
                    assert limits.slowest_m_s / room <= answer.speed_m_s
            if rig.heated and dial.heat.full_c is not None:
                hottest = HOTTEST_C if rig.water_out_c is None else rig.water_out_c
                assert dial.heat.refused == (dial.heat.full_c > hottest + 0.05)
        if rig.heated and rig.fuel_rate_l_h is not None:
            assert piece.burner_fuel_l <= rig.fuel_rate_l_h * piece.hours * room


@pytest.mark.slow
@EXAMPLES
@given(sheets())
def test_every_machine_does_one_thing_at_a_time_in_order(sheet):
    if sheet is None:
        return
    for machine in sheet.made.machines:
        starts = [step.start for step in machine.steps]
        assert starts == sorted(starts)
        busy = [s for s in machine.steps if s.kind in ("work", "fill", "wait", "drive", "set_up")]
        for before, after in pairwise(busy):
            assert before.end <= after.start
        assert sheet.made.night.now <= busy[0].start


@pytest.mark.slow
@EXAMPLES
@given(sheets())
def test_the_field_bounds_the_work(sheet):
    if sheet is None:
        return
    area = sheet.setting.field.area_m2
    assert sheet.totals.area_m2 <= area * (1 + CLOSE)
    done = abs(sheet.totals.area_m2 - area) <= CLOSE * area
    assert done == (sheet.field.done_at is not None)
    if done:
        assert sheet.pieces[-1].end == sheet.field.done_at
    if sheet.pieces:
        assert sheet.pieces[-1].end <= sheet.field.night.span.last
        assert sheet.pieces[0].start >= sheet.field.night.span.first


@pytest.mark.slow
@EXAMPLES
@given(sheets())
def test_area_is_distance_times_width(sheet):
    """Speed, time, field efficiency and width against the area, to a second of time."""
    if sheet is None:
        return
    setting = sheet.setting
    stays = field_efficiency(setting.baler)
    width = covered_width_m(setting.field)
    for piece in sheet.pieces:
        by_speed = piece.speed_m_s * 3600 * piece.hours * stays * width
        a_second = piece.speed_m_s * width
        assert abs(by_speed - piece.area_m2) <= 2 * a_second + CLOSE * by_speed


@pytest.mark.slow
def test_the_examples_reach_what_they_should():
    """Fills, dew beside rig, a field done: all occur in the plain machines' nights."""
    small = replace(RIG, tank_l=1000.0)
    found = [sample_sheet(name, FIELD, BALER, small, (), 0) for name in SAMPLES]
    assert any(sheet.fills for sheet in found)
    assert any(sheet.totals.dew_hours and sheet.totals.rig_hours for sheet in found)
    little = replace(FIELD, area_m2=50_000.0)
    assert sample_sheet("sagebeck", little, BALER, small, (), 0).field.done_at is not None
    assert np.isfinite(found[0].totals.water_l)
