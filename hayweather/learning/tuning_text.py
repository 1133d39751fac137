"""A fit as a table, CSV or JSON: rows in, text out."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

from hayweather.farm.records import Farm, Language, UnitSystem
from hayweather.learning.standing import cautions, headings
from hayweather.learning.tune import BAR, Fit, Fitted
from hayweather.learning.tuning_file import QUANTITIES, shown, tuning_table
from hayweather.units import symbol_of
from hayweather.words import say

SCHEMA = "hayweather/tune/1"


def fit_text(fit: Fit, units: UnitSystem, farm: Farm) -> str:
    """The fit for a person, with the table to paste, which is in the farm file's own units."""
    language = farm.language
    rows = [_head(language), *(_row(item, units, language) for item in fit.fitted)]
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]) - 1)]
    lines = [_aligned(row, widths) for row in rows]
    table = tuning_table(fit, farm.units)
    paste = [say("tune_paste", language), "", table.rstrip()] if table else []
    end = paste or [say("tune_nothing", language)]
    parts = [*headings(farm), *_remarks(fit, language), "", *lines, "", *end, "", *cautions(farm)]
    return "\n".join(parts) + "\n"


def _aligned(row: tuple[str, ...], widths: list[int]) -> str:
    """One row; the last column is free."""
    cells = [cell.ljust(width) for cell, width in zip(row, widths, strict=False)]
    return "  ".join([*cells, row[-1]]).rstrip()


def _head(language: Language) -> tuple[str, ...]:
    """Names of the columns."""
    names = ("number", "value", "bar", "before", "verdict")
    return tuple(say(f"tune_column_{name}", language) for name in names)


def _row(item: Fitted, units: UnitSystem, language: Language) -> tuple[str, ...]:
    """One number."""
    name = item.knob.name
    quantity = QUANTITIES.get(name)
    unit = f" {symbol_of(quantity, units)}" if quantity else ""
    fitted = item.status == "fitted"
    value = f"{shown(name, item.value, units):.2f}{unit}"
    bar = _range(item.low, item.high, name, units) if fitted else "-"
    before = _range(*prior_bar(item), name, units)
    return say(f"tune_{name}", language), value, bar, before, say(f"tune_{item.status}", language)


def prior_bar(item: Fitted) -> tuple[float, float]:
    """What was believed before any reading, 95 %, within bounds."""
    low, high = (item.knob.value(side * BAR) for side in (-1, 1))
    return max(low, item.knob.low), min(high, item.knob.high)


def _range(low: float, high: float, name: str, units: UnitSystem) -> str:
    """Two numbers as a range."""
    return f"{shown(name, low, units):.2f} .. {shown(name, high, units):.2f}"


def _remarks(fit: Fit, language: Language) -> list[str]:
    """What should be known of readings and fit."""
    counts = {"used": fit.used, "nights": fit.nights}
    lines = [say("tune_used", language, **counts)]
    if fit.left_out:
        lines.append(say("tune_left_out", language, count=fit.left_out))
    misfit = {"before": f"{fit.before:.1f}", "after": f"{fit.after:.1f}"}
    lines.append(say("tune_misfit", language, **misfit))
    if fit.scatter > 1.2:
        lines.append(say("tune_scatter", language, factor=f"{fit.scatter:.1f}"))
    if fit.bales:
        lines.append(say("tune_bales", language, count=fit.bales))
    return [*lines, say("tune_cured", language)]


def fit_form(fit: Fit, farm: Farm) -> dict[str, Any]:
    """The fit as plain dictionaries; numbers in SI units, the table to paste in the farm's."""
    return {
        "schema": SCHEMA,
        "farm": farm.name,
        "invented": farm.weather.invented,
        "readings_used": fit.used,
        "readings_left_out": fit.left_out,
        "nights": fit.nights,
        "misfit_before": round(fit.before, 3),
        "misfit_after": round(fit.after, 3),
        "scatter": round(fit.scatter, 3),
        "numbers": [_number(item) for item in fit.fitted],
        "tuning": tuning_table(fit, farm.units),
        "cautions": cautions(farm),
    }


def _number(item: Fitted) -> dict[str, Any]:
    """One number; its bar is null where it was kept."""
    low, high = prior_bar(item)
    fitted = item.status == "fitted"
    return {
        "name": item.knob.name,
        "unit": "K" if item.knob.name in QUANTITIES else "1",
        "status": item.status,
        "value": round(item.value, 4),
        "low": round(item.low, 4) if fitted else None,
        "high": round(item.high, 4) if fitted else None,
        "prior_low": round(low, 4),
        "prior_high": round(high, 4),
        "bar_of_prior": round(item.share, 3) if fitted else 1.0,
    }


def fit_json(fit: Fit, farm: Farm) -> str:
    """The fit as JSON text."""
    return json.dumps(fit_form(fit, farm), ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def fit_csv(fit: Fit) -> str:
    """The numbers as CSV."""
    rows = [_number(item) for item in fit.fitted]
    text = io.StringIO()
    writer = csv.DictWriter(text, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()
