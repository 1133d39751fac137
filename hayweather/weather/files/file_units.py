"""Units as weather files spell them; the common ones come from `hayweather.units`."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from hayweather.units import QUANTITIES, find_unit
from hayweather.weather.record import Floats

LANGLEY_J_M2 = 41840.0
"""One langley, a thermochemical calorie per square centimeter (exact by definition)."""


@dataclass(frozen=True)
class FileUnit:
    """One unit of a file: ``inside = value * factor + offset``.

    Attributes
    ----------
    over_period
        ``amount``: an amount over the row's period that becomes a mean per
        second; ``rate``: a depth per hour that becomes a sum; None: neither.
    """

    symbol: str
    factor: float = 1.0
    offset: float = 0.0
    over_period: Literal["amount", "rate"] | None = None

    def inside(self, values: Floats) -> Floats:
        """Values of the file in the inside unit; the very same where that is the file's."""
        if self.factor == 1.0 and self.offset == 0.0:
            return values
        return values * self.factor + self.offset

    def shown(self, value: float) -> str:
        """An inside value as the file has it, with its unit, for messages."""
        number = (value - self.offset) / self.factor
        return f"{number:.6g} {self.symbol}".rstrip()


QUANTITY_OF: dict[str, str] = {
    "air_temperature_c": "temperature",
    "dew_point_c": "temperature",
    "relative_humidity_percent": "percent",
    "wind_speed_m_s": "wind_speed",
    "wind_gust_m_s": "wind_speed",
    "cloud_fraction": "cloud",
    "pressure_kpa": "pressure",
    "altimeter_kpa": "pressure",
    "sea_level_pressure_kpa": "pressure",
    "shortwave_w_m2": "shortwave",
    "rain_mm": "rain",
    "rain_chance_percent": "percent",
    "thunder_chance_percent": "percent",
    "lightning_level": "none",
    "weather_code": "none",
    "red_flag": "none",
    "repaired": "none",
}
NO_UNIT = FileUnit("")

_MORE: dict[str, dict[str, FileUnit]] = {
    "temperature": {"k": FileUnit("K", 1.0, -273.15)},
    "percent": {"fraction": FileUnit("0-1", 100.0)},
    "cloud": {
        "tenths": FileUnit("tenths", 0.1),
        "oktas": FileUnit("oktas", 0.125),
        "%": FileUnit("%", 0.01),
        "fraction": FileUnit("0-1"),
    },
    "shortwave": {
        "ly": FileUnit("langley", LANGLEY_J_M2, over_period="amount"),
        "ly/h": FileUnit("langley/h", LANGLEY_J_M2 / 3600),
        "mj/m2": FileUnit("MJ/m²", 1e6, over_period="amount"),
        "kj/m2": FileUnit("kJ/m²", 1e3, over_period="amount"),
        "j/m2": FileUnit("J/m²", over_period="amount"),
        "j/cm2": FileUnit("J/cm²", 1e4, over_period="amount"),
        "wh/m2": FileUnit("Wh/m²", 3600.0, over_period="amount"),
        "kw/m2": FileUnit("kW/m²", 1000.0),
    },
    "rain": {
        "mm/h": FileUnit("mm/h", over_period="rate"),
        "in/h": FileUnit("in/h", find_unit("rain", "in").factor, over_period="rate"),
    },
    "pressure": {"mmhg": FileUnit("mmHg", find_unit("pressure", "inHg").factor / 25.4)},
}
_SPELLINGS = {
    "kelvin": "k", "degk": "k", "0-1": "fraction", "frac": "fraction", "1": "fraction",
    "tenth": "tenths", "10ths": "tenths", "decimas": "tenths", "okta": "oktas", "octas": "oktas",
    "octa": "oktas", "eighths": "oktas", "pct": "%", "percent": "%", "porcentaje": "%",
    "langley": "ly", "langleys": "ly", "lang": "ly", "ly/hr": "ly/h", "langley/h": "ly/h",
    "langleys/h": "ly/h", "langley/hr": "ly/h", "mm/hr": "mm/h", "in/hr": "in/h",
    "meters/second": "m/s", "metres/second": "m/s", "meters/sec": "m/s", "miles/hour": "mph",
    "milesperhour": "mph", "kmph": "km/h", "km/hr": "km/h", "inches hg": "inhg",
    "w/meter2": "w/m2", "watts/meter2": "w/m2", "wm-2": "w/m2", "w m-2": "w/m2",
    "millibars": "hpa", "inhg.": "inhg", "in.": "in", "milimetros": "mm", "l/m2": "mm",
    "millimeters": "mm", "millimetres": "mm", "mjm2": "mj/m2", "mj/m2/h": "mj/m2",
    "kjm2": "kj/m2", "whm2": "wh/m2", "knots.": "kn", "mps.": "m/s", "c.": "c", "f.": "f",
}  # fmt: skip


def file_unit(quantity: str, text: str) -> FileUnit | None:
    """The unit of `quantity` that a file spells `text`, or None when it is not known.

    Examples
    --------
    >>> file_unit("temperature", "Deg C").symbol
    '°C'
    >>> file_unit("wind_speed", "furlong") is None
    True
    """
    if quantity == "none":
        return NO_UNIT
    plain = _spelled(text)
    more = _MORE.get(quantity, {})
    if plain in more:
        return more[plain]
    if quantity not in QUANTITIES or not plain:
        return None
    try:
        unit = find_unit(quantity, plain)
    except KeyError:
        return None
    return FileUnit(unit.symbol, unit.factor, unit.offset)


def accepted(quantity: str) -> str:
    """The units accepted for `quantity`, for a message."""
    common = [] if quantity not in QUANTITIES else _common_symbols(quantity)
    more = [unit.symbol for unit in _MORE.get(quantity, {}).values()]
    return ", ".join(dict.fromkeys(common + more))


def _common_symbols(quantity: str) -> list[str]:
    kind = QUANTITIES[quantity]
    return [unit.symbol for unit in kind.metric + kind.us]


def _spelled(text: str) -> str:
    """A unit's spelling with case, signs and the word "degrees" evened out."""
    plain = text.strip().casefold().replace("²", "2").replace("^", "").replace("º", "°")
    plain = re.sub(r"^(degrees|degree|deg|grados|°)[\s_.]*(?=[cfk]|cels|fahr|kelv)", "", plain)
    plain = re.sub(r"\s*/\s*", "/", plain).strip("[]() ")
    return _SPELLINGS.get(plain, plain)
