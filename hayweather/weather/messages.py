"""Messages of a sensor: what one says, and how they are received without loss.

A message is acknowledged to the broker once what it says has been kept: what is on its way
when this process ends comes again. What comes twice has the same time, and is kept once.
"""

from __future__ import annotations

import json
import queue
from collections import OrderedDict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import numpy as np

from hayweather.errors import OptionError, WeatherUnavailableError
from hayweather.farm.clock import parse_time
from hayweather.farm.records import Site, Station
from hayweather.weather.files.headers import QUANTITY_OF, file_unit
from hayweather.weather.files.plain import named_header
from hayweather.weather.files.times import zone_of_option
from hayweather.weather.quality import RANGES
from hayweather.weather.services.body import number_or_none
from hayweather.weather.stations import names_of, options_of
from hayweather.words import Remark

if TYPE_CHECKING:
    from paho.mqtt.client import Client, MQTTMessage

Row = tuple[str, np.datetime64, str, float]
"""Station, time (UTC), column of the record or relative humidity, value in the inside unit."""
KEPT = (
    "air_temperature_c", "relative_humidity_percent", "dew_point_c", "wind_speed_m_s", "rain_mm",
)  # fmt: skip
TIME_KEYS = ("time", "timestamp", "ts", "datetime", "date", "dt", "epoch", "time_utc", "dateutc")
BATCH, WAIT_S, REMEMBERED = 500, 0.05, 10_000
LARGEST_BYTES = 65_536
DEEPEST = 4
EARLIEST_S, LATEST_S = 946_684_800.0, 4_102_444_800.0
"""Numbers between these are seconds since 1970 (2000 to 2100)."""


@dataclass
class Told:
    """How many messages came, how many said nothing that is kept, and why the last did not.

    Attributes
    ----------
    messages, unread, values
        Counts.
    why
        Of the last that was not read; None where all were.
    """

    messages: int = 0
    unread: int = 0
    values: int = 0
    why: Remark | None = None


def rows_of(
    station: Station, site: Site, topic: str, payload: bytes, arrived: np.datetime64
) -> list[Row] | Remark:
    """What one message says; why it says nothing.

    Parameters
    ----------
    station, site
        Whose, with the names and units that the farm file gives; the site's clock counts
        for a time without zone.
    topic, payload
        As they came: JSON with keys, or a number whose topic ends with its name.
    arrived
        UTC; counts where the message has no time.

    Examples
    --------
    >>> at = np.datetime64("2025-07-09T05:00", "s")
    >>> rows_of(Station("yard"), Site("home", 43, -120), "yard", b'{"temp_c": 14.5}', at)
    [('yard', np.datetime64('2025-07-09T05:00:00'), 'air_temperature_c', 14.5)]
    """
    try:
        content = json.loads(payload[:LARGEST_BYTES].decode("utf-8"))
    except (ValueError, RecursionError):
        return Remark("listen_unread", {"topic": topic[:60]})
    if not isinstance(content, Mapping):
        content = {topic.rpartition("/")[2]: content}
    pairs = dict(_flat(content))
    time = _time_of(pairs, station, site, arrived)
    if isinstance(time, Remark):
        return time
    options = options_of(station, site)
    rows: dict[str, Row] = {}
    names = names_of(station)
    ordered = sorted(pairs, key=lambda key: key.casefold() not in names)
    for key in ordered:
        header = named_header(key, names)
        served_as, value = header.served_as, number_or_none(pairs[key], written=True)
        if served_as not in KEPT or served_as in rows or value is None:
            continue
        quantity = QUANTITY_OF[served_as]
        unit = header.unit or file_unit(quantity, options.usual_units.get(quantity, ""))
        if unit is None and quantity == "percent":
            unit = file_unit(quantity, "%")
        if unit is None:
            return Remark("listen_unit", {"key": key[:40], "topic": topic[:60]})
        inside = float(unit.inside(np.array([value]))[0])
        low, high = RANGES[served_as]
        if low <= inside <= high:
            rows[served_as] = (station.name, time, served_as, inside)
    return list(rows.values()) or Remark("listen_nothing", {"topic": topic[:60]})


def _flat(
    content: Mapping[str, Any], before: str = "", depth: int = 0
) -> Iterator[tuple[str, Any]]:
    """Keys of a message with what stands there; those inside others by their own name."""
    for key, value in content.items():
        if isinstance(value, Mapping) and depth < DEEPEST:
            yield from _flat(value, str(key), depth + 1)
        else:
            inner = bool(before) and str(key) in ("value", "val")
            yield (before if inner else str(key)), value


def _time_of(
    pairs: Mapping[str, Any], station: Station, site: Site, arrived: np.datetime64
) -> np.datetime64 | Remark:
    """When a message was measured: its own time, else when it came."""
    keys = (station.time,) if station.time is not None else TIME_KEYS
    found = next((pairs[key] for key in pairs if key in keys or key.casefold() in keys), None)
    if found is None:
        if station.time is not None:
            return Remark("listen_time", {"value": station.time})
        return arrived
    number = number_or_none(found, written=True)
    if number is not None:
        number = number / 1000 if number > LATEST_S else number
        if EARLIEST_S <= number <= LATEST_S:
            return np.datetime64(int(number), "s")
    moment = parse_time(str(found)[:40])
    if moment is None:
        return Remark("listen_time", {"value": str(found)[:40]})
    if moment.tzinfo is None:
        moment = moment.replace(tzinfo=zone_of_option(station.timezone or site.timezone or "UTC"))
    return np.datetime64(moment.astimezone(UTC).replace(tzinfo=None), "s")


@dataclass
class Listener:
    """Receives the messages of some stations of one broker.

    Attributes
    ----------
    stations
        Each with the site whose clock it keeps; all of one broker.
    keep
        Keeps rows for good; only then are their messages acknowledged.
    name
        By which the broker knows this listener again, so that it holds what comes
        meanwhile.
    password
        Of the user that the farm file names.
    said
        Called with what people should know: connected, lost.
    """

    stations: Sequence[tuple[Station, Site]]
    keep: Callable[[Sequence[Row]], object]
    name: str
    password: str | None = None
    said: Callable[[Remark], None] = lambda remark: None
    told: Told = field(default_factory=Told)
    _waiting: queue.SimpleQueue[tuple[Any, np.datetime64]] = field(
        default_factory=queue.SimpleQueue
    )
    _done: OrderedDict[tuple[int, str, bytes], None] = field(default_factory=OrderedDict)

    def run(self, ends: Callable[[], bool]) -> Told:
        """Listen until `ends` says so; what has come by then is kept.

        Raises
        ------
        OptionError
            If the extra ``sensors`` is not installed.
        WeatherUnavailableError
            If the broker turns the farm's user away.
        """
        client = self._client()
        station = self.stations[0][0]
        client.connect_async(str(station.broker), station.port, keepalive=30)
        client.loop_start()
        try:
            while not ends():
                self._keep_waiting(client)
                if self._refused is not None:
                    raise WeatherUnavailableError(
                        "listen_refused", str(station.broker), reason=self._refused
                    )
            self._keep_waiting(client)
        finally:
            client.disconnect()
            client.loop_stop()
        return self.told

    _refused: str | None = None

    def _client(self) -> Client:
        """A client that keeps its session with the broker and acknowledges by hand."""
        try:
            from paho.mqtt import client as mqtt
            from paho.mqtt.enums import CallbackAPIVersion
        except ImportError:
            raise OptionError("listen_extra", "hayweather listen") from None
        station = self.stations[0][0]
        client = mqtt.Client(
            CallbackAPIVersion.VERSION2, client_id=self.name, clean_session=False,
            manual_ack=True,
        )  # fmt: skip
        if station.user is not None:
            client.username_pw_set(station.user, self.password)
        if station.tls:
            client.tls_set()
        client.reconnect_delay_set(1, 15)

        def connected(client: Client, _: object, flags: object, reason: Any, *rest: object) -> None:
            if reason.is_failure:
                if reason.getName() in ("Not authorized", "Bad user name or password"):
                    self._refused = reason.getName()
                return
            topics = dict.fromkeys(str(item.topic) for item, _ in self.stations)
            client.subscribe([(topic, 1) for topic in topics])
            self.said(Remark("listen_connected", {"broker": str(station.broker)}))

        def lost(client: Client, _: object, flags: object, reason: Any, *rest: object) -> None:
            if reason.is_failure:
                self.said(Remark("listen_lost", {"broker": str(station.broker)}))

        def came(client: Client, _: object, message: MQTTMessage) -> None:
            self._waiting.put((message, np.datetime64(datetime.now(UTC).replace(tzinfo=None), "s")))

        client.on_connect, client.on_disconnect, client.on_message = connected, lost, came
        return client

    def _keep_waiting(self, client: Client) -> None:
        """Keep what has come, in one piece, and acknowledge it."""
        batch = []
        try:
            batch.append(self._waiting.get(timeout=WAIT_S))
            while len(batch) < BATCH:
                batch.append(self._waiting.get_nowait())
        except queue.Empty:
            pass
        if not batch:
            return
        rows: list[Row] = []
        for message, arrived in batch:
            rows += self._rows(message, arrived)
        if rows:
            self.keep(rows)
            self.told.values += len(rows)
        for message, _ in batch:
            client.ack(message.mid, message.qos)

    def _rows(self, message: MQTTMessage, arrived: np.datetime64) -> list[Row]:
        """What a message says to the stations that listen to its topic."""
        from paho.mqtt.client import topic_matches_sub

        came = (message.mid, message.topic, bytes(message.payload))
        if message.dup and came in self._done:
            return []
        self._done[came] = None
        if len(self._done) > REMEMBERED:
            self._done.popitem(last=False)
        self.told.messages += 1
        rows: list[Row] = []
        for station, site in self.stations:
            if not topic_matches_sub(str(station.topic), message.topic):
                continue
            found = rows_of(station, site, message.topic, bytes(message.payload), arrived)
            if isinstance(found, Remark):
                self.told.unread += 1
                self.told.why = found
            elif not (message.retain and any(row[1] == arrived for row in found)):
                rows += found
        return rows
