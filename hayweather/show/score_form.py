"""A score of past outlooks as data: JSON (schema ``hayweather/score/1``) and CSV."""

from __future__ import annotations

from collections.abc import Iterator

from hayweather.learning.happened import TimeError
from hayweather.learning.score import Bin, MoistureError, RuleScore, Score
from hayweather.show.csv_text import csv_text
from hayweather.show.json_text import Json, json_text, number
from hayweather.show.safety import safety_texts
from hayweather.show.voice import Voice

SCHEMA = "hayweather/score/1"
COLUMNS = ("table", "row", "measure", "value")


def score_json(score: Score, voice: Voice, farm: str, *, invented: bool = False) -> str:
    """The score as JSON text; null where a number is not known.

    Parameters
    ----------
    score
        What to show.
    voice
        Language and units of the reader.
    farm
        Its name.
    invented
        True where the input says that it is made up; that is said first.
    """
    return json_text(score_form(score, voice, farm, invented=invented))


def score_form(score: Score, voice: Voice, farm: str, *, invented: bool = False) -> Json:
    """The score as plain dictionaries and lists."""
    return {
        "schema": SCHEMA,
        "farm": farm,
        "invented": invented,
        "outlooks": score.outlooks,
        "hours": score.hours,
        "hours_without_outlook": score.unspoken,
        "nights": score.nights,
        "times_baled": score.bouts,
        "lead_hours": number(score.lead_h),
        "rules": [_rule(rule) for rule in score.rules],
        "moisture": [_moisture(each) for each in score.moisture],
        "reliability": [_bin(each) for each in score.reliability],
        "starts_in_range": {"held": score.starts_held, "shown": score.starts_timed},
        "cautions": safety_texts(voice),
    }


def _rule(rule: RuleScore) -> Json:
    """One rule; counts are null where it had no answer."""
    counts = rule.counts
    return {
        "rule": rule.name,
        "hits": None if counts is None else counts.hits,
        "misses": None if counts is None else counts.misses,
        "false_alarms": None if counts is None else counts.false_alarms,
        "false_alarms_too_wet": None if counts is None else rule.too_wet,
        "quiet": None if counts is None else counts.quiet,
        "wrong": None if counts is None else counts.wrong,
        "brier": number(rule.brier),
        "start_minutes": _time(rule.start),
        "end_minutes": _time(rule.end),
    }


def _time(error: TimeError) -> Json:
    """Errors of times [min]."""
    return {
        "count": error.count,
        "bias": number(error.bias_min),
        "mean_absolute": number(error.mean_min),
    }


def _moisture(error: MoistureError) -> Json:
    """Errors of moisture [points wet basis] in one clock hour; hour null: all."""
    return {
        "hour": error.hour,
        "readings": error.count,
        "bias_wb": number(error.bias_wb),
        "rms_wb": number(error.rms_wb),
    }


def _bin(each: Bin) -> Json:
    """One row of the chances."""
    return {
        "from": each.low,
        "to": each.high,
        "hours": each.hours,
        "said": number(each.said),
        "happened": number(each.happened),
    }


def score_csv(score: Score, voice: Voice, farm: str) -> str:
    """All numbers, one a row: table, row, measure, value; empty where not known.

    Parameters
    ----------
    score
        What to show.
    voice
        Language and units of the reader.
    farm
        Its name.
    """
    return csv_text(COLUMNS, _numbers(score_form(score, voice, farm)))


def _numbers(form: Json) -> Iterator[tuple[str, str, str, object]]:
    """The numbers of a form, tables one after another."""
    for name in ("outlooks", "hours", "hours_without_outlook", "nights", "times_baled"):
        yield "all", "", name, form[name]
    yield "all", "", "lead_hours", form["lead_hours"]
    names = {"rules": "rule", "moisture": "hour", "reliability": "from"}
    for table, key in names.items():
        for row in form[table]:
            label = "all" if row[key] is None else str(row[key])
            for measure, value in _flat({k: v for k, v in row.items() if k != key}):
                yield table, label, measure, value
    for measure, value in form["starts_in_range"].items():
        yield "starts_in_range", "", measure, value


def _flat(row: Json) -> Iterator[tuple[str, object]]:
    """The numbers of one row; those of a group with its name before them."""
    for name, value in row.items():
        if isinstance(value, dict):
            yield from ((f"{name}_{part}", number_) for part, number_ in value.items())
        else:
            yield name, value
