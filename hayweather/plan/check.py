"""An inspector of finished schedules: shares nothing with what makes them.

It reads the farm's records, the clock, and blocks of work as people would
read them (field, baler, start, end, way, hay), and names every hard limit that
is broken: hay, machines, visits and roads, shifts and rest. Calls, stops and doses
come from the outlook's own courses. What is late is no fault; it is told by `late_kg`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np

from hayweather.baling.calls import Call
from hayweather.baling.clock import to_local
from hayweather.baling.course import Course
from hayweather.baling.machines import field_efficiency
from hayweather.farm.records import Baler, Farm, Rig, Shift, Site

QUARTER = np.timedelta64(900, "s")
MINUTE = np.timedelta64(60, "s")
HAUL_MINUTES = 240.0
PAUSE_MINUTES = 120.0
WORTH_MINUTES = 20.0
SLACK = 1e-6


@dataclass(frozen=True)
class Job:
    """One baler in one field from start to end (UTC); `rig` it follows, or None; hay in kg.

    Balers behind one rig at once have jobs of the same start and end.
    """

    baler: str
    field: str
    rig: str | None
    start: np.datetime64
    end: np.datetime64
    kg: float


CourseOf = Callable[[str, str, str | None], Course]
"""Gives the course of a field for a baler and a rig or none, by their names."""


def broken(
    jobs: Sequence[Job], farm: Farm, timezone: str, course_of: CourseOf, nights: int | None = None
) -> list[str]:
    """Every hard limit that jobs break, one line each; empty when all hold.

    Parameters
    ----------
    jobs
        Of all balers.
    farm, timezone
        The farm; the zone of its crews' clock.
    course_of
        Calls and stops that hold.
    nights
        Planned; None where visits may be as short and as many as they like.
    """
    return [
        *_too_much_hay(jobs, farm),
        *_unwanted(jobs, farm),
        *_out_of_shift(jobs, farm, timezone),
        *_unfit(jobs, course_of),
        *_machines_in_two_places(jobs, farm),
        *_visits(jobs, farm, nights),
        *_without_rest(jobs, farm, timezone),
        *_too_fast(jobs, farm),
        *_flow(jobs, farm, course_of),
    ]


def _too_much_hay(jobs: Sequence[Job], farm: Farm) -> list[str]:
    """Fields with more hay baled than lies there."""
    found = []
    for name, field in farm.fields.items():
        baled = sum(job.kg for job in jobs if job.field == name)
        if baled > (field.area_m2 or 0) * (field.yield_kg_m2 or 0) * (1 + SLACK):
            found.append(f"{name}: {baled:.0f} kg is more than lies there")
    return found


def _unwanted(jobs: Sequence[Job], farm: Farm) -> list[str]:
    """Jobs of machines other than those that a field names."""
    found = []
    for job in jobs:
        named = farm.fields[job.field]
        if named.baler not in (None, job.baler):
            found.append(f"{job.field}: {job.baler} works there, not {named.baler}")
        if job.rig is not None and named.rig not in (None, job.rig):
            found.append(f"{job.field}: {job.rig} works there, not {named.rig}")
    return found


def late_kg(jobs: Sequence[Job], farm: Farm, name: str, end: np.datetime64) -> float:
    """Hay of a field that is baled after what it is due for, or lies then [kg]; 0 if not due yet.

    Parameters
    ----------
    jobs
        Of all balers.
    farm, name
        The farm and the field.
    end
        Of the plan, UTC; what is due later is not late.
    """
    field = farm.fields[name]
    haul = np.timedelta64(int(HAUL_MINUTES), "m")
    irrigated = None if field.irrigation_due is None else field.irrigation_due - haul
    dues = [due for due in (field.finish_before, irrigated) if due is not None]
    if not dues or min(dues) > end:
        return 0.0
    in_time = sum(job.kg for job in jobs if job.field == name and job.end <= min(dues))
    return max((field.area_m2 or 0.0) * (field.yield_kg_m2 or 0.0) - in_time, 0.0)


def _visits(jobs: Sequence[Job], farm: Farm, nights: int | None) -> list[str]:
    """Visits that are too short for the drive, and balers with too many."""
    if nights is None:
        return []
    found = []
    for name, baler in farm.balers.items():
        mine = sorted((job for job in jobs if job.baler == name), key=lambda job: job.start)
        visits: list[list[Job]] = []
        for job in mine:
            if visits and visits[-1][-1].field == job.field:
                visits[-1].append(job)
            else:
                visits.append([job])
        if len(visits) > len(farm.fields) + nights:
            found.append(f"{name}: {len(visits)} visits")
        for visit in visits:
            found += _short(visit, jobs, farm, 60 * baler.least_visit_h)
    return found


def _short(visit: Sequence[Job], jobs: Sequence[Job], farm: Farm, least: float) -> list[str]:
    """Whether a visit, or one coming out in it, is too short; the minute of now is forgiven."""
    name, last, finishes = visit[0].field, visit[-1].end, False
    if all(job.end <= last for job in jobs if job.field == name):
        field = farm.fields[name]
        baled = sum(job.kg for job in jobs if job.field == name)
        finishes = baled >= (field.area_m2 or 0) * (field.yield_kg_m2 or 0) * (1 - 2 * SLACK)
    outings = [[visit[0]]]
    for before, after in pairwise(visit):
        if (after.start - before.end) / MINUTE >= PAUSE_MINUTES - SLACK:
            outings.append([])
        outings[-1].append(after)
    found = []
    worked = sum(_minutes(outing) for outing in outings)
    if worked < least - SLACK and not finishes:
        found.append(f"{visit[0].baler}: {worked:.0f} min in {name}")
    few = [_minutes(outing) for outing in (outings[:-1] if finishes else outings)]
    found += [
        f"{visit[0].baler}: out for {minutes:.0f} min in {name}"
        for minutes in few
        if minutes < WORTH_MINUTES
    ]
    return found


def _minutes(jobs: Sequence[Job]) -> float:
    """Length of work, in whole quarters of the clock: one that is running counts whole."""
    return sum(float(np.ceil((job.end - job.start) / QUARTER) * 15) for job in jobs)


def _covers(shift: Shift, local: datetime) -> bool:
    """Whether a shift covers a minute."""
    minute = 60 * local.hour + local.minute
    if shift.start_minute < shift.end_minute:
        return shift.start_minute <= minute < shift.end_minute
    return minute >= shift.start_minute or minute < shift.end_minute


def _out_of_shift(jobs: Sequence[Job], farm: Farm, timezone: str) -> list[str]:
    """Quarters worked outside every shift."""
    if not farm.shifts:
        return []
    return [
        f"{job.baler}: {time} lies outside every shift"
        for job in jobs
        for time in np.arange(job.start, job.end, QUARTER)
        if not any(_covers(shift, to_local(time, timezone)) for shift in farm.shifts)
    ]


def _unfit(jobs: Sequence[Job], course_of: CourseOf) -> list[str]:
    """Quarters whose call or a stop forbids the work."""
    found = []
    for job in jobs:
        course = course_of(job.field, job.baler, job.rig)
        may = course.may_bale(job.rig is not None)
        for time in np.arange(job.start, job.end, QUARTER):
            row = int((time - course.weather.start[0]) / QUARTER)
            known = 0 <= row < course.quarters.call.shape[0]
            call = Call(int(course.quarters.call[row, 0])) if known else Call.NO_DATA
            if not known or not may[row]:
                found.append(f"{job.field}: {time} is {call.word}, stopped or not for this way")
    return found


def _machines_in_two_places(jobs: Sequence[Job], farm: Farm) -> list[str]:
    """Balers and rigs that work twice at once, or had no time to move (rigs as the slowest)."""
    found = []
    for name, baler in farm.balers.items():
        mine = sorted((job for job in jobs if job.baler == name), key=lambda job: job.start)
        for one, two in pairwise(mine):
            gap = (two.start - one.end) / MINUTE
            if gap < (0 if one.field == two.field else _between(baler, one, two, farm)):
                found.append(f"{name}: {one.field} to {two.field} in {gap:.0f} min")
    for name in farm.rigs or {}:
        mine = [job for job in jobs if job.rig == name]
        for one in mine:
            for two in mine:
                if one.field == two.field or one.start > two.start:
                    continue
                gap = (two.start - one.end) / MINUTE
                if gap < max(_between(b, one, two, farm) for b in farm.balers.values()):
                    found.append(f"{name}: {one.field} to {two.field} in {gap:.0f} min")
    return found


def _between(baler: Baler, one: Job, two: Job, farm: Farm) -> float:
    """Minutes from the field of one job to that of another, as a road says or by the map."""
    first, second = farm.fields[one.field], farm.fields[two.field]
    for a in (first.name, first.site):
        for b in (second.name, second.site):
            for road in farm.roads:
                if {road.origin, road.goal} == {a, b}:
                    return road.minutes - SLACK
    return _move_minutes(baler, farm.sites[first.site], farm.sites[second.site])


def _move_minutes(baler: Baler, first: Site, second: Site) -> float:
    """Minutes to move: those of the same site, and the road at 1.3 times the straight line."""
    north, north2 = np.radians(first.latitude), np.radians(second.latitude)
    turn = np.radians(second.longitude - first.longitude)
    cosine = np.sin(north) * np.sin(north2) + np.cos(north) * np.cos(north2) * np.cos(turn)
    apart = float(np.arccos(np.clip(cosine, -1.0, 1.0)))
    straight = 0.0 if first.name == second.name else 6_371_000.0 * apart
    return baler.move_minutes + 1.3 * straight / baler.road_speed_m_s / 60 - SLACK


def _without_rest(jobs: Sequence[Job], farm: Farm, timezone: str) -> list[str]:
    """Crews that work on a baler for longer than 24 h less their rest without one.

    Time to move to the next field is no rest.
    """
    found = []
    for name, baler in farm.balers.items():
        mine = sorted((job for job in jobs if job.baler == name), key=lambda job: job.start)
        for crew in _crew_names(farm):
            worked = _worked(mine, crew, farm, timezone)
            if worked and _longest_stretch_h(worked, baler, farm) > 24 - farm.rest_h + SLACK:
                found.append(f"{name}: crew {crew or 'of the farm'} works without its rest")
    return found


def _crew_names(farm: Farm) -> list[str]:
    """Crews; a shift without a name is a crew of its own; one for a farm without shifts."""
    return list(dict.fromkeys(s.crew or f"#{i}" for i, s in enumerate(farm.shifts))) or [""]


def _worked(
    jobs: Sequence[Job], crew: str, farm: Farm, timezone: str
) -> list[tuple[np.datetime64, Job]]:
    """Quarters that a crew works, with their jobs, in order."""
    own = [s for i, s in enumerate(farm.shifts) if (s.crew or f"#{i}") == crew]
    return [
        (time, job)
        for job in jobs
        for time in np.arange(job.start, job.end, QUARTER)
        if not farm.shifts or any(_covers(shift, to_local(time, timezone)) for shift in own)
    ]


def _longest_stretch_h(
    worked: Sequence[tuple[np.datetime64, Job]], baler: Baler, farm: Farm
) -> float:
    """Longest time from the first to the last work between two rests [h]."""
    begin, longest = worked[0][0], timedelta(0)
    for (time, job), (later, after) in pairwise(worked):
        gap = (later - time - QUARTER) / MINUTE
        move = 0.0 if job.field == after.field else _between(baler, job, after, farm)
        if gap - move >= farm.rest_h * 60 - SLACK:
            begin = later
        longest = max(longest, (later + QUARTER - begin).astype(timedelta))
    return longest / timedelta(hours=1)


def _too_fast(jobs: Sequence[Job], farm: Farm) -> list[str]:
    """Jobs with more hay than the baler takes in their time, or a windrow too heavy for it."""
    found = []
    for job in jobs:
        baler, hours = farm.balers[job.baler], float((job.end - job.start) / MINUTE) / 60
        if job.kg > (baler.capacity_kg_h or 0.0) * hours * (1 + SLACK):
            found.append(f"{job.baler}: {job.kg:.0f} kg in {hours:.2f} h")
        limit = baler.windrow_limit_kg_m2
        if limit is not None and farm.fields[job.field].windrow_mass_kg_m2 > limit:
            found.append(f"{job.field}: windrow too heavy for {job.baler}")
    return found


def _flow(jobs: Sequence[Job], farm: Farm, course_of: CourseOf) -> list[str]:
    """Rigs that would have to give more water in a time than their flow and fills allow.

    Over every time from the start of one job to the end of another: a rig may set out full,
    and fills where it runs dry.
    """
    found = []
    for name, rig in (farm.rigs or {}).items():
        water: dict[tuple[np.datetime64, np.datetime64], float] = {}
        moving = 0.0
        for job in jobs:
            if job.rig == name:
                rate = _least_rate(job, rig, course_of(job.field, job.baler, name))
                key = (job.start, job.end)
                water[key] = water.get(key, 0.0) + job.kg / 1000 * rate
                moving = max(moving, field_efficiency(farm.balers[job.baler]))
        times = sorted(water)
        for first, (start, _) in enumerate(times):
            given_l = 0.0
            for span in times[first:]:
                given_l, end = given_l + water[span], span[1]
                most = _most_water_l(rig, float((end - start) / MINUTE) / 60, moving)
                if given_l > most * (1 + SLACK):
                    found.append(f"{name}: {given_l:.0f} L from {start} to {end}")
                    break
    return found


def _least_rate(job: Job, rig: Rig, course: Course) -> float:
    """Least water put on in the quarters of a job [L/t], a step of the dial below the exact."""
    first = int((job.start - course.weather.start[0]) / QUARTER)
    past = int((job.end - course.weather.start[0]) / QUARTER)
    dose = course.quarters.dose
    rates = np.array([]) if dose is None else dose.applied_l_t[first:past, 0]
    known = rates[np.isfinite(rates)]
    return max(float(known.min()) - rig.rate_step_l_t, 0.0) if known.size else 0.0


def _most_water_l(rig: Rig, hours: float, moving: float) -> float:
    """Water that a rig brings out in some hours that begin with a full tank [L].

    It flows in the `moving` part of the time between fills; each tank but the first costs
    its filling.
    """
    flow_l_h = rig.flow_max_l_min * 60 * moving
    fill_h = rig.fill_minutes / 60
    filling = (hours + fill_h) / (rig.tank_l / flow_l_h + fill_h) * rig.tank_l
    return min(flow_l_h * hours, filling)
