"""The guide's page of every farm-file key, made from the tables that read the file.

``cd tests && python -m docs.farm_keys`` writes it anew.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import hayweather
from hayweather.catalog import BALERS, CROPS, Figure, Source
from hayweather.catalog.prices import PRICES
from hayweather.catalog.rigs import DEFAULTS
from hayweather.farm.keys import Key, Table
from hayweather.farm.starter import comment_of
from hayweather.farm.tables import TABLES
from hayweather.units import symbol_of, to_shown
from hayweather.words import say

PAGE = Path(hayweather.__file__).parent / "guide" / "farm-keys.md"
HEAD = (
    "# Every key of the farm file\n\n"
    "Each key: unit, range, what holds if left out, whose word it is.\n\n"
    "Made from the tables that read the file. Numbers: US unit, then metric. "
    '"By kind" and "by crop" are the tables at the end. '
    "Published: read in the source; from memory: published, the value from memory; "
    "fitted: fitted here to what is named; assumed: nobody's word but ours, "
    "so set your own where you know better.\n"
)
STANDING = {
    "published": "published",
    "memory": "from memory",
    "fitted": "fitted",
    "common": "common practice",
    "assumed": "assumed",
}
BY_KIND = {"band", "stem_limit", "field_efficiency"}


def page() -> str:
    """The whole page."""
    parts = [HEAD, *(_table(table) for table in TABLES.values()), _kinds(), _crops()]
    return "\n".join(parts)


def _rows(headings: list[str], rows: list[list[str]]) -> str:
    """A table in Markdown."""
    lines = [headings, ["---"] * len(headings), *rows]
    return "".join(f"| {' | '.join(cell.replace('|', '/') for cell in line)} |\n" for line in lines)


def _table(table: Table) -> str:
    """One table of the farm file."""
    rows = [
        [f"`{key.name}`", comment_of(table, key, "en"), _range(key), *_left_out(table, key)]
        for key in table.keys
    ]
    head = ["key", "what", "accepted", "left out", "standing"]
    return f"## {table.heading}\n\n{_rows(head, rows)}"


def _amount(value: float, quantity: str) -> str:
    """A number in both units, or bare."""
    if not quantity:
        return f"{value:,g}"
    shown = [
        f"{_short(float(to_shown(value, quantity, system)))} {symbol_of(quantity, system)}"
        for system in ("us", "metric")
    ]
    return " = ".join(dict.fromkeys(shown))


def _short(value: float) -> str:
    """Three digits, no powers of ten."""
    return f"{value:,.0f}" if abs(value) >= 1000 else f"{value:.3g}"


def _range(key: Key) -> str:
    """What is accepted."""
    if key.kind == "ladder":
        return f"a price for each of {', '.join(key.choices)}"
    if key.kind == "points":
        return f"two pairs or more: {_amount(key.low, '')} to {_amount(key.high, '')}, and a price"
    if key.choices:
        return ", ".join(f'`"{choice}"`' for choice in key.choices)
    if key.kind not in ("number", "integer", "band", "label", "span"):
        return {"boolean": "true, false", "cured": "true or a time", "clock": "a time of day"}.get(
            key.kind, f"a {key.kind}"
        )
    quantity = key.quantity
    if math.isinf(key.low):
        return "any number"
    if math.isinf(key.high):
        return f"at least {_amount(key.low, quantity)}"
    return f"{_amount(key.low, quantity)} to {_amount(key.high, quantity)}"


def _left_out(table: Table, key: Key) -> list[str]:
    """What holds without the key, and whose word it is."""
    figure = _figure(table, key)
    if key.required:
        return ["needed", ""]
    if figure is not None:
        return [_amount(figure.value, key.quantity), _said(figure.source)]
    if table.name == "baler" and key.name in BY_KIND:
        return ["by kind", ""]
    if key.name == "leaf_minimum":
        return ["by crop", ""]
    default = table.default(key)
    if default is None or default == "":
        return ["not known", ""]
    return [_plain(default, key), _of_default(default)]


def _figure(table: Table, key: Key) -> Figure | None:
    """The catalog's figure for a key."""
    figures = {"rig": DEFAULTS, "money": PRICES}.get(table.name, {})
    return figures.get(key.target)


def _plain(default: Any, key: Key) -> str:
    """A default as people write it."""
    if isinstance(default, bool):
        return "true" if default else "false"
    return _amount(default, key.quantity) if isinstance(default, int | float) else f'`"{default}"`'


def _of_default(default: Any) -> str:
    """A number that is not none at all is an assumption."""
    is_number = isinstance(default, int | float) and not isinstance(default, bool)
    return "assumed" if is_number and default not in (0, 1) else ""


def _said(source: Source) -> str:
    """Standing and name of a source."""
    standing = STANDING[source.status]
    return f"{standing}: {source.name}" if source.name else standing


def _kinds() -> str:
    """Every kind of baler."""
    rows = []
    for kind in BALERS.values():
        limits, pace = kind.limits, kind.pace
        least, most = pace.efficiency_range
        slow, fast = (_amount(v, "ground_speed") for v in (pace.slow_m_s, pace.fast_m_s))
        usual, speeds = f"{pace.field_efficiency:g} ({least:g} to {most:g})", f"{slow} to {fast}"
        bales = [" of ".join(pair) for pair in zip(kind.bale_size, kind.bale_weight, strict=True)]
        rows.append(
            [
                f"`{kind.name}`, {say(kind.text)}",
                f"{limits.low_wb:g} to {limits.high_wb:g} %",
                f"{limits.ceiling_wb:g} % ({_said(kind.limits_source)})",
                f"{limits.stem_limit_wb:g} %",
                f"{usual}, {speeds} ({_said(pace.source)})",
                f"{_amount(kind.capacity.value, 'capacity')} ({_said(kind.capacity.source)})",
                f"{kind.loss_factor.value:g} ({_said(kind.loss_factor.source)})",
                f"{bales[0]} lb; {bales[1]} kg",
            ]
        )
    head = ["kind", "band", "ceiling without preservative", "stem at most", "efficiency, speeds",
            "capacity, in seasons only", "loss beside a small square", "a usual bale"]  # fmt: skip
    note = "Band and stem limit are assumed inside the ceiling; all are % wet basis."
    return f"## Kinds of baler\n\n{note}\n\n{_rows(head, rows)}"


def _crops() -> str:
    """Every crop."""
    rows = []
    for crop in CROPS.values():
        least = {None: "none", "band": "the bottom of the band"}.get(
            crop.leaf_minimum,  # type: ignore[arg-type]
            f"{crop.leaf_minimum} %",
        )
        loss = "not known: none is counted" if crop.loss is None else _said(crop.loss.source)
        rows.append(
            [
                f"`{crop.name}`, {say(crop.text)}",
                _said(crop.curves_source),
                f"{least} ({_said(crop.leaf_minimum_source)})",
                f"{crop.leaf_share:g} ({_said(crop.leaf_share_source)})",
                loss,
                "not known" if crop.quality is None else _said(crop.quality.points_source),
            ]
        )
    head = ["crop", "how it takes up moisture", "leaf at least", "leaf in dry matter",
            "loss at the baler", "what lost leaf costs in quality"]  # fmt: skip
    return f"## Crops\n\n{_rows(head, rows)}"


if __name__ == "__main__":
    PAGE.parent.mkdir(exist_ok=True)
    PAGE.write_text(page(), encoding="utf-8")
