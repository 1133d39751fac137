"""Setting: one field with the site, baler, rig and windrow that belong to it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from hayweather.catalog import Sorption, crop_of
from hayweather.catalog.rigs import ROUND_STEPS_L_T
from hayweather.farm.bands import Band, band_for, target_of
from hayweather.farm.records import Baler, Farm, Field, Ground, Rig, Site, UnitSystem
from hayweather.windrow.forcing import Place
from hayweather.windrow.parameters import (
    GROUND_HUMIDITY,
    GROUND_RESISTANCE_S_M,
    WindrowParameters,
)
from hayweather.words import Remark

UNCONDITIONED_STEM_TIME_H = 8.0  # assumed
GROUND_CLASS_DAYS = 3  # an irrigated field dries one class in this many days (assumed)
_WETTEST_FIRST: tuple[Ground, ...] = ("wet", "damp", "dry")


@dataclass(frozen=True)
class Setting:
    """One field and what works in it.

    Attributes
    ----------
    field, site, baler
        As the farm file says; the site with elevation and zone filled.
    band
        Moisture limits that hold here.
    rig
        The rewetting rig, None where there is none.
    target_wb
        Moisture the rig aims at [% wet basis].
    windrow, place
        Parameters of the model.
    dry_from_wb
        Leaf moisture from which hay may be baled dry, by the grower's word [% wet
        basis]; None: never.
    baler_out
        Since when each baler of the field is out of order (UTC); None: one runs.
    """

    field: Field
    site: Site
    baler: Baler
    band: Band
    rig: Rig | None
    target_wb: float
    windrow: WindrowParameters
    place: Place
    dry_from_wb: float | None = None
    baler_out: np.datetime64 | None = None


def all_machines(farm: Farm) -> tuple[tuple[Baler, ...], tuple[Rig, ...]]:
    """Balers of a farm, and its rigs that run, with a dial of its units, efficiency as tuned."""
    tuned, out = farm.tuning.rig_efficiency, dict(farm.out_of_order)
    rigs = tuple(
        replace(rig, rate_step_l_t=dial_step_l_t(rig, farm.units))
        for name, rig in (farm.rigs or {}).items()
        if name not in out
    )
    if tuned is not None:
        rigs = tuple(replace(rig, efficiency=tuned) for rig in rigs)
    return tuple(farm.balers.values()), rigs


def dial_step_l_t(rig: Rig, units: UnitSystem) -> float:
    """Smallest change of a rig's rate [L/t]: its own, else a round one of the farm's units."""
    given = rig.rate_step_l_t != Rig.rate_step_l_t
    return rig.rate_step_l_t if given else ROUND_STEPS_L_T[units]


def own_machines(farm: Farm, field: Field) -> tuple[tuple[Baler, ...], tuple[Rig, ...]]:
    """The balers and rigs that may work in a field: the ones it names, else all of the farm.

    Those out of order are left out; balers only while another one runs that may work there:
    its limits hold, and no hour is go (`Setting.baler_out`).
    """
    balers, rigs = all_machines(farm)
    out = dict(farm.out_of_order)
    own = tuple(baler for baler in balers if field.baler in (None, baler.name))
    return (
        tuple(baler for baler in own if baler.name not in out) or own,
        tuple(rig for rig in rigs if field.rig in (None, rig.name)),
    )


def out_of_order(farm: Farm) -> tuple[Remark, ...]:
    """The machines that do not run, by the log; planned without."""
    return tuple(
        Remark("machine_out", {"machine": _title(farm, name), "time": since})
        for name, since in farm.out_of_order
    )


def _title(farm: Farm, name: str) -> Remark:
    """A machine as its sheet calls it."""
    kind = "baler" if name in farm.balers else "rig"
    own: dict[str, object] = {} if name == kind else {"name": name}
    return Remark(f"sheet_machine_{kind}_named" if own else f"sheet_machine_{kind}", own)


def unnamed_machines(farm: Farm, field: Field) -> tuple[Remark, ...]:
    """What must be said where a field shows one of several balers or rigs and names none."""
    balers, rigs = own_machines(farm, field)
    named = {
        "machines_baler": [baler.name for baler in balers],
        "machines_rig": [rig.name for rig in rigs],
    }
    return tuple(
        Remark(key, {"shown": names[0], "others": ", ".join(names[1:])})
        for key, names in named.items()
        if len(names) > 1
    )


def setting_for(farm: Farm, field: Field, site: Site, now: np.datetime64) -> Setting:
    """What holds for `field` at `now`, with the baler and rig that it names.

    Where it names none and there are several, the first of each is shown, and
    `unnamed_machines` says so.

    Parameters
    ----------
    farm
        The farm.
    field, site
        One of its fields, and its site with elevation and zone known.
    now
        UTC; decides how dry an irrigated field is.
    """
    balers, rigs = own_machines(farm, field)
    place = Place(
        site.latitude,
        site.longitude,
        site.elevation_m or 0.0,
        site.dew_point_offset_k + farm.tuning.dew_point_offset_k,
        site.clear_night_air_offset_k,
    )
    windrow = windrow_for(farm, field, ground_at(field, site, now))
    found = _with(field, site, balers[0], rigs[0] if rigs else None, windrow, place)
    since = dict(farm.out_of_order).get(balers[0].name)
    return replace(found, dry_from_wb=_dry_from_wb(farm, found.band), baler_out=since)


NEVER_DRY_BELOW_WB = 9.0  # leaf moisture below which hay that shatters is not baled (assumed)


def _dry_from_wb(farm: Farm, band: Band) -> float | None:
    """Leaf moisture from which hay may be baled dry [% wet basis]; None: the word is not given."""
    return dry_floor_wb(farm, band) if farm.money.allow_dry else None


def dry_floor_wb(farm: Farm, band: Band) -> float:
    """Leaf moisture below which no hay is baled dry, whatever the word [% wet basis]."""
    floor = farm.money.never_dry_below_wb
    if floor is None:
        return 0.0 if band.leaf_minimum_wb is None else NEVER_DRY_BELOW_WB
    return floor


def with_machines(setting: Setting, baler: Baler, rig: Rig | None) -> Setting:
    """What holds for a field with another baler, and with a rig or none."""
    found = _with(setting.field, setting.site, baler, rig, setting.windrow, setting.place)
    return replace(found, dry_from_wb=setting.dry_from_wb, baler_out=setting.baler_out)


def _with(
    field: Field,
    site: Site,
    baler: Baler,
    rig: Rig | None,
    windrow: WindrowParameters,
    place: Place,
) -> Setting:
    """A setting with the band and target of its machines."""
    band = band_for(baler, field)
    target = target_of(rig, band.low_wb)
    return Setting(field, site, baler, band, rig, target, windrow, place)


def windrow_for(farm: Farm, field: Field, ground: Ground) -> WindrowParameters:
    """Parameters of a field's windrow, the farm's tuning applied."""
    crop = crop_of(field.crop)
    tuning, standard = farm.tuning, WindrowParameters()
    return replace(
        standard,
        dry_matter_kg_m2=field.windrow_mass_kg_m2 * tuning.windrow_mass,
        leaf=_holding(crop.leaf, tuning.leaf_moisture),
        stem=_holding(crop.stem, tuning.stem_moisture),
        leaf_share=crop.leaf_share,
        stem_time_h=standard.stem_time_h if field.conditioned else UNCONDITIONED_STEM_TIME_H,
        sky_view=standard.sky_view if tuning.sky_view is None else tuning.sky_view,
        ground_resistance_s_m=GROUND_RESISTANCE_S_M[ground],
        ground_humidity=GROUND_HUMIDITY.get(ground, float("nan")),
    )


def ground_at(field: Field, site: Site, now: np.datetime64) -> Ground:
    """How wet the ground under a windrow is: as said, or wetter after irrigation (assumed)."""
    said = field.ground or site.ground
    if field.irrigated_at is None or field.irrigated_at > now:
        return said
    days = (now - field.irrigated_at) / np.timedelta64(1, "D")
    since = _WETTEST_FIRST[min(int(days // GROUND_CLASS_DAYS), 2)]
    return min(said, since, key=_WETTEST_FIRST.index)


def _holding(curve: Sorption, factor: float) -> Sorption:
    """A sorption curve holding `factor` times the moisture."""
    return replace(curve, amount=curve.amount * factor)
