"""The evening from end to end: services, mail and posts on 127.0.0.1, folder, calendar."""

import base64
import json
import os
import re
import shlex
import socketserver
import subprocess
import sys
import threading
from email import message_from_string, policy
from functools import partial
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import numpy as np
import pytest
from cli.commands import refused
from cli.service_farms import PLACE, SERVICES, farm_file
from icalendar import Calendar
from jsonschema import Draft202012Validator
from support.schemas import schema_of
from weather import server_answers as answers
from weather.server import reply

from hayweather import nights
from hayweather.cli.main import run
from hayweather.nights import drive
from hayweather.weather import asked as load

ASKED = ("--now", "2017-07-09T05:00Z")  # 23:00 in Colorado, before a night with dew
FETCHED = np.datetime64("2017-07-09T00:00:00")
NASTY = "<script>alert(1)<b>Ñu"
DOWN = reply(503, {"error": True, "reason": "down for the test"})
PASSWORD, TOKEN = "word-of-the-mail", "word-of-the-post"


class Mailbox(socketserver.ThreadingTCPServer):
    """A mail server that takes every mail, or says a code to one of the commands."""

    daemon_threads = True

    def __init__(self, refuses: dict[str, str] | None = None) -> None:
        self.refuses, self.said, self.mails = refuses or {}, [], []
        super().__init__(("127.0.0.1", 0), _Session)


class _Session(socketserver.StreamRequestHandler):
    def answer(self, text: str) -> None:
        self.wfile.write(f"{text}\r\n".encode())

    def handle(self) -> None:
        server = self.server
        self.answer("220 here")
        for line in self.rfile:
            said = line.decode().strip()
            verb = said.split(" ")[0].upper()
            server.said.append(said)
            if verb in server.refuses:
                self.answer(server.refuses[verb])
            elif verb == "EHLO":
                self.answer("250-here\r\n250 AUTH PLAIN")
            elif verb == "AUTH":
                self.answer("235 ok")
            elif verb == "DATA":
                self.answer("354 go on")
                lines = iter(self.rfile.readline, b".\r\n")
                server.mails.append(b"".join(lines).decode())
                self.answer("250 ok")
            elif verb == "QUIT":
                self.answer("221 bye")
                return
            else:
                self.answer("250 ok")


class Posts(ThreadingHTTPServer):
    """Takes texts; `status` is its answer."""

    daemon_threads = True

    def __init__(self) -> None:
        self.status, self.got = 200, []
        super().__init__(("127.0.0.1", 0), _Post)

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.server_address[1]}/hay-topic"


class _Post(BaseHTTPRequestHandler):
    def do_POST(self) -> None:
        body = self.rfile.read(int(self.headers["Content-Length"])).decode()
        self.server.got.append((dict(self.headers.items()), body))
        self.send_response(self.server.status)
        self.send_header("Content-Length", "0")
        self.end_headers()

    def log_message(self, format: str, *args: object) -> None:
        """Nothing."""


@pytest.fixture(autouse=True)
def _evening_on_the_wall(monkeypatch, request) -> None:
    """The forecast is fetched the evening before; few members and steps, all hours."""
    usual = nights.night_of
    monkeypatch.setattr(nights, "night_of", partial(usual, members=24))
    monkeypatch.setattr(drive, "run", partial(drive.run, steps_per_hour=4))
    if "server" in request.fixturenames:
        request.getfixturevalue("server")
        monkeypatch.setattr(load, "wall_clock", lambda: FETCHED)


@pytest.fixture
def serving():
    """Serve some servers while the test runs."""
    begun = []

    def begin(server):
        threading.Thread(target=server.serve_forever, args=(0.01,), daemon=True).start()
        begun.append(server)
        return server

    yield begin
    for server in begun:
        server.shutdown()
        server.server_close()


@pytest.fixture
def mail_to(monkeypatch):
    """Point the mail at a server."""

    def point(server) -> None:
        monkeypatch.setenv("HAYWEATHER_MAIL_HOST", "127.0.0.1")
        monkeypatch.setenv("HAYWEATHER_MAIL_PORT", str(server.server_address[1]))
        monkeypatch.setenv("HAYWEATHER_MAIL_FROM", "hay@example.org")
        monkeypatch.setenv("HAYWEATHER_MAIL_USER", "hay")
        monkeypatch.setenv("HAYWEATHER_MAIL_PASSWORD", PASSWORD)

    return point


def evening(capsys, *arguments: object, code: int = 0) -> tuple[str, str]:
    """The command; what it printed and what it said beside."""
    found = run(["evening", *map(str, arguments)])
    said = capsys.readouterr()
    assert found == code, said.err
    assert "Traceback" not in said.err
    assert PASSWORD not in said.out + said.err
    assert TOKEN not in said.out + said.err
    return said.out, said.err


def events(folder: Path) -> list[tuple[str, str]]:
    """Summary and status of every event of the calendar."""
    calendar = Calendar.from_ical((folder / "night.ics").read_bytes())
    return [(str(each["summary"]), str(each["status"])) for each in calendar.walk("VEVENT")]


def all_bytes(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def links_of(page: str) -> set[str]:
    """What a page leads to inside its folder."""
    return {each for each in re.findall(r'(?:href|src)="([^"#]+)"', page) if ":" not in each}


def drier(names: list[str]) -> dict:
    """The good answer in much drier air."""
    content = answers.open_meteo(names)
    hourly = content["hourly"]
    hourly["dew_point_2m"] = [value - 8 for value in hourly["dew_point_2m"]]
    hourly["relative_humidity_2m"] = [value * 0.57 for value in hourly["relative_humidity_2m"]]
    return content


def two_fields(folder: Path) -> Path:
    """A farm whose second field's name tries to be script."""
    path = farm_file(folder)
    text = path.read_text(encoding="utf-8")
    more = f'[field."{NASTY}"]\nsite = "home"\ncured = true\n'
    path.write_text(text.replace("[baler]", f"{more}[baler]"), encoding="utf-8")
    return path


@pytest.mark.slow
def test_the_folder_is_whole_and_leads_nowhere_else(server, tmp_path, capsys):
    www = tmp_path / "www"
    out, _ = evening(capsys, two_fields(tmp_path), "--to", www, *ASKED)
    names = {path.name for path in www.iterdir()}
    pages = [path for path in www.iterdir() if path.suffix == ".html"]
    assert len(pages) == 4  # first page, two fields, one baler
    assert all(re.fullmatch(r"\.?[a-z0-9.-]+", name) for name in names)
    for page in pages:
        text = page.read_text(encoding="utf-8")
        assert links_of(text) <= names
        assert "<script>alert" not in text
        assert "Open-Meteo.com" in text
        assert "http-equiv" in text
    first = (www / "index.html").read_text(encoding="utf-8")
    assert {path.name for path in pages} - {"index.html"} <= links_of(first)
    form = json.loads((www / "night.json").read_text(encoding="utf-8"))
    Draft202012Validator(schema_of(form["schema"])).validate(form)
    Draft202012Validator(schema_of(form["outlook"]["schema"])).validate(form["outlook"])
    assert [field["field"] for field in form["fields"]] == ["north", NASTY]
    assert events(www)
    assert all(status == "CONFIRMED" for _, status in events(www))
    kept = re.search(r"const files = (\[.*\]);", (www / "sw.js").read_text())
    assert {"./", *names} - set(json.loads(kept[1])) == {"sw.js", ".hayweather.json"}
    assert all(field["maybe"] or field["work"] for field in form["fields"])
    assert NASTY in out  # as it is, where nothing reads it as script
    assert (tmp_path / "hayweather.sqlite").exists()  # the night is kept for score


def test_page_message_calendar_and_data_say_the_same(server, tmp_path, capsys):
    www = tmp_path / "www"
    out, _ = evening(capsys, farm_file(tmp_path), "--to", www, *ASKED)
    form = json.loads((www / "night.json").read_text(encoding="utf-8"))
    (field,) = form["fields"]
    page = re.sub(r"<[^>]+>", " ", (www / "index.html").read_text(encoding="utf-8"))
    calendar = Calendar.from_ical((www / "night.ics").read_bytes())
    starts = {str(each["dtstart"].dt.isoformat()) for each in calendar.walk("VEVENT")}
    told = [*field["work"], *field["maybe"]]
    assert told
    for work in told:
        hour = int(work["start"][11:13]) % 12 or 12
        minute = work["start"][14:16]
        clock = f"{hour}:{minute}" if minute != "00" else f"{hour} "
        assert clock in page
        assert clock in out
        assert any(work["start"][:16] == start[:16] for start in starts)


def test_service_down_says_unknown_everywhere_and_calls_off_what_was_planned(
    server, tmp_path, capsys, monkeypatch
):
    www, farm = tmp_path / "www", farm_file(tmp_path)
    evening(capsys, farm, "--to", www, *ASKED)
    before = {name for name in os.listdir(www) if name.endswith((".html", ".ics", ".txt"))}
    planned = events(www)
    server.always = DOWN
    monkeypatch.setenv("HAYWEATHER_STORE", str(tmp_path / "other store"))
    # Half an hour later the plan still serves: it stays, and its pages say what went wrong.
    later = ("--now", "2017-07-09T05:30Z")
    out, err = evening(capsys, farm, "--to", www, *later, code=3)
    assert out == ""
    assert "down for the test" in err
    assert events(www) == planned
    assert all("down for the test" in (www / name).read_text() for name in before
               if name.endswith(".html"))  # fmt: skip
    # Toward the morning it does not: unknown, at every address that there was.
    out, err = evening(capsys, farm, "--to", www, "--now", "2017-07-09T12:05Z", code=3)
    assert out.splitlines()[1].startswith("UNKNOWN: ")
    assert {name for name in os.listdir(www) if name.endswith((".html", ".ics", ".txt"))} == before
    for name in before:
        text = (www / name).read_text(encoding="utf-8").replace("\r\n ", "")
        assert "unknown" in text.lower(), name
        assert "nothing to bale" not in text.lower()
    said = events(www)
    assert ("Unknown: north", "CONFIRMED") in said
    others = [status for summary, status in said if "nknown" not in summary]
    assert set(others) == {"CANCELLED"}
    form = json.loads((www / "night.json").read_text(encoding="utf-8"))
    Draft202012Validator(schema_of(form["schema"])).validate(form)
    assert (form["state"], form["outlook"]) == ("unknown", None)


def test_farms_that_fail_leave_the_others_alone(server, tmp_path, capsys):
    www = tmp_path / "www"
    for name in ("hill", "dale", "bad"):
        (tmp_path / name).mkdir()
    hill, dale = farm_file(tmp_path / "hill"), farm_file(tmp_path / "dale")
    dale.write_text(dale.read_text().replace('"Hill"', '"Dale"'))
    bad = tmp_path / "bad" / "farm.toml"
    bad.write_text("[farm\n")
    out, err = evening(capsys, hill, dale, bad, "--to", www, *ASKED, code=2)
    assert "Hill, night of" in out
    assert "Dale, night of" in out
    assert "bad: farm.toml: line 1" in err
    first = (www / "index.html").read_text(encoding="utf-8")
    assert "bad: farm.toml: line 1" in first
    assert str(tmp_path) not in first
    assert {"hill/index.html", "dale/index.html"} <= links_of(first)
    for link in links_of(first):
        assert (www / link).is_file()
    old = all_bytes(www / "dale")
    # One of them is refused tomorrow; its folder stays as it was but for the line on its pages.
    dale.write_text("[farm\n")
    evening(capsys, hill, dale, bad, "--to", www, *ASKED, code=2)
    new = all_bytes(www / "dale")
    same = {name for name, content in old.items() if new[name] == content}
    assert same == {name for name in old if not name.endswith((".html", "sw.js", "r.json"))}
    line = refused(capsys, "evening", hill, "--to", www, *ASKED)
    assert "other farms" in line


@pytest.mark.slow
def test_a_folder_that_cannot_be_written_leaves_the_other_farms_alone(server, tmp_path, capsys):
    www = tmp_path / "www"
    for name in ("hill", "dale"):
        (tmp_path / name).mkdir()
        (www / name).mkdir(parents=True)
    (www / "hill" / "photo.jpg").write_bytes(b"mine")
    farms = [farm_file(tmp_path / name) for name in ("hill", "dale")]
    farms[1].write_text(farms[1].read_text().replace('"Hill"', '"Dale"'))
    out, err = evening(capsys, *farms, "--to", www, *ASKED, code=2)
    assert "photo.jpg" in err
    assert "Dale, night of" in out
    assert (www / "dale" / "index.html").is_file()
    assert os.listdir(www / "hill") == ["photo.jpg"]
    assert (www / "index.html").is_file()


def test_sent_by_mail_and_post_once(server, serving, mail_to, tmp_path, capsys, monkeypatch):
    www, farm = tmp_path / "www", two_fields(tmp_path)
    box, posts = serving(Mailbox()), serving(Posts())
    mail_to(box)
    monkeypatch.setenv("HAYWEATHER_POST_TOKEN", TOKEN)
    asked = (farm, "--to", www, "--send", "anna@example.org", "--send", posts.url, *ASKED)
    out, err = evening(capsys, *asked)
    assert "sent to anna@example.org" in err
    assert "hay-topic" not in err  # an address to post to may be a secret
    (mail,), ((headers, body),) = box.mails, posts.got
    mail = message_from_string(mail, policy=policy.default)
    assert mail["To"] == "anna@example.org"
    assert mail["Subject"] == out.splitlines()[0]
    assert mail.get_body().get_content().splitlines() == out.splitlines()[1:]
    assert body == out
    assert headers["Content-Type"] == "text/plain; charset=utf-8"
    assert headers["Authorization"] == f"Bearer {TOKEN}"
    (attached,) = mail.iter_attachments()
    assert Calendar.from_ical(attached.get_content()).walk("VEVENT")
    login = next(said for said in box.said if said.startswith("AUTH PLAIN"))
    assert base64.b64decode(login.split()[2]).decode() == f"\0hay\0{PASSWORD}"
    _, err = evening(capsys, *asked)
    assert err.count("the same was sent before") == 2
    assert (len(box.mails), len(posts.got)) == (1, 1)
    written = b"".join(all_bytes(www).values())
    assert PASSWORD.encode() not in written
    assert b"anna@example.org" not in written


def test_what_fails_to_be_sent_is_one_line_and_sent_the_next_time(
    server, serving, mail_to, tmp_path, capsys
):
    www, farm = tmp_path / "www", farm_file(tmp_path)
    box, posts = serving(Mailbox({"AUTH": "535 no"})), serving(Posts())
    mail_to(box)
    posts.status = 500
    asked = (farm, "--to", www, "--send", "anna@example.org", "--send", posts.url, *ASKED)
    _, err = evening(capsys, *asked, code=3)
    assert "does not take the user or the password" in err
    assert "127.0.0.1: could not be sent (HTTP 500)" in err
    assert (www / "index.html").exists()
    box.refuses, posts.status = {}, 200
    evening(capsys, *asked)
    assert (len(box.mails), len(posts.got)) == (1, 2)
    # Redirected elsewhere with its token: a failure.
    posts.status = 302
    _, err = evening(capsys, farm, "--to", tmp_path / "w2", "--send", posts.url, *ASKED, code=3)
    assert "HTTP 302" in err


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ("anna", "is no address"),
        ("http://example.org/topic", "is no address"),
        ("https://", "is no address"),
        ("a b@example.org", "is no address"),
        ("anna@example.org\nBcc: x@example.org", "is no address"),
        ("anna@example.org", "HAYWEATHER_MAIL_HOST"),
    ],
)
def test_addresses_and_settings_are_looked_at_before_any_work(
    server, tmp_path, capsys, address, said
):
    line = refused(
        capsys, "evening", farm_file(tmp_path), "--to", tmp_path / "w", "--send", address
    )
    assert said in line
    assert server.seen == []
    assert not (tmp_path / "w").exists()


def test_a_password_never_goes_over_a_plain_line_to_another_computer(monkeypatch):
    from hayweather.delivery import send
    from hayweather.errors import DeliveryError

    said = []

    class Plain:
        def __init__(self, *_, **__):
            pass

        def ehlo_or_helo_if_needed(self):
            pass

        def has_extn(self, name):
            return False

        def close(self):
            said.append("closed")

        def login(self, *_):
            said.append("login")

    monkeypatch.setattr(send.smtplib, "SMTP", Plain)
    mail = send.Mail("mail.example.org", 587, "hay@example.org", "hay", PASSWORD)
    with pytest.raises(DeliveryError):
        send.Recipient("anna@example.org", mail).send(send.Message("t", ("x",)))
    assert said == ["closed"]
    assert PASSWORD not in repr(mail)


@pytest.mark.slow
def test_again_is_silent_until_something_has_changed(
    server, serving, tmp_path, capsys, monkeypatch
):
    www, farm, posts = tmp_path / "www", farm_file(tmp_path), serving(Posts())
    asked = (farm, "--to", www, "--send", posts.url)
    evening(capsys, *asked, *ASKED)
    before = json.loads((www / "night.json").read_text())["now"]
    out, err = evening(capsys, *asked, "--again", "--now", "2017-07-09T05:30Z")
    assert (out, err) == ("", "")
    assert len(posts.got) == 1
    assert json.loads((www / "night.json").read_text())["now"] != before  # the page is fresh
    server.always = lambda handler: reply(200, drier(_asked_names(handler)))(handler)
    monkeypatch.setattr(load, "wall_clock", lambda: FETCHED + np.timedelta64(6, "h"))
    out, _ = evening(capsys, *asked, "--again", "--now", "2017-07-09T06:30Z")
    assert out.splitlines()[1] == "STOP AND LOOK: this has changed"
    assert "- North: there is no hour left that may be ready." in out
    assert len(posts.got) == 2
    out, err = evening(capsys, *asked, "--again", "--now", "2017-07-09T06:40Z")
    assert (out, err) == ("", "")


def _asked_names(handler) -> list[str]:
    from urllib.parse import parse_qs, urlsplit

    return parse_qs(urlsplit(handler.path).query)["hourly"][0].split(",")


def test_again_without_an_evening_before_it_tells_the_whole_night(server, tmp_path, capsys):
    out, _ = evening(capsys, farm_file(tmp_path), "--to", tmp_path / "w", "--again", *ASKED)
    assert "Hill, night of" in out
    assert "STOP AND LOOK" not in out


def test_a_defect_in_one_farm_is_one_line_and_unknown(server, tmp_path, capsys, monkeypatch):
    def broken(*_):
        raise ZeroDivisionError("broken")

    monkeypatch.setattr("hayweather.plan.sheet.make_runsheet", broken)
    out, err = evening(capsys, farm_file(tmp_path), "--to", tmp_path / "w", *ASKED, code=1)
    assert "UNKNOWN" in out
    assert "ZeroDivisionError" in err


def test_in_spanish(server, tmp_path, capsys):
    www = tmp_path / "www"
    out, _ = evening(capsys, farm_file(tmp_path, language="es"), "--to", www, *ASKED)
    page = (www / "index.html").read_text(encoding="utf-8")
    assert '<html lang="es">' in page
    assert "noche del" in out
    for word in ("Made ", "night of", "Subscribe", "nothing to bale"):
        assert word not in page


class TestInstall:
    def shown(self, capsys, tmp_path, kind, *more) -> str:
        farm = farm_file(tmp_path)
        out, _ = evening(capsys, farm, "--to", tmp_path / "w w%'", "--install", kind, *more)
        return out

    @pytest.mark.parametrize("kind", ["cron", "systemd", "tasks"])
    def test_nothing_secret_and_all_that_is_lacking(self, tmp_path, capsys, monkeypatch, kind):
        monkeypatch.setenv("HAYWEATHER_MAIL_PASSWORD", PASSWORD)
        monkeypatch.setenv("HAYWEATHER_OPEN_METEO_KEY", TOKEN)
        monkeypatch.setenv("HAYWEATHER_POST_TOKEN", TOKEN)
        monkeypatch.setenv("HAYWEATHER_BROKER_PASSWORD", PASSWORD)
        monkeypatch.setenv("HAYWEATHER_CONTACT", "me@example.org")
        monkeypatch.setenv("HAYWEATHER_STORE", str(tmp_path / "store"))
        shown = self.shown(capsys, tmp_path, kind)  # looks for the words of secrets itself
        for part in (sys.executable, "me@example.org", str(tmp_path / "store"), "--again"):
            assert part in shown
        assert not (tmp_path / "w w%'").exists()

    @pytest.mark.parametrize(("kind", "word"), [("cron", "agregue"), ("tasks", "Ejecute")])
    def test_notes_beside_the_lines_are_in_the_farm_s_language(self, tmp_path, capsys, kind, word):
        farm = farm_file(tmp_path, language="es")
        out, _ = evening(capsys, farm, "--to", tmp_path / "w", "--install", kind)
        assert word in next(line for line in out.splitlines() if line.startswith("# "))

    def test_the_line_of_cron_works_in_an_empty_environment(self, tmp_path, capsys, monkeypatch):
        """With a farm file in place of the program: what is reached is what was meant."""
        echo = tmp_path / "python"
        echo.write_text('#!/bin/sh\nprintf "%s\\n" "$@" "store=$HAYWEATHER_STORE" "w=$HAYW_WORD"\n')
        echo.chmod(0o755)
        monkeypatch.setattr(sys, "executable", str(echo))
        monkeypatch.setenv("HAYWEATHER_STORE", str(tmp_path / "a store"))
        secrets = tmp_path / ".config" / "hayweather" / "secrets"
        secrets.parent.mkdir(parents=True)
        secrets.write_text("HAYW_WORD='a b'\n")
        lines = self.shown(capsys, tmp_path, "cron").splitlines()
        jobs = [line for line in lines if not line.startswith("#")]
        assert [job.split(" ")[:5] for job in jobs] == [
            ["30", "17", "*", "*", "*"], ["0", "21,23,1,3,5", "*", "*", "*"],
        ]  # fmt: skip
        for job, more in zip(jobs, ([], ["--again"]), strict=True):
            command = job.split(" ", 5)[5]
            assert re.search(r"(?<!\\)%", command) is None  # cron ends a line there
            ended = subprocess.run(
                ["/bin/sh", "-c", command.replace("\\%", "%")],
                env={"HOME": str(tmp_path), "PATH": "/usr/bin:/bin"},
                capture_output=True, text=True, check=True,
            )  # fmt: skip
            assert ended.stdout.splitlines() == [
                "-m", "hayweather", "evening", str(tmp_path / "farm.toml"),
                "--to", str(tmp_path / "w w%'"), *more,
                f"store={tmp_path / 'a store'}", "w=a b",
            ]  # fmt: skip

    def test_units_of_systemd_are_written_and_not_over_others(self, tmp_path, capsys):
        units = tmp_path / "units"
        units.mkdir()
        self.shown(capsys, tmp_path, "systemd", "--out", units, "--at", "18:05")
        assert len(list(units.iterdir())) == 4
        timer = units / next(p.name for p in units.glob("*.timer") if "again" not in p.name)
        assert "OnCalendar=*-*-* 18:05:00" in timer.read_text()
        service = next(units.glob("*-again.service")).read_text()
        started = re.search("ExecStart=(.*)", service)[1].replace("%%", "%")
        assert shlex.split(started)[-2:] == [str(tmp_path / "w w%'"), "--again"]
        self.shown(capsys, tmp_path, "systemd", "--out", units)  # ours may be replaced
        timer.write_text("[Timer]\nmine=1\n")
        farm = tmp_path / "farm.toml"
        line = refused(capsys, "evening", farm, "--to", "w", "--install", "systemd", "--out", units)
        assert "would be lost" in line
        assert timer.read_text() == "[Timer]\nmine=1\n"

    def test_times_that_are_none(self, tmp_path, capsys):
        farm = farm_file(tmp_path)
        for option in ("--at", "--again-at"):
            line = refused(
                capsys, "evening", farm, "--to", "w", "--install", "cron", option, "5 pm"
            )
            assert line.startswith(f"{option}: ")


@pytest.mark.parametrize("service", SERVICES)
def test_both_services_in_an_empty_folder(server, tmp_path, capsys, service):
    more = ("--old",) if service == "us-nws" else ()
    out, _ = evening(
        capsys, farm_file(tmp_path, service, PLACE), "--to", tmp_path / "w", *ASKED, *more
    )
    assert "Hill, night of" in out
