"""``hayweather fields``: which field when."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from hayweather.cli import options as o
from hayweather.errors import OptionError

if TYPE_CHECKING:
    from hayweather.farm.records import Farm, UnitSystem
    from hayweather.plan.record import FieldsPlan

LEAST_S, MOST_S = 0.1, 600.0


def _nights(text: str) -> int:
    """The number of nights to plan."""
    from hayweather.plan.needed import MOST_DAYS

    try:
        return int(text)
    except ValueError:
        value = o.as_given(text)
        raise OptionError("fields_days", "--days", value=value, most=MOST_DAYS) from None


def _seconds(text: str) -> float:
    """The longest time to look for a better plan [s]."""
    try:
        return float(text)
    except ValueError:
        raise OptionError("fields_time_limit", "--time-limit", value=o.as_given(text)) from None


DaysOption = Annotated[
    int, typer.Option("--days", metavar="N", parser=_nights, help=o.help_text("days"))
]
TimeLimitOption = Annotated[
    float,
    typer.Option(
        "--time-limit", metavar="SECONDS", parser=_seconds, help=o.help_text("time_limit")
    ),
]


def fields(
    farm_file: o.FarmFile = None,
    days: DaysOption = 2,
    units: o.UnitsOption = None,
    format_: o.FormatOption = None,
    out: o.OutOption = None,
    now: o.NowOption = None,
    old: o.OldOption = False,
    offline: o.OfflineOption = False,
    weather_url: o.WeatherUrlOption = None,
    time_limit: TimeLimitOption = 10.0,
    cautions: o.CautionsOption = False,
) -> None:
    """Which field is baled when, by which baler and how."""
    from hayweather.cli.language import spoken_in
    from hayweather.cli.load import farm_from, files_of
    from hayweather.cli.write import SCREEN, check_places, write_all

    farm = farm_from(farm_file)
    with spoken_in(farm.language):
        if not LEAST_S <= time_limit <= MOST_S:
            raise OptionError("fields_time_limit", "--time-limit", value=f"{time_limit:g}")
        check_places([out or SCREEN], files_of(farm))
        plan = _planned(farm, days, now, weather_url, time_limit, old=old, offline=offline)
        shown, form = units or farm.units, format_ or o.format_of(out)
        text = _rendered(plan, shown, form, all_cautions=cautions)
        write_all([(out or SCREEN, text)], farm.language)


def _planned(
    farm: Farm,
    days: int,
    now: str | None,
    url: str | None,
    seconds: float,
    *,
    old: bool,
    offline: bool,
) -> FieldsPlan:
    """The plan asked for."""
    from hayweather.cli.load import now_for, refuse_old_stored, sites_of, weather_for
    from hayweather.plan.make import plan_fields
    from hayweather.plan.needed import check_days, price_needed

    check_days(days)
    price_needed(farm)  # before any weather is asked for
    sites = sites_of(farm, None)
    weather = weather_for(farm, sites, offline=offline, url=url)
    zone = farm.sites[sites[0]].timezone or weather[sites[0]].timezone
    moment = now_for(farm, now, zone)
    refuse_old_stored(weather, moment, old=old)
    return plan_fields(farm, weather, moment, days=days, seconds=seconds, old=old)


def _rendered(plan: FieldsPlan, units: UnitSystem, format_: o.Format, *, all_cautions: bool) -> str:
    """The plan in a format."""
    if format_ == "json":
        from hayweather.show.plan_data import fields_json

        return fields_json(plan, units)
    if format_ == "csv":
        from hayweather.show.plan_data import fields_csv

        return fields_csv(plan, units)
    from hayweather.show.plan_text import fields_text

    return fields_text(plan, units, o.text_width(), all_cautions=all_cautions)
