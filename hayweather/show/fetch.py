"""Hours from a service as a table and as JSON, and what should be known of them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from hayweather.nights.trust import WeatherFacts
from hayweather.show.layout import TextColumn, bullets, evened, table_lines, wrapped
from hayweather.show.table import Column, Document, Json, Screen, Table
from hayweather.show.voice import Voice, phrases
from hayweather.show.weather_facts import WEATHER, WeatherSummary, source_text, summary_of
from hayweather.units import symbol_of, to_shown
from hayweather.weather.record import COLUMN_KINDS, HourlyWeather
from hayweather.words import Remark

TIME_WIDTH = 16
GAP = 2


def _number(name: str, help_: str, heading: str, quantity: str, scale: float = 1.0) -> Column:
    """A column of the record; a row is a number, which `scale` turns into the quantity's unit."""
    screen = Screen(heading, blank="-")
    return Column(name, help_, lambda value: value * scale, quantity, screen=screen)


COLUMNS = {
    column.name: column
    for column in (
        _number("air_temperature_c", "Air temperature", "fetch_air", "temperature"),
        _number("dew_point_c", "Dew point", "fetch_dew_point", "temperature"),
        _number("wind_speed_m_s", "Wind at its height", "fetch_wind", "wind_speed"),
        _number("rain_mm", "Rain of the hour", "fetch_rain", "rain"),
        _number("rain_chance_percent", "Chance of rain", "fetch_rain_chance", "percent"),
        _number("thunder_chance_percent", "Chance of thunder", "fetch_thunder_chance", "percent"),
        _number("cloud_fraction", "Part of the sky covered", "fetch_cloud", "percent", 100.0),
        _number("shortwave_w_m2", "Sun on level ground", "fetch_sun", "shortwave"),
        _number("wind_gust_m_s", "Gusts", "fetch_gust", "wind_speed"),
        _number("pressure_kpa", "Air pressure", "fetch_pressure", "pressure"),
    )
}
"""In the order in which they are shown while the line has room."""


def about_lines(weather: HourlyWeather, age_hours: float | None, voice: Voice) -> list[str]:
    """Source, age, licence, place, span, gaps and assumptions, each a line for people.

    Parameters
    ----------
    weather
        What came.
    age_hours
        Of the forecast; None where it has none.
    """
    source = weather.source
    lines = [source_text(source.name, source.issued, source.fetched, age_hours, voice)]
    if source.stored:
        hours = "?" if age_hours is None else f"{age_hours:.0f}"
        lines += phrases([Remark("caution_stored", {"hours": hours})], voice)
    if source.attribution:
        lines.append(source.attribution)
    ends = (weather.start[0], weather.end[0])
    first, last = (f"{voice.local(time):%Y-%m-%d %H:%M}" for time in ends)
    lines.append(voice.say("fetch_span", hours=weather.hours, first=first, last=last))
    lines.append(_place(weather, voice))
    missing = int(weather.missing()[:, 0].sum())
    if missing:
        lines.append(voice.say("outlook_missing", count=missing))
    return [*lines, *phrases(weather.assumed, voice)]


def _place(weather: HourlyWeather, voice: Voice) -> str:
    """Zone and elevation of the place."""
    unknown = voice.say("fetch_unknown")
    height = weather.elevation_m
    elevation = unknown if height is None else voice.amount(round(height), "elevation")
    return voice.say("fetch_place", zone=weather.timezone or unknown, elevation=elevation)


def hours_text(weather: HourlyWeather, age_hours: float | None, voice: Voice, width: int) -> str:
    """The hours as a table in the reader's units and clock; as many columns as have room.

    Parameters
    ----------
    weather
        What came, one lane.
    age_hours
        Of the forecast; None where it has none.
    """
    stamps = [f"{voice.local(time):%Y-%m-%d %H:%M}" for time in weather.times()[:, 0]]
    columns = [["", voice.say("fetch_time"), *stamps]]
    widths = [TIME_WIDTH]
    for name in COLUMNS:
        if name in weather.columns:
            cells = _cells(weather, name, voice)
            wide = GAP + max(map(len, cells))
            if sum(widths) + wide > width:
                break
            columns.append(cells)
            widths.append(wide)
    lines = [_line(row, widths) for row in zip(*columns, strict=True)]
    about = bullets(about_lines(weather, age_hours, voice), width)
    return "\n".join([*about, "", *lines]) + "\n"


def _cells(weather: HourlyWeather, name: str, voice: Voice) -> list[str]:
    """Heading, unit and numbers of one column; a dash where a number is missing."""
    column = COLUMNS[name]
    heading = voice.say(column.screen.heading) if column.screen else ""
    numbers = [column.shown(value, voice) for value in weather.columns[name][:, 0].tolist()]
    return [heading, column.symbol(voice.units), *numbers]


def _line(cells: Sequence[str], widths: Sequence[int]) -> str:
    """Cells side by side, the time to the left."""
    numbers = [cell.rjust(width) for cell, width in zip(cells[1:], widths[1:], strict=True)]
    return (cells[0].ljust(widths[0]) + "".join(numbers)).rstrip()


@dataclass(frozen=True)
class Fetched:
    """Hours that came, one lane, and the age of their forecast."""

    weather: HourlyWeather
    age_hours: float | None


def _summary(fetched: Fetched) -> WeatherSummary:
    """Source and age."""
    weather = fetched.weather
    missing = int(weather.missing()[:, 0].sum())
    return summary_of([WeatherFacts(weather, fetched.age_hours, missing, weather.assumed)])


def _hour_columns(names: Iterable[str]) -> Table:
    """An hour with some columns of the record; a row is its place in it."""

    def values(name: str) -> Callable[[tuple[HourlyWeather, int]], float]:
        return lambda row: float(row[0].columns[name][row[1], 0])

    return Table(
        (
            Column("start", "UTC start", lambda row: row[0].times()[row[1], 0], kind="utc",
                   index=True),
            *(Column(name, _meaning(name), values(name)) for name in names),
        ),
        "One hour with all digits; columns are there that the source has.",
    )  # fmt: skip


def _meaning(name: str) -> str:
    """What a column of the record is."""
    return COLUMNS[name].help if name in COLUMNS else "As its name says"


def _hours(fetched: Fetched, voice: Voice) -> list[Json]:
    """Every hour with all its columns."""
    weather = fetched.weather
    rows = ((weather, hour) for hour in range(weather.hours))
    table = _hour_columns(weather.columns)
    return [table.record(row, _UTC, exact=True) for row in rows]


_UTC = Voice("en", "metric", "UTC")
_HOUR = _hour_columns(COLUMN_KINDS).schema() | {"required": ["start"]}
_WEATHER_UTC = replace(
    WEATHER,
    columns=tuple(
        replace(column, kind="utc") if column.kind == "time" else column
        for column in WEATHER.columns
    ),
)
FETCH = Document(
    "hayweather/fetch/1",
    Table(
        (
            Column("latitude", "Degrees north", "weather.latitude"),
            Column("longitude", "Degrees east", "weather.longitude"),
            Column("elevation_m", "Above the sea", "weather.elevation_m", unit="m"),
            Column("timezone", "IANA zone of the place", "weather.timezone", kind="text",
                   null=True),
            Column("wind_height_m", "Of the wind", "weather.wind_height_m", unit="m"),
            Column("weather", "Where it came from", _summary, kind="row",
                   of=_WEATHER_UTC),
            Column("hours", "Every hour", kind="any", said=_hours,
                   fits={"type": "array", "items": _HOUR}),
        ),
        "Hours from a weather service, times in UTC (hayweather fetch).",
    ),
)  # fmt: skip


def hours_json(weather: HourlyWeather, age_hours: float | None, voice: Voice) -> str:
    """The hours as JSON with all digits, missing numbers null, times in UTC."""
    return FETCH.text(Fetched(weather, age_hours), voice)


@dataclass(frozen=True)
class SiteBias:
    """How fetched hours of a site differ from its own station.

    Attributes
    ----------
    site, hours
        Its name, and how many hours were fetched.
    shared
        Hours that both know.
    differences
        ``{column: (mean, standard deviation)}`` of service less station.
    """

    site: str
    hours: int
    shared: int
    differences: Mapping[str, tuple[float, float]]


_BIASES = {
    "air_temperature_c": "temperature_difference",
    "dew_point_c": "temperature_difference",
    "wind_speed_m_s": "wind_speed",
}


def bias_text(found: Sequence[SiteBias], voice: Voice, width: int) -> str:
    """Hours fetched for each site, and their bias against its own station."""
    columns = [
        TextColumn(("",), tuple(site.site for site in found), is_text=True),
        TextColumn(
            (voice.say("fetch_sites_hours"),), tuple(voice.signed(f"{s.hours:,}") for s in found)
        ),
    ]
    if any(site.shared for site in found):
        cells = tuple(voice.signed(f"{s.shared:,}") if s.shared else "-" for s in found)
        columns.append(TextColumn((voice.say("fetch_sites_shared"),), cells))
    for column, quantity in _BIASES.items():
        if any(column in site.differences for site in found):
            cells = tuple(_bias(site.differences.get(column), quantity, voice) for site in found)
            name = voice.say(f"record_{column}")
            columns.append(TextColumn((name, symbol_of(quantity, voice.units)), cells))
    lines = table_lines(evened(columns), width)
    said = "fetch_sites_bias" if any(site.shared for site in found) else "fetch_sites_no_bias"
    return "\n".join([*lines, *wrapped(voice.say(said), width)]) + "\n"


def _bias(found: tuple[float, float] | None, quantity: str, voice: Voice) -> str:
    """A mean difference and its spread."""
    if found is None:
        return "-"
    mean, spread = (float(to_shown(value, quantity, voice.units)) for value in found)
    return voice.signed(f"{mean:+.1f} ±{spread:.1f}")
