"""What dew and a rig are worth beside what they cost: owning, running, waiting, break-even."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np

from hayweather.baling.value import RAIN_MM, HayPrice, hay_price_of, loss_scale, worth_per_kg
from hayweather.catalog.prices import PRICES
from hayweather.farm.records import Money
from hayweather.seasons.record.nights import Nights
from hayweather.seasons.record.results import (
    Costs,
    Pays,
    PaysYear,
    RigVerdict,
    SiteSeasons,
    Sway,
    Threshold,
    Waiting,
    YearMoney,
)
from hayweather.seasons.record.sites import Sites
from hayweather.seasons.tally import (
    Followed,
    Waited,
    follow,
    fuel_of,
    kept_nights,
    usable,
    wait,
    with_rain_known,
)


def capital_recovery(price: float, salvage: float, interest: float, years: float) -> float:
    """Yearly cost of owning a machine: capital recovery of price less salvage, interest on salvage.

    ``(P - S) i (1+i)^n / ((1+i)^n - 1) + S i`` (published); interest as a
    fraction a year, 0 for plain shares.

    Parameters
    ----------
    price, salvage
        In any currency.
    interest
        Fraction a year, 0 or more.
    years
        Of use, above 0.

    Examples
    --------
    >>> round(capital_recovery(50_000, 5_000, 0.10, 5))
    12371
    >>> round(capital_recovery(130_000, 34_500, 0.08, 15))
    13917
    """
    if interest == 0:
        return (price - salvage) / years
    growth = (1 + interest) ** years
    return (price - salvage) * interest * growth / (growth - 1) + salvage * interest


def break_even(fixed: float, gain: float, variable: float) -> float:
    """How much pays for the fixed cost; infinite where the gain does not pass the variable cost.

    Parameters
    ----------
    fixed
        Cost a year, in any currency.
    gain, variable
        By the same amount of hay, or by the hour.

    Examples
    --------
    >>> round(break_even(1000.0, 21.0, 4.0), 1)
    58.8
    """
    return fixed / (gain - variable) if gain > variable else float("inf")


# Attribute of `Costs`, and of `Money`.
_MONEY = {
    "price": "rig_price",
    "salvage": "rig_salvage",
    "years": "rig_years",
    "interest_percent": "interest_percent",
    "taxes_percent": "taxes_and_insurance_percent",
    "repairs_percent": "repairs_percent",
    "fuel_price_l": "fuel_price_per_l",
    "water_price_l": "water_price_per_l",
    "wage_h": "wage_per_h",
    "rig_cost_h": "rig_cost_per_h",
}
# How far each input is moved, alone, besides the gain: factors on it, assumed.
SWAYS = {
    "lost_leaf_t": (0.5, 2.0),
    "hay_t": (0.75, 1.25),
    "price": (0.75, 1.25),
    "wage_h": (0.75, 1.5),
    "fuel_price_l": (0.5, 2.0),
    "water_price_l": (0.5, 2.0),
    "rig_cost_h": (0.5, 1.5),
}


def fixed_cost(costs: Costs) -> float:
    """What the rig costs a year whether it runs or not, repairs included.

    Taxes, insurance and repairs are percents of its price.
    """
    owning = capital_recovery(costs.price, costs.salvage, costs.interest_percent / 100, costs.years)
    return owning + costs.price * (costs.taxes_percent + costs.repairs_percent) / 100


def costs_of(money: Money) -> Costs:
    """The figures of a sites file, the rest assumed and named."""
    given = {name: getattr(money, attribute) for name, attribute in _MONEY.items()}
    values = {
        name: PRICES[_MONEY[name]].value if value is None else value
        for name, value in given.items()
    }
    missing = tuple(name for name, value in given.items() if value is None)
    waits = money.wait_cost_per_kg_day
    wait_t_day = 1000 * (PRICES["wait_cost_per_kg_day"].value if waits is None else waits)
    if waits is None:
        missing = (*missing, "wait_t_day")
    rain = money.rain_loss_percent
    if money.price_per_kg is not None and rain is None:
        rain, missing = PRICES["rain_loss_percent"].value, (*missing, "rain_loss_percent")
    hay, by_leaf = hay_price_of(money, money.price_per_kg or 0.0), money.price_by == "leaf"
    if by_leaf and money.lost_leaf_cost_per_kg is None:
        missing = (*missing, "lost_leaf_t")
    return Costs(
        **values,
        lost_leaf_t=1000 * hay.lost_leaf if by_leaf else None,
        hay_t=None if by_leaf else 1000 * hay.price,
        assumed=missing,
        wait_t_day=wait_t_day,
        rain_loss_percent=rain if money.price_per_kg is not None else None,
    )


def pays_of(site: SiteSeasons, file: Sites, costs: Costs) -> Pays | None:
    """Whether a rig pays at a site; None where losses of the crop are not known.

    Only hay counts that dew would not have served within the nights it may
    wait and before rain.
    """
    nights = with_rain_known(kept_nights(site.nights, site.years), real=not site.typical)
    followed = followed_dry(nights, file, file.capacity_kg_h, typical=site.typical)
    worked = nights.only(nights.counted & (nights.rig_kg > 0) & np.isfinite(nights.dry_loss))
    if worked.count == 0 or followed.year.size == 0:
        return None
    year_kg = file.work.year_kg
    left, good = 1 - followed.dry_dew, followed.dry_rig - followed.dry_dew
    good_kg = year_kg * float(good.mean())
    budget = _Budget(worked, file)
    fixed = fixed_cost(costs)
    gain, variable = budget.gain_t(costs), budget.variable_t(costs)
    even = budget.even_kg(costs)
    years = _years(followed, good, year_kg, lambda kg: budget.net(costs, kg), typical=site.typical)
    return Pays(
        site=site.site.name,
        dry_share=float(left.mean()),
        good_share=float(good.mean()),
        good_kg=good_kg,
        gain_t=gain,
        variable_t=variable,
        fixed=fixed,
        net=budget.net(costs, good_kg),
        break_even_kg=even,
        break_even_h=even / 1000 * budget.hours_t,
        years=years,
        sways=_sways(budget, costs, good_kg, years),
        verdict=verdict_of(site, file, costs, nights, followed, years, budget),
        waiting=waiting_of(nights, file, costs, budget, typical=site.typical),
    )


def followed_dry(nights: Nights, file: Sites, capacity_kg_h: float, *, typical: bool) -> Followed:
    """The cuttings followed, those whose rain is known where any is."""
    return follow(nights, file.work, capacity_kg_h, real=not typical).where_rain_is_known()


MOST_BALERS = 6
_SAME = 1e-9


def verdict_of(
    site: SiteSeasons,
    file: Sites,
    costs: Costs,
    nights: Nights,
    followed: Followed,
    years: tuple[PaysYear, ...],
    budget: _Budget,
) -> RigVerdict:
    """From where on a rig pays, over the years and over the losses of leaf that are published.

    Parameters
    ----------
    nights, followed, years, budget
        Of a site: those kept, their cuttings, the money of each year.
    site, file, costs
        As in `pays_of`.
    """
    typical, season = site.typical, site.season
    dew_kg, rig_kg = (
        (math.nan, math.nan)
        if season is None
        else (season.dew_kg.range.value, season.rig_kg.range.value)
    )
    year_kg, fixed, variable = file.work.year_kg, fixed_cost(costs), budget.variable_t(costs)
    dry = _dry_nights(nights, file.baler.useful_hours, typical=typical)
    goods = [(year.good_kg, dry.get(year.year, math.nan)) for year in years]
    usual = (
        year_kg * float((followed.dry_rig - followed.dry_dew).mean()),
        float(np.mean(list(dry.values()))),
    )
    least, most = budget.gain_range

    def threshold(at: Callable[[float, float, float], float]) -> Threshold:
        """`at` takes hay made good, nights without dew, and a factor on the loss of leaf."""
        each = [at(*good, 1.0) for good in (*goods, usual)]
        ends = (at(*usual, most), at(*usual, least))
        return Threshold(
            at(*usual, 1.0),
            (min(each), max(each)) if len(goods) > 1 else None,
            (min(ends), max(ends)),
        )

    def area(good_kg: float, _: float, loss: float) -> float:
        even = budget.even_kg(costs, loss)
        return math.inf if good_kg <= 0 else even / good_kg * year_kg / file.work.yield_kg_m2

    now = _price_now(budget, costs)

    def price(good_kg: float, _: float, loss: float) -> float:
        gain = budget.gain_t(costs, loss)
        if good_kg <= 0 or gain <= 0:
            return math.inf
        return now * (1000 * fixed / good_kg + variable) / gain

    def without(good_kg: float, dry_nights: float, loss: float) -> float:
        even = budget.even_kg(costs, loss)
        return math.inf if good_kg <= 0 else even / good_kg * dry_nights

    balers = _balers_on_dew(nights, file, followed, typical=typical)

    def other(good_kg: float, _: float, __: float) -> float:
        return (fixed + variable * good_kg / 1000) / ((balers or 2) - 1)

    nets = [budget.net(costs, good_kg, loss) for good_kg, _ in goods for loss in (least, 1.0, most)]
    return RigVerdict(
        area_m2=threshold(area),
        price_t=threshold(price),
        price_now_t=now,
        dry_nights=threshold(without) if usual[1] > 0 else None,
        most_dew_m2=dew_kg / file.work.yield_kg_m2,
        most_rig_m2=(dew_kg + rig_kg) / file.work.yield_kg_m2,
        season_area_m2=year_kg / file.work.yield_kg_m2,
        dry_nights_now=usual[1],
        nights=nights.count / max(len(dry), 1),
        done_dew=float(followed.dry_dew.mean()),
        done_rig=float(followed.dry_rig.mean()),
        balers=balers,
        other_baler=None if balers is None or balers < 2 else threshold(other),
        says="pays" if min(nets) > 0 else "not" if max(nets) <= 0 else "open",
    )


WAIT_ENDS = (0.0, 2.0)
"""Factors on what a day of waiting costs: shade and bleaching have no figure (assumed)."""


def waiting_of(
    nights: Nights, file: Sites, costs: Costs, budget: _Budget, *, typical: bool
) -> Waiting | None:
    """The rig beside waiting for dew as long as a cutting may, then baling the rest dry.

    None where no cutting could be followed.

    Parameters
    ----------
    nights, budget
        Of a site: those from which seasons are counted, its partial budget.
    file, costs
        As in `pays_of`.
    """
    runs = wait(nights, file.work, file.capacity_kg_h, real=not typical)
    if runs.rain_known.any():
        runs = runs.only(runs.rain_known)
    if runs.year.size == 0:
        return None
    whole, years = _Means.of(runs), np.unique(runs.year)
    parts = [_Means.of(runs.only(runs.year == year)) for year in years] if years.size > 1 else []
    parts = [] if typical else parts
    rain_known = bool(runs.rain_known.any())
    fixed, year_t = fixed_cost(costs), file.work.year_kg / 1000
    least, most = budget.gain_range
    rain_t = (costs.rain_loss_percent or 0.0) / 100 * budget.whole_t(costs) / RAIN_MM

    def leaf(some: _Means, loss: float = 1.0) -> float:
        return year_t * some.more * budget.gain_t(costs, loss)

    def time(some: _Means) -> float:
        return year_t * some.days * costs.wait_t_day

    def rain(some: _Means) -> float:
        return year_t * some.rain_mm * rain_t

    def running(some: _Means) -> float:
        return -year_t * some.by_rig * budget.variable_t(costs)

    def left(some: _Means, loss: float = 1.0, wait: float = 1.0) -> float:
        """What is left of a year before the rig's fixed cost."""
        return leaf(some, loss) + wait * time(some) + rain(some) + running(some)

    def part(of: Callable[[_Means], float]) -> YearMoney:
        each = [of(some) for some in parts]
        return YearMoney(of(whole), (min(each), max(each)) if each else None)

    def area(some: _Means, loss: float = 1.0) -> float:
        season_m2 = file.work.year_kg / file.work.yield_kg_m2
        return season_m2 * break_even(fixed, left(some, loss), 0.0)

    nets = [
        left(some, loss, factor) - fixed
        for some in parts or [whole]
        for loss in (least, 1.0, most)
        for factor in (1.0, *WAIT_ENDS)
    ]
    ends, areas = (area(whole, most), area(whole, least)), [area(some) for some in (*parts, whole)]
    return Waiting(
        in_dew=tuple(runs.done_dew.mean(axis=0).tolist()),
        in_rig=tuple(runs.done_rig.mean(axis=0).tolist()),
        days_dew=float(runs.days_dew.mean()),
        days_rig=float(runs.days_rig.mean()),
        by_rig=whole.by_rig,
        rain_dew=float(runs.rain_dew.mean()) if rain_known else None,
        rain_rig=float(runs.rain_rig.mean()) if rain_known else None,
        leaf=part(leaf),
        time=part(time),
        rain=part(rain) if rain_known and costs.rain_loss_percent is not None else None,
        running=part(running),
        net=part(lambda some: left(some) - fixed),
        net_wait=(left(whole, 1.0, WAIT_ENDS[0]) - fixed, left(whole, 1.0, WAIT_ENDS[1]) - fixed),
        net_loss=(left(whole, least) - fixed, left(whole, most) - fixed),
        area_m2=Threshold(
            area(whole), (min(areas), max(areas)) if parts else None, (min(ends), max(ends))
        ),
        says="pays" if min(nets) > 0 else "not" if max(nets) <= 0 else "open",
    )


class _Means(NamedTuple):
    """Means of cuttings that wait: what the rig brings in beyond dew, and what it does [-].

    Days that a ton lies less [d], and rain that falls on less of it [mm].
    """

    more: float
    days: float
    rain_mm: float
    by_rig: float

    @classmethod
    def of(cls, some: Waited) -> _Means:
        """Of some cuttings."""
        return cls(
            float((some.done_rig - some.done_dew)[:, -1].mean()),
            float((some.days_dew - some.days_rig).mean()),
            float((some.rain_dew - some.rain_rig).mean()),
            float(some.by_rig.mean()),
        )


def _dry_nights(nights: Nights, useful_hours: float, *, typical: bool) -> dict[int | None, float]:
    """Nights without usable dew of each year, gaps scaled by the nights that count."""
    found: dict[int | None, float] = {}
    for year in [None] if typical else np.unique(nights.year).tolist():
        own = nights if year is None else nights.only(nights.year == year)
        counted = int(own.counted.sum())
        if counted:
            dry = counted - int(usable(own, useful_hours).sum())
            found[year] = dry * own.count / max(int(own.known.sum()), 1)
    return found


def _price_now(budget: _Budget, costs: Costs) -> float:
    """What the gain hangs on, per tonne: the user's own gain, hay, or leaf."""
    if budget.own_gain_t is not None:
        return budget.own_gain_t
    return (costs.lost_leaf_t or 0.0) if costs.hay_t is None else costs.hay_t


def _balers_on_dew(nights: Nights, file: Sites, with_rig: Followed, *, typical: bool) -> int | None:
    """Balers that bale as much in time on dew alone as one does with the rig."""
    asked = float(with_rig.dry_rig.mean())
    for count in range(1, MOST_BALERS + 1):
        many = followed_dry(nights, file, count * file.capacity_kg_h, typical=typical)
        if float(many.dry_dew.mean()) >= asked - _SAME:
            return count
    return None


class _Budget:
    """The partial budget of a rig per tonne, from the nights on which it works."""

    def __init__(self, nights: Nights, file: Sites) -> None:
        tonnes = nights.rig_kg / 1000
        total = float(tonnes.sum())
        self._share = tonnes / total
        self._losses = (nights.rig_loss, nights.dry_loss)
        self._field = file.windrow
        self._hay = hay_price_of(file.money, file.money.price_per_kg or 0.0)
        self._gains: dict[tuple[HayPrice, float], float] = {}
        self.hours_t = float(nights.rig_h.sum() / total)
        self.water_l_t = float(nights.water_l.sum() / total)
        fuel = fuel_of(nights, file.rig)
        self.fuel_l_t = fuel / total if math.isfinite(fuel) else 0.0
        crop = file.windrow.crop
        usual = loss_scale(file.baler, crop)
        # The spread of baler losses around the one in use, published or measured.
        self.gain_range = (
            (
                loss_scale(file.baler, crop, "least") / usual,
                loss_scale(file.baler, crop, "most") / usual,
            )
            if usual
            else (1.0, 1.0)
        )
        own = file.work.gain_per_kg
        self.own_gain_t = None if own is None else 1000 * own

    def gain_t(self, costs: Costs, loss_factor: float = 1.0) -> float:
        """What added moisture brings per tonne: as the user's trial said, or the leaf it saves.

        `loss_factor` is on the loss of leaf, and on the user's own gain with it.
        """
        if self.own_gain_t is not None:
            return self.own_gain_t * loss_factor
        hay = _priced(self._hay, costs)
        if (hay, loss_factor) not in self._gains:  # the same few are asked for year after year
            wet, dry = (worth_per_kg(loss_factor * loss, self._field, hay) for loss in self._losses)
            self._gains[hay, loss_factor] = 1000 * float((self._share * (wet - dry)).sum())
        return self._gains[hay, loss_factor]

    def whole_t(self, costs: Costs) -> float:
        """What a tonne of hay brings that lost nothing."""
        return 1000 * float(worth_per_kg(0.0, self._field, _priced(self._hay, costs)))

    def variable_t(self, costs: Costs) -> float:
        """Water, fuel, wages and running of the rig, per tonne."""
        hourly = self.hours_t * (costs.wage_h + costs.rig_cost_h)
        return self.water_l_t * costs.water_price_l + self.fuel_l_t * costs.fuel_price_l + hourly

    def net(self, costs: Costs, kg: float, loss_factor: float = 1.0) -> float:
        """Money left of a year in which `kg` were made good."""
        gain = self.gain_t(costs, loss_factor)
        return kg / 1000 * (gain - self.variable_t(costs)) - fixed_cost(costs)

    def even_kg(self, costs: Costs, loss_factor: float = 1.0) -> float:
        """Hay made good in a year at which nothing is left and nothing lost."""
        gain = self.gain_t(costs, loss_factor)
        return 1000 * break_even(fixed_cost(costs), gain, self.variable_t(costs))


def _priced(hay: HayPrice, costs: Costs) -> HayPrice:
    """What hay is paid by, at the prices of `costs`."""
    if costs.hay_t is None:
        return replace(hay, lost_leaf=(costs.lost_leaf_t or 0.0) / 1000)
    factor = costs.hay_t / 1000 / hay.price if hay.price else 1.0
    return hay.times(factor)


def _years(
    followed: Followed,
    good: np.ndarray,
    year_kg: float,
    net: Callable[[float], float],
    *,
    typical: bool,
) -> tuple[PaysYear, ...]:
    """Year by year; a typical year is one without a name."""
    if typical:
        kg = year_kg * float(good.mean())
        return (PaysYear(None, kg, net(kg)),)
    found = []
    for year in np.unique(followed.year).tolist():
        kg = year_kg * float(good[followed.year == year].mean())
        found.append(PaysYear(year, kg, net(kg)))
    return tuple(found)


def _sways(
    budget: _Budget, costs: Costs, good_kg: float, years: tuple[PaysYear, ...]
) -> tuple[Sway, ...]:
    """How the net moves with each input alone, the largest move first."""
    there = [name for name in SWAYS if getattr(costs, name) is not None]
    found = [_sway(budget, costs, good_kg, name) for name in ("gain", *there)]
    if len(years) > 1:
        least, most = (pick(years, key=lambda y: y.good_kg) for pick in (min, max))
        even = budget.even_kg(costs)
        ends = (least.good_kg, most.good_kg, least.net, most.net)
        found.append(Sway("weather", *ends, even, even))
    return tuple(sorted(found, key=lambda sway: -abs(sway.net_high - sway.net_low)))


def _sway(budget: _Budget, costs: Costs, good_kg: float, name: str) -> Sway:
    """How the money moves with one input."""
    low, high = budget.gain_range if name == "gain" else SWAYS[name]
    if name == "gain":
        cases = [(costs, low), (costs, high)]
        values = [budget.gain_t(costs, factor) for factor in (low, high)]
    else:
        values = [getattr(costs, name) * factor for factor in (low, high)]
        changes: list[dict[str, Any]] = [{name: value} for value in values]
        cases = [(replace(costs, **change), 1.0) for change in changes]
    nets = [budget.net(changed, good_kg, factor) for changed, factor in cases]
    evens = [budget.even_kg(changed, factor) for changed, factor in cases]
    return Sway(name, *values, *nets, *evens)
