"""The open weather API: forecast, forecast runs, past hours, earlier forecasts.

Always asked in GMT: the service applies one offset to a whole series, so a
local series over a clock change is wrong by an hour. The addresses, names and
limits are those of its documentation.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date

import numpy as np

from hayweather.errors import OptionError
from hayweather.farm.records import Site
from hayweather.weather import catalog
from hayweather.weather.judge import judged
from hayweather.weather.record import (
    DERIVED,
    HOUR,
    NEEDED,
    Assumption,
    Booleans,
    Floats,
    HourlyWeather,
    Source,
)
from hayweather.weather.services.answers import (
    Access,
    Obtained,
    Reading,
    covers,
    obtain,
    open_access,
)
from hayweather.weather.services.failures import ServiceError
from hayweather.weather.services.http import Request
from hayweather.weather.services.joined import with_earlier
from hayweather.weather.services.open_meteo_days import days_with_past, years_between
from hayweather.weather.services.open_meteo_hours import (
    SERVICE,
    VARIABLES,
    Run,
    Stamped,
    join,
    lanes,
    read_hours,
)
from hayweather.weather.services.settings import KEY_VARIABLE, ServiceSettings
from hayweather.weather.services.values import (
    HUMIDITY,
    require,
    settle_dew_point,
    without_blank,
)

TERMS = "https://open-meteo.com/en/terms"
WIND_HEIGHT_M = 10.0
FORECAST = tuple(VARIABLES)
RUNS = tuple(name for name in VARIABLES if name != "precipitation_probability")
PAST = RUNS
EARLIER = ("temperature_2m", "relative_humidity_2m", "dew_point_2m", "wind_speed_10m",
           "cloud_cover", "shortwave_radiation", "precipitation")  # fmt: skip
EARLIER_SINCE = date(2024, 1, 1)
"""Before it the service keeps no earlier forecasts of most models, by its documentation."""
DEFAULT_RUN_MODEL = "gfs_seamless"
SETTLED_DAYS = 10
"""Past hours this old change no more; reanalysis is some days late (assumed)."""

Progress = Callable[[int, int], None]


def fetch_forecast(
    site: Site,
    settings: ServiceSettings,
    *,
    now: np.datetime64,
    offline: bool = False,
    models: Sequence[str] = (),
) -> HourlyWeather:
    """Forecast with the last two days before it, (hours, 1) or a lane a model.

    Raises
    ------
    ServiceError
        If neither the service nor the store has an answer that serves.
    """
    access = open_access(settings, now=now, offline=offline)
    extra = {"models": ",".join(models)} if models else {}
    return _ahead(access, site, "open_meteo_url", "/v1/forecast", FORECAST, extra)


def fetch_ensemble(
    site: Site,
    settings: ServiceSettings,
    *,
    now: np.datetime64,
    offline: bool = False,
    model: str = DEFAULT_RUN_MODEL,
) -> HourlyWeather:
    """Forecast runs of one model as lanes, (hours, runs), the unperturbed run first.

    Raises
    ------
    ServiceError
        If neither the service nor the store has an answer that serves.
    """
    access = open_access(settings, now=now, offline=offline)
    return _ahead(access, site, "ensemble_url", "/v1/ensemble", RUNS, {"models": model})


def fetch_past(
    site: Site,
    first: date,
    last: date,
    settings: ServiceSettings,
    *,
    now: np.datetime64,
    offline: bool = False,
    progress: Progress | None = None,
) -> HourlyWeather:
    """Past hours from the day `first` to the day `last`, both whole, UTC, (hours, 1).

    Asked year by year; a year that was had before comes from the store, so a
    broken pull goes on where it stopped.

    Parameters
    ----------
    site, first, last
        The place, and UTC days, both included.
    settings, now, offline
        Addresses, key, store; UTC; True where only the store may serve.
    progress
        Called with the pieces done and their number.

    Raises
    ------
    OptionError
        If there are no past hours between the two days.
    ServiceError
        If a piece cannot be had; those before it are stored by then.
    """
    access = open_access(settings, now=now, offline=offline, bulk=True)
    requests = past_requests(access, site, first, last)
    reading = Reading(_read_needed, lasts=lambda stamped: _is_settled(stamped, now))
    found: list[Obtained[Stamped]] = []
    for done, request in enumerate(requests.values(), start=1):
        found.append(obtain(access, request, reading))
        if progress is not None:
            progress(done, len(requests))
    whole = join([piece.value for piece in found])
    return _weather(_together(whole, found), [Run(0, "", 0)])


def past_requests(
    access: Access, site: Site, first: date, last: date
) -> dict[tuple[date, date], Request]:
    """What `fetch_past` asks, by first and last day of each piece."""
    return {
        (begin, end): _request(
            access, site, "archive_url", "/v1/archive", PAST,
            {"start_date": begin.isoformat(), "end_date": end.isoformat()},
        )
        for begin, end in years_between(*days_with_past(first, last, access.now))
    }  # fmt: skip


def fetch_earlier_forecasts(
    site: Site,
    first: date,
    last: date,
    settings: ServiceSettings,
    *,
    now: np.datetime64,
    leads: Sequence[int] = (1,),
    offline: bool = False,
) -> dict[int, HourlyWeather]:
    """What earlier forecasts said of past days, ``{lead in days: (hours, 1)}``.

    A lead of which the service has no air temperature is absent; what it lacks at one that it
    has is NaN: errors of one column are learned without those of another. Years are asked one
    by one, days before `EARLIER_SINCE` not at all.

    Raises
    ------
    ServiceError
        If neither the service nor the store has an answer that serves.
    """
    access = open_access(settings, now=now, offline=offline, bulk=True)
    first = max(first, EARLIER_SINCE)
    last = min(last, now.astype("datetime64[D]").item())
    if last < first:
        return {}
    names = [f"{name}_previous_day{lead}" for lead in leads for name in EARLIER]
    reading = Reading(
        _read_earlier, check=_require_asked, lasts=lambda stamped: _is_settled(stamped, now)
    )
    found = []
    for begin, end in years_between(first, last):
        extra = {"start_date": begin.isoformat(), "end_date": end.isoformat()}
        request = _request(access, site, "previous_url", "/v1/forecast", names, extra)
        found.append(obtain(access, request, reading))
    whole = join([piece.value for piece in found])
    runs = {
        run.lead: run
        for run, columns in whole.columns.items()
        if run.lead in leads and "air_temperature_c" in columns
    }
    together = _together(_with_blanks(whole, runs.values()), found)
    return {lead: _weather(together, [run]) for lead, run in sorted(runs.items())}


def _read_earlier(answer: object) -> Stamped:
    """Hours in which some run has the air's temperature."""
    stamped = read_hours(answer)
    if not any("air_temperature_c" in columns for columns in stamped.columns.values()):
        raise ServiceError("service_lacks", SERVICE, name="air_temperature_c")
    return stamped


def _with_blanks(stamped: Stamped, runs: Iterable[Run]) -> Stamped:
    """The hours with NaN for what the windrow needs and a run does not have."""
    blank = np.full(stamped.hours, np.nan)
    needed = {name: blank for name in NEEDED if name != "dew_point_c"}
    columns = {run: {**needed, **stamped.columns[run]} for run in runs}
    for held in columns.values():
        if not {"dew_point_c", HUMIDITY} & set(held):
            held["dew_point_c"] = blank
    return replace(stamped, columns=columns)


def ask_zone(
    site: Site, settings: ServiceSettings, *, now: np.datetime64, offline: bool = False
) -> tuple[str | None, float | None]:
    """The name of the time zone and the elevation [m] of a place, where the service has them.

    Raises
    ------
    ServiceError
        If neither the service nor the store has an answer.
    """
    access = open_access(settings, now=now, offline=offline)
    extra = {"forecast_days": "1", "timezone": "auto"}
    request = _request(access, site, "open_meteo_url", "/v1/forecast", ("temperature_2m",), extra)
    reading = Reading(read_hours, lasts=lambda stamped: stamped.timezone is not None)
    stamped = obtain(access, request, reading).value
    return stamped.timezone, stamped.elevation_m


def require_terms(terms: str | None, settings: ServiceSettings) -> None:
    """Refuse free use by somebody who has not said that it is non-commercial.

    Parameters
    ----------
    terms, settings
        What was said of the use, None for nothing; a key in the settings stands for it.

    Raises
    ------
    OptionError
        If there is neither a key nor ``terms = "non-commercial"``.
    """
    if settings.key is None and terms != "non-commercial":
        raise OptionError("service_terms", "[weather] terms", link=TERMS, variable=KEY_VARIABLE)


def _ahead(
    access: Access, site: Site, base: str, path: str, names: Sequence[str], extra: Mapping[str, str]
) -> HourlyWeather:
    """A forecast, which serves from the store while some of it lies ahead; a lane a run."""
    request = _request(access, site, base, path, names, {"past_days": "2", **extra})

    def judge(stamped: Stamped) -> object:
        _require_asked(stamped)
        weather = _weather(Obtained(stamped, access.now), sorted(stamped.columns))
        return judged(weather, site, ServiceError, access.settings.believe)

    def serves(stamped: Stamped) -> bool:
        return covers(stamped.start, _end(stamped), access.now)

    alone = names is FORECAST and "models" not in extra
    reading = Reading(_read_needed, serves, judge, joins=alone)
    found = obtain(access, request, reading)
    weather = _weather(found, sorted(found.value.columns))
    earlier = (
        _weather(Obtained(stamped, fetched), sorted(stamped.columns))
        for stamped, fetched in found.earlier
    )
    return with_earlier(weather, earlier)


def _require_asked(stamped: Stamped) -> None:
    """Refuse an answer in another clock than the one asked for.

    Raises
    ------
    ServiceError
        If it is.
    """
    if stamped.offset_s:
        raise ServiceError(
            "service_not_as_asked", SERVICE, part="utc_offset_seconds",
            value=f"{stamped.offset_s:g}", wanted="0",
        )  # fmt: skip


def _request(
    access: Access, site: Site, base: str, path: str, names: Sequence[str], extra: Mapping[str, str]
) -> Request:
    """A request for hours of one place, in GMT and m/s unless `extra` says otherwise."""
    params = {
        "latitude": f"{site.latitude:.4f}",
        "longitude": f"{site.longitude:.4f}",
        "hourly": ",".join(names),
        "timezone": "GMT",
        "wind_speed_unit": "ms",
        **extra,
    }
    settings = access.settings
    asked = tuple(params.items())
    where, send_to = settings.base(base), settings.paid_base(base)
    return Request(SERVICE, where, path, asked, send_to, settings.key)


def _read_needed(answer: object) -> Stamped:
    """Hours in which every run has, or can be given, what the windrow needs."""
    stamped = read_hours(answer)
    for run in stamped.columns or [Run(0, "", 0)]:
        _columns_of(stamped, [run])
    return stamped


def _end(stamped: Stamped) -> np.datetime64:
    return stamped.start + stamped.hours * HOUR


def _is_settled(stamped: Stamped, now: np.datetime64) -> bool:
    """Past change and whole: fit to be kept for good."""
    old = now - _end(stamped) >= np.timedelta64(SETTLED_DAYS, "D")
    whole = all(
        not np.isnan(columns[name]).any()
        for columns in stamped.columns.values()
        for name in NEEDED
        if name in columns
    )
    return bool(old) and bool(stamped.columns) and whole


def _together(whole: Stamped, found: Sequence[Obtained[Stamped]]) -> Obtained[Stamped]:
    """One answer of many: as old as the oldest, stored when one is, each note once."""
    notes = [note for piece in found for note in piece.notes]
    once = [note for index, note in enumerate(notes) if note not in notes[:index]]
    oldest = min(piece.fetched for piece in found)
    return Obtained(whole, oldest, any(piece.stored for piece in found), tuple(once))


def _columns_of(
    stamped: Stamped, runs: Sequence[Run]
) -> tuple[dict[str, Floats], Booleans, tuple[Assumption, ...]]:
    """Columns of some runs, complete in what the windrow needs."""
    columns, repaired, notes = settle_dew_point(lanes(stamped, runs), SERVICE)
    require(columns, SERVICE)
    return columns, repaired, notes


def _weather(found: Obtained[Stamped], runs: Sequence[Run]) -> HourlyWeather:
    """The record of some runs of an answer."""
    stamped = found.value
    columns, repaired, notes = _columns_of(stamped, runs)
    raw = lanes(stamped, runs)
    said = raw.get("dew_point_c", np.full(repaired.shape, np.nan))
    derived = np.where(np.isnan(said), DERIVED["dew_point_c"], 0).astype(np.uint8)
    local = stamped.timezone not in (None, "GMT", "UTC")
    return HourlyWeather(
        start=np.full(len(runs), stamped.start),
        columns=without_blank(columns),
        wind_height_m=WIND_HEIGHT_M,
        source=Source(
            SERVICE,
            None,
            found.fetched,
            catalog.OPEN_METEO.attribution,
            found.stored,
            answered=True,
        ),
        repaired=repaired,
        assumed=(*notes, *found.notes),
        elevation_m=stamped.elevation_m,
        latitude=stamped.latitude,
        longitude=stamped.longitude,
        timezone=stamped.timezone if local else None,
        basis=derived,
        humidity_percent=raw.get(HUMIDITY) if "dew_point_c" in raw else None,
    )
