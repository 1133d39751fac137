"""The run sheet as data: JSON ``hayweather/runsheet/1``, CSV of work and fills, frames."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from hayweather.baling.calls import BALED
from hayweather.farm.records import UnitSystem
from hayweather.plan.sheet_record import FieldSheet, Fill, RunSheet, SheetWindow
from hayweather.show.outlook_data import CAUTIONS, answer_columns, head_notes, headline, voice_of
from hayweather.show.outlook_words import farm_voice, field_voice
from hayweather.show.runsheet_words import sheet_sentences
from hayweather.show.table import SEPARATOR, Column, Document, Json, Screen, Table, paired
from hayweather.show.voice import Voice, safety_texts

if TYPE_CHECKING:
    import pandas as pd

FILL = "fill"
Item = SheetWindow | Fill

RATE = Column("water_l_per_t", "Mean rate of water by weight of hay; null on dew", "water_l_t",
              "water_rate", us="water_gal_per_ton",
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
STEPS = Table(
    (
        Column("from", "From when on", "start", kind="time"),
        replace(RATE, help="Rate to dial, a multiple of the rig's step"),
        replace(FLOW, help="Flow while moving"),
        replace(SPEED, help="Ground speed"),
    ),
    "A rate to dial.",
)


def _rates(item: Item, voice: Voice) -> str:
    """Rates to dial in one cell."""
    steps = item.rate_steps if isinstance(item, SheetWindow) else ()
    return SEPARATOR.join(
        f"{voice.iso(step.start)} {voice.number(step.water_l_t, 'water_rate')}" for step in steps
    )


def _kind(item: Item) -> str:
    """Its call, or that it is a fill."""
    return FILL if isinstance(item, Fill) else item.call.word


def _remarks(name: str) -> Any:
    """Reasons or cautions of a piece; a fill has none."""
    return lambda item: getattr(item, name, ())


WORK = Table(
    (
        Column("start", "Start", kind="time", index=True),
        Column("end", "End", kind="time"),
        Column("call", "On natural dew or with added moisture; in CSV a fill as well", _kind,
               kind="text", choices=tuple(call.word for call in BALED)),
        RATE,
        FLOW,
        SPEED,
        *AMOUNTS[:4],
        Column("windrow_moisture_wb", "Moisture before any water is added, wet basis",
               "windrow_wb", "percent", csv="windrow_moisture_percent_wb",
               screen=Screen("column_windrow", 6)),
        Column("leaf_moisture_wb", "Moisture of the leaves before that, wet basis", "leaf_wb",
               "percent", csv="leaf_moisture_percent_wb"),
        Column("moisture_after_wb", "Moisture behind the rig, wet basis; null on dew", "after_wb",
               "percent", csv="moisture_after_percent_wb",
               screen=Screen("column_after", 3, for_rig=True)),
        Column("application_efficiency", "Part of the water that stays in the hay", "efficiency",
               unit="1"),
        *AMOUNTS[4:],
        Column("rates", "Rates to dial", kind="text", said=_rates, only="csv"),
        Column("rate_steps", "Rates to dial", kind="rows", of=STEPS),
        Column("reasons", "Why this call", _remarks("reasons"), kind="remarks"),
        Column("cautions", "What to mind", _remarks("cautions"), kind="remarks"),
    ),
    "A piece of work of at most an hour, without a stop or a fill in it.",
)  # fmt: skip
WORK_NUMBERS = tuple(
    WORK[name]
    for name in (
        "windrow_moisture_wb", "moisture_after_wb", "water_l_per_t", "flow_l_min", "speed_m_s",
        "tonnes", "hectares", "bales", "water_l", "loads", "burner_fuel_l",
    )
)  # fmt: skip
"""Numbers of a piece in a table of text, in their order."""

FILLS = Table(
    (
        Column("start", "Start", kind="time", index=True),
        Column("minutes", "How long, the way to the water included", unit="min"),
        Column("baler_waits", "Whether the baler stands still meanwhile", kind="truth"),
    ),
    "A way to the water and back.",
)
TOTALS = Table(
    (
        Column("hours", "Of work", unit="h"),
        Column("dew_hours", "On natural dew", unit="h"),
        Column("rig_hours", "With added moisture", unit="h"),
        *AMOUNTS,
        Column("fills", "Number of fills", kind="count"),
        Column("fill_minutes", "Time of all fills", unit="min"),
    ),
    "Sums of a field.",
)
SIGNS = Table(
    (
        Column("start", "Before the start", kind="remarks"),
        Column("way", "On the way", kind="remarks"),
        Column("stop", "To stop", kind="remarks"),
    ),
    "What to look for in the windrow.",
)


def _headline(pair: tuple[FieldSheet, RunSheet], voice: Voice) -> str:
    return headline(sheet_sentences(pair[0], voice), pair[1].outlook, voice)


def _of(name: str) -> Any:
    """An attribute of the field's sheet."""
    return lambda pair: getattr(pair[0], name)


FIELD = Table(
    (
        Column("field", "Name in the farm file", _of("name"), kind="text"),
        Column("windows", "Work in order of time", _of("windows"), kind="rows", of=WORK),
        Column("fill_at", "Fills in order of time", _of("fills"), kind="rows", of=FILLS),
        Column("totals", "Sums", _of("totals"), kind="row", of=TOTALS),
        Column("area_done_at", "When the whole field is baled", _of("area_done_at"), kind="time",
               null=True),
        Column("water_l_per_t_per_point", "More water for every point of moisture drier than shown",
               _of("water_per_point_l_t"), "water_rate", us="water_gal_per_ton_per_point"),
        Column("signs", "In the windrow", _of("signs"), kind="row", of=SIGNS),
        Column("relief", "When a crew is relieved, and by whom", _of("relief"), kind="remarks"),
        Column("notes", "What limits the work, what was assumed", _of("notes"), kind="remarks"),
        Column("headline", "What the operator must know first", kind="text", said=_headline),
    ),
    "One field.",
    own_voice=lambda pair, voice: field_voice(pair[0].outlook, voice),
)  # fmt: skip
RUNSHEET = Document(
    "hayweather/runsheet/1",
    Table(
        (
            *answer_columns("outlook."),
            Column("fields", "One entry a field", kind="rows", of=FIELD,
                   value=lambda sheet: [(field, sheet) for field in sheet.fields]),
            CAUTIONS,
        ),
        "What the operator does when (hayweather runsheet).",
    ),
)  # fmt: skip
FIELD_WORK = paired(
    Column("field", "Name of the field", "name", kind="text"),
    WORK,
    "A piece of work or a fill of a field.",
    own_voice=lambda pair, voice: field_voice(pair[1].outlook, voice),
)


def runsheet_json(sheet: RunSheet, units: UnitSystem) -> str:
    """The run sheet as JSON text; `units` are those of the sentences in it."""
    return RUNSHEET.text(sheet, farm_voice(sheet.outlook, units))


def runsheet_form(sheet: RunSheet, units: UnitSystem) -> Json:
    """The run sheet as plain dictionaries and lists."""
    return RUNSHEET.form(sheet, farm_voice(sheet.outlook, units))


def runsheet_csv(sheet: RunSheet, units: UnitSystem, *, raw: bool = False) -> str:
    """The run sheet as CSV text: one row a piece of work or a fill, in order of time.

    Cautions stand in lines before the header.
    """
    voice = farm_voice(sheet.outlook, units)
    notes = [*head_notes(sheet.outlook, sheet.cautions, voice), *safety_texts(voice)]
    rows = ((item, field) for field in sheet.fields for item in in_time(field))
    return FIELD_WORK.csv(rows, voice, notes, raw=raw)


def in_time(field: FieldSheet) -> list[Item]:
    """Pieces of work and fills of a field in order of time."""
    items: list[Item] = [*field.windows, *field.fills]
    return sorted(items, key=lambda item: item.start)


def sheet_frame(field: FieldSheet, units: UnitSystem = "metric") -> pd.DataFrame:
    """The work of a field as a DataFrame indexed by its local start; see `Table.frame`."""
    return WORK.frame(field.windows, voice_of(field.outlook, units))
