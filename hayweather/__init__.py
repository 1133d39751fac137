"""Which hours bale on natural dew, which need added moisture, and how much.

::

    import hayweather as hw

    farm = hw.read_farm("farm.toml")               # or hw.farm_of(site={...}, field={...}, ...)
    weather = hw.read_weather("station.csv")       # or hw.weather_from(table, units=..., tz=...)
    night = hw.night_of(farm, weather, now="2025-07-08 17:00", readings=["23:10=10.5"])
    night                                          # the answer; in a notebook the strip, too
    night["bench"].hours                           # pandas, local index, units in names and attrs
    night["bench"].windows
    night["bench"].plot()
    hw.plan_work(night).visits                     # which field when, by which baler
    hw.follow_windrow(weather, latitude=43.2, longitude=-120.6, elevation=1320)  # the model alone
    hw.compare_seasons("sites.toml").to_xarray()   # how often dew comes, site by site
    hw.tune(farm, "READINGS.csv").numbers          # the windrow fitted to your own readings
    hw.score(farm, "LOG.csv")                      # how past outlooks did
    hw.trial("TRIAL.csv")                          # what your own strips can show

Times are text, `datetime`, `pandas.Timestamp` or `numpy.datetime64`; one without
an offset is meant on the clock of the site. What is wrong is one line:
`hayweather.errors.InputError`. Missing data is never permission to bale.

A planning aid only: check the hay itself, and probe finished bales. Manuals,
local fire rules and codes, extension and fire authority advice and licensed
practice come first.

Behind this door: weather is read (`hayweather.weather`), a windrow is followed
through it (`hayweather.windrow`), each quarter hour gets its call
(`hayweather.baling`), all driven in one place (`hayweather.nights`); plans,
seasons and learning ask the same nights; `hayweather.show` shows them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from hayweather.version import __version__ as __version__

__all__ = [
    "Farm",
    "compare_seasons",
    "equilibrium_moisture",
    "farm_of",
    "follow_windrow",
    "night_of",
    "plan_work",
    "read_farm",
    "read_weather",
    "score",
    "trial",
    "tune",
    "weather_from",
]

if TYPE_CHECKING:
    from hayweather.door import (
        Farm,
        compare_seasons,
        equilibrium_moisture,
        farm_of,
        follow_windrow,
        night_of,
        plan_work,
        read_farm,
        read_weather,
        score,
        trial,
        tune,
        weather_from,
    )


def __getattr__(name: str) -> object:
    """What the door offers, loaded when it is first asked for: commands start without it."""
    if name in __all__:
        from hayweather import door

        return getattr(door, name)
    raise AttributeError(f"module 'hayweather' has no attribute {name!r}")


def __dir__() -> list[str]:
    """Names that may be asked for."""
    return sorted(["__version__", "errors", *__all__])
