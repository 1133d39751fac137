"""The outlook as data: JSON ``hayweather/outlook/2``, CSV of its hours, frames for pandas."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from hayweather.baling.advice import Advice
from hayweather.baling.calls import BALED, Call
from hayweather.baling.cause import Cause
from hayweather.baling.hours import HourCall
from hayweather.baling.windows import RAKE_LEAF_WB
from hayweather.farm.records import UnitSystem
from hayweather.nights import FieldNight, Night
from hayweather.show.outlook_plan import (
    PLANNED,
    cautions_of,
    missed_lines,
    missed_said,
    plan_of,
    plan_of_field,
    plan_sentences,
    planned_blocks,
)
from hayweather.show.outlook_words import (
    farm_voice,
    field_sentences,
    field_voice,
    unknown_runs,
    unknown_sentences,
)
from hayweather.show.station_words import STATIONS
from hayweather.show.table import Column, Document, Json, Screen, Table, paired
from hayweather.show.voice import Voice, phrases, safety_texts, short_safety_texts
from hayweather.show.weather_facts import WEATHER, weather_lines, weather_summary
from hayweather.weather.record import ORIGINS
from hayweather.windrow.readings import Reading, Weights
from hayweather.words import Remark

if TYPE_CHECKING:
    import pandas as pd

SLEEP, UNKNOWN = "sleep", "unknown"
CALL_WORDS = tuple(call.word for call in Call)
LAYER_NAMES = ("top", "middle", "bottom")

Said = tuple[FieldNight, Night]
"""A field and the outlook it belongs to."""


def _chance(hour: HourCall) -> float:
    """Chance of the call shown [%]; NaN without forecast runs, and where none is known."""
    if hour.call == Call.NO_DATA:
        return math.nan
    return math.nan if hour.chance is None else 100 * hour.chance[hour.call]


AGREE = Column(
    "agree", "Forecast runs that share the call shown", _chance, "percent",
    screen=Screen("column_agree", 7, "", extra=-1),
)  # fmt: skip
LAYER = Table(
    tuple(
        Column(f"{part}_moisture_wb", f"Moisture of {what}, wet basis", f"{part}_wb", "percent")
        for part, what in (
            ("leaf", "the leaves"),
            ("stem", "the stems"),
            ("whole", "all of it with its free water"),
        )
    ),
    "A layer of the windrow, means over the hour.",
)
LAYERS = Table(
    tuple(
        Column(name, f"The {name} {share} % of the dry matter", kind="row", of=LAYER)
        for name, share in zip(LAYER_NAMES, (15, 35, 50), strict=True)
    ),
    "The windrow by layer.",
)
BY_LAYER = Column("layers", "The windrow by layer", "hay", kind="row", of=LAYERS)
FLAT_LAYERS = tuple(
    Column(f"{name}_{part}_moisture_wb", f"Moisture of the {name} layer, {part}, wet basis",
           f"hay.{name}.{part}_wb", "percent", csv=f"{name}_{part}_moisture_percent_wb", decimals=2)
    for name in LAYER_NAMES
    for part in ("leaf", "stem", "whole")
)  # fmt: skip
ORIGIN_OF = {
    "air_temperature": "Air temperature", "dew_point": "Dew point", "wind": "Wind",
    "rain": "Rain", "sky": "Cloud, given or worked out from the sun",
}  # fmt: skip
ORIGIN = Table(
    tuple(Column(name, what, kind="text", choices=ORIGINS) for name, what in ORIGIN_OF.items()),
    "Where each input of an hour comes from.",
)
BY_ORIGIN = Column("origin", "Where the weather of the hour comes from", "air.origin",
                   kind="row", of=ORIGIN)  # fmt: skip
FLAT_ORIGINS = tuple(
    Column(f"origin_{name}", f"Where it comes from: {what}", f"air.origin.{name}", kind="text",
           choices=ORIGINS)
    for name, what in ORIGIN_OF.items()
)  # fmt: skip
HOUR_COLUMNS = (
        Column("start", "Start of the hour", kind="time", index=True),
        Column("call", "What the hay is", "call.word", kind="text", choices=CALL_WORDS),
        Column("advice", "What to do", "advice.word", kind="text",
               choices=tuple(advice.word for advice in Advice)),
        Column("cause", "What brought the water that the hay holds", "cause.word", kind="text",
               choices=tuple(cause.word for cause in Cause)),
        Column("stop", "Work stops in this hour", kind="truth"),
        Column("windrow_moisture_wb", "Moisture of the windrow with its free water, wet basis",
               "hay.windrow_wb", "percent", csv="windrow_moisture_percent_wb", decimals=2,
               screen=Screen("column_windrow")),
        Column("leaf_moisture_wb", "Moisture of the leaves, wet basis", "hay.leaf_wb", "percent",
               csv="leaf_moisture_percent_wb", decimals=2, screen=Screen("column_leaf")),
        Column("stem_moisture_wb", "Moisture of the stems, wet basis", "hay.stem_wb", "percent",
               csv="stem_moisture_percent_wb", decimals=2, screen=Screen("column_stem", 1)),
        Column("soft_share", "Share of the leaf at or above the leaf minimum", unit="1",
               decimals=3),
        Column("wet_share", "Share of the hay above the bale's ceiling, free water counted",
               unit="1", decimals=3),
        Column("free_water_mm", "Free water on the hay", "hay.free_water_mm", "film",
               us="free_water_in", twin=False, decimals=4,
               screen=Screen("column_free_water", 3, dull="0", zero="0")),
        Column("air_temperature_c", "Air temperature at the start", "air.temperature_c",
               "temperature", us="air_temperature_f", twin=False, decimals=1,
               screen=Screen("column_air")),
        Column("dew_point_c", "Dew point at the start", "air.dew_point_c", "temperature",
               us="dew_point_f", twin=False, decimals=1, screen=Screen("column_dew_point", 8)),
        Column("relative_humidity", "Relative humidity of the air at the start",
               "air.relative_humidity", "percent", csv="relative_humidity_percent", decimals=1,
               screen=Screen("column_humidity", 5, extra=-1)),
        Column("wind_2m_m_s", "Wind 2 m above the ground", "air.wind_2m_m_s", "wind_speed",
               us="wind_2m_mph", twin=False, decimals=2, screen=Screen("column_wind", 9)),
        Column("skin_temperature_c", "Temperature of the top of the windrow",
               "hay.skin_temperature_c", "temperature", us="skin_temperature_f", twin=False,
               decimals=1, screen=Screen("column_skin", 2)),
        Column("skin_humidity", "Relative humidity at the top of the windrow, at most 100",
               "hay.skin_humidity", "percent", csv="skin_humidity_percent", decimals=1),
        Column("rain_mm", "Rain of the hour", "air.rain_mm", "rain", us="rain_in", twin=False,
               decimals=3, screen=Screen("column_rain", 10, zero="0")),
        Column("water_l_per_t", "Water to dial by weight of hay as it lies: of the rates "
               "in it the one nearest their mean", "water_l_t",
               "water_rate", us="water_gal_per_ton", decimals=2,
               screen=Screen("column_water", 0, "")),
        Column("moisture_after_wb", "Moisture with that water added, wet basis", "after_wb",
               "percent", csv="moisture_after_percent_wb", decimals=2,
               screen=Screen("column_after", 6, "")),
        Column("chance", "Chance of each call among the forecast runs", kind="chances", null=True),
        Column("reasons", "Why the call is what it is", kind="remarks"),
        Column("cautions", "What to mind in this hour", kind="remarks"),
)  # fmt: skip
HOURS = Table(
    (*HOUR_COLUMNS, BY_ORIGIN, BY_LAYER),
    "One hour of a field; numbers of the hay are means over it.",
)
HOUR_ROWS = Table(
    (*HOUR_COLUMNS, *FLAT_ORIGINS, *FLAT_LAYERS), "One hour of a field, its layers side by side."
)
SOFT = Column("soft", "Share of soft leaf", lambda hour: 100 * hour.soft_share, "percent",
              screen=Screen("column_soft", 4, "", extra=-1))  # fmt: skip
WET = Column("wet", "Share of hay that is too wet", lambda hour: 100 * hour.wet_share, "percent",
             screen=Screen("column_wet", 4, "", extra=-1))  # fmt: skip
ON_SCREEN = (
    "windrow_moisture_wb", "leaf_moisture_wb", "stem_moisture_wb", "free_water_mm",
    "water_l_per_t", "moisture_after_wb", "air_temperature_c", "dew_point_c",
    "skin_temperature_c", "relative_humidity", "wind_2m_m_s", "rain_mm",
)  # fmt: skip
"""Numbers of an hour in a table of text, in their order."""
HOUR_NUMBERS = (AGREE, SOFT, WET, *(HOURS[name] for name in ON_SCREEN))

WINDOWS = Table(
    (
        Column("call", "On natural dew, ready as it lies, or with added moisture", "call.word",
               kind="text", choices=tuple(call.word for call in BALED)),
        Column("start", "Start", kind="time", index=True),
        Column("end", "End", kind="time"),
        Column("hours", "Length", unit="h"),
        Column("chance", "Share of the forecast runs in which the hay is ready at some time in it",
               unit="1"),
        Column("good_throughout", "Share of the forecast runs in which it is ready all through",
               unit="1"),
        Column("half_good", "Share in which it is ready in at least half of it", unit="1"),
        Column("start_range", "Earliest and latest start, eight runs in ten between", kind="times",
               null=True),
        Column("end_range", "Earliest and latest end, eight runs in ten between", kind="times",
               null=True),
        Column("water_l_per_t", "Least and most water to add", "water_l_t", "water_rate",
               us="water_gal_per_ton", kind="numbers", null=True),
    ),
    "A stretch of time in which the hay can be baled in one way.",
)  # fmt: skip


UNKNOWN_HOURS = Table(
    (
        Column("start", "Start", kind="time", index=True),
        Column("end", "End", kind="time"),
        Column("reasons", "Why", kind="remarks"),
    ),
    "A stretch of time in which nobody knows the hay: go and look.",
)


def _rake_reason(_: object, voice: Voice) -> str:
    low, high = (voice.amount(value, "percent") for value in RAKE_LEAF_WB)
    return voice.say("rake_reason", low=low, high=high)


RAKE = Table(
    (
        Column("start", "Start", kind="time", index=True),
        Column("end", "End", kind="time"),
        Column("reason", "Why then", kind="text", said=_rake_reason),
        Column("raked_at", "Middle of it, of which the moistures speak", kind="time"),
        Column("top_moisture_wb", "The top 15 % of the dry matter just after raking, wet basis",
               "top_wb", "percent", decimals=2),
        Column("middle_moisture_wb", "The next 35 % then, wet basis", "middle_wb", "percent",
               decimals=2),
        Column("bottom_moisture_wb", "The lower half then, wet basis", "bottom_wb", "percent",
               decimals=2),
    ),
    "A stretch of time in which to rake.",
)  # fmt: skip


def _fits(pair: tuple[Reading, Weights]) -> bool | None:
    """Whether a forecast run fits a reading; None where none is known then."""
    reading, weights = pair
    return None if reading in weights.unused else reading not in weights.unexplained


READINGS = Table(
    (
        Column("time", "When it was taken", lambda pair: pair[0].time, kind="time", index=True),
        Column("kind", "What was read: windrow, leaf, stem or bale", lambda pair: pair[0].kind,
               kind="text"),
        Column("moisture_wb", "What the meter showed, wet basis",
               lambda pair: pair[0].moisture_wb, "percent"),
        Column("values_wb", "Readings of several places taken together, each as it counted; "
               "null for one", lambda pair: pair[0].values_wb or None, unit="%", kind="numbers",
               null=True),
        Column("error_wb", "Standard error of the meter", lambda pair: pair[0].error_wb, unit="%"),
        Column("bias_wb", "What the meter shows too much", lambda pair: pair[0].bias_wb, unit="%"),
        Column("fits", "Whether a forecast run fits it; null where none is known then", _fits,
               kind="truth", null=True),
    ),
    "A moisture reading of this night.",
)  # fmt: skip
RUNS = Table(
    (
        Column("count", "Forecast runs", "members", kind="count"),
        Column("effective", "How many of equal weight they are worth"),
    ),
    "Forecast runs that count.",
)
SITE = Table(
    (
        Column("name", "Name in the farm file", kind="text"),
        Column("latitude", "Degrees north"),
        Column("longitude", "Degrees east"),
        Column("elevation_m", "Above the sea", unit="m"),
        Column("timezone", "IANA zone", kind="text", null=True),
    ),
    "Where the field lies.",
)
BAND = Table(
    (
        Column("low", "Least moisture to bale at, wet basis", "low_wb", unit="%"),
        Column("high", "Most moisture to bale at, wet basis", "high_wb", unit="%"),
        Column("leaf_minimum", "Least moisture of the leaves, wet basis", "leaf_minimum_wb",
               unit="%"),
        Column("stem_limit", "Most moisture of the stems, wet basis", "stem_limit_wb", unit="%"),
    ),
    "Limits that hold in the field.",
)  # fmt: skip


def _look_at(said: Said, voice: Voice) -> str:
    look_at = said[0].headline.look_at
    if look_at is not None:
        return voice.iso(look_at)
    return UNKNOWN if unknown_runs(said[0]) else SLEEP


def headline(sentences: Sequence[str], outlook: Night, voice: Voice) -> str:
    """The first sentences of a field as one text; an invented sample says so first."""
    mark = [voice.say("outlook_invented")] if outlook.farm.weather.invented else []
    return " ".join([*mark, *sentences])


def _headline(said: Said, voice: Voice) -> str:
    field, outlook = said
    sentences = field_sentences(field, voice)
    if plan_of(outlook) is not None:
        sentences = [*plan_of_field(field, outlook, voice), *sentences]
    return headline(sentences, outlook, voice)


def _weights(said: Said) -> Weights | None:
    weights = said[0].shown.weights
    return weights if weights.members else None


FIELD = Table(
    (
        Column("field", "Name in the farm file", lambda said: said[0].setting.field.name,
               kind="text"),
        Column("site", "Where it lies", lambda said: said[0].setting.site, kind="row", of=SITE),
        Column("band", "Limits that hold there", lambda said: said[0].setting.band, kind="row",
               of=BAND),
        Column("hours", "Hours from now on", lambda said: said[0].hours, kind="rows", of=HOURS),
        Column("windows", "When it can be baled", lambda said: said[0].windows, kind="rows",
               of=WINDOWS),
        Column("maybe", "When it may be baled: probe first", lambda said: said[0].maybe,
               kind="rows", of=WINDOWS),
        Column("unknown", "Hours of tonight that nobody can call",
               lambda said: unknown_runs(said[0]), kind="rows", of=UNKNOWN_HOURS),
        Column("rake", "When to rake", lambda said: said[0].rake, kind="rows", of=RAKE),
        Column("look_at", 'When to go and look, or "sleep", or "unknown"', kind="text",
               said=_look_at),
        Column("readings", "Moisture readings of this night",
               lambda said: [(item, said[0].shown.weights) for item in said[0].readings],
               kind="rows", of=READINGS),
        Column("stations", "What stations measured of its air", lambda said: said[0].stations,
               kind="rows", of=STATIONS),
        Column("runs", "Forecast runs that count", _weights, kind="row", of=RUNS, null=True),
        Column("headline", "What the hay allows tonight, in sentences; before it the plan's work "
               "there where fields want one machine at once", kind="text", said=_headline),
    ),
    "One field.",
    own_voice=lambda said, voice: field_voice(said[0], voice),
)  # fmt: skip


def answer_columns(outlook_of: str) -> tuple[Column, ...]:
    """What stands before the fields of an answer: farm, time, units, weather.

    Parameters
    ----------
    outlook_of
        Attribute of the answer that is its outlook, with a dot behind; empty for itself.
    """

    def weather(made: Any) -> object:
        return weather_summary(getattr(made, outlook_of.rstrip("."), made))

    return (
        Column("farm", "Name of the farm", f"{outlook_of}farm.name", kind="text"),
        Column("now", "The time that counted as now", f"{outlook_of}now", kind="time"),
        UNITS,
        Column("invented", "True for a made-up sample", f"{outlook_of}farm.weather.invented",
               kind="truth"),
        Column("weather", "What weather it was made from", weather, kind="row", of=WEATHER),
    )  # fmt: skip


UNITS = Column("units", "Unit system of the sentences", kind="text", choices=("us", "metric"),
               said=lambda _, voice: voice.units)  # fmt: skip
CAUTIONS = Column(
    "cautions", "Cautions for all of it; those that always show last", kind="texts",
    said=lambda made, voice: [*phrases(made.cautions, voice), *safety_texts(voice)],
)  # fmt: skip


def _cautions(outlook: Night, voice: Voice) -> list[str]:
    """Those of the night and its plan, then those that always show."""
    return [*phrases(cautions_of(outlook), voice), *safety_texts(voice)]


OUTLOOK = Document(
    "hayweather/outlook/2",
    Table(
        (
            *answer_columns(""),
            Column("missed", "Dates that fields miss", missed_said, kind="remarks"),
            Column("plan", "Who is where until the night ends, where machines cannot be everywhere "
                   "at once; empty where the windows of the fields are the plan", planned_blocks,
                   kind="rows", of=PLANNED),
            Column("fields", "One entry a field", kind="rows", of=FIELD,
                   value=lambda outlook: [(field, outlook) for field in outlook.fields]),
            replace(CAUTIONS, said=_cautions),
        ),
        "Tonight and tomorrow, hour by hour (hayweather outlook).",
    ),
)  # fmt: skip


def outlook_json(outlook: Night, units: UnitSystem) -> str:
    """The outlook as JSON text; `units` are those of the sentences in it."""
    return OUTLOOK.text(outlook, farm_voice(outlook, units))


def outlook_form(outlook: Night, units: UnitSystem, *, exact: bool = False) -> Json:
    """The outlook as plain dictionaries and lists, numbers with all digits where `exact`."""
    return OUTLOOK.form(outlook, farm_voice(outlook, units), exact=exact)


def outlook_csv(outlook: Night, units: UnitSystem, *, raw: bool = False) -> str:
    """The outlook as CSV text, one row an hour of a field.

    Lines before the header begin with ``#``: an invented sample says so first,
    then source and age of the weather, and the cautions.
    """
    voice = farm_voice(outlook, units)
    rows = ((hour, field) for field in outlook.fields for hour in field.hours)
    notes = [
        *missed_lines(outlook, voice),
        *head_notes(outlook, cautions_of(outlook), voice),
        *plan_sentences(outlook, voice),
        *(
            f"{field.name}: {text}"
            for field in outlook.fields
            for text in unknown_sentences(field, field_voice(field, voice))
        ),
        *short_safety_texts(voice),
    ]
    return FIELD_HOURS.csv(rows, voice, notes, raw=raw)


FIELD_HOURS = paired(
    Column("field", "Name of the field", "setting.field.name", kind="text"),
    HOUR_ROWS,
    "One hour of a field.",
    own_voice=lambda pair, voice: field_voice(pair[1], voice),
)


def head_notes(outlook: Night, cautions: Sequence[Remark], voice: Voice) -> Iterator[str]:
    """What stands before the names of columns: farm, time, weather, cautions of the night."""
    if outlook.farm.weather.invented:
        yield voice.say("outlook_invented")
    yield f"{outlook.farm.name}, {voice.iso(outlook.now)}"
    yield from weather_lines(weather_summary(outlook), voice)
    yield from phrases(cautions, voice)


def voice_of(field: FieldNight, units: UnitSystem) -> Voice:
    """How a frame of a field speaks: its own zone, English."""
    return Voice("en", units, str(field.setting.site.timezone), field.headline.evening)


def hours_frame(field: FieldNight, units: UnitSystem = "metric") -> pd.DataFrame:
    """The hours of a field as a DataFrame indexed by their local start; see `Table.frame`."""
    return HOUR_ROWS.frame(field.hours, voice_of(field, units))


def windows_frame(field: FieldNight, units: UnitSystem = "metric") -> pd.DataFrame:
    """The windows of a field as a DataFrame indexed by their local start; see `Table.frame`."""
    return WINDOWS.frame(field.windows, voice_of(field, units))
