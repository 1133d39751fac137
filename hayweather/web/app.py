"""The live pages as an ASGI application: what is asked, by whom, and what is answered."""

from __future__ import annotations

import asyncio
import json
import sys
from collections import Counter
from collections.abc import AsyncIterator, Awaitable, Callable
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from urllib.parse import parse_qsl

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool as run_sync
from starlette.requests import ClientDisconnect, Request
from starlette.responses import RedirectResponse, Response, StreamingResponse
from starlette.routing import Route
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from hayweather.errors import HayweatherError, OutputError
from hayweather.web import evening
from hayweather.web.doors import COOKIE, SESSION_S, Doors, Visitor
from hayweather.web.forms import take
from hayweather.web.live import Live, told
from hayweather.web.pages import Pages, entry_text

MOST_BYTES = 8 * 1024
"""A form is never larger."""
BODY_S = 10.0
"""A form has come in after so long."""
MOST_STREAMS, MOST_STREAMS_EACH = 100, 8
HEARTBEAT_S = 15.0
FORM = "application/x-www-form-urlencoded"
MOST_FIELDS = 20
SCRIPTS = ("live.js", "worker.js")
NOTHING = "default-src 'none'"
HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
    "Cache-Control": "no-store",
    "X-Robots-Tag": "noindex, nofollow",
}
Answer = Callable[[Request, Visitor], Awaitable[Response]]


class News:
    """Open pages that wait for the next version."""

    def __init__(self) -> None:
        self.loop: asyncio.AbstractEventLoop | None = None
        self._waiting: set[asyncio.Event] = set()
        self._by_name: Counter[str] = Counter()

    def tell(self, version: int) -> None:
        """Wake all who wait; called from any thread."""
        if self.loop is not None and not self.loop.is_closed():
            self.loop.call_soon_threadsafe(self._wake)

    def _wake(self) -> None:
        for event in self._waiting:
            event.set()

    @property
    def open(self) -> int:
        """How many wait."""
        return len(self._waiting)

    def enter(self, name: str) -> asyncio.Event | None:
        """A place to wait; None where all are taken."""
        if self.open >= MOST_STREAMS or self._by_name[name] >= MOST_STREAMS_EACH:
            return None
        event = asyncio.Event()
        self._waiting.add(event)
        self._by_name[name] += 1
        return event

    def leave(self, name: str, event: asyncio.Event) -> None:
        """Give a place back."""
        self._waiting.discard(event)
        self._by_name[name] -= 1
        if self._by_name[name] <= 0:
            del self._by_name[name]


@dataclass
class Site:
    """The parts of a live server.

    Attributes
    ----------
    live
        The night.
    doors
        Who may come in.
    news
        Who waits for it.
    folder
        Of `hayweather evening`, served as well; None: none.
    """

    live: Live
    doors: Doors
    news: News
    folder: Path | None = None
    _pages: Pages | None = None

    def pages(self) -> Pages:
        """Pages of what is shown now."""
        shown = self.live.shown
        if self._pages is None or self._pages.shown is not shown:
            units = self.live.source.units or shown.farm.units
            link = evening.link_to(self.folder, self.live.voice)
            self._pages = Pages(shown, self.live.voice, units, link)
        return self._pages

    async def page(self, request: Request, visitor: Visitor) -> Response:
        """A page by its name; names are looked up, never opened."""
        name = request.path_params.get("name", "")
        made = await run_sync(self.pages().get, name, visitor.role)
        if made is None:
            return said(404, self.live.voice.say("web_no_page"))
        headers = {"Content-Security-Policy": f"{made.policy}; frame-ancestors 'none'"}
        headers["Vary"] = "Accept-Encoding, Cookie"
        packs = "gzip" in request.headers.get("accept-encoding", "").lower()
        if packs:
            headers["Content-Encoding"] = "gzip"
        body = made.packed if packs else made.html
        return Response(body, media_type="text/html; charset=utf-8", headers=headers)

    async def evening(self, request: Request, visitor: Visitor) -> Response:
        """A file of the evening's folder; a page of it says itself what it may load."""
        address, voice = request.path_params["address"], self.live.voice
        found = None
        if self.folder is not None:
            found = await run_sync(evening.file_of, self.folder, address, voice)
        if found is None:
            return said(404, voice.say("web_no_page"))
        data, kind = found
        is_page = kind.startswith("text/html")
        headers = {"Content-Security-Policy": "frame-ancestors 'none'"} if is_page else None
        return Response(data, media_type=kind, headers=headers)

    async def script(self, request: Request, visitor: Visitor) -> Response:
        """One of the two scripts."""
        name = request.url.path.rsplit("/", 1)[-1]
        # A service worker fetches under the policy that it came with.
        headers = {"Content-Security-Policy": f"{NOTHING}; connect-src 'self'"}
        kind = "text/javascript; charset=utf-8"
        return Response(script_of(name), headers=headers, media_type=kind)

    async def events(self, request: Request, visitor: Visitor) -> Response:
        """The versions, as they come."""
        event = self.news.enter(visitor.name)
        if event is None:
            return said(503, self.live.voice.say("web_too_many"), retry=30)
        stream = self._versions(event, visitor)
        return StreamingResponse(stream, media_type="text/event-stream")

    async def _versions(self, event: asyncio.Event, visitor: Visitor) -> AsyncIterator[str]:
        """Server-sent events until the page is closed, or its session withdrawn."""
        try:
            yield "retry: 3000\n\n"
            told_of = -1
            while self._is_still_let_in(visitor):
                version = self.live.shown.version
                yield f"event: version\ndata: {version}\n\n" if version != told_of else ": here\n\n"
                told_of = version
                try:
                    await asyncio.wait_for(event.wait(), HEARTBEAT_S)
                except TimeoutError:
                    continue
                event.clear()
        finally:
            self.news.leave(visitor.name, event)

    def _is_still_let_in(self, visitor: Visitor) -> bool:
        return self.doors.visitor({COOKIE: visitor.token}) is not None

    async def version(self, request: Request, visitor: Visitor) -> Response:
        """The version alone."""
        return as_json(200, {"version": self.live.shown.version})

    async def entry(self, request: Request, visitor: Visitor) -> Response:
        """A form into the log."""
        voice = self.live.voice
        wants_json = "application/json" in request.headers.get("accept", "")
        given, status = await form_of(request)
        if given is None:
            return said(status, voice.say("web_form_unread"), as_data=wants_json)
        now = self.live.now()
        # A browser without scripts sends no id of its own.
        if given.get("form") != "remove" and "id" not in given:
            from hayweather.log.records import new_uuid

            given["id"] = new_uuid()
        try:
            taken = await run_sync(take, self.live.farm, given, now)
        except HayweatherError as problem:
            return self._refused(problem, as_data=wants_json)
        self.live.look()
        if not wants_json:
            return RedirectResponse("./log.html", status_code=303)
        text = entry_text(taken.entry, voice)
        key = "web_known" if taken.known else "web_taken"
        answer = {"ok": True, "id": taken.entry.uuid, "number": taken.entry.id,
                  "known": taken.known, "said": voice.say(key, entry=text)}  # fmt: skip
        return as_json(200, answer)

    def _refused(self, problem: HayweatherError, *, as_data: bool) -> Response:
        """Why a form was not taken, for the person who typed it."""
        voice = self.live.voice
        key = problem.key
        unlikely = key in ("log_moisture_unlikely", "log_moisture_share")
        if isinstance(problem, OutputError):
            print(problem.line(voice.language), file=sys.stderr, flush=True)
            return said(503, voice.say("web_log_unwritten"), as_data=as_data, retry=10)
        text = (
            voice.say("web_unlikely", value=problem.values.get("value", ""))
            if unlikely
            else told(problem, voice.language)
        )
        status = 409 if key in ("web_form_other", "log_uuid_taken") else 400
        return said(status, text, as_data=as_data, ask="sure" if unlikely else "")


async def form_of(request: Request) -> tuple[dict[str, str] | None, int]:
    """The fields of a form; None and a status where it is too large, too slow or malformed."""
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind != FORM:
        return None, 415
    length = request.headers.get("content-length", "0")
    if not length.isdecimal() or len(length) > 9 or int(length) > MOST_BYTES:
        return None, 413
    body = b""
    try:
        async with asyncio.timeout(BODY_S):
            async for part in request.stream():
                body += part
                if len(body) > MOST_BYTES:
                    return None, 413
    except TimeoutError:
        return None, 408
    except ClientDisconnect:
        return None, 400
    try:
        pairs = parse_qsl(
            body.decode("ascii"), keep_blank_values=True, strict_parsing=True,
            encoding="utf-8", errors="strict", max_num_fields=MOST_FIELDS,
        )  # fmt: skip
    except ValueError:
        return None, 400
    given = dict(pairs)
    if len(given) != len(pairs):
        return None, 400
    return given, 200


def said(
    status: int, text: str, *, as_data: bool = False, retry: int = 0, ask: str = ""
) -> Response:
    """A short answer in words."""
    headers = {"Retry-After": str(retry)} if retry else {}
    if as_data:
        return as_json(status, {"ok": False, "said": text, "ask": ask}, headers)
    return Response(text + "\n", status, headers, "text/plain; charset=utf-8")


def as_json(status: int, value: object, headers: dict[str, str] | None = None) -> Response:
    """Data for the page's script."""
    body = json.dumps(value, ensure_ascii=False)
    return Response(body, status, headers, "application/json; charset=utf-8")


def script_of(name: str) -> bytes:
    """A script that ships with the package."""
    if name not in SCRIPTS:
        raise KeyError(name)
    return resources.files("hayweather.show").joinpath("templates", name).read_bytes()


class Gate:
    """Before everything: host, session, role, origin, pace; after everything: headers.

    Nothing of the application is reached, and nothing told of it, without a session
    where one is needed.
    """

    def __init__(self, app: ASGIApp, site: Site) -> None:
        self.app, self.site = app, site

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Judge one request."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                known = {name.lower() for name, _ in message.get("headers", [])}
                more = {**HEADERS, "Content-Security-Policy": f"{NOTHING}; frame-ancestors 'none'"}
                message["headers"] = [
                    *message.get("headers", []),
                    *((name.lower().encode(), value.encode()) for name, value in more.items()
                      if name.lower().encode() not in known),
                ]  # fmt: skip
            await send(message)

        request = Request(scope, receive)
        answer = self._judged(request)
        if answer is None:
            await self.app(scope, receive, with_headers)
            return
        await answer(scope, receive, with_headers)

    def _judged(self, request: Request) -> Response | None:
        """An answer in place of the application's; None: go on."""
        doors, voice = self.site.doors, self.site.live.voice
        address = request.client.host if request.client else ""
        hosts = request.headers.getlist("host")
        if len(hosts) != 1 or not doors.host_is_ours(hosts[0]):
            return said(421, voice.say("web_wrong_host"))
        if request.method not in ("GET", "HEAD", "POST"):
            return said(405, voice.say("web_closed"))
        link = _link_in(request.scope["path"])
        if doors.sessions is not None and link is not None and request.method == "GET":
            if not doors.may_knock(address):
                return said(429, voice.say("web_too_many"), retry=10)
            return self._let_in(request, link)
        visitor = doors.visitor(request.cookies)
        if visitor is None:
            if not doors.may_knock(address):
                return said(429, voice.say("web_too_many"), retry=10)
            return said(403, voice.say("web_closed"))
        wants_json = "application/json" in request.headers.get("accept", "")
        if not doors.may_look(visitor):
            return said(429, voice.say("web_too_many"), as_data=wants_json, retry=2)
        if request.method == "POST":
            if not doors.origin_is_ours(request.headers.get("origin"), hosts[0]):
                return said(403, voice.say("web_wrong_origin"), as_data=wants_json)
            if visitor.role != "log":
                return said(403, voice.say("web_look_only"), as_data=wants_json)
            if not doors.may_post(visitor):
                return said(429, voice.say("web_too_many"), as_data=wants_json, retry=2)
        request.scope["hayweather"] = visitor
        return None

    def _let_in(self, request: Request, link: str) -> Response:
        """A session for whoever opened a link."""
        doors = self.site.doors
        role = doors.role_of_link(link)
        if role is None or doors.sessions is None:
            return said(403, self.site.live.voice.say("web_closed"))
        known = doors.visitor(request.cookies)
        answer = RedirectResponse("../", status_code=303)
        if known is None or known.role != role:
            try:
                token, _ = doors.sessions.begin(role)
            except HayweatherError as problem:
                print(problem.line(self.site.live.voice.language), file=sys.stderr, flush=True)
                return said(503, self.site.live.voice.say("web_log_unwritten"), retry=10)
            answer.set_cookie(
                COOKIE, token, max_age=SESSION_S, path=doors.path, httponly=True,
                secure=doors.is_secure, samesite="lax",
            )  # fmt: skip
        return answer


def _link_in(path: str) -> str | None:
    """The secret of a link."""
    begin, _, secret = path.rpartition("/")
    return secret if begin == "/in" and secret else None


def _for(answer: Answer) -> Callable[[Request], Awaitable[Response]]:
    """A route's answer, with who asks."""

    async def route(request: Request) -> Response:
        return await answer(request, request.scope["hayweather"])

    return route


def app_of(site: Site) -> ASGIApp:
    """The application of a live server, its gate before it."""

    async def failed(request: Request, problem: Exception) -> Response:
        print(f"{type(problem).__name__}: {problem}", file=sys.stderr, flush=True)
        return said(500, site.live.voice.say("web_failed"))

    async def missing(request: Request, problem: Exception) -> Response:
        return said(404, site.live.voice.say("web_no_page"))

    routes = [
        *(Route(f"/{name}", _for(site.script), methods=["GET"]) for name in SCRIPTS),
        Route("/events", _for(site.events), methods=["GET"]),
        Route("/version", _for(site.version), methods=["GET"]),
        Route("/entry", _for(site.entry), methods=["POST"]),
        Route(f"/{evening.BELOW}{{address:path}}", _for(site.evening), methods=["GET"]),
        Route("/", _for(site.page), methods=["GET"]),
        Route("/{name}", _for(site.page), methods=["GET"]),
    ]
    inner = Starlette(
        routes=routes, exception_handlers={404: missing, 405: missing, Exception: failed}
    )
    inner.router.redirect_slashes = False
    return Gate(inner, site)
