"""A server on 127.0.0.1 that answers like the weather services, and fails on request.

``with WeatherServer() as server`` answers from `server_answers`. What is put into
``server.script`` is used up first, one entry a request; ``server.always``, when
set, answers every request after that. An entry is a callable that gets the
handler of the request, built by `reply`, `drip`, `cut`, `hang`, `redirect`,
`huge` and `drop`.
"""

from __future__ import annotations

import json
import re
import socket
import threading
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import parse_qs, urlsplit

from weather import server_answers as answers

Action = Callable[["_Handler"], None]
HTML_403 = b"<html><head><title>403 Forbidden</title></head><body>Access Denied</body></html>"


class WeatherServer:
    """The server; `url` is its address, `seen` the requests it got."""

    def __init__(self) -> None:
        self.script: list[Action] = []
        self.always: Action | None = None
        self.seen: list[tuple[str, dict[str, str], dict[str, str]]] = []
        self.closing = threading.Event()
        handler = type("Handler", (_Handler,), {"owner": self})
        self._server = ThreadingHTTPServer(("127.0.0.1", 0), handler)
        self._server.daemon_threads = True
        self._thread = threading.Thread(
            target=self._server.serve_forever, args=(0.01,), daemon=True
        )

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self._server.server_address[1]}"

    def environment(self) -> dict[str, str]:
        """Environment that points every service here."""
        names = ("OPEN_METEO", "OPEN_METEO_ENSEMBLE", "OPEN_METEO_ARCHIVE", "OPEN_METEO_PREVIOUS")
        found = {f"HAYWEATHER_{name}_URL": self.url for name in names}
        return {
            **found,
            "HAYWEATHER_US_NWS_URL": self.url,
            "HAYWEATHER_CONTACT": "grower@example.org",
        }

    def __enter__(self) -> WeatherServer:
        self._thread.start()
        return self

    def __exit__(self, *details: object) -> None:
        self.closing.set()
        self._server.shutdown()
        self._server.server_close()
        self._thread.join()


class _Handler(BaseHTTPRequestHandler):
    """Answers one request: by script, else as the services do."""

    owner: WeatherServer
    protocol_version = "HTTP/1.1"

    def do_GET(self) -> None:
        parts = urlsplit(self.path)
        query = {name: values[0] for name, values in parse_qs(parts.query).items()}
        self.owner.seen.append((parts.path, query, dict(self.headers.items())))
        self.close_connection = True
        with suppress(BrokenPipeError, ConnectionResetError):
            if self.owner.script:
                self.owner.script.pop(0)(self)
            elif self.owner.always is not None:
                self.owner.always(self)
            else:
                status, content = usual_answer(parts.path, query)
                self.send(status, json.dumps(content).encode())

    def send(
        self,
        status: int,
        body: bytes,
        headers: dict[str, str] | None = None,
        length: int | None = None,
    ) -> None:
        self.send_response(status)
        for name, value in (headers or {"Content-Type": "application/json"}).items():
            self.send_header(name, value)
        self.send_header("Content-Length", str(len(body) if length is None else length))
        self.send_header("Connection", "close")
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, format: str, *args: object) -> None:
        """Nothing: the tests look at what is printed."""


def usual_answer(path: str, query: dict[str, str]) -> tuple[int, dict]:
    """Status and JSON that the services give, by their documentation."""
    if path.startswith("/points/"):
        return 200, answers.us_nws_points()
    if path.startswith("/gridpoints/") and path.endswith("/stations"):
        return 200, answers.us_nws_stations()
    if path == "/stations/KFAR":
        return 200, answers.us_nws_stations()["features"][0]
    if path.startswith("/stations/"):
        return 200, answers.us_nws_observations()
    if path.startswith("/gridpoints/"):
        return 200, answers.us_nws_grid()
    names = query["hourly"].split(",")
    for name in names:
        if re.sub(r"_previous_day[1-7]$", "", name) not in answers.UNITS:
            reason = f"Cannot initialize WeatherVariable from invalid String value {name}"
            return 400, {"error": True, "reason": f"{reason} for key hourly"}
    if query.get("timezone") == "auto":
        return 200, answers.open_meteo(names, offset_hours=-6, zone=answers.ZONE, hours=24)
    if "start_date" in query:
        first, last = (datetime.fromisoformat(query[day]) for day in ("start_date", "end_date"))
        hours = ((last - first).days + 1) * 24
        stamp = first.replace(tzinfo=UTC)
        return 200, answers.open_meteo(names, first_stamp=stamp, hours=hours)
    return 200, answers.open_meteo(names, members=3 if path.endswith("/ensemble") else 0)


def reply(status: int, content: object, headers: dict[str, str] | None = None) -> Action:
    """Answer with a status and JSON, text or bytes."""
    if isinstance(content, bytes):
        body = content
    else:
        body = (content if isinstance(content, str) else json.dumps(content)).encode()
    return lambda handler: handler.send(status, body, headers)


def cut(content: object, share: float = 0.5, *, honest_length: bool = True) -> Action:
    """Answer with only the first part; the head tells the whole length or not."""
    body = json.dumps(content).encode()
    part = body[: int(len(body) * share)]
    length = len(body) if honest_length else None
    return lambda handler: handler.send(200, part, length=length)


def drip(content: object, pause_s: float = 0.05) -> Action:
    """Answer byte by byte."""
    body = json.dumps(content).encode()

    def act(handler: _Handler) -> None:
        handler.send(200, b"", length=len(body))
        for index in range(len(body)):
            if handler.owner.closing.wait(pause_s):
                return
            handler.wfile.write(body[index : index + 1])

    return act


def drip_head(pause_s: float = 0.05) -> Action:
    """Send the head of an answer letter by letter, without end."""

    def act(handler: _Handler) -> None:
        handler.wfile.write(b"HTTP/1.1 200 OK\r\nX-Slow: ")
        while not handler.owner.closing.wait(pause_s):
            handler.wfile.write(b"z")

    return act


def hang() -> Action:
    """Say nothing until the server closes."""
    return lambda handler: handler.owner.closing.wait(30) and None


def drop() -> Action:
    """Close the connection without a word."""
    return lambda handler: handler.connection.shutdown(socket.SHUT_RDWR)


def redirect(target: str, status: int = 302) -> Action:
    """Point somewhere else."""
    return lambda handler: handler.send(status, b"", {"Location": target})


def huge(megabytes: int, *, tell: bool) -> Action:
    """Answer with very many bytes; the head tells how many or not."""
    piece = b" " * 1_000_000

    def act(handler: _Handler) -> None:
        handler.send_response(200)
        if tell:
            handler.send_header("Content-Length", str(megabytes * len(piece)))
        handler.send_header("Connection", "close")
        handler.end_headers()
        for _ in range(megabytes):
            handler.wfile.write(piece)

    return act
