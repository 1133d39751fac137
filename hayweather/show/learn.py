"""Learned errors of the forecast: text, JSON (schema ``hayweather/learn/1``) and CSV."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

from hayweather.farm.records import Farm
from hayweather.learning.forecast_errors import LEAST_NIGHTS, Estimate
from hayweather.learning.learn import Learned
from hayweather.show.layout import (
    WIDEST_PROSE,
    bulleted_sentences,
    bullets,
    columns_under,
    named_values,
    paragraphs,
    table_lines,
    wrapped,
)
from hayweather.show.table import Column, Document, Table
from hayweather.show.voice import Voice, phrases, safety_texts, shown_safety
from hayweather.units import symbol_of, to_shown
from hayweather.windrow.spread import ERRORS, LEAD_H, TIES, ForecastErrors

What = Literal["bias", "size", "memory", "tie"]
KELVIN = ("air_temperature_c", "dew_point_c")


@dataclass(frozen=True)
class Row:
    """One number of one site; `other` is the second column of a tie, `lead_h` NaN for none."""

    site: str
    what: What
    column: str
    other: str
    lead_h: float
    estimate: Estimate


def rows_of(found: Sequence[Learned]) -> Iterator[Row]:
    """All numbers of all sites."""
    for item in found:
        fitted = item.fitted
        for column in fitted.biases:
            for at, lead in enumerate(LEAD_H):
                yield Row(item.site, "bias", column, "", lead, fitted.biases[column][at])
                yield Row(item.site, "size", column, "", lead, fitted.sizes[column][at])
            yield Row(item.site, "memory", column, "", math.nan, fitted.memories[column])
        for (one, other), tie in fitted.ties.items():
            yield Row(item.site, "tie", one, other, math.nan, tie)


def is_kelvin(row: Row | LearnedNumber) -> bool:
    """Whether the numbers of a row are differences of temperature."""
    return row.column in KELVIN and row.what in ("bias", "size")


def _unit(row: Row | LearnedNumber) -> str:
    """Of the numbers of a row."""
    return "K" if is_kelvin(row) else "1"


NUMBERS = Table(
    (
        Column("site", "Name of the site", kind="text"),
        Column("what", "Mean error (forecast less measured), its standard deviation, its "
               "correlation from hour to hour, or with that of another column", kind="text",
               choices=get_args(What)),
        Column("column", "Of the weather; wind as logarithm", kind="text", choices=tuple(ERRORS)),
        Column("other", "The other column of a tie", kind="text", choices=("", *ERRORS)),
        Column("lead_h", "Hours ahead; null where it holds for all", unit="h"),
        Column("unit", "Of the numbers", _unit, kind="text"),
        Column("nights", "Nights behind it", "estimate.nights", kind="count"),
        Column("fitted", "As the nights say", "estimate.value"),
        Column("low", "Lower end of its 90 % bar", lambda row: row.estimate.bar[0]),
        Column("high", "Upper end of its 90 % bar", lambda row: row.estimate.bar[1]),
        Column("assumed", "Without the nights", "estimate.assumed"),
        Column("used", "Drawn toward the assumed by the number of nights", "estimate.used"),
    ),
    "One number of the forecast's errors.",
)  # fmt: skip


@dataclass(frozen=True)
class Shown:
    """What was learned, and of which farm."""

    farm: Farm
    found: Sequence[Learned]


SITES = Table(
    (
        Column("site", "Name of the site", kind="text"),
        Column("source", "Whose forecasts", kind="text"),
        Column("nights", "Nights forecast and measured", kind="count"),
        Column("kept", "Nights of them whose forecast was kept with an outlook", kind="count"),
        Column("fitted", "Whether enough nights stand behind any error", "fitted.errors.fitted",
               kind="truth"),
        Column("remarks", "What could not be used", "said", kind="remarks"),
    ),
    "Forecasts of one site.",
)  # fmt: skip
LEARN = Document(
    "hayweather/learn/1",
    Table(
        (
            Column("farm", "Name of the farm", "farm.name", kind="text"),
            Column("invented", "True for a made-up sample", "farm.weather.invented", kind="truth"),
            Column("sites", "Every site", "found", kind="rows", of=SITES),
            Column("numbers", "Every number", lambda made: list(rows_of(made.found)),
                   kind="rows", of=NUMBERS),
            Column("cautions", "Cautions that always show", kind="texts",
                   said=lambda _, voice: safety_texts(voice)),
        ),
        "Errors of the forecast fitted to nights (hayweather learn).",
    ),
)  # fmt: skip


def learn_json(farm: Farm, found: Sequence[Learned], voice: Voice) -> str:
    """What was learned as JSON text."""
    return LEARN.text(Shown(farm, found), voice)


def learn_csv(found: Sequence[Learned], voice: Voice, *, raw: bool = False) -> str:
    """The numbers as CSV, empty where they are null in the JSON."""
    return NUMBERS.csv(rows_of(found), voice, raw=raw)


def learn_text(
    farm: Farm,
    found: Sequence[Learned],
    voice: Voice,
    width: int = 80,
    *,
    all_cautions: bool = False,
) -> str:
    """What was learned for a person, no line wider than `width` where that can be kept."""
    prose = min(width, WIDEST_PROSE)
    blocks = [paragraphs([voice.say("outlook_invented")], prose)] if farm.weather.invented else []
    for item in found:
        values = {"source": item.source, "nights": item.nights}
        title = voice.say("learn_title", farm=farm.name, site=item.site, **values)
        blocks += [wrapped(title, prose), _leads(item, voice, width), _memories(item, voice, width)]
        said = [voice.say("learn_kept", count=item.kept)] if item.kept else []
        said += phrases(item.said, voice)
        if not item.fitted.errors.fitted:
            said = [*said, voice.say("learn_few", least=LEAST_NIGHTS, site=item.site)]
        blocks.append(bulleted_sentences(said, prose))
    blocks.append(wrapped(voice.say("learn_legend"), prose))
    blocks.append(bullets(shown_safety(voice, all_cautions), prose))
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


def _leads(item: Learned, voice: Voice, width: int) -> list[str]:
    """Bias and size of every column and lead that has nights."""
    rows = []
    for column, biases in item.fitted.biases.items():
        for lead, bias, size in zip(LEAD_H, biases, item.fitted.sizes[column], strict=True):
            if bias.nights:
                rows.append((
                    _name(column, voice), f"{lead:.0f}", f"{bias.nights}",
                    _number(bias.value, column, voice, "+"), _bar(bias, column, voice, "+"),
                    _number(bias.used, column, voice, "+"), _number(size.value, column, voice),
                    _bar(size, column, voice), _number(size.assumed, column, voice),
                    _number(size.used, column, voice),
                ))  # fmt: skip
    heads = voice.say("learn_columns_lead").split("|")
    return table_lines(columns_under(heads, rows), width) if rows else []


def _memories(item: Learned, voice: Voice, width: int) -> list[str]:
    """Memory of every column, ties of every two."""
    named = [
        (voice.say("learn_memory_of", column=_short(column, voice)), each)
        for column, each in item.fitted.memories.items()
    ] + [
        (voice.say("learn_tie_of", one=_short(one, voice), other=_short(other, voice)), each)
        for (one, other), each in item.fitted.ties.items()
    ]
    rows = [
        (name, f"{each.nights}", _number(each.value, "", voice), _bar(each, "", voice),
         _number(each.assumed, "", voice), _number(each.used, "", voice))
        for name, each in named if each.nights
    ]  # fmt: skip
    heads = voice.say("learn_columns_memory").split("|")
    return table_lines(columns_under(heads, rows), width) if rows else []


def _name(column: str, voice: Voice) -> str:
    """A column in words, with its unit."""
    return voice.say(f"learn_error_{column}", unit=symbol_of("temperature_difference", voice.units))


def _short(column: str, voice: Voice) -> str:
    """A column in words."""
    return _name(column, voice).partition(",")[0]


def _number(value: float, column: str, voice: Voice, sign: str = "") -> str:
    """A number in the unit of this reader."""
    if not math.isfinite(value):
        return "-"
    if column in KELVIN:
        value = float(to_shown(value, "temperature_difference", voice.units))
    return voice.signed(f"{value:{sign}.2f}")


def _bar(each: Estimate, column: str, voice: Voice, sign: str = "") -> str:
    """Both ends of a bar."""
    low, high = (_number(end, column, voice, sign) for end in each.bar)
    return f"{low} {high}"


@dataclass(frozen=True)
class LearnedNumber:
    """One number of a learned file; `other` is the second column of a tie, `lead_h` NaN for none.

    Values are K for air and dew point, logarithms for wind, shares for cloud.
    """

    site: str
    nights: int
    until: np.datetime64 | None
    what: What
    column: str
    other: str
    lead_h: float
    behind: int
    used: float
    assumed: float


def learned_numbers(errors: Mapping[str, ForecastErrors]) -> Iterator[LearnedNumber]:
    """Every number that a farm's learned file puts in force, by site and column."""
    for site, each in errors.items():
        head = (site, each.nights, each.until)
        for column, error in each.columns.items():
            known = [(at, count) for at, count in enumerate(error.nights) if count]
            for at, count in known:
                lead, rest = LEAD_H[at], (column, "")
                yield LearnedNumber(*head, "bias", *rest, lead, count, error.biases[at], 0.0)
                yield LearnedNumber(
                    *head, "size", *rest, lead, count, error.sizes[at], ERRORS[column].size
                )
            if known:
                most = max(count for _, count in known)
                yield LearnedNumber(
                    *head, "memory", column, "", math.nan, most, error.memory,
                    ERRORS[column].memory,
                )  # fmt: skip
        for (one, other), tie in each.ties.items():
            assumed = TIES.get((one, other), 0.0)
            if tie != assumed:
                yield LearnedNumber(*head, "tie", one, other, math.nan, each.nights, tie, assumed)


LEARNED = Table(
    (
        Column("site", "Name of the site", kind="text"),
        Column("nights", "Nights behind its errors", kind="count"),
        Column("until", "Evening of the last of them", kind="text", null=True,
               value=lambda row: None if row.until is None else str(row.until.astype("M8[D]"))),
        *NUMBERS.columns[1:5],
        Column("unit", "Of the numbers", _unit, kind="text"),
        Column("behind", "Nights behind this number", kind="count"),
        Column("used", "In force", "used"),
        Column("assumed", "Without what was learned", "assumed"),
    ),
    "One learned number of the forecast's errors.",
)  # fmt: skip


def learned_lines(errors: Mapping[str, ForecastErrors], voice: Voice, width: int) -> list[str]:
    """What a farm's learned file holds, by site, beside what is assumed."""
    pairs = []
    for site, each in errors.items():
        texts = []
        for column, error in each.columns.items():
            known = [at for at, count in enumerate(error.nights) if count]
            if known:
                at = known[0]
                values = {
                    "bias": _number(error.biases[at], column, voice, "+"),
                    "size": _number(error.sizes[at], column, voice),
                    "assumed": _number(error.size, column, voice),
                }
                named = {"column": _name(column, voice), "lead": f"{LEAD_H[at]:.0f}"}
                texts.append(voice.say("inspect_learned_column", **named, **values))
        until = "" if each.until is None else str(each.until.astype("datetime64[D]"))
        said = {"nights": each.nights, "until": until, "columns": "; ".join(texts)}
        pairs.append((site, voice.say("inspect_learned_site", **said)))
    return [voice.say("inspect_learned"), *named_values(pairs, width)] if pairs else []
