"""Work of made-up hay on two fields of one site, or more, with any machines; no claim on nature."""

from collections.abc import Sequence
from dataclasses import fields, replace
from typing import Any

import numpy as np
from support.fields import HOME, course_with, hay
from support.made_sheets import BALER, DAMP, EVENING, FIELD, RIG, farm_of, field_outlook
from support.nights import hourly

from hayweather.baling.course import Course
from hayweather.baling.setting import setting_for, with_machines
from hayweather.farm.records import Baler, Field, Rig, Shift, Site
from hayweather.nights import FieldNight, Night
from hayweather.plan.record import Span, WayName
from hayweather.plan.work import Work

MINUTE = np.timedelta64(60, "s")
NORTH = replace(FIELD, area_m2=None)
SOUTH = replace(NORTH, name="south")


class MadeField(FieldNight):
    """A field whose hay is the same for every machine."""

    def course(self, baler: Baler, rig: Rig | None) -> Course:
        """What they make of the hay shown."""
        setting = with_machines(self.setting, baler, rig)
        return course_with(self.shown.trajectory, setting, self.shown.weather)


def made_field(
    field: Field,
    baler: Baler = BALER,
    rig: Rig | None = RIG,
    moisture_wb: object = 10.0,
    hours: int = 6,
    leaf_wb: object = 14.0,
    site: Site = HOME,
) -> FieldNight:
    """Hay of a moisture, a number or by quarter-hour boundary, in calm damp air from 20:00 on."""
    setting = setting_for(farm_of(field, baler, rig), field, site, EVENING)
    trajectory = hay(moisture_wb, leaf_wb, hours=hours, start=EVENING)
    air = replace(hourly(hours, **DAMP), start=np.array([EVENING]))
    made = field_outlook(course_with(trajectory, setting, air), setting)
    return MadeField(**{each.name: getattr(made, each.name) for each in fields(FieldNight)})


def night_of_fields(
    made: Sequence[FieldNight],
    balers: Sequence[Baler] = (BALER,),
    rigs: Sequence[Rig] = (RIG,),
    shifts: tuple[Shift, ...] = (),
    now: np.datetime64 = EVENING,
    **named: object,
) -> Night:
    """A night of some fields and machines; `named` goes into the farm as it is."""
    farm = replace(
        farm_of(shifts=shifts),
        sites={each.setting.site.name: each.setting.site for each in made},
        fields={each.name: each.setting.field for each in made},
        balers={each.name: each for each in balers},
        rigs={each.name: each for each in rigs},
        **named,
    )
    return Night(farm, now, tuple(made), ())


def span(
    start: float,
    end: float,
    field: str = "north",
    baler: str = "baler",
    rig: str | None = "rig",
    way: WayName | None = None,
) -> Span:
    """Time in a field, in minutes after the evening began."""
    how: WayName = way or ("dew" if rig is None else "rig")
    return Span(baler, field, rig, how, at(start), at(end))


def at(minutes: float) -> np.datetime64:
    """A time, in minutes after the evening began."""
    return EVENING + np.timedelta64(round(60 * minutes), "s")


def minute(time: np.datetime64) -> float:
    """Minutes after the evening began."""
    return float((time - EVENING) / MINUTE)


def worked(
    spans: Sequence[Span],
    made: Sequence[FieldNight] | None = None,
    **night: Any,
) -> Work:
    """The work of some spans, on two fields of 10 % that never end where none are given."""
    if made is None:
        (rig, *_) = (*night.get("rigs", ()), RIG)
        made = [made_field(NORTH, rig=rig), made_field(SOUTH, rig=rig)]
    return Work(night_of_fields(made, **night), spans)
