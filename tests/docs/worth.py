"""What an hour is worth by the way hay is paid: ``cd tests && python -m docs.worth``.

The first field of two dry samples, its hay given laboratory figures; dry hay allowed, so
that its price shows. Each value is that of the best time of its way, work paid.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from hayweather.catalog import crop_of
from hayweather.farm import Farm, read_farm
from hayweather.nights import night_of
from hayweather.plan.make import plan_work
from hayweather.units import to_shown
from hayweather.weather.asked import weather_for

SAMPLES = Path(__file__).parents[2] / "sample_forecasts"
NAMES = {"sagebeck_no_dew": "no dew", "sagebeck_hot_wind": "hot wind"}
SHEET = {"crude_protein_percent": 20.5, "ndf_percent": 38.0, "adf_percent": 30.0}
LADDER = {"supreme": 1.05, "premium": 1.0, "good": 0.9, "fair": 0.75, "utility": 0.6}
"""Prices of the classes beside the price of the farm file; made up for this table."""
PAID = ("leaf", "rfv", "class")
WAYS = ("dew", "rig", "dry")


def scales() -> list[float]:
    """The least, usual and most loss of alfalfa's leaf beside the usual one."""
    loss = crop_of("alfalfa").loss
    assert loss is not None
    least, most = loss.level_range
    return [least / loss.level, 1.0, most / loss.level]


def paid_by(farm: Farm, way: str, scale: float) -> Farm:
    """The farm with its first field alone, paid by one way, with one loss."""
    name, field = next(iter(farm.fields.items()))
    price = farm.money.price_per_kg or 0.0
    classes = tuple((step, factor * price) for step, factor in LADDER.items())
    money = replace(
        farm.money,
        price_by=way,
        class_prices=classes if way == "class" else None,
        allow_dry=True,
        never_dry_below_wb=0.0,
    )
    balers = {key: replace(baler, leaf_loss=scale) for key, baler in farm.balers.items()}
    return replace(farm, fields={name: replace(field, **SHEET)}, money=money, balers=balers)


def values(farm: Farm, weather: dict, way: str, scale: float) -> dict[str, float]:
    """What a ton brings by the best time of each way, and by waiting [$/ton]."""
    now = farm.weather.now
    assert now is not None
    night = night_of(paid_by(farm, way, scale), weather, now, days=1)
    found = plan_work(night, seconds=0.2, unseen=0).fields[0]
    per_kg = {"waiting": found.waiting_per_kg}
    per_kg |= {item.way: item.value_per_kg for item in found.ways}
    return {key: float(to_shown(value, "price_by_mass", "us")) for key, value in per_kg.items()}


def cell(value: float | None) -> str:
    """Money by the ton, "-" where there is no such hour."""
    return "-" if value is None else f"{value:.1f}"


def gap(found: dict[str, float], than: str) -> float | None:
    """What the rig's best hour brings above another way."""
    return found["rig"] - found[than] if {"rig", than} <= set(found) else None


def rows() -> list[str]:
    """The table, Markdown."""
    heads = ["night", "paid by", "on dew", "with the rig", "dry", "waiting"]
    heads += [f"rig less {than}: least, usual, most loss" for than in ("dry", "waiting")]
    lines = [f"| {' | '.join(heads)} |", f"| {' | '.join('---' for _ in heads)} |"]
    for sample, name in NAMES.items():
        farm = read_farm(SAMPLES / f"{sample}.toml")
        weather = weather_for(farm, farm.sites)
        for way in PAID:
            ends = [values(farm, weather, way, scale) for scale in scales()]
            shown = [cell(ends[1].get(key)) for key in (*WAYS, "waiting")]
            gaps = [
                ", ".join(cell(gap(found, than)) for found in ends) for than in ("dry", "waiting")
            ]
            lines.append(f"| {' | '.join([name, way, *shown, *gaps])} |")
    return lines


if __name__ == "__main__":
    print("\n".join(rows()))
