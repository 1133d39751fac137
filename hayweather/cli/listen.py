"""``hayweather listen``: messages of sensors into the farm's log."""

from __future__ import annotations

import hashlib
import os
import sys
import time
from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated

import typer

from hayweather.cli import options as o
from hayweather.errors import OptionError

if TYPE_CHECKING:
    from hayweather.farm.records import Farm, Site, Station
    from hayweather.log.book import Log
    from hayweather.weather.messages import Listener, Row
    from hayweather.words import Remark

PASSWORD_VARIABLE = "HAYWEATHER_BROKER_PASSWORD"
SecondsOption = Annotated[
    float | None,
    typer.Option("--seconds", metavar="N", help=o.help_text("listen_seconds")),
]


StationOption = Annotated[
    str | None, typer.Option("--station", metavar="NAME", help=o.help_text("listen_station"))
]


@o.command
def listen(
    farm_file: o.FarmFile = None, station: StationOption = None, seconds: SecondsOption = None
) -> None:
    """Keep what sensors send in the farm's log."""
    from hayweather.cli.language import spoken_in
    from hayweather.cli.load import farm_from
    from hayweather.log import open_log

    if seconds is not None and not seconds >= 1:
        raise OptionError("listen_seconds", "--seconds", value=f"{seconds:g}")
    farm = farm_from(farm_file)
    with spoken_in(farm.language), open_log(farm) as log:
        listener = listener_of(farm, log, station)
        until = None if seconds is None else time.monotonic() + seconds
        try:
            listener.run(lambda: until is not None and time.monotonic() >= until)
        except KeyboardInterrupt:
            pass
        finally:
            _say_end(listener, farm)


def listener_of(farm: Farm, log: Log, named: str | None = None) -> Listener:
    """A listener for the stations of one broker, which writes into the farm's log.

    Parameters
    ----------
    farm, log
        The farm, and its log open to be written.
    named
        A station of that broker; None where the farm has one broker.

    Raises
    ------
    OptionError
        If no station of the farm has messages, or they come from several brokers.
    """
    from hayweather.log.records import Observation
    from hayweather.weather.messages import Listener

    stations = [station for station in farm.stations if station.topic is not None]
    if not stations:
        raise OptionError("listen_none", str(farm.path or "farm"))
    brokers: dict[object, list[Station]] = {}
    for item in stations:
        brokers.setdefault((item.broker, item.port, item.user, item.tls), []).append(item)
    fitting = [some for some in brokers.values() if named in (None, *(one.name for one in some))]
    if len(fitting) != 1:
        known = ", ".join(item.name for item in stations)
        raise OptionError("listen_brokers", "--station", known=known)
    (alike,) = fitting
    default = next(iter(farm.sites.values()))

    def site_of(station: Station) -> Site:
        own = [field for field in farm.fields.values() if field.station == station.name]
        return farm.sites[own[0].site] if own else default

    def keep(rows: Sequence[Row]) -> object:
        return log.add_observations(Observation(*row, origin="message") for row in rows)

    place = str(log.path.resolve()) if log.path is not None else farm.name
    digest = hashlib.sha256(f"{place} {alike[0].name}".encode()).hexdigest()[:12]
    return Listener(
        [(station, site_of(station)) for station in alike],
        keep,
        f"hayweather-{digest}",
        os.environ.get(PASSWORD_VARIABLE),
        lambda remark: _say(remark, farm),
    )


def _say(remark: Remark, farm: Farm) -> None:
    """One line on standard error."""
    from hayweather.words import say

    values = {name: value if isinstance(value, str) else str(value)
              for name, value in remark.values.items()}  # fmt: skip
    print(say(remark.key, farm.language, **values), file=sys.stderr, flush=True)


def _say_end(listener: Listener, farm: Farm) -> None:
    """What has been kept, and what could not be read."""
    from hayweather.words import Remark, say

    told = listener.told
    if told.why is not None:
        why = say(told.why.key, farm.language, **told.why.values)
        _say(Remark("listen_not_read", {"count": told.unread, "why": why}), farm)
    counts: dict[str, object] = {"messages": told.messages, "values": told.values, "log": farm.log}
    _say(Remark("listen_done", counts), farm)
