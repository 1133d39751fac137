"""What people carry with them: pages and calendars of an outlook or a run sheet."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from hayweather.errors import OptionError

if TYPE_CHECKING:
    from hayweather.baling.outlook import Outlook
    from hayweather.baling.runsheet_record import RunSheet
    from hayweather.farm.records import UnitSystem

PAGE_ENDINGS = (".html", ".htm")
CALENDAR_ENDINGS = (".ics",)

Written = list[tuple[str, str | bytes]]


def check_carried(page: Path | None, calendar: Path | None) -> None:
    """Refuse names that promise something else, before any work.

    Raises
    ------
    OptionError
        If a page does not end in .html or a calendar in .ics.
    """
    if page is not None and page.suffix.lower() not in PAGE_ENDINGS:
        raise OptionError("page_name", "--page", value=page.name)
    if calendar is not None and calendar.suffix.lower() not in CALENDAR_ENDINGS:
        raise OptionError("calendar_name", "--calendar", value=calendar.name)


def page_file(made: Outlook, units: UnitSystem, path: Path | None) -> Written:
    """The page of an outlook for its place; nothing without a place."""
    if path is None:
        return []
    from hayweather.report.page_outlook import outlook_page

    return [(str(path), outlook_page(made, units))]


def calendar_file(made: Outlook, units: UnitSystem, path: Path | None) -> Written:
    """The calendar of an outlook for its place; nothing without a place."""
    if path is None:
        return []
    from hayweather.report.calendar_outlook import outlook_calendar

    return [(str(path), outlook_calendar(made, units, file_before(path)).encode())]


def sheet_page_file(sheet: RunSheet, units: UnitSystem, path: Path | None) -> Written:
    """The page of a run sheet for its place; nothing without a place."""
    if path is None:
        return []
    from hayweather.report.page_runsheet import runsheet_page

    return [(str(path), runsheet_page(sheet, units))]


def sheet_calendar_file(sheet: RunSheet, units: UnitSystem, path: Path | None) -> Written:
    """The calendar of a run sheet for its place; nothing without a place."""
    if path is None:
        return []
    from hayweather.report.calendar_runsheet import runsheet_calendar

    return [(str(path), runsheet_calendar(sheet, units, file_before(path)).encode())]


def file_before(path: Path) -> str | None:
    """The calendar that will be replaced; None where there is none that can be read."""
    try:
        return path.read_bytes().decode("utf-8")
    except (OSError, ValueError):
        return None
