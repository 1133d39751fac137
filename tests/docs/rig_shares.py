"""How the two assumed shares of a rig move its rate: ``cd tests && python -m docs.rig_shares``.

The forecast alone, no members, of the first field of the sample farm.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from hayweather.baling.clock import to_local
from hayweather.catalog.rigs import DEFAULTS, DRAWN
from hayweather.farm import Farm, read_farm
from hayweather.nights.night import FieldNight, night_of
from hayweather.units import to_shown
from hayweather.weather.asked import weather_for
from hayweather.windrow.trajectory import QUARTERS

SAMPLE = Path(__file__).parents[2] / "sample_forecasts" / "sagebeck.toml"
HOURS = (21, 23, 8, 9, 10)  # of the clock
HEADINGS = ("9 pm", "11 pm", "8 am", "9 am", "10 am")


def with_shares(farm: Farm, **shares: float) -> Farm:
    """The farm with shares of its rig given."""
    rigs = {name: replace(rig, **shares) for name, rig in (farm.rigs or {}).items()}
    return replace(farm, rigs=rigs)


def rates(field: FieldNight) -> list[str]:
    """Rate in the middle of each hour [gal/ton], the first time the clock shows it; "-": none."""
    quarters, zone = field.shown.quarters, str(field.setting.site.timezone)
    assert quarters.dose is not None
    clock = [to_local(hour.start, zone).hour for hour in field.hours]
    found = []
    for hour in HOURS:
        rate = quarters.dose.applied_l_t[QUARTERS * clock.index(hour) + 2, 0]
        shown = to_shown(float(rate), "water_rate", "us")
        found.append("-" if np.isnan(rate) else f"{shown:.1f}")
    return found


def rows() -> list[str]:
    """The table, Markdown."""
    farm = read_farm(SAMPLE)
    weather, now = weather_for(farm, farm.sites), farm.weather.now
    assert now is not None
    cases: list[dict[str, float]] = [{}]
    for name, (low, high) in DRAWN.items():
        cases += [{name: end} for end in (low, high)]
    ends = [{name: DRAWN[name][end] for name in DRAWN} for end in (0, 1)]
    lines = [
        f"| leaf share | top share | {' | '.join(HEADINGS)} |",
        f"| --- | --- | {' | '.join('---' for _ in HEADINGS)} |",
    ]
    for case in [*cases, *ends]:
        shares = {name: case.get(name, DEFAULTS[name].value) for name in DRAWN}
        night = night_of(with_shares(farm, **shares), weather, now, members=0)
        first = " | ".join(f"{shares[name]:g}" for name in ("leaf_share", "top_share"))
        lines.append(f"| {first} | {' | '.join(rates(night.fields[0]))} |")
    return lines


if __name__ == "__main__":
    print("\n".join(rows()))
