"""Run sheets of the sample farms, made once, for tests of what is shown of them."""

from dataclasses import replace
from functools import cache

from support.outlooks import in_language

from hayweather.plan.sheet import make_runsheet
from hayweather.plan.sheet_record import RunSheet


@cache
def sheet_of(name: str, language: str = "en") -> RunSheet:
    """The run sheet of a sample farm in a language."""
    made = in_language(name, language)
    return make_runsheet(made.farm, made)


def of_field(sheet: RunSheet, index: int) -> RunSheet:
    """The same for one of its fields."""
    fields = (sheet.fields[index],)
    outlook = replace(sheet.outlook, fields=(fields[0].outlook,))
    return replace(sheet, fields=fields, outlook=outlook)
