"""Setting: one field with the site, baler, rig and windrow that belong to it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from hayweather.baling.water import target_for
from hayweather.catalog import Sorption, crop_of
from hayweather.farm.bands import Band, band_for
from hayweather.farm.records import Baler, Farm, Field, Ground, Rig, Site
from hayweather.windrow.forcing import Place
from hayweather.windrow.parameters import (
    GROUND_HUMIDITY,
    GROUND_RESISTANCE_S_M,
    WindrowParameters,
)

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
    """

    field: Field
    site: Site
    baler: Baler
    band: Band
    rig: Rig | None
    target_wb: float
    windrow: WindrowParameters
    place: Place


def setting_for(farm: Farm, field: Field, site: Site, now: np.datetime64) -> Setting:
    """What holds for `field` at `now`; the first baler and rig of the farm work there.

    Parameters
    ----------
    farm
        The farm.
    field, site
        One of its fields, and its site with elevation and zone known.
    now
        UTC; decides how dry an irrigated field is.
    """
    baler = next(iter(farm.balers.values()))
    rig = next(iter(farm.rigs.values())) if farm.rigs else None
    if rig is not None and farm.tuning.rig_efficiency is not None:
        rig = replace(rig, efficiency=farm.tuning.rig_efficiency)
    band = band_for(baler, field)
    place = Place(
        site.latitude,
        site.longitude,
        site.elevation_m or 0.0,
        site.dew_point_offset_k + farm.tuning.dew_point_offset_k,
        site.clear_night_air_offset_k,
    )
    return Setting(
        field=field,
        site=site,
        baler=baler,
        band=band,
        rig=rig,
        target_wb=band.low_wb + 1.0 if rig is None else target_for(rig, band.low_wb),
        windrow=windrow_for(farm, field, ground_at(field, site, now)),
        place=place,
    )


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
