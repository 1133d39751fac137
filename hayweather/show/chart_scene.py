"""What a chart shows of one field: runs of calls, marks and curves, ready to be drawn."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from hayweather.baling.advice import Advice
from hayweather.baling.calls import BALED, FREE_WATER_LIMIT_MM, Call
from hayweather.baling.course import RANGE_LEVELS
from hayweather.baling.hours import HourCall
from hayweather.baling.windows import stretches
from hayweather.nights import FieldNight
from hayweather.show.chart_look import Look
from hayweather.show.clock import QUARTER_H, Clock, Stretch
from hayweather.show.voice import Voice
from hayweather.units import to_shown
from hayweather.weather.record import HOUR, Booleans, Floats
from hayweather.windrow.readings import weighted_quantile
from hayweather.windrow.trajectory import QUARTERS

# Cautions that get a row of their own; any other stands in the row "caution".
CAUTION_ROWS = {
    "caution_rain_ahead": "chart_row_rain_near",
    "caution_rain_chance": "chart_row_rain_near",
    "caution_fire": "chart_row_fire",
    "caution_frost": "chart_row_frost",
    "caution_low_confidence": "chart_row_unsure",
    "caution_filled": "chart_row_filled",
}
AIR_CURVES = {"air": "air_temperature_c", "dew_point": "dew_point_c"}
DOT_H = 1 / 6
"""Measured values nearer than this to each other are drawn as one."""
_OF_THE_WHOLE_FIELD = ("caution_rain_unknown", "caution_dusty")


@dataclass(frozen=True)
class Segment:
    """A longest run of quarters with one call, all stopped or none; hours since the start."""

    first: float
    past: float
    call: Call
    stopped: bool

    @property
    def window(self) -> bool:
        """True where the hay can be baled."""
        return self.call in BALED and not self.stopped


@dataclass(frozen=True)
class Row:
    """A row of marks below the calls: its text key, its stretches and a word for each."""

    key: str
    stretches: tuple[Stretch, ...]
    words: tuple[str, ...] = ()


@dataclass(frozen=True)
class Curve:
    """One curve: text key and look by `name`, positions [h], values in shown units."""

    name: str
    at: Floats
    values: Floats


@dataclass(frozen=True)
class Point:
    """A moisture reading: when [h since the start], what [% wet basis], its meter's error.

    `curve` names what it speaks of; a bale is of the whole windrow. `fits` is False
    where no member comes near it; `at` is below 0 for one taken before the chart begins.
    """

    curve: str
    at: float
    value: float
    error: float
    fits: bool


@dataclass(frozen=True)
class Scene:
    """One field on one time axis; only lane 0, the forecast as it stands, is shown."""

    outlook: FieldNight
    look: Look

    @cached_property
    def clock(self) -> Clock:
        """The time axis."""
        weather = self.outlook.shown.weather
        return Clock(weather.start[0], weather.hours, self.voice)

    @property
    def voice(self) -> Voice:
        """How to speak to the reader."""
        outlook, look = self.outlook, self.look
        timezone = str(outlook.setting.site.timezone)
        return Voice(look.language, look.units, timezone, outlook.span.evening, look.decimals)

    @property
    def hour_in(self) -> float:
        """Inches of an hour."""
        return self.look.axes_in / self.clock.hours

    @property
    def edges(self) -> Floats:
        """Positions of the quarter-hour boundaries."""
        return np.arange(QUARTERS * self.clock.hours + 1, dtype=np.float64) * QUARTER_H

    @cached_property
    def segments(self) -> tuple[Segment, ...]:
        """The strip of calls, without gaps."""
        shown = self.outlook.shown
        call, stopped = shown.quarters.call[:, 0], shown.stopped[:, 0]
        new = np.flatnonzero((np.diff(call) != 0) | (np.diff(stopped.astype(np.int8)) != 0)) + 1
        firsts = [0, *(int(index) for index in new)]
        pasts = [*firsts[1:], call.size]
        return tuple(
            Segment(
                first * QUARTER_H, past * QUARTER_H, Call(int(call[first])), bool(stopped[first])
            )
            for first, past in zip(firsts, pasts, strict=True)
        )

    @cached_property
    def dark(self) -> list[Stretch]:
        """From sunset to sunrise."""
        site = self.outlook.setting.site
        return self.clock.dark(site.latitude, site.longitude)

    def rows(self) -> list[Row]:
        """Marks below the calls, only those that occur."""
        rows = [*self._advice(), self._stops(), self._rake(), *self._cautions(), self._dark_row()]
        return [row for row in rows if row.stretches]

    def _advice(self) -> list[Row]:
        """When to go, and when to probe first."""
        said = self.outlook.shown.advice
        return [
            Row("advice_go", _stretches(said == Advice.GO, QUARTER_H)),
            Row("advice_probe_first", _stretches(said == Advice.PROBE_FIRST, QUARTER_H)),
        ]

    def _stops(self) -> Row:
        """Stops, each with the word for its first reason."""
        stretches = _stretches(self.outlook.shown.stopped[:, 0], QUARTER_H)
        words = tuple(_stop_word(self.outlook.hours, stretch) for stretch in stretches)
        return Row("chart_row_stop", stretches, words)

    def _rake(self) -> Row:
        """When to rake."""
        at = self.clock.position
        found = tuple((at(item.start), at(item.end)) for item in self.outlook.rake)
        return Row("chart_row_rake", found, tuple(self.clock.span_text(item) for item in found))

    def _cautions(self) -> list[Row]:
        """Cautions hour by hour; those of every hour stand in the foot."""
        hours = self.outlook.hours
        keys = [{_row_of(item.key) for item in hour.cautions} - {""} for hour in hours]
        names = dict.fromkeys([*CAUTION_ROWS.values(), "chart_row_caution"])
        return [
            Row(name, _stretches(np.array([name in found for found in keys]), 1.0))
            for name in names
        ]

    def _dark_row(self) -> Row:
        """Dark hours with the times of sunset and sunrise."""
        words = tuple(self.clock.span_text(stretch) for stretch in self.dark)
        return Row("chart_row_dark", tuple(self.dark), words)

    @property
    def members(self) -> Booleans:
        """True for lanes that count as members, (lanes,)."""
        return np.asarray(self.outlook.shown.weights.weights > 0)

    def chances(self) -> Floats | None:
        """Chance of each call in every quarter [%], rows as `Call`; None without members."""
        return 100 * self.outlook.shown.chances if self.members.any() else None

    def windrow_range(self) -> Floats | None:
        """Moisture that eight in ten members lie between, (2, boundaries); None without members."""
        shown = self.outlook.shown
        if not self.members.any():
            return None
        rows = [
            weighted_quantile(values, shown.weights.weights, RANGE_LEVELS)
            for values in shown.trajectory.windrow_wb
        ]
        return np.array(rows).T

    def moistures(self) -> list[Curve]:
        """Leaf, stem and windrow [% wet basis]."""
        run = self.outlook.shown.trajectory
        curves = {"leaf": run.leaf_wb, "stem": run.stem_wb, "windrow": run.windrow_wb}
        return [Curve(name, self.edges, values[:, 0]) for name, values in curves.items()]

    def points(self) -> list[Point]:
        """The farm's own readings of the hours shown and before, the meter's bias taken off."""
        weights, at = self.outlook.shown.weights, self.clock.position
        odd = (*weights.unexplained, *weights.unused)
        return [
            Point(
                "windrow" if item.kind == "bale" else item.kind,
                at(item.time),
                item.true_wb,
                item.error_wb,
                item not in odd,
            )
            for item in self.outlook.readings
            if at(item.time) <= self.clock.hours
        ]

    def temperatures(self) -> list[Curve]:
        """Hay surface, air and dew point in shown units; the last hour's start holds to its end."""
        shown, units = self.outlook.shown, self.look.units
        columns = shown.weather.columns
        hourly = {"air": columns["air_temperature_c"], "dew_point": columns["dew_point_c"]}
        at = np.arange(self.clock.hours + 1, dtype=np.float64)
        skin = to_shown(shown.trajectory.skin_temperature_c[:, 0], "temperature", units)
        weather = [
            Curve(name, at, to_shown(_held(values[:, 0]), "temperature", units))
            for name, values in hourly.items()
        ]
        return [Curve("skin", self.edges, skin), *weather]

    def forecast_alone(self) -> list[Curve]:
        """Air and dew point as the forecast has them, where a station moved them; shown units."""
        station = next((item for item in self.outlook.stations if item.carried), None)
        if station is None:
            return []
        forecast, units = station.forecast, self.look.units
        first = int((self.clock.start - forecast.start[0]) / HOUR)
        return [
            Curve(name, np.arange(self.clock.hours + 1, dtype=np.float64),
                  to_shown(_held(values), "temperature", units))
            for name, column in AIR_CURVES.items()
            if (values := forecast.columns[column][first : first + self.clock.hours, 0]).size
            == self.clock.hours
        ]  # fmt: skip

    def measured(self) -> list[Curve]:
        """Air and dew point as stations measured them in the hours shown; else the last of them.

        One taken before the chart begins stands at its left edge.
        """
        found = []
        for station in self.outlook.stations:
            seen = station.observed
            if seen.last is None or not (station.carried or station.filled):
                continue
            every = (seen.times - self.clock.start) / HOUR
            for name, column in AIR_CURVES.items():
                known = seen.known(column) & (every <= self.clock.hours)
                shown = known & (every >= 0)
                at, values = every[shown], seen.columns[column][shown]
                if not at.size and known.any():
                    at, values = np.zeros(1), seen.columns[column][known][-1:]
                apart = np.diff(np.floor(at / DOT_H), prepend=-1.0) > 0
                shown_values = to_shown(values[apart], "temperature", self.look.units)
                found.append(Curve(name, at[apart], shown_values))
        return [curve for curve in found if curve.at.size]

    def free_water(self) -> tuple[Stretch, ...]:
        """Where free water on the hay makes it too wet."""
        free = self.outlook.shown.quarters.free_water_mm[:, 0]
        return _stretches(np.nan_to_num(free) > FREE_WATER_LIMIT_MM, QUARTER_H)

    def water(self) -> Floats:
        """Water to dial in each quarter [L/t]; NaN outside windows."""
        quarters, stopped = self.outlook.shown.quarters, self.outlook.shown.stopped[:, 0]
        if quarters.dose is None:
            return np.full(stopped.size, np.nan)
        helped = (quarters.call[:, 0] == Call.ADD_MOISTURE) & ~stopped
        return np.where(helped, quarters.dose.applied_l_t[:, 0], np.nan)

    def rain(self) -> Floats | None:
        """Rain of each hour [mm]; None where the source has no rain at all."""
        rain = self.outlook.shown.weather.get("rain_mm")
        return None if rain is None else rain[:, 0]

    def no_call(self) -> tuple[Stretch, ...]:
        """Where there is no call for want of data."""
        call = self.outlook.shown.quarters.call[:, 0]
        return _stretches(call == Call.NO_DATA, QUARTER_H)

    def not_followed(self) -> tuple[Stretch, ...]:
        """Where the hay's moisture is not known though there is a call: the swath still dries."""
        quarters = self.outlook.shown.quarters
        unknown = np.isnan(quarters.windrow_wb[:, 0]) & (quarters.call[:, 0] != Call.NO_DATA)
        return _stretches(unknown, QUARTER_H)

    def no_weather(self) -> tuple[Stretch, ...]:
        """Hours whose air temperature or dew point is not known at both ends."""
        columns = self.outlook.shown.weather.columns
        known = np.isfinite(columns["air_temperature_c"] + columns["dew_point_c"])[:, 0]
        return _stretches(~(known & np.append(known[1:], known[-1])), 1.0)

    def no_rain_known(self) -> tuple[Stretch, ...]:
        """Hours with a blank in the rain."""
        rain = self.rain()
        return () if rain is None else _stretches(np.isnan(rain), 1.0)


def _stretches(marks: Booleans, length: float) -> tuple[Stretch, ...]:
    """Runs of True as stretches of hours."""
    return tuple((first * length, past * length) for first, past in stretches(marks))


def _held(instants: Floats) -> Floats:
    """Hour starts, the last held to the end of its hour as the model does."""
    return np.append(instants, instants[-1])


def _row_of(key: str) -> str:
    """The row of a caution; empty where it holds for the whole field."""
    return "" if key in _OF_THE_WHOLE_FIELD else CAUTION_ROWS.get(key, "chart_row_caution")


def _stop_word(hours: tuple[HourCall, ...], stretch: Stretch) -> str:
    """Key of the word for why work stops, empty where no hour says why."""
    for hour in hours[int(stretch[0]) : int(np.ceil(stretch[1]))]:
        for reason in hour.reasons:
            if reason.key.startswith("stop_"):
                return f"chart_{reason.key}"
    return ""
