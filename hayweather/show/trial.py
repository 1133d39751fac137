"""A trial of strips: text, JSON (schema ``hayweather/trial/1``) and CSV, a row a quantity."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict

from hayweather.seasons.record.trial import MOST_NEEDED, Difference, Trial, TrialMoney
from hayweather.show.layout import WIDEST_PROSE, Column, bullets, evened, paragraphs, table_lines
from hayweather.show.seasons_words import by_area
from hayweather.show.table import Json, csv_text, json_text, number
from hayweather.show.voice import Voice, safety_texts, short_safety_texts, shown_safety
from hayweather.units import ACRE_M2, HECTARE_M2, POUND_KG

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


SCHEMA = "hayweather/trial/1"


def trial_json(trial: Trial, voice: Voice, *, invented: bool = False) -> str:
    """A trial as JSON text; weights by hectare and by acre.

    Parameters
    ----------
    trial
        What to show.
    voice
        Language and units of the reader.
    invented
        True where the input says that it is made up; that is said first.
    """
    form = {
        "schema": SCHEMA,
        "file": trial.file,
        "invented": invented,
        "strips": len(trial.strips),
        "verdict": trial.verdict,
        "sentence": voice.say(f"trial_verdict_{trial.verdict}"),
        "needed_bales": trial.needed_bales,
        "left_out": list(trial.left_out),
        "differences": {name: _form(name, item) for name, item in differences(trial)},
        "money": None if trial.money is None else _money_form(trial.money),
        "cautions": safety_texts(voice),
    }
    return json_text(form)


_VALUES = ("with_water", "without", "value", "low", "high", "smallest")


def _form(name: str, item: Difference) -> Json:
    """A difference in both unit systems, or in points of percent."""
    values = asdict(item)
    form: Json = {key: values[key] for key in ("paired", "shown", "needed")} | {
        key: number(values[key]) for key in ("t", "degrees", "probability")
    }
    form["count"] = list(item.count)
    for key in _VALUES:
        value = values[key]
        if not is_mass(name):
            form[key] = number(value)
            continue
        form[f"{key}_kg_ha"] = None if value is None else number(value * HECTARE_M2)
        form[f"{key}_lb_acre"] = None if value is None else number(value * ACRE_M2 / POUND_KG)
    return form


def _money_form(money: TrialMoney) -> Json:
    """Money by acre and by hectare."""
    form: Json = {}
    for name, value in asdict(money).items():
        parts = value if isinstance(value, tuple | list) else [value]
        for unit, area in (("acre", ACRE_M2), ("ha", HECTARE_M2)):
            scaled = [None if part is None else number(part * area) for part in parts]
            form[f"{name}_{unit}"] = scaled[0] if len(scaled) == 1 else scaled
    return form


def trial_csv(trial: Trial, voice: Voice, *, invented: bool = False) -> str:
    """A trial as CSV: one row a quantity; lines before the header begin with ``#``.

    Parameters
    ----------
    trial
        What to show.
    voice
        Language and units of the reader.
    invented
        True where the input says that it is made up; that is said first.
    """
    head = [voice.say("trial_invented")] if invented else []
    head.append(voice.say(f"trial_verdict_{trial.verdict}"))
    rows = [_row(name, item, voice) for name, item in differences(trial)]
    cells = ([row[column] for column in COLUMNS] for row in rows)
    return csv_text(COLUMNS, cells, (*head, *short_safety_texts(voice)))


COLUMNS = (
    *("quantity", "unit", *_VALUES, "t", "degrees", "probability"),
    *("paired", "count_with_water", "count_without", "shown", "needed"),
)


def _row(name: str, item: Difference, voice: Voice) -> Json:
    """One quantity in the reader's units."""
    values = asdict(item)
    row: Json = {
        "quantity": name,
        "unit": UNITS[voice.units] if is_mass(name) else "percent_of_dry_matter",
    }
    for key in (*_VALUES, "t", "degrees", "probability"):
        value = values[key]
        if value is not None and key in _VALUES and is_mass(name):
            value = by_area_shown(value, voice)
        row[key] = None if value is None else number(value)
    row["paired"], row["shown"] = (str(values[key]).lower() for key in ("paired", "shown"))
    row["count_with_water"], row["count_without"] = item.count
    return row | {"needed": item.needed}
