"""Every text that a person reads, in English and Spanish.

The table is the set of ``*.toml`` files beside this module, one a room of the
program. Each entry is ``[key]`` with ``en`` and ``es``; both are required and
name the same ``{fields}``; ``{count:hour|hours}`` is the first word beside a one,
else the second. Values arrive as finished strings: units and clock times are
formatted by the caller (`hayweather.show.voice`), because this module knows neither.
"""

from __future__ import annotations

import os
import string
import tomllib
from dataclasses import dataclass, field
from functools import cache
from importlib import resources
from typing import Literal

LANGUAGES = ("en", "es")
LANGUAGE_VARIABLE = "HAYWEATHER_LANGUAGE"
FAMILIES = (
    "advice_", "amount_", "amount_water_rate_", "answer_", "assumed_", "calendar_", "call_",
    "card_", "chance_", "changed_", "chart_", "chart_line_", "column_", "crop_", "day_", "doubt_",
    "error_", "farm_", "farm_key_", "farm_note_clock_", "farm_table_", "farm_value_",
    "fields_class_", "fields_column_", "fields_column_water_", "fields_price_", "fields_quality_",
    "fields_reason_", "fields_rule_", "fields_source_", "fields_way_", "flag_", "grid_column_",
    "grid_column_share_", "grid_file_", "grid_needs_", "help_", "inspect_origin_", "inspect_sites_",
    "inspect_units_", "judge_advice_", "learn_error_", "log_column_", "log_event_", "log_kind_",
    "log_layer_", "log_method_", "machine_",
    "message_", "month_", "old_", "place_", "reason_cause_", "reason_missing_",
    "record_", "refused_", "repair_", "runs_", "score_column_", "score_kind_", "score_layer_",
    "score_legend_", "score_note_no_", "score_rule_", "score_title_", "screen_column_area_",
    "screen_how_", "screen_way_", "seasons_", "seasons_answer_rig_", "seasons_column_",
    "seasons_cost_", "seasons_decides_", "seasons_first_", "seasons_input_", "seasons_missing_",
    "seasons_month_short_", "seasons_pays_gain_", "seasons_rig_price_", "seasons_sway_",
    "service_key_", "service_origin_", "service_stored_", "sheet_column_", "sheet_hours_",
    "sheet_machine_", "sheet_signs_", "sheet_way_", "sheet_word_", "step_", "store_kind_", "strip_",
    "strip_named_", "trial_column_", "trial_quantity_", "trial_verdict_", "tune_", "tune_column_",
    "weather_hour_", "weather_layout_", "weather_missing_", "weather_origin_", "weather_timing_",
    "web_role_",
)  # fmt: skip
"""Beginnings of keys that the code puts together: ``call_too_dry`` is not found by grep,
``f"call_{`` is, and so is ``too_dry``. Every other key stands whole where it is said."""


@dataclass(frozen=True)
class Remark:
    """A text to be said later, with what its fields show.

    Attributes
    ----------
    key
        Name of the text in the table.
    **values
        ``{field: value}``; a value is a finished string, a UTC
        ``numpy.datetime64`` (shown as a local time), ``(number, quantity)`` with
        a quantity of `hayweather.units` (shown in the reader's units), or another
        remark.
    """

    key: str
    values: dict[str, object] = field(default_factory=dict)


class _Words(string.Formatter):
    """Fields filled in, and of two words the one that goes with a count."""

    def format_field(self, value: object, format_spec: str) -> str:
        one, two_words, more = format_spec.partition("|")
        if not two_words:
            return str(super().format_field(value, format_spec))
        return one if str(value) == "1" else more


_FILLED = _Words()


def default_language() -> Literal["en", "es"]:
    """Language before a farm file is read: English, or what the environment says."""
    named = os.environ.get(LANGUAGE_VARIABLE, "").strip().lower()
    return "es" if named == LANGUAGES[1] else "en"


@cache
def table() -> dict[str, dict[str, str]]:
    """All texts, ``{key: {language: template}}``.

    Raises
    ------
    ValueError
        If a key stands in two files.
    """
    texts: dict[str, dict[str, str]] = {}
    for file in sorted(resources.files(__name__).iterdir(), key=lambda item: item.name):
        if not file.name.endswith(".toml"):
            continue
        for key, entry in tomllib.loads(file.read_text(encoding="utf-8")).items():
            if key in texts:
                raise ValueError(f"text {key!r} stands twice, again in {file.name}")
            texts[key] = entry
    return texts


def say(key: str, language: str = "en", /, **values: object) -> str:
    """The text `key` in `language` with its fields filled.

    Parameters
    ----------
    key
        Name of the text in one of the tables.
    language
        ``en`` or ``es``.
    **values
        For the fields in braces, as they are to stand.

    Raises
    ------
    KeyError
        If there is no such text, or a field of it has no value.

    Examples
    --------
    >>> say("call_too_dry")
    'too dry'
    >>> say("call_too_dry", "es")
    'muy seco'
    >>> say("amount_area_us", number="1"), say("amount_area_us", number="1.5")
    ('1 acre', '1.5 acres')
    """
    text = table()[key][language]
    return _FILLED.format(text, **values) if "|" in text else text.format(**values)
