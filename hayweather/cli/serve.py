"""``hayweather serve``: the pages live in the night, with forms for what is read and done."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from hayweather.cli import options as o
from hayweather.errors import InputError, OptionError
from hayweather.words import say

if TYPE_CHECKING:
    from socket import socket as Socket

    from hayweather.farm.records import Farm
    from hayweather.web.app import Site
    from hayweather.web.doors import Doors, Role, Sessions

NEEDED = ("starlette", "uvicorn", "segno")
PORT = 8042
MOST_PORT = 65535
FIRST_NIGHT_S = 600.0


def _port(given: str | int) -> int:
    """The number of a port."""
    text = str(given)  # the default comes through here too
    if text.isdecimal() and len(text) < 6 and int(text) <= MOST_PORT:
        return int(text)
    raise OptionError("web_port", "--port", value=o.as_given(text))


PortOption = Annotated[
    int, typer.Option("--port", metavar="N", parser=_port, help=o.help_text("web_port"))
]
LanOption = Annotated[bool, typer.Option("--lan", help=o.help_text("web_lan"))]
BehindOption = Annotated[
    str | None, typer.Option("--behind", metavar="URL", help=o.help_text("web_behind"))
]
SessionsOption = Annotated[bool, typer.Option("--sessions", help=o.help_text("web_sessions"))]
WithdrawOption = Annotated[
    str | None, typer.Option("--withdraw", metavar="NAME", help=o.help_text("web_withdraw"))
]
FolderOption = Annotated[
    Path | None, typer.Option("--folder", metavar="FOLDER", help=o.help_text("web_folder"))
]
OldOption = Annotated[bool, typer.Option("--old", help=o.help_text("old"))]


@o.command
def serve(
    farm_file: o.FarmFile = None,
    port: PortOption = PORT,
    lan: LanOption = False,
    behind: BehindOption = None,
    folder: FolderOption = None,
    sessions: SessionsOption = False,
    withdraw: WithdrawOption = None,
    now: o.NowOption = None,
    old: OldOption = False,
    offline: o.OfflineOption = False,
    weather_url: o.WeatherUrlOption = None,
    units: o.UnitsOption = None,
) -> None:
    """Serve the pages, and take readings."""
    missing = [name for name in NEEDED if importlib.util.find_spec(name) is None]
    if missing:
        raise InputError("web_extra", missing=", ".join(missing))
    from hayweather.cli.language import spoken_in
    from hayweather.cli.load import farm_at, farm_from, now_for
    from hayweather.delivery.folder import check_served
    from hayweather.web.doors import Doors, Sessions, checked_behind
    from hayweather.web.live import Live, Source

    farm = farm_from(farm_file)
    with spoken_in(farm.language):
        if farm.log is None or farm.path is None:
            raise InputError("log_no_place", farm.name)
        kept = Sessions.beside(farm.log)
        if sessions or withdraw is not None:
            _of_sessions(farm, kept, withdraw)
            return
        address = None if behind is None else checked_behind(behind)
        if folder is not None:
            check_served(folder)
        zone = next(iter(farm.sites.values())).timezone
        path = farm.path
        source = Source(
            read=lambda: farm_at(path, None),
            offline=offline,
            url=weather_url,
            old=old,
            begin=None if now is None else now_for(farm, now, zone),
            units=units,
        )
        from hayweather.web.app import News, Site
        from hayweather.web.server import EVERYWHERE, LOOPBACK, listening, names

        doors = Doors(kept if lan or address else None, address, names() if lan else ())
        try:
            socket = listening(EVERYWHERE if lan else LOOPBACK, port)
        except OSError as problem:
            reason = problem.strerror or type(problem).__name__
            raise OptionError("web_port_taken", "--port", value=port, reason=reason) from None
        news = News()
        live = Live(source, news.tell)
        with socket:
            _run(Site(live, doors, news, folder), socket, lan=lan)


def _run(site: Site, socket: Socket, *, lan: bool) -> None:
    """Serve until stopped."""
    from hayweather.web.server import Server, config_of

    live, port = site.live, socket.getsockname()[1]
    language = live.farm.language
    print(say("web_making", language, farm=live.farm.name), flush=True)
    live.start()
    live.wait(FIRST_NIGHT_S)

    def ready() -> None:
        from hayweather.show.voice import short_safety_texts

        for line in [
            *_where(site.doors, port, language, lan=lan),
            *short_safety_texts(live.voice)[:2],
        ]:
            print(line, flush=True)

    try:
        Server(site, config_of(site), ready).run(sockets=[socket])
    finally:
        live.stop()


def _where(doors: Doors, port: int, language: str, *, lan: bool) -> list[str]:
    """Where the pages are, and how to come in."""
    from hayweather.web.server import addresses

    lines = []
    base = f"http://127.0.0.1:{port}"
    if doors.behind is not None:
        base = doors.behind.geturl()
    elif lan:
        found = addresses()
        base = f"http://{found[0]}:{port}" if found else base
    if doors.sessions is None:
        lines.append(say("web_open_here", language, url=f"{base}/"))
    else:
        links: dict[Role, str] = {
            role: f"{base}/in/{secret}" for role, secret in doors.links.items()
        }
        lines += [_code(links["log"]), say("web_link_log", language, url=links["log"])]
        lines.append(say("web_link_look", language, url=links["look"]))
        lines.append(say("web_link_kept", language))
        if lan and not doors.is_secure:
            lines.append(say("web_plain_http", language))
    lines.append(say("web_stop", language))
    return lines


def _code(text: str) -> str:
    """A link as a code for the camera of a telephone."""
    import io

    import segno

    out = io.StringIO()
    segno.make(text, error="m", micro=False).terminal(out, compact=True, border=2)
    return out.getvalue().rstrip("\n")


def _of_sessions(farm: Farm, kept: Sessions, withdraw: str | None) -> None:
    """List the sessions, or end one or all."""
    language = farm.language
    if withdraw is not None:
        ended = kept.withdraw(withdraw)
        if not ended and withdraw != "all":
            known = ", ".join(item.name for item in kept.all()) or "-"
            raise OptionError(
                "web_no_session", "--withdraw", value=o.as_given(withdraw), known=known
            )
        print(say("web_withdrawn", language, count=ended))
        return
    from datetime import datetime

    found = kept.all()
    for item in found:
        made = f"{datetime.fromtimestamp(item.made):%Y-%m-%d %H:%M}"
        role = say(f"web_role_{item.role}", language)
        print(say("web_session", language, name=item.name, role=role, time=made))
    if not found:
        print(say("web_no_sessions", language))
