"""What must hold between the values of a farm file."""

from __future__ import annotations

from collections.abc import Mapping
from zoneinfo import ZoneInfo

from hayweather.catalog import crop_of, kind_of
from hayweather.farm.bands import bale_end_m, band_of, ceiling_of, target_of, top_allowed
from hayweather.farm.clock import shifts_overlap
from hayweather.farm.nearest import nearest
from hayweather.farm.reading import missing
from hayweather.farm.records import (
    Baler,
    Field,
    Money,
    Rig,
    Road,
    Shift,
    Site,
    Station,
    WeatherChoice,
)
from hayweather.farm.tables import MONEY
from hayweather.farm.values import Spot, as_written
from hayweather.farm.zones import LARGEST_ZONE_GAP_H, in_us_boxes, zone_gap_h
from hayweather.units import to_shown
from hayweather.weather.catalog import SERVICES


def check_weather(weather: WeatherChoice, spot: Spot) -> None:
    """One source of weather, and options that fit it.

    Raises
    ------
    FarmFileError
        If there is none or both, or an option is for the other kind.
    """
    if weather.file is not None and weather.service is not None:
        raise spot.error("two_sources", "file")
    if weather.file is None and weather.service is None:
        raise spot.error("no_source")
    if weather.now is not None and not weather.invented:
        raise spot.error("now_not_invented", "now")
    service = SERVICES.get(weather.service or "")
    if weather.forecast_runs and (service is None or service.runs is None):
        raise spot.error("runs_service", "forecast_runs")
    if weather.service is not None:
        _check_file_options(weather, spot)


def _check_file_options(weather: WeatherChoice, spot: Spot) -> None:
    """Refuse options of a weather file where a service is asked."""
    given = {
        "invented": weather.invented or None,
        "timezone": weather.timezone,
        "wind_height": weather.wind_height_m,
        "hour": weather.hour,
        "columns": weather.columns,
    }
    for name, value in given.items():
        if value is not None:
            raise spot.error("file_option", name, value=weather.service)


STATION_KINDS = {
    "file": ("timezone", "hour", "dates"),
    "observed": ("id",),
    "topic": ("broker", "port", "user", "tls"),
}
"""What makes a station one of its kind, and the keys that only that kind has."""
OF_ALL_BUT_OFFICIAL = (
    "wind_height", "units", "temperature_unit", "wind_unit", "rain_unit", "temperature",
    "humidity", "dew_point", "wind", "rain", "time", "latitude", "longitude", "elevation",
)  # fmt: skip


def check_station(station: Station, spot: Spot) -> None:
    """One kind of station, with the keys of that kind, and a whole place.

    Raises
    ------
    FarmFileError
        If it is none or several, or a key is for another kind.
    """
    given = [name for name in STATION_KINDS if getattr(station, name) is not None]
    if len(given) != 1:
        raise spot.error("station_kind", given[1] if given else "")
    kind = given[0]
    usual = Station(station.name)
    for other, names in STATION_KINDS.items():
        for name in names:
            if other != kind and getattr(station, name) != getattr(usual, name):
                raise spot.error("station_key", name, kind=kind)
    if kind == "topic" and station.broker is None:
        raise spot.error("station_broker", "broker")
    if kind == "observed":
        for name in OF_ALL_BUT_OFFICIAL:
            target = {"wind_height": "wind_height_m", "elevation": "elevation_m"}.get(name, name)
            if getattr(station, target) is not None:
                raise spot.error("station_key", name, kind=kind)
    if (station.latitude is None) != (station.longitude is None):
        lost = "latitude" if station.latitude is None else "longitude"
        raise spot.error("station_place", lost)


def check_terms(weather: WeatherChoice, environ: Mapping[str, str], spot: Spot) -> None:
    """Open-Meteo needs a key, or the user's word that the use is non-commercial.

    Raises
    ------
    FarmFileError
        If there is neither.
    """
    service = SERVICES.get(weather.service or "")
    if service is None or not service.free_terms or weather.terms is not None:
        return
    if not environ.get(service.key_variable, "").strip():
        raise spot.error("terms", "terms", name=service.key_variable)


def check_site(site: Site, zone: ZoneInfo | None, weather: WeatherChoice, spot: Spot) -> None:
    """A site has what its weather source does not bring, and lies where it can.

    Raises
    ------
    FarmFileError
        If zone or elevation is missing beside a file, the zone does not fit
        the longitude, or the US service does not cover the place.
    """
    if weather.file is not None:
        if site.timezone is None:
            raise spot.error("required", "timezone", example='timezone = "America/Los_Angeles"')
        if site.elevation_m is None:
            raise spot.error("required", "elevation", example="elevation = 4300")
    if zone is not None and zone_gap_h(zone, site.longitude) > LARGEST_ZONE_GAP_H:
        longitude = f"{site.longitude:g}"
        raise spot.error("zone_far", "longitude", value=longitude, zone=site.timezone)
    service = SERVICES.get(weather.service or "")
    if service is not None and service.us_only and not in_us_boxes(site.latitude, site.longitude):
        raise spot.error("not_in_us", "latitude", value=f"{site.latitude:g}, {site.longitude:g}")


def check_field(field: Field, spot: Spot) -> None:
    """A field says how dry its hay is, and its times are in order.

    Raises
    ------
    FarmFileError
        If neither `cured`, `cut_at` nor `moisture_now` is given, or hay is
        raked or cured before it is cut.
    """
    if field.cured is None and field.cut_at is None and field.moisture_now_wb is None:
        raise spot.error("not_known_dry")
    if field.cut_at is None:
        return
    if field.raked_at is not None and field.raked_at < field.cut_at:
        raise spot.error("before_cut", "raked_at")
    if field.cured not in (None, True) and field.cured < field.cut_at:
        raise spot.error("before_cut", "cured")


_PAID_BY = {"rfv": ("price_rfv", "rfv_prices"), "class": ("class_prices",)}


def idle_prices(money: Money) -> list[str]:
    """Keys of prices that stand in the file and count for nothing: hay is paid by something else.

    A table of feed values stands in place of a price in proportion.
    """
    keys = [key for way, keys in _PAID_BY.items() if way != money.price_by for key in keys]
    if money.rfv_prices is not None and "price_rfv" not in keys:
        keys.append("price_rfv")
    return [key for key in keys if getattr(money, key) is not None]


def check_prices(money: Money, fields: Mapping[str, Field], spot: Spot) -> None:
    """What hay is paid by can be worked out of what the file gives.

    Only crops of which the catalog knows what leaf does to their figures are asked.

    Parameters
    ----------
    money
        Prices.
    fields
        By the heading of their table.
    spot
        Of the prices.

    Raises
    ------
    FarmFileError
        If hay is paid by feed value or class and a field lacks the laboratory
        figures for it, or prices by class are missing.
    """
    if money.price_by == "leaf":
        return
    if money.price_by == "class" and money.class_prices is None:
        raise missing(next(key for key in MONEY.keys if key.name == "class_prices"), spot)
    for table, field in fields.items():
        given = {"ndf": field.ndf_percent, "adf": field.adf_percent}
        lacking = [name for name, value in given.items() if value is None]
        if lacking and crop_of(field.crop).quality is not None:
            values = {"table": table, "keys": ", ".join(lacking), "by": money.price_by}
            raise spot.error("no_figures", "price_by", **values)


def check_baler(baler: Baler, spot: Spot) -> None:
    """The band lies below what kind, label and market allow.

    Raises
    ------
    FarmFileError
        If it does not, the bale's size is not understood, or speeds are reversed.
    """
    if baler.bale_size is not None and bale_end_m(baler.bale_size) is None:
        us, metric = kind_of(baler.kind).bale_size
        raise spot.error(
            "bale_size",
            "bale_size",
            value=as_written(baler.bale_size),
            example=us if spot.units == "us" else metric,
        )
    _check_speeds(baler, spot)
    if baler.leaf_loss_range is not None and baler.leaf_loss is None:
        raise spot.error("required", "leaf_loss", example="leaf_loss = 1.2")
    low, high = band_of(baler)
    top = top_allowed(baler)
    if high > top or low >= high:
        shown = {"low": f"{low:g}", "high": f"{high:g}", "top": f"{top:g}"}
        raise spot.error(_band_problem(baler, top), "band", **shown)


def _check_speeds(machine: Baler | Rig, spot: Spot) -> None:
    """Slowest and fastest ground speed in order, where both are given."""
    low, high = machine.speed_min_m_s, machine.speed_max_m_s
    if low is not None and high is not None and low > high:
        shown = [f"{to_shown(value, 'ground_speed', spot.units):.3g}" for value in (low, high)]
        raise spot.error("speeds_reversed", "speed_min", low=shown[0], high=shown[1])


def _band_problem(baler: Baler, top: float) -> str:
    """Which limit a band breaks."""
    if top < ceiling_of(baler):
        return "band_export"
    return "band_label" if baler.preservative is not None else "band_ceiling"


def check_rig(rig: Rig, balers: Mapping[str, Baler], spot: Spot) -> None:
    """A rig's rates are in order and its target lies in every baler's band.

    Raises
    ------
    FarmFileError
        If they are not.
    """
    if rig.rate_min_l_t > rig.rate_max_l_t:
        raise spot.error("rates_reversed", "rate_min")
    _check_speeds(rig, spot)
    if rig.in_tank_l is not None and rig.in_tank_l > rig.tank_l:
        shown = [
            f"{to_shown(each, 'volume', spot.units):g}" for each in (rig.in_tank_l, rig.tank_l)
        ]
        raise spot.error("in_tank", "in_tank", value=shown[0], tank=shown[1])
    for baler in balers.values():
        low, high = band_of(baler)
        target = target_of(rig, low)
        if not low <= target <= high:
            band = {"low": f"{low:g}", "high": f"{high:g}", "baler": _heading(baler)}
            raise spot.error("target", "target", value=f"{target:g}", **band)


def _heading(baler: Baler) -> str:
    """A baler as its table is written."""
    return "baler" if baler.name == "baler" else f"baler.{baler.name}"


def check_roads(roads: tuple[Road, ...], spots: list[Spot], places: Mapping[str, object]) -> None:
    """Roads lead from one known place to another, each pair once.

    Raises
    ------
    FarmFileError
        If a place is not known, both are the same, or a way is given twice.
    """
    seen: dict[frozenset[str], int] = {}
    for number, (road, spot) in enumerate(zip(roads, spots, strict=True), start=1):
        for key, name in (("from", road.origin), ("to", road.goal)):
            if name not in places:
                near = nearest(name, places)
                raise spot.error("road_place", key, value=as_written(name), nearest=near)
        if road.origin == road.goal:
            raise spot.error("road_nowhere", "to")
        pair = frozenset((road.origin, road.goal))
        if pair in seen:
            raise spot.error("road_twice", "to", other=seen[pair])
        seen[pair] = number


def check_shifts(shifts: tuple[Shift, ...], spots: list[Spot]) -> None:
    """Shifts last some time and do not overlap.

    Raises
    ------
    FarmFileError
        If one has no length or two share an hour.
    """
    for index, shift in enumerate(shifts):
        if shift.start_minute == shift.end_minute:
            raise spots[index].error("shift_empty", "end")
        for earlier in range(index):
            other = shifts[earlier]
            mine = (shift.start_minute, shift.end_minute)
            if shifts_overlap(mine, (other.start_minute, other.end_minute)):
                raise spots[index].error("shift_overlap", "start", other=earlier + 1)
