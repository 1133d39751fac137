"""What a column name says: which quantity, in which unit, at which height, how timed.

The name is cut into words; the words that tell the unit, the height or the
averaging are taken away, and the rest must stand in the table of synonyms.
"""

from __future__ import annotations

import re
import unicodedata
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
    "vapor_pressure_kpa": "pressure",
    "vapor_pressure_deficit_kpa": "pressure",
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
        "ly/day": FileUnit("langley/day", LANGLEY_J_M2 / 86400),
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
    plain = unicodedata.normalize("NFKC", text.strip().replace("º", "°")).casefold()
    plain = plain.replace("²", "2").replace("^", "")
    plain = re.sub(r"^(degrees|degree|deg|grados|°)[\s_.]*(?=[cfk]|cels|fahr|kelv)", "", plain)
    plain = re.sub(r"\s*/\s*", "/", plain).strip("[]() ")
    return _SPELLINGS.get(plain, plain)


SYNONYMS: dict[str, str] = {
    name: column
    for column, names in {
        "air_temperature_c": "temp temperature air_temp air_temperature airtemp airt air_t tair ta"
        " t tmp t2m dry_bulb drybulb dry_bulb_temperature drybulb_temperature outdoor_temp"
        " outdoor_temperature outside_temp outside_temperature temp_out air"
        " temperatura temp_aire temperatura_aire temperatura_del_aire",
        "dew_point_c": "dew_point dewpoint dew dew_pt dewpt dp td tdew dewp dew_point_temp"
        " dew_point_temperature dewpoint_temp dewpoint_temperature"
        " punto_de_rocio punto_rocio rocio temperatura_de_rocio",
        "relative_humidity_percent": "rh relative_humidity humidity rel_humidity rel_hum relhum"
        " relh hum humid rhum air_humidity hr humedad humedad_relativa hum_rel",
        "wind_speed_m_s": "wind wind_speed windspeed ws wspd wind_spd windspd wind_sp wind_velocity"
        " viento velocidad_viento velocidad_del_viento vel_viento",
        "wind_gust_m_s": "gust wind_gust wind_gusts gusts windgust gust_speed wind_gust_speed"
        " gustspeed racha rachas racha_viento",
        "cloud_fraction": "cloud clouds cloud_cover cloudcover cloudiness sky_cover total_sky_cover"
        " total_cloud_cover total_cloud nubosidad cobertura_nubosa",
        "pressure_kpa": "pressure station_pressure surface_pressure air_pressure pres press"
        " stn_pressure atmospheric_pressure sp bp baro presion presion_atmosferica",
        "sea_level_pressure_kpa": "slp mslp msl_pressure pressure_msl sea_level_pressure"
        " mean_sea_level_pressure presion_nivel_mar",
        "altimeter_kpa": "alti altimeter altimeter_setting",
        "shortwave_w_m2": "sw shortwave solar solar_radiation solar_rad solarrad srad ghi slr"
        " shortwave_radiation global_radiation global_horizontal_irradiance radiation swdown"
        " sw_down sw_in swin global_horizontal radiacion radiacion_solar radiacion_global",
        "rain_mm": "rain rainfall precip precipitation prcp ppt precip_total rain_total total_rain"
        " rain_fall lluvia precipitacion",
        "rain_chance_percent": "rain_chance precipitation_probability precip_probability pop"
        " chance_of_rain probabilidad_precipitacion",
        "thunder_chance_percent": "thunder_chance thunder_probability probability_of_thunder",
        "lightning_level": "lightning_level lightning_activity_level",
        "weather_code": "weather_code weathercode",
        "red_flag": "red_flag",
        "repaired": "repaired",
    }.items()
    for name in names.split()
}
_STAMP_TEXT = (
    "time datetime date_time timestamp stamp valid date_and_time time_stamp tmstamp date"
    " local_time time_local datetime_local local_datetime observation_time obs_time fecha_hora"
    " fecha hora fecha_y_hora fechahora hour_ending hour_beginning period_ending period_end"
    " period_start hour_end hour_start"
)
STAMP_NAMES = frozenset(_STAMP_TEXT.split())
PART_NAMES: dict[str, str] = {
    "year": "year", "yr": "year", "ano": "year", "anio": "year", "month": "month", "mo": "month",
    "mon": "month", "mes": "month", "day": "day", "dia": "day", "hour": "hour", "hr": "hour",
    "hora": "hour", "minute": "minute", "min": "minute", "minuto": "minute", "date": "date",
    "fecha": "date", "time": "clock", "hora_local": "clock",
}  # fmt: skip
UNIT_WORDS: dict[str, str] = {
    "c": "C", "degc": "C", "deg_c": "C", "celsius": "C", "f": "F", "degf": "F", "deg_f": "F",
    "fahrenheit": "F", "k": "K", "pct": "%", "percent": "%", "ms": "m/s", "m_s": "m/s",
    "mps": "m/s", "mph": "mph", "kmh": "km/h", "km_h": "km/h", "kph": "km/h", "kn": "kn",
    "kt": "kn", "kts": "kn", "knots": "kn", "hpa": "hPa", "mb": "hPa", "mbar": "hPa", "kpa": "kPa",
    "pa": "Pa", "inhg": "inHg", "in_hg": "inHg", "mmhg": "mmHg", "wm2": "W/m2", "w_m2": "W/m2",
    "w": "W/m2", "tc": "C", "tf": "F", "mj_m2": "MJ/m2", "mjm2": "MJ/m2", "kj_m2": "kJ/m2",
    "wh_m2": "Wh/m2",
    "ly": "ly", "langley": "ly", "langleys": "ly", "mm": "mm", "in": "in", "inch": "in",
    "inches": "in", "cm": "cm", "tenths": "tenths", "oktas": "oktas", "octas": "oktas",
    "fraction": "fraction", "frac": "fraction", "mm_h": "mm/h", "in_h": "in/h",
}  # fmt: skip
_MEAN = {"avg", "ave", "average", "mean", "media", "promedio"}
OTHER_QUANTITY = {"max", "min", "maximum", "minimum", "std", "sd", "low", "high", "lowest",
          "highest",
          "maxima", "minima", "flag", "qc", "source", "uncert", "feels", "soil", "surface",
          "apparent", "wet", "direction", "dir", "chill", "index"}  # fmt: skip
_FILLER = {"tot", "total", "smp", "at", "the", "outdoor", "outside", "out", "local", "hourly"}
_HOUR_WORDS: dict[str, Literal["start", "center", "end"]] = {
    "ending": "end", "end": "end", "he": "end", "beginning": "start", "begin": "start",
    "starting": "start", "start": "start", "center": "center", "centre": "center",
    "middle": "center",
}  # fmt: skip
_BRACKET = re.compile(r"^(.*?)\s*[(\[]([^)\]]*)[)\]]\s*$")
_HEIGHT = re.compile(r"(\d+(?:\.\d+)?)m")


@dataclass(frozen=True)
class Header:
    """What one column name says.

    Attributes
    ----------
    text
        The name as the file has it.
    served_as
        Column of the record, or None when it is none that is known.
    unit
        Unit named in it; None when none is.
    unit_text
        What stands in its brackets beside `unit`, or is no unit; empty when neither.
    height_m
        Height named in it.
    mean
        True when it says that its values are means over the period.
    """

    text: str
    served_as: str | None
    unit: FileUnit | None = None
    unit_text: str = ""
    height_m: float | None = None
    mean: bool = False


def read_header(text: str) -> Header:
    """What the column name `text` says.

    Examples
    --------
    >>> header = read_header("Wind Speed 10m [mph]")
    >>> header.served_as, header.unit.symbol, header.height_m
    ('wind_speed_m_s', 'mph', 10.0)
    >>> read_header("soil_temp_c").served_as is None
    True
    """
    name, bracket = _split_bracket(text)
    words = words_of(name)
    if OTHER_QUANTITY & set(words) and "_".join(words) not in SYNONYMS:
        return _special(text, words)
    height = next((float(m[1]) for w in words if (m := _HEIGHT.fullmatch(w))), None)
    mean = bool(_MEAN & set(words))
    words = [w for w in words if w not in _MEAN and not _HEIGHT.fullmatch(w)]
    column, unit = _column_and_unit(words)
    if column is None:
        column, unit = _column_and_unit([w for w in words if w not in _FILLER])
    told = ""
    if column is not None and bracket:
        named = file_unit(QUANTITY_OF[column], bracket)
        # Two units in one name are told apart later; a bracket that is no unit may be a remark.
        told = bracket if unit is None or named is not None else ""
        unit, told = (named, "") if unit is None and named is not None else (unit, told)
        height = height or _height_in(bracket)
    return Header(text, column, unit, told, height, mean)


def _special(text: str, words: list[str]) -> Header:
    """Names with a word that usually means another quantity, but here does not."""
    if words[:2] == ["surface", "pressure"]:
        unit = file_unit("pressure", UNIT_WORDS.get("_".join(words[2:]), ""))
        bracket = _split_bracket(text)[1]
        return Header(text, "pressure_kpa", unit or file_unit("pressure", bracket), bracket)
    return Header(text, None)


def hour_statement(texts: list[str]) -> Literal["start", "center", "end"] | None:
    """What the names of the time columns say about the hour: ``Hour Ending`` is its end."""
    for text in texts:
        for word in words_of(text):
            if word in _HOUR_WORDS:
                return _HOUR_WORDS[word]
    return None


def _split_bracket(text: str) -> tuple[str, str]:
    """A name and what stands in brackets, or behind a comma, at its end."""
    match = _BRACKET.match(text.strip())
    if match:
        return match[1], match[2].strip()
    name, comma, unit = text.strip().rpartition(",")
    return (name, unit.strip()) if comma else (text.strip(), "")


def words_of(text: str) -> list[str]:
    """The words of a column name, in lower case without accents.

    Examples
    --------
    >>> words_of("AirTC_Avg"), words_of("WS10m"), words_of("tempF (°)")
    (['air', 'tc', 'avg'], ['ws', '10m'], ['temp', 'f'])
    """
    plain = unicodedata.normalize("NFKD", text.replace("º", "°"))
    plain = plain.replace("°", " ").replace("%", " pct ")
    plain = "".join(c for c in plain if not unicodedata.combining(c))
    plain = re.sub(r"([a-z])([A-Z])", r"\1_\2", plain)
    plain = re.sub(r"([A-Za-z]{1,2})(\d+m)\b", r"\1_\2", plain).casefold()
    return re.findall(r"\d+\.\d+m|[a-z0-9]+", plain)


def _column_and_unit(words: list[str]) -> tuple[str | None, FileUnit | None]:
    """The synonym that the words are, with up to three words of unit behind it."""
    for cut in range(len(words), max(0, len(words) - 4), -1):
        column = SYNONYMS.get("_".join(words[:cut]))
        suffix = "_".join(words[cut:])
        if column is None:
            continue
        if not suffix:
            return column, None
        unit = file_unit(QUANTITY_OF[column], UNIT_WORDS.get(suffix, ""))
        if unit is not None:
            return column, unit
    return None, None


def _height_in(bracket: str) -> float | None:
    match = re.fullmatch(r"(\d+(?:\.\d+)?)\s*m", bracket.strip())
    return float(match[1]) if match else None
