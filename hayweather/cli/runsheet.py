"""``hayweather runsheet``: what the operator does when."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hayweather.cli import options as o
from hayweather.errors import OptionError

if TYPE_CHECKING:
    from hayweather.farm.records import UnitSystem
    from hayweather.plan.sheet_record import RunSheet


def runsheet(
    farm_file: o.FarmFile = None,
    field: o.FieldOption = None,
    units: o.UnitsOption = None,
    format_: o.FormatOption = None,
    out: o.OutOption = None,
    text: o.TextOption = False,
    page: o.PageOption = None,
    calendar: o.CalendarOption = None,
    now: o.NowOption = None,
    old: o.OldOption = False,
    offline: o.OfflineOption = False,
    weather_url: o.WeatherUrlOption = None,
    reading: o.ReadingOption = None,
) -> None:
    """What to do when: rates, speed, water, fuel, signs, dangers."""
    from hayweather.cli.carry import check_names, sheet_calendar_file, sheet_page_file
    from hayweather.cli.language import spoken_in
    from hayweather.cli.load import farm_from, files_of
    from hayweather.cli.make import outlook_asked
    from hayweather.cli.write import SCREEN, Written, check_places, write_all
    from hayweather.plan.sheet import make_runsheet

    farm = farm_from(farm_file)
    with spoken_in(farm.language):
        check_names(page=page, calendar=calendar)
        if text and format_ not in (None, "table"):
            raise OptionError("text_and_format", "--text", value=format_)
        files = [str(path) for path in (page, calendar) if path is not None]
        check_places([out or SCREEN, *files], files_of(farm))
        made = outlook_asked(farm, field, now, reading or (), weather_url, old=old, offline=offline)
        sheet = make_runsheet(farm, made)
        shown = units or farm.units
        form = format_ or o.format_of(out)
        said = _message(sheet, shown) if text else _rendered(sheet, shown, form)
        results: Written = [(out or SCREEN, said), *sheet_page_file(sheet, shown, page)]
        results += sheet_calendar_file(sheet, shown, calendar)
        write_all(results, farm.language)


def _rendered(sheet: RunSheet, units: UnitSystem, format_: o.Format) -> str:
    """The run sheet in a format."""
    if format_ == "json":
        from hayweather.show.runsheet_data import runsheet_json

        return runsheet_json(sheet, units)
    if format_ == "csv":
        from hayweather.show.runsheet_data import runsheet_csv

        return runsheet_csv(sheet, units)
    from hayweather.show.runsheet_text import runsheet_text

    return runsheet_text(sheet, units, o.text_width())


def _message(sheet: RunSheet, units: UnitSystem) -> str:
    """The run sheet as a text message, one line."""
    from hayweather.show.message import runsheet_message

    return runsheet_message(sheet, units) + "\n"
