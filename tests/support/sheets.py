"""Run sheets of the sample farms, made once, for tests of what is shown of them."""

from collections.abc import Sequence
from dataclasses import replace
from functools import cache

from support.outlooks import in_language

from hayweather.baling.calls import Call
from hayweather.nights import Night
from hayweather.plan.record import Span, WayName
from hayweather.plan.sheet import make_runsheet
from hayweather.plan.sheet_record import RunSheet
from hayweather.windrow.trajectory import QUARTER


def window_stays(night: Night) -> list[Span]:
    """The windows of go of all fields as blocks of the machines shown."""
    found = []
    for field in night:
        baler, rig = field.setting.baler, field.setting.rig
        for window in field.windows:
            wet = window.call == Call.ADD_MOISTURE and rig is not None
            ways: tuple[str | None, WayName] = (rig.name, "rig") if rig and wet else (None, "dew")
            found.append(Span(baler.name, field.name, *ways, window.start, window.end))
    return found


@cache
def sheet_of(name: str, language: str = "en") -> RunSheet:
    """The run sheets of a sample farm in a language, its blocks by a plain rule."""
    made = in_language(name, language)
    if language != "en":  # the same work and remarks, which become words only where they are shown
        return replace(sheet_of(name, "en"), night=made)
    return make_runsheet(made, first_come(made))


def first_come(night: Night) -> list[Span]:
    """Blocks without a clash: a quarter goes to the field whose window came first."""
    found: list[Span] = []
    for stay in sorted(window_stays(night), key=lambda item: item.start):
        at = stay.start
        while at < stay.end:
            one = replace(stay, start=at, end=at + QUARTER)
            if not _taken(one, found):
                last = found[-1] if found else one
                if last.end == at and replace(last, start=at, end=one.end) == one:
                    found[-1] = replace(last, end=one.end)
                else:
                    found.append(one)
            at = at + QUARTER
    return found


def _taken(one: Span, before: Sequence[Span]) -> bool:
    """Whether one of its machines works elsewhere."""
    return any(
        each.field != one.field
        and each.start < one.end
        and one.start < each.end
        and (each.baler == one.baler or (each.rig and each.rig == one.rig))
        for each in before
    )


def of_field(sheet: RunSheet, index: int) -> RunSheet:
    """The sheets of one of its fields, worked alone."""
    night = replace(sheet.night, fields=(sheet.night.fields[index],))
    return make_runsheet(night, window_stays(night))


def idle(sheet: RunSheet) -> RunSheet:
    """The same night with no work."""
    return make_runsheet(sheet.night, [])
