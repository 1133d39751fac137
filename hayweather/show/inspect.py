"""What was read from a farm file and from a weather file: every value in force, every column."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal, TypeGuard, get_args

import numpy as np

from hayweather.farm.bands import Band, band_for, band_of, limits_of, limits_remark, target_of
from hayweather.farm.document import load_document
from hayweather.farm.keys import Key
from hayweather.farm.keys import Table as FarmTable
from hayweather.farm.reading import entries
from hayweather.farm.records import Baler, Farm, Field, Preservative, Rig
from hayweather.farm.tables import TABLES, FarmHead
from hayweather.show.layout import bullets, named_values, wrapped
from hayweather.show.learn import LEARNED, LearnedNumber, is_kelvin
from hayweather.show.outlook_data import BAND, UNITS
from hayweather.show.station_words import STATIONS_READ
from hayweather.show.table import Column, Document, Kind, Table, through_all
from hayweather.show.voice import Voice, phrase, phrases
from hayweather.units import symbol_of, to_shown
from hayweather.weather.files import ColumnRead, ReadReport
from hayweather.weather.observed import Observed
from hayweather.weather.quality import Repair
from hayweather.weather.record import HOUR, HourlyWeather

Origin = Literal["file", "default", "derived", "kind", "learned"]


@dataclass(frozen=True)
class InForce:
    """One value in force.

    Attributes
    ----------
    table, key
        As written in the file.
    value
        In the inside unit; None where not given and without default.
    quantity
        Of `hayweather.units`; empty for others.
    origin
        Said in the file, the default, worked out from the rest, or by the kind
        of bale.
    timezone
        Zone in which a time is shown.
    """

    table: str
    key: str
    value: object
    quantity: str
    origin: Origin
    timezone: str


def in_force(farm: Farm) -> list[InForce]:
    """Every value of a farm that was read from a file, in the order of the tables.

    Raises
    ------
    FarmFileError
        If the file is gone.
    """
    if farm.path is None:
        raise ValueError("the farm was not read from a file")
    document = load_document(farm.path)
    found = []
    for table in TABLES.values():
        for name, raw, spot in entries(table, document, farm.path.name, farm.units):
            record = _record(farm, table, name, farm.path.parent)
            found += [_value(farm, table, key, record, raw, spot.table) for key in table.keys]
    return found


def learned_in_force(numbers: Iterable[LearnedNumber]) -> list[InForce]:
    """Learned numbers as values in force: ``learned.SITE``, ``air_temperature_c bias 3 h``."""
    found = []
    for row in numbers:
        lead = "" if np.isnan(row.lead_h) else f" {row.lead_h:g} h"
        other = f" {row.other}" if row.other else ""
        quantity = "temperature_difference" if is_kelvin(row) else ""
        key = f"{row.column} {row.what}{other}{lead}"
        found.append(InForce(f"learned.{row.site}", key, row.used, quantity, "learned", "UTC"))
    return found


def _record(farm: Farm, table: FarmTable, name: str, home: Path) -> Any:
    """The record that an entry of the file became; `home` is the file's folder."""
    if table.name == "farm":
        log = farm.log or FarmHead.log
        log = log.relative_to(home) if log.is_relative_to(home) else log
        return FarmHead(farm.name, farm.units, farm.language, farm.rest_h, log, farm.decimals)
    if table.name == "shift":
        return farm.shifts[int(name) - 1]
    if table.name == "road":
        return farm.roads[int(name) - 1]
    named: dict[str, Mapping[str, Any]] = {
        "site": farm.sites,
        "field": farm.fields,
        "baler": farm.balers,
        "rig": farm.rigs or {},
        "station": {station.name: station for station in farm.stations},
    }
    return named[table.name][name] if table.name in named else getattr(farm, table.name)


def _value(
    farm: Farm, table: FarmTable, key: Key, record: Any, raw: Mapping[str, Any], heading: str
) -> InForce:
    """One value of one entry."""
    value = getattr(record, key.target)
    if key.kind == "choices":
        value = ", ".join(value) or None
    origin: Origin = "file"
    if key.name not in raw:
        origin = "default" if value in (table.default(key), None) else "derived"
        by_kind = _by_kind(farm, key, record) if value is None else None
        if by_kind is not None:
            value, origin = by_kind, "kind"
    timezone = _timezone(farm, record)
    quantity = key.quantity or ("percent" if key.kind in ("band", "label") else "")
    return InForce(heading, key.name, value, quantity, origin, timezone)


def _by_kind(farm: Farm, key: Key, record: Any) -> object:
    """What holds by the kind of bale where the file says nothing."""
    if isinstance(record, Baler) and key.name == "band":
        return band_of(record)
    if isinstance(record, Baler) and key.name == "stem_limit":
        return limits_of(record).stem_limit_wb
    if isinstance(record, Rig) and key.name == "target":
        return target_of(None, band_of(next(iter(farm.balers.values())))[0])
    return None


def _timezone(farm: Farm, record: Any) -> str:
    """Zone of the times of an entry."""
    site = farm.sites[record.site] if isinstance(record, Field) else next(iter(farm.sites.values()))
    return site.timezone or "UTC"


def shown_value(item: InForce, voice: Voice) -> str:
    """A value in force as people read it."""
    value = item.value
    if isinstance(value, bool):
        return voice.say("inspect_yes" if value else "inspect_no")
    if isinstance(value, np.datetime64):
        return replace(voice, timezone=item.timezone).when(value)
    if isinstance(value, Preservative):
        ceiling = voice.amount(value.ceiling_wb, "percent")
        return voice.say("inspect_preservative", rate=value.rate, ceiling=ceiling)
    if _is_table(value):
        steps = [(f"{at:g}" if isinstance(at, float) else at, number) for at, number in value]
        return ", ".join(f"{at}: {_shown_number(n, item.quantity, voice)}" for at, n in steps)
    if isinstance(value, tuple):
        low, high = (
            voice.amount(number, item.quantity) if item.quantity else f"{number:g}"
            for number in value
        )
        return voice.say("range", low=low, high=high)
    if item.table.startswith("[[shift]]") and isinstance(value, int):
        return f"{value // 60:02d}:{value % 60:02d}"
    if isinstance(value, int | float):
        return _shown_number(float(value), item.quantity, voice)
    return str(value)


def _is_table(value: object) -> TypeGuard[tuple[tuple[float | str, float], ...]]:
    """Whether a value is pairs, as ``rfv_prices`` and ``class_prices`` are."""
    return isinstance(value, tuple) and all(isinstance(pair, tuple) for pair in value)


def _shown_number(value: float, quantity: str, voice: Voice) -> str:
    """A number as the file would write it, with its unit."""
    if not quantity:
        return f"{value:g}"
    digits = ".7g" if quantity == "angle" else ".4g"
    shown = f"{to_shown(value, quantity, voice.units):{digits}}"
    return f"{shown} {symbol_of(quantity, voice.units)}"


def farm_text(farm: Farm, services: Sequence[Sequence[str]], voice: Voice, width: int) -> str:
    """A farm file in force, as text.

    Parameters
    ----------
    services
        Rows of (name, value, where from) of the weather service's settings.
    voice
        How to speak; without a night.
    """
    path = farm.path.name if farm.path else ""
    units = voice.say(f"inspect_units_{voice.units}")
    title = voice.say("inspect_farm_title", file=path, farm=farm.name, units=units)
    lines = wrapped(title, width)
    items = in_force(farm)
    for heading in dict.fromkeys(item.table for item in items):
        here = [item for item in items if item.table == heading]
        lines += ["", heading, *_table_lines(here, voice, width)]
    lines += ["", voice.say("inspect_limits"), *named_values(_limits(farm, voice), width)]
    if farm.notes:
        lines += ["", voice.say("inspect_notes"), *bullets(farm.notes, width)]
    if services:
        pairs = [(name, f"{value} ({origin})") for name, value, origin in services]
        lines += ["", voice.say("inspect_services"), *named_values(pairs, width)]
    return "\n".join(lines) + "\n"


def _table_lines(items: Sequence[InForce], voice: Voice, width: int) -> list[str]:
    """One table: what is in force, marked where the file does not say it; what is not given."""
    pairs, absent = [], []
    for item in items:
        if item.value is None:
            absent.append(item.key)
            continue
        text = shown_value(item, voice)
        if item.origin != "file":
            origin = voice.say(f"inspect_origin_{item.origin}")
            text = voice.say("inspect_value_origin", value=text, origin=origin)
        pairs.append((item.key, text))
    lines = named_values(pairs, width)
    if absent:
        lines += wrapped(voice.say("inspect_not_set", names=", ".join(absent)), width, "  ", "    ")
    return lines


def _limits(farm: Farm, voice: Voice) -> list[tuple[str, str]]:
    """The moisture limits that hold in each field."""
    baler = next(iter(farm.balers.values()))
    return [
        (field.name, phrase(limits_remark(baler, field), voice)) for field in farm.fields.values()
    ]


def _in_units(item: InForce, voice: Voice) -> float | list[list[Any]] | None:
    """What is in force in the reader's unit; None for what is no number with a unit."""
    if not item.quantity:
        return None
    if _is_table(item.value):
        return [[at, _rounded(number, item.quantity, voice)] for at, number in item.value]
    return _rounded(item.value, item.quantity, voice) if isinstance(item.value, float) else None


def _rounded(value: float, quantity: str, voice: Voice) -> float:
    return round(float(to_shown(value, quantity, voice.units)), 6)


def _value_shown(item: InForce, voice: Voice) -> Any:
    shown = _in_units(item, voice)
    return _plain(item.value) if shown is None else shown


def _unit(item: InForce, voice: Voice) -> str | None:
    known = _in_units(item, voice) is not None
    return symbol_of(item.quantity, voice.units) if known else None


def _si_value(item: InForce, voice: Voice) -> Any:
    return None if _in_units(item, voice) is None else _plain(item.value)


SETTINGS = Table(
    (
        Column("table", "Table of the file", kind="text"),
        Column("key", "Its key", kind="text"),
        Column("value", "In the reader's unit", kind="any", said=_value_shown),
        Column("unit", "Of a number that has one", kind="text", null=True, said=_unit),
        Column("si_value", "The same in the inside unit", kind="any", said=_si_value),
        Column("from", "Who says so", "origin", kind="text", choices=get_args(Origin)),
    ),
    "One value in force.",
)
LIMITS = Table(
    (
        Column("field", "Name of the field", lambda pair: pair[0], kind="text"),
        *through_all(BAND.columns, lambda pair: pair[1]),
    ),
    "The moisture limits that hold in a field.",
)
SERVICE = Table(
    (
        Column("name", "Of the setting", lambda row: row[0], kind="text"),
        Column("value", "The key only as there or not", lambda row: row[1], kind="text"),
        Column("from", "Who says so", lambda row: row[2], kind="text"),
    ),
    "A setting of the weather service.",
)


@dataclass(frozen=True)
class FarmRead:
    """A farm file as read, its service's settings, its weather file where it names one, the
    learned errors in force, and its stations as they are read now."""

    farm: Farm
    services: Sequence[Sequence[str]]
    weather: WeatherRead | None = None
    learned: Sequence[LearnedNumber] = ()
    stations: Sequence[Observed] = ()

    @property
    def limits(self) -> list[tuple[str, Band]]:
        """Of each field by name."""
        baler = next(iter(self.farm.balers.values()))
        return [(name, band_for(baler, field)) for name, field in self.farm.fields.items()]


@dataclass(frozen=True)
class WeatherRead:
    """A weather file as read."""

    report: ReadReport
    weather: HourlyWeather


def _plain(value: object) -> Any:
    """A value as JSON knows it."""
    if isinstance(value, np.datetime64):
        return f"{value}Z"
    if isinstance(value, Preservative):
        return {"rate": value.rate, "ceiling": value.ceiling_wb}
    if isinstance(value, tuple):
        return [_plain(each) for each in value]
    if isinstance(value, bool) or value is None:
        return value
    return float(value) if isinstance(value, int | float) else str(value)


def weather_text(report: ReadReport, weather: HourlyWeather, voice: Voice, width: int) -> str:
    """What was read from a weather file, as text."""
    lines = [
        *wrapped(voice.say("inspect_weather_title", file=report.file), width),
        *named_values(_facts(report, weather, voice), width),
        voice.say("inspect_columns"),
        *named_values([(c.file_name, _column(c, voice)) for c in report.columns], width),
    ]
    if report.unused:
        text = voice.say("inspect_unused", names=", ".join(report.unused))
        lines += wrapped(text, width, "", "  ")
    return "\n".join([*lines, *_wrong(report, weather, voice, width)]) + "\n"


def _facts(report: ReadReport, weather: HourlyWeather, voice: Voice) -> list[tuple[str, str]]:
    """How the file is written and what it covers."""
    height = voice.amount(report.wind_height_m, "length")
    hour = voice.say(f"weather_hour_{report.hour}")
    issued = weather.source.issued
    facts = [
        ("inspect_layout", _layout(report, voice)),
        ("inspect_clock", _with_origin(report.timezone, report.timezone_from, voice)),
        ("inspect_hour", _with_origin(hour, report.hour_from, voice)),
        (
            "inspect_rows",
            voice.say("inspect_rows_value", rows=report.rows, minutes=f"{report.step_minutes:g}"),
        ),
        (
            "inspect_covers",
            voice.say(
                "inspect_covers_value",
                first=shown_time(report.first),
                last=shown_time(report.last + HOUR),
                hours=report.hours,
            ),
        ),
        ("inspect_wind", _with_origin(height, report.wind_height_from, voice)),
        ("inspect_issued", "" if issued is None else f"{shown_time(issued)} UTC"),
        ("inspect_stations", ", ".join(report.stations)),
        ("inspect_typical", voice.say("inspect_typical_value") if report.typical_year else ""),
    ]
    return [(voice.say(key), value) for key, value in facts if value]


def _layout(report: ReadReport, voice: Voice) -> str:
    """How the file is written."""
    text = voice.say(
        "inspect_layout_value",
        layout=voice.say(f"weather_layout_{report.layout}"),
        delimiter=report.delimiter.replace("\t", "tab"),
        decimal=report.decimal_mark,
        encoding=report.encoding,
        lines=report.header_lines,
    )
    return voice.say("inspect_layout_packed", text=text) if report.compressed else text


def _with_origin(value: str, origin: str, voice: Voice) -> str:
    """A value and who says so."""
    said = voice.say(f"weather_origin_{origin}")
    return voice.say("inspect_value_origin", value=value, origin=said)


def _unit_word(unit: str, voice: Voice) -> str:
    """A unit of a file; parts of the sky by their word."""
    return voice.say(f"inspect_units_{unit}") if unit in ("tenths", "oktas") else unit


def _column(column: ColumnRead, voice: Voice) -> str:
    """What a column holds, its unit, and what is missing."""
    missing = voice.say("inspect_none_missing")
    if column.hours_missing:
        missing = voice.say("inspect_some_missing", count=column.hours_missing)
    key = "inspect_column_value" if column.unit else "inspect_column_value_no_unit"
    return voice.say(
        key,
        name=voice.say(f"record_{column.holds}"),
        unit=_unit_word(column.unit, voice),
        timing=voice.say(f"weather_timing_{column.timing}"),
        missing=missing,
    )


def _wrong(report: ReadReport, weather: HourlyWeather, voice: Voice, width: int) -> list[str]:
    """What was repaired, left out, looks wrong, is assumed or missing."""
    groups = (
        ("inspect_repairs", [repair_text(r, "repair", voice) for r in report.repairs]),
        ("inspect_refused", [repair_text(r, "refused", voice) for r in report.refused]),
        ("inspect_flags", [repair_text(r, "flag", voice) for r in report.flags]),
        ("inspect_assumed", phrases(weather.assumed, voice)),
    )
    lines = []
    for key, texts in groups:
        if texts:
            lines += [voice.say(key), *bullets(texts, width)]
    missing = int(weather.missing().sum())
    if missing:
        lines += wrapped(voice.say("inspect_gaps", count=missing), width)
    elif not (report.repairs or report.refused or report.flags):
        lines.append(voice.say("inspect_clean"))
    return lines


def repair_text(repair: Repair, group: str, voice: Voice) -> str:
    """A named repair, refusal or flag, with column, count and first place."""
    text, values = voice.say(f"{group}_{repair.name}"), {"count": repair.count}
    if repair.column:
        column = voice.say(f"record_{repair.column}")
        text = voice.say("inspect_repair_column", column=column, text=text, **values)
    else:
        text = voice.say("inspect_repair", text=text, **values)
    if repair.line is not None:
        return voice.say("inspect_repair_line", text=text, line=repair.line)
    if repair.first is not None:
        return voice.say("inspect_repair_time", text=text, time=shown_time(repair.first))
    return text


def shown_time(time: np.datetime64) -> str:
    """A UTC time to the minute."""
    return str(time.astype("datetime64[m]")).replace("T", " ")


COLUMNS = Table(
    (
        Column("column", "Name in the file", "file_name", kind="text"),
        Column("served_as", "Column of the record that it served", kind="text"),
        Column("unit", "In the file", kind="text"),
        Column("timing", "What its values are in the file", kind="text"),
        Column("hours_missing", "Hours in which it is missing after the repairs", kind="count"),
    ),
    "A column of the file that was used.",
)


def _repairs(group: str) -> Table:
    """What was done to the file."""
    return Table(
        (
            Column("name", "Which", kind="text"),
            Column("column", "Column of the record; null for whole rows", kind="text", null=True,
                   value=lambda repair: repair.column or None),
            Column("count", "How many values, rows or hours", kind="count"),
            Column("first", "UTC time of the first", kind="utc", null=True),
            Column("line", "Line of the file of the first", kind="count", null=True),
            Column("text", "In words", kind="text",
                   said=lambda repair, voice: repair_text(repair, group, voice)),
        ),
        "A repair, refusal or flag.",
    )  # fmt: skip


def _of_report(name: str, help_: str, kind: Kind = "text", **more: Any) -> Column:
    """Something that the report of a file says."""
    return Column(name, help_, f"report.{name}", kind=kind, **more)


WEATHER = Table(
    (
        _of_report("file", "Name of the file"),
        _of_report("layout", "How it is written"),
        _of_report("encoding", "Of its letters"),
        _of_report("compressed", "Whether it was packed", "truth"),
        _of_report("delimiter", "Between columns"),
        _of_report("decimal_mark", "In numbers"),
        _of_report("header_lines", "Lines before the rows", "count"),
        _of_report("timezone", "Of its clock"),
        _of_report("timezone_from", "Who says so"),
        _of_report("hour", "Where in its hour a time stands"),
        _of_report("hour_from", "Who says so"),
        _of_report("step_minutes", "From row to row", "number", unit="min"),
        _of_report("wind_height_m", "Of the wind", "number", unit="m"),
        _of_report("wind_height_from", "Who says so"),
        _of_report("rows", "Rows read", "count"),
        _of_report("hours", "Hours made of them", "count"),
        _of_report("typical_year", "Months of different years", "truth"),
        _of_report("first", "UTC start of the first hour", "utc"),
        _of_report("last", "UTC start of the last hour", "utc"),
        _of_report("columns", "Columns used", "rows", of=COLUMNS),
        _of_report("unused", "Columns left alone", "texts"),
        _of_report("stations", "Stations found", "texts"),
        _of_report("repairs", "What was repaired", "rows", of=_repairs("repair")),
        _of_report("refused", "What was left out", "rows", of=_repairs("refused")),
        _of_report("flags", "What looks wrong", "rows", of=_repairs("flag")),
        Column("assumed", "What was assumed", "weather.assumed", kind="remarks"),
        Column("hours_missing", "Hours without a needed value", kind="count",
               value=lambda read: int(read.weather.missing().sum())),
    ),
    "What was read from a weather file.",
)  # fmt: skip
WEATHER_FILE = Document(
    "hayweather/inspect/1",
    replace(WEATHER, columns=(
        Column("kind", "Which kind of file", lambda _: "weather", kind="text",
               choices=("weather",)),
        *WEATHER.columns,
    )),
)  # fmt: skip
FARM_FILE = Document(
    "hayweather/inspect/1",
    Table(
        (
            Column("kind", "Which kind of file", lambda _: "farm", kind="text",
                   choices=("farm",)),
            Column("file", "Where it is", lambda read: str(read.farm.path), kind="text"),
            Column("farm", "Name of the farm", "farm.name", kind="text"),
            UNITS,
            Column("settings", "Every value in force", lambda read: in_force(read.farm),
                   kind="rows", of=SETTINGS),
            Column("limits", "Moisture limits by field", kind="rows", of=LIMITS),
            Column("notes", "What the file left open", "farm.notes", kind="texts"),
            Column("service", "Settings of the weather service", "services", kind="rows",
                   of=SERVICE),
            Column("learned", "Errors of the forecast that were learned, all that is in force",
                   kind="rows", of=LEARNED),
            Column("stations", "Its own stations as they are read now", kind="rows",
                   of=STATIONS_READ),
            Column("weather", "The weather file that it names; null where none could be read",
                   kind="any", fits={"type": ["object", "null"]},
                   said=lambda read, voice: None if read.weather is None
                   else WEATHER_FILE.form(read.weather, voice)),
        ),
        "What a farm file puts in force (hayweather inspect FARM.toml).",
    ),
)  # fmt: skip
