"""Run sheets of made-up hay, or of a sample's night, with any machines; no claim on nature."""

from dataclasses import replace
from functools import cache

import numpy as np
from support.fields import HOME, TURN, course_with, days, hay
from support.nights import hourly
from support.outlooks import outlook_of
from support.sheets import window_stays

from hayweather.baling.clock import Span
from hayweather.baling.course import Course
from hayweather.baling.hours import hour_calls
from hayweather.baling.setting import Setting, setting_for
from hayweather.farm.records import Baler, Farm, Field, Rig, Shift, WeatherChoice
from hayweather.nights import FieldNight, Night, night_of
from hayweather.plan.sheet import make_runsheet
from hayweather.plan.sheet_record import FieldWork, MachineSheet, Piece, RunSheet, Step, Totals
from hayweather.weather.record import HOUR, HourlyWeather

EVENING = np.datetime64("2024-07-03T02:00", "s")  # 20:00 in Denver
ALONG_KG_M = 3.0
FIELD = Field(
    "north",
    "home",
    cured=True,
    area_m2=2_000_000.0,
    yield_kg_m2=0.3,
    swath_width_m=5.0,
    swaths_per_windrow=2,
)
BALER = Baler("baler", capacity_kg_h=16_000.0, bale_mass_kg=500.0, field_efficiency=0.8)
RIG = Rig("rig", 4000.0, 10.0, 100.0, 40.0, 20.0)
DAMP = {"air_temperature_c": 12.0, "dew_point_c": 10.0, "wind_speed_m_s": 1.0}


def farm_of(
    field: Field = FIELD,
    baler: Baler = BALER,
    rig: Rig | None = RIG,
    shifts: tuple[Shift, ...] = (),
) -> Farm:
    """A farm of one field."""
    return Farm(
        "Sagebeck",
        sites={"home": HOME},
        fields={field.name: field},
        balers={baler.name: baler},
        weather=WeatherChoice(invented=True),
        rigs={} if rig is None else {rig.name: rig},
        shifts=shifts,
    )


@cache
def plain_night() -> Night:
    """A night of clear weather: what the made-up hay says nothing of is as in it."""
    return night_of(farm_of(), {"home": days(52)}, TURN + 30 * HOUR, members=0)


def field_outlook(course: Course, setting: Setting) -> FieldNight:
    """An outlook of a field whose course is as said."""
    first = course.weather.start[0]
    last = first + course.weather.hours * HOUR
    before = plain_night().fields[0]
    return replace(
        before,
        setting=setting,
        span=Span(first, last, before.span.evening, first, last),
        hours=tuple(hour_calls(course, setting)),
        windows=tuple(course.windows()),
        maybe=(),
        headline=replace(before.headline, turn=last, maybe=()),
        shown=course,
    )


class Alone:
    """The run sheets of the only field of a farm, with what its one baler and rig do."""

    def __init__(self, made: RunSheet) -> None:
        self.made = made
        self.field: FieldWork = made.fields[0]
        self.setting = self.field.night.setting

    def machine(self, kind: str) -> MachineSheet | None:
        """The sheet of the baler or the rig; None where it has no work."""
        return next((each for each in self.made.machines if each.kind == kind), None)

    @property
    def rig(self) -> MachineSheet | None:
        """The rig's sheet."""
        return self.machine("rig")

    @property
    def baler(self) -> MachineSheet | None:
        """The baler's sheet."""
        return self.machine("baler")

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """Work of the field: the baler's, with the rig's water where it works."""
        if self.baler is None:
            return ()
        wet = {} if self.rig is None else {piece.start: piece for piece in self.rig.pieces}
        return tuple(wet.get(piece.start, piece) for piece in self.baler.pieces)

    @property
    def fills(self) -> tuple[Step, ...]:
        """The rig's fills."""
        return () if self.rig is None else self.rig.fills

    @property
    def totals(self) -> Totals:
        """Of the field."""
        return self.field.totals

    @property
    def notes(self) -> list:
        """All of them."""
        return [n for m in self.made.machines for n in m.notes] + list(self.field.notes)


def worked(farm: Farm, course: Course, setting: Setting, now: np.datetime64) -> Alone:
    """The run sheets of the only field of a farm."""
    made = Night(farm, now, (field_outlook(course, setting),), plain_night().cautions)
    return Alone(make_runsheet(made, window_stays(made)))


def simple_sheet(
    moisture_wb: object = 10.0,
    hours: int = 6,
    *,
    field: Field = FIELD,
    baler: Baler = BALER,
    rig: Rig | None = RIG,
    shifts: tuple[Shift, ...] = (),
    now: np.datetime64 = EVENING,
    leaf_wb: object = 14.0,
    **weather: object,
) -> Alone:
    """Hay of a moisture, a number or by quarter-hour boundary, in calm damp air, from 20:00 on."""
    farm = farm_of(field, baler, rig, shifts)
    setting = setting_for(farm, field, HOME, EVENING)
    trajectory = hay(moisture_wb, leaf_wb, hours=hours, start=EVENING)
    air = replace(hourly(hours, **{**DAMP, **weather}), start=np.array([EVENING]))
    return worked(farm, course_with(trajectory, setting, air), setting, now)


def sample_sheet(
    name: str, field: Field, baler: Baler, rig: Rig | None, shifts: tuple[Shift, ...], late_s: int
) -> Alone:
    """The middle forecast of a sample's first field, worked with other machines."""
    before = outlook_of(name).fields[0]
    farm = farm_of(field, baler, rig, shifts)
    setting = setting_for(farm, field, HOME, before.span.first)
    middle = only_lane(before.shown.weather)
    course = course_with(before.shown.trajectory.lanes(slice(0, 1)), setting, middle)
    return worked(farm, course, setting, before.span.first + np.timedelta64(late_s, "s"))


def only_lane(weather: HourlyWeather) -> HourlyWeather:
    """The first lane of some weather."""
    return replace(
        weather,
        start=weather.start[:1],
        columns={name: values[:, :1] for name, values in weather.columns.items()},
        repaired=weather.repaired[:, :1],
        basis=weather.basis[:, :1],
    )
