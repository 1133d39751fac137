"""What stands beside the answer: charts, pages and calendars, as files to be written."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from hayweather.cli.write import Written
from hayweather.errors import OptionError

if TYPE_CHECKING:
    from hayweather.farm.records import UnitSystem
    from hayweather.nights.outlook import Outlook
    from hayweather.plan.sheet_record import RunSheet

ENDINGS = {"chart": (".png", ".svg"), "page": (".html", ".htm"), "calendar": (".ics",)}


def check_names(**files: Path | None) -> None:
    """Refuse names that promise something else, before any work.

    Parameters
    ----------
    **files
        Files by the names of their options: chart, page, calendar.

    Raises
    ------
    OptionError
        If a chart does not end in .png or .svg, a page in .html, a calendar in .ics.
    """
    for name, path in files.items():
        if path is not None and path.suffix.lower() not in ENDINGS[name]:
            raise OptionError(f"{name}_name", f"--{name}", value=path.name)


def chart_file(made: Outlook, units: UnitSystem, path: Path | None) -> Written:
    """The chart of an outlook for its place; nothing without a place."""
    if path is None:
        return []
    from dataclasses import replace

    from hayweather.show.chart import figure_bytes, figure_of_all, look_for

    figure = figure_of_all(made, replace(look_for(made), units=units))
    return [(str(path), figure_bytes(figure, path.suffix))]


def page_file(made: Outlook, units: UnitSystem, path: Path | None) -> Written:
    """The page of an outlook for its place; nothing without a place."""
    if path is None:
        return []
    from hayweather.show.page import outlook_page

    return [(str(path), outlook_page(made, units))]


def calendar_file(made: Outlook, units: UnitSystem, path: Path | None) -> Written:
    """The calendar of an outlook for its place; nothing without a place."""
    if path is None:
        return []
    from hayweather.show.calendar import outlook_calendar

    return [(str(path), outlook_calendar(made, units, file_before(path)).encode())]


def sheet_page_file(sheet: RunSheet, units: UnitSystem, path: Path | None) -> Written:
    """The page of a run sheet for its place; nothing without a place."""
    if path is None:
        return []
    from hayweather.show.page import runsheet_page

    return [(str(path), runsheet_page(sheet, units))]


def sheet_calendar_file(sheet: RunSheet, units: UnitSystem, path: Path | None) -> Written:
    """The calendar of a run sheet for its place; nothing without a place."""
    if path is None:
        return []
    from hayweather.show.calendar import runsheet_calendar

    return [(str(path), runsheet_calendar(sheet, units, file_before(path)).encode())]


def file_before(path: Path) -> str | None:
    """The calendar that will be replaced; None where there is none that can be read."""
    try:
        return path.read_bytes().decode("utf-8")
    except (OSError, ValueError):
        return None
