"""Schedules added up by hand: hay, drives, crews that come out, what is not worth its drive.

Eight tonnes a field, a tonne a quarter; two quarters and $30 between two fields.
"""

from dataclasses import replace

import numpy as np
import pytest

from hayweather.plan.task import (
    IDLE,
    PAUSE,
    Schedule,
    Task,
    nothing,
    route,
    sessions,
    tidied,
    too_short,
    with_amounts,
)

QUARTERS = 24
A, B, _ = 0, 1, IDLE


def task_of(balers=1, fields=2, rigs=0, **changed) -> Task:
    """Every quarter is fit in every way, and brings ten cents a kilogram."""
    shape = (balers, fields, QUARTERS, 1 + rigs)
    apart = 1 - np.eye(fields)
    given = {
        "rate_kg": np.full(shape, 1000.0),
        "gain": np.full(shape, 0.1),
        "mass_kg": np.full(fields, 8000.0),
        "moves": np.repeat(2 * apart[None].astype(int), balers, axis=0),
        "move_cost": np.repeat(30 * apart[None], balers, axis=0),
        "first_cost": np.full(balers, 20.0),
        "rig_moves": np.repeat(3 * apart[None].astype(int), rigs, axis=0),
        "rig_move_cost": np.repeat(7 * apart[None], rigs, axis=0),
        "rig_first_cost": np.full(rigs, 5.0),
        "rig_kg": np.full((rigs, fields, QUARTERS), 1500.0),
        "least": np.full(balers, 2),
        "most_stays": 4,
        **changed,
    }
    return Task(**given)


def places(*rows) -> np.ndarray:
    """Where balers are, quarter by quarter, idle to the end."""
    found = np.full((len(rows), QUARTERS), IDLE)
    for row, each in enumerate(rows):
        found[row, : len(each)] = each
    return found


def schedule_of(field: np.ndarray, mode: np.ndarray | None = None, kg: float = 1000.0) -> Schedule:
    """So many kilograms in every quarter of work, as the hay lies where no mode is given."""
    how = np.where(field == IDLE, IDLE, 0) if mode is None else mode
    return Schedule(field, how, np.where(field == IDLE, 0.0, kg))


def behind(field: np.ndarray, rig: int = 1) -> np.ndarray:
    """All of it behind a rig."""
    return np.where(field == IDLE, IDLE, rig)


# What a schedule comes to


def test_hay_less_drives_is_what_a_schedule_brings():
    """Six tonnes at ten cents; out, over and back: 20 + 30 + 30."""
    task, made = task_of(), schedule_of(places([A, A, _, _, B, B, _, _, A, A]))
    assert made.hay_value(task) == pytest.approx(600)
    assert made.charges(task) == pytest.approx(80)
    assert made.value(task) == pytest.approx(520)
    assert made.baled_kg(3).tolist() == [4000, 2000, 0]
    assert nothing(task).value(task) == 0.0


def test_each_quarter_and_way_has_its_own_gain():
    task = task_of(rigs=1)
    task.gain[0, A, 1, 1] = 0.5
    field, mode = places([A, A, A]), places([0, 1, 0])
    assert schedule_of(field, mode).hay_value(task) == pytest.approx(100 + 500 + 100)


def test_a_rig_pays_its_own_drives():
    """Two balers behind it in one field: one drive of the rig, one of each baler."""
    task = task_of(balers=2, rigs=1)
    field = places([A, A, _, _, _, B, B], [A, A])
    made = schedule_of(field, behind(field))
    assert made.charges(task) == pytest.approx((20 + 30) + 20 + (5 + 7))
    assert made.rig_field(0)[:8].tolist() == [A, A, _, _, _, B, B, _]
    mixed = schedule_of(field, np.where(field == IDLE, IDLE, np.arange(QUARTERS) >= 5))
    assert mixed.charges(task) == pytest.approx((20 + 30) + 20 + 5)


@pytest.mark.parametrize(("pause", "outings"), [(PAUSE, 0), (PAUSE + 1, 1)])
def test_a_crew_that_has_gone_home_comes_out_at_its_price(pause, outings):
    work = [A, A, *[_] * (pause - 1), A, A]
    task, made = task_of(out_cost=15.0), schedule_of(places(work))
    assert made.charges(task) == pytest.approx(20 + 15 * outings)
    assert len(sessions(np.flatnonzero(made.field[0] == A))) == 1 + outings


def test_stays_go_on_over_a_pause_and_end_with_another_field():
    made = schedule_of(places([_, A, A, _, A, _, _, B], [B, B]))
    found = [(stay.baler, stay.field, stay.first, stay.past, stay.work.tolist())
             for stay in made.stays()]  # fmt: skip
    assert found == [(0, A, 1, 5, [1, 2, 4]), (0, B, 7, 8, [7]), (1, B, 0, 2, [0, 1])]


def test_a_route_names_a_field_once_for_each_time_it_is_come_to():
    assert route(places([A, A, _, A, B, B, A])[0]).tolist() == [A, B, A]
    assert route(places([])[0]).size == 0


# What is not worth its drive


def short(task, field):
    made = schedule_of(field)
    return [(baler, work.tolist()) for baler, work in too_short(task, made, made.stays())]


def test_a_stay_below_the_least_is_too_short():
    task = task_of(least=np.array([3]))
    assert short(task, places([A, A, A, _, _, B, B])) == [(0, [5, 6])]
    assert short(task, places([A, A, A, _, _, B, _, B, B])) == []


def test_a_short_stay_that_finishes_its_field_is_not():
    """Field B holds two tonnes: the last work there may be short, an earlier not."""
    task = task_of(mass_kg=np.array([8000.0, 2000.0]), least=np.array([3]))
    assert short(task, places([A, A, A, _, _, B, B])) == []
    task = replace(task, mass_kg=np.array([8000.0, 4000.0]))
    assert short(task, places([B, B, _, _, A, A, A, _, _, B, B])) == [(0, [0, 1])]


def test_a_quarter_for_which_a_crew_comes_out_alone_is_too_short():
    away = [_] * PAUSE
    task = task_of()
    assert short(task, places([A, A, A, *away, A])) == [(0, [3 + PAUSE])]
    assert short(task, places([A, *away, A, A, A])) == [(0, [0])]
    assert short(task, places([A, A, *away, A, A])) == []
    assert short(task, places([A, A, *away[1:], A])) == []  # it waited in the field
    done = replace(task, mass_kg=np.array([4000.0, 8000.0]))
    assert short(done, places([A, A, A, *away, A])) == []
    assert short(done, places([A, *away, A, A, A])) == [(0, [0])]


# Amounts


def test_the_quarters_that_bring_most_fill_a_field_first():
    """2.5 tonnes of hay: all of the two best, half of the third; a loss is left."""
    task = task_of(mass_kg=np.array([2500.0, 8000.0]))
    task.gain[0, A, :5, 0] = [0.1, 0.4, 0.2, 0.3, -0.1]
    made = with_amounts(task, places([A] * 5), places([0] * 5))
    assert made.kg[0, :5].tolist() == [0, 1000, 500, 1000, 0]
    assert made.field[0, :5].tolist() == [_, A, A, A, _]
    assert made.mode[0, :5].tolist() == [_, 0, 0, 0, _]


def test_hay_of_no_gain_is_left():
    task = task_of()
    task.gain[0, A, 1, 0] = 0.0
    assert with_amounts(task, places([A, A]), places([0, 0])).kg[0, :2].tolist() == [1000, 0]


def test_a_rig_serves_its_balers_together_in_each_quarter():
    """1.5 tonnes a quarter for two balers: the one with the greater gain has all it takes."""
    task = task_of(balers=2, rigs=1)
    task.gain[1] = 0.2
    field = places([A, A], [A, A])
    made = with_amounts(task, field, behind(field))
    assert made.kg[:, :2].tolist() == [[500, 500], [1000, 1000]]
    dry = with_amounts(task, field, np.where(field == IDLE, IDLE, 0))
    assert dry.kg[:, :2].tolist() == [[1000, 1000], [1000, 1000]]


# Tidied


def test_a_visit_that_does_not_pay_its_drive_is_left_out():
    """Two tonnes at two cents are $40: more than the way of $30, less than there and back."""
    task = task_of()
    task.gain[0, B] = 0.02
    last = places([A, A, _, _, B, B])
    assert tidied(task, last, behind(last, 0)).field.tolist() == last.tolist()
    between = places([A, A, _, _, B, B, _, _, A, A])
    kept = tidied(task, between, behind(between, 0)).field[0]
    assert np.flatnonzero(kept == A).tolist() == [0, 1, 8, 9]
    assert not (kept == B).any()
    rule = tidied(task, between, behind(between, 0), paying=False).field
    assert rule.tolist() == between.tolist()


def test_a_first_visit_is_saved_its_own_drive_alone():
    """Out 20, over 30: without the first visit the second is the first."""
    task = task_of()
    task.gain[0, A] = 0.02
    both = places([A, A, _, _, B, B])
    assert tidied(task, both, behind(both, 0)).stays()[0].field == A  # 40 against 20 + 30 - 20
    task.gain[0, A] = 0.014
    assert [stay.field for stay in tidied(task, both, behind(both, 0)).stays()] == [B]


def test_no_more_visits_than_asked_for():
    """Of three at most two: by worth the least, by a rule the last."""
    task = task_of(most_stays=2, fields=3)
    task.gain[0, A], task.gain[0, B] = 0.05, 0.2
    all_three = places([A, A, _, _, B, B, _, _, 2, 2])
    assert [s.field for s in tidied(task, all_three, behind(all_three, 0)).stays()] == [B, 2]
    rule = tidied(task, all_three, behind(all_three, 0), paying=False)
    assert [s.field for s in rule.stays()] == [A, B]


def test_a_crew_that_does_not_pay_its_coming_out_stays_home():
    """The second outing brings $200 and costs $150; at $250 it is given up."""
    work = places([A, A, A, *[_] * PAUSE, A, A])
    for cost, last in ((150.0, 5), (250.0, 3)):
        made = tidied(task_of(out_cost=cost), work, behind(work, 0))
        assert (made.field[0] == A).sum() == last


def test_a_rig_that_does_not_pay_its_drive_is_left_and_the_hay_with_it():
    """Two tonnes behind it bring $200, less than its $300."""
    field, mode = places([A, A, A, A]), places([0, 0, 1, 1])
    cheap, dear = (task_of(rigs=1, rig_first_cost=np.array([cost])) for cost in (100.0, 300.0))
    assert tidied(cheap, field, mode).mode[0, :4].tolist() == [0, 0, 1, 1]
    assert tidied(dear, field, mode).mode[0, :4].tolist() == [0, 0, _, _]


@pytest.mark.parametrize(("between", "in_time"), [(2, False), (3, True)])
def test_a_rig_that_cannot_be_there_yet_is_given_up_where_it_comes_later(between, in_time):
    """Three quarters on its way: the first baler keeps it, the second waits for its time."""
    task = task_of(balers=2, rigs=1)
    field = places([A, A], [*[_] * (2 + between), B, B])
    made = tidied(task, field, behind(field))
    assert made.rig_field(0)[:2].tolist() == [A, A]
    kept = np.flatnonzero(made.field[1] == B).tolist()
    assert kept == ([2 + between, 3 + between] if in_time else [])


def test_one_rig_is_not_in_two_fields_at_once():
    task = task_of(balers=2, rigs=1)
    field = places([A, A], [B, B])
    made = tidied(task, field, behind(field))
    assert made.field[:, :2].tolist() == [[A, A], [_, _]]
