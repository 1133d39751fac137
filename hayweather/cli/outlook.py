"""``hayweather outlook``: tonight and tomorrow."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from hayweather.cli import options as o
from hayweather.words import say

if TYPE_CHECKING:
    from hayweather.farm.records import UnitSystem
    from hayweather.nights.outlook import Outlook


def outlook(
    farm_file: o.FarmFile = None,
    field: o.FieldOption = None,
    units: o.UnitsOption = None,
    format_: o.FormatOption = None,
    out: o.OutOption = None,
    chart: o.ChartOption = None,
    page: o.PageOption = None,
    calendar: o.CalendarOption = None,
    now: o.NowOption = None,
    old: o.OldOption = False,
    offline: o.OfflineOption = False,
    weather_url: o.WeatherUrlOption = None,
    reading: o.ReadingOption = None,
    cautions: o.CautionsOption = False,
    keep: o.KeepOption = None,
) -> None:
    """Tonight and tomorrow, hour by hour."""
    from hayweather.cli.carry import calendar_file, chart_file, check_names, page_file
    from hayweather.cli.language import spoken_in
    from hayweather.cli.load import farm_from, files_of
    from hayweather.cli.make import outlook_asked
    from hayweather.cli.write import SCREEN, Written, check_places, write_all

    farm = farm_from(farm_file)
    with spoken_in(farm.language):
        check_names(chart=chart, page=page, calendar=calendar)
        files = [path for path in (chart, page, calendar) if path is not None]
        check_places([out or SCREEN, *(str(path) for path in files)], files_of(farm))
        made = outlook_asked(farm, field, now, reading or (), weather_url, old=old, offline=offline)
        shown = units or farm.units
        text = _rendered(made, shown, format_ or o.format_of(out), all_cautions=cautions)
        results: Written = [(out or SCREEN, text), *chart_file(made, shown, chart)]
        results += [*page_file(made, shown, page), *calendar_file(made, shown, calendar)]
        if keep is not None:
            _keep(made, shown, keep)
        write_all(results, farm.language)


def _rendered(made: Outlook, units: UnitSystem, format_: o.Format, *, all_cautions: bool) -> str:
    """The outlook in a format."""
    if format_ == "json":
        from hayweather.show.outlook_data import outlook_json

        return outlook_json(made, units)
    if format_ == "csv":
        from hayweather.show.outlook_data import outlook_csv

        return outlook_csv(made, units)
    from hayweather.show.outlook_text import outlook_text

    return outlook_text(made, units, o.text_width(), all_cautions=all_cautions)


def _keep(made: Outlook, units: UnitSystem, folder: Path) -> None:
    """The outlook into a folder, for `score`; said on standard error."""
    from hayweather.learning.keep import keep_outlook
    from hayweather.show.outlook_data import outlook_form

    kept = keep_outlook(outlook_form(made, units), folder)
    print(say("keep_done", made.farm.language, count=len(kept), folder=folder), file=sys.stderr)
