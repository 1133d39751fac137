"""A tuning: text with the table to paste, JSON (schema ``hayweather/tune/1``) and CSV."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import get_args

from hayweather.farm.records import UnitSystem
from hayweather.learning.tune import Fit, Fitted, Status, prior_bar
from hayweather.learning.tuning_file import QUANTITIES, shown, tuning_table
from hayweather.show.layout import (
    WIDEST_PROSE,
    bulleted_sentences,
    bullets,
    columns_under,
    paragraphs,
    table_lines,
    wrapped,
)
from hayweather.show.table import Column, Document, Table
from hayweather.show.voice import Voice, safety_texts, shown_safety
from hayweather.units import symbol_of


@dataclass(frozen=True)
class Tuned:
    """A fit and for whom it is shown; `file_units` are those of the table to paste."""

    fit: Fit
    farm: str
    file_units: UnitSystem
    invented: bool = False


def _bar(name: str) -> Callable[[Fitted], float | None]:
    """An end of the bar; None where the number was kept."""
    return lambda item: getattr(item, name) if item.status == "fitted" else None


NUMBERS = Table(
    (
        Column("name", "Name in the farm file", "knob.name", kind="text"),
        Column("unit", "Of the value", kind="text",
               value=lambda item: "K" if item.knob.name in QUANTITIES else "1"),
        Column("status", "Fitted, or why it was kept", kind="text", choices=get_args(Status)),
        Column("value", "What holds now"),
        Column("low", "Lower end of its 95 % bar; null where it was kept", _bar("low")),
        Column("high", "Upper end of its 95 % bar; null where it was kept", _bar("high")),
        Column("prior_low", "Lower end of what was believed before",
               lambda item: prior_bar(item.knob)[0]),
        Column("prior_high", "Upper end of what was believed before",
               lambda item: prior_bar(item.knob)[1]),
        Column("bar_of_prior", "Width of the bar beside the one before",
               lambda item: item.share if item.status == "fitted" else 1.0, unit="1"),
    ),
    "What became of one number of the windrow.",
)  # fmt: skip
TUNE = Document(
    "hayweather/tune/1",
    Table(
        (
            Column("farm", "Name of the farm", kind="text"),
            Column("invented", "True for a made-up sample", kind="truth"),
            Column("readings_used", "Readings that were used", "fit.used", kind="count"),
            Column("readings_left_out", "Readings that the weather does not reach",
                   "fit.left_out", kind="count"),
            Column("readings_of_bales", "Readings of bales, which read dew high", "fit.bales",
                   kind="count"),
            Column("readings_of_layers", "Readings of one layer, set beside that layer",
                   "fit.layered", kind="count"),
            Column("nights", "Nights that the readings belong to", "fit.nights", kind="count"),
            Column("misfit_before", "Root mean square of reading less model with nothing tuned",
                   "fit.before", unit="1"),
            Column("misfit_after", "The same, tuned", "fit.after", unit="1"),
            Column("scatter", "How much more the readings scatter than their errors say",
                   "fit.scatter", unit="1"),
            Column("numbers", "Every number", "fit.fitted", kind="rows", of=NUMBERS),
            Column("tuning", "The table to paste into the farm file", kind="text",
                   value=lambda made: tuning_table(made.fit, made.file_units)),
            Column("cautions", "Cautions that always show", kind="texts",
                   said=lambda _, voice: safety_texts(voice)),
        ),
        "The windrow fitted to moisture readings (hayweather tune).",
    ),
)  # fmt: skip


def tune_json(
    fit: Fit, voice: Voice, farm: str, file_units: UnitSystem, *, invented: bool = False
) -> str:
    """The tuning as JSON text; `file_units` are those of the table to paste."""
    return TUNE.text(Tuned(fit, farm, file_units, invented), voice)


def tune_csv(fit: Fit, voice: Voice, *, raw: bool = False) -> str:
    """The numbers as CSV, empty where they are null in the JSON."""
    return NUMBERS.csv(fit.fitted, voice, raw=raw)


MUCH_SCATTER = 1.2  # from here on it is worth a word
HEADS = ("number", "value", "bar", "before")
KEPT: tuple[Status, ...] = ("unclear", "alike", "needs_skin", "needs_rig")


def tune_text(
    fit: Fit,
    voice: Voice,
    farm: str,
    file_units: UnitSystem,
    width: int = 80,
    *,
    invented: bool = False,
    all_cautions: bool = False,
) -> str:
    """The tuning for a person, no line wider than `width` where that can be kept.

    Parameters
    ----------
    file_units
        Units of bare numbers in the farm file, and so of the table to paste.
    """
    prose = min(width, WIDEST_PROSE)
    head = [voice.say("outlook_invented")] if invented else []
    head.append(voice.say("tune_title", farm=farm, used=fit.used, nights=fit.nights))
    safety = shown_safety(voice, all_cautions)
    blocks = [
        paragraphs(head, prose),
        [*_table(fit, voice, width), *wrapped(voice.say("tune_legend"), prose)],
        bulleted_sentences([*_untold(fit, voice), *_remarks(fit, voice)], prose),
        _paste(fit, voice, file_units, prose),
        bullets(safety, prose),
    ]
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


def _table(fit: Fit, voice: Voice, width: int) -> list[str]:
    """The table of numbers."""
    headings = [voice.say(f"tune_column_{name}") for name in HEADS]
    rows = [_row(item, voice) for item in fit.fitted]
    return table_lines(columns_under(headings, rows), width)


def _row(item: Fitted, voice: Voice) -> tuple[str, ...]:
    """One number."""
    name = item.knob.name
    value = voice.signed(f"{shown(name, item.value, voice.units):.2f}")
    kept = voice.say("tune_kept")
    bar = _range(item.low, item.high, name, voice) if item.status == "fitted" else kept
    return _name(item, voice), value, bar, _range(*prior_bar(item.knob), name, voice)


def _name(item: Fitted, voice: Voice) -> str:
    """A number in words, with its unit."""
    name = item.knob.name
    quantity = QUANTITIES.get(name)
    unit = symbol_of(quantity, voice.units) if quantity else ""
    return voice.say(f"tune_{name}", unit=unit)


def _range(low: float, high: float, name: str, voice: Voice) -> str:
    """Two numbers as a range."""
    ends = (f"{shown(name, value, voice.units):.2f}" for value in (low, high))
    return voice.say("range", **dict(zip(("low", "high"), ends, strict=True)))


def _untold(fit: Fit, voice: Voice) -> list[str]:
    """What the readings could not tell, and what would."""
    lines = []
    for status in KEPT:
        items = [item for item in fit.fitted if item.status == status]
        if items:
            names = voice.listed([_short(item, voice) for item in items])
            lines.append(voice.say(f"tune_{status}", numbers=names))
    return lines


def _short(item: Fitted, voice: Voice) -> str:
    """A number in words without how it is counted."""
    return _name(item, voice).partition(",")[0]


def _remarks(fit: Fit, voice: Voice) -> list[str]:
    """What should be known of readings and fit."""
    misfit = {"before": f"{fit.before:.1f}", "after": f"{fit.after:.1f}"}
    lines = [voice.say("tune_misfit", **misfit)]
    if fit.left_out:
        lines.append(voice.say("tune_left_out", count=fit.left_out))
    if fit.scatter > MUCH_SCATTER:
        lines.append(voice.say("tune_scatter", factor=f"{fit.scatter:.1f}"))
    if fit.layered:
        lines.append(voice.say("tune_layered", count=fit.layered))
    if fit.bales:
        lines.append(voice.say("tune_bales", count=fit.bales))
    return [*lines, voice.say("tune_cured")]


def _paste(fit: Fit, voice: Voice, file_units: UnitSystem, width: int) -> list[str]:
    """The table to paste, or what to measure where there is none."""
    table = tuning_table(fit, file_units)
    if not table:
        return wrapped(voice.say("tune_nothing"), width)
    lead: Sequence[str] = wrapped(voice.say("tune_paste"), width)
    if file_units != voice.units:
        lead = [*lead, *wrapped(voice.say("tune_paste_units"), width)]
    return [*lead, "", *table.rstrip().splitlines()]
