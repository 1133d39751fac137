"""``hayweather runsheet``: what the operator does when."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hayweather.cli import options as o

if TYPE_CHECKING:
    from hayweather.baling.runsheet_record import RunSheet
    from hayweather.farm.records import UnitSystem


def runsheet(
    farm_file: o.FarmFile = None,
    field: o.FieldOption = None,
    units: o.UnitsOption = None,
    format_: o.FormatOption = None,
    out: o.OutOption = None,
    now: o.NowOption = None,
    old: o.OldOption = False,
    offline: o.OfflineOption = False,
    weather_url: o.WeatherUrlOption = None,
    reading: o.ReadingOption = None,
) -> None:
    """What to do when: rates, speed, water, fuel, signs, dangers."""
    from hayweather.baling.runsheet import make_runsheet
    from hayweather.cli.language import spoken_in
    from hayweather.cli.load import farm_from
    from hayweather.cli.make import outlook_asked
    from hayweather.cli.write import SCREEN, check_places, write_all

    farm = farm_from(farm_file)
    with spoken_in(farm.language):
        check_places([out or SCREEN])
        made = outlook_asked(farm, field, now, reading or (), weather_url, old=old, offline=offline)
        sheet = make_runsheet(farm, made)
        shown = units or farm.units
        text = _rendered(sheet, shown, format_ or o.format_of(out))
        results: list[tuple[str, str | bytes]] = [(out or SCREEN, text)]
        write_all(results, farm.language)


def _rendered(sheet: RunSheet, units: UnitSystem, format_: o.Format) -> str:
    """The run sheet in a format."""
    if format_ == "json":
        from hayweather.report.runsheet_json import runsheet_json

        return runsheet_json(sheet, units)
    if format_ == "csv":
        from hayweather.report.runsheet_csv import runsheet_csv

        return runsheet_csv(sheet, units)
    from hayweather.report.runsheet_text import runsheet_text

    return runsheet_text(sheet, units, o.text_width())
