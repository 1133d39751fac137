"""The run sheet: an outlook's windows as work for baler and rig."""

from __future__ import annotations

from hayweather.baling.setting import unnamed_machines
from hayweather.farm.records import Farm
from hayweather.nights import FieldNight, Night
from hayweather.plan.sheet_advice import notes_of, signs_of, water_per_point_l_t
from hayweather.plan.sheet_pace import machines_of
from hayweather.plan.sheet_pieces import pieces_of, slots_of, totals_of
from hayweather.plan.sheet_record import FieldSheet, RunSheet
from hayweather.plan.sheet_shifts import duties_of, relief_remarks
from hayweather.plan.sheet_walk import walk
from hayweather.words import Remark


def make_runsheet(farm: Farm, outlook: Night) -> RunSheet:
    """What to do when in each field of an outlook: rates, speed, loads, fills, fuel.

    Every field's sheet stands alone, as if baler and rig worked there only.
    Work keeps to the windows of the outlook, so to no stopped hour, and to the
    farm's shifts where it names some; it ends when the field is done.

    Parameters
    ----------
    farm
        The farm.
    outlook
        Of the farm or of some of its fields.

    Raises
    ------
    FarmFileError
        If the baler takes nothing, or a windrow is heavier than it takes.
    """
    fields = tuple(_sheet(farm, field, outlook) for field in outlook.fields)
    alone = (Remark("sheet_each_alone"),) if len(fields) > 1 else ()
    return RunSheet(outlook, fields, (*alone, *outlook.cautions))


def _sheet(farm: Farm, field: FieldNight, outlook: Night) -> FieldSheet:
    """The sheet of one field."""
    setting, timezone = field.setting, str(field.setting.site.timezone)
    machines = machines_of(setting, farm.units, str(farm.path or ""))
    duties = duties_of(farm, timezone, field.span.first, field.span.last)
    slots, beyond_h = slots_of(field, machines, duties, outlook.now)
    always, _ = slots_of(field, machines, None, outlook.now)
    off_duty_h = sum(slot.seconds for slot in always) - sum(slot.seconds for slot in slots)
    work = walk(slots, machines, machines.mass_of_area_kg(setting.field.area_m2))
    pieces = pieces_of(work.stretches, field, machines, duties)
    return FieldSheet(
        outlook=field,
        windows=pieces,
        fills=work.fills,
        totals=totals_of(pieces, work.fills),
        area_done_at=work.done_at,
        water_per_point_l_t=water_per_point_l_t(pieces, machines),
        signs=signs_of(machines, pieces),
        relief=relief_remarks(pieces, duties, farm, timezone),
        notes=(
            *unnamed_machines(farm, setting.field),
            *notes_of(machines, pieces, work, off_duty_h=off_duty_h / 3600, beyond_h=beyond_h),
        ),
    )
