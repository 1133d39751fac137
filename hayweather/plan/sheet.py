"""Run sheets, one a machine, from blocks of work: driving order, settings, what to tell."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from hayweather.baling.calls import Call, QuarterCalls
from hayweather.baling.clock import hour_index, hour_start
from hayweather.baling.hours import HourCall, facts_of, reasons_for, unsure
from hayweather.baling.setting import unnamed_machines
from hayweather.baling.water import burner_fuel_l, full_burners_c, hottest_c
from hayweather.catalog import kind_of
from hayweather.farm.bands import limits_remark
from hayweather.farm.records import Rig
from hayweather.nights import FieldNight, Night
from hayweather.plan.crews import Duty, duty_at, relief_remarks
from hayweather.plan.make import plan_shown
from hayweather.plan.pace import (
    FULL_FLOW,
    answers_of,
    machines_of,
)
from hayweather.plan.record import Span
from hayweather.plan.sheet_record import (
    Answer,
    Dial,
    FieldWork,
    Heat,
    MachineKind,
    MachineSheet,
    Piece,
    RunSheet,
    Signs,
    Step,
    Totals,
)
from hayweather.plan.sheet_walk import (
    SECOND,
    SET_UP,
    Stretch,
    Team,
    visits_of,
)
from hayweather.plan.work import MINUTE, Work, begin_of
from hayweather.weather.record import HOUR
from hayweather.windrow.trajectory import QUARTERS
from hayweather.words import Remark

LITTLE_H = 0.01
DRAIN = np.timedelta64(15 * 60, "s")  # to empty lines and nozzles (assumed)
MOST_READINGS = 7
Values = dict[str, object]


def make_runsheet(
    night: Night,
    work: Work | Sequence[Span] | None = None,
    missed: tuple[Remark, ...] = (),
    *,
    field: str | None = None,
) -> RunSheet:
    """What every machine's driver does when: drives, settings, fills, fuel.

    Work ends when a field is done, keeps to the farm's shifts where it names some,
    and begins at no time before now.

    Parameters
    ----------
    night
        Of the farm.
    work, missed
        Work and the dates it misses. None: those of the one plan until the night's end;
        what it does in the nights after is not for a driver of tonight: those hours will
        be planned anew.
    field
        Show the work in this field alone; the tank and the hay are those of all.

    Raises
    ------
    FarmFileError
        If there is no such field, the baler takes nothing, or a windrow is heavier
        than it takes.
    """
    shown = list(night) if field is None else [night[field]]
    where = str(night.farm.path or "")
    for each in night:
        machines_of(each.setting, night.farm.units, where)
    lacking: tuple[Remark, ...] = ()
    if work is None:
        plan = plan_shown(night)
        lacking = plan.lacking
        whole = Work(night, ()) if plan.work is None else plan.work  # that raises where it is None
        work, missed = whole.until(max(each.headline.turn for each in night)), plan.missed_said
    elif not isinstance(work, Work):
        work = Work(night, work)
    maker = _Maker(night, work)
    names = {each.name for each in shown}
    return RunSheet(
        night=night if field is None else replace(night, fields=tuple(shown)),
        machines=tuple(maker.sheets(names)),
        fields=tuple(maker.field_work(each) for each in shown),
        missed=missed,
        cautions=(*lacking, *night.cautions),
    )


class _Maker:
    """Work of a night as the sheets of its machines."""

    def __init__(self, night: Night, work: Work) -> None:
        self.night, self.farm, self.work = night, night.farm, work
        self.balers, self.rigs = work.balers, work.rigs
        self.walk, self.duties = work.walk, work.duties

    # Sheets

    def sheets(self, fields: set[str]) -> Iterator[MachineSheet]:
        """A sheet of every machine that works in some fields."""
        named: list[tuple[MachineKind, str]] = [("baler", name) for name in self.balers]
        named += [("rig", name) for name in self.rigs]
        for kind, name in named:
            own = [item for item in self.walk.stretches if (kind, name) in item.slot.team.names]
            if any(item.slot.team.field in fields for item in own):
                yield self._sheet(kind, name, own, fields)

    def _sheet(
        self, kind: MachineKind, name: str, own: Sequence[Stretch], fields: set[str]
    ) -> MachineSheet:
        """The sheet of one machine."""
        every = [self._piece(group, kind, name) for group in self._groups(own)]
        pieces = [piece for piece in every if piece.field in fields]
        rows = [*every, *self._fills(kind, name), *self._ways(kind, name, own)]
        rows += [*self._shifts(every), *(self._drains(every) if kind == "rig" else ())]
        steps = sorted(rows, key=lambda step: (step.start, step.end, ORDER.index(step.kind)))
        steps = [step for step in steps if step.field is None or step.field in fields]
        inside = [step for step in steps if _near(step, pieces)]
        done = {
            piece.field: self.walk.done_at[piece.field]
            for piece in pieces
            if piece.field is not None and self.walk.done_at.get(piece.field) == piece.end
        }
        fills = [step for step in inside if step.kind == "fill"]
        shown = [item for item in own if item.slot.team.field in fields]
        return MachineSheet(
            name=name,
            kind=kind,
            steps=tuple(inside),
            totals=totals_of(pieces, fills),
            done=tuple(done.items()),
            signs=signs_of(shown, kind, name),
            relief=relief_remarks(pieces, self.duties, self.farm, self.night.timezone),
            notes=tuple(self._notes(kind, name, shown, pieces)),
        )

    def _groups(self, own: Sequence[Stretch]) -> list[list[Stretch]]:
        """Work as pieces of at most an hour: one team, call, hour of the clock, crew, no break."""
        groups: list[list[Stretch]] = []
        for item in own:
            if groups and _together(groups[-1][-1], item, self.duties, self.night.timezone):
                groups[-1].append(item)
            else:
                groups.append([item])
        return groups

    def _piece(self, group: Sequence[Stretch], kind: MachineKind, name: str) -> Piece:
        """One piece of a machine from its stretches."""
        slot, team = group[0].slot, group[0].slot.team
        field = self.night[team.field]
        hour = field.hours[hour_index(field.shown.weather.start[0], group[0].start)]
        quarters = self.work.quarters(field, team.balers[0], team.rig)
        dials = tuple(self._dial(item, kind, name, quarters) for item in group)
        names = team.balers if kind == "rig" else (name,)
        masses = [total([item.mass_of_kg(each) for item in group]) for each in names]
        mass, one = total(masses), team.machines[0].mass_of_area_kg(1.0)
        bales = [
            None if part is None or each is None else part / each
            for part, each in zip(masses, (self.balers[n].bale_mass_kg for n in names), strict=True)
        ]
        whole = len({item.slot.row for item in group}) == QUARTERS
        piece = Piece(
            kind="work",
            start=group[0].start,
            end=group[-1].end,
            field=team.field,
            way=team.way,
            call=slot.call,
            rig=team.rig,
            balers=team.balers,
            reasons=hour.reasons
            if whole and hour.call == slot.call
            else _reasons(group, field, quarters),
            cautions=_cautions(hour, slot.call),
            windrow_wb=_mean(group, [dial.reads_wb for dial in dials]),
            leaf_wb=_mean(group, [quarters.leaf_wb[item.slot.row, 0] for item in group]),
            speed_m_s=_mean_known(group, [dial.speed_m_s for dial in dials]),
            mass_kg=mass,
            bales=total(bales),
            area_m2=None if mass is None or one is None else mass / one,
            dials=dials,
        )
        return piece if team.rig is None else self._wet(piece, group, kind, quarters)

    def _dial(self, item: Stretch, kind: MachineKind, name: str, quarters: QuarterCalls) -> Dial:
        """The setting of one stretch."""
        pace, team, row = item.slot.pace, item.slot.team, item.slot.row
        speed = pace.rig_speed_m_s
        if kind == "baler":
            speed = pace.each[team.balers.index(name)].speed_m_s
        rig = None if team.rig is None else self.rigs[team.rig]
        answers: tuple[Answer, ...] = ()
        if name and kind == "rig" and rig is not None and pace.rate_l_t:
            answers = answers_of(team.machines, quarters, row, self._readings(team))
        return Dial(
            start=item.start,
            end=item.end,
            reads_wb=float(quarters.windrow_wb[row, 0]),
            after_wb=pace.after_wb,
            water_l_t=pace.rate_l_t,
            flow_l_min=pace.flow_l_min if rig is not None else 0.0,
            speed_m_s=speed,
            heat=None if rig is None else heat_of(rig, pace.flow_l_min if pace.rate_l_t else 0.0),
            answers=answers,
        )

    def _readings(self, team: Team) -> list[float]:
        """Whole percents that a meter may well read while a rig works in a field."""
        seen = [
            float(self.work.quarters(self.night[s.team.field], s.team.balers[0], s.team.rig)
                  .windrow_wb[s.row, 0])
            for s in self.work.slots
            if s.team.rig == team.rig and s.pace.rate_l_t
        ]  # fmt: skip
        top = int(np.ceil(team.machines[0].setting.band.low_wb))
        least = max(int(np.floor(min(seen))) - 1, 4)
        most = min(int(np.ceil(max(seen))) + 1, top)
        return [float(reads) for reads in range(least, most + 1)][:MOST_READINGS]

    def _wet(
        self, piece: Piece, group: Sequence[Stretch], kind: MachineKind, quarters: QuarterCalls
    ) -> Piece:
        """Water, flow and fuel of a piece behind the rig."""
        team, dose = group[0].slot.team, quarters.dose
        rig = self.rigs[str(team.rig)]
        water, mass = total([i.water_l for i in group]), total([i.mass_kg for i in group])
        flowing_h = piece.hours * team.machines[0].efficiency
        rate = _mean(group, [item.slot.pace.rate_l_t for item in group])
        if water is not None and mass:
            rate = water / mass * 1000
        stays = None if dose is None else [dose.efficiency[item.slot.row, 0] for item in group]
        wetting = kind == "rig"
        return replace(
            piece,
            after_wb=_mean(group, [item.slot.pace.after_wb for item in group]),
            efficiency=None if stays is None else _mean(group, stays),
            water_l_t=rate,
            flow_l_min=None if water is None else water / (60 * flowing_h),
            loads=0.0 if not wetting else None if water is None else water / rig.tank_l,
            water_l=water if wetting else 0.0,
            burner_fuel_l=_fuel(group, rig) if wetting else 0.0,
        )

    # What stands between the pieces

    def _fills(self, kind: MachineKind, name: str) -> Iterator[Step]:
        """A rig's fills, or a baler's waits for them."""
        for fill in self.walk.fills:
            if kind == "rig" and fill.rig == name:
                no_heat = Remark("step_no_heat") if self.rigs[name].heated else None
                yield replace(fill.step, remark=no_heat)
            elif kind == "baler" and name in fill.balers:
                yield replace(fill.step, kind="wait")

    def _ways(self, kind: MachineKind, name: str, own: Sequence[Stretch]) -> Iterator[Step]:
        """Drives from field to field, and setting up before each visit."""
        begin = begin_of(self.night.now)
        visits = visits_of(own)
        for before, after in pairwise([None, *visits]):
            if after is None:  # pragma: no cover - only the first is; for the types
                continue
            field, start = after[0].slot.team.field, after[0].start
            came = None if before is None else before[-1].slot.team.field
            earliest = begin if before is None else before[-1].end
            waits = [
                fill.step.end
                for fill in self.walk.fills
                if ((kind == "rig" and fill.rig == name) or name in fill.balers)
                and earliest <= fill.step.start < start
            ]
            earliest = max([earliest, *waits])
            if came is not None and came != field:
                way = self.work.travel((kind, name), came, field)
                set_up = min(SET_UP, way)
                leave = max(start - way, earliest)
                if start - set_up > leave:
                    said = Remark("step_drive_from", {"field": came})
                    yield Step("drive", leave, start - set_up, field, said)
                yield Step("set_up", max(start - set_up, leave), start, field)
            elif start - earliest >= MINUTE:
                yield Step("set_up", max(start - SET_UP, earliest), start, field)

    def _shifts(self, pieces: Sequence[Piece]) -> Iterator[Step]:
        """Crews that hand over, and times between works when none is on shift."""
        if self.duties is None or not pieces:
            return
        first, last = pieces[0].start, pieces[-1].end
        for before, after in pairwise(self.duties):
            if not first < after.start < last:
                continue
            here = next((p for p in pieces if p.start >= after.start), None)
            names: Values = {
                "crew": after.crew or Remark("relief_crew"),
                "before": before.crew or Remark("relief_crew"),
            }
            if before.end < after.start:
                yield Step("off", max(before.end, first), after.start, None)
            elif here is not None and here.start < after.end and before.crew != after.crew:
                said = Remark("step_hand_over_crew", names)
                yield Step("hand_over", after.start, after.start, None, said)

    def _drains(self, pieces: Sequence[Piece]) -> Iterator[Step]:
        """Emptying lines and nozzles after work behind the rig, where frost follows."""
        for here, then in pairwise([*pieces, None]):
            if here is None or (then is not None and then.start - here.end < HOUR):
                continue
            field = self.night[str(here.field)]
            until = here.end + 12 * HOUR if then is None else then.start
            cold = any(
                remark.key == "caution_frost"
                for hour in field.hours
                if hour.start + HOUR > here.end and hour.start < until
                for remark in hour.cautions
            )
            if cold:
                yield Step("drain", here.end, here.end + DRAIN, here.field)

    # Notes

    def _notes(
        self, kind: MachineKind, name: str, own: Sequence[Stretch], pieces: Sequence[Piece]
    ) -> Iterator[Remark]:
        """What limits the work, and what was assumed."""
        if kind == "baler":
            yield from _baler_notes(self.balers[name].name, own, pieces)
        else:
            yield from _rig_notes(self.rigs[name], pieces)
        told: list[Remark] = []  # once, however many fields and balers share them
        for team in {item.slot.team.field: item.slot.team for item in own}.values():
            for machines in team.machines_of(kind, name):
                limits = limits_remark(machines.setting.baler, machines.setting.field)
                if limits not in told:
                    told.append(limits)
        yield from told

    def field_work(self, field: FieldNight) -> FieldWork:
        """What the sheets together make of a field."""
        here = [item for item in self.walk.stretches if item.slot.team.field == field.name]
        pieces = [self._piece([item], "rig", "") for item in here]
        fills = [f.step for f in self.walk.fills if f.step.field == field.name]
        return FieldWork(
            night=field,
            totals=totals_of(pieces, fills),
            done_at=self.walk.done_at.get(field.name),
            notes=tuple(self._field_notes(field, here)),
        )

    def _field_notes(self, field: FieldNight, here: Sequence[Stretch]) -> Iterator[Remark]:
        """Hours that are lost, hay that is left, and what the farm file does not tell."""
        setting = field.setting
        machines = machines_of(setting, self.farm.units, "")
        yield from unnamed_machines(self.farm, setting.field)
        known = {
            "sheet_no_rig": setting.rig,
            "sheet_no_capacity": setting.baler.capacity_kg_h,
            "sheet_no_windrow": machines.along_kg_m,
            "sheet_no_area": machines.mass_of_area_kg(setting.field.area_m2),
            "sheet_no_bale": setting.baler.bale_mass_kg,
        }
        yield from (Remark(key) for key, value in known.items() if value is None)
        done = field.name in self.walk.done_at
        off, beyond = self.work.off_duty_h(field.name), self.work.beyond_h(field.name)
        if off > LITTLE_H and not done:
            yield Remark("sheet_off_duty", {"hours": (off, "hours")})
        if beyond > LITTLE_H:
            yield Remark("sheet_beyond_flow", {"hours": (beyond, "hours")})
        if field.name in self.walk.cut_short:
            yield Remark("sheet_cut_short")
        for visit in self.walk.left_out:
            if visit[0].slot.team.field == field.name and not done:
                times: Values = {"start": visit[0].start, "end": visit[-1].end}
                yield Remark("sheet_short_visit", times)
        left, one = self.walk.left_kg[field.name], machines.mass_of_area_kg(1.0)
        if not done and left is not None and one and all(i.mass_kg is not None for i in here):
            yield Remark("sheet_left", {"area": (left / one, "area")})


ORDER = ("work", "wait", "drain", "hand_over", "off", "fill", "drive", "set_up")


def _near(step: Step, pieces: Sequence[Piece]) -> bool:
    """Whether a step belongs to the pieces shown: one of them, or between them."""
    if not pieces:
        return False
    early = step.kind in ("set_up", "drive", "fill")
    return step.field is not None or early or bool(pieces[0].start <= step.start < pieces[-1].end)


def _together(before: Stretch, item: Stretch, duties: Sequence[Duty] | None, timezone: str) -> bool:
    """Whether two stretches belong to one piece."""
    return (
        before.end == item.start
        and before.slot.call == item.slot.call
        and before.slot.team == item.slot.team
        and hour_start(before.start, timezone) == hour_start(item.start, timezone)
        and duty_at(duties, before.start) == duty_at(duties, item.start)
    )


def _cautions(hour: HourCall, call: Call) -> tuple[Remark, ...]:
    """Cautions of the hour; how sure the call is, of the call of these quarters."""
    others = [remark for remark in hour.cautions if remark.key != "caution_low_confidence"]
    return (*others, *unsure(call, hour.chance))


def _reasons(
    group: Sequence[Stretch], field: FieldNight, quarters: QuarterCalls
) -> tuple[Remark, ...]:
    """Reasons of the call of these quarters, where they are not all of an hour, or its call."""
    setting = group[0].slot.team.machines[0].setting
    rows = np.zeros(quarters.call.shape[0], dtype=bool)
    rows[[item.slot.row for item in group]] = True
    hour = hour_index(field.shown.weather.start[0], group[0].start)
    facts = facts_of(quarters, rows, setting.band)
    return tuple(reasons_for(group[0].slot.call, facts, setting, field.shown.weather, hour))


def heat_of(rig: Rig, flow_l_min: float | None) -> Heat | None:
    """What a rig's burners do at a flow; None where it does not heat.

    At no flow nothing may burn: nothing is known of the water then.

    Parameters
    ----------
    rig
        Its burners.
    flow_l_min
        While moving; None where not known.
    """
    if not rig.heated:
        return None
    full = full_burners_c(rig, flow_l_min or 0.0)
    return Heat(full, hottest_c(rig), assumed=rig.water_out_c is None)


def _fuel(group: Sequence[Stretch], rig: Rig) -> float | None:
    """Fuel of the burners while water flows [L], never beyond their limit; None where not known."""
    parts = []
    for item in group:
        flowing_h = item.hours * item.slot.team.machines[0].efficiency
        known = item.water_l is not None
        parts.append(burner_fuel_l(rig, item.water_l or 0.0, flowing_h) if known else None)
    return total(parts) if rig.heated else 0.0


def _mean(group: Sequence[Stretch], values: Sequence[float]) -> float:
    """Mean over the time of a group."""
    seconds = [float((item.end - item.start) / SECOND) for item in group]
    return float(np.average(values, weights=seconds))


def _mean_known(group: Sequence[Stretch], values: Sequence[float | None]) -> float | None:
    """Mean over the time of a group; None where one is not known."""
    known = [value for value in values if value is not None]
    return _mean(group, known) if len(known) == len(values) else None


def total(values: Iterable[float | None]) -> float | None:
    """The sum; None where a part is not known.

    Examples
    --------
    >>> total([1.0, 2.0]), total([1.0, None])
    (3.0, None)
    """
    known = list(values)
    return None if any(value is None for value in known) else float(sum(v or 0.0 for v in known))


def totals_of(pieces: Sequence[Piece], fills: Sequence[Step]) -> Totals:
    """Sums over the pieces and fills."""
    hours = {way: sum(p.hours for p in pieces if p.way == way) for way in ("dew", "rig", "dry")}
    return Totals(
        hours=sum(hours.values()),
        dew_hours=hours["dew"],
        rig_hours=hours["rig"],
        dry_hours=hours["dry"],
        mass_kg=total(piece.mass_kg for piece in pieces),
        bales=total(piece.bales for piece in pieces),
        area_m2=total(piece.area_m2 for piece in pieces),
        loads=total(piece.loads for piece in pieces),
        water_l=total(piece.water_l for piece in pieces),
        burner_fuel_l=total(piece.burner_fuel_l for piece in pieces),
        fills=len(fills),
        fill_minutes=float(sum(fill.minutes for fill in fills)),
    )


def signs_of(own: Sequence[Stretch], kind: MachineKind, name: str) -> Signs:
    """What to look for in the windrow; common practice, no source.

    Of several balers behind a rig the strictest limits count.
    """
    bands = [m.setting.band for item in own for m in item.slot.team.machines_of(kind, name)]
    band = min(bands, key=lambda each: (each.ceiling_wb, each.high_wb))
    limits: Values = {"low": (band.low_wb, "percent"), "high": (band.high_wb, "percent")}
    rig = any(item.slot.team.rig is not None for item in own)
    start = [Remark("sign_start_stem"), Remark("sign_start_leaf"), Remark("sign_start_bottom")]
    way = [Remark("sign_way_leaf"), Remark("sign_way_bale", limits), Remark("sign_way_feel")]
    stop = [
        Remark("sign_stop_wet", {"ceiling": (band.ceiling_wb, "percent")}),
        Remark("sign_stop_drops"),
        Remark("sign_stop_dry" if rig else "sign_stop_dry_dew"),
        Remark("sign_stop_smoke"),
    ]
    if rig:
        start.append(Remark("sign_start_rig"))
    if kind == "rig":
        way.append(Remark("sign_way_nozzles"))
    return Signs(tuple(start), tuple(way), tuple(stop))


def _baler_notes(name: str, own: Sequence[Stretch], pieces: Sequence[Piece]) -> Iterator[Remark]:
    """How the baler's capacity was taken, and a windrow that is heavy or light for it."""
    team = own[0].slot.team
    machines = team.machines[team.balers.index(name)]
    baler, pace = machines.setting.baler, kind_of(machines.setting.baler.kind).pace
    if baler.capacity_kg_h is not None:
        values: Values = {
            "capacity": (baler.capacity_kg_h, "capacity"),
            "moving": (baler.capacity_kg_h / machines.efficiency, "capacity"),
            "part": f"{100 * machines.efficiency:.0f}",
        }
        given = baler.field_efficiency is not None
        yield Remark("sheet_capacity" if given else "sheet_capacity_assumed", values)
    speeds = [piece.speed_m_s for piece in pieces if piece.speed_m_s is not None]
    usual: Values = {"usual": (pace.slow_m_s, pace.fast_m_s, "ground_speed")}
    if speeds and min(speeds) < pace.slow_m_s:
        yield Remark("sheet_slow", usual)
    if speeds and machines.setting.field.yield_kg_m2 is None:
        mass = (machines.setting.field.windrow_mass_kg_m2, "windrow_mass")
        yield Remark("sheet_windrow_mass", {"mass": mass})


def _rig_notes(rig: Rig, pieces: Sequence[Piece]) -> Iterator[Remark]:
    """How the rig's water was taken: what stays, what flow allows, how warm it gets."""
    aboard = rig.tank_l if rig.in_tank_l is None else rig.in_tank_l
    tank: Values = {
        "tank": (rig.tank_l, "volume"),
        "aboard": (aboard, "volume"),
        "minutes": (rig.fill_minutes, "minutes"),
    }
    yield Remark("sheet_tank_full" if rig.in_tank_l is None else "sheet_tank", tank)
    stays = [100 * piece.efficiency for piece in pieces if piece.efficiency is not None]
    if stays:
        yield Remark(
            "sheet_stays",
            {
                "stays": (min(stays), max(stays), "percent"),
                "minutes": (rig.lag_minutes, "minutes"),
            },
        )
    dials = [dial for piece in pieces for dial in piece.dials if dial.water_l_t]
    flows = [dial.flow_l_min for dial in dials if dial.flow_l_min is not None]
    if flows and max(flows) >= FULL_FLOW * rig.flow_max_l_min:
        yield Remark("sheet_full_flow", {"flow": (rig.flow_max_l_min, "flow")})
    heats = [dial.heat for dial in dials if dial.heat is not None]
    if rig.heated and rig.fuel_rate_l_h is None and rig.water_out_c is None:
        yield Remark("sheet_no_fuel")
    if heats and any(heat.full_c is not None for heat in heats):
        yield from _heat_notes(rig, heats)


def _heat_notes(rig: Rig, heats: Sequence[Heat]) -> Iterator[Remark]:
    """How warm the burners make the water, and where that is refused."""
    known = [heat.full_c for heat in heats if heat.full_c is not None]
    limit: Values = {"most": (heats[0].limit_c, "temperature")}
    part = {"part": f"{100 * rig.burner_efficiency:.0f}", "cold": (rig.water_in_c, "temperature")}
    if any(heat.refused for heat in heats):
        key = "sheet_too_hot_assumed" if heats[0].assumed else "sheet_too_hot"
        yield Remark(key, {**limit, "reaches": (max(known), "temperature")})
    elif rig.fuel_rate_l_h is not None:
        low, high = min(known), max(known)
        yield Remark("sheet_warm", {**part, "warm": (low, high, "temperature"), **limit})
    if rig.water_out_c is not None and max(known) < rig.water_out_c - 1.0:
        values: Values = {
            "reaches": (max(known), "temperature"),
            "wanted": (rig.water_out_c, "temperature"),
        }
        yield Remark("sheet_cool", values)
