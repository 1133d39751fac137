"""Every key of the farm file, once: reading, messages and the starter use this list.

Ranges are wide bounds of the plausible, assumed, to catch slips of the finger
and wrong units. Comments of the starter stand in `hayweather.words` under
``farm_key_<table>_<key>``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from hayweather.catalog import BALERS, CROPS, DEFAULT_BALER, Figure
from hayweather.catalog.prices import PRICES
from hayweather.catalog.rigs import DEFAULTS, PLACEHOLDERS
from hayweather.farm.keys import Key, Table
from hayweather.farm.records import (
    Baler,
    Decimals,
    Field,
    Language,
    Money,
    Rig,
    RiskLimits,
    Road,
    Shift,
    Site,
    Station,
    Tuning,
    UnitSystem,
    WeatherChoice,
)
from hayweather.weather.catalog import CHECKS, SERVICES

INFINITY = float("inf")
HAY_CLASSES = tuple(
    dict.fromkeys(
        name
        for crop in CROPS.values()
        if crop.quality is not None
        for name in (*(level.name for level in crop.quality.classes), crop.quality.lowest_class)
    )
)
MASS_LOW_KG_M2, MASS_HIGH_KG_M2 = 0.5, 6.0
"""Dry matter of a believable windrow [kg/m2], assumed."""


@dataclass(frozen=True)
class FarmHead:
    """The `[farm]` table.

    Attributes
    ----------
    name
        Empty for the file's own.
    units, language
        Of bare numbers, and of texts.
    rest_h
        Rest in one piece that a crew needs [h].
    log
        File of the farm's log.
    decimals
        Sign before tenths in what people read; None: as language and units have it.
    """

    name: str = ""
    units: UnitSystem = "us"
    language: Language = "en"
    rest_h: float = 8.0
    log: Path = Path("hayweather.sqlite")
    decimals: Decimals | None = None


FARM = Table(
    "farm",
    "one",
    FarmHead,
    (
        Key("name", "text", active=True),
        Key("units", "choice", choices=("us", "metric"), us='"us"', metric='"metric"', active=True),
        Key("language", "choice", choices=("en", "es"), us='"en"', active=True),
        Key("rest", "number", "rest_h", "hours", 0, 16, us="8"),
        Key("log", "text", us='"hayweather.sqlite"'),
        Key("decimals", "choice", choices=("point", "comma"), us='"point"', metric='"comma"'),
    ),
)

SITE = Table(
    "site",
    "named",
    Site,
    (
        Key("latitude", "number", quantity="angle", low=-90, high=90, required=True,
            us="43.2", metric="41.6", active=True),
        Key("longitude", "number", quantity="angle", low=-180, high=180, required=True,
            us="-120.6", metric="-0.6", active=True),
        Key("elevation", "number", "elevation_m", "elevation", -430, 5000,
            us="4300", metric="210", active=True),
        Key("timezone", "text", us='"America/Los_Angeles"', metric='"Europe/Madrid"', active=True),
        Key("dew_point_offset", "number", "dew_point_offset_k", "temperature_difference", -6, 6),
        Key("clear_night_air_offset", "number", "clear_night_air_offset_k",
            "temperature_difference", -6, 6),
        Key("ground", "choice", choices=("dry", "damp", "wet")),
    ),
    starter_name="home",
)  # fmt: skip

WEATHER = Table(
    "weather",
    "one",
    WeatherChoice,
    (
        Key("service", "choice", choices=SERVICES.keys(),
            us='"us-nws"', metric='"open-meteo"', active=True),
        Key("terms", "choice", choices=("non-commercial",), us='"non-commercial"'),
        Key("contact", "text", us='"you@example.com"'),
        Key("forecast_runs", "boolean"),
        Key("file", "text", us='"weather.csv"'),
        Key("timezone", "text", us='"UTC"'),
        Key("wind_height", "number", "wind_height_m", "length", 0.3, 150, us="33", metric="10"),
        Key("hour", "choice", choices=("start", "center", "end"), us='"start"'),
        Key("invented", "boolean"),
        Key("now", "time", us='"2026-07-08T17:00"'),
        Key("columns", "text", us='"my_station.toml"'),
        Key("believe", "choices", choices=CHECKS, us='["place"]'),
        Key("refresh", "number", "refresh_min", "minutes", 5, 720, us="60"),
    ),
)  # fmt: skip

STATION = Table(
    "station",
    "named",
    Station,
    (
        Key("file", "text", us='"yard.csv"'),
        Key("observed", "choice", choices=("us-nws",), us='"us-nws"'),
        Key("id", "text", us='"KCAG"'),
        Key("broker", "text", us='"192.168.1.20"'),
        Key("port", "integer", low=1, high=65535),
        Key("topic", "text", us='"farm/yard"'),
        Key("user", "text", us='"hay"'),
        Key("tls", "boolean"),
        Key("latitude", "number", quantity="angle", low=-90, high=90, us="43.2"),
        Key("longitude", "number", quantity="angle", low=-180, high=180, us="-120.6"),
        Key("elevation", "number", "elevation_m", "elevation", -430, 5000, us="4300",
            metric="1310"),
        Key("timezone", "text", us='"America/Los_Angeles"'),
        Key("hour", "choice", choices=("start", "center", "end"), us='"end"'),
        Key("dates", "choice", choices=("month first", "day first"), us='"month first"'),
        Key("wind_height", "number", "wind_height_m", "length", 0.3, 150, us="6.5", metric="2"),
        Key("units", "choice", choices=("us", "metric"), us='"us"', metric='"metric"'),
        Key("temperature_unit", "choice", choices=("F", "C", "K"), us='"F"', metric='"C"'),
        Key("wind_unit", "choice", choices=("mph", "kn", "m/s", "km/h"), us='"mph"',
            metric='"km/h"'),
        Key("rain_unit", "choice", choices=("in", "mm", "in/h", "mm/h"), us='"in"', metric='"mm"'),
        Key("temperature", "text", us='"temp_out"'),
        Key("humidity", "text", us='"hum_out"'),
        Key("dew_point", "text", us='"dew_out"'),
        Key("wind", "text", us='"wind_avg"'),
        Key("rain", "text", us='"rain_5min"'),
        Key("time", "text", us='"ts"'),
    ),
    starter_name="yard",
    active=False,
)  # fmt: skip

FIELD = Table(
    "field",
    "named",
    Field,
    (
        Key("site", "text", us='"home"', active=True),
        Key("crop", "choice", choices=CROPS, active=True),
        Key("cutting", "integer", low=1, high=15, us="2"),
        Key("area", "number", "area_m2", "area", 100, 1e8, us="120", metric="50", active=True),
        Key("yield", "number", "yield_kg_m2", "yield", 0.05, 3, us="1.5", metric="3.5",
            active=True),
        Key("swath_width", "number", "swath_width_m", "length", 0.5, 15, us="16", metric="5",
            active=True),
        Key("swaths_per_windrow", "integer", low=1, high=8, us="2", active=True),
        Key("windrow_width", "number", "windrow_width_m", "length", 0.3, 5, us="5.5",
            metric="1.7", active=True),
        Key("windrow_mass", "number", "windrow_mass_kg_m2", "windrow_mass",
            MASS_LOW_KG_M2, MASS_HIGH_KG_M2),
        Key("conditioned", "boolean", active=True),
        Key("cut_at", "time", us='"2026-07-04T10:00"'),
        Key("raked_at", "time", us='"2026-07-07T06:00"'),
        Key("cured", "cured", us="true", active=True),
        Key("moisture_now", "number", "moisture_now_wb", "percent", 3, 85, us="11"),
        Key("ground", "choice", choices=("dry", "damp", "wet"), us='"dry"'),
        Key("irrigated_at", "time", us='"2026-07-01T06:00"'),
        Key("irrigation_due", "time", us='"2026-07-12T06:00"'),
        Key("finish_before", "time", us='"2026-07-11T18:00"'),
        Key("crude_protein", "number", "crude_protein_percent", "percent", 3, 35, us="20.5"),
        Key("ndf", "number", "ndf_percent", "percent", 20, 80, us="38"),
        Key("adf", "number", "adf_percent", "percent", 15, 60, us="30"),
        Key("baler", "text", us='"baler"'),
        Key("rig", "text", us='"rig"'),
        Key("station", "text", us='"yard"'),
    ),
    starter_name="north",
)  # fmt: skip

_BALES = BALERS[DEFAULT_BALER]
BALER = Table(
    "baler",
    "one-or-named",
    Baler,
    (
        Key("kind", "choice", choices=BALERS, active=True),
        Key("bale_size", "text", us=f'"{_BALES.bale_size[0]}"', metric=f'"{_BALES.bale_size[1]}"',
            active=True),
        Key("bale_weight", "number", "bale_mass_kg", "mass", 5, 1500, us=_BALES.bale_weight[0],
            metric=_BALES.bale_weight[1], active=True),
        Key("capacity", "number", "capacity_kg_h", "capacity", 500, 100_000, us="20",
            metric="18", active=True),
        Key("band", "band", "band_wb", "percent", 5, 40, us="[12, 16]"),
        Key("leaf_minimum", "number", "leaf_minimum_wb", "percent", 0, 30, us="12"),
        Key("stem_limit", "number", "stem_limit_wb", "percent", 5, 30, us="12"),
        Key("preservative", "label", low=8, high=40,
            us='{ rate = "6 lb/ton", ceiling = 20 }', metric='{ rate = "3 kg/t", ceiling = 20 }'),
        Key("market", "choice", choices=("domestic", "export")),
        Key("useful_hours", "number", quantity="hours", low=0.25, high=24),
        Key("soft_share", "number", low=0.05, high=1),
        Key("wet_share", "number", low=0, high=0.9),
        Key("leaf_loss", "number", low=0, high=5, us="1.2"),
        Key("leaf_loss_range", "span", low=0, high=5, us="[0.7, 1.8]"),
        Key("field_efficiency", "number", low=0.3, high=1, us="0.8"),
        Key("speed_min", "number", "speed_min_m_s", "ground_speed", 0.1, 5, us="1", metric="1.6"),
        Key("speed_max", "number", "speed_max_m_s", "ground_speed", 0.5, 9, us="8", metric="13"),
        Key("windrow_limit", "number", "windrow_limit_kg_m2", "windrow_mass", MASS_LOW_KG_M2, 20,
            us="0.8", metric="4"),
        Key("move_time", "number", "move_minutes", "minutes", 0, 600, us="30"),
        Key("road_speed", "number", "road_speed_m_s", "ground_speed", 0.5, 30, us="15",
            metric="25"),
        Key("least_visit", "number", "least_visit_h", "hours", 0, 24),
    ),
)  # fmt: skip


def _figure(
    figures: Mapping[str, Figure],
    name: str,
    attribute: str,
    quantity: str = "",
    low: float = 0.0,
    high: float = INFINITY,
    **more: Any,
) -> Key:
    """A number whose example, and default where it has one, stand in the catalog."""
    figure = figures[attribute]
    return Key(
        name, "number", attribute, quantity, low, high, us=figure.us, metric=figure.metric, **more
    )


_given = partial(_figure, PLACEHOLDERS, required=True, active=True)
_usual = partial(_figure, DEFAULTS)
_price = partial(_figure, PRICES)

RIG = Table(
    "rig",
    "one-or-named",
    Rig,
    (
        _given("tank", "tank_l", "volume", 50, 60_000),
        _given("rate_min", "rate_min_l_t", "water_rate", 0.5, 400),
        _given("rate_max", "rate_max_l_t", "water_rate", 0.5, 400),
        _given("flow_max", "flow_max_l_min", "flow", 0.5, 1000),
        _given("fill_time", "fill_minutes", "minutes", 1, 600),
        Key("in_tank", "number", "in_tank_l", "volume", 0, 60_000, us="500", metric="2000"),
        Key("heated", "boolean", active=True),
        Key("fuel_rate", "number", "fuel_rate_l_h", "fuel_rate", 0, 400, us="5", metric="20"),
        _usual("efficiency", "efficiency", "", 0.2, 1),
        Key("spray_wind_limit", "number", "spray_wind_limit_m_s", "wind_speed", 0.5, 20,
            us="10", metric="4.5"),
        Key("target", "number", "target_wb", "percent", 5, 30, us="13"),
        _usual("rate_step", "rate_step_l_t", "water_rate", 0.1, 40),
        _usual("lag", "lag_minutes", "minutes", 0, 240),
        _usual("leaf_share", "leaf_share", "", 0, 1),
        _usual("top_share", "top_share", "", 0, 1),
        _usual("vapor_loss", "vapor_loss", "", 0, 0.5),
        _usual("wind_loss", "wind_loss", "", 0, 0.3),
        _usual("lag_loss", "lag_loss", "", 0, 0.2),
        Key("speed_min", "number", "speed_min_m_s", "ground_speed", 0.1, 5, us="1", metric="1.6"),
        Key("speed_max", "number", "speed_max_m_s", "ground_speed", 0.5, 9, us="8", metric="13"),
        _usual("burner_efficiency", "burner_efficiency", "", 0.3, 1),
        _usual("water_in", "water_in_c", "temperature", 0.5, 60),
        Key("water_out", "number", "water_out_c", "temperature", 5, 200, us="180", metric="80"),
    ),
    active=False,
)  # fmt: skip

SHIFT = Table(
    "shift",
    "list",
    Shift,
    (
        Key("start", "clock", "start_minute", required=True, us='"20:00"', active=True),
        Key("end", "clock", "end_minute", required=True, us='"08:00"', active=True),
        Key("crew", "text", active=True),
    ),
    active=False,
)

ROAD = Table(
    "road",
    "list",
    Road,
    (
        Key("from", "text", "origin", required=True, us='"home"', active=True),
        Key("to", "text", "goal", required=True, us='"north"', active=True),
        Key("minutes", "number", quantity="minutes", low=0, high=600, required=True, us="40",
            active=True),
    ),
    active=False,
)  # fmt: skip


MONEY = Table(
    "money",
    "one",
    Money,
    (
        Key("currency", "text", us='"$"', metric='"€"'),
        Key("price", "number", "price_per_kg", "price_by_mass", 0, us="200"),
        Key("price_by", "choice", choices=("leaf", "rfv", "class")),
        Key("price_rfv", "number", low=60, high=300, us="170"),
        Key(
            "rfv_prices",
            "points",
            quantity="price_by_mass",
            low=60,
            high=300,
            us="[[130, 150], [150, 180], [170, 200], [185, 205]]",
        ),
        Key(
            "class_prices",
            "ladder",
            quantity="price_by_mass",
            low=0,
            choices=HAY_CLASSES,
            us="{ supreme = 205, premium = 200, good = 180, fair = 150, utility = 120 }",
        ),
        Key("allow_dry", "boolean"),
        Key("never_dry_below", "number", "never_dry_below_wb", "percent", 3, 20, us="9"),
        _price("lost_leaf_cost", "lost_leaf_cost_per_kg", "price_by_mass"),
        _price("wet_bale_cost", "wet_bale_cost_per_kg", "price_by_mass"),
        _price("fuel_price", "fuel_price_per_l", "price_by_volume"),
        _price("water_price", "water_price_per_l", "price_by_volume"),
        _price("wage", "wage_per_h"),
        _price("wait_cost", "wait_cost_per_kg_day", "price_by_mass"),
        _price("late_cost", "late_cost_per_kg_day", "price_by_mass"),
        _price("rain_loss", "rain_loss_percent", "percent", 0, 100),
        _price("baler_cost", "baler_cost_per_h"),
        _price("rig_cost", "rig_cost_per_h"),
        _price("rig_price", "rig_price"),
        _price("salvage", "rig_salvage"),
        _price("years", "rig_years", "", 0.5, 60),
        _price("interest", "interest_percent", "percent", 0, 60),
        _price("taxes_and_insurance", "taxes_and_insurance_percent", "percent", 0, 20),
        _price("repairs", "repairs_percent", "percent", 0, 50),
    ),
    active=False,
)

RISK = Table(
    "risk",
    "one",
    RiskLimits,
    (
        Key("ready", "number", "ready_percent", "percent", 10, 95, us="40"),
        Key("wet", "number", "wet_percent", "percent", 1, 50, us="15"),
    ),
    active=False,
)

TUNING = Table(
    "tuning",
    "one",
    Tuning,
    (
        Key("windrow_mass", "number", low=0.3, high=3),
        Key("sky_view", "number", low=0.5, high=1, us="0.9"),
        Key("dew_point_offset", "number", "dew_point_offset_k", "temperature_difference", -6, 6),
        Key("leaf_moisture", "number", low=0.4, high=2.5),
        Key("stem_moisture", "number", low=0.4, high=2.5),
        Key("rig_efficiency", "number", low=0.2, high=1, us="0.8"),
    ),
    active=False,
)

TABLES: dict[str, Table] = {
    table.name: table
    for table in (FARM, SITE, WEATHER, STATION, FIELD, BALER, RIG, SHIFT, ROAD, MONEY, RISK, TUNING)
}
