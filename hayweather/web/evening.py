"""The folder of `hayweather evening` behind the doors of the live server: one address for all."""

from __future__ import annotations

from pathlib import Path

from hayweather.delivery.folder import files_to_serve
from hayweather.show.voice import Voice

BELOW = "evening/"
FIRST = "index.html"
KINDS = {
    ".html": "text/html; charset=utf-8",
    ".ics": "text/calendar; charset=utf-8",
    ".txt": "text/plain; charset=utf-8",
    ".json": "application/json; charset=utf-8",
    ".webmanifest": "application/manifest+json",
    ".svg": "image/svg+xml",
}
NOT_SERVED = frozenset({"sw.js"})
"""The live server's own script keeps the pages, and lets go of them with the session."""


def link_to(folder: Path | None, voice: Voice) -> tuple[str, str] | None:
    """Address and title of the folder's first page; None as long as there is none."""
    found = {} if folder is None else files_to_serve(folder)
    if FIRST not in found:
        return None
    several = any("/" in name for name in found)
    title = voice.say("web_page_farms") if several else voice.say("web_page_evening")
    return BELOW, title


def file_of(folder: Path, address: str, voice: Voice) -> tuple[bytes, str] | None:
    """Contents and kind of a file of the folder; its name is looked up, never opened.

    Parameters
    ----------
    address
        As it was asked for, below `BELOW`; a folder's own stands for its first page.
    voice
        Of the way back to the live pages.
    """
    name = f"{address}{FIRST}" if address == "" or address.endswith("/") else address
    path = files_to_serve(folder).get(name)
    if path is None or path.name in NOT_SERVED or path.suffix not in KINDS:
        return None
    try:
        data = path.read_bytes()
    except OSError:
        return None  # exchanged for the next night just now
    if path.suffix == ".html":
        data = _with_way_back(data.decode(), "../" * (name.count("/") + 1), voice).encode()
    return data, KINDS[path.suffix]


def _with_way_back(text: str, back: str, voice: Voice) -> str:
    """A page with a link to the live ones; its calendars are loaded, not subscribed to.

    An application that subscribes has no session, and would be shut out.
    """
    link = f'<p class="back screen"><a href="{back}">{voice.say("web_to_live")}</a></p>'
    begin = '<main id="page">'
    return text.replace(begin, f"{begin}\n{link}", 1).replace(' class="subscribe"', "")
