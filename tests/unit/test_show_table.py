"""One definition of each shown quantity: forms made from it agree, and its schemas are shipped."""

import csv
import json
import math
from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator, ValidationError
from support.outlooks import outlook_of
from support.schemas import schema_of
from support.sheets import first_come

from hayweather.plan.sheet import make_runsheet
from hayweather.show.outlook_data import (
    FIELD_HOURS,
    HOURS,
    hours_frame,
    outlook_csv,
    outlook_form,
    windows_frame,
)
from hayweather.show.runsheet_data import runsheet_csv, runsheet_json, steps_frame
from hayweather.show.schema_files import FOLDER, all_schemas
from hayweather.show.table import Column, Document, Screen, Table, csv_text, json_text
from hayweather.show.voice import Voice
from hayweather.spreadsheet import held_back, let_go
from hayweather.units import symbol_of, to_shown

US, METRIC = Voice("en", "us", "America/Denver"), Voice("en", "metric", "America/Denver")


@dataclass(frozen=True)
class Made:
    """A row of the table below."""

    start: np.datetime64
    rain: float | None
    word: str = "wet"


TABLE = Table(
    (
        Column("start", "When", kind="time", index=True),
        Column("rain_mm", "Rain", "rain", "rain", us="rain_in", screen=Screen("column_rain")),
        Column("word", "What", kind="text", choices=("wet", "dry")),
    ),
    "A row.",
)
ROW = Made(np.datetime64("2025-07-08T23:00:00"), 25.4)


def test_one_column_makes_json_csv_frame_text_and_schema():
    document = Document("hayweather/made/1", TABLE)
    form = document.form(ROW, US)
    assert form == {
        "schema": "hayweather/made/1",
        "start": "2025-07-08T17:00:00-06:00",
        "rain_mm": 25.4,
        "rain_in": 1.0,
        "word": "wet",
    }
    assert TABLE.csv([ROW], US).splitlines() == [
        "start,rain_in,word",
        "2025-07-08T17:00:00-06:00,1.0,wet",
    ]
    frame = TABLE.frame([ROW], METRIC)
    assert frame.index.tz is not None
    assert frame["rain_mm"].tolist() == [25.4]
    assert frame.attrs["units"] == {"start": "", "rain_mm": "mm", "word": ""}
    assert TABLE["rain_mm"].text_column([ROW], US).cells == ("1.00",)
    Draft202012Validator.check_schema(document.schema())
    Draft202012Validator(document.schema()).validate(form)


@pytest.mark.parametrize(
    "change", [{"word": "damp"}, {"rain_mm": "much"}, {"more": 1}, {"schema": "other/1"}]
)
def test_a_schema_refuses_what_its_table_does_not_make(change):
    document = Document("hayweather/made/1", TABLE)
    with pytest.raises(ValidationError):
        Draft202012Validator(document.schema()).validate(document.form(ROW, US) | change)


@pytest.mark.parametrize("unknown", [None, math.nan])
def test_what_is_not_known_is_null_blank_and_nan(unknown):
    row = Made(ROW.start, unknown)
    assert TABLE.record(row, US)["rain_mm"] is None
    assert TABLE.csv([row], US).splitlines()[1].split(",")[1] == ""
    assert np.isnan(TABLE.frame([row], US)["rain_in"]).all()
    assert TABLE["rain_mm"].text_column([row], US).cells == ("?",)


def test_no_rows_still_name_their_columns():
    assert TABLE.csv([], US) == "start,rain_in,word\n"
    assert list(TABLE.frame([], US).columns) == ["rain_in", "word"]


# What a spreadsheet runs: OWASP, CSV injection, as of 2025 (from memory).
@pytest.mark.parametrize("text", ["=1+1", "+1+1", "-1+1", "@SUM(A1)", "\t=1", "\r=1"])
def test_formulas_are_held_back_unless_raw_is_asked_for(text):
    held = list(csv.reader(csv_text(["a"], [[text]]).splitlines()[1:]))
    assert held_back(text) == f"'{text}"
    assert held[0][0].startswith("'")
    assert f"'{text}" not in csv_text(["a"], [[text]], raw=True)


@pytest.mark.parametrize("cell", [-0.25, "-0.25", "+1e3", None, "bench", ""])
def test_numbers_and_plain_texts_are_left_alone(cell):
    assert held_back(cell) == cell


def test_shipped_schemas_are_those_of_the_tables():
    """`python -m hayweather.show.schema_files` writes them anew."""
    made = {name: json_text(schema) for name, schema in all_schemas().items()}
    shipped = {path.name: path.read_text(encoding="utf-8") for path in FOLDER.glob("*.json")}
    assert made == shipped
    for schema in all_schemas().values():
        Draft202012Validator.check_schema(schema)


@pytest.mark.slow
@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("name", ["sagebeck", "vallumbria"])
def test_every_form_of_an_outlook_says_the_same(name, units):
    made = outlook_of(name)
    form = json.loads(json_text(outlook_form(made, units)))
    Draft202012Validator(schema_of(form["schema"])).validate(form)
    lines = [line for line in outlook_csv(made, units).splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(lines))
    hours = [hour for field in form["fields"] for hour in field["hours"]]
    assert len(rows) == len(hours) > 0
    for row, hour in zip(rows, hours, strict=True):
        assert (row["start"], row["call"]) == (hour["start"], hour["call"])
        for column in (column for column in HOURS.columns if column.quantity):
            shown, inside = row[column.named(units)], hour[column.name]
            assert (shown == "") == (inside is None), column.name
            if inside is not None:
                # JSON and CSV are rounded to four and to the column's decimals.
                wanted = to_shown(inside, column.quantity, units)
                assert abs(float(shown) - wanted) <= 0.6 * 10**-column.decimals + 2e-4


@pytest.mark.parametrize("units", ["us", "metric"])
def test_frames_hold_all_digits_on_the_local_clock(units):
    field = outlook_of("sagebeck").fields[0]
    frame = hours_frame(field, units)
    assert len(frame) == len(field.hours)
    assert str(frame.index.tz) == field.setting.site.timezone
    assert [t.isoformat() for t in frame.index] == [
        hour["start"] for hour in outlook_form(outlook_of("sagebeck"), units)["fields"][0]["hours"]
    ]
    wanted = [to_shown(hour.air.temperature_c, "temperature", units) for hour in field.hours]
    name = "air_temperature_f" if units == "us" else "air_temperature_c"
    assert frame[name].tolist() == wanted
    assert frame.attrs["units"][name] == symbol_of("temperature", units)
    assert list(frame.columns) == FIELD_HOURS.names(units)[2:]
    windows = windows_frame(field, units)
    assert windows["hours"].tolist() == [window.hours for window in field.windows]


@pytest.mark.slow
@pytest.mark.parametrize("units", ["us", "metric"])
def test_every_form_of_a_run_sheet_says_the_same(units):
    made = outlook_of("sagebeck")
    sheet = make_runsheet(made, first_come(made))
    form = json.loads(runsheet_json(sheet, units))
    Draft202012Validator(schema_of(form["schema"])).validate(form)
    lines = [line for line in runsheet_csv(sheet, units).splitlines() if not line.startswith("#")]
    rows = list(csv.DictReader(lines))
    steps = [step for machine in form["machines"] for step in machine["steps"]]
    assert len(rows) == len(steps) > 0
    work = [row for row in rows if row["kind"] == "work"]
    pieces = [step for step in steps if step["kind"] == "work"]
    mass = "tons" if units == "us" else "tonnes"
    assert [float(row[mass]) for row in work] == [piece[mass] for piece in pieces]
    for machine in sheet.machines:
        tonnes = [piece.mass_kg / 1000 for piece in machine.pieces]
        frame = steps_frame(machine.steps, Voice("en", "metric", made.timezone))
        assert frame["tonnes"].dropna().tolist() == tonnes


def test_what_is_kept_has_all_digits():
    made = outlook_of("sagebeck")
    exact = outlook_form(made, "us", exact=True)["fields"][0]["hours"]
    hours = made.fields[0].hours
    assert [hour["windrow_moisture_wb"] for hour in exact] == [h.hay.windrow_wb for h in hours]
    rounded = outlook_form(made, "us")["fields"][0]["hours"]
    assert [hour["windrow_moisture_wb"] for hour in rounded] == [
        round(h.hay.windrow_wb, 4) for h in hours
    ]


def every_table(table, seen):
    """A table and all inside it."""
    if id(table) not in seen:
        seen[id(table)] = table
        for column in table.columns:
            if column.of is not None:
                every_table(column.of, seen)
    return seen.values()


def test_every_column_says_what_it_is_in_a_known_unit():
    from hayweather.show.schema_files import DOCUMENTS
    from hayweather.units import QUANTITIES
    from hayweather.words import table as texts

    for document in DOCUMENTS:
        for table in every_table(document.table, {}):
            keys = [(column.group, column.name) for column in table.columns if not column.only]
            assert len(set(keys)) == len(keys), document.schema_name
            for column in table.columns:
                assert column.help, column.name
                assert column.quantity in ("", *QUANTITIES), column.name
                assert not column.us or column.quantity, column.name
                if column.screen is not None and column.screen.heading:
                    assert column.screen.heading in texts(), column.name


@given(text=st.text(alphabet="'=+-@\t\r\n 1.e5ax,;", max_size=8))
def test_what_is_held_back_is_let_go_again(text):
    held = str(held_back(text))
    assert let_go(held) == text
    assert not held.startswith(("=", "@", "\t", "\r")), "no formula is left"
    if held.startswith(("+", "-")):
        assert math.isfinite(float(held))  # a number stays a number


def test_a_name_in_a_note_makes_no_cell_that_runs():
    """A spreadsheet cuts lines of notes at their commas too."""
    noted = csv_text(["a"], [[1]], ["North,=1+1;@x, -5 C"])
    assert noted.startswith("# North,'=1+1;'@x, -5 C\n")
    assert csv_text(["a"], [], ["North,=1+1"], raw=True).startswith("# North,=1+1\n")
