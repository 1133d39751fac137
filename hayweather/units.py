"""Units of the trade: the only place that knows them.

Inside the package every number is in the SI-based unit of its quantity; this
table turns it into what US and metric users read and write. A value in a farm
file is a number in the farm's own units or a string such as ``"1.5 ton/acre"``.

Sources of the factors: international yard and pound agreement of 1959 (exact:
foot 0.3048 m, pound 0.45359237 kg, US gallon 231 cubic inches), acre of 43,560
square feet; inch of mercury at 0 C, 3.386389 kPa (NIST SP 811).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TypeVar

if TYPE_CHECKING:
    import numpy as np

UnitSystem = Literal["us", "metric"]
Number = TypeVar("Number", float, "np.ndarray")

FOOT_M = 0.3048
MILE_M = 1609.344
INCH_MM = 25.4
POUND_KG = 0.45359237
SHORT_TON_KG = 2000 * POUND_KG
GALLON_L = 231 * 0.0254**3 * 1000
ACRE_M2 = 43560 * FOOT_M**2
HECTARE_M2 = 10_000.0
MPH_M_S = MILE_M / 3600
KNOT_M_S = 1852 / 3600
INCH_MERCURY_KPA = 3.386389


@dataclass(frozen=True)
class Unit:
    """One unit: ``inside = value * factor + offset``."""

    symbol: str
    factor: float
    offset: float = 0.0
    also: tuple[str, ...] = ()


@dataclass(frozen=True)
class Quantity:
    """The units of one quantity; the first of `us` and `metric` is shown.

    Attributes
    ----------
    us, metric
        Units accepted in each system; a unit may stand in both.
    decimals
        Digits shown after the point, US and metric.
    """

    us: tuple[Unit, ...]
    metric: tuple[Unit, ...]
    decimals: tuple[int, int] = (1, 1)

    def shown(self, system: UnitSystem) -> Unit:
        """The unit in which people of `system` read this quantity."""
        return (self.us if system == "us" else self.metric)[0]


_METER = Unit("m", 1.0, also=("meter", "meters", "metre", "metres"))
_FOOT = Unit("ft", FOOT_M, also=("foot", "feet"))
_INCH = Unit("in", 0.0254, also=("inch", "inches"))
_TON = Unit("ton", SHORT_TON_KG, also=("tons", "short ton", "short tons"))
_TONNE = Unit("t", 1000.0, also=("tonne", "tonnes"))
_PERCENT = Unit("%", 1.0, also=("percent", "pct"))
_MINUTE = Unit("min", 1.0, also=("minute", "minutes"))
_HOUR = Unit("h", 1.0, also=("hour", "hours", "hr"))
_DEGREE = Unit("°", 1.0, also=("deg", "degree", "degrees"))
_SHORTWAVE = Unit("W/m²", 1.0, also=("W/m2", "W/m^2", "wm2"))
_INCH_RAIN = Unit("in", INCH_MM, also=("inch", "inches", '"'))
_MILLIMETER = Unit("mm", 1.0)

QUANTITIES: dict[str, Quantity] = {
    "temperature": Quantity(
        (Unit("°F", 5 / 9, -160 / 9, ("F", "degF", "fahrenheit")),),
        (Unit("°C", 1.0, 0.0, ("C", "degC", "celsius")),),
        (0, 0),
    ),
    "temperature_difference": Quantity(
        (Unit("°F", 5 / 9, also=("F", "degF")),),
        (Unit("°C", 1.0, also=("C", "degC", "K")),),
    ),
    "wind_speed": Quantity(
        (
            Unit("mph", MPH_M_S, also=("mi/h",)),
            Unit("kn", KNOT_M_S, also=("kt", "kts", "knot", "knots")),
        ),
        (
            Unit("m/s", 1.0, also=("ms", "mps", "m s-1", "m s^-1")),
            Unit("km/h", 1 / 3.6, also=("kmh", "kph")),
        ),
        (0, 1),
    ),
    "ground_speed": Quantity(
        (Unit("mph", MPH_M_S, also=("mi/h",)),), (Unit("km/h", 1 / 3.6, also=("kmh", "kph")),)
    ),
    "length": Quantity((_FOOT, _INCH), (_METER,)),
    "distance": Quantity(
        (Unit("mi", MILE_M, also=("mile", "miles")),), (Unit("km", 1000.0),), (0, 0)
    ),
    "elevation": Quantity((_FOOT,), (_METER,), (0, 0)),
    "rain": Quantity(
        (_INCH_RAIN,),
        (_MILLIMETER, Unit("cm", 10.0)),
        (2, 1),
    ),
    "film": Quantity((_INCH_RAIN,), (_MILLIMETER,), (4, 3)),
    "area": Quantity(
        (Unit("acre", ACRE_M2, also=("acres", "ac")),),
        (Unit("ha", HECTARE_M2, also=("hectare", "hectares")),),
        (0, 1),
    ),
    "yield": Quantity(
        (Unit("ton/acre", SHORT_TON_KG / ACRE_M2, also=("tons/acre", "ton/ac", "t/ac")),),
        (Unit("t/ha", 1000 / HECTARE_M2, also=("tonne/ha", "Mg/ha")),),
        (2, 1),
    ),
    "mass_by_area": Quantity(
        (Unit("lb/acre", POUND_KG / ACRE_M2),), (Unit("kg/ha", 1 / HECTARE_M2),), (0, 0)
    ),
    "price_by_area": Quantity(
        (Unit("/acre", 1 / ACRE_M2),), (Unit("/ha", 1 / HECTARE_M2),), (2, 2)
    ),
    "windrow_mass": Quantity(
        (Unit("lb/ft2", POUND_KG / FOOT_M**2, also=("lb/ft^2", "lb/sqft")),),
        (Unit("kg/m2", 1.0, also=("kg/m^2",)),),
        (2, 2),
    ),
    "mass": Quantity(
        (Unit("lb", POUND_KG, also=("lbs", "pound", "pounds")), _TON),
        (Unit("kg", 1.0), _TONNE),
        (0, 0),
    ),
    "tons": Quantity((_TON,), (_TONNE,), (0, 0)),
    "capacity": Quantity(
        (Unit("ton/h", SHORT_TON_KG, also=("tons/h", "ton/hr", "tons/hour")),),
        (Unit("t/h", 1000.0, also=("tonne/h",)),),
    ),
    "volume": Quantity(
        (Unit("gal", GALLON_L, also=("gallon", "gallons", "US gal")),),
        (Unit("L", 1.0, also=("l", "liter", "liters", "litre", "litres")), Unit("m3", 1000.0)),
        (0, 0),
    ),
    "water_rate": Quantity(
        (Unit("gal/ton", GALLON_L / SHORT_TON_KG * 1000, also=("gal per ton", "gallons/ton")),),
        (Unit("L/t", 1.0, also=("l/t", "L per t", "litres/tonne")),),
    ),
    "flow": Quantity(
        (Unit("gal/min", GALLON_L, also=("gpm",)),), (Unit("L/min", 1.0, also=("l/min",)),)
    ),
    "fuel_rate": Quantity(
        (Unit("gal/h", GALLON_L, also=("gph",)),), (Unit("L/h", 1.0, also=("l/h",)),)
    ),
    "price_by_mass": Quantity(
        (Unit("/ton", 1 / SHORT_TON_KG, also=("$/ton", "per ton")),),
        (Unit("/t", 1 / 1000, also=("€/t", "$/t", "per t")),),
        (2, 2),
    ),
    "price_by_volume": Quantity(
        (Unit("/gal", 1 / GALLON_L, also=("$/gal", "per gal")),),
        (Unit("/L", 1.0, also=("€/L", "$/L", "per L")),),
        (2, 2),
    ),
    "pressure": Quantity(
        (Unit("inHg", INCH_MERCURY_KPA, also=("in Hg",)),),
        (Unit("kPa", 1.0), Unit("hPa", 0.1, also=("mbar", "mb", "millibar")), Unit("Pa", 0.001)),
        (2, 1),
    ),
    "shortwave": Quantity((_SHORTWAVE,), (_SHORTWAVE,), (0, 0)),
    "percent": Quantity((_PERCENT,), (_PERCENT,)),
    "minutes": Quantity((_MINUTE,), (_MINUTE,), (0, 0)),
    "hours": Quantity((_HOUR,), (_HOUR,)),
    "angle": Quantity((_DEGREE,), (_DEGREE,), (2, 2)),
}


def to_inside(value: Number, quantity: str, symbol: str) -> Number:
    """Turn a value in the unit `symbol` into the inside unit of `quantity`.

    Raises
    ------
    KeyError
        If `quantity` has no such unit.

    Examples
    --------
    >>> round(to_inside(10.0, "water_rate", "gal/ton"), 2)
    41.73
    """
    unit = find_unit(quantity, symbol)
    return value * unit.factor + unit.offset


def to_shown(value: Number, quantity: str, system: UnitSystem) -> Number:
    """Turn an inside value into the unit that people of `system` read.

    Examples
    --------
    >>> round(to_shown(20.0, "temperature", "us"), 1)
    68.0
    """
    unit = QUANTITIES[quantity].shown(system)
    return (value - unit.offset) / unit.factor


def symbol_of(quantity: str, system: UnitSystem) -> str:
    """The unit symbol that people of `system` read for `quantity`."""
    return QUANTITIES[quantity].shown(system).symbol


def format_shown(
    value: float,
    quantity: str,
    system: UnitSystem,
    *,
    with_unit: bool = True,
    extra_decimals: int = 0,
) -> str:
    """Write an inside value for a person, for example ``"12.5 gal/ton"``.

    Examples
    --------
    >>> format_shown(5.0, "wind_speed", "us")
    '11 mph'
    >>> format_shown(12.0, "percent", "us")
    '12.0 %'
    >>> format_shown(0.0025, "price_by_mass", "metric")
    '2.50/t'
    """
    decimals = QUANTITIES[quantity].decimals[0 if system == "us" else 1] + extra_decimals
    number = f"{to_shown(value, quantity, system):.{decimals}f}"
    if float(number) == 0:
        number = number.lstrip("-")
    return joined(number, symbol_of(quantity, system)) if with_unit else number


def joined(number: str, symbol: str) -> str:
    """A number and its unit; one that begins with a stroke follows without a blank.

    Examples
    --------
    >>> joined("11", "mph"), joined("2.50", "/ton")
    ('11 mph', '2.50/ton')
    """
    return f"{number}{symbol}" if symbol.startswith("/") else f"{number} {symbol}"


def find_unit(quantity: str, symbol: str) -> Unit:
    """The unit of `quantity` that is written `symbol`, in any accepted spelling.

    Raises
    ------
    KeyError
        If there is none; `unit_names` lists what is accepted.
    """
    wanted = _plain(symbol)
    kind = QUANTITIES[quantity]
    for unit in kind.us + kind.metric:
        if wanted in (_plain(name) for name in (unit.symbol, *unit.also)):
            return unit
    raise KeyError(symbol)


def unit_names(quantity: str) -> list[str]:
    """The symbols accepted for `quantity`, each once."""
    kind = QUANTITIES[quantity]
    return list(dict.fromkeys(unit.symbol for unit in kind.us + kind.metric))


_QUANTITY_TEXT = re.compile(r"\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*(\S.*?)?\s*")


def parse(text: str, quantity: str, system: UnitSystem) -> float:
    """Read ``"1.5 ton/acre"``; without a unit, the one shown in `system` holds.

    Raises
    ------
    ValueError
        If the text is no number with an optional unit.
    KeyError
        If the unit is not one of this quantity.

    Examples
    --------
    >>> parse("60 mm", "length", "us")
    Traceback (most recent call last):
    ...
    KeyError: 'mm'
    >>> round(parse("5 mph", "wind_speed", "metric"), 3)
    2.235
    """
    match = _QUANTITY_TEXT.fullmatch(text)
    if match is None:
        raise ValueError(text)
    symbol = match[2] or symbol_of(quantity, system)
    return to_inside(float(match[1]), quantity, symbol)


def _plain(symbol: str) -> str:
    """A unit's spelling with case, blanks and look-alike signs evened out."""
    evened = symbol.strip().replace("²", "2").replace("º", "°").replace("·", " ")
    return re.sub(r"[\s_]+", " ", evened).casefold().replace("° ", "°").strip("[]() ")
