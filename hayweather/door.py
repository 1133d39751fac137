"""What a notebook asks of hayweather, in pandas; `import hayweather` is the way in.

Every function is a thin view of the rooms that the commands use too: a figure
is the same wherever it is asked for. Times may be text, `datetime`,
`pandas.Timestamp` or `numpy.datetime64`; one without an offset is meant on the
clock of the site.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args
from zoneinfo import ZoneInfo

import numpy as np

from hayweather.catalog import DEFAULT_CROP, crop_of
from hayweather.errors import InputError, OptionError
from hayweather.farm import farm_of as farm_of
from hayweather.farm import read_farm as read_farm
from hayweather.farm.clock import parse_time, to_utc
from hayweather.farm.document import path_of, shorten
from hayweather.farm.records import Farm as Farm
from hayweather.farm.records import Site, Station, UnitSystem
from hayweather.log.joined import farm_now, with_logged
from hayweather.log.records import LAYERS, METER_ERRORS, METHODS, OVEN_ERROR_WB
from hayweather.log.sheets import WATER_RANGE_L_T
from hayweather.nights import FieldNight as FieldRecord
from hayweather.nights import Night as NightRecord
from hayweather.nights import night_of as night_driven
from hayweather.nights.station import Observations
from hayweather.units import to_inside
from hayweather.weather.files import ReadOptions, read_weather_file
from hayweather.weather.files import weather_from as weather_from
from hayweather.weather.files.frames import meters_of
from hayweather.weather.files.times import zone_of_option
from hayweather.weather.judge import judged
from hayweather.weather.observed import Observed
from hayweather.weather.record import HourlyWeather
from hayweather.windrow.readings import Reading
from hayweather.windrow.spread import MEMBERS
from hayweather.windrow.trajectory import LayerKind

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr
    from matplotlib.figure import Figure

    from hayweather.learning.score import Score as ScoreRecord
    from hayweather.learning.tune import Fit as FitRecord
    from hayweather.plan.record import FieldsPlan
    from hayweather.seasons.record.results import Seasons as SeasonsRecord
    from hayweather.seasons.record.trial import Trial as TrialRecord

Time = str | datetime | np.datetime64


def utc_of(time: Time, timezone: str) -> np.datetime64:
    """A time as UTC; without an offset it is meant on the clock of `timezone`.

    Raises
    ------
    OptionError
        If it is no time.

    Examples
    --------
    >>> utc_of("2025-07-08 17:00", "America/Denver")
    np.datetime64('2025-07-08T23:00:00')
    >>> utc_of(datetime(2025, 7, 8, 17), "UTC")
    np.datetime64('2025-07-08T17:00:00')
    """
    if isinstance(time, np.datetime64):
        time = str(time.astype("datetime64[s]"))
    moment = parse_time(time)
    if moment is None:
        raise OptionError("now_without_zone", "now", value=shorten(str(time)))
    return to_utc(moment, ZoneInfo(timezone))[0]


def _system(units: UnitSystem | None, own: UnitSystem) -> UnitSystem:
    """The units to show; None for the farm's own."""
    if units is not None and units not in get_args(UnitSystem):
        raise InputError("door_units", value=shorten(repr(units)))
    return units or own


def read_weather(
    path: str | Path,
    *,
    timezone: str | None = None,
    wind_height: float | str | None = None,
    hour: str | None = None,
    elevation: float | str | None = None,
) -> HourlyWeather:
    """Hourly weather from a file of any layout that ``hayweather inspect`` knows.

    Parameters
    ----------
    path
        The file.
    timezone
        Clock of the file, where the file does not say it.
    wind_height, elevation
        Of the anemometer and of the site, where the file does not say it: meters,
        or text with a unit.
    hour
        Which moment of its hour a row is stamped with: ``"start"``, ``"center"``
        or ``"end"``.

    Returns
    -------
    HourlyWeather
        UTC, SI; ``.to_pandas()`` gives it as a table.

    Raises
    ------
    WeatherFileError
        If anything in it is wrong or unclear: one line, with the place.
    """
    options = ReadOptions(
        timezone=timezone,
        wind_height_m=meters_of(wind_height),
        hour=hour,  # type: ignore[arg-type]
        site_elevation_m=meters_of(elevation),
    )
    return read_weather_file(path_of(path), options)[0]


def night_of(
    farm: Farm | str | Path,
    weather: Any = None,
    now: Time | None = None,
    readings: str | Iterable[Any] = (),
    *,
    observations: Any = None,
    field: str | None = None,
    days: int | None = None,
    members: int = MEMBERS,
    old: bool = False,
) -> Night:
    """The coming night of a farm: what the hay is, what to do, how sure.

    Parameters
    ----------
    farm
        From `read_farm` or `farm_of`, or the path of a farm file.
    weather
        From `read_weather` or `weather_from`; a pandas or xarray table, or a path;
        or a dictionary of these by name of site. None: what the farm names.
    now
        When it is asked; None: the clock's time, or an invented sample's own.
    readings
        Moisture readings as for ``--reading``: ``"23:10=10.5"``,
        ``"bench@23:10=12,leaf"``; or a pandas table with the columns of
        READINGS.csv: bales too, an oven's samples with the smaller error of one, each
        with its layer and water; a row without ``moisture_wb``, as of the windrow's
        skin, is left out. Bales speak of the windrow in the quarter hour before.
    observations
        What a station of the fields measured up to now: a pandas table with columns as
        in a weather file (a thermo-hygrometer needs no wind), the path of a station's
        file, or a dictionary of these by name of field or of a ``[station.NAME]``. None:
        the stations that the farm names.
    field
        This field alone.
    days
        Nights to look at, tonight's the first; `plan_work` asks for its own.
    members
        Forecast runs drawn around the forecast; 0 for none, then no chances.
    old
        True to accept a forecast of more than a day.

    Raises
    ------
    InputError
        If anything given is wrong: one line.
    WeatherUnavailableError
        If a service has no weather and nothing stored serves.
    """
    from hayweather.plan.make import MOST_DAYS

    for name, count, low, high in (("days", days, 1, MOST_DAYS), ("members", members, 0, 100_000)):
        if count is not None:
            _check_whole(name, count, low, high)
    known = farm if isinstance(farm, Farm) else read_farm(farm)
    hours = _weather(known, weather, field)
    zones = {name: known.sites[name].timezone or hours[name].timezone for name in hours}
    first = next(iter(zones.values())) or "UTC"
    moment = _now(known, now, first)
    said = with_logged(known, moment, _readings(readings, known, zones, moment, field))
    seen = _observations(known, observations, hours, moment, field)
    asked = _Asked(farm_now(known, moment), hours, moment, said, seen, members, old)
    return Night(asked.driven(field=field, days=days), asked)


@dataclass(frozen=True)
class _Asked:
    """What a night was asked with, so that a plan can ask the same for more nights."""

    farm: Farm
    weather: Mapping[str, HourlyWeather]
    now: np.datetime64
    readings: Mapping[str, Sequence[Reading]]
    observations: Observations
    members: int
    old: bool

    def driven(self, *, field: str | None = None, days: int | None = None) -> NightRecord:
        """The night by the one driver."""
        from hayweather.learning.learned_file import learned_for

        return night_driven(
            self.farm,
            self.weather,
            self.now,
            self.readings,
            observations=self.observations,
            field=field,
            days=days,
            members=self.members,
            old=self.old,
            errors=learned_for(self.farm, self.weather, self.now),
        )


def _weather(farm: Farm, weather: Any, field: str | None) -> dict[str, HourlyWeather]:
    """Weather by name of site, whatever it was given as."""
    fields = [farm.fields[field]] if field in farm.fields else farm.fields.values()
    sites = list(dict.fromkeys(item.site for item in fields))
    if weather is None:
        from hayweather.weather.asked import weather_for

        return weather_for(farm, sites)
    if not isinstance(weather, Mapping) or hasattr(weather, "data_vars"):
        return {name: _hours(weather, farm, name) for name in sites}
    left = [name for name in sites if name not in weather]
    if left:
        raise InputError("door_site_weather", site=left[0], known=", ".join(map(str, weather)))
    return {name: _hours(weather[name], farm, name) for name in sites}


def _hours(weather: Any, farm: Farm, site: str) -> HourlyWeather:
    """One site's weather."""
    place = farm.sites[site]
    if isinstance(weather, str | Path):
        from hayweather.weather.asked import file_options

        weather = read_weather_file(Path(weather), file_options(farm, place))[0]
    elif not isinstance(weather, HourlyWeather):
        choice = farm.weather
        weather = weather_from(
            weather, tz=choice.timezone, wind_height=choice.wind_height_m, hour=choice.hour
        )
    series: HourlyWeather = judged(weather, place, believe=farm.weather.believe)
    if farm.weather.invented:
        return replace(series, source=replace(series.source, issued=None))
    return series


def _observations(
    farm: Farm, given: Any, weather: Mapping[str, HourlyWeather], now: np.datetime64,
    field: str | None,
) -> Observations:  # fmt: skip
    """What stations measured, judged, by field."""
    from hayweather.log.joined import stations_logged
    from hayweather.nights.night import chosen_fields
    from hayweather.weather.stations import judged_station, observations_for, station_of

    fields = chosen_fields(farm, field)
    if given is None:
        return observations_for(farm, fields, weather, now, stations_logged(farm, now))
    if not isinstance(given, Mapping) or hasattr(given, "data_vars"):
        given = dict.fromkeys([item.name for item in fields], given)
    stations = {station.name: station for station in farm.stations}
    wrong = [name for name in given if name not in farm.fields and name not in stations]
    if wrong:
        known = ", ".join([*farm.fields, *stations])
        raise InputError("door_station", value=shorten(str(wrong[0])), known=known)
    found = {}
    for item in fields:
        own = station_of(farm, item)
        named = item.name if item.name in given else own.name if own is not None else ""
        if named in given:
            station = own or Station(item.name)
            site = replace(farm.sites[item.site], timezone=farm.sites[item.site].timezone
                           or weather[item.site].timezone)  # fmt: skip
            read = _station(given[named], station, site)
            found[item.name] = (judged_station(read, farm, item, weather[item.site], now),)
    return found


def _station(given: Any, station: Station, site: Site) -> Observed:
    """What one station measured, from a table, a path, or as it was read before."""
    from hayweather.weather.asked import wall_clock
    from hayweather.weather.files.station import read_station, station_from
    from hayweather.weather.stations import options_of

    if isinstance(given, Observed):
        return given
    options = options_of(station, site)
    if isinstance(given, str | Path):
        return replace(read_station(Path(given), options, wall_clock()), station=station.name)
    if isinstance(given, HourlyWeather):
        options = replace(options, wind_height_m=given.wind_height_m)
        given = given.to_pandas("UTC")
    return station_from(given, options, station.name)


def _now(farm: Farm, now: Time | None, timezone: str) -> np.datetime64:
    """The time that counts as now."""
    if now is not None:
        return utc_of(now, timezone)
    from hayweather.weather.asked import wall_clock

    return wall_clock() if farm.weather.now is None else farm.weather.now


def _readings(
    readings: str | Iterable[Any],
    farm: Farm,
    zones: Mapping[str, str | None],
    now: np.datetime64,
    field: str | None,
) -> dict[str, list[Reading]]:
    """Readings by field, from texts or from a table."""
    from hayweather.learning.spoken import read_spoken

    if hasattr(readings, "to_dict"):
        found: dict[str, list[Reading]] = {}
        for text, beside in _spoken_rows(readings):
            for name, [reading] in read_spoken([text], farm, zones, now, field).items():
                found.setdefault(name, []).append(replace(reading, **beside))
        return {name: sorted(each, key=lambda one: one.time) for name, each in found.items()}
    texts = [readings] if isinstance(readings, str) else list(readings)
    wrong = [text for text in texts if not isinstance(text, str)]
    if wrong:
        raise InputError("door_reading", value=shorten(repr(wrong[0])))
    return read_spoken(texts, farm, zones, now, field)


def _spoken_rows(table: Any) -> Iterator[tuple[str, dict[str, Any]]]:
    """Moistures of a table of readings as texts of ``--reading``, with what these cannot say."""
    needed = {"time", "moisture_wb"}
    left = sorted(needed - set(table.columns))
    if left:
        columns = ", ".join(map(str, table.columns))
        raise InputError("door_reading_columns", value=left[0], known=columns)
    for row in table.to_dict("records"):
        given = {key: value for key, value in row.items() if not _is_blank(value)}
        if "moisture_wb" not in given:
            continue
        moment = parse_time(given.get("time", ""))
        if moment is None:
            raise OptionError("now_without_zone", "time", value=shorten(str(given.get("time", ""))))
        text = f"{moment.isoformat()}={given['moisture_wb']}"
        text = f"{given['field']}@{text}" if "field" in given else text
        beside = _beside(given)
        text += f",{given['kind']}" if "kind" in given and "kind" not in beside else ""
        named = {"error": "meter_error", "bias": "bias"}
        text += "".join(f",{name}={given[key]}" for name, key in named.items() if key in given)
        yield text, beside


def _is_blank(value: object) -> bool:
    """Whether a cell of a table is empty: None, NaN, NaT, or pandas' own NA."""
    return value is None or type(value).__name__ == "NAType" or bool(value != value)


def _beside(given: Mapping[str, Any]) -> dict[str, Any]:
    """What a row of a table of readings says that ``--reading`` cannot, as attributes.

    Layer and water; that it was a bale; the usual error of a bale's probe, or of an oven,
    where the row gives none: as the farm's log reads the same columns.
    """
    words = {name: str(given[name]).strip().casefold()
             for name in ("kind", "layer", "method") if name in given}  # fmt: skip
    for name, known in (("layer", LAYERS), ("method", METHODS)):
        if words.get(name, known[0]) not in known:
            value = shorten(str(given[name]))
            raise InputError("door_reading_word", name=name, value=value, known=", ".join(known))
    beside: dict[str, Any] = {name: words[name] for name in ("layer",) if name in words}
    if words.get("kind") == "bale":
        beside["kind"] = "bale"
    if "meter_error" not in given and words.get("method") == "oven":
        beside["error_wb"] = OVEN_ERROR_WB
    elif "meter_error" not in given and "kind" in beside:
        beside["error_wb"] = METER_ERRORS["bale"]
    for column, unit in (("water_l_per_t", "L/t"), ("water_gal_per_ton", "gal/ton")):
        if column in given:
            water = float(to_inside(1.0, "water_rate", unit))
            low, high = (limit / water for limit in WATER_RANGE_L_T)
            _check_number(column, given[column], low, high)
            beside["water_l_t"] = given[column] * water
    return beside


class FieldNight:
    """One field's night; `record` holds everything behind it.

    Attributes
    ----------
    record
        `hayweather.nights.FieldNight`.
    """

    def __init__(self, record: FieldRecord, night: NightRecord) -> None:
        self.record = record
        self._night = night

    @property
    def name(self) -> str:
        """Name of the field."""
        return self.record.setting.field.name

    @property
    def hours(self) -> pd.DataFrame:
        """A row an hour, local index, columns with their units (also ``attrs["units"]``)."""
        from hayweather.show.outlook_data import hours_frame

        return hours_frame(self.record)

    @property
    def windows(self) -> pd.DataFrame:
        """A row a window to bale in."""
        from hayweather.show.outlook_data import windows_frame

        return windows_frame(self.record)

    @property
    def weather(self) -> pd.DataFrame:
        """The hours of weather that were used, SI, local index."""
        zone = str(self.record.setting.site.timezone)
        return self.record.shown.weather.to_pandas(zone)

    def plot(self, units: UnitSystem | None = None) -> Figure:
        """The chart of the night.

        Parameters
        ----------
        units
            ``"us"`` or ``"metric"``; None for the farm's own.
        """
        from hayweather.show.chart import figure_of, look_for

        look = look_for(self._night, _system(units, self._night.farm.units))
        return figure_of(self.record, look)

    def __repr__(self) -> str:
        return repr(self.record)


class Night:
    """A farm's night; ``night["bench"]`` is a field of it, `record` all behind it.

    Attributes
    ----------
    record
        `hayweather.nights.Night`.
    """

    def __init__(self, record: NightRecord, asked: _Asked) -> None:
        self.record = record
        self.asked = asked

    @property
    def now(self) -> pd.Timestamp:
        """When it was asked, on the clock of the first site."""
        import pandas as pd

        return pd.Timestamp(self.record.now, tz="UTC").tz_convert(self.record.timezone)

    @property
    def notes(self) -> list[str]:
        """Where the weather comes from, what was derived, filled in or assumed, what to heed."""
        from hayweather.show.outlook_text import farm_notes
        from hayweather.show.voice import Voice, phrases
        from hayweather.show.weather_facts import weather_lines, weather_summary

        farm = self.record.farm
        voice = Voice.of(farm, farm.units, self.record.timezone)
        lines = weather_lines(weather_summary(self.record), voice)
        return [*lines, *farm_notes(self.record, voice), *phrases(self.record.cautions, voice)]

    @property
    def fields(self) -> tuple[str, ...]:
        """Names of the fields."""
        return tuple(field.setting.field.name for field in self.record.fields)

    def __getitem__(self, name: str) -> FieldNight:
        """A field by its name; an unknown one raises `FarmFileError`."""
        return FieldNight(self.record[name], self.record)

    def __iter__(self) -> Iterator[FieldNight]:
        """The fields, in the order of the farm."""
        return (FieldNight(field, self.record) for field in self.record.fields)

    def __contains__(self, name: object) -> bool:
        """Whether a field has this name."""
        return name in self.fields

    def __len__(self) -> int:
        """Number of fields."""
        return len(self.record.fields)

    def text(self, width: int = 80, units: UnitSystem | None = None) -> str:
        """What ``hayweather outlook --all`` prints.

        Parameters
        ----------
        width
            Characters a line.
        units
            None for the farm's own.
        """
        from hayweather.show.outlook_text import outlook_text

        return outlook_text(self.record, _system(units, self.record.farm.units), width)

    def __repr__(self) -> str:
        return repr(self.record)

    def _repr_html_(self) -> str:
        from hayweather.show.page import html_of

        return html_of(self.record)


PLACE_LIMITS = (("latitude", -90, 90), ("longitude", -180, 180), ("elevation", -430, 5000))
MOISTURE_LIMITS_WB = (3.0, 85.0)
AIR_LIMITS_C = (-60.0, 60.0)
KINDS: tuple[tuple[str, LayerKind], ...] = (
    ("leaf", "leaf"),
    ("stem", "stem"),
    ("whole", "windrow"),
)
LEAST = {"dry_matter_kg_m2": 0.01, "density_kg_m3": 0.1}


def _numbers(name: str, values: Any, low: float, high: float) -> np.ndarray:
    """Numbers of a caller's, the first that cannot be refused; NaN may."""
    try:
        numbers = np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError):
        raise InputError("door_no_number", name=name, value=shorten(repr(values))) from None
    for value in numbers[(numbers < low) | (numbers > high)][:1].tolist():
        _check_number(name, value, low, high)
    return numbers


def _check_number(name: str, value: Any, low: float, high: float) -> None:
    """Refuse what is no number, and a number that cannot be."""
    if isinstance(value, bool) or not isinstance(value, int | float | np.number):
        raise InputError("door_no_number", name=name, value=shorten(repr(value)))
    if not low <= value <= high:
        most = f"{high:g}" if math.isfinite(high) else "..."
        raise InputError("door_number", name=name, value=f"{value:g}", low=f"{low:g}", high=most)


def _check_whole(name: str, value: Any, low: int, high: float) -> None:
    """Refuse what is no whole number between two."""
    _check_number(name, value, low, high)
    if value != int(value):
        most = f"{high:g}" if math.isfinite(high) else "..."
        raise InputError("door_whole", name=name, value=f"{value:g}", low=low, high=most)


def follow_windrow(
    weather: Any,
    *,
    latitude: float,
    longitude: float,
    elevation: float | str,
    moisture_wb: float | None = None,
    timezone: str = "UTC",
    **windrow: float,
) -> pd.DataFrame:
    """A windrow of alfalfa followed through hours of weather, a row a quarter hour.

    The model alone: no baler, no call, no chances.

    Parameters
    ----------
    weather
        From `read_weather` or `weather_from`, or a pandas or xarray table.
    latitude, longitude, elevation
        Of the place [deg, deg, m or text with a unit].
    moisture_wb
        Of all of the hay at the first hour [% wet basis]; None: in equilibrium
        with the air then.
    timezone
        Of the index.
    **windrow
        Fields of `hayweather.windrow.parameters.WindrowParameters`.

    Returns
    -------
    DataFrame
        Moisture of leaf, stem and the whole by layer (top 15 %, middle 35 %, bottom
        50 % of the dry matter) [% wet basis], free water [mm], temperature [C] and
        humidity at the skin [%]; NaN where the weather is missing.

    Raises
    ------
    InputError
        If a field of the windrow is not known, a number cannot be, or the weather is wrong.
    """
    import pandas as pd

    from hayweather.nights.drive import follow

    hours = weather if isinstance(weather, HourlyWeather) else weather_from(weather)
    place = (latitude, longitude, meters_of(elevation) or 0.0)
    for (name, low, high), value in zip(PLACE_LIMITS, place, strict=True):
        _check_number(name, value, low, high)
    if moisture_wb is not None:
        _check_number("moisture_wb", moisture_wb, *MOISTURE_LIMITS_WB)
    for name, value in windrow.items():
        if isinstance(value, str | int | float):
            _check_number(name, value, LEAST.get(name, 0.0), math.inf)
    zone = zone_of_option(timezone)
    run = follow(hours, place, moisture_wb, windrow)
    columns = {
        f"{part}_{name}_moisture_percent_wb": run.layer_wb(part, kind)[:, 0]
        for part in LAYERS
        for name, kind in KINDS
    }
    whole = {
        "windrow_moisture_percent_wb": run.windrow_wb[:, 0],
        "free_water_mm": run.free_water_mm[:, 0],
        "skin_temperature_c": run.skin_temperature_c[:, 0],
        "skin_humidity_percent": 100 * run.skin_humidity[:, 0],
    }
    index = pd.DatetimeIndex(run.times()[:, 0], name="time").tz_localize("UTC")
    table = pd.DataFrame({**whole, **columns}, index=index.tz_convert(zone))
    units = {"free_water_mm": "mm", "skin_temperature_c": "°C"}
    table.attrs["units"] = {name: units.get(name, "%") for name in table.columns}
    return table


def equilibrium_moisture(
    relative_humidity: Any, temperature_c: Any, crop: str = DEFAULT_CROP
) -> np.ndarray:
    """Moisture of drying hay in equilibrium with air [% wet basis].

    Parameters
    ----------
    relative_humidity
        Percent, a number or an array; NaN stays NaN.
    temperature_c
        [C], likewise.
    crop
        As in a farm file.

    Raises
    ------
    FarmFileError
        If there is no such crop.
    InputError
        If a number cannot be.
    """
    from hayweather.windrow.sorption import equilibrium_moisture as held
    from hayweather.windrow.sorption import wet_basis

    known = crop_of(crop)
    humidity = _numbers("relative_humidity", relative_humidity, 0, 100) / 100
    warmth = _numbers("temperature_c", temperature_c, *AIR_LIMITS_C)
    try:
        humidity, warmth = np.broadcast_arrays(humidity, warmth)
    except ValueError:
        raise InputError(
            "door_shapes",
            names="relative_humidity, temperature_c",
            first=humidity.shape,
            second=warmth.shape,
        ) from None
    leaf, stem = (held(humidity, warmth, curve) for curve in (known.leaf, known.stem))
    return np.asarray(wet_basis(known.leaf_share * leaf + (1 - known.leaf_share) * stem))


def plan_work(night: Night, *, days: int | None = None, seconds: float = 10.0) -> Plan:
    """Which field is baled when, by which baler and how, over the coming nights.

    Parameters
    ----------
    night
        From `night_of`; its readings count.
    days
        Nights to plan, 1 to 7, tonight's the first; None for the hours of the outlook.
    seconds
        Longest time to look for a better plan.

    Raises
    ------
    InputError
        If the farm lacks what a plan needs: one line.
    """
    from hayweather.plan.make import check_days, price_needed
    from hayweather.plan.make import plan_work as planned

    if not isinstance(night, Night):
        raise InputError("door_night", value=shorten(repr(night)))
    check_days(days)
    price_needed(night.asked.farm)
    ahead = night.asked.driven(days=days)
    return Plan(planned(ahead, seconds=seconds), night)


class Plan:
    """A plan for all fields; `record` holds everything behind it.

    Attributes
    ----------
    record
        `hayweather.plan.record.FieldsPlan`.
    """

    def __init__(self, record: FieldsPlan, night: Night) -> None:
        self.record = record
        self.night = night

    @property
    def visits(self) -> pd.DataFrame:
        """A row a stretch of work: who, where, when, how, how much."""
        from hayweather.show.plan_data import blocks_frame

        return blocks_frame(self.record)

    def sheet(self, machine: str) -> pd.DataFrame:
        """The run sheet of one baler or rig in driving order; an unknown one raises `InputError`.

        Empty where the machine has no work.
        """
        from hayweather.plan.sheet import make_runsheet
        from hayweather.show.runsheet_data import steps_frame
        from hayweather.show.voice import Voice

        farm = self.record.farm
        known = [*farm.balers, *(farm.rigs or {})]
        if machine not in known:
            raise InputError("door_machine", value=shorten(str(machine)), known=", ".join(known))
        made = make_runsheet(self.record.night, self.record.work).of_machine(machine)
        steps = [step for each in made.machines for step in each.steps]
        return steps_frame(steps, Voice("en", farm.units, self.record.night.timezone))

    def text(self, width: int = 80, units: UnitSystem | None = None) -> str:
        """What ``hayweather plan`` prints."""
        from hayweather.show.plan_text import plan_text

        return plan_text(self.record, _system(units, self.record.farm.units), width)

    def __repr__(self) -> str:
        count = len(self.record.blocks)
        return f"<Plan of {self.record.farm.name}: {count} stretches of work>"


def compare_seasons(
    sites: str | Path,
    *,
    months: Sequence[int] | None = None,
    years: tuple[int, int] | None = None,
    cores: int | None = None,
) -> Seasons:
    """Sites and years compared: how often dew comes, what a rig would add.

    A site whose hours cannot be had is left out and named, as long as another is there.

    Parameters
    ----------
    sites
        Path of a sites file.
    months
        1 to 12; None for those of the growing season that have data.
    years
        First and last; None for all that the files have.
    cores
        None for all.

    Raises
    ------
    InputError, WeatherUnavailableError
        If the hours of no site can be had: one line.
    """
    from hayweather.seasons.engine import Request, make_seasons
    from hayweather.seasons.mean_season import DRAWS
    from hayweather.seasons.sites import read_sites

    chosen = None if months is None else _whole(months, "months", 1, 12)
    if years is not None:
        years = _whole(years, "years", 1, 9999)  # type: ignore[assignment]
        if len(years) != 2 or years[0] > years[1]:
            raise InputError(
                "door_whole", name="years", value=shorten(repr(years)), low=1, high=9999
            )
    if cores is not None:
        _check_whole("cores", cores, 1, math.inf)
    request = Request(months=chosen, years=years, draws=DRAWS, cores=cores)
    return Seasons(make_seasons(read_sites(path_of(sites)), request))


def _whole(given: Any, name: str, low: int, high: int) -> tuple[int, ...]:
    """Whole numbers between two, as a caller gave them."""
    if isinstance(given, Iterable) and not isinstance(given, str):
        numbers = list(given)
        if numbers and all(
            isinstance(each, int | np.integer) and low <= each <= high for each in numbers
        ):
            return tuple(int(each) for each in numbers)
    raise InputError("door_whole", name=name, value=shorten(repr(given)), low=low, high=high)


class Seasons:
    """Sites and years compared; `record` holds everything behind it.

    Attributes
    ----------
    record
        `hayweather.seasons.record.results.Seasons`.
    """

    def __init__(self, record: SeasonsRecord) -> None:
        self.record = record

    @property
    def months(self) -> pd.DataFrame:
        """A row a site, year and month."""
        from hayweather.show.seasons_data import months_frame

        return months_frame(self.record)

    def to_xarray(self) -> xr.Dataset:
        """The numbers of `months` by site, year and month (extra ``grid``)."""
        table = self.months.reset_index()
        axes = [name for name in ("site", "year", "month") if name in table.columns]
        numbers = table.set_index(axes).select_dtypes("number")
        numbers = numbers.drop(columns="index", errors="ignore")
        found: xr.Dataset = numbers.to_xarray()
        units = self.months.attrs.get("units", {})
        for name, column in found.data_vars.items():
            column.attrs["units"] = units.get(str(name), "1")
        return found

    def text(self, width: int = 80, units: UnitSystem | None = None) -> str:
        """What ``hayweather seasons`` prints."""
        from hayweather.show.seasons_text import seasons_text

        return seasons_text(self.record, _system(units, self.record.file.units), width)

    def plot(self) -> dict[str, Figure]:
        """The charts, by name."""
        from hayweather.show.seasons_chart import season_figures

        return {name: draw() for name, draw in season_figures(self.record)}

    def __repr__(self) -> str:
        names = ", ".join(site.site.name for site in self.record.sites)
        left = ", ".join(out.site for out in self.record.left_out)
        return (
            f"<Seasons of {names}; faults in the weather of {left}>"
            if left
            else (f"<Seasons of {names}>")
        )


def tune(
    farm: Farm | str | Path,
    readings: str | Path | None = None,
    weather: Any = None,
    *,
    at_field: bool = False,
) -> Fit:
    """Fit the windrow to a farm's own moisture readings.

    Parameters
    ----------
    farm
        From `read_farm` or `farm_of`, or a path.
    readings
        Path of READINGS.csv; None: those in the farm's log.
    weather
        Past weather, as in `night_of`; None: what the farm names.
    at_field
        True where the weather was measured beside the windrow.
    """
    from hayweather.learning.past import past_readings, sites_of
    from hayweather.learning.tune import fit

    known = farm if isinstance(farm, Farm) else read_farm(farm)
    notes = past_readings(known, None if readings is None else path_of(readings))
    sites = sites_of(known, notes)
    every = _weather(known, weather, None)
    return Fit(fit(known, {name: every[name] for name in sites}, notes, at_field=at_field), known)


class Fit:
    """What readings say of the windrow; `record` holds everything behind it.

    Attributes
    ----------
    record
        `hayweather.learning.tune.Fit`.
    """

    def __init__(self, record: FitRecord, farm: Farm) -> None:
        self.record = record
        self.farm = farm

    @property
    def numbers(self) -> pd.DataFrame:
        """A row a number: fitted, its bar, what it was before."""
        from hayweather.show.tune import NUMBERS
        from hayweather.show.voice import Voice

        return NUMBERS.frame(self.record.fitted, Voice("en", self.farm.units, "UTC"))

    def text(self, width: int = 80) -> str:
        """What ``hayweather tune`` prints."""
        from hayweather.show.tune import tune_text
        from hayweather.show.voice import Voice

        voice = Voice.of(self.farm, self.farm.units, "UTC")
        return tune_text(self.record, voice, self.farm.name, self.farm.units, width)

    def __repr__(self) -> str:
        return f"<Fit of {self.farm.name}: {len(self.record.fitted)} numbers>"


def score(
    farm: Farm | str | Path,
    log: str | Path | None = None,
    kept: str | Path | None = None,
    readings: str | Path | None = None,
) -> Score:
    """How past outlooks did against what happened.

    Parameters
    ----------
    farm
        From `read_farm` or `farm_of`, or a path.
    log
        Path of LOG.csv; None: the farm's log.
    kept
        Folder of outlooks kept, beside those in the farm's log; None: ``outlooks`` where
        there is such a folder.
    readings
        Path of READINGS.csv; None: those in the farm's log.
    """
    from hayweather.learning.past import past_of
    from hayweather.learning.score import score as scored

    known = farm if isinstance(farm, Farm) else read_farm(farm)
    happened, notes, folder = (
        None if path is None else path_of(path) for path in (log, readings, kept)
    )
    past = past_of(known, happened, notes, folder)
    return Score(scored(past.outlooks, past.events, past.readings), known)


class Score:
    """How past outlooks did; `record` holds everything behind it.

    Attributes
    ----------
    record
        `hayweather.learning.score.Score`.
    """

    def __init__(self, record: ScoreRecord, farm: Farm) -> None:
        self.record = record
        self.farm = farm

    def text(self, width: int = 80) -> str:
        """What ``hayweather score`` prints."""
        from hayweather.show.score import score_text
        from hayweather.show.voice import Voice

        voice = Voice.of(self.farm, self.farm.units, "UTC")
        return score_text(self.record, voice, self.farm.name, width)

    def __repr__(self) -> str:
        return f"<Score of {self.farm.name}: {self.record.outlooks} outlooks>"


def trial(
    strips: str | Path, *, price_per_kg: float | None = None, cost_per_kg: float = 0.0
) -> Trial:
    """What a grower's own strips, with and without added moisture, can show.

    Parameters
    ----------
    strips
        Path of TRIAL.csv.
    price_per_kg, cost_per_kg
        Of hay, and of adding moisture, in any currency.
    """
    from hayweather.seasons.strips import read_strips
    from hayweather.seasons.trial import judge_trial

    path = path_of(strips)
    found = read_strips(path)
    made = judge_trial(path.name, found.strips, price_per_kg, cost_per_kg)
    return Trial(made, invented=found.invented)


class Trial:
    """What strips show; `record` holds everything behind it.

    Attributes
    ----------
    record
        `hayweather.seasons.record.trial.Trial`.
    invented
        True where the strips are made up.
    """

    def __init__(self, record: TrialRecord, *, invented: bool) -> None:
        self.record = record
        self.invented = invented

    def text(self, width: int = 80, units: UnitSystem = "us") -> str:
        """What ``hayweather trial`` prints."""
        from hayweather.show.trial import trial_text
        from hayweather.show.voice import Voice

        voice = Voice("en", _system(units, "us"), "UTC")
        return trial_text(self.record, voice, width, invented=self.invented)

    def __repr__(self) -> str:
        return f"<Trial {self.record.file}>"
