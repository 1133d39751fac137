"""One request to a service: bounded in time, size and tries, one at a time.

Nothing of `requests` leaves this module: its errors carry whole addresses, and
an address may hold the key.
"""

from __future__ import annotations

import os
import socket
import threading
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from typing import TYPE_CHECKING
from urllib.parse import urlencode, urljoin, urlsplit

from hayweather.version import __version__
from hayweather.weather.services.body import error_reason, parse_body
from hayweather.weather.services.failures import ServiceError, quote
from hayweather.weather.services.secrecy import quiet_logs, without_key
from hayweather.weather.services.settings import Limits, ServiceSettings, is_loopback

if TYPE_CHECKING:
    import requests

PIECE_BYTES = 65_536
REDIRECTS = 3
PASSING_TROUBLE = (500, 502, 503, 504)
_ONE_AT_A_TIME = threading.Lock()


@dataclass(frozen=True)
class Request:
    """What is asked of a service.

    Attributes
    ----------
    service
        The service as people call it.
    base, send_to
        Base address as stored answers know it, and where the request goes.
    path, params
        What is asked.
    key
        The key, sent with the request and part of nothing else.
    """

    service: str
    base: str
    path: str
    params: tuple[tuple[str, str], ...] = ()
    send_to: str = field(default="", repr=False)
    key: str | None = field(default=None, repr=False)

    @property
    def identity(self) -> str:
        """The request without the key: the name under which its answer is stored."""
        return _address(self.base + self.path, self.params)

    @property
    def address(self) -> str:
        """The address to send to, with the key in it: never to be shown."""
        secret = (("apikey", self.key),) if self.key else ()
        return _address((self.send_to or self.base) + self.path, (*self.params, *secret))

    @property
    def host(self) -> str:
        """The host asked, for people."""
        return urlsplit(self.base).netloc


@dataclass(frozen=True)
class Reply:
    """Status, head and body of an answer."""

    status: int
    headers: Mapping[str, str]
    body: bytes


def ask(request: Request, settings: ServiceSettings, limits: Limits) -> tuple[bytes, object]:
    """Ask a service and return the body of its answer with the JSON in it.

    Trouble that passes (no connection, out of order, too many requests, a cut
    or garbled answer) is tried again after the waits of `limits`.

    Raises
    ------
    ServiceError
        If no try gave a whole answer.
    """
    waits = iter(limits.waits_s)
    while True:
        try:
            return _try_once(request, settings, limits)
        except ServiceError as caught:
            failure = caught
        pause = _pause(failure, next(waits, None), limits)
        if pause is None:
            raise failure
        settings.sleep(pause)


def _pause(failure: ServiceError, wait: float | None, limits: Limits) -> float | None:
    """Seconds to wait before the next try, None when there is to be none."""
    if wait is None or not failure.retry:
        return None
    asked = max(wait, failure.wait_s or 0.0)
    return asked if asked <= max(limits.longest_wait_s, wait) else None


def _try_once(request: Request, settings: ServiceSettings, limits: Limits) -> tuple[bytes, object]:
    """One try: an answer, its status, its JSON."""
    with _ONE_AT_A_TIME:
        outcome = _Call(request, settings.contact.value, limits).within_total()
    if isinstance(outcome, Reply):
        _check_status(outcome, request)
        return outcome.body, parse_body(outcome.body, request.service)
    raise outcome


class _Call:
    """A request under way in a thread of its own, so that it can be given up.

    A server that drips its answer, or a name that is never resolved, holds a
    reading thread beyond any time-out of a single read.
    """

    def __init__(self, request: Request, contact: str | None, limits: Limits) -> None:
        self._request = request
        self._agent = f"hayweather/{__version__}" + (f" ({contact})" if contact else "")
        self._limits = limits
        self._response: requests.Response | None = None
        self._outcome: Reply | ServiceError | None = None

    def within_total(self) -> Reply | ServiceError:
        """The outcome, a failure when it takes longer than the total time."""
        thread = threading.Thread(target=self._run, daemon=True)
        thread.start()
        thread.join(self._limits.total_s)
        if self._outcome is None:
            self._hang_up()
            return self._fail("service_too_slow", seconds=f"{self._limits.total_s:g}")
        return self._outcome

    def _run(self) -> None:
        import requests

        with quiet_logs(self._request.key):
            try:
                with requests.Session() as session:
                    session.trust_env = not is_loopback(urlsplit(self._request.base).hostname or "")
                    self._outcome = self._follow(session)
            except _troubles() as problem:
                self._outcome = self._failure_of(problem)

    def _follow(self, session: requests.Session) -> Reply | ServiceError:
        """Send, and follow redirects within the same host."""
        address = self._request.address
        for _ in range(REDIRECTS + 1):
            with self._get(session, address) as response:
                if not response.is_redirect:
                    return self._read(response)
                target = urljoin(address, response.headers["location"])
            if _origin(target) != _origin(address):
                host = without_key(quote(urlsplit(target).netloc), self._request.key)
                return self._fail("service_redirect", host=host)
            address = target
        return self._fail("service_redirect", host=self._request.host)

    def _get(self, session: requests.Session, address: str) -> requests.Response:
        self._response = session.get(
            address,
            headers={"User-Agent": self._agent, "Accept": "application/geo+json, application/json"},
            timeout=(self._limits.connect_s, self._limits.read_s),
            stream=True,
            allow_redirects=False,
        )
        return self._response

    def _read(self, response: requests.Response) -> Reply | ServiceError:
        """The answer, unless its body passes the limit."""
        limit = self._limits.body_bytes
        body = bytearray()
        told = response.headers.get("content-length", "")
        too_large = told.isdecimal() and int(told) > limit
        if not too_large:
            for piece in response.iter_content(PIECE_BYTES):
                body += piece
                too_large = len(body) > limit
                if too_large:
                    break
        if too_large:
            return self._fail("service_too_large", limit=f"{limit / 1e6:g}")
        clean = without_key(bytes(body), self._request.key)
        return Reply(response.status_code, response.headers, clean)

    def _failure_of(self, problem: Exception) -> ServiceError:
        """The failure that fits an exception; nothing of its text is used."""
        import requests

        timed_out = isinstance(problem, requests.Timeout) or "Read timed out" in str(problem)
        if timed_out:
            seconds = f"{self._limits.read_s:g}"
            return self._fail("service_timeout", retry=True, seconds=seconds)
        if isinstance(problem, requests.exceptions.SSLError):
            return self._fail("service_certificate", host=self._request.host)
        cut = (requests.exceptions.ChunkedEncodingError, requests.exceptions.ContentDecodingError)
        if isinstance(problem, cut):
            return self._fail("service_cut", retry=True)
        return self._fail("service_unreachable", retry=True, host=self._request.host)

    def _fail(self, key: str, *, retry: bool = False, **values: object) -> ServiceError:
        service = self._request.service
        return ServiceError(key, service, retry=retry, wait_s=None, stored="unknown", **values)

    def _hang_up(self) -> None:
        """Close the connection under a reader that is being given up."""
        if self._response is None:
            return
        with suppress(OSError, ValueError):
            line = socket.socket(fileno=os.dup(self._response.raw.fileno()))
            with line:
                line.shutdown(socket.SHUT_RDWR)


def _troubles() -> tuple[type[Exception], ...]:
    """What sending and reading may raise; loaded late, as it takes a while."""
    import requests
    import urllib3

    return requests.RequestException, urllib3.exceptions.HTTPError, OSError, ValueError


def _address(place: str, params: tuple[tuple[str, str], ...]) -> str:
    query = urlencode(params, safe=",")
    return f"{place}?{query}" if query else place


def _origin(address: str) -> tuple[str, str | None, int | None]:
    """Scheme, host and port: what must stay the same in a redirect."""
    parts = urlsplit(address)
    port = parts.port or {"http": 80, "https": 443}.get(parts.scheme)
    return parts.scheme, parts.hostname, port


def _check_status(reply: Reply, request: Request) -> None:
    """Raise the failure that fits the status of an answer; none for 200."""
    if reply.status == 200:
        return
    status = reply.status
    reason = error_reason(reply.body)
    said = f'{status}, "{reason}"' if reason else str(status)
    wait = _retry_after(reply.headers.get("retry-after", ""))
    if status == 429:
        key, retry = "service_too_many", True
    elif status >= 500:
        key, retry = "service_down", status in PASSING_TROUBLE
    else:
        key, retry = "service_turned_away" if status in (401, 403) else "service_refused", False
    raise ServiceError(key, request.service, retry=retry, wait_s=wait, status=status, said=said)


def _retry_after(text: str) -> float | None:
    """Seconds that a service asks to wait, given as seconds or as a date [s].

    Examples
    --------
    >>> _retry_after("7"), _retry_after("soon") is None
    (7.0, True)
    """
    if text.strip().isdecimal():
        return float(text)
    try:
        until = parsedate_to_datetime(text)
    except ValueError:
        return None
    until = until if until.tzinfo else until.replace(tzinfo=UTC)
    return max(0.0, (until - datetime.now(UTC)).total_seconds())
