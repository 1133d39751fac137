"""A live server of a sample farm in this process, and a browser without a screen."""

from __future__ import annotations

import asyncio
import http.client
import json
import shutil
import threading
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlencode

from support.outlooks import FOLDER

from hayweather.farm import read_farm
from hayweather.farm.records import Farm
from hayweather.web.app import News, Site, app_of
from hayweather.web.doors import Doors, Sessions
from hayweather.web.live import Live, Source
from hayweather.web.server import Server, addresses, config_of, listening

FEW = 20
PATIENCE_S = 120.0


def farm_in(folder: Path, *changes: tuple[str, str], name: str = "sagebeck") -> Path:
    """A sample farm in a folder of its own, changed."""
    shutil.copy(FOLDER / f"{name}.csv", folder)
    text = (FOLDER / f"{name}.toml").read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text, old
        text = text.replace(old, new)
    path = folder / f"{name}.toml"
    path.write_text(text, encoding="utf-8")
    return path


def live_of(path: Path, members: int = FEW, **how: object) -> Live:
    """The night of a farm file, not yet begun."""

    def read() -> Farm:
        return read_farm(path)

    return Live(Source(read=read, members=members, **how))


@dataclass
class Answer:
    """What a server answered."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def text(self) -> str:
        return self.body.decode("utf-8", "replace")

    @property
    def data(self) -> dict:
        return json.loads(self.body)


@dataclass
class Phone:
    """Asks a server as one browser would: it keeps its cookie and names its origin."""

    host: str
    port: int
    cookie: str = ""
    heads: dict[str, str] = field(default_factory=dict)

    def ask(self, method: str, path: str, body: object = None, **heads: str | None) -> Answer:
        connection = http.client.HTTPConnection(self.host, self.port, timeout=PATIENCE_S)
        sent = {**self.heads}
        if self.cookie:
            sent["Cookie"] = self.cookie
        sent |= {name.replace("_", "-"): value for name, value in heads.items()}
        sent = {name: value for name, value in sent.items() if value is not None}
        try:
            connection.request(method, path, body, sent)
            got = connection.getresponse()
            answer = Answer(got.status, {k.lower(): v for k, v in got.getheaders()}, got.read())
        finally:
            connection.close()
        if "set-cookie" in answer.headers:
            self.cookie = answer.headers["set-cookie"].partition(";")[0]
        return answer

    def get(self, path: str, **heads: str) -> Answer:
        return self.ask("GET", path, **heads)

    def post(self, values: dict[str, object], **heads: str | None) -> Answer:
        usual = {
            "Origin": f"http://{self.host}:{self.port}",
            "Content_Type": "application/x-www-form-urlencoded",
            "Accept": "application/json",
        }
        return self.ask("POST", "/entry", urlencode(values), **{**usual, **heads})


@dataclass
class Inside(Phone):
    """A browser without a network between: what it asks goes into the application itself."""

    app: object = None

    @classmethod
    def of(cls, site: Site, role: str | None = "log") -> Inside:
        """One of a site; with a role it has opened the link where one is needed."""
        phone = cls("127.0.0.1", 8042, app=app_of(site))
        if role is not None and site.doors.sessions is not None:
            assert phone.get(f"/in/{site.doors.links[role]}").status == 303
        return phone

    def ask(self, method: str, path: str, body: object = None, **heads: str | None) -> Answer:
        data = body.encode() if isinstance(body, str) else body or b""
        sent = {"Host": f"{self.host}:{self.port}", "Content-Length": str(len(data))}
        sent |= {"Cookie": self.cookie} if self.cookie else {}
        sent |= {name.replace("_", "-"): value for name, value in heads.items()}
        scope = {
            "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": method,
            "scheme": "http", "path": path, "raw_path": path.encode(), "query_string": b"",
            "root_path": "", "client": (self.host, 50000), "server": (self.host, self.port),
            "headers": [(name.lower().encode(), value.encode("latin-1"))
                        for name, value in sent.items() if value is not None],
        }  # fmt: skip
        given = [{"type": "http.request", "body": data, "more_body": False}]
        told: list[dict] = []

        async def receive() -> dict:
            return given.pop() if given else {"type": "http.disconnect"}

        async def send(message: dict) -> None:
            told.append(message)

        asyncio.run(self.app(scope, receive, send))
        found = {name.decode(): value.decode("latin-1") for name, value in told[0]["headers"]}
        content = b"".join(message.get("body", b"") for message in told[1:])
        answer = Answer(told[0]["status"], found, content)
        if "set-cookie" in answer.headers:
            self.cookie = answer.headers["set-cookie"].partition(";")[0]
        return answer


def reading(moisture: object = 9, **more: object) -> dict[str, object]:
    """A form with a reading."""
    return {"form": "reading", "id": str(uuid.uuid4()), "field": "bench", "moisture": moisture,
            "part": "whole", "layer": "", "age": 0, **more}  # fmt: skip


@dataclass
class Running:
    """A server that runs."""

    site: Site
    port: int
    server: Server

    @property
    def live(self) -> Live:
        return self.site.live

    def phone(self, role: str | None = "log", host: str = "127.0.0.1") -> Phone:
        """A browser; with a role it has opened the link where one is needed."""
        phone = Phone(host, self.port)
        if role is not None and self.site.doors.sessions is not None:
            assert phone.get(f"/in/{self.site.doors.links[role]}").status == 303
        return phone

    def wait_for(self, what) -> None:
        """Wait until something holds."""
        until = time.monotonic() + PATIENCE_S
        while not what():
            assert time.monotonic() < until, "it did not come"
            time.sleep(0.02)


def outside() -> str | None:
    """An address of this computer that is not the loopback's."""
    return next(iter(addresses()), None)


@contextmanager
def running(
    live: Live, *, lan: bool = False, behind: str | None = None, port: int = 0
) -> Iterator[Running]:
    """A server of a night, on any free port."""
    guarded = lan or behind is not None
    sessions = Sessions.beside(live.farm.log) if guarded else None
    news = News()
    live.tell = news.tell
    site = Site(live, Doors(sessions, behind), news)
    socket = listening("0.0.0.0" if lan else "127.0.0.1", port)
    listens = threading.Event()
    server = Server(site, config_of(site), listens.set)
    live.start()
    assert live.wait(PATIENCE_S)
    thread = threading.Thread(target=server.run, args=([socket],), daemon=True)
    thread.start()
    assert listens.wait(PATIENCE_S)
    try:
        yield Running(site, socket.getsockname()[1], server)
    finally:
        server.should_exit = True
        thread.join(20)
        live.stop()
        socket.close()
