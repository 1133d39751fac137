"""Commands of the coming nights: ``hayweather outlook``, ``runsheet`` and ``plan``."""

from __future__ import annotations

import shlex
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from hayweather.cli import options as o
from hayweather.errors import FarmFileError, OptionError

if TYPE_CHECKING:
    from hayweather.cli.write import Destinations, Written
    from hayweather.farm.records import Farm, UnitSystem
    from hayweather.nights import Night
    from hayweather.plan.record import FieldsPlan
    from hayweather.plan.sheet_record import RunSheet

LEAST_S, MOST_S = 0.1, 600.0
TextOption = Annotated[bool, typer.Option("--text", help=o.help_text("text_message"))]
AlwaysCautionsOption = Annotated[
    bool, typer.Option("--cautions", help=o.help_text("cautions_always"))
]
HoursOption = Annotated[bool, typer.Option("--hours", help=o.help_text("outlook_hours"))]
WhyOption = Annotated[bool, typer.Option("--why", help=o.help_text("outlook_why"))]
AllOption = Annotated[bool, typer.Option("--all", help=o.help_text("outlook_all"))]
KeepOption = Annotated[Path | None, typer.Option("--keep", metavar="DIR", help=o.help_text("keep"))]


@o.command
def outlook(
    farm_file: o.FarmFile = None,
    field: o.FieldOption = None,
    hours: HoursOption = False,
    why: WhyOption = False,
    everything: AllOption = False,
    keep: KeepOption = None,
    *,
    output: o.Pictures,
    tonight: o.Tonight,
    cautions: o.CautionsOption = False,
) -> None:
    """Tonight and tomorrow on one screen."""
    from hayweather.cli.load import answering, keep_in_log, outlook_asked

    with answering("outlook", farm_file, output, keep=keep) as (farm, where):
        made = outlook_asked(farm, field, tonight)
        units = output.units or farm.units

        def page() -> str:
            from hayweather.show.page import outlook_page

            return outlook_page(made, units)

        def calendar(before: str | None) -> str:
            from hayweather.show.calendar import outlook_calendar

            return outlook_calendar(made, units, before)

        text = _outlook(
            made,
            units,
            where,
            hours=hours or everything,
            why=why or everything,
            all_cautions=cautions,
            farm_option=_farm_option(farm_file),
            weight=o.has_weight() and where.place == o.SCREEN,
        )
        results = [(where.place, text), *_beside(where, made, units, page, calendar)]
        where.write(results, [] if keep is None else _kept(made, units, keep))
        keep_in_log(farm, made, units)


def _farm_option(path: Path | None) -> str:
    """What another command needs to find the farm file that this one was given."""
    if path is None or path == o.DEFAULT_FARM:
        return ""
    return f" --farm {shlex.quote(str(path))}"


def _outlook(made: Night, units: UnitSystem, where: Destinations, **asked: Any) -> str:
    """The outlook in its format; what is `asked` of the text is as in `outlook_text`."""
    from hayweather.show.outlook_data import outlook_csv, outlook_json
    from hayweather.show.outlook_text import outlook_text

    if where.form == "json":
        return outlook_json(made, units)
    if where.form == "csv":
        return outlook_csv(made, units, raw=where.raw)
    return outlook_text(made, units, o.text_width(), **asked)


def _beside(
    where: Destinations,
    made: Night,
    units: UnitSystem,
    page: Callable[[], str],
    calendar: Callable[[str | None], str],
) -> Written:
    """The files beside an answer that were asked for; a calendar knows the one before it."""
    results: Written = []
    if where.chart is not None:
        from hayweather.show.chart import figure_bytes, figure_of_all, look_for

        figure = figure_of_all(made, look_for(made, units))
        results.append((str(where.chart), figure_bytes(figure, where.chart.suffix)))
    if where.page is not None:
        results.append((str(where.page), page()))
    if where.calendar is not None:
        results.append((str(where.calendar), calendar(file_before(where.calendar))))
    return results


def file_before(path: Path) -> str | None:
    """The calendar that will be replaced; None where there is none that can be read."""
    try:
        return path.read_bytes().decode("utf-8")
    except (OSError, ValueError):
        return None


def _kept(made: Night, units: UnitSystem, folder: Path) -> Written:
    """The outlook with all its digits as the files of a folder, for `score`."""
    from hayweather.learning.keep import files_to_keep
    from hayweather.show.outlook_data import outlook_form

    files = files_to_keep(outlook_form(made, units, exact=True))
    return [(str(folder / name), text) for name, text in files]


MachineOption = Annotated[
    str | None, typer.Option("--machine", metavar="NAME", help=o.help_text("machine"))
]


def known_machine(farm: Farm, name: str) -> str:
    """The name of one of the farm's machines.

    Raises
    ------
    FarmFileError
        If it has none of that name.
    """
    names = [*farm.balers, *(farm.rigs or {})]
    if name not in names:
        where = str(farm.path or "")
        raise FarmFileError("no_such_machine", where, value=name, known=", ".join(names))
    return name


@o.command
def runsheet(
    farm_file: o.FarmFile = None,
    machine: MachineOption = None,
    field: o.FieldOption = None,
    text: TextOption = False,
    *,
    output: o.Pictures,
    tonight: o.Tonight,
    cautions: AlwaysCautionsOption = True,
) -> None:
    """What the driver of every machine does when: drives, rates, speed, water, fuel, dangers."""
    from hayweather.cli.load import answering, keep_in_log, outlook_asked
    from hayweather.plan.sheet import make_runsheet

    with answering("runsheet", farm_file, output) as (farm, where):
        if text and output.format not in (None, "table"):
            raise OptionError("text_and_format", "--text", value=output.format)
        sheet = make_runsheet(outlook_asked(farm, None, tonight, needed=field), field=field)
        if machine is not None:
            machine = known_machine(farm, machine)
            sheet = sheet.of_machine(machine)
        units = output.units or farm.units

        def page() -> str:
            from hayweather.show.page import runsheet_page

            return runsheet_page(sheet, units)

        def calendar(before: str | None) -> str:
            from hayweather.show.calendar import runsheet_calendar

            return runsheet_calendar(sheet, units, before)

        answer = _sheet(sheet, units, where, text=text, machine=machine or "")
        beside = _beside(where, sheet.night, units, page, calendar)
        where.write([(where.place, answer), *beside])
        keep_in_log(farm, sheet.night, units)


def _sheet(
    sheet: RunSheet, units: UnitSystem, where: Destinations, *, text: bool, machine: str
) -> str:
    """The run sheet in its format."""
    from hayweather.show.message import runsheet_message
    from hayweather.show.runsheet_data import runsheet_csv, runsheet_json
    from hayweather.show.runsheet_text import runsheet_text

    if text:
        return "\n".join(runsheet_message(sheet, units, machine)) + "\n"
    if where.form == "json":
        return runsheet_json(sheet, units)
    if where.form == "csv":
        return runsheet_csv(sheet, units, raw=where.raw)
    return runsheet_text(sheet, units, o.text_width())


def _nights(text: str) -> int:
    """The number of nights to plan."""
    from hayweather.plan.make import MOST_DAYS

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
    int | None, typer.Option("--days", metavar="N", parser=_nights, help=o.help_text("days"))
]
TimeLimitOption = Annotated[
    float,
    typer.Option(
        "--time-limit", metavar="SECONDS", parser=_seconds, help=o.help_text("time_limit")
    ),
]


@dataclass(frozen=True)
class PlanOutput(o.Output):
    """The same with the work as a page and as a calendar."""

    page: o.PageOption = None
    calendar: o.CalendarOption = None


@o.command
def plan(
    farm_file: o.FarmFile = None,
    days: DaysOption = None,
    time_limit: TimeLimitOption = 10.0,
    *,
    output: PlanOutput,
    tonight: o.Tonight,
    cautions: o.CautionsOption = False,
) -> None:
    """Which field is baled when, by which baler and how."""
    from hayweather.cli.load import answering, keep_in_log, plan_asked

    with answering("plan", farm_file, output) as (farm, where):
        if not LEAST_S <= time_limit <= MOST_S:
            raise OptionError("fields_time_limit", "--time-limit", value=f"{time_limit:g}")
        made = plan_asked(farm, days, tonight, time_limit)
        units = output.units or farm.units
        text = _plan(made, units, where, all_cautions=cautions)
        results: Written = [(where.place, text)]
        if where.page is not None:
            from hayweather.show.page import plan_page

            results.append((str(where.page), plan_page(made, units)))
        if where.calendar is not None:
            from hayweather.show.calendar import plan_calendar

            before = file_before(where.calendar)
            results.append((str(where.calendar), plan_calendar(made, units, before)))
        where.write(results)
        keep_in_log(farm, made, units)


def _plan(plan: FieldsPlan, units: UnitSystem, where: Destinations, *, all_cautions: bool) -> str:
    """The plan in its format."""
    from hayweather.show.plan_data import plan_csv, plan_json
    from hayweather.show.plan_text import plan_text

    if where.form == "json":
        return plan_json(plan, units)
    if where.form == "csv":
        return plan_csv(plan, units, raw=where.raw)
    return plan_text(plan, units, o.text_width(), all_cautions=all_cautions)
