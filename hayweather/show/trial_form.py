"""A trial of strips as JSON (schema ``hayweather/trial/1``) and as CSV, a row a quantity."""

from __future__ import annotations

from dataclasses import asdict

from hayweather.seasons.record.trial import Difference, Trial, TrialMoney
from hayweather.show.csv_text import csv_text
from hayweather.show.json_text import Json, json_text, number
from hayweather.show.safety import safety_texts, short_safety_texts
from hayweather.show.trial_text import UNITS, by_area_shown, differences, is_mass
from hayweather.show.voice import Voice
from hayweather.units import ACRE_M2, HECTARE_M2, POUND_KG

SCHEMA = "hayweather/trial/1"


def trial_json(trial: Trial, voice: Voice, *, invented: bool = False) -> str:
    """A trial as JSON text; weights by hectare and by acre.

    Parameters
    ----------
    trial
        What to show.
    voice
        Language and units of the reader.
    invented
        True where the input says that it is made up; that is said first.
    """
    form = {
        "schema": SCHEMA,
        "file": trial.file,
        "invented": invented,
        "strips": len(trial.strips),
        "verdict": trial.verdict,
        "sentence": voice.say(f"trial_verdict_{trial.verdict}"),
        "needed_bales": trial.needed_bales,
        "left_out": list(trial.left_out),
        "differences": {name: _form(name, item) for name, item in differences(trial)},
        "money": None if trial.money is None else _money_form(trial.money),
        "cautions": safety_texts(voice),
    }
    return json_text(form)


_VALUES = ("with_water", "without", "value", "low", "high", "smallest")


def _form(name: str, item: Difference) -> Json:
    """A difference in both unit systems, or in points of percent."""
    values = asdict(item)
    form: Json = {key: values[key] for key in ("paired", "shown", "needed")} | {
        key: number(values[key]) for key in ("t", "degrees", "probability")
    }
    form["count"] = list(item.count)
    for key in _VALUES:
        value = values[key]
        if not is_mass(name):
            form[key] = number(value)
            continue
        form[f"{key}_kg_ha"] = None if value is None else number(value * HECTARE_M2)
        form[f"{key}_lb_acre"] = None if value is None else number(value * ACRE_M2 / POUND_KG)
    return form


def _money_form(money: TrialMoney) -> Json:
    """Money by acre and by hectare."""
    form: Json = {}
    for name, value in asdict(money).items():
        parts = value if isinstance(value, tuple | list) else [value]
        for unit, area in (("acre", ACRE_M2), ("ha", HECTARE_M2)):
            scaled = [None if part is None else number(part * area) for part in parts]
            form[f"{name}_{unit}"] = scaled[0] if len(scaled) == 1 else scaled
    return form


def trial_csv(trial: Trial, voice: Voice, *, invented: bool = False) -> str:
    """A trial as CSV: one row a quantity; lines before the header begin with ``#``.

    Parameters
    ----------
    trial
        What to show.
    voice
        Language and units of the reader.
    invented
        True where the input says that it is made up; that is said first.
    """
    head = [voice.say("trial_invented")] if invented else []
    head.append(voice.say(f"trial_verdict_{trial.verdict}"))
    rows = [_row(name, item, voice) for name, item in differences(trial)]
    cells = ([row[column] for column in COLUMNS] for row in rows)
    return csv_text(COLUMNS, cells, (*head, *short_safety_texts(voice)))


COLUMNS = (
    *("quantity", "unit", *_VALUES, "t", "degrees", "probability"),
    *("paired", "count_with_water", "count_without", "shown", "needed"),
)


def _row(name: str, item: Difference, voice: Voice) -> Json:
    """One quantity in the reader's units."""
    values = asdict(item)
    row: Json = {
        "quantity": name,
        "unit": UNITS[voice.units] if is_mass(name) else "percent_of_dry_matter",
    }
    for key in (*_VALUES, "t", "degrees", "probability"):
        value = values[key]
        if value is not None and key in _VALUES and is_mass(name):
            value = by_area_shown(value, voice)
        row[key] = None if value is None else number(value)
    row["paired"], row["shown"] = (str(values[key]).lower() for key in ("paired", "shown"))
    row["count_with_water"], row["count_without"] = item.count
    return row | {"needed": item.needed}
