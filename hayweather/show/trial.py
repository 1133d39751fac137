"""A trial of strips: text, JSON (schema ``hayweather/trial/1``) and CSV, a row a quantity."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from hayweather.catalog import kind_of
from hayweather.seasons.record.trial import MOST_NEEDED, Difference, LeafLoss, Trial, TrialMoney
from hayweather.show.layout import (
    WIDEST_PROSE,
    TextColumn,
    bullets,
    evened,
    paragraphs,
    table_lines,
)
from hayweather.show.seasons_words import by_area
from hayweather.show.table import Column, Document, Json, Table, through_all
from hayweather.show.voice import Voice, safety_texts, short_safety_texts, shown_safety
from hayweather.units import to_shown

UNITS = {"us": "lb/acre", "metric": "kg/ha"}
PERCENT = "percent_of_dry_matter"

Named = tuple[str, Difference]


def trial_text(
    trial: Trial,
    voice: Voice,
    width: int = 80,
    *,
    invented: bool = False,
    all_cautions: bool = False,
) -> str:
    """What the strips can show, as text; the verdict first."""
    head = [voice.say("trial_invented")] if invented else []
    kinds = [strip.treatment for strip in trial.strips]
    title = voice.say(
        "trial_title", file=trial.file, water=kinds.count("water"), none=kinds.count("none")
    )
    found = differences(trial)
    head += [title, voice.say(f"trial_verdict_{trial.verdict}"), *blank_texts(trial, voice)]
    prose = min(width, WIDEST_PROSE)
    lines = paragraphs(head, prose)
    if found:
        lines += ["", *table_lines(_columns(found, voice), width)]
    said = [*_method(trial, voice), *_worth(trial, voice), *_leaf_loss(trial, voice)]
    lines += ["", *bullets(said, prose)]
    if trial.leaf_loss is not None and trial.leaf_loss.tells:
        lines += ["", "[baler]", *leaf_loss_lines(trial.leaf_loss)]
    safety = shown_safety(voice, all_cautions)
    return "\n".join([*lines, "", *bullets(safety, prose)]) + "\n"


def blank_texts(trial: Trial, voice: Voice) -> list[str]:
    """Which strips are left out of what, for a blank cell."""
    return [
        voice.say("trial_blanks", column=column, strips=", ".join(strips))
        for column, strips in trial.blanks.items()
    ]


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
    return float(to_shown(kg_m2, "mass_by_area", voice.units))


def _shown(name: str, value: float, voice: Voice, *, signed: bool = False) -> str:
    """A value of a quantity as people read it."""
    sign = "+" if signed else ""
    if is_mass(name):
        return voice.signed(f"{by_area_shown(value, voice):{sign},.0f}")
    return voice.signed(f"{value:{sign}.1f}")


def _columns(found: Sequence[Named], voice: Voice) -> list[TextColumn]:
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
        TextColumn(tuple(_hyphened(heads[key])), tuple(column), is_text=key == "quantity")
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
    if trial.dry_matter is None:
        return said
    return [
        *said,
        *_meter(trial, trial.dry_matter, voice),
        *_needed(trial, trial.dry_matter, voice),
    ]


def _meter(trial: Trial, item: Difference, voice: Voice) -> list[str]:
    """What the moisture meter alone may do to the difference."""
    if not trial.meter_bias_wb:
        return [voice.say("trial_meter_none")]
    off = f"{_shown('dry_matter', item.meter, voice)} {UNITS[voice.units]}"
    return [voice.say("trial_meter", bias=f"{trial.meter_bias_wb:g}", off=off)]


def _needed(trial: Trial, item: Difference, voice: Voice) -> list[str]:
    """What so many strips show, and how many would settle it, in bales too."""
    if item.smallest is None:
        return []
    value = f"{_shown('dry_matter', item.smallest, voice)} {UNITS[voice.units]}"
    said = [voice.say("trial_smallest", value=value)]
    if item.shown:
        return said
    if item.meter and abs(item.value) <= item.meter:
        return [*said, voice.say("trial_needed_meter")]
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


def _leaf_loss(trial: Trial, voice: Voice) -> list[str]:
    """The loss of leaf at the baler beside the assumed one, where strips tell it."""
    found = trial.leaf_loss
    if found is None:
        return []
    key = "trial_leaf_loss" if found.tells else "trial_leaf_loss_wide"
    numbers = (found.factor, found.low, found.high, *found.published)
    names = ("value", "low", "high", "least", "most")
    shown = {name: f"{number:.1f}" for name, number in zip(names, numbers, strict=True)}
    bales = voice.say(kind_of(found.kind).text)
    said = voice.say(key, **shown, bales=bales, bias=f"{found.meter_bias_wb:g}")
    return [said, voice.say("trial_leaf_loss_rests")]


def leaf_loss_lines(found: LeafLoss) -> list[str]:
    """What to paste below ``[baler]`` of the farm file; no loss is below nothing."""
    factor, low, high = (f"{max(x, 0.0):.2f}" for x in (found.factor, found.low, found.high))
    return [f"leaf_loss = {factor}", f"leaf_loss_range = [{low}, {high}]"]


def _spans_zero(money: TrialMoney) -> bool:
    """Whether the money after costs may be above or below nothing."""
    found = money.after_range
    return found is None or found[0] <= 0 <= found[1]


def _money(per_m2: float, voice: Voice) -> str:
    """Money by area."""
    area = "acre" if voice.units == "us" else "ha"
    value = by_area(per_m2, voice)
    sign = "-" if round(value, 2) < 0 else ""
    return f"{voice.signed(f'{sign}{abs(value):,.2f}')}/{area}"


def _money_range(found: tuple[float, float] | None, voice: Voice) -> str:
    """A range of money by area, nothing where there is none."""
    if found is None:
        return ""
    low, high = (_money(value, voice) for value in found)
    return voice.say("trial_money_range", low=low, high=high)


@dataclass(frozen=True)
class Judged:
    """A trial, and whether its figures are made up."""

    trial: Trial
    invented: bool = False


_VALUES = {
    "with_water": "Mean with added moisture",
    "without": "Mean without",
    "value": "Difference: with added moisture less without",
    "low": "Lower end of the range that holds the true difference nine times in ten",
    "high": "Upper end of that range",
    "smallest": "Difference that as many strips would show eight times in ten",
    "meter": "What a meter off between treatments may make of nothing, either way",
}
_TESTED = (
    Column("t", "Student's t of the difference", unit="1"),
    Column("degrees", "Its degrees of freedom", unit="1"),
    Column("probability", "Chance of one as large without a difference, two-sided", unit="1"),
)
_PAIRED = Column("paired", "Blocks were compared within", kind="truth")
_SHOWN = Column("shown", "The range leaves out zero", kind="truth")
_NEEDED = Column(
    "needed", "Blocks, or strips of each kind, that would show a difference as large",
    kind="count", null=True,
)  # fmt: skip
_PLAIN = (
    _PAIRED,
    _SHOWN,
    _NEEDED,
    *_TESTED,
    Column("count", "Blocks; else strips with and without", kind="any",
           fits={"type": "array", "items": {"type": "integer"}},
           value=lambda item: list(item.count)),
)  # fmt: skip
BY_AREA = Table(
    (
        *_PLAIN,
        *(
            Column(f"{name}_kg_ha", help_, name, "mass_by_area", us=f"{name}_lb_acre")
            for name, help_ in _VALUES.items()
        ),
    ),
    "A weight by area, with added moisture and without.",
)
QUALITY = Table(
    (*_PLAIN, *(Column(name, help_, unit="%") for name, help_ in _VALUES.items())),
    "Percent of dry matter, with added moisture and without.",
)


def _named_value(name: str) -> Callable[[Named, Voice], float | None]:
    """A value in the reader's units, or in percent."""

    def found(named: Named, voice: Voice) -> float | None:
        value: float | None = getattr(named[1], name)
        return by_area_shown(value, voice) if value is not None and is_mass(named[0]) else value

    return found


ROWS = Table(
    (
        Column("quantity", "What was measured", lambda named: named[0], kind="text"),
        Column("unit", "Of the values", kind="text",
               said=lambda named, voice: UNITS[voice.units] if is_mass(named[0]) else PERCENT),
        *(Column(name, help_, said=_named_value(name)) for name, help_ in _VALUES.items()),
        *through_all((*_TESTED, _PAIRED), lambda named: named[1]),
        Column("count_with_water", "Strips with", lambda named: named[1].count[0], kind="count"),
        Column("count_without", "Strips without", lambda named: named[1].count[1], kind="count"),
        *through_all((_SHOWN, _NEEDED), lambda named: named[1]),
    ),
    "One quantity in the reader's units.",
)  # fmt: skip


def _by_area(name: str, help_: str) -> Column:
    """Money by area."""
    return Column(f"{name}_ha", help_, name, "price_by_area", us=f"{name}_acre",
                  kind="numbers" if name.endswith("_range") else "number",
                  null=name.endswith("_range"))  # fmt: skip


MONEY = Table(
    (
        _by_area("hay", "Worth of the dry matter, at 12 % moisture"),
        _by_area("hay_range", "Its range"),
        _by_area("water", "What a buyer by weight pays besides, for water alone"),
        _by_area("cost", "Of adding moisture"),
        _by_area("after", "Hay less cost"),
        _by_area("after_range", "Its range"),
    ),
    "Money by area: with added moisture less without.",
)


LEAF_LOSS = Table(
    (
        Column("kind", "Kind of baler", kind="text"),
        Column("factor", "Loss beside the assumed curve", unit="1"),
        Column("low", "Lower end of its range, nine in ten", unit="1"),
        Column("high", "Upper end", unit="1"),
        Column("meter_bias_wb", "Points by which a meter may be off between treatments", unit="%"),
        Column("tells", "The strips tell more than is published", kind="truth"),
    ),
    "Loss of leaf at the baler beside the assumed curve.",
)


def _differences(judged: Judged, voice: Voice) -> Json:
    return {
        name: (BY_AREA if is_mass(name) else QUALITY).record(item, voice)
        for name, item in differences(judged.trial)
    }


TRIAL = Document(
    "hayweather/trial/1",
    Table(
        (
            Column("file", "Name of the file", "trial.file", kind="text"),
            Column("invented", "True for a made-up sample", kind="truth"),
            Column("strips", "Strips read", lambda made: len(made.trial.strips), kind="count"),
            Column("verdict", "What can be said", "trial.verdict", kind="text"),
            Column("sentence", "The same in words", kind="text",
                   said=lambda made, voice: voice.say(f"trial_verdict_{made.trial.verdict}")),
            Column("needed_bales", "Bales in the strips that it would take", "trial.needed_bales",
                   kind="count", null=True),
            Column("left_out", "Blocks that hold one kind only", "trial.left_out", kind="texts"),
            Column("meter_bias_wb", "Points by which a meter may be off between treatments",
                   "trial.meter_bias_wb", unit="%"),
            Column("blanks", "Strips left out of what needs a column that is blank there",
                   lambda made: {key: list(names) for key, names in made.trial.blanks.items()},
                   kind="any", fits={"type": "object"}),
            Column("differences", "By quantity, those that were measured", kind="any",
                   said=_differences,
                   fits={"type": "object", "additionalProperties":
                         {"anyOf": [BY_AREA.schema(), QUALITY.schema()]}}),
            Column("money", "By area; null without a price", "trial.money", kind="row", of=MONEY,
                   null=True),
            Column("leaf_loss", "Null where the strips have no range or are equally moist",
                   "trial.leaf_loss", kind="row", of=LEAF_LOSS, null=True),
            Column("cautions", "Cautions that always show", kind="texts",
                   said=lambda _, voice: safety_texts(voice)),
        ),
        "What strips with and without added moisture can show (hayweather trial).",
    ),
)  # fmt: skip


def trial_json(trial: Trial, voice: Voice, *, invented: bool = False) -> str:
    """A trial as JSON text; weights by hectare and by acre."""
    return TRIAL.text(Judged(trial, invented), voice)


def trial_csv(trial: Trial, voice: Voice, *, invented: bool = False, raw: bool = False) -> str:
    """A trial as CSV: one row a quantity; lines before the header begin with ``#``."""
    head = [voice.say("trial_invented")] if invented else []
    head.append(voice.say(f"trial_verdict_{trial.verdict}"))
    head += blank_texts(trial, voice)
    notes = (*head, *short_safety_texts(voice))
    return ROWS.csv(differences(trial), voice, notes, raw=raw)
