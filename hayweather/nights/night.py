"""The night of a farm: weather and readings in, every field's hours and windows out.

Outlook, run sheet, plan and score are views of one `Night`, so that a reading
or a second baler reaches all of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from hayweather.baling.advice import Advice, Risk
from hayweather.baling.clock import Span, clock_change, hour_index, span_ahead, span_of, to_local
from hayweather.baling.course import Course
from hayweather.baling.headline import Headline, headline_of
from hayweather.baling.hours import HourCall, hour_calls, with_remarks
from hayweather.baling.setting import (
    Setting,
    own_machines,
    setting_for,
    unnamed_machines,
    with_machines,
)
from hayweather.baling.windows import RakeWindow, Window, rake_windows
from hayweather.errors import FarmFileError
from hayweather.farm.records import Baler, Farm, Field, Rig
from hayweather.nights.drive import (
    Drawn,
    Weighed,
    drawn_of,
    fresh_members,
    run_together,
    setting_in,
    weighed_by,
)
from hayweather.nights.start import first_hour
from hayweather.nights.station import (
    Joined,
    Observations,
    StationNight,
    from_hour,
    joined_with,
)
from hayweather.nights.trust import (
    WeatherFacts,
    apart,
    baled_already,
    check_cover,
    common_cautions,
    doubts,
    elevation_gap,
    facts_of,
    known_age,
    taken_by,
)
from hayweather.weather.observed import Observed
from hayweather.weather.record import HOUR, HourlyWeather
from hayweather.windrow.readings import Reading, joined
from hayweather.windrow.spread import ASSUMED, MEMBERS, SEED, ForecastErrors, differences
from hayweather.words import Remark

Readings = Mapping[str, Sequence[Reading]]

LOOKED_AHEAD = np.timedelta64(5 * 24, "h")
"""How far from now the next night with dew is looked for (assumed): further on a forecast knows no
dew, and a file of a year is followed no longer than its week."""
AFTER = np.timedelta64(12, "h")
"""Hours after those shown that their cautions and raking still look at."""


@dataclass(frozen=True, repr=False)
class FieldNight:
    """One field: its hours from now on, its windows, and what stands behind them.

    Attributes
    ----------
    setting, span
        The field with the machines shown, and the hours spoken of.
    hours
        From the current hour to the end of the span.
    windows, maybe, rake
        Stretches of quarters to bale, to probe first, and to rake, within the span.
    headline
        Facts of the first screen.
    remarks
        How the run began, what differs, which of several machines is shown.
    shown
        The same hours by quarter, in full, of every forecast run.
    facts
        Of the weather.
    readings
        Moisture readings of this night, in order of time.
    weighed
        The forecast runs, as the readings weigh them.
    balers, rigs
        Those that may work here.
    risk
        When the hay counts as sure enough.
    stations
        What the stations of the field measured and did.
    """

    setting: Setting
    span: Span
    hours: tuple[HourCall, ...]
    windows: tuple[Window, ...]
    maybe: tuple[Window, ...]
    rake: tuple[RakeWindow, ...]
    headline: Headline
    remarks: tuple[Remark, ...]
    shown: Course
    facts: WeatherFacts
    readings: tuple[Reading, ...]
    weighed: Weighed
    balers: tuple[Baler, ...]
    rigs: tuple[Rig, ...]
    risk: Risk
    stations: tuple[StationNight, ...] = ()

    @property
    def name(self) -> str:
        """Name of the field."""
        return self.setting.field.name

    def course(self, baler: Baler, rig: Rig | None) -> Course:
        """The hours shown as one baler, with a rig or without, finds them.

        The same forecast runs, weighed by the same readings.
        """
        setting = with_machines(self.setting, baler, rig)
        if setting == self.setting:
            return self.shown
        first = hour_index(self.weighed.trajectory.start[0], self.span.first)
        whole = self.weighed.course(self.risk, setting)
        whole = whole if self.shown.now is None else whole.from_minute(self.shown.now)
        return whole.between(first, first + self.shown.weather.hours)

    def __repr__(self) -> str:
        windows = ", ".join(f"{item.call.word} {item.hours:g} h" for item in self.windows)
        return f"<FieldNight {self.name}, {self.span.evening}: {windows or 'no window'}>"


@dataclass(frozen=True, repr=False)
class Night:
    """A farm's night, made at `now` (UTC); `cautions` hold for all of it.

    `days` is the number of nights asked for, `short_by_h` how many hours of them
    the weather does not reach. `weather` holds the forecasts by site as they came,
    before stations and learned errors.
    """

    farm: Farm
    now: np.datetime64
    fields: tuple[FieldNight, ...]
    cautions: tuple[Remark, ...]
    days: int = 1
    short_by_h: float = 0.0
    weather: Mapping[str, HourlyWeather] = field(default_factory=dict)

    @property
    def start(self) -> np.datetime64:
        """UTC start of the current hour; the later where the weather of two sites differs by part
        of an hour."""
        return max(field.span.first for field in self.fields)

    @property
    def end(self) -> np.datetime64:
        """UTC end of the hours that every field has."""
        return min(field.shown.weather.end[0] for field in self.fields)

    @property
    def timezone(self) -> str:
        """Zone of the first field's site: the clock of the crews."""
        return str(self.fields[0].setting.site.timezone)

    def __getitem__(self, name: str) -> FieldNight:
        """A field by its name."""
        for found in self.fields:
            if found.name == name:
                return found
        raise _no_such_field(self.farm, name)

    def __iter__(self) -> Iterator[FieldNight]:
        """The fields, in the order of the farm file."""
        return iter(self.fields)

    def __len__(self) -> int:
        """Number of fields."""
        return len(self.fields)

    def __repr__(self) -> str:
        names = ", ".join(field.name for field in self.fields)
        return f"<Night of {self.farm.name}, {self.fields[0].span.evening}: {names}>"

    def weighed_again(
        self, now: np.datetime64, readings: Readings, before: Night | None = None
    ) -> Night | None:
        """This night by other readings or at a later minute, without running the windrow anew.

        The same as `night_of` gives; None where hours or settings of the fields have moved
        on since, so that it must be asked.

        Parameters
        ----------
        now
            UTC, in the same hour.
        readings
            By field, none later than now; those of this night itself were none.
        before
            A night weighed again before: its fields stand where nothing changed for them.
        """
        fields = []
        for item in self.fields:
            site = item.setting.site
            begin = item.shown.weather.start[0]
            span = span_of(now, str(site.timezone)).on_hours(begin, now)
            setting = setting_for(self.farm, item.setting.field, site, now)
            if item.readings or span != item.span or repr(setting) != repr(item.setting):
                return None  # by their text: a number that is not known is like itself
            read = joined(readings.get(item.name, ()))
            kept = None if before is None or before.now != now else before[item.name]
            if kept is not None and kept.readings == read:
                fields.append(kept)
                continue
            taken_by(read, setting, now)
            age = item.facts.age_hours
            age = None if age is None else age + float((now - self.now) / HOUR)
            weighed = item.weighed
            same = None if before is None else before[item.name]
            if same is not None and same.readings == read:
                weighed = same.weighed
            elif read:
                weighed = weighed_by(weighed.drawn, weighed.trajectory, read)
            later = float((now - self.now) / np.timedelta64(60, "s"))
            stations = tuple(station.later_by(later) for station in item.stations)
            fields.append(_field_night(self.farm, weighed, read, age, now, stations))
        looked = [(item.facts, item.setting) for item in fields]
        stations = tuple(station for item in fields for station in item.stations)
        cautions = (*clock_cautions(fields, now), *common_cautions(self.farm, looked, stations))
        return replace(self, now=now, fields=tuple(fields), cautions=cautions)

    def drawn_again(self, members: int, seed: int) -> Night:
        """The same night with other members, weighed by the same readings."""
        fields = tuple(_drawn_again(field, self, members, seed) for field in self.fields)
        return replace(self, fields=fields)


def night_of(
    farm: Farm,
    weather: Mapping[str, HourlyWeather],
    now: np.datetime64,
    readings: Readings | None = None,
    *,
    observations: Observations | None = None,
    field: str | None = None,
    days: int | None = None,
    members: int = MEMBERS,
    old: bool = False,
    seed: int = SEED,
    errors: Mapping[str, ForecastErrors] | None = None,
) -> Night:
    """The night of a farm, or of one of its fields.

    Parameters
    ----------
    farm
        The farm.
    weather
        Hourly weather by site name; lane 0 the forecast, further lanes a
        service's own runs.
    now
        UTC.
    readings
        Moisture readings by field name.
    observations
        What stations measured, judged, by field name.
    field
        Only this field.
    days
        Nights to look at, tonight's the first; all fields then end together,
        where the shortest weather ends if that is earlier. None: to 14:00 local
        of tomorrow, or two days on after 14:00.
    members
        Members to draw around the forecast; 0 for none, then there are no chances.
    old
        True to accept a forecast of more than 24 hours.
    seed
        Of the members.
    errors
        Of the forecast by site name, as fitted; assumed where a site has none.

    Raises
    ------
    FarmFileError
        If there is no such field.
    InputError
        If a reading is dated after now.
    WeatherFileError
        If the weather does not cover now, ends too early or is too old.
    """
    chosen = chosen_fields(farm, field)
    settings = [setting_in(farm, item, weather[item.site], now) for item in chosen]
    for setting in settings:
        taken_by((readings or {}).get(setting.field.name, ()), setting, now)
    spans, short = _spans(settings, weather, now, days)
    found: dict[str, FieldNight] = {}
    for site, seen, here in _together(settings, observations or {}):
        there = joined_with(weather[site], seen, now)
        fitted = (errors or {}).get(site, ASSUMED)
        draws = _draws(here, spans[site], there, now, members, seed, fitted)
        age = known_age(farm, weather[site], now, old=old)
        for drawn, trajectory in zip(draws, run_together(draws), strict=True):
            name = drawn.setting.field.name
            read = joined((readings or {}).get(name, ()))
            weighed = weighed_by(drawn, trajectory, read)
            found[name] = _field_night(farm, weighed, read, age, now, there.stations)
    fields = tuple(found[item.name] for item in chosen)
    looked = [(item.facts, item.setting) for item in fields]
    stations = [station for item in fields for station in item.stations]
    cautions = (*clock_cautions(fields, now), *common_cautions(farm, looked, stations))
    asked = days or _nights_in(spans[chosen[0].site], str(fields[0].setting.site.timezone))
    came = {site: weather[site] for site in spans}
    return Night(farm, now, fields, cautions, asked, short, came)


def _together(
    settings: Sequence[Setting], observations: Observations
) -> Iterator[tuple[str, Sequence[Observed], list[Setting]]]:
    """Fields of one site and the same stations, which run side by side."""
    groups: dict[tuple[object, ...], list[Setting]] = {}
    for setting in settings:
        seen = observations.get(setting.field.name, ())
        groups.setdefault((setting.field.site, *map(id, seen)), []).append(setting)
    for here in groups.values():
        name = here[0].field
        yield name.site, observations.get(name.name, ()), here


def clock_cautions(fields: Iterable[FieldNight], now: np.datetime64) -> tuple[Remark, ...]:
    """That clocks are changed in the hours spoken of: a window is then longer or shorter than
    its two times seem to say."""
    found = {}
    for item in fields:
        change = clock_change(str(item.setting.site.timezone), now, item.span.last)
        if change is not None:
            time, minutes = change
            key = "caution_clock_forward" if minutes > 0 else "caution_clock_back"
            found[change] = Remark(key, {"time": time, "by": (abs(minutes), "minutes")})
    return tuple(found.values())


def _nights_in(span: Span, timezone: str) -> int:
    """Nights that a span reaches over, from its evening to the last afternoon."""
    return (to_local(span.last, timezone).date() - span.evening).days


def chosen_fields(farm: Farm, name: str | None) -> list[Field]:
    """The fields asked for: one, or all for None.

    Raises
    ------
    FarmFileError
        If there is no such field.
    """
    if name is None:
        return list(farm.fields.values())
    if name not in farm.fields:
        raise _no_such_field(farm, name)
    return [farm.fields[name]]


def _no_such_field(farm: Farm, name: str) -> FarmFileError:
    known = ", ".join(farm.fields)
    return FarmFileError("no_such_field", str(farm.path or ""), value=name, known=known)


def _spans(
    settings: Sequence[Setting],
    weather: Mapping[str, HourlyWeather],
    now: np.datetime64,
    days: int | None,
) -> tuple[dict[str, Span], float]:
    """The hours of every site, and how many of those asked for no weather reaches."""
    zones = {setting.field.site: str(setting.site.timezone) for setting in settings}
    begins = {site: weather[site].start[0] for site in zones}
    if days is None:
        return {
            site: span_of(now, zone).on_hours(begins[site], now) for site, zone in zones.items()
        }, 0.0
    asked = span_ahead(now, next(iter(zones.values())), days).last
    end = min(asked, *(weather[site].end[0] for site in zones))
    spans = {
        site: replace(span_ahead(now, zone, days).on_hours(begins[site], now), last=end)
        for site, zone in zones.items()
    }
    return spans, float((asked - end) / HOUR)


def _draws(
    settings: Sequence[Setting],
    span: Span,
    there: Joined,
    now: np.datetime64,
    members: int,
    seed: int,
    errors: ForecastErrors,
) -> list[Drawn]:
    """The fields of one site ready to run, all from the first hour that one of them needs."""
    weather = there.weather
    check_cover(weather, span, now, str(settings[0].site.timezone))
    begin = min(first_hour(weather, setting, span) for setting in settings)
    last = max(span.last + AFTER, span.first + LOOKED_AHEAD)
    end = min(hour_index(weather.start[0], last), weather.hours)
    ahead = weather.between(begin, end)
    measured = from_hour(there.measured, begin)
    return [drawn_of(setting, span, ahead, members, seed, measured, errors) for setting in settings]


def _drawn_again(field: FieldNight, night: Night, members: int, seed: int) -> FieldNight:
    """A field with other members."""
    fresh = fresh_members(replace(field.weighed.drawn, seed=seed), members)
    weighed = weighed_by(*fresh, field.readings)
    age = field.facts.age_hours
    return _field_night(night.farm, weighed, field.readings, age, night.now, field.stations)


def _field_night(
    farm: Farm,
    weighed: Weighed,
    readings: tuple[Reading, ...],
    age: float | None,
    now: np.datetime64,
    stations: tuple[StationNight, ...] = (),
) -> FieldNight:
    """One field from its forecast runs to hours, windows and the first screen."""
    drawn, risk = weighed.drawn, Risk.of(farm)
    setting, span, start = drawn.setting, drawn.span, drawn.start
    course = weighed.course(risk).from_minute(now)
    begin = course.weather.start[0]
    first = hour_index(begin, span.first)
    last = min(hour_index(begin, span.last), course.weather.hours)
    shown = course.between(first, last)
    ahead = course.between(first, course.weather.hours)
    hours = hour_calls(ahead, setting, last - first)
    raking = rake_windows(
        ahead.weather, shown.quarters, shown.first_ready(), shown.stopped, shown.weights.weights
    )
    rake = [item.from_minute(now) for item in raking if item.end > now]
    mass = np.asarray(drawn.members.windrow.dry_matter_kg_m2)
    errors = differences(drawn.members.weather.between(first, last))
    errors = {**errors, "dry_matter_kg_m2": np.broadcast_to(mass, mass.shape)}
    balers, rigs = own_machines(farm, setting.field)
    return FieldNight(
        setting=setting,
        span=span,
        hours=tuple(with_remarks(hour, start.remarks) for hour in hours),
        windows=tuple(shown.windows()),
        maybe=tuple(shown.windows(Advice.PROBE_FIRST)),
        rake=tuple(rake),
        headline=headline_of(ahead, setting, span, errors),
        remarks=(
            *start.remarks,
            *start.cured_when(begin, course.weights),
            *elevation_gap(setting.site, course.weather),
            *unnamed_machines(farm, setting.field),
            *baled_already(setting.field),
            *apart(readings),
            *doubts(drawn.members.dropped, course.weights),
        ),
        shown=shown,
        facts=facts_of(shown.weather, course.trajectory.assumed, age),
        readings=readings,
        weighed=weighed,
        balers=balers,
        rigs=rigs,
        risk=risk,
        stations=stations,
    )
