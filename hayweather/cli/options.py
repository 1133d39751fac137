"""Options that several commands share. Imports nothing heavy: ``--help`` reads this."""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from hayweather.weather.catalog import SERVICES
from hayweather.words import LANGUAGES, say

Format = Literal["table", "csv", "json"]
Units = Literal["us", "metric"]
Speech = Literal["en", "es"]
if TYPE_CHECKING:
    Service = str
else:
    Service = Literal[tuple(SERVICES)]
Terms = Literal["non-commercial"]

NARROWEST = 60
LONGEST_GIVEN = 40
LANGUAGE_VARIABLE = "HAYWEATHER_LANGUAGE"


def default_language() -> Speech:
    """Language before a farm file is read: English, or what the environment says."""
    named = os.environ.get(LANGUAGE_VARIABLE, "").strip().lower()
    return "es" if named == LANGUAGES[1] else "en"


def text_width() -> int:
    """Characters of a line: those of the terminal, or what COLUMNS says; 80 where neither does."""
    return max(shutil.get_terminal_size((80, 24)).columns, NARROWEST)


def format_of(out: str | None) -> Format:
    """The format that the ending of ``--out`` asks for."""
    ending = "" if out is None else Path(out).suffix.lower()
    return "csv" if ending == ".csv" else "json" if ending == ".json" else "table"


def help_text(key: str) -> str:
    """The help of a command or option."""
    return say(f"help_{key}", default_language())


def help_parts(key: str) -> tuple[str, str]:
    """What a command is for; the same with its example, the last sentence, in a line of its own."""
    purpose, _, example = help_text(key).rpartition(". ")
    return f"{purpose}.", f"{purpose}.\n\n\b\n{example}"


def as_given(text: str) -> str:
    """What an option was given, short and on one line, for messages."""
    return " ".join(text.split())[:LONGEST_GIVEN]


FarmFile = Annotated[
    Path | None,
    typer.Argument(metavar="FARM.toml", help=help_text("farm_file"), show_default=False),
]
UnitsOption = Annotated[Units | None, typer.Option("--units", help=help_text("units"))]
FormatOption = Annotated[Format | None, typer.Option("--format", help=help_text("format"))]
OutOption = Annotated[str | None, typer.Option("--out", metavar="PATH", help=help_text("out"))]
NowOption = Annotated[str | None, typer.Option("--now", metavar="TIME", help=help_text("now"))]
FieldOption = Annotated[
    str | None, typer.Option("--field", metavar="NAME", help=help_text("field"))
]
OldOption = Annotated[bool, typer.Option("--old", help=help_text("old"))]
ChartOption = Annotated[
    Path | None, typer.Option("--chart", metavar="PATH.png|.svg", help=help_text("chart"))
]
PageOption = Annotated[
    Path | None, typer.Option("--page", metavar="PATH.html", help=help_text("page"))
]
CalendarOption = Annotated[
    Path | None, typer.Option("--calendar", metavar="PATH.ics", help=help_text("calendar"))
]
TextOption = Annotated[bool, typer.Option("--text", help=help_text("text_message"))]
ReadingOption = Annotated[
    list[str] | None, typer.Option("--reading", metavar="TIME=MOISTURE", help=help_text("reading"))
]
WeatherUrlOption = Annotated[
    str | None, typer.Option("--weather-url", metavar="URL", help=help_text("weather_url"))
]
OfflineOption = Annotated[bool, typer.Option("--offline", help=help_text("offline"))]
CautionsOption = Annotated[bool, typer.Option("--cautions", help=help_text("cautions"))]
KeepOption = Annotated[Path | None, typer.Option("--keep", metavar="DIR", help=help_text("keep"))]
