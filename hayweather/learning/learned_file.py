"""Errors of the forecast kept beside the farm file: ``FARM.learned.json``, by site."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np

from hayweather.errors import InputError, OutputError
from hayweather.farm.records import Farm, Site
from hayweather.farm.zones import distance_km
from hayweather.learning.forecast_errors import LEAST_NIGHTS, LEAST_SIZE_SHARE, MOST_MEMORY
from hayweather.log.book import OTHER_PLACE_KM
from hayweather.weather.record import HourlyWeather
from hayweather.whole_file import whole_file
from hayweather.windrow.spread import ERRORS, LEAD_H, ForecastErrors, HourlyError

SCHEMA = "hayweather/learned/1"
ENDING = ".learned.json"
MOST_SIZE_SHARE = 4.0  # of the assumed size; above it nothing is believed (assumed)
MOST_BYTES = 1_000_000
DAY = np.timedelta64(86_400, "s")


def learned_path(farm_file: Path) -> Path:
    """Where the learned errors of a farm stand.

    Examples
    --------
    >>> learned_path(Path("hay/bench.toml")).name
    'bench.learned.json'
    """
    return farm_file.with_name(farm_file.stem + ENDING)


def write_learned(
    path: Path,
    sites: Mapping[str, Site],
    errors: Mapping[str, ForecastErrors],
    sources: Mapping[str, str],
) -> None:
    """Write fitted errors, whole or not at all, only over a file of the same kind.

    Parameters
    ----------
    path
        As `learned_path` gives it.
    sites, errors
        By name of the site; errors that are assumed are not written.
    sources
        Whose forecasts they are, by site, as `Source.name`.

    Raises
    ------
    OutputError
        If somebody else's file stands there, or it cannot be written.
    InputError
        If a number is none that a forecast's error has: it would be refused when read.
    """
    _check_ours(path)
    form: dict[str, Any] = {
        "schema": SCHEMA,
        "sites": {
            name: {
                "latitude": sites[name].latitude,
                "longitude": sites[name].longitude,
                "source": sources[name],
                "nights": each.nights,
                "until": str(each.until.astype("datetime64[D]")),
                "lead_h": list(LEAD_H),
                "columns": {
                    column: asdict(error) for column, error in each.columns.items() if error.fitted
                },
                "ties": [[*pair, tie] for pair, tie in each.ties.items()],
            }
            for name, each in errors.items()
            if each.fitted and each.until is not None
        },
    }
    text = json.dumps(form, ensure_ascii=False, allow_nan=False, indent=1) + "\n"
    try:
        for name, each in form["sites"].items():
            _errors(path, sites[name], each, np.datetime64(each["until"], "s") + DAY)
    except InputError as problem:
        raise InputError("learned_too_far", str(path), **problem.values) from None
    try:
        with whole_file(path, lasting=True, for_others=True) as file:
            file.write(text.encode())
    except OSError as problem:
        reason = problem.strerror or str(problem)
        raise OutputError("learned_not_written", str(path), reason=reason) from None


def forget_learned(path: Path) -> bool:
    """Take learned errors away; whether there were any.

    Raises
    ------
    OutputError
        If somebody else's file stands there, or it cannot be removed.
    """
    if not path.exists():
        return False
    _check_ours(path)
    try:
        path.unlink()
    except OSError as problem:
        reason = problem.strerror or str(problem)
        raise OutputError("learned_not_written", str(path), reason=reason) from None
    return True


def _check_ours(path: Path) -> None:
    """Refuse to touch a file that is none of learned errors; an empty one is nobody's."""
    if not path.exists():
        return
    with suppress(OSError, ValueError, TypeError, KeyError, RecursionError):
        content = path.read_bytes()[: MOST_BYTES + 1]
        if not content or json.loads(content)["schema"] == SCHEMA:
            return
    raise OutputError("learned_not_ours", str(path))


def learned_for(
    farm: Farm, weather: Mapping[str, HourlyWeather], now: np.datetime64
) -> dict[str, ForecastErrors]:
    """The learned errors that hold for a farm's weather by site, as `read_learned`."""
    if farm.path is None:
        return {}
    sources = {name: hours.source.name for name, hours in weather.items()}
    return read_learned(learned_path(Path(farm.path)), farm.sites, now, sources)


def learned_of(farm: Farm, now: np.datetime64) -> dict[str, ForecastErrors]:
    """All learned errors of a farm by site, whosever forecasts they are."""
    if farm.path is None:
        return {}
    return read_learned(learned_path(Path(farm.path)), farm.sites, now, None)


def read_learned(
    path: Path, sites: Mapping[str, Site], now: np.datetime64, sources: Mapping[str, str] | None
) -> dict[str, ForecastErrors]:
    """Learned errors by site, for `night_of`; empty where there is no file.

    Parameters
    ----------
    path
        As `learned_path` gives it.
    sites
        Of the farm; a site that the farm no longer has is left out.
    now
        UTC.
    sources
        Whose forecasts are at hand, by site; errors of another source are left out.
        None: all are given.

    Raises
    ------
    InputError
        If the file is damaged, of another place, of nights after now, or holds a
        number that no forecast's error has.
    """
    if not path.exists():
        return {}
    try:
        with path.open("rb") as file:
            form = json.loads(file.read(MOST_BYTES))
        if form["schema"] != SCHEMA:
            raise ValueError("schema")
        kept = {name: each for name, each in form["sites"].items() if name in sites}
        found = {name: _errors(path, sites[name], each, now) for name, each in kept.items()}
        return {
            name: each
            for name, each in found.items()
            if sources is None or kept[name]["source"] == sources.get(name)
        }
    except OSError as problem:
        raise InputError("learned_damaged", str(path), part=problem.strerror) from None
    except KeyError as problem:
        raise InputError("learned_damaged", str(path), part=problem.args[0]) from None
    except (ValueError, TypeError, AttributeError, OverflowError, RecursionError):
        raise InputError("learned_damaged", str(path), part="JSON") from None


def _errors(path: Path, site: Site, form: Mapping[str, Any], now: np.datetime64) -> ForecastErrors:
    """One site."""
    away = distance_km(
        site.latitude, site.longitude, float(form["latitude"]), float(form["longitude"])
    )
    if not away <= OTHER_PLACE_KM:
        raise InputError("learned_other_place", str(path), value=site.name, distance=f"{away:.0f}")
    until = np.datetime64(form["until"], "D")
    if np.isnat(until):
        raise ValueError("until")
    if until > now.astype("datetime64[D]"):
        raise InputError("learned_future", str(path), value=until, now=now)
    if tuple(form["lead_h"]) != LEAD_H:
        raise ValueError("lead_h")
    if set(form["columns"]) - set(ERRORS):
        raise ValueError("columns")
    columns = {
        name: _column(path, name, form["columns"][name]) if name in form["columns"] else assumed
        for name, assumed in ERRORS.items()
    }
    ties = {}
    for one, other, tie in form["ties"]:
        if one not in ERRORS or other not in ERRORS or one == other:
            raise ValueError("ties")
        ties[one, other] = _within(path, f"{one} {other}", tie, -1.0, 1.0)
    nights = int(_within(path, "nights", form["nights"], LEAST_NIGHTS, 100_000))
    return ForecastErrors(columns, ties, nights, until)


def _column(path: Path, name: str, form: Mapping[str, Any]) -> HourlyError:
    """One column; the sizes of few nights are assumed ones, and nothing else is believed."""
    assumed = ERRORS[name].size
    low, high = LEAST_SIZE_SHARE * assumed, MOST_SIZE_SHARE * assumed
    sizes = tuple(_within(path, f"{name} sizes", each, low, high) for each in form["sizes"])
    biases = tuple(_within(path, f"{name} biases", each, -high, high) for each in form["biases"])
    counts = tuple(int(_within(path, f"{name} nights", n, 0, 100_000)) for n in form["nights"])
    if not len(sizes) == len(biases) == len(counts) == len(LEAD_H):
        raise ValueError(name)
    for at, count in enumerate(counts):
        if count < LEAST_NIGHTS and (sizes[at], biases[at]) != (assumed, 0.0):
            raise InputError(
                "learned_absurd", str(path), part=f"{name} nights", value=count,
                low=LEAST_NIGHTS, high=100_000,
            )  # fmt: skip
    memory = _within(path, f"{name} memory", form["memory"], 0.0, MOST_MEMORY)
    return HourlyError(memory, assumed, sizes, biases, counts)


def _within(path: Path, part: str, value: object, low: float, high: float) -> float:
    """A number between its limits."""
    number = float(value) if isinstance(value, int | float) else math.nan
    slack = 1e-9 * max(abs(low), abs(high))
    if not low - slack <= number <= high + slack:
        said = {"value": value, "low": f"{low:g}", "high": f"{high:g}"}
        raise InputError("learned_absurd", str(path), part=part, **said)
    return number
