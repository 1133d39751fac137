"""``hayweather evening``: the night of one farm or several, delivered."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal
from zoneinfo import ZoneInfo

import typer

from hayweather.cli import options as o
from hayweather.errors import DEFECT, HayweatherError, OptionError, OutputError
from hayweather.words import default_language, say

if TYPE_CHECKING:
    from hayweather.delivery.folder import Place
    from hayweather.delivery.send import Recipient
    from hayweather.farm.records import Farm
    from hayweather.show.evening import Evening
    from hayweather.show.told import Told
    from hayweather.show.voice import Voice
    from hayweather.words import Remark

KEPT_DAYS = 3
"""How long what was sent is remembered."""

FarmFiles = Annotated[
    list[Path] | None,
    typer.Argument(metavar="FARM.toml", help=o.help_text("evening_farms"), show_default=False),
]
ToOption = Annotated[Path | None, typer.Option("--to", metavar="FOLDER", help=o.help_text("to"))]
SendOption = Annotated[
    list[str] | None, typer.Option("--send", metavar="ADDRESS", help=o.help_text("send"))
]
AgainOption = Annotated[bool, typer.Option("--again", help=o.help_text("again"))]
InstallOption = Annotated[
    Literal["cron", "systemd", "tasks"] | None,
    typer.Option("--install", help=o.help_text("install")),
]
OutOption = Annotated[
    Path | None, typer.Option("--out", metavar="PATH", help=o.help_text("install_out"))
]
AtOption = Annotated[str, typer.Option("--at", metavar="HH:MM", help=o.help_text("evening_at"))]
AgainAtOption = Annotated[
    str, typer.Option("--again-at", metavar="HH:MM,...", help=o.help_text("again_at"))
]


@dataclass
class Work:
    """One farm on its way from its file to its folder.

    Attributes
    ----------
    path, name
        The farm file, and the folder's name where there are several.
    farm
        None where its file cannot be read.
    evening
        What came of it; None as long as nothing has, or where the farm cannot be read.
    problem, code
        What went wrong, one line, and the exit code of that.
    """

    path: Path
    name: str
    farm: Farm | None = None
    evening: Evening | None = None
    problem: str = ""
    code: int = 0

    @property
    def language(self) -> str:
        """In which it is spoken of."""
        return default_language() if self.farm is None else self.farm.language


@o.command
def evening(
    farm_files: FarmFiles = None,
    to: ToOption = None,
    send: SendOption = None,
    again: AgainOption = False,
    install: InstallOption = None,
    out: OutOption = None,
    at: AtOption = "17:30",
    again_at: AgainAtOption = "21:00,23:00,01:00,03:00,05:00",
    units: o.UnitsOption = None,
    *,
    tonight: o.Tonight,
) -> None:
    """The night as a folder to serve, and as a message."""
    from hayweather.delivery.send import recipient_of

    paths = _paths(farm_files)
    if to is None:
        raise OptionError("evening_no_folder")
    if install is not None:
        _install(paths, to, send or [], again, install, out, at, again_at, units)
        return
    recipients = [recipient_of(each) for each in send or []]
    works = [Work(path, name) for path, name in zip(paths, _names(paths), strict=True)]
    for work in works:
        _read(work)
    place = _place(to, works)
    for work in works:
        _night(work, units, tonight)
    with place.locked():
        for work in works:
            try:
                _deliver(work, place, recipients, again=again, fixed=tonight.now is not None)
            except OutputError as problem:
                _failed(work, problem)
        if place.several:
            _first_page(works, place)
    for work in works:
        if work.problem:
            print(_problem(work, place), file=sys.stderr)
    code = max(work.code for work in works)
    if code:
        raise typer.Exit(code)


def _paths(given: Sequence[Path] | None) -> list[Path]:
    """The farm files, each once."""
    if given:
        return list({path.resolve(): path for path in given}.values())
    if not o.DEFAULT_FARM.exists():
        raise OptionError("no_farm_here")
    return [o.DEFAULT_FARM]


def _names(paths: Sequence[Path]) -> list[str]:
    """A folder's name for each farm file: its own, or that of its folder for a farm.toml."""
    from hayweather.show.evening import safe_name

    found: list[str] = []
    for path in paths:
        whole = path.resolve()
        own = whole.parent.name if whole.stem == "farm" else whole.stem
        name = safe_name(own or "farm")
        if name in found:
            raise OptionError("farms_alike", str(path), value=name)
        found.append(name)
    return found


def _read(work: Work) -> None:
    """Read a farm file; what is wrong with it is kept."""
    from hayweather.cli.load import farm_at

    try:
        work.farm = farm_at(work.path, os.environ)
    except HayweatherError as problem:
        _failed(work, problem)


def _failed(work: Work, problem: Exception) -> None:
    """Keep what went wrong as one line."""
    from hayweather.cli.language import language_of

    language = work.language if work.farm is not None else language_of(problem)
    if isinstance(problem, HayweatherError):
        work.problem, work.code = problem.line(language), problem.exit_code
    else:
        reason = " ".join(f"{type(problem).__name__}: {problem}".split())
        work.problem, work.code = say("error_defect", language, reason=reason), DEFECT


def _place(to: Path, works: Sequence[Work]) -> Place:
    """The folder, looked at before any work."""
    from hayweather.cli.load import files_of
    from hayweather.delivery.folder import Owner, Place

    owners = []
    read: list[Path | None] = []
    for work in works:
        key = sha256(str(work.path.resolve()).encode()).hexdigest()[:16]
        owners.append(Owner(key, "" if work.farm is None else work.farm.name))
        read += [work.path] if work.farm is None else files_of(work.farm)
    place = Place(to, owners, several=len(works) > 1)
    place.check(read)
    return place


def _night(work: Work, units: o.Units | None, tonight: o.Tonight) -> None:
    """Fetch, join, plan; where that fails the night is unknown and the reason kept."""
    from hayweather.cli.language import spoken_in
    from hayweather.cli.load import keep_in_log, now_for, outlook_asked
    from hayweather.plan.sheet import make_runsheet
    from hayweather.show.evening import Evening

    farm = work.farm
    if farm is None:
        return
    shown = units or farm.units
    try:
        with spoken_in(farm.language):
            sheet = make_runsheet(outlook_asked(farm, None, tonight))
            work.evening = Evening(farm, sheet.night.now, shown, sheet)
            keep_in_log(farm, sheet.night, shown, make=not farm.weather.invented)
    except Exception as problem:
        if os.environ.get("HAYWEATHER_TRACEBACK"):
            raise
        _failed(work, problem)
        zone = next(iter(farm.sites.values())).timezone
        now = now_for(farm, tonight.now, zone)
        work.evening = Evening(farm, now, shown, None, problem=work.problem)


def _deliver(
    work: Work, place: Place, recipients: Sequence[Recipient], *, again: bool, fixed: bool
) -> None:
    """Put a farm's folder in its place and send what is to be sent."""
    from hayweather.show.evening import evening_files, evening_form
    from hayweather.show.told import changes

    inside = work.name if place.several else ""
    made = work.evening
    before = _night_there(place, inside)
    if made is None or (made.sheet is None and _still_serves(before, made)):
        work.evening = None
        _say_on_pages(work, place, inside)
        return
    if not fixed and before is not None and _moment(before["now"]) > _utc(made):
        print(say("evening_newer", work.language, folder=place.path / inside), file=sys.stderr)
        return
    files = evening_files(made, lambda name: place.read(name, inside))
    place.put(files, inside)
    told = _told_last(place.state(), work.name, made)
    changed = changes(told, made.told, made.now) if again and told else []
    if again and told and not changed:
        return
    if not again:
        count = len(files)
        folder = place.path / inside
        print(say("evening_made", work.language, folder=folder, count=count), file=sys.stderr)
    _tell(work, made, changed, place, recipients)
    state = place.state()
    form = {name: value for name, value in evening_form(made).items() if name != "outlook"}
    place.keep_state({**state, "told": {**state.get("told", {}), work.name: form}})


def _night_there(place: Place, inside: str) -> dict[str, Any] | None:
    """The night that stands in a folder; None for none."""
    from hayweather.show.evening import DATA

    try:
        form = json.loads(place.read(DATA, inside) or "")
        _moment(form["now"]), _moment(form["until"])
    except (ValueError, KeyError, TypeError):
        return None
    return form if isinstance(form, dict) else None


def _moment(text: str) -> datetime:
    """A time with its offset."""
    return datetime.fromisoformat(text).astimezone(UTC)


def _utc(made: Evening) -> datetime:
    """When an evening was made."""
    found: datetime = made.now.astype("datetime64[s]").astype(datetime)
    return found.replace(tzinfo=UTC)


def _still_serves(before: dict[str, Any] | None, made: Evening) -> bool:
    """Whether the plan that stands there still serves where none could be made anew."""
    return (
        before is not None
        and before["state"] == "planned"
        and _moment(before["now"]) <= _utc(made) < _moment(before["until"])
    )


def _say_on_pages(work: Work, place: Place, inside: str) -> None:
    """The pages that stay say that they could not be made anew, and why."""
    from hayweather.show.evening import with_said

    files = place.files(inside)
    if not files:
        return
    zone = None if work.farm is None else next(iter(work.farm.sites.values())).timezone
    time = f"{datetime.now(ZoneInfo(zone) if zone else None):%H:%M}"
    text = say("evening_failed_since", work.language, time=time, reason=work.problem)
    place.put(with_said(files, text), inside)


def _told_last(state: dict[str, Any], name: str, made: Evening) -> list[Told]:
    """What was told last of this night; nothing where that was another night."""
    from hayweather.show.told import same_night, told_from

    try:
        told = told_from(state["told"][name])
    except (KeyError, TypeError, ValueError):
        return []
    return told if same_night(told, made.now) else []


def _tell(
    work: Work,
    made: Evening,
    changed: Sequence[Remark],
    place: Place,
    recipients: Sequence[Recipient],
) -> None:
    """Say it on the screen, and send it to everybody who has not had just this."""
    from hayweather.delivery.send import Message
    from hayweather.show.evening import CALENDAR, changed_texts, evening_form, message_lines

    title, *lines = message_lines(made, changed)
    print("\n".join((title, *lines)))
    sys.stdout.flush()
    calendar = place.read(CALENDAR, work.name if place.several else "") or ""
    message = Message(title, tuple(lines), calendar)
    said = json.dumps([title, evening_form(made)["fields"], changed_texts(changed, made.voice)])
    for to in recipients:
        digest = sha256(f"{to.address}\n{said}".encode()).hexdigest()
        _send(work, to, message, digest, place)


def _send(work: Work, to: Recipient, message: Any, digest: str, place: Place) -> None:
    """Send a message once; what is cut off while it sends is not sent again."""
    state = place.state()
    now = datetime.now(UTC)
    sent = {
        key: each
        for key, each in state.get("sent", {}).items()
        if now - _moment(each["at"]) < timedelta(days=KEPT_DAYS)
    }
    if digest in sent:
        if sent[digest]["done"]:
            print(say("evening_sent_before", work.language, to=to.shown), file=sys.stderr)
        else:
            said = say("error_send_again", work.language)
            print(f"{to.shown}: {said}", file=sys.stderr)
        return
    mark = {"at": now.isoformat(), "done": False}
    place.keep_state({**state, "sent": {**sent, digest: mark}})
    try:
        to.send(message)
    except HayweatherError as problem:
        place.keep_state({**state, "sent": sent})
        print(problem.line(work.language), file=sys.stderr)
        work.code = max(work.code, problem.exit_code)
        return
    place.keep_state({**state, "sent": {**sent, digest: {**mark, "done": True}}})
    print(say("evening_sent", work.language, to=to.shown), file=sys.stderr)


def _problem(work: Work, place: Place) -> str:
    """What went wrong, and with which farm where there are several."""
    if not place.several:
        return work.problem
    farm = work.name if work.farm is None else work.farm.name
    return say("evening_failed_farm", work.language, farm=farm, reason=work.problem)


def _first_page(works: Sequence[Work], place: Place) -> None:
    """The page over several farms."""
    from hayweather.show.evening import HOME, farms_files

    readable = [work for work in works if work.farm is not None]
    voice = _voice(readable[0] if readable else None)
    evenings = {
        work.name: work.evening
        for work in works
        if work.evening is not None or place.read(HOME, work.name) is not None
    }
    problems = {
        work.name: _problem(work, place) for work in works if work.problem and work.evening is None
    }
    place.put_beside(farms_files(evenings, problems, voice))


def _voice(work: Work | None) -> Voice:
    """Of the page over several farms."""
    from hayweather.show.voice import Voice

    if work is not None and work.evening is not None:
        return replace(work.evening.voice, evening=None)
    language: Any = default_language() if work is None else work.language
    return Voice(language, "us", "UTC")


def _install(
    paths: Sequence[Path],
    to: Path,
    send: Sequence[str],
    again: bool,
    kind: Literal["cron", "systemd", "tasks"],
    out: Path | None,
    at: str,
    again_at: str,
    units: o.Units | None,
) -> None:
    """Print or write what makes the computer do it each evening."""
    from hayweather.cli.load import farm_at
    from hayweather.cli.write import Destinations
    from hayweather.delivery.schedule import (
        Schedule,
        arguments_of,
        joined,
        settings_now,
        times_of,
    )  # fmt: skip
    from hayweather.weather.services import ServiceSettings

    if again:
        raise OptionError("again_and_install", "--install")
    farms = [farm_at(path, os.environ) for path in paths]
    store = ServiceSettings.from_environment().store_folder()
    schedule = Schedule(
        _names(paths)[0],
        (*arguments_of(paths, to, send), *(("--units", units) if units else ())),
        settings_now(os.environ, store.resolve()),
        times_of(at, "--at")[0],
        times_of(again_at, "--again-at"),
        farms[0].language,
    )
    files = schedule.files(kind)
    if out is None:
        print(joined(files), end="")
        return
    where = Destinations(kind="schedule", language=farms[0].language)
    places = {name: out / name if kind == "systemd" else out for name in files}
    where.write([(str(places[name]), text) for name, text in files.items()])
