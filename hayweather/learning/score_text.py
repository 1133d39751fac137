"""A score as a table or JSON: rows in, text out."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from typing import Any

from hayweather.farm.records import Farm, Language
from hayweather.learning.score import MoistureError, RuleScore, Score
from hayweather.learning.skill import Bin
from hayweather.learning.standing import cautions, headings
from hayweather.learning.times import TimeError
from hayweather.words import say

SCHEMA = "hayweather/score/1"
UNKNOWN = "-"
FEW_HOURS = 100  # fewer in a bin tell little


def score_text(score: Score, farm: Farm) -> str:
    """The score for a person."""
    language = farm.language
    blocks = [
        [*headings(farm), *_summary(score, language)],
        _titled("score_rules_title", _rule_rows(score.rules, language), language),
        _titled("score_times_title", _time_rows(score.rules, language), language),
        _titled("score_moisture_title", _moisture_rows(score.moisture, language), language),
        _titled("score_bins_title", _bin_rows(score.reliability, language), language),
        [say("score_note", language), *cautions(farm)],
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


def _summary(score: Score, language: Language) -> list[str]:
    """What was scored."""
    values = {"hours": score.hours, "nights": score.nights, "outlooks": score.outlooks}
    lines = [say("score_hours", language, lead=f"{score.lead_h:.1f}", **values)]
    if score.unspoken:
        lines.append(say("score_unspoken", language, count=score.unspoken))
    return lines


def _titled(title: str, rows: Sequence[tuple[str, ...]], language: Language) -> list[str]:
    """A small table below its title; nothing where there is no row beside the head."""
    if len(rows) < 2:
        return []
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    lines = []
    for row in rows:
        cells = [row[0].ljust(widths[0])]
        cells += [cell.rjust(width) for cell, width in zip(row[1:], widths[1:], strict=True)]
        lines.append("  ".join(cells).rstrip())
    return [say(title, language), *lines]


def _head(language: Language, *names: str) -> tuple[str, ...]:
    """Names of columns."""
    return tuple(say(f"score_column_{name}", language) for name in names)


def _rule_rows(rules: Sequence[RuleScore], language: Language) -> list[tuple[str, ...]]:
    """Hours right and wrong."""
    names = ("rule", "hits", "misses", "false", "wet", "wrong", "brier")
    rows = [_head(language, *names)]
    for rule in rules:
        name, counts = say(f"score_rule_{rule.name}", language), rule.counts
        if counts is None:
            rows.append((name, *[UNKNOWN] * 6))
            continue
        numbers = (counts.hits, counts.misses, counts.false_alarms, rule.too_wet, counts.wrong)
        rows.append((name, *(str(number) for number in numbers), _number(rule.brier, 3)))
    return rows


def _time_rows(rules: Sequence[RuleScore], language: Language) -> list[tuple[str, ...]]:
    """Errors of starts and ends; rules without any are left out."""
    names = ("rule", "nights", "start_bias", "start_error", "end_bias", "end_error")
    rows = [_head(language, *names)]
    for rule in rules:
        if rule.start.count:
            errors = [
                _number(value, 0)
                for each in (rule.start, rule.end)
                for value in (each.bias_min, each.mean_min)
            ]
            rows.append((say(f"score_rule_{rule.name}", language), str(rule.start.count), *errors))
    return rows


def _moisture_rows(errors: Sequence[MoistureError], language: Language) -> list[tuple[str, ...]]:
    """Errors of moisture by clock hour."""
    rows = [_head(language, "hour", "readings", "bias", "error")]
    for each in errors:
        clock = say("score_all", language) if each.hour is None else f"{each.hour:02d}:00"
        rows.append((clock, str(each.count), f"{each.bias_wb:+.1f}", f"{each.rms_wb:.1f}"))
    return rows


def _bin_rows(bins: Sequence[Bin], language: Language) -> list[tuple[str, ...]]:
    """Chances beside how often they came true; a star where there are few hours."""
    rows = [_head(language, "chance", "hours", "said", "happened")]
    for each in bins:
        if each.hours:
            name = f"{100 * each.low:.0f}-{100 * each.high:.0f} %"
            came = f"{100 * each.happened:.0f} %{'*' if each.hours < FEW_HOURS else ''}"
            rows.append((name, str(each.hours), f"{100 * each.said:.0f} %", came))
    return rows


def _number(value: float, decimals: int) -> str:
    """A number, or a dash where it is not known."""
    return f"{value:.{decimals}f}" if math.isfinite(value) else UNKNOWN


def score_json(score: Score, farm: Farm) -> str:
    """The score as JSON text; null where a number is not known."""
    return json.dumps(score_form(score, farm), ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def score_form(score: Score, farm: Farm) -> dict[str, Any]:
    """The score as plain dictionaries and lists."""
    return {
        "schema": SCHEMA,
        "farm": farm.name,
        "invented": farm.weather.invented,
        "outlooks": score.outlooks,
        "hours": score.hours,
        "hours_without_outlook": score.unspoken,
        "nights": score.nights,
        "lead_hours": _rounded(score.lead_h),
        "rules": [_rule_form(rule) for rule in score.rules],
        "moisture": [
            {
                "hour": each.hour,
                "readings": each.count,
                "bias_wb": _rounded(each.bias_wb),
                "rms_wb": _rounded(each.rms_wb),
            }
            for each in score.moisture
        ],
        "reliability": [
            {
                "from": each.low,
                "to": each.high,
                "hours": each.hours,
                "said": _rounded(each.said),
                "happened": _rounded(each.happened),
            }
            for each in score.reliability
        ],
        "starts_in_range": {"held": score.starts_held, "shown": score.starts_timed},
        "cautions": cautions(farm),
    }


def _rule_form(rule: RuleScore) -> dict[str, Any]:
    """One rule; counts are null where it had no answer."""
    counts = rule.counts
    return {
        "rule": rule.name,
        "hits": None if counts is None else counts.hits,
        "misses": None if counts is None else counts.misses,
        "false_alarms": None if counts is None else counts.false_alarms,
        "quiet": None if counts is None else counts.quiet,
        "false_alarms_too_wet": None if counts is None else rule.too_wet,
        "brier": _rounded(rule.brier),
        "start_minutes": _time_form(rule.start),
        "end_minutes": _time_form(rule.end),
    }


def _time_form(error: TimeError) -> dict[str, Any]:
    """Errors of times [min]."""
    return {
        "nights": error.count,
        "bias": _rounded(error.bias_min),
        "mean_absolute": _rounded(error.mean_min),
    }


def _rounded(value: float) -> float | None:
    """A number for data, null where it is not known."""
    return round(value, 4) if math.isfinite(value) else None
