"""What the seasons of some sites came to: counts, comparison, inputs, money."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from hayweather.errors import HayweatherError
from hayweather.farm.records import Site
from hayweather.seasons.record.nights import Nights
from hayweather.seasons.record.sites import Sites
from hayweather.weather.record import Assumption

NAN = float("nan")


@dataclass(frozen=True)
class Spread:
    """How a number of each night spreads over nights; all NaN over none.

    Attributes
    ----------
    median, p25, p75
        Median and quartiles.
    p20
        What four nights in five reach or pass.
    p80
        What one night in five reaches or passes.
    mean
        Arithmetic mean.
    """

    median: float = NAN
    p20: float = NAN
    p25: float = NAN
    p75: float = NAN
    p80: float = NAN
    mean: float = NAN


@dataclass(frozen=True)
class Tally:
    """Nights of some time counted.

    Attributes
    ----------
    nights
        Evenings asked for.
    missing, rain_nights
        Nights that cannot be told; known nights after more than 1 mm of rain in
        48 hours, counted apart; None where rain is not known.
    counted
        The others: all that follows is over these.
    without_spin_up
        Of these, nights whose run began only the afternoon before.
    with_dew
        Nights with usable dew.
    dew_h, rig_h, wet_h, dry_h
        Hours on dew, with the rig, too wet, too dry beyond the rig.
    longest_without
        Longest run of nights without usable dew; in a typical year runs end
        with each month.
    first_h, last_h
        Median first and last moment on dew, of nights with usable dew [h after
        14:00].
    water_l_t
        Median over nights of the mean water to add [L/t].
    dew_kg, rig_kg
        Hay that the baler does on dew, and behind the rig besides.
    water_l, fuel_l
        Water of the rig, and fuel of its burners, NaN where that is not known.
    """

    nights: int
    missing: int
    rain_nights: int | None
    counted: int
    without_spin_up: int
    with_dew: int
    dew_h: Spread
    rig_h: Spread
    wet_h: Spread
    dry_h: Spread
    longest_without: int
    first_h: float
    last_h: float
    water_l_t: float
    dew_kg: float
    rig_kg: float
    water_l: float
    fuel_l: float


@dataclass(frozen=True)
class MissingNight:
    """A night that cannot be told, and why (`Missing` as integer).

    Attributes
    ----------
    evening
        Local date.
    causes
        `Missing` flags together.
    """

    evening: date
    causes: int


@dataclass(frozen=True)
class Year:
    """One year of a site; `year` is None for a typical year.

    Attributes
    ----------
    whole, months
        All months asked for together, and each, ``{month: Tally}``.
    share_missing
        Share of nights that cannot be told [-].
    left_out
        True under 80 % cover: shown, not averaged in.
    gaps
        Nights that cannot be told, by name.
    year
        Of the calendar, None for a typical year.
    """

    year: int | None
    whole: Tally
    months: dict[int, Tally]
    share_missing: float
    left_out: bool
    gaps: tuple[MissingNight, ...]


@dataclass(frozen=True)
class Range:
    """An estimate with the range that holds the mean of many such years nine times in ten.

    `low` and `high` are None where there is too little to tell a range.

    Attributes
    ----------
    value
        Best estimate.
    low, high
        Ends of the range, None where it cannot be told.
    """

    value: float
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class Doubt:
    """How far the model's assumed numbers move an estimate, apart from how years differ.

    Attributes
    ----------
    low, high
        What is added to the estimate at the ends that nine in ten draws of the
        assumed numbers stay within; None where nothing was drawn.
    """

    low: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class Estimate:
    """A mean of the years: its range over years, and apart from it the model's own doubt.

    Attributes
    ----------
    range, doubt
        By how years differ, and by the model's assumed numbers.
    lowest, highest
        The lowest and the highest single year; not the ends of `range`.
    """

    range: Range
    doubt: Doubt = Doubt()
    lowest: float = NAN
    highest: float = NAN


@dataclass(frozen=True)
class MeanSeason:
    """A season of a site as it comes on average, each with its ranges.

    Attributes
    ----------
    dew_nights_percent
        Nights with usable dew in a hundred that count.
    dew_hours, rig_hours, wet_hours
        A counted night.
    dew_kg, rig_kg, both_kg
        Hay that one baler does in a season on dew, behind the rig besides, together.
    water_l, fuel_l
        Water of the rig, and fuel of its burners, NaN where that is not known.
    scaled
        ``{year: factor}`` of the years in which nights are missing: amounts are
        scaled up month by month by as much.
    draws, drawn_nights
        How many times, and on how many nights, the assumed numbers were drawn.
    """

    dew_nights_percent: Estimate
    dew_hours: Estimate
    rig_hours: Estimate
    wet_hours: Estimate
    dew_kg: Estimate
    rig_kg: Estimate
    both_kg: Estimate
    water_l: float
    fuel_l: float
    scaled: dict[int, float]
    draws: int = 0
    drawn_nights: int = 0


@dataclass(frozen=True)
class Finish:
    """Chance to bale the cutting, from runs of real nights, on dew alone and with the rig.

    Attributes
    ----------
    nights
        Nights within which it should be done.
    starts
        Evenings from which so many known nights follow each other.
    within_dew, within_rig
        Share of them done within these nights; rain nights are idle.
    dry_dew, dry_rig
        Share done within these nights and before rain; None where rain is not known.
    dry_starts
        Evenings of these, from which the rain of all nights is known.
    """

    nights: int
    starts: int
    within_dew: float
    within_rig: float
    dry_dew: float | None
    dry_rig: float | None
    dry_starts: int = 0


@dataclass(frozen=True)
class Trend:
    """Change per ten years, with its range, over some years."""

    first: int
    last: int
    years: int
    dew_nights_percent: Range
    dew_hours: Range


@dataclass(frozen=True)
class SiteSeasons:
    """All nights of a site.

    Attributes
    ----------
    typical
        True for a typical year: it is no year, and its months do not follow
        each other.
    rain_known
        True where rain is known in every year that is averaged in.
    rain_years
        Those in which it is.
    season
        A mean season with its ranges; None where no night counts.
    years
        In order of time.
    pooled, months
        Over the years that are not left out, together and by month.
    finish, trend
        None where they cannot be told.
    nights
        Every night, for pictures.
    sources, attributions, assumed
        Of the weather.
    site
        The place.
    """

    site: Site
    typical: bool
    rain_known: bool
    years: tuple[Year, ...]
    pooled: Tally
    months: dict[int, Tally]
    finish: Finish | None
    trend: Trend | None
    nights: Nights
    sources: tuple[str, ...]
    attributions: tuple[str, ...]
    assumed: tuple[Assumption, ...]
    rain_years: tuple[int, ...] = ()
    season: MeanSeason | None = None


@dataclass(frozen=True)
class Pair:
    """Two sites on the same nights of the same years: first less second, a night.

    `nights` and `years` are those that both have; all None where there are none.

    Attributes
    ----------
    first, second
        Names of the sites.
    nights, years
        Those that both have.
    dew_hours, rig_hours, wet_hours
        Hours a night, first less second; None where no night is shared.
    dew_nights_percent
        Nights with usable dew, first less second [points].
    """

    first: str
    second: str
    nights: int
    years: tuple[int, ...]
    dew_hours: Range | None
    rig_hours: Range | None
    wet_hours: Range | None
    dew_nights_percent: Range | None


@dataclass(frozen=True)
class InputEffect:
    """What one input, changed alone, does to a site: new less old, a night.

    `change` is ``(number, quantity)``; `key` names the text
    ``seasons_input_<key>``.

    Attributes
    ----------
    site, key
        Name of the site, and of the input.
    change
        How much it was changed, and the quantity that this is.
    dew_hours, rig_hours, wet_hours
        Hours a night, new less old.
    dew_nights_percent
        Nights with usable dew, new less old [points].
    nights
        On which it was tried.
    """

    site: str
    key: str
    change: tuple[float, str]
    dew_hours: float
    rig_hours: float
    wet_hours: float
    dew_nights_percent: float
    nights: int = 0


@dataclass(frozen=True)
class Costs:
    """What the money rests on, each figure given or assumed; a year, or per ton.

    Attributes
    ----------
    price, salvage, years, interest_percent, taxes_percent, repairs_percent
        Of the rig.
    fuel_price_l, water_price_l, wage_h, rig_cost_h
        Prices.
    lost_leaf_t
        What a tonne of leaf lost costs; None where hay is paid by feed value or class.
    hay_t
        Price of a tonne of hay, where it is.
    wait_t_day
        Of a tonne that lies a day more.
    rain_loss_percent
        Of its price, that hay loses to 25 mm of rain; None where no price of hay is given.
    assumed
        Names of those that were not given.
    """

    price: float
    salvage: float
    years: float
    interest_percent: float
    taxes_percent: float
    repairs_percent: float
    fuel_price_l: float
    water_price_l: float
    wage_h: float
    rig_cost_h: float
    lost_leaf_t: float | None
    hay_t: float | None
    assumed: tuple[str, ...]
    wait_t_day: float = 0.0
    rain_loss_percent: float | None = None


@dataclass(frozen=True)
class PaysYear:
    """One year's money at a site; `good_kg` is what the rig alone made good."""

    year: int | None
    good_kg: float
    net: float


@dataclass(frozen=True)
class Sway:
    """How the money of an average year moves when one input does; `key` names it.

    `low` and `high` are its values, `net_low` and `net_high` the money left,
    `even_low_kg` and `even_high_kg` the hay a year at which it would pay,
    infinite where no amount does.
    """

    key: str
    low: float
    high: float
    net_low: float
    net_high: float
    even_low_kg: float
    even_high_kg: float


@dataclass(frozen=True)
class Threshold:
    """A value above which a rig pays, and how it moves; infinite where none is enough.

    Attributes
    ----------
    value
        Of the mean year and the usual loss of leaf.
    years
        With the rig used as in the year of most and of least hay made good; None
        for one year.
    loss
        With the most and with the least loss of leaf that is published, or that
        the farm measured.
    """

    value: float
    years: tuple[float, float] | None
    loss: tuple[float, float]


RigSays = Literal["pays", "not", "open"]


@dataclass(frozen=True)
class YearMoney:
    """Money of a year: of the mean of all runs, and in the year of least and of most.

    Attributes
    ----------
    value
        On average.
    years
        Of the years; None for one.
    """

    value: float
    years: tuple[float, float] | None = None


@dataclass(frozen=True)
class Waiting:
    """The rig beside waiting for dew as long as a cutting may, then baling the rest dry.

    Money of a year in the file's currency. What the rig alone is paid for is the
    sum of `leaf`, `time` and `rain`; `running` and the fixed cost go off.

    Attributes
    ----------
    in_dew, in_rig
        Share of a cutting in after each night, on dew and with the rig [-].
    days_dew, days_rig
        Days that a ton lies on average from the first night, to the last at most.
    by_rig
        Share of the cutting that the rig does [-].
    rain_dew, rain_rig
        Rain on what still lay, times its share [mm]; None where rain is not known.
    leaf
        Not lost by baling dry what is left after the last night.
    time
        Of the days that hay lies less.
    rain
        That falls on less hay; None where rain or the price of hay is not known.
    running
        Of the rig, for all that it does.
    net
        What is left of these, the fixed cost paid.
    net_wait
        The same with a day of waiting that costs nothing, and double.
    net_loss
        With the least and the most loss of leaf.
    area_m2
        Area cut in a season above which it pays.
    says
        As in `RigVerdict`.
    """

    in_dew: tuple[float, ...]
    in_rig: tuple[float, ...]
    days_dew: float
    days_rig: float
    by_rig: float
    rain_dew: float | None
    rain_rig: float | None
    leaf: YearMoney
    time: YearMoney
    rain: YearMoney | None
    running: YearMoney
    net: YearMoney
    net_wait: tuple[float, float]
    net_loss: tuple[float, float]
    area_m2: Threshold
    says: RigSays


@dataclass(frozen=True)
class RigVerdict:
    """From where on a rig pays at a site: beside baling the rest dry, and beside another baler.

    Attributes
    ----------
    area_m2
        Area cut in a season, all cuttings, the share that the rig makes good held.
    price_t
        What a tonne of hay brings, or of leaf where leaf is what is paid; of the
        user's own gain where that was given.
    price_now_t
        What it is in the file.
    dry_nights
        Nights a season without usable dew, each used as here.
    most_dew_m2, most_rig_m2
        Area that one baler does in a season on dew, and with the rig; NaN where not known.
    season_area_m2, dry_nights_now
        What the file has, and what the site has, of these.
    nights
        Nights of a season.
    done_dew, done_rig
        Share of the hay baled in time on dew alone, and with the rig [-].
    balers
        Balers that bale as much in time on dew alone as one does with the rig;
        None where `MOST_BALERS` do not.
    other_baler
        What each further baler with its crew must cost a year for the rig to pay
        beside it; None without `balers`.
    says
        "pays" or "not" where every year and every published loss says so, else
        "open".
    """

    area_m2: Threshold
    price_t: Threshold
    price_now_t: float
    dry_nights: Threshold | None
    most_dew_m2: float
    most_rig_m2: float
    season_area_m2: float
    dry_nights_now: float
    nights: float
    done_dew: float
    done_rig: float
    balers: int | None
    other_baler: Threshold | None
    says: RigSays


@dataclass(frozen=True)
class Pays:
    """Whether a rig pays at one site; money in the file's currency, kg of hay.

    Attributes
    ----------
    dry_share, good_share
        Share of hay that dew does not serve in time, and of that which the rig
        does [-].
    good_kg
        Hay a year that the rig makes good and dew would not have.
    gain_t, variable_t
        Gain and variable cost per tonne made good.
    fixed
        Fixed cost a year.
    net
        Of an average year.
    break_even_kg, break_even_h
        Hay and hours a year at which it pays; infinite where the gain does not
        pass the variable cost.
    years
        Year by year, driest and dewiest among them.
    sways
        Inputs by how far they move the net, largest first.
    verdict
        From where on it pays beside baling dry, or beside more balers.
    waiting
        Beside waiting for dew.
    site
        Its name.
    """

    site: str
    dry_share: float
    good_share: float
    good_kg: float
    gain_t: float
    variable_t: float
    fixed: float
    net: float
    break_even_kg: float
    break_even_h: float
    years: tuple[PaysYear, ...]
    sways: tuple[Sway, ...]
    verdict: RigVerdict | None = None
    waiting: Waiting | None = None


@dataclass(frozen=True)
class LeftOut:
    """A site, or some of its files, that the comparison goes on without.

    Attributes
    ----------
    site
        Its name.
    whole
        True where nothing of the site is left.
    problems
        What is wrong with each file, or with the site.
    """

    site: str
    whole: bool
    problems: tuple[HayweatherError, ...]


@dataclass(frozen=True)
class Seasons:
    """The whole answer.

    Attributes
    ----------
    file
        What was asked.
    months, years
        Months, in order; first and last year, None for all there are.
    sites
        In the order of the file.
    pairs, inputs, pays
        Empty where not asked, or nothing to say.
    costs
        What `pays` rests on.
    unfinished
        True where the run was stopped before all nights were done.
    left_out
        Sites and files that could not be read; the others stand.
    """

    file: Sites
    months: tuple[int, ...]
    years: tuple[int, int] | None
    sites: tuple[SiteSeasons, ...]
    pairs: tuple[Pair, ...]
    inputs: tuple[InputEffect, ...]
    pays: tuple[Pays, ...]
    costs: Costs | None
    unfinished: bool = False
    left_out: tuple[LeftOut, ...] = ()
