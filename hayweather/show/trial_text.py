"""A trial of strips as text: what can be said first, then figures, ranges and money."""

from __future__ import annotations

from collections.abc import Sequence

from hayweather.seasons.record.trial import MOST_NEEDED, Difference, Trial, TrialMoney
from hayweather.show.columns import Column, evened
from hayweather.show.layout import WIDEST_PROSE, bullets, paragraphs
from hayweather.show.safety import shown_safety
from hayweather.show.season_phrases import by_area
from hayweather.show.table_lines import table_lines
from hayweather.show.voice import Voice
from hayweather.units import POUND_KG

UNITS = {"us": "lb/acre", "metric": "kg/ha"}

Named = tuple[str, Difference]


def trial_text(
    trial: Trial,
    voice: Voice,
    width: int = 80,
    *,
    invented: bool = False,
    all_cautions: bool = False,
) -> str:
    """What the strips can show, as text; the verdict first.

    Parameters
    ----------
    trial, voice
        What to show, and how to speak.
    width
        Characters of a line.
    invented
        True for a sample: the text says so first.
    all_cautions
        True for the cautions in full.
    """
    head = [voice.say("trial_invented")] if invented else []
    kinds = [strip.treatment for strip in trial.strips]
    title = voice.say(
        "trial_title", file=trial.file, water=kinds.count("water"), none=kinds.count("none")
    )
    found = differences(trial)
    head += [title, voice.say(f"trial_verdict_{trial.verdict}")]
    prose = min(width, WIDEST_PROSE)
    lines = paragraphs(head, prose)
    if found:
        lines += ["", *table_lines(_columns(found, voice), width)]
    lines += ["", *bullets([*_method(trial, voice), *_worth(trial, voice)], prose)]
    safety = shown_safety(voice, all_cautions)
    return "\n".join([*lines, "", *bullets(safety, prose)]) + "\n"


def differences(trial: Trial) -> list[Named]:
    """Every quantity that was measured."""
    named = (("dry_matter", trial.dry_matter), ("water", trial.water), ("weight", trial.weight))
    by_mass = [(name, found) for name, found in named if found is not None]
    return [*by_mass, *trial.quality.items()]


def is_mass(name: str) -> bool:
    """Whether a quantity is a weight by area."""
    return name in ("dry_matter", "water", "weight")


def by_area_shown(kg_m2: float, voice: Voice) -> float:
    """A weight by area in pounds an acre or kilograms a hectare."""
    return by_area(kg_m2, voice) / (POUND_KG if voice.units == "us" else 1.0)


def _shown(name: str, value: float, voice: Voice, *, signed: bool = False) -> str:
    """A value of a quantity as people read it."""
    sign = "+" if signed else ""
    if is_mass(name):
        return f"{by_area_shown(value, voice):{sign},.0f}"
    return f"{value:{sign}.1f}"


def _columns(found: Sequence[Named], voice: Voice) -> list[Column]:
    """The table of differences."""
    unit = UNITS[voice.units]
    names = [voice.say(f"trial_quantity_{name}", unit=unit) for name, _ in found]
    ranges = [_range(name, item, voice) for name, item in found]
    seen = [voice.say("trial_yes" if item.shown else "trial_no") for _, item in found]
    cells = {
        "quantity": names,
        "with": [_shown(name, item.with_water, voice) for name, item in found],
        "without": [_shown(name, item.without, voice) for name, item in found],
        "difference": [_shown(name, item.value, voice, signed=True) for name, item in found],
        "range": ranges,
        "shown": seen,
    }
    heads = {key: voice.say(f"trial_column_{key}").split("- ") for key in cells}
    columns = [
        Column(tuple(_hyphened(heads[key])), tuple(column), is_text=key == "quantity")
        for key, column in cells.items()
    ]
    return evened(columns, below=True)


def _hyphened(words: Sequence[str]) -> list[str]:
    """Parts of a word with their hyphen."""
    return [*(f"{word}-" for word in words[:-1]), words[-1]]


def _range(name: str, item: Difference, voice: Voice) -> str:
    """The range of a difference."""
    if item.low is None or item.high is None:
        return "?"
    low, high = (_shown(name, value, voice, signed=True) for value in (item.low, item.high))
    return voice.say("range", low=low, high=high)


def _method(trial: Trial, voice: Voice) -> list[str]:
    """How strips were compared, and how many it would take."""
    item = trial.dry_matter or trial.weight
    if item is None:
        return []
    if item.paired:
        said = [voice.say("trial_method_paired", count=item.count[0])]
    else:
        said = [voice.say("trial_method_welch")]
    if trial.left_out:
        said.append(voice.say("trial_left_out", blocks=", ".join(trial.left_out)))
    return said if trial.dry_matter is None else [*said, *_needed(trial, trial.dry_matter, voice)]


def _needed(trial: Trial, item: Difference, voice: Voice) -> list[str]:
    """What so many strips show, and how many would settle it, in bales too."""
    if item.smallest is None:
        return []
    value = f"{by_area_shown(item.smallest, voice):,.0f} {UNITS[voice.units]}"
    said = [voice.say("trial_smallest", value=value)]
    if item.shown:
        return said
    if item.needed is None or trial.needed_bales is None:
        return [*said, voice.say("trial_needed_many", count=MOST_NEEDED)]
    key = "trial_needed_blocks" if item.paired else "trial_needed_strips"
    bales = voice.say("trial_needed_bales", bales=f"{trial.needed_bales:,}")
    return [*said, f"{voice.say(key, count=item.needed)} {bales}"]


def _worth(trial: Trial, voice: Voice) -> list[str]:
    """Money by area, hay told apart from water."""
    if trial.money is None:
        return [voice.say("trial_money_none")] if trial.dry_matter is not None else []
    money = trial.money
    said = voice.say(
        "trial_money",
        hay=_money(money.hay, voice),
        hay_range=_money_range(money.hay_range, voice),
        water=_money(money.water, voice),
        cost=_money(money.cost, voice),
        after=_money(money.after, voice),
        after_range=_money_range(money.after_range, voice),
    )
    return [said, voice.say("trial_money_not_shown")] if _spans_zero(money) else [said]


def _spans_zero(money: TrialMoney) -> bool:
    """Whether the money after costs may be above or below nothing."""
    found = money.after_range
    return found is None or found[0] <= 0 <= found[1]


def _money(per_m2: float, voice: Voice) -> str:
    """Money by area."""
    area = "acre" if voice.units == "us" else "ha"
    value = by_area(per_m2, voice)
    sign = "-" if round(value, 2) < 0 else ""
    return f"{sign}{abs(value):,.2f}/{area}"


def _money_range(found: tuple[float, float] | None, voice: Voice) -> str:
    """A range of money by area, nothing where there is none."""
    if found is None:
        return ""
    low, high = (_money(value, voice) for value in found)
    return voice.say("trial_money_range", low=low, high=high)
