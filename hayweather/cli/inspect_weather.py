"""What was read from a weather file, as text and as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from hayweather.show.layout import bullets, named_values, wrapped
from hayweather.show.phrases import phrases
from hayweather.show.voice import Voice
from hayweather.weather.files import ColumnRead, ReadReport
from hayweather.weather.quality import Repair
from hayweather.weather.record import HOUR, HourlyWeather


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


def _column(column: ColumnRead, voice: Voice) -> str:
    """What a column served as, its unit, and what is missing."""
    missing = voice.say("inspect_none_missing")
    if column.hours_missing:
        missing = voice.say("inspect_some_missing", count=column.hours_missing)
    key = "inspect_column_value" if column.unit else "inspect_column_value_no_unit"
    return voice.say(
        key,
        name=voice.say(f"record_{column.served_as}"),
        unit=column.unit,
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


def weather_form(report: ReadReport, weather: HourlyWeather, voice: Voice) -> dict[str, Any]:
    """What was read from a weather file, for JSON."""
    plain = (
        "file", "layout", "encoding", "compressed", "delimiter", "decimal_mark", "header_lines",
        "timezone", "timezone_from", "hour", "hour_from", "step_minutes", "wind_height_m",
        "wind_height_from", "rows", "hours", "typical_year",
    )  # fmt: skip
    return {
        **{name: getattr(report, name) for name in plain},
        "first": f"{report.first}Z",
        "last": f"{report.last}Z",
        "columns": [
            {
                "column": column.file_name,
                "served_as": column.served_as,
                "unit": column.unit,
                "timing": column.timing,
                "hours_missing": column.hours_missing,
            }
            for column in report.columns
        ],
        "unused": list(report.unused),
        "stations": list(report.stations),
        "repairs": _repairs(report.repairs, "repair", voice),
        "refused": _repairs(report.refused, "refused", voice),
        "flags": _repairs(report.flags, "flag", voice),
        "assumed": phrases(weather.assumed, voice),
        "hours_missing": int(weather.missing().sum()),
    }


def _repairs(repairs: Sequence[Repair], group: str, voice: Voice) -> list[dict[str, Any]]:
    """Repairs for JSON."""
    return [
        {
            "name": repair.name,
            "column": repair.column or None,
            "count": repair.count,
            "first": None if repair.first is None else f"{repair.first}Z",
            "line": repair.line,
            "text": repair_text(repair, group, voice),
        }
        for repair in repairs
    ]
