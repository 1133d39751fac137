"""What a column name of a plain file says: which quantity, unit, height, timing.

The name is cut into words; the words that tell the unit, the height or the
averaging are taken away, and the rest must stand in the table of synonyms.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from typing import Literal

from hayweather.weather.files.file_units import QUANTITY_OF, FileUnit, file_unit

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
_MEAN = {"avg", "average", "mean", "media", "promedio"}
_OTHER = {"max", "min", "maximum", "minimum", "std", "sd", "low", "high", "lowest", "highest",
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
    if _OTHER & set(words) and "_".join(words) not in SYNONYMS:
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
    plain = unicodedata.normalize("NFKD", text.replace("°", " ").replace("%", " pct "))
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
