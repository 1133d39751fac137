"""Options that several commands share. Imports nothing heavy: ``--help`` reads this."""

from __future__ import annotations

import functools
import inspect
import os
import shutil
import sys
from collections.abc import Callable
from dataclasses import dataclass, is_dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal, get_type_hints

import typer

from hayweather.errors import OptionError
from hayweather.weather.catalog import SERVICES
from hayweather.words import default_language, say

Format = Literal["table", "csv", "json"]
Units = Literal["us", "metric"]
Speech = Literal["en", "es"]
if TYPE_CHECKING:
    Service = str
else:
    Service = Literal[tuple(SERVICES)]
Terms = Literal["non-commercial"]
Csv = Literal["safe", "raw"]

DEFAULT_FARM = Path("farm.toml")
SCREEN = "-"
NARROWEST = 60
LONGEST_GIVEN = 40


def text_width() -> int:
    """Characters of a line: those of the terminal, or what COLUMNS says; 80 where neither does."""
    return max(shutil.get_terminal_size((80, 24)).columns, NARROWEST)


def has_weight() -> bool:
    """Whether standard output shows letters with weight: a terminal, and nobody said NO_COLOR."""
    if not sys.stdout.isatty() or os.environ.get("NO_COLOR"):
        return False
    if sys.platform == "win32":
        return "WT_SESSION" in os.environ
    return os.environ.get("TERM", "dumb") != "dumb"


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
CsvOption = Annotated[Csv, typer.Option("--csv", help=help_text("csv"))]
ReplaceOption = Annotated[bool, typer.Option("--replace", help=help_text("replace"))]
NowOption = Annotated[str | None, typer.Option("--now", metavar="TIME", help=help_text("now"))]
FieldOption = Annotated[
    str | None, typer.Option("--field", metavar="NAME", help=help_text("field"))
]
ChartOption = Annotated[
    Path | None, typer.Option("--chart", metavar="PATH.png|.svg", help=help_text("chart"))
]
PageOption = Annotated[
    Path | None, typer.Option("--page", metavar="PATH.html", help=help_text("page"))
]
CalendarOption = Annotated[
    Path | None, typer.Option("--calendar", metavar="PATH.ics", help=help_text("calendar"))
]
WeatherUrlOption = Annotated[
    str | None, typer.Option("--weather-url", metavar="URL", help=help_text("weather_url"))
]
OfflineOption = Annotated[bool, typer.Option("--offline", help=help_text("offline"))]
CautionsOption = Annotated[bool, typer.Option("--cautions", help=help_text("cautions"))]


@dataclass(frozen=True)
class Output:
    """Where the answer goes and how it looks: the options of every command that gives one."""

    units: UnitsOption = None
    format: FormatOption = None
    out: OutOption = None
    csv: CsvOption = "safe"
    replace: ReplaceOption = False


@dataclass(frozen=True)
class Pictures(Output):
    """The same with the files that may stand beside the answer."""

    chart: ChartOption = None
    page: PageOption = None
    calendar: CalendarOption = None


@dataclass(frozen=True)
class Tonight:
    """The time that counts as now, and what is known then."""

    now: NowOption = None
    old: Annotated[bool, typer.Option("--old", help=help_text("old"))] = False
    offline: OfflineOption = False
    weather_url: WeatherUrlOption = None
    reading: Annotated[
        list[str] | None,
        typer.Option("--reading", metavar="TIME=MOISTURE", help=help_text("reading")),
    ] = None


def command(body: Callable[..., None]) -> Callable[..., None]:
    """A command whose groups of options (`Output`, `Tonight`, ...) stand one by one.

    So the parser of options wants them; the command itself gets each group whole,
    and what stops it goes past the parser.
    """
    groups: dict[str, tuple[Any, list[str]]] = {}
    shown: dict[str, tuple[Any, Any]] = {}
    for name, parameter in inspect.signature(body, eval_str=True).parameters.items():
        kind = parameter.annotation
        if not is_dataclass(kind):
            shown[name] = (kind, parameter.default)
            continue
        hints = get_type_hints(kind, include_extras=True)
        groups[name] = (kind, list(hints))
        shown |= {one: (hint, getattr(kind, one)) for one, hint in hints.items()}

    @functools.wraps(body)
    def run(**given: Any) -> None:
        for name, (kind, names) in groups.items():
            given[name] = kind(**{one: given.pop(one) for one in names})
        try:
            body(**given)
        except KeyboardInterrupt as stop:
            from hayweather.cli.language import Stopped

            raise Stopped(stop) from None

    run.__annotations__ = {name: hint for name, (hint, _) in shown.items()}
    keyword = inspect.Parameter.KEYWORD_ONLY
    run.__signature__ = inspect.Signature(  # type: ignore[attr-defined]
        [
            inspect.Parameter(name, keyword, default=default, annotation=hint)
            for name, (hint, default) in shown.items()
        ]
    )
    return run


MOST_OVER_NEW_YEAR = 6
FIRST_YEAR, LAST_YEAR = 1800, 2200


def years_of(text: str) -> tuple[int, int]:
    """First and last year of ``A:B`` or ``A``.

    Raises
    ------
    OptionError
        If it is none, or the first comes after the last.
    """
    ends = _ends(text)
    if ends is None or not FIRST_YEAR <= ends[0] <= ends[1] <= LAST_YEAR:
        raise OptionError("seasons_years_unread", "--years", value=as_given(text))
    return ends


def days_of(years: str, today: date) -> tuple[date, date]:
    """First and last day of ``A:B`` or ``A``; this year ends yesterday.

    Raises
    ------
    OptionError
        If these are no years, or none of them has begun.
    """
    ends = _ends(years)
    if ends is None or not all(FIRST_YEAR <= year <= LAST_YEAR for year in ends):
        raise OptionError("years_unread", "--years", value=as_given(years))
    first, last = date(ends[0], 1, 1), date(ends[1], 12, 31)
    if not first <= last or first >= today:
        raise OptionError("years_order", "--years", value=as_given(years), today=today.year)
    return first, min(last, today - timedelta(days=1))


def months_of(text: str) -> tuple[int, ...]:
    """Months of ``A:B`` or ``A``; over the new year where the first is the larger.

    Raises
    ------
    OptionError
        If it is no span of months, or one over the new year so long that it
        will be meant the other way round.

    Examples
    --------
    >>> months_of("11:2")
    (11, 12, 1, 2)
    """
    first, last = _ends(text) or (0, 0)
    if not (1 <= first <= 12 and 1 <= last <= 12):
        raise OptionError("seasons_months_unread", "--months", value=as_given(text))
    if first <= last:
        return tuple(range(first, last + 1))
    found = (*range(first, 13), *range(1, last + 1))
    if len(found) > MOST_OVER_NEW_YEAR:
        raise OptionError(
            "seasons_months_many",
            "--months",
            value=f"{first}:{last}",
            count=len(found),
            most=MOST_OVER_NEW_YEAR,
            other=f"{last}:{first}",
        )
    return found


def _ends(text: str) -> tuple[int, int] | None:
    """The numbers of ``A:B`` or ``A``; None where they are none."""
    begin, _, end = text.partition(":")
    try:
        return int(begin), int(end or begin)
    except ValueError:
        return None
