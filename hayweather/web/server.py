"""The server itself: which addresses, how slow a browser may be, and its end."""

from __future__ import annotations

import asyncio
import ipaddress
import socket
from collections import Counter
from collections.abc import Callable
from typing import Any, ClassVar

import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

from hayweather.web.app import News, Site, app_of

LOOPBACK, EVERYWHERE = "127.0.0.1", "0.0.0.0"
MOST_CONNECTIONS = 300
MOST_EACH = 40
"""Connections from one address (assumed: a telephone takes about six)."""
HEAD_S = 10.0
"""A request's head has come in after so long."""
MOST_HEAD_BYTES = 16 * 1024


class Patient(H11Protocol):
    """HTTP that waits for a request's head no longer than `HEAD_S`, and counts by address."""

    head_s = HEAD_S
    most_each = MOST_EACH
    counts: ClassVar[Counter[str]] = Counter()

    def connection_made(self, transport: Any) -> None:
        """Take a connection, or close it where its address has too many."""
        super().connection_made(transport)
        self.address = self.client[0] if self.client else ""
        self.counts[self.address] += 1
        self.idle = 0
        self.watch = self.loop.call_later(self.head_s / 2, self._watch)
        if self.counts[self.address] > self.most_each:
            transport.abort()

    def connection_lost(self, exc: Exception | None) -> None:
        """Give its place back."""
        self.watch.cancel()
        self.counts[self.address] -= 1
        if self.counts[self.address] <= 0:
            del self.counts[self.address]
        super().connection_lost(exc)

    def _watch(self) -> None:
        """Close a connection that has asked for nothing in two looks one after the other."""
        asks = self.cycle is not None and not self.cycle.response_complete
        self.idle = 0 if asks else self.idle + 1
        if self.idle > 1:
            self.transport.abort()
            return
        self.watch = self.loop.call_later(self.head_s / 2, self._watch)


class Proxied(Patient):
    """The same behind another server, from whose address everybody comes."""

    most_each = MOST_CONNECTIONS


class Server(uvicorn.Server):
    """The server of a site; news reach its loop.

    Parameters
    ----------
    site
        What is served.
    config
        How.
    ready
        Called once it listens.
    """

    def __init__(
        self, site: Site, config: uvicorn.Config, ready: Callable[[], None] = lambda: None
    ) -> None:
        super().__init__(config)
        self._news: News = site.news
        self._ready = ready

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Listen."""
        self._news.loop = asyncio.get_running_loop()
        await super().startup(sockets)
        if self.started:
            self._ready()


def config_of(site: Site) -> uvicorn.Config:
    """How a site is served: one process, no names of software, nothing logged of addresses."""
    return uvicorn.Config(
        app_of(site),
        http=Patient if site.doors.behind is None else Proxied,
        ws="none",
        loop="asyncio",
        lifespan="off",
        log_config=None,
        log_level="critical",
        access_log=False,
        server_header=False,
        proxy_headers=False,
        limit_concurrency=MOST_CONNECTIONS,
        backlog=128,
        timeout_keep_alive=10,
        timeout_graceful_shutdown=1,
        h11_max_incomplete_event_size=MOST_HEAD_BYTES,
    )


def listening(host: str, port: int) -> socket.socket:
    """A socket that listens.

    Raises
    ------
    OSError
        If the port is taken.
    """
    taken = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        taken.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        taken.bind((host, port))
        taken.listen(128)
    except OSError:
        taken.close()
        raise
    return taken


def addresses() -> list[str]:
    """Addresses of this computer in its own network, that of the way out first."""
    found = []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        try:
            # Nothing is sent: a name for the way out is all that is asked.
            asked.connect(("192.0.2.1", 9))
            found.append(asked.getsockname()[0])
        except OSError:
            pass
    try:
        known = socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)
        found += [str(item[4][0]) for item in known]
    except OSError:
        pass
    return [
        address for address in dict.fromkeys(found) if not ipaddress.ip_address(address).is_loopback
    ]


def names() -> list[str]:
    """Names of this computer in its own network."""
    name = socket.gethostname().lower()
    return [name, f"{name.partition('.')[0]}.local"]
