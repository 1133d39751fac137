"""A score of past outlooks: text, JSON (schema ``hayweather/score/1``) and CSV."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from hayweather.learning.score import MoistureError, RuleScore, Score
from hayweather.learning.skill import Bin
from hayweather.learning.times import TimeError
from hayweather.show.layout import (
    WIDEST_PROSE,
    bulleted_sentences,
    bullets,
    columns_under,
    paragraphs,
    table_lines,
    wrapped,
)
from hayweather.show.table import Json, csv_text, json_text, number
from hayweather.show.voice import Voice, safety_texts, shown_safety

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


UNKNOWN = "-"
FEW_HOURS = 100  # fewer in a row of chances tell little
CALLS = ("rule", "hits", "misses", "false", "wet", "wrong", "brier")
TIMES = ("rule", "bouts", "start_bias", "start_error", "end_bias", "end_error")
MOISTURES = ("hour", "readings", "bias", "error")
CHANCES = ("chance", "hours", "said", "happened")

Rows = Sequence[tuple[str, ...]]


def score_text(
    score: Score,
    voice: Voice,
    farm: str,
    width: int = 80,
    *,
    invented: bool = False,
    all_cautions: bool = False,
) -> str:
    """The score for a person, no line wider than `width` where that can be kept.

    Parameters
    ----------
    score
        What was found.
    voice
        Language of the reader.
    farm
        Its name.
    width
        Characters of a line.
    invented
        True for a sample; it is then said first.
    all_cautions
        True for the cautions in full instead of their short form.
    """
    prose = min(width, WIDEST_PROSE)
    rules = score.rules
    blocks = [
        _head(score, voice, farm, prose, invented),
        _table("calls", CALLS, _rule_rows(rules, voice), voice, width),
        _table("times", TIMES, _time_rows(score, voice), voice, width),
        _table("moistures", MOISTURES, _moisture_rows(score.moisture, voice), voice, width),
        _table("chances", CHANCES, _bin_rows(score.reliability), voice, width),
        bulleted_sentences(_notes(score, voice), prose),
        bullets(shown_safety(voice, all_cautions), prose),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


def _head(score: Score, voice: Voice, farm: str, width: int, invented: bool) -> list[str]:
    """What was scored; an invented sample says so first."""
    texts = [voice.say("outlook_invented")] if invented else []
    values = {"hours": score.hours, "nights": score.nights, "farm": farm}
    texts.append(voice.say("score_hours", lead=f"{score.lead_h:.0f}", **values))
    if score.unspoken:
        texts.append(voice.say("score_unspoken", count=score.unspoken))
    return paragraphs(texts, width)


def _table(name: str, columns: Sequence[str], rows: Rows, voice: Voice, width: int) -> list[str]:
    """A small table between its title and what its columns mean; nothing without rows."""
    if not rows:
        return []
    prose = min(width, WIDEST_PROSE)
    headings = [voice.say(f"score_column_{column}") for column in columns]
    return [
        *wrapped(voice.say(f"score_title_{name}"), prose),
        *table_lines(columns_under(headings, rows), width),
        *wrapped(voice.say(f"score_legend_{name}"), prose),
    ]


def _rule_rows(rules: Sequence[RuleScore], voice: Voice) -> Rows:
    """Hours right and wrong; rules without an answer are left out."""
    rows = []
    for rule in rules:
        counts = rule.counts
        if counts is not None:
            numbers = (counts.hits, counts.misses, counts.false_alarms, rule.too_wet, counts.wrong)
            cells = (*(str(number) for number in numbers), _number(rule.brier, 3))
            rows.append((voice.say(f"score_rule_{rule.name}"), *cells))
    return rows


def _time_rows(score: Score, voice: Voice) -> Rows:
    """Errors of starts and ends; rules without any are left out."""
    rows = []
    for rule in score.rules:
        if rule.start.count:
            errors = [
                _number(value, 0, sign)
                for each in (rule.start, rule.end)
                for value, sign in ((each.bias_min, "+"), (each.mean_min, ""))
            ]
            count = voice.say("score_of", count=rule.start.count, all=score.bouts)
            rows.append((voice.say(f"score_rule_{rule.name}"), count, *errors))
    return rows


def _moisture_rows(errors: Sequence[MoistureError], voice: Voice) -> Rows:
    """Errors of moisture by clock hour."""
    rows = []
    for each in errors:
        clock = voice.say("score_all") if each.hour is None else hour_text(each.hour, voice)
        rows.append((clock, str(each.count), f"{each.bias_wb:+.1f}", f"{each.rms_wb:.1f}"))
    return rows


def hour_text(hour: int, voice: Voice) -> str:
    """A clock hour without a date.

    Examples
    --------
    >>> hour_text(0, Voice("en", "us", "UTC")), hour_text(13, Voice("es", "metric", "UTC"))
    ('12 am', '13:00')
    """
    if voice.units == "metric":
        return f"{hour:02d}:00"
    return f"{(hour - 1) % 12 + 1} {'am' if hour < 12 else 'pm'}"


def _bin_rows(bins: Sequence[Bin]) -> Rows:
    """Chances beside how often they came true; a star where there are few hours."""
    rows = []
    for each in bins:
        if each.hours:
            few = "*" if each.hours < FEW_HOURS else ""
            name = f"{100 * each.low:.0f}-{100 * each.high:.0f} %{few}"
            shares = (f"{100 * each.said:.0f} %", f"{100 * each.happened:.0f} %")
            rows.append((name, str(each.hours), *shares))
    return rows


def _notes(score: Score, voice: Voice) -> list[str]:
    """What should be known before these numbers are believed."""
    notes = [voice.say("score_note_logged")]
    if score.starts_timed:
        values = {"held": score.starts_held, "shown": score.starts_timed}
        notes.append(voice.say("score_note_ranges", **values))
    told = any(rule.name == "humidity" and rule.counts is not None for rule in score.rules)
    notes.append(voice.say("score_note_humidity" if told else "score_note_one_month"))
    return notes


def _number(value: float, decimals: int, sign: str = "") -> str:
    """A number, or a dash where it is not known."""
    return f"{value:{sign}.{decimals}f}" if math.isfinite(value) else UNKNOWN
