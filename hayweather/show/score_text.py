"""A score of past outlooks as text for a terminal."""

from __future__ import annotations

import math
from collections.abc import Sequence

from hayweather.learning.score import Bin, MoistureError, RuleScore, Score
from hayweather.show.columns import columns_under
from hayweather.show.layout import WIDEST_PROSE, bulleted_sentences, bullets, paragraphs, wrapped
from hayweather.show.safety import shown_safety
from hayweather.show.table_lines import table_lines
from hayweather.show.voice import Voice

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
