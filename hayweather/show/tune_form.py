"""A tuning as data: JSON (schema ``hayweather/tune/1``) and CSV; numbers in SI units."""

from __future__ import annotations

from hayweather.farm.records import UnitSystem
from hayweather.learning.tune import Fit, Fitted, prior_bar
from hayweather.learning.tuning_file import QUANTITIES, tuning_table
from hayweather.show.csv_text import records_csv
from hayweather.show.json_text import Json, json_text, number
from hayweather.show.safety import safety_texts
from hayweather.show.voice import Voice

SCHEMA = "hayweather/tune/1"


def tune_json(
    fit: Fit, voice: Voice, farm: str, file_units: UnitSystem, *, invented: bool = False
) -> str:
    """The tuning as JSON text.

    Parameters
    ----------
    fit
        What readings told.
    voice
        Language and units of the reader.
    farm
        Its name.
    file_units
        Units of the farm file, for the table to paste.
    invented
        True where the input says that it is made up; that is said first.
    """
    return json_text(tune_form(fit, voice, farm, file_units, invented=invented))


def tune_form(
    fit: Fit, voice: Voice, farm: str, file_units: UnitSystem, *, invented: bool = False
) -> Json:
    """The tuning as plain dictionaries and lists.

    Parameters
    ----------
    fit
        What was fitted.
    voice
        Language of the cautions.
    farm
        Its name.
    file_units
        Units of bare numbers in the farm file, and so of the table to paste.
    invented
        True for a sample.
    """
    return {
        "schema": SCHEMA,
        "farm": farm,
        "invented": invented,
        "readings_used": fit.used,
        "readings_left_out": fit.left_out,
        "readings_of_bales": fit.bales,
        "nights": fit.nights,
        "misfit_before": number(fit.before),
        "misfit_after": number(fit.after),
        "scatter": number(fit.scatter),
        "numbers": [_number(item) for item in fit.fitted],
        "tuning": tuning_table(fit, file_units),
        "cautions": safety_texts(voice),
    }


def _number(item: Fitted) -> Json:
    """One number; its bar is null where it was kept."""
    low, high = prior_bar(item.knob)
    fitted = item.status == "fitted"
    return {
        "name": item.knob.name,
        "unit": "K" if item.knob.name in QUANTITIES else "1",
        "status": item.status,
        "value": number(item.value),
        "low": number(item.low) if fitted else None,
        "high": number(item.high) if fitted else None,
        "prior_low": number(low),
        "prior_high": number(high),
        "bar_of_prior": number(item.share) if fitted else 1.0,
    }


def tune_csv(fit: Fit) -> str:
    """The numbers as CSV, empty where they are null in the JSON.

    Parameters
    ----------
    fit
        What readings told.
    """
    return records_csv([_number(item) for item in fit.fitted])
