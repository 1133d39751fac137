"""The one drive through the windrow: lanes in, trajectories and calls out; readings weigh in.

A lane is a forecast run of one field tonight, or a night of the past: both go
through `drive`. Nothing outside this room runs the windrow, draws members or
says what holds in a field.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from hayweather.baling.advice import Risk
from hayweather.baling.calls import QuarterCalls, call_quarters
from hayweather.baling.cautions import dangers_of
from hayweather.baling.clock import Span, hour_index
from hayweather.baling.course import Course, course_of, shown_as_mean
from hayweather.baling.setting import Setting, setting_for
from hayweather.baling.water import Landing
from hayweather.baling.windows import stopped_quarters
from hayweather.errors import InputError
from hayweather.farm.nearest import nearest
from hayweather.farm.records import Farm, Field
from hayweather.nights.start import Start, start_of
from hayweather.nights.trust import (
    begun_anew,
    complete_site,
    held_in_band,
    limits_said,
    near_ceiling,
)
from hayweather.weather.record import HOUR, Booleans, Floats, HourlyWeather
from hayweather.windrow.carried import Measured
from hayweather.windrow.column import State
from hayweather.windrow.forcing import Place, prepare
from hayweather.windrow.lanes import lane_of, stack_parameters, stack_states
from hayweather.windrow.parameters import WindrowParameters
from hayweather.windrow.readings import (
    LEAD_NOISE,
    Reading,
    Weights,
    lead_wb,
    moisture_at,
    moved_by,
    weigh,
)
from hayweather.windrow.run import LARGE_RUN, run
from hayweather.windrow.run import Loop as Loop
from hayweather.windrow.run import has_compiled_loop as has_compiled_loop
from hayweather.windrow.run import process_stays as process_stays
from hayweather.windrow.spread import (
    ASSUMED,
    MEMBERS,
    SEED,
    ForecastErrors,
    Members,
    clouded,
    make_members,
    spread_windrow,
    with_cloud,
)
from hayweather.windrow.starts import moisture_state
from hayweather.windrow.trajectory import (
    FLUX_NAMES,
    QUARTERS,
    STATE_NAMES,
    WindrowTrajectory,
)
from hayweather.words import Remark

FEW_MEMBERS = 30.0  # effective members below which fresh ones are drawn
MOST_MEMBERS = 800
LEAST_LEAD_WB = 0.05  # members are not moved by less [points]
STARTING_WB = (3.0, 75.0)  # a windrow may start between these [% wet basis]


def setting_in(farm: Farm, field: Field, weather: HourlyWeather, now: np.datetime64) -> Setting:
    """What holds in a field at `now`, its site completed from its weather.

    Raises
    ------
    FarmFileError
        If neither farm nor weather tells the site's zone or elevation.
    """
    site = complete_site(farm.sites[field.site], weather, str(farm.path or ""))
    return setting_for(farm, field, site, now)


def lanes_from(series: HourlyWeather, first: NDArray[np.int64], hours: int) -> HourlyWeather:
    """Lane 0 of a long series as a lane of so many hours from each of its hours `first` on.

    `first` may lie outside the series; where it does not reach, hours are blank.
    """
    rows = first + np.arange(hours)[:, None]
    there = (rows >= 0) & (rows < series.hours)
    held = np.clip(rows, 0, series.hours - 1)
    columns = {
        name: np.where(there, values[held, 0], np.nan) for name, values in series.columns.items()
    }
    start = series.start[0] + first * HOUR
    basis = np.where(there, series.basis[held, 0], np.uint16(0))
    return replace(series, start=start, columns=columns, repaired=np.zeros_like(there), basis=basis)


def drive(
    weather: HourlyWeather,
    settings: Sequence[Setting],
    counts: Sequence[int],
    equilibrium: Booleans,
    starts: dict[int, State] | None = None,
    loop: Loop = "auto",
    layers_from: int = 0,
    single: bool = False,
) -> WindrowTrajectory:
    """Lanes side by side through the windrow; a lane knows nothing of the others.

    Parameters
    ----------
    weather
        Hours of all lanes.
    settings, counts
        What holds in each group of lanes, and how many lanes it has; place and
        windrow of a setting may have a number for each of them.
    equilibrium
        Hours in which a lane that is unknown may start in equilibrium with the
        air, (hours, lanes).
    starts
        States given for the start of an hour.
    loop, layers_from, single
        As in `hayweather.windrow.run.run`.
    """
    place, windrow = settings[0].place, settings[0].windrow
    if len(settings) > 1:
        place = stack_parameters([setting.place for setting in settings], counts)
        windrow = stack_parameters([setting.windrow for setting in settings], counts)
    # Cloud that was not given is derived before it is spread or run.
    weather = with_cloud(weather, place)
    return run(
        weather, place, windrow, starts or {}, equilibrium,
        loop=loop, layers_from=layers_from, single=single,
    )  # fmt: skip


def drive_nights(
    weather: HourlyWeather,
    setting: Setting,
    equilibrium: Booleans,
    loop: Loop = "auto",
    layers_from: int = 0,
) -> tuple[HourlyWeather, WindrowTrajectory]:
    """Nights as lanes: their weather with its cloud, and the windrow driven through it.

    In single precision: fewer than one quarter in 10,000 changes its side of a limit by
    it (tests/regression/test_single.py).

    Parameters
    ----------
    weather, equilibrium, loop, layers_from
        As in `drive`.
    setting
        Of all lanes.
    """
    cloudy = with_cloud(weather, setting.place)  # it looks back further than calls do
    counts = [weather.lanes]
    return cloudy, drive(
        cloudy, [setting], counts, equilibrium, loop=loop, layers_from=layers_from, single=True
    )


def calls_of(
    weather: HourlyWeather, trajectory: WindrowTrajectory, setting: Setting, first: int = 0
) -> tuple[QuarterCalls, Booleans]:
    """The call of every quarter of nights that were driven, and where work stops.

    Parameters
    ----------
    weather, trajectory
        As `drive_nights` gives them.
    setting
        Of all lanes.
    first
        Hour with which calls and stops begin; what goes before is spin-up.
    """
    quarters = call_quarters(weather, trajectory, setting, first=first, every_need=False)
    dangers = dangers_of(weather.between(first, weather.hours))
    return quarters, stopped_quarters(quarters, dangers, setting)


def compile_for(drawn: Drawn) -> None:
    """Have the compiled loop ready for whatever this process runs from now on.

    Parameters
    ----------
    drawn
        Any field; its run is thrown away.
    """
    if has_compiled_loop():
        members, lanes = drawn.members, drawn.members.weather.lanes
        setting = replace(drawn.setting, windrow=members.windrow)
        drive(members.weather, [setting], [lanes], drawn.start.equilibrium, loop="compiled")
        process_stays()


def drive_members(
    weather: HourlyWeather, setting: Setting, equilibrium: Booleans, count: int, seed: int
) -> WindrowTrajectory:
    """One lane as forecast runs of about `count` members, the hay itself as it is.

    Parameters
    ----------
    weather, equilibrium
        Of one lane.
    setting
        What holds there.
    count, seed
        Of the members.
    """
    cloudy, unknown = clouded(weather, setting.place)
    drawn = make_members(cloudy, setting.windrow, count, seed=seed, sky_unknown=unknown)
    begins = np.repeat(equilibrium, drawn.weather.lanes, axis=1)
    return drive(drawn.weather, [setting], [drawn.weather.lanes], begins)


def drawn_windrows(setting: Setting, count: int, seed: int = SEED) -> list[WindrowParameters]:
    """The windrow's assumed numbers drawn as a forecast's members have them, each draw by itself.

    The same draws whatever the setting: of two sites, draw n has the same luck.
    """
    spread = spread_windrow(np.random.default_rng(seed), setting.windrow, count)
    return [lane_of(spread, lane) for lane in range(1, count + 1)]


def loop_of_blocks(hours: int) -> Loop:
    """The loop for a block among several: that of a full one, however small the last may be.

    Parameters
    ----------
    hours
        Hours of all lanes of a full block.
    """
    return "compiled" if has_compiled_loop() and hours >= LARGE_RUN else "auto"


@dataclass(frozen=True)
class Drawn:
    """One field ready to run.

    Attributes
    ----------
    setting, span
        The field, and the hours asked for.
    source
        The weather that members were drawn around.
    members
        Weather and windrow of every lane.
    start
        How the run begins, the same lanes.
    seed
        Of the members.
    measured
        What a station measured.
    errors
        Of the forecast, that they were drawn with.
    """

    setting: Setting
    span: Span
    source: HourlyWeather
    members: Members
    start: Start
    seed: int = SEED
    measured: Measured = field(default_factory=dict)
    errors: ForecastErrors = ASSUMED


def drawn_of(
    setting: Setting,
    span: Span,
    weather: HourlyWeather,
    count: int = MEMBERS,
    seed: int = SEED,
    measured: Measured | None = None,
    errors: ForecastErrors = ASSUMED,
) -> Drawn:
    """Draw the members of a field and find out how its run begins.

    Parameters
    ----------
    setting, span
        The field, and the hours asked for.
    weather
        From where the run may begin; lane 0 the forecast, others a service's
        members.
    count, seed
        Members to draw; 0 for the forecast alone.
    measured
        What a station measured, from the same first hour.
    errors
        Of the forecast, their lead counted from the first hour asked for.
    """
    assumed = prepare(weather, setting.place).assumed  # before cloud is filled in
    cloudy, unknown = clouded(weather, setting.place)
    cloudy = replace(cloudy, assumed=(*weather.assumed, *assumed))
    members = make_members(
        cloudy,
        setting.windrow,
        count,
        seed=seed,
        sky_unknown=unknown,
        measured=measured,
        errors=errors,
        issued=span.first,
    )
    start = start_of(members.weather, replace(setting, windrow=members.windrow), span)
    return Drawn(setting, span, weather, members, start, seed, measured or {}, errors)


def run_together(draws: Sequence[Drawn]) -> list[WindrowTrajectory]:
    """Run fields that share the hours of one weather side by side.

    Parameters
    ----------
    draws
        Fields whose weather begins and ends with the same hours.
    """
    counts = [drawn.members.weather.lanes for drawn in draws]
    weather = side_by_side([drawn.members.weather for drawn in draws])
    trajectory = drive(
        weather,
        [replace(drawn.setting, windrow=drawn.members.windrow) for drawn in draws],
        counts,
        np.concatenate([drawn.start.equilibrium for drawn in draws], axis=1),
        _starts(draws, counts),
    )
    edges = np.concatenate([[0], np.cumsum(counts)])
    runs = [trajectory.lanes(slice(int(first), int(past))) for first, past in pairwise(edges)]
    return [_with_swath(ran, drawn.start) for ran, drawn in zip(runs, draws, strict=True)]


def _with_swath(trajectory: WindrowTrajectory, start: Start) -> WindrowTrajectory:
    """The run with the swath's water wherever a lane is not cured; its parts are unknown there."""
    if start.swath_db is None:
        return trajectory
    wet, rows = start.uncured[::QUARTERS], np.arange(QUARTERS * trajectory.hours + 1)
    hour, part = rows // QUARTERS, (rows % QUARTERS / QUARTERS)[:, None]
    later = np.minimum(hour + 1, trajectory.hours)
    between = start.swath_db[hour] * (1 - part) + start.swath_db[later] * part
    swath = np.where(part > 0, between, start.swath_db[hour])
    hidden = wet[np.maximum(rows - 1, 0) // QUARTERS]
    # Where the windrow model takes over it has the first word.
    hidden &= (part > 0) | np.concatenate([wet, np.ones_like(wet[:1])])[hour]
    states: dict[str, Any] = {
        name: np.where(hidden, np.nan, getattr(trajectory, name)) for name in STATE_NAMES
    }
    states["windrow_db"] = np.where(hidden, swath, trajectory.windrow_db)
    states |= {
        name: np.where(wet, np.nan, getattr(trajectory, name))
        for name in FLUX_NAMES
        if name.endswith("_mm")
    }
    layers = trajectory.every_layer
    inside = {
        name: np.where(hidden[:, None], np.float32(np.nan), getattr(layers, name))
        for name in ("leaf_db", "stem_db", "film_db", "temperature_c")
    }
    return replace(trajectory, **states, layers=replace(layers, **inside))


def side_by_side(weathers: Sequence[HourlyWeather]) -> HourlyWeather:
    """The lanes of several weathers with the same hours and columns in one record."""
    first = weathers[0]
    if len(weathers) == 1:
        return first
    return replace(
        first,
        start=np.concatenate([weather.start for weather in weathers]),
        columns={
            name: np.concatenate([weather.columns[name] for weather in weathers], axis=1)
            for name in first.columns
        },
        repaired=np.concatenate([weather.repaired for weather in weathers], axis=1),
        basis=np.concatenate([weather.basis for weather in weathers], axis=1),
    )


def _starts(draws: Sequence[Drawn], counts: Sequence[int]) -> dict[int, State]:
    """States given for the start of an hour, by hour, all fields' lanes."""
    hours = sorted({hour for drawn in draws for hour in drawn.start.starts})
    return {
        hour: stack_states([drawn.start.starts.get(hour) for drawn in draws], counts)
        for hour in hours
    }


@dataclass(frozen=True)
class Weighed:
    """A field's members, run and weighed by its readings; lane 0 is what is shown.

    Attributes
    ----------
    drawn
        The members that were used: fresh ones where few of the first agreed.
    trajectory
        Lane 0 the forecast, or the mean of the members that agree with readings.
    weights
        How much each member counts.
    readings
        That they were weighed by.
    """

    drawn: Drawn
    trajectory: WindrowTrajectory
    weights: Weights
    readings: tuple[Reading, ...] = ()

    def course(self, risk: Risk, setting: Setting | None = None) -> Course:
        """All hours of the run, as the field's own machines or those of `setting` find them."""
        weather, uncured = self.drawn.members.weather, self.drawn.start.uncured
        there = setting or self.drawn.setting
        shares = self.drawn.members.rig_shares
        landing = None if there.rig is None else Landing.of(there.rig, shares)
        return course_of(
            weather,
            self.trajectory,
            there,
            uncured,
            self.weights,
            risk,
            limits_said(weather, there, self.readings),
            near_ceiling(weather, there, self.readings),
            held_in_band(self.trajectory, there, self.readings),
            landing=landing,
            anew=begun_anew(self.trajectory, self.drawn.start.starts, self.readings),
        )


def weighed_by(drawn: Drawn, trajectory: WindrowTrajectory, readings: Sequence[Reading]) -> Weighed:
    """Members weighed by readings, `MOST_MEMBERS` at most where few agree.

    Parameters
    ----------
    drawn, trajectory
        A field and its run.
    readings
        Of this field; may be empty.
    """
    drawn, trajectory, weights = members_that_agree(drawn, trajectory, readings)
    drawn, trajectory = led_by_readings(drawn, trajectory, weights)
    if weights.readings:
        trajectory = shown_as_mean(trajectory, weights)
    return Weighed(drawn, trajectory, weights, tuple(readings))


def led_by_readings(
    drawn: Drawn, trajectory: WindrowTrajectory, weights: Weights
) -> tuple[Drawn, WindrowTrajectory]:
    """The members moved to the readings that weighing alone does not reach, and run on.

    Parameters
    ----------
    drawn, trajectory
        A field and its run.
    weights
        Of its members, with the readings they were weighed by.
    """
    for reading in sorted(weights.readings, key=lambda item: item.time):
        lead = lead_wb(trajectory, reading, weights.weights)
        hour = max(hour_index(trajectory.start[0], reading.time), 0)
        if abs(lead) < LEAST_LEAD_WB or hour >= drawn.source.hours:
            continue
        lanes = drawn.members.weather.lanes
        each = np.full(lanes, lead)
        if reading in weights.unexplained:
            each += LEAD_NOISE * abs(lead) * _centered(lanes, weights.weights, drawn.seed)
        moved = moved_by(trajectory, hour, reading, each, drawn.members.windrow)
        starts = {**drawn.start.starts, hour: moved}
        drawn = replace(drawn, start=replace(drawn.start, starts=starts))
        trajectory = run_together([drawn])[0]
    return drawn, trajectory


def _centered(lanes: int, weights: Floats, seed: int) -> Floats:
    """Standard normal numbers whose weighted mean is 0; lane 0, the forecast, has 0."""
    noise = np.random.default_rng(seed).standard_normal(lanes)
    noise -= np.average(noise, weights=weights)
    noise[0] = 0.0
    return noise


def fresh_members(drawn: Drawn, count: int) -> tuple[Drawn, WindrowTrajectory]:
    """The same field with about `count` members drawn anew, and their run."""
    drawn = drawn_of(
        drawn.setting, drawn.span, drawn.source, count, drawn.seed, drawn.measured, drawn.errors
    )
    return drawn, run_together([drawn])[0]


def members_that_agree(
    drawn: Drawn,
    trajectory: WindrowTrajectory,
    readings: Sequence[Reading],
    draw: Callable[[Drawn, int], tuple[Drawn, WindrowTrajectory]] = fresh_members,
) -> tuple[Drawn, WindrowTrajectory, Weights]:
    """Members weighed by readings; more of them where too few agree.

    Parameters
    ----------
    drawn, trajectory
        A field and its run.
    readings
        Of this field; may be empty.
    draw
        Draws and runs so many members.
    """
    drawn, trajectory, others = start_by_reading(drawn, trajectory, readings)
    weights = weigh(trajectory, others)
    count = drawn.members.weather.lanes - 1
    while 0 < count < MOST_MEMBERS and _too_few(weights):
        count = min(4 * count, MOST_MEMBERS)
        drawn, trajectory, others = start_by_reading(*draw(drawn, count), readings)
        weights = weigh(trajectory, others)
    return drawn, trajectory, weights


def start_by_reading(
    drawn: Drawn, trajectory: WindrowTrajectory, readings: Sequence[Reading]
) -> tuple[Drawn, WindrowTrajectory, tuple[Reading, ...]]:
    """Where the windrow is unknown when it is first read, it starts from that reading.

    So a reading serves where the weather begins too late in the night, or has a
    gap. The members start from it with the error of the meter. It is not
    weighed again: the readings left over come back.

    Parameters
    ----------
    drawn, trajectory
        A field and its run.
    readings
        Of this field.
    """
    begin = trajectory.start[0]
    if drawn.start.swath_db is not None:  # a swath that dries is no windrow yet
        return drawn, trajectory, tuple(readings)
    for reading in sorted(readings, key=lambda item: item.time):
        hour = max(hour_index(begin, reading.time), 0)
        unknown = np.isnan(moisture_at(trajectory, reading)).all()
        if unknown and begin - HOUR <= reading.time and hour < drawn.source.hours:
            started = replace(drawn, start=_start_from(drawn, reading, hour))
            others = tuple(item for item in readings if item is not reading)
            return started, run_together([started])[0], others
    return drawn, trajectory, tuple(readings)


def _start_from(drawn: Drawn, reading: Reading, hour: int) -> Start:
    """The start of a drawn with all of the windrow at a reading in one hour."""
    weather = drawn.members.weather
    forcing = prepare(weather, drawn.setting.place)
    noise = np.random.default_rng(drawn.seed).standard_normal(weather.lanes)
    noise[0] = 0.0
    moisture = np.clip(reading.true_wb + reading.error_wb * noise, *STARTING_WB)
    air = (forcing.temperature_c[hour], forcing.dew_point_c[hour])
    value = (reading.moisture_wb, "percent")
    remark = Remark("start_from_moisture", {"value": value, "time": reading.time})
    return replace(
        drawn.start,
        starts={**drawn.start.starts, hour: moisture_state(moisture, moisture, *air)},
        remarks=(remark, *(item for item in drawn.start.remarks if item.key != "start_too_late")),
    )


def _too_few(weights: Weights) -> bool:
    """Whether fresh members could agree better with the readings."""
    return bool(weights.readings) and (weights.effective < FEW_MEMBERS or bool(weights.unexplained))


def follow(
    weather: HourlyWeather,
    where: tuple[float, float, float],
    moisture_wb: float | None,
    windrow: Mapping[str, float],
) -> WindrowTrajectory:
    """The windrow alone, without a farm: from the first hour on, lane 0 of the weather.

    Parameters
    ----------
    weather
        Hours.
    where
        Latitude, longitude [deg] and elevation [m].
    moisture_wb
        Of all of the hay at the start [% wet basis]; None: in equilibrium with the air.
    windrow
        Fields of `WindrowParameters` that differ from the usual.

    Raises
    ------
    InputError
        If a field of the windrow is not known.
    """
    known = [item.name for item in fields(WindrowParameters)]
    wrong = [name for name in windrow if name not in known]
    if wrong:
        raise InputError("door_windrow", value=wrong[0], nearest=nearest(wrong[0], known))
    place, parameters = Place(*where), WindrowParameters(**windrow)  # type: ignore[arg-type]
    weather = with_cloud(weather, place)
    begins = np.zeros((weather.hours, weather.lanes), dtype=bool)
    starts: dict[int, State] = {}
    if moisture_wb is None:
        begins[0] = True
    else:
        air = (weather.columns["air_temperature_c"][0], weather.columns["dew_point_c"][0])
        starts[0] = moisture_state(moisture_wb, moisture_wb, *air)
    return run(weather, place, parameters, starts, begins)
