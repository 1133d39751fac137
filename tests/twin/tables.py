"""From collected worlds to Markdown: figures in, text out."""

from __future__ import annotations

import math
from collections.abc import Sequence

from twin.collect import CALLS, READING_TIMES, Collected, RuleNights
from twin.measures import (
    FULL_BIN_HOURS,
    Figure,
    bins_of,
    gain_of,
    rule_results,
    skill_of,
    slope_of,
    starts_held,
)
from twin.world import SAME, TRUTHS

from hayweather.baling.calls import BALED, Call

HEADING = "Consistency in a made-up world, not accuracy in the field"


def markdown(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """A table."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join(f"| {' | '.join(row)} |" for row in lines)


def with_range(figure: Figure, scale: float = 1.0, unit: str = "", decimals: int = 2) -> str:
    """A figure and its range."""
    value, low, high = (scale * part for part in (figure.value, figure.low, figure.high))
    return f"{value:.{decimals}f}{unit} ({low:.{decimals}f} to {high:.{decimals}f})"


def percent(figure: Figure) -> str:
    """A share in percent, with its range."""
    return with_range(figure, 100.0, " %", 0)


def reliability_table(world: Collected, call: str) -> str:
    """Chances said, and how often they came true."""
    rows = []
    for each in bins_of(world, call):
        came, said = (
            "-" if math.isnan(value) else f"{100 * value:.0f} %"
            for value in (each.happened, each.said)
        )
        few = "" if each.hours >= FULL_BIN_HOURS else " (few)"
        hours = f"{each.hours}{few}"
        rows.append([f"{100 * each.low:.0f}-{100 * each.high:.0f} %", hours, said, came])
    return markdown(["chance said", "hours", "mean said", "came true"], rows)


def worlds_table(worlds: dict[str, Collected]) -> str:
    """Every world in one column: slopes, ranges of starts, skill."""
    rows = [
        ["slope, natural dew", *(with_range(slope_of(w, "natural dew")) for w in worlds.values())],
        ["slope, too wet", *(with_range(slope_of(w, "too wet")) for w in worlds.values())],
        ["starts on dew in their 10-90 % range", *_held(worlds, (Call.NATURAL_DEW,))],
        ["all starts in their 10-90 % range", *_held(worlds, BALED)],
        ["starts counted", *(str(starts_held(w).draws) for w in worlds.values())],
        ["Brier skill over the month", *(_skill(w, by_hour=False) for w in worlds.values())],
        ["Brier skill over month and hour", *(_skill(w, by_hour=True) for w in worlds.values())],
    ]
    return markdown(["truth drawn with", *worlds], rows)


def _held(worlds: dict[str, Collected], calls: Sequence[Call]) -> list[str]:
    """Shares of starts held, world by world."""
    return [percent(starts_held(world, calls).share) for world in worlds.values()]


def _skill(world: Collected, *, by_hour: bool) -> str:
    """Brier skill of natural dew."""
    return with_range(skill_of(world, "natural dew", by_hour=by_hour))


def readings_table(worlds: dict[str, Collected]) -> str:
    """What one reading cuts off the error of the moisture at 06:00."""
    known = {name: world for name, world in worlds.items() if world.errors["00:00"]}
    rows = []
    for time in READING_TIMES:
        gains = [gain_of(world, time) for world in known.values()]
        cells = [f"{gain.without_wb:.2f} to {gain.with_reading_wb:.2f}" for gain in gains]
        rows.append([f"reading at {time}: error, points", *cells])
        rows.append(["cut", *(percent(gain.cut) for gain in gains)])
    return markdown(["truth drawn with", *known], rows)


def rules_table(rules: RuleNights) -> str:
    """Wrong hours of the outlook and of plain rules."""
    head = ["rule", "wrong hours", "missed", "false", "of these too wet", "of hours"]
    rows = [
        [
            each.name,
            *(str(value) for value in (each.counts.wrong, each.counts.misses)),
            *(str(value) for value in (each.counts.false_alarms, each.too_wet)),
            str(each.counts.hours),
        ]
        for each in rule_results(rules)
    ]
    return markdown(head, rows)


def report(worlds: dict[str, Collected], rules: RuleNights, command: str) -> str:
    """All tables, with the command that made them."""
    same = worlds[SAME]
    nights = len(same.blocks)
    parts = [
        f"### {HEADING}",
        f"{nights} real nights of NW Colorado (May to September 2017 and 2023), {TRUTHS} truths "
        f"drawn for each, {len(same.said['natural dew'][0])} hours from 18:00 on; ranges are "
        "2.5-97.5 % over resampled blocks of five nights. "
        f"Made by `{command}`.",
    ]
    for call in CALLS:
        parts += [f"Chances of {call}, {SAME}:", reliability_table(same, call)]
    parts += [
        "Where truth follows other physics than the outlook:",
        worlds_table(worlds),
        "One reading of the windrow (meter error 1 point), and the moisture at 06:00:",
        readings_table(worlds),
        "Hours on natural dew, beside plain rules (bands fitted on the other months):",
        rules_table(rules),
    ]
    return "\n\n".join(parts) + "\n"
