"""The run sheets as data: JSON ``hayweather/runsheet/2``, CSV of all steps, frames."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, get_args

from hayweather.baling.calls import Call
from hayweather.farm.records import UnitSystem
from hayweather.plan.record import WayName
from hayweather.plan.sheet_record import (
    AnswerKind,
    MachineKind,
    Piece,
    RunSheet,
    Step,
    StepKind,
)
from hayweather.show.outlook_data import CAUTIONS, answer_columns, head_notes
from hayweather.show.outlook_words import field_voice
from hayweather.show.runsheet_words import (
    emergency_sentence,
    field_sentences,
    machine_sentences,
    missed_sentences,
    sheet_voice,
    step_text,
)
from hayweather.show.table import Column, Document, Screen, Table, paired
from hayweather.show.voice import Voice, safety_texts, sentence

if TYPE_CHECKING:
    import pandas as pd

RATE = Column("water_l_per_t", "Mean rate of water by weight of hay; null without a rig",
              "water_l_t", "water_rate", us="water_gal_per_ton",
              screen=Screen("sheet_column_rate", for_rig=True))  # fmt: skip
FLOW = Column("flow_l_min", "Mean flow while moving", "flow_l_min", "flow", us="flow_gpm",
              screen=Screen("sheet_column_flow", for_rig=True))  # fmt: skip
SPEED = Column("speed_m_s", "Mean ground speed while moving", "speed_m_s", "wind_speed",
               us="speed_mph",
               screen=Screen("sheet_column_speed", quantity="ground_speed"))  # fmt: skip
WATER = Column("water_l", "Water leaving the tank", "water_l", "volume", us="water_gal",
               screen=Screen("sheet_column_water", for_rig=True))  # fmt: skip
AMOUNTS = (
    Column("tonnes", "Hay baled", "mass_kg", "tons", us="tons",
           screen=Screen("sheet_column_mass", extra=1)),
    Column("hectares", "Area baled", "area_m2", "area", us="acres",
           screen=Screen("sheet_column_area", extra=1, extra_metric=0)),
    WATER,
    Column("burner_fuel_l", "Fuel of the burners", "burner_fuel_l", "volume",
           us="burner_fuel_gal", screen=Screen("sheet_column_fuel", 5, extra=1, for_rig=True)),
    Column("bales", "Bales, not rounded", "bales", screen=Screen("sheet_column_bales", 4)),
    Column("loads", "Tanks of water, not rounded", "loads",
           screen=Screen("sheet_column_loads", 2, extra=2, for_rig=True)),
)  # fmt: skip
BURNER = (
    Column("burners_full_c", "Water behind the burners at full rate, by calculation",
           "heat.full_c", "temperature", us="burners_full_f"),
    Column("water_limit_c", "What it may not pass", "heat.limit_c", "temperature",
           us="water_limit_f"),
    Column("burner_refused", "Whether a burner has to be turned down or off", "heat.refused",
           kind="truth", null=True),
)  # fmt: skip
ANSWERS = Table(
    (
        Column("reads_wb", "What the meter reads, wet basis", quantity="percent"),
        Column("do", "Dial the rate; dial it and go slower; no water needed; leave the hay", "kind",
               kind="text", choices=get_args(AnswerKind)),
        replace(RATE, help="Rate to dial; null where there is none"),
        replace(FLOW, help="Flow while moving"),
        replace(SPEED, help="Ground speed"),
    ),
    "What to do where the meter reads other than expected.",
)  # fmt: skip
DIALS = Table(
    (
        Column("start", "Start", kind="time"),
        Column("end", "End", kind="time"),
        Column("reads_wb", "What a meter in the windrow is expected to read, wet basis",
               quantity="percent"),
        Column("moisture_after_wb", "Moisture behind the rig, wet basis", "after_wb", "percent"),
        replace(RATE, help="Rate to dial, a multiple of the rig's step; 0 without"),
        replace(FLOW, help="Flow while moving"),
        replace(SPEED, help="Ground speed"),
        *BURNER,
        Column("answers", "If the meter reads otherwise, driest first", kind="rows", of=ANSWERS),
    ),
    "A setting that can be dialed, for a quarter of an hour or less.",
)  # fmt: skip


def _of_work(name: str, empty: Any = ()) -> Any:
    """Something that only work has."""
    return lambda step: getattr(step, name, empty)


def _call(step: Step) -> str | None:
    """What the hay is called; null where nothing is baled."""
    return step.call.word if isinstance(step, Piece) else None


def _said(step: Step, voice: Voice) -> str:
    """A step in words."""
    if isinstance(step, Piece):
        return voice.say(f"sheet_way_{step.way}")
    return step_text(step, voice)


STEPS = Table(
    (
        Column("kind", "What the driver does", kind="text", choices=get_args(StepKind)),
        Column("start", "Start", kind="time", index=True),
        Column("end", "End", kind="time"),
        Column("field", "Where; null on no field", kind="text", null=True),
        Column("how", "On dew, behind the rig, or dry; null where nothing is baled",
               _of_work("way", None), kind="text", choices=get_args(WayName), null=True),
        Column("call", "What the hay is called; null where nothing is baled", _call, kind="text",
               choices=tuple(call.word for call in Call), null=True),
        Column("said", "In words", kind="text", said=_said),
        Column("baler_waits", "Of a fill: whether balers stand still meanwhile", kind="truth"),
        RATE,
        FLOW,
        SPEED,
        *AMOUNTS[:4],
        Column("windrow_moisture_wb", "Moisture before any water is added, wet basis",
               "windrow_wb", "percent", csv="windrow_moisture_percent_wb",
               screen=Screen("column_windrow", 6)),
        Column("leaf_moisture_wb", "Moisture of the leaves before that, wet basis", "leaf_wb",
               "percent", csv="leaf_moisture_percent_wb"),
        Column("moisture_after_wb", "Moisture behind the rig, wet basis; null without", "after_wb",
               "percent", csv="moisture_after_percent_wb",
               screen=Screen("column_after", 3)),
        Column("application_efficiency", "Part of the water that stays in the hay", "efficiency",
               unit="1"),
        *AMOUNTS[4:],
        Column("settings", "By the quarter of an hour", _of_work("dials"), kind="rows", of=DIALS),
        Column("reasons", "Why this call", _of_work("reasons"), kind="remarks"),
        Column("cautions", "What to mind", _of_work("cautions"), kind="remarks"),
    ),
    "One thing after another: to drive, set up, fill, wait, hand over, drain, or a piece of work.",
)  # fmt: skip
WORK_NUMBERS = tuple(
    STEPS[name]
    for name in (
        "windrow_moisture_wb", "moisture_after_wb", "water_l_per_t", "flow_l_min", "speed_m_s",
        "tonnes", "hectares", "bales", "water_l", "loads", "burner_fuel_l",
    )
)  # fmt: skip
"""Numbers of a piece in a table of text, in their order."""

TOTALS = Table(
    (
        Column("hours", "Of work", unit="h"),
        Column("dew_hours", "On natural dew", unit="h"),
        Column("rig_hours", "With added moisture", unit="h"),
        Column("dry_hours", "Dry, by the grower's word", unit="h"),
        *AMOUNTS,
        Column("fills", "Number of fills", kind="count"),
        Column("fill_minutes", "Time of all fills", unit="min"),
    ),
    "Sums.",
)
SIGNS = Table(
    (
        Column("start", "Before the start", kind="remarks"),
        Column("way", "On the way", kind="remarks"),
        Column("stop", "To stop", kind="remarks"),
    ),
    "What to look for in the windrow.",
)
DONE = Table(
    (
        Column("field", "Name of the field", lambda pair: pair[0], kind="text"),
        Column("at", "When it is baled", lambda pair: pair[1], kind="time"),
    ),
    "A field that this machine finishes.",
)


def _joined(texts: list[str]) -> str:
    """Sentences one after another."""
    return " ".join(sentence(text) for text in texts)


MACHINE = Table(
    (
        Column("machine", "Name in the farm file", "name", kind="text"),
        Column("kind", "Baler or rig", kind="text", choices=get_args(MachineKind)),
        Column("headline", "What the driver must know first", kind="text",
               said=lambda machine, voice: _joined(machine_sentences(machine, voice))),
        Column("steps", "In driving order", kind="rows", of=STEPS),
        Column("totals", "Sums", kind="row", of=TOTALS),
        Column("done", "Fields that it finishes", kind="rows", of=DONE),
        Column("signs", "In the windrow", kind="row", of=SIGNS),
        Column("relief", "When a crew is relieved, and by whom", kind="remarks"),
        Column("notes", "What limits the work, what was assumed", kind="remarks"),
    ),
    "One machine and its driver.",
)  # fmt: skip
FIELD = Table(
    (
        Column("field", "Name in the farm file", "name", kind="text"),
        Column("latitude", "Of its site, for an emergency call", "night.setting.site.latitude",
               unit="°"),
        Column("longitude", "Of its site, for an emergency call", "night.setting.site.longitude",
               unit="°"),
        Column("totals", "Sums of all machines", kind="row", of=TOTALS),
        Column("done_at", "When the whole field is baled", kind="time", null=True),
        Column("notes", "What is unknown of it, where to probe first, what is left out",
               kind="texts", said=field_sentences),
    ),
    "One field.",
    own_voice=lambda field, voice: field_voice(field.night, voice),
)  # fmt: skip
RUNSHEET = Document(
    "hayweather/runsheet/2",
    Table(
        (
            *answer_columns("night."),
            Column("missed", "Dates that are missed", kind="remarks"),
            Column("emergency", "Where to send help", kind="text", said=emergency_sentence),
            Column("machines", "One entry a machine that works", kind="rows", of=MACHINE),
            Column("fields", "One entry a field", kind="rows", of=FIELD),
            CAUTIONS,
        ),
        "What the driver of every machine does when (hayweather runsheet).",
    ),
)
MACHINE_STEPS = paired(
    Column("machine", "Name of the machine", "name", kind="text"),
    STEPS,
    "A step of a machine's driver.",
)


def runsheet_json(sheet: RunSheet, units: UnitSystem) -> str:
    """The run sheets as JSON text; `units` are those of the sentences in it."""
    return RUNSHEET.text(sheet, sheet_voice(sheet, units))


def runsheet_csv(sheet: RunSheet, units: UnitSystem, *, raw: bool = False) -> str:
    """The run sheets as CSV text: one row a step, machine by machine in driving order.

    Dates missed, the place for an emergency call and cautions stand before the header.
    """
    voice = sheet_voice(sheet, units)
    notes = list(head_notes(sheet.night, sheet.cautions, voice))
    mark = 1 if sheet.night.farm.weather.invented else 0
    notes = [*notes[:mark], *missed_sentences(sheet, voice), *notes[mark:]]
    notes += [emergency_sentence(sheet, voice), *safety_texts(voice)]
    rows = ((step, machine) for machine in sheet.machines for step in machine.steps)
    return MACHINE_STEPS.csv(rows, voice, notes, raw=raw)


def steps_frame(steps: Sequence[Step], voice: Voice) -> pd.DataFrame:
    """The steps of a machine as a DataFrame indexed by local start; see `Table.frame`."""
    return STEPS.frame(steps, voice)
