"""Everything that is written of a night, by name, in English and US units unless told."""

from hayweather.farm.records import UnitSystem
from hayweather.nights import Night
from hayweather.plan.make import plan_is_needed, plan_of_night, plan_shown
from hayweather.plan.sheet import make_runsheet
from hayweather.show.calendar import outlook_calendar, plan_calendar, runsheet_calendar
from hayweather.show.evening import Evening, evening_files
from hayweather.show.message import runsheet_message
from hayweather.show.outlook_data import outlook_csv, outlook_json
from hayweather.show.outlook_text import outlook_text
from hayweather.show.page import outlook_page, plan_page, runsheet_page
from hayweather.show.plan_data import plan_csv, plan_json
from hayweather.show.plan_text import plan_text
from hayweather.show.runsheet_data import runsheet_csv, runsheet_json
from hayweather.show.runsheet_text import runsheet_text
from hayweather.show.screen import screen_text


def outlook_outputs(night: Night, width: int = 80, units: UnitSystem = "us") -> dict[str, str]:
    """What the outlook writes."""
    return {
        "json": outlook_json(night, units),
        "text": outlook_text(night, units, width),
        "csv": outlook_csv(night, units),
        "calendar": outlook_calendar(night, units),
        "page": outlook_page(night, units),
    }


def work_outputs(night: Night, units: UnitSystem = "us") -> dict[str, str]:
    """What run sheet, plan, evening and message write."""
    plan = plan_shown(night) if plan_is_needed(night) else plan_of_night(night)
    sheet = make_runsheet(night)
    folder = evening_files(Evening(night.farm, night.now, units, sheet))
    return {
        "screen": screen_text(night, units, 80),
        "sheet json": runsheet_json(sheet, units),
        "sheet csv": runsheet_csv(sheet, units),
        "sheet text": runsheet_text(sheet, units, 80),
        "sheet calendar": runsheet_calendar(sheet, units),
        "sheet page": runsheet_page(sheet, units),
        "plan json": plan_json(plan, units),
        "plan csv": plan_csv(plan, units),
        "plan text": plan_text(plan, units, 80),
        "plan calendar": plan_calendar(plan, units),
        "plan page": plan_page(plan, units),
        "message": "\n".join(runsheet_message(sheet, units)),
        **{f"evening/{name}": text for name, text in folder.items()},
    }
