"""Which inputs matter: the same nights with one input changed at a time."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from hayweather.baling.setting import Setting
from hayweather.baling.water import target_for
from hayweather.seasons.record.nights import Nights
from hayweather.seasons.record.results import InputEffect
from hayweather.seasons.tally import usable

MASS_FACTORS = (0.7, 1.4)  # as wide as the spread of forecasts has it (assumed)
DEW_POINT_SHIFTS_K = (-1.0, 1.0)
BAND_SHIFTS_WB = (-1.0, 1.0)


@dataclass(frozen=True)
class Variant:
    """One input changed; `key` and `change` as in `InputEffect`."""

    key: str
    change: tuple[float, str]
    apply: Callable[[Setting], Setting]


def variants_of(setting: Setting) -> list[Variant]:
    """The changes that are tried at a site; those that share a band stand together."""
    mass = float(np.asarray(setting.windrow.dry_matter_kg_m2))
    changes = [_mass(factor, mass) for factor in MASS_FACTORS]
    changes += [_dew_point(shift) for shift in DEW_POINT_SHIFTS_K]
    return changes + [_band(shift) for shift in BAND_SHIFTS_WB if _allowed(setting, shift)]


def _mass(factor: float, mass_kg_m2: float) -> Variant:
    """A lighter or heavier windrow."""
    new = factor * mass_kg_m2

    def apply(setting: Setting) -> Setting:
        return replace(setting, windrow=replace(setting.windrow, dry_matter_kg_m2=new))

    return Variant("mass", (new, "windrow_mass"), apply)


def _dew_point(shift_k: float) -> Variant:
    """A drier or moister field."""

    def apply(setting: Setting) -> Setting:
        offset = setting.place.dew_point_offset_k + shift_k
        return replace(setting, place=replace(setting.place, dew_point_offset_k=offset))

    return Variant("dew_point", (shift_k, "temperature_difference"), apply)


def _allowed(setting: Setting, shift_wb: float) -> bool:
    """Whether a shifted band stays below the ceiling."""
    return setting.band.high_wb + shift_wb <= setting.band.ceiling_wb


def _band(shift_wb: float) -> Variant:
    """A drier or moister band, the leaf minimum with it where the band sets it."""

    def apply(setting: Setting) -> Setting:
        old = setting.band
        low, leaf = old.low_wb + shift_wb, old.leaf_minimum_wb
        band = replace(
            old,
            low_wb=low,
            high_wb=old.high_wb + shift_wb,
            leaf_minimum_wb=low if leaf == old.low_wb else leaf,
        )
        target = setting.target_wb if setting.rig is None else target_for(setting.rig, low)
        return replace(setting, band=band, target_wb=target)

    return Variant("band", (shift_wb, "percent"), apply)


def effect_of(
    site: str, variant: Variant, base: Nights, changed: Nights, useful_hours: float
) -> InputEffect | None:
    """What a change does on the nights counted both times; None where there are none."""
    both = base.counted & changed.counted
    if not both.any():
        return None
    old, new = base.only(both), changed.only(both)
    good = usable(new, useful_hours).mean() - usable(old, useful_hours).mean()
    return InputEffect(
        site=site,
        key=variant.key,
        change=variant.change,
        dew_hours=float((new.dew_h - old.dew_h).mean()),
        rig_hours=float((new.rig_h - old.rig_h).mean()),
        wet_hours=float((new.wet_h - old.wet_h).mean()),
        dew_nights_percent=float(100 * good),
    )


def most_telling(effects: Sequence[InputEffect]) -> list[InputEffect]:
    """Effects of one site, the largest change in hours on dew first."""
    return sorted(effects, key=lambda effect: -abs(effect.dew_hours))
