"""A field's course: calls of every quarter, how likely each is, and what is advised.

The middle forecast is one run; the members say how sure it is. Shown in a quarter
is the likeliest call of the runs; beside it stands the advice, from the chance
that the hay is ready in the way meant: as it lies, or behind the rig with the
rate printed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from hayweather.baling.advice import Advice, Odds, Risk, advise, likeliest, odds_as_it_lies
from hayweather.baling.calls import (
    AS_IT_LIES,
    BALED,
    DANGER,
    Call,
    QuarterCalls,
    call_quarters,
    limits_of,
)
from hayweather.baling.cautions import dangers_of
from hayweather.baling.setting import Setting
from hayweather.baling.water import (
    Dose,
    Landing,
    brought_in,
    dialed_l_t,
    moisture_after,
    picked,
)
from hayweather.baling.windows import (
    Window,
    find_windows,
    stopped_quarters,
    stops_by_way,
)
from hayweather.weather.record import SKY_ASSUMED, Booleans, Floats, HourlyWeather
from hayweather.windrow.readings import Weights, weighted_quantile
from hayweather.windrow.trajectory import (
    FLUX_NAMES,
    QUARTER,
    QUARTERS,
    STATE_NAMES,
    WindrowTrajectory,
)
from hayweather.words import Remark

TIMED_FROM_CHANCE = 0.2  # a window less likely than this is too uncertain to time
RANGE_LEVELS = (0.1, 0.9)


def quarter_chances(quarters: QuarterCalls, weights: Floats) -> Floats:
    """Chance of each call in every quarter, (8, 4 * hours), in the order of `Call`.

    Members without data in a quarter do not count there; where no member, or the
    forecast itself, has none, the chance of "no data" is 1.
    """
    count = len(Call)
    chances = np.stack([(quarters.call == call) @ weights for call in range(count)])
    known = np.where(quarters.call[:, 0] == Call.NO_DATA, 0.0, chances[1:].sum(axis=0))
    shares = np.where(known > 0, chances / np.where(known > 0, known, 1.0), 0.0)
    shares[Call.NO_DATA] = np.where(known > 0, 0.0, 1.0)
    return shares


def mean_chances(chances: Floats) -> dict[Call, float]:
    """Chance of each call over some quarters, their mean; sums to 1.

    Parameters
    ----------
    chances
        Of each call, (8, quarters).
    """
    mean = chances.mean(axis=1)
    return {call: float(mean[call]) for call in Call}


def with_chance(window: Window, start: np.datetime64, good: Booleans, weights: Floats) -> Window:
    """A window with its chances, and the range of its start and end.

    A member has the window where one of its own stretches shares a quarter with
    it; of several, the one that shares most. The ranges are of the members that
    have it, eight in ten; none where the chance is below 0.2.

    Parameters
    ----------
    window
        As shown.
    start
        UTC start of the first quarter.
    good
        Where each lane is ready in this way, (4 * hours, lanes).
    weights
        Of the lanes, sum 1.
    """
    first = int((window.start - start) / QUARTER)
    past = int((window.end - start) / QUARTER)
    begins, ends = np.where(weights > 0, matching_runs(good, first, past), np.nan)
    chance = float(weights[np.isfinite(begins)].sum())
    inside = good[first:past].mean(axis=0)
    window = replace(
        window,
        chance=chance,
        good_throughout=float(weights[inside == 1].sum()),
        half_good=float(weights[inside >= 0.5].sum()),
    )
    if chance < TIMED_FROM_CHANCE:
        return window
    # What is shown may lie at the edge of what the runs do; it is never outside its own range.
    early, late = _range(begins, weights, start)
    first_end, last_end = _range(ends, weights, start)
    return replace(
        window,
        start_range=(min(early, window.start), max(late, window.start)),
        end_range=(min(first_end, window.end), max(last_end, window.end)),
    )


def matching_runs(ready: Booleans, first: int, past: int) -> Floats:
    """The run of True of each lane that shares most with ``first`` to ``past - 1``.

    Parameters
    ----------
    ready
        (quarters, lanes).
    first, past
        Of the quarters to share.

    Returns
    -------
    ndarray
        First and one-past-last quarter of each, (2, lanes); NaN where none shares
        any. Of two that share as much, the earlier.
    """
    beside = np.zeros((ready.shape[1], 1), dtype=np.int8)
    edges = np.diff(np.concatenate([beside, ready.T.astype(np.int8), beside], axis=1), axis=1)
    lanes, begins = np.nonzero(edges > 0)
    ends = np.nonzero(edges < 0)[1]
    shared = np.minimum(ends, past) - np.maximum(begins, first)
    order = np.lexsort((-begins, shared))  # of a lane, the run that shares most comes last
    order = order[shared[order] > 0]
    found = np.full((2, ready.shape[1]), np.nan)
    found[:, lanes[order]] = begins[order], ends[order]
    return found


def _range(
    rows: Floats, weights: Floats, start: np.datetime64
) -> tuple[np.datetime64, np.datetime64]:
    """Eight in ten of the rows, as UTC times on quarter hours, outward."""
    low, high = weighted_quantile(rows, weights, RANGE_LEVELS)
    return start + int(np.floor(low)) * QUARTER, start + int(np.ceil(high)) * QUARTER


@dataclass(frozen=True)
class Course:
    """The hours of one field in full.

    Lane 0 is what is shown: the forecast as it stands, or, where readings were
    taken, the mean of the members that agree with them; the other lanes are the
    members.

    Attributes
    ----------
    weather, trajectory, quarters
        The same hours and lanes; lane 0 of `quarters` is the call shown, and its
        dose the rate printed.
    middle
        Call of lane 0 before chances were looked at, (4 * hours,).
    stopped
        Quarters in which work stops, (4 * hours, lanes).
    chances
        Chance of each call in every quarter, (8, 4 * hours).
    weights
        How much each member counts.
    lies, behind_rig
        Where each lane is ready as it lies, and with the rate printed, stops
        left out, (4 * hours, lanes).
    advice
        `Advice` of every quarter, (4 * hours,).
    way
        The ready call that advice is about, (4 * hours,).
    held
        Quarters after a reading near the bale's ceiling, (4 * hours,).
    anew
        Quarters of a run that began anew after a gap, (4 * hours,).
    skies
        Where nobody told the sky: chances and odds of the rate printed as they are under
        the clearest third of the skies drawn, the middle one and the most overcast.
    by_sky
        Quarters that are held back because not each of them allows it, (4 * hours,).
    behind
        Odds of the rate printed.
    stops
        Quarters in which work stops as the hay lies, and behind the rig, each (4 * hours,).
    risk
        When the hay counts as sure enough.
    limits_said
        Why nothing bolder than to probe first is said here; empty where it may.
    now
        UTC time before which nothing is advised; None: the start.
    dry_from_wb
        Leaf moisture from which hay may be baled dry, by the grower's word [% wet
        basis]; None: never.
    """

    weather: HourlyWeather
    trajectory: WindrowTrajectory
    quarters: QuarterCalls
    middle: NDArray[np.int8]
    stopped: Booleans
    chances: Floats
    weights: Weights
    lies: Booleans
    behind_rig: Booleans
    advice: NDArray[np.int8]
    way: NDArray[np.int8]
    held: Booleans
    anew: Booleans
    skies: tuple[tuple[Floats, Odds], ...]
    by_sky: Booleans
    behind: Odds
    stops: tuple[Booleans, Booleans]
    risk: Risk
    limits_said: tuple[Remark, ...] = ()
    now: np.datetime64 | None = None
    dry_from_wb: float | None = None

    def from_minute(self, now: np.datetime64) -> Course:
        """The same hours with nothing advised, and nothing ready, before `now`."""
        past = np.arange(self.advice.size) < self._quarters_before(now)
        advice = np.where(past & (self.advice > Advice.WAIT), Advice.WAIT, self.advice)
        return replace(
            self,
            advice=advice.astype(np.int8),
            lies=self.lies & ~past[:, None],
            behind_rig=self.behind_rig & ~past[:, None],
            now=now,
        )

    def _quarters_before(self, now: np.datetime64) -> int:
        """How many quarters were over by then."""
        return max(int((now - self.weather.start[0]) // QUARTER), 0)

    def of_hour(self, hour: int) -> slice:
        """The quarters of an hour that are not over."""
        over = 0 if self.now is None else self._quarters_before(self.now)
        past = QUARTERS * (hour + 1)
        return slice(min(max(QUARTERS * hour, over), past - 1), past)

    def between(self, first: int, last: int) -> Course:
        """The hours ``first`` to ``last - 1``."""
        rows = slice(QUARTERS * first, QUARTERS * last)
        return replace(
            self,
            weather=self.weather.between(first, last),
            trajectory=self.trajectory.between(first, last),
            quarters=self.quarters.between(first, last),
            middle=self.middle[rows],
            stopped=self.stopped[rows],
            chances=self.chances[:, rows],
            lies=self.lies[rows],
            behind_rig=self.behind_rig[rows],
            advice=self.advice[rows],
            way=self.way[rows],
            held=self.held[rows],
            anew=self.anew[rows],
            skies=tuple((chances[:, rows], odds.between(rows)) for chances, odds in self.skies),
            by_sky=self.by_sky[rows],
            behind=self.behind.between(rows),
            stops=(self.stops[0][rows], self.stops[1][rows]),
        )

    def at_risk(self, risk: Risk) -> Course:
        """The same hours advised at other limits of risk."""
        advice, way = _advised(self.chances, self.behind, self.stops, risk)
        told = advice
        for chances, behind in self.skies:
            under, its_way = _advised(chances, behind, self.stops, risk)
            other = (its_way == Call.ADD_MOISTURE) != (way == Call.ADD_MOISTURE)
            under = np.where(other, np.minimum(under, Advice.PROBE_FIRST), under)
            advice = np.where(under == Advice.UNKNOWN, advice, np.minimum(advice, under))
        by_sky = advice < told
        capped = self.held | self.anew | bool(self.limits_said)
        advice = np.where(capped, np.minimum(advice, Advice.PROBE_FIRST), advice).astype(np.int8)
        return replace(self, advice=advice, way=way, by_sky=by_sky, risk=risk)

    def windows(self, advice: Advice = Advice.GO) -> list[Window]:
        """The windows shown, in order of time, with their chances.

        Parameters
        ----------
        advice
            Go, or probe first for those that may be.
        """
        start = self.weather.start[0]
        found = find_windows(start, np.where(self.advice == advice, self.way, -1), self.printed)
        weights = self.weights.weights
        if weights.any():
            found = [with_chance(item, start, self.good(item.call), weights) for item in found]
        return found if self.now is None else [item.from_minute(self.now) for item in found]

    def window_of(self, call: Call, start: np.datetime64, end: np.datetime64) -> Window:
        """Any stretch of these hours as a window of one call, with its water and chances.

        Parameters
        ----------
        call
            One that is baled.
        start, end
            UTC, within the hours; what is asked for is said, whatever the advice there.
        """
        begin = self.weather.start[0]
        first, past = self._rows_of(start, end)
        water = None
        if call == Call.ADD_MOISTURE:
            rates = self.rates_between(start, end)
            water = (min(rates), max(rates)) if rates else None
        found = Window(call, begin + first * QUARTER, begin + past * QUARTER, water)
        if self.weights.weights.any():
            found = with_chance(found, begin, self.good(call), self.weights.weights)
        return replace(found, start=start, end=end)

    def _rows_of(self, start: np.datetime64, end: np.datetime64) -> tuple[int, int]:
        """The quarters that a stretch touches, at least one."""
        begin = self.weather.start[0]
        first = max(int((start - begin) / QUARTER), 0)
        return first, min(max(int(np.ceil((end - begin) / QUARTER)), first + 1), self.advice.size)

    def good_between(self, call: Call, start: np.datetime64, end: np.datetime64) -> Booleans:
        """Where each lane is ready in the way of a call, in the quarters that a stretch touches."""
        return self.good(call)[slice(*self._rows_of(start, end))]

    def good(self, call: Call) -> Booleans:
        """Where each lane is ready in the way of a call, (4 * hours, lanes)."""
        return self.behind_rig if call == Call.ADD_MOISTURE else self.lies

    @property
    def printed(self) -> Floats | None:
        """The rate printed in every quarter [L/t], NaN where there is none; None without a rig."""
        return None if self.quarters.dose is None else self.quarters.dose.applied_l_t[:, 0]

    def rates_between(self, start: np.datetime64, end: np.datetime64) -> tuple[float, ...]:
        """The rates printed in the quarters that a stretch touches, in order of time [L/t]."""
        if self.printed is None:
            return ()
        inside = self.printed[slice(*self._rows_of(start, end))]
        return tuple(float(rate) for rate in inside[np.isfinite(inside)])

    def may_bale(self, with_rig: bool) -> Booleans:
        """Quarters that may be baled: go in this way, or, as it lies, dry at a loss of leaf.

        Dry hay may be baled only by the grower's word, above its floor, where nothing
        holds the advice back; and no quarter that is over.
        """
        over = np.zeros(self.advice.size, dtype=bool)
        if self.now is not None:
            over[: self._quarters_before(self.now)] = True
        go = (self.advice == Advice.GO) & ~over
        if with_rig:
            return np.asarray(go & (self.way == Call.ADD_MOISTURE))
        dry = (self.quarters.call[:, 0] == Call.TOO_DRY) & ~self.stopped[:, 0]
        dry &= ~over & (not self.limits_said) & (self.dry_from_wb is not None)
        if self.dry_from_wb is not None:
            dry &= self.quarters.leaf_wb[:, 0] >= self.dry_from_wb
        return np.asarray((go & (self.way != Call.ADD_MOISTURE)) | dry)

    def first_ready(self) -> int | None:
        """First quarter in which baling is advised."""
        ready = self.advice == Advice.GO
        return int(ready.argmax()) if ready.any() else None


def course_of(
    weather: HourlyWeather,
    trajectory: WindrowTrajectory,
    setting: Setting,
    uncured: Booleans,
    weights: Weights,
    risk: Risk,
    limits_said: tuple[Remark, ...] = (),
    held_back: Booleans | None = None,
    no_water: Booleans | None = None,
    landing: Landing | None = None,
    anew: Booleans | None = None,
) -> Course:
    """Call every quarter hour of a run, look at chances, and decide what to show and advise.

    Parameters
    ----------
    weather, trajectory
        The same hours; lane 0 the forecast, the others members.
    setting
        The field.
    uncured
        Quarters that are not cured whatever the stem says, (4 * hours, lanes).
    weights
        How much each member counts.
    risk
        When the hay counts as sure enough.
    limits_said
        Why nothing bolder than to probe first may be said; empty where it may.
    held_back
        Quarters after a reading near the bale's ceiling: nothing bolder there
        either, and no water, (4 * hours,).
    no_water
        Quarters after a reading in the band, while the hay stays there, (4 * hours,).
    landing
        Where the rig's water lands in every lane; None: as the rig says.
    anew
        Quarters of a run that began anew after a gap: nothing bolder there, (4 * hours,).
    """
    quarters = call_quarters(weather, trajectory, setting, uncured, landing)
    held = np.zeros(quarters.call.shape[0], dtype=bool) if held_back is None else held_back
    quarters = _without_water(quarters, held if no_water is None else held | no_water)
    counted = weights.weights
    if not counted.any():  # the forecast alone
        counted = np.zeros(quarters.call.shape[1])
        counted[0] = 1.0
    chances = quarter_chances(quarters, counted)
    middle = quarters.call[:, 0].copy()
    call = quarters.call.copy()
    call[:, 0] = likeliest(chances)
    watered = (call[:, 0] != Call.ADD_MOISTURE) | water_wanted(chances)
    printed = _printed(quarters, call[:, 0], setting)
    printed = None if printed is None else _no_rate(printed, ~watered, slice(0, 1))
    quarters = replace(quarters, call=call, dose=printed)
    dangers = dangers_of(weather)
    stopped = stopped_quarters(quarters, dangers, setting)
    everyone, spraying = stops_by_way(dangers, setting)
    before = replace(quarters, call=np.concatenate([middle[:, None], call[:, 1:]], axis=1))
    behind, too_wet = _behind_rig(before, setting)

    def odds(shares: Floats, chances: Floats) -> Odds:
        known = np.maximum((before.call != Call.NO_DATA) @ shares, 1e-9)
        return Odds(behind @ shares / known, too_wet @ shares / known, chances[Call.NO_DATA] < 1)

    skies = []
    for lanes in _skies(weather, counted):
        shares = np.where(lanes, counted, 0.0) / counted[lanes].sum()
        under = quarter_chances(before, shares)
        skies.append((under, odds(shares, under)))
    found = Course(
        weather=weather,
        trajectory=trajectory,
        quarters=quarters,
        middle=middle,
        stopped=stopped,
        chances=chances,
        weights=weights,
        lies=np.isin(before.call, AS_IT_LIES) & ~everyone,
        behind_rig=behind & ~spraying,
        advice=np.zeros(held.size, dtype=np.int8),
        way=np.zeros(held.size, dtype=np.int8),
        held=held,
        anew=np.zeros_like(held) if anew is None else anew,
        skies=tuple(skies),
        by_sky=np.zeros_like(held),
        behind=odds(counted, chances),
        stops=(everyone[:, 0], spraying[:, 0]),
        risk=risk,
        limits_said=limits_said,
        dry_from_wb=setting.dry_from_wb,
    )
    return found.at_risk(risk)


SKIES = 3


def _skies(weather: HourlyWeather, counted: Floats) -> list[Booleans]:
    """The lanes that count in parts by their sky, where nobody told it; none where it is told.

    Each member has a sky of its own there, from clear to overcast: what is go must be so
    under each part, so that telling the sky would not have forbidden it.
    """
    unknown = (weather.basis[:, 0] & SKY_ASSUMED) > 0
    lanes = np.flatnonzero(counted > 0)
    cloud = weather.get("cloud_fraction")
    if not unknown.any() or cloud is None or lanes.size < SKIES:
        return []
    order = lanes[np.argsort(cloud[unknown][:, lanes].mean(axis=0), kind="stable")]
    return [np.isin(np.arange(counted.size), part) for part in np.array_split(order, SKIES)]


def _without_water(quarters: QuarterCalls, held: Booleans) -> QuarterCalls:
    """The calls with no water added where a reading forbids it."""
    if quarters.dose is None or not held.any():
        return quarters
    call = quarters.call.copy()
    call[held[:, None] & (call == Call.ADD_MOISTURE)] = Call.TOO_DRY
    return replace(quarters, call=call, dose=_no_rate(quarters.dose, held))


def _no_rate(dose: Dose, rows: Booleans, lanes: slice = slice(None)) -> Dose:
    """The doses with no water put on in some quarters of some lanes."""
    applied, after = dose.applied_l_t.copy(), dose.after_wb.copy()
    applied[rows, lanes], after[rows, lanes] = np.nan, np.nan
    return replace(dose, applied_l_t=applied, after_wb=after)


def water_wanted(chances: Floats) -> Booleans:
    """Where at least half of the runs are too dry as the hay lies, (4 * hours,).

    To add moisture may be the likeliest of many calls while most of the runs want no
    water: then none is advised. So a damper reading never brings water back.

    Parameters
    ----------
    chances
        Of each call, (8, 4 * hours).
    """
    known = 1 - chances[Call.NO_DATA]
    wants = chances[[Call.ADD_MOISTURE, Call.TOO_DRY]].sum(axis=0)
    return np.asarray((wants >= known / 2 - 1e-9) & (known > 0))


def _printed(quarters: QuarterCalls, shown: NDArray[np.int8], setting: Setting) -> Dose | None:
    """The doses with the rate printed in lane 0, wherever the call shown is to add moisture.

    Its own where it has one. Where the hay shown is beyond the rig, the most; where it
    wants no water itself but most runs do, the least. So the rate never rises as the
    hay dampens. Each as it can be dialed: what is told is what is done.
    """
    dose, rig = quarters.dose, setting.rig
    if dose is None or rig is None:
        return None
    applied, after, own = dose.applied_l_t.copy(), dose.after_wb.copy(), quarters.call[:, 0]
    asked = (shown == Call.ADD_MOISTURE) & ~np.isfinite(applied[:, 0]) & (own != Call.NO_DATA)
    applied[asked, 0] = np.where(own == Call.TOO_DRY, rig.rate_max_l_t, rig.rate_min_l_t)[asked]
    rows = np.flatnonzero(np.isfinite(applied[:, 0]))
    if rows.size:
        lane = np.zeros_like(rows)
        hay, windrow = picked(quarters.hay, (rows, lane)), quarters.windrow_wb[rows, 0]
        stays, limits = dose.efficiency[rows, 0], limits_of(setting)

        def keeps(rates: Floats) -> Booleans:
            return brought_in(hay, windrow, rates * stays, dose.landing.at(lane), limits)

        steps = dialed_l_t(applied[rows, 0], rig, keeps)
        applied[rows, 0] = np.where(np.isfinite(steps), steps, applied[rows, 0])
        after[rows, 0] = moisture_after(windrow, applied[rows, 0] * stays)
    return replace(dose, applied_l_t=applied, after_wb=after)


def _behind_rig(quarters: QuarterCalls, setting: Setting) -> tuple[Booleans, Booleans]:
    """Lanes that the rate printed brings into limits, and lanes too wet or not cured behind it."""
    shape, dose, rig = quarters.call.shape, quarters.dose, setting.rig
    good, wet = np.zeros(shape, dtype=bool), np.isin(quarters.call, DANGER)
    if dose is None or rig is None:
        return good, wet
    known = np.isfinite(dose.applied_l_t[:, :1]) & ~np.isnan(quarters.windrow_wb)
    # Hay that is too wet before it stays so; what lies in its limits may pass them.
    asked = np.nonzero(known & ~wet & (quarters.call != Call.NO_DATA))
    if asked[0].size:
        kept = dose.applied_l_t[asked[0], 0] * dose.efficiency[asked]
        moisture, hay = quarters.windrow_wb[asked], picked(quarters.hay, asked)
        limits, landing = limits_of(setting), dose.landing.at(asked[1])
        good[asked] = brought_in(hay, moisture, kept, landing, limits)
        # Dry leaf behind the rig is a loss; only what passes the upper limits is a danger.
        above = replace(limits, low_wb=0.0, leaf_minimum_wb=None)
        wet[asked] = ~brought_in(hay, moisture, kept, landing, above)
    return good & (quarters.call != Call.DAMP_BELOW), wet


def _advised(
    chances: Floats, behind: Odds, stopped: tuple[Booleans, Booleans], risk: Risk
) -> tuple[NDArray[np.int8], NDArray[np.int8]]:
    """Advice of every quarter, and the ready call that it is about.

    The way is the call shown where that can be baled, water only where it is wanted;
    elsewhere it is the likelier way, and the most that is said is to probe first.
    """
    shown, lies = likeliest(chances), odds_as_it_lies(chances)
    baled = np.isin(shown, BALED) & ((shown != Call.ADD_MOISTURE) | water_wanted(chances))
    as_it_lies = np.where(
        chances[Call.READY] > chances[Call.NATURAL_DEW], Call.READY, Call.NATURAL_DEW
    )
    with_rig = np.where(baled, shown == Call.ADD_MOISTURE, behind.ready > lies.ready)
    way = np.where(with_rig, Call.ADD_MOISTURE, as_it_lies)
    way = np.where(baled, shown, way).astype(np.int8)
    options = [
        advise(odds, risk, stops) for odds, stops in zip((lies, behind), stopped, strict=True)
    ]
    advice = np.where(with_rig, options[1], options[0])
    capped = np.where(baled, advice, np.minimum(advice, Advice.PROBE_FIRST))
    # Damp from below is turned, or waits: a probe does not make it ready.
    waits = (shown == Call.DAMP_BELOW) & (capped > Advice.WAIT)
    return np.where(waits, Advice.WAIT, capped).astype(np.int8), way


_LEDGER = tuple(name for name in FLUX_NAMES if name.endswith("_mm"))


def shown_as_mean(trajectory: WindrowTrajectory, weights: Weights) -> WindrowTrajectory:
    """The run with lane 0 replaced by the weighted mean of the members."""
    counted = weights.weights > 0
    if not counted.any():
        return trajectory
    shares = weights.weights[counted]

    def mean(values: Floats) -> Floats:
        """Over the members that are known: of a swath not all become a windrow in one hour."""
        known = ~np.isnan(values)
        whole = known @ shares
        total = np.where(known, values, 0.0) @ shares
        return np.where(whole > 0, total / np.where(whole > 0, whole, 1.0), np.nan)

    states: dict[str, Any] = {}
    for name in (*STATE_NAMES, *_LEDGER):
        values: Floats = getattr(trajectory, name).copy()
        values[:, 0] = mean(values[:, counted])
        states[name] = values
    layers = trajectory.every_layer
    inside: dict[str, Any] = {}
    for name in ("leaf_db", "stem_db", "film_db", "temperature_c"):
        single = getattr(layers, name).copy()
        single[..., 0] = mean(single[..., counted])
        inside[name] = single
    states["layers"] = replace(layers, **inside)
    return replace(trajectory, **states)
