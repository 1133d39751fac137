"""The doors of a live server, attacked: each test counts what it tried (pytest -s prints it)."""

import re
import socket
import threading
import time
import uuid
from html.parser import HTMLParser

import pytest
from cli.commands import refused
from support.live import farm_in, live_of, outside, reading, running

from hayweather.cli import serve as command
from hayweather.cli.main import run
from hayweather.log import open_log
from hayweather.web import app as web_app
from hayweather.web.doors import COOKIE, Doors, Pace, Sessions
from hayweather.web.server import Patient

PATHS = (
    "/", "/plan.html", "/sheet-1.html", "/sheet-2.html", "/log.html", "/live.js", "/worker.js",
    "/events", "/version", "/entry", "/nothing", "/in/", "/in/x", "/in/../", "/hayweather.sqlite",
)  # fmt: skip
TRICKS = (
    "/../sagebeck.toml", "/..%2fsagebeck.toml", "/%2e%2e/sagebeck.toml", "/....//sagebeck.toml",
    "//etc/passwd", "/etc/passwd", "/sagebeck.toml", "/sagebeck.csv", "/hayweather.sqlite",
    "/hayweather.sessions", "/.git/config", "/live.js/../../page.py", "/%00", "/page.css",
    "/templates/live.js", "/live.js%00.html", "/C:%5cWindows", "/file:///etc/passwd", "/frame.html",
    "/in/%2e%2e%2f", "/sheet-99.html", "/sheet--1.html", "/%ff%fe",
)  # fmt: skip
NEEDED_HEADERS = (
    "content-security-policy", "x-content-type-options", "x-frame-options", "referrer-policy",
    "cross-origin-opener-policy", "cross-origin-resource-policy", "cache-control",
)  # fmt: skip
BAD = "<img src=x onerror=alert(1)>"


@pytest.fixture(scope="module")
def lan(tmp_path_factory):
    """A farm with hostile names, served to its network."""
    folder = tmp_path_factory.mktemp("hostile_folder")
    path = farm_in(
        folder,
        ('name = "Sagebeck"', f'name = "{BAD}"'),
        ("[field.creek]", f"[field.'{BAD}']"),
    )
    with running(live_of(path), lan=True) as served:
        yield served


@pytest.fixture(autouse=True)
def no_pace(monkeypatch, request):
    """These tests ask faster than people; one of them looks at the pace itself."""
    if "pace" not in request.node.name:
        monkeypatch.setattr(Pace, "allows", lambda self, name: True)


def entries(served) -> int:
    with open_log(served.live.farm, only_read=True) as log:
        return len(log.readings()) + len(log.work())


def test_without_the_secret_nothing_is_served(lan):
    hosts = [host for host in ("127.0.0.1", outside()) if host]
    answers = []
    for host in hosts:
        stranger = lan.phone(None, host)
        for cookie in ("", f"{COOKIE}=x", f"{COOKIE}=" + "a" * 5000, f"{COOKIE}=\"'<>"):
            stranger.cookie = cookie
            answers += [stranger.ask(m, path) for path in PATHS for m in ("GET", "HEAD", "POST")]
        link = lan.site.doors.links["log"]
        near = (link[:-1], link + "x", link[1:], link.swapcase())
        answers += [stranger.get(f"/in/{each}") for each in near]
        answers += [stranger.post(reading()), stranger.ask("PUT", "/"), stranger.ask("TRACE", "/")]
    print(f"\n{len(answers)} requests without the secret at {hosts}")
    assert {answer.status for answer in answers} <= {403, 404, 405}
    bodies = {answer.body for answer in answers}
    assert len(bodies - {b""}) == 1, "one sentence, whatever was asked"
    assert all("set-cookie" not in answer.headers for answer in answers)
    assert entries(lan) == 0


@pytest.mark.slow
def test_the_link_lets_in_and_a_session_can_be_withdrawn(lan, capsys):
    phone = lan.phone("log", outside() or "127.0.0.1")
    other = lan.phone("look")
    page = phone.get("/")
    assert page.status == 200
    assert 'id="reading"' in page.text
    assert 'id="reading"' not in other.get("/").text
    kept = lan.site.doors.sessions.path
    assert phone.cookie.partition("=")[2] not in kept.read_text()
    assert kept.stat().st_mode & 0o077 == 0
    stream = socket.create_connection((phone.host, lan.port), timeout=30)
    head = f"GET /events HTTP/1.1\r\nHost: {phone.host}:{lan.port}\r\nCookie: {phone.cookie}"
    stream.sendall(f"{head}\r\n\r\n".encode())
    got = b""
    while b"data: " not in got:
        got += stream.recv(4096)
    name = lan.site.doors.visitor({COOKIE: phone.cookie.partition("=")[2]}).name
    assert run(["serve", str(lan.live.farm.path), "--withdraw", name]) == 0
    assert "1" in capsys.readouterr().out
    assert phone.get("/").status == 403
    assert phone.post(reading()).status == 403
    lan.site.news.tell(0)
    while stream.recv(4096):
        pass  # the stream ends by itself
    stream.close()
    assert other.get("/").status == 200


def test_one_who_may_look_writes_nothing(lan):
    before = entries(lan)
    phone = lan.phone("look")
    assert phone.post(reading()).status == 403
    assert phone.post({"form": "remove", "number": 1}).status == 403
    assert entries(lan) == before


def test_a_wrong_origin_writes_nothing(lan):
    phone, before = lan.phone(), entries(lan)
    own = f"http://{phone.host}:{lan.port}"
    wrong = (
        None, "null", "", "http://evil.example", f"https://{phone.host}:{lan.port}",
        f"http://{phone.host}", f"http://{phone.host}:1", own + ".evil.example", own + "/",
        "http://127.0.0.1.evil.example", "file://", f"http://user@{phone.host}:{lan.port}",
    )  # fmt: skip
    answers = [phone.post(reading(), Origin=origin) for origin in wrong]
    print(f"\n{len(answers)} wrong origins")
    assert {answer.status for answer in answers} == {403}
    assert entries(lan) == before
    assert phone.post(reading(9)).status == 200


def test_a_wrong_name_of_the_host_is_turned_away(lan, tmp_path):
    phone = lan.phone()
    for host in ("evil.example", "evil.example:80", "127.0.0.1@evil.example", "a/b", "", "x" * 300):
        assert phone.get("/", Host=host).status in (400, 421), host
    here = Doors(None)
    assert here.host_is_ours("127.0.0.1:8042")
    assert here.host_is_ours("localhost")
    assert not here.host_is_ours("192.0.2.7:8042"), "on this computer alone its own names alone"
    behind = Doors(Sessions(tmp_path / "s"), "https://hay.example.com/farm")
    assert behind.host_is_ours("hay.example.com")
    assert not behind.host_is_ours("evil.example.com")
    assert behind.origin_is_ours("https://hay.example.com", "127.0.0.1:8042")
    assert not behind.origin_is_ours("http://hay.example.com", "127.0.0.1:8042")
    assert (behind.is_secure, behind.path) == (True, "/farm/")


@pytest.mark.slow
def test_the_same_form_twice_is_once_also_after_a_restart(tmp_path):
    path = farm_in(tmp_path)
    form = reading(8.5)
    with running(live_of(path)) as served:
        phone = served.phone()
        assert [phone.post(form).data["known"] for _ in range(5)] == [False, True, True, True, True]
        assert phone.post({**form, "moisture": 9.5}).status == 409
        assert phone.post({**form, "field": "creek"}).status == 409
        assert phone.post({**form, "form": "work", "event": "started"}).status in (400, 409)
        many = [threading.Thread(target=phone.post, args=({**form, "id": str(uuid.UUID(int=7))},))
                for _ in range(8)]  # fmt: skip
        for one in many:
            one.start()
        for one in many:
            one.join()
        assert entries(served) == 2
    with running(live_of(path)) as served:
        assert served.phone().post(form).data["known"] is True
        assert entries(served) == 2


def test_huge_and_malformed_forms(lan):
    phone, before = lan.phone(), entries(lan)
    heads = {"Origin": f"http://{phone.host}:{lan.port}", "Accept": "application/json"}
    form = "application/x-www-form-urlencoded"
    good = "form=reading&field=bench&moisture=9&part=whole&layer=&age=0"
    tried = [
        ("a" * 9000, form, 413), ("form=note&note=" + "x" * 100_000, form, 413),
        (good, "application/json", 415), (good, "multipart/form-data; boundary=x", 415),
        (good, "", 415), ("", form, 400), ("&&&", form, 400), ("form", form, 400),
        ("form=reading&form=note", form, 400), ("&".join(f"a{n}=1" for n in range(50)), form, 400),
        ("form=%ff%fe", form, 400), ("form=reading&id=1&field=bench", form, 400),
        (good + "&id=" + "1" * 36, form, 400), (good + "&admin=1", form, 400),
        (good.replace("bench", "nowhere"), form, 400),
        (good.replace("=9&", "=nan&"), form, 400), (good.replace("=9&", "=1e999&"), form, 400),
        (good.replace("=9&", "=-1&"), form, 400), (good.replace("=9&", "=99&"), form, 400),
        (good.replace("=9&", f"={'9' * 5000}&"), form, 400),
        (good.replace("whole", "skin"), form, 400), (good.replace("layer=", "layer=x"), form, 400),
        (good.replace("age=0", "age=-5"), form, 400),
        (good.replace("age=0", "age=9999999"), form, 400),
        (good.replace("age=0", "age=1e3"), form, 400),
        ("form=note&field=bench&note=+++&age=0", form, 400),
        ("form=note&field=bench&note=" + "x" * 2000, form, 400),
        ("form=work&field=bench&event=baled&age=0", form, 400),
        ("form=work&field=bench&event=started&machine=other&age=0", form, 400),
        ("form=remove&number=999999999", form, 400), ("form=remove&number=1;DROP", form, 400),
    ]  # fmt: skip
    for body, kind, wanted in tried:
        got = phone.ask("POST", "/entry", body, **heads, Content_Type=kind)
        assert got.status == wanted, (body[:60], got.status, got.text)
        assert got.data["said"].strip()
        assert "Traceback" not in got.text
    print(f"\n{len(tried)} huge or malformed forms")
    assert entries(lan) == before
    endless = socket.create_connection((phone.host, lan.port), timeout=30)
    endless.sendall(
        f"POST /entry HTTP/1.1\r\nHost: {phone.host}:{lan.port}\r\nCookie: {phone.cookie}\r\n"
        f"Origin: http://{phone.host}:{lan.port}\r\nContent-Type: {form}\r\n"
        "Transfer-Encoding: chunked\r\n\r\n".encode()
    )
    for _ in range(4):
        endless.sendall(b"1000\r\n" + b"a" * 4096 + b"\r\n")
    assert endless.recv(4096).startswith(b"HTTP/1.1 413")
    endless.close()
    for broken in (b"GET / HTTP/9.9\r\n\r\n", b"\x16\x03\x01\x00\xa5\x01", b"GET /\r\n\r\n",
                   b"GET / HTTP/1.1\r\nHost: a\r\nHost: b\r\n\r\n",
                   b"GET / HTTP/1.1\r\nX: " + b"y" * 40_000 + b"\r\n\r\n"):  # fmt: skip
        with socket.create_connection((phone.host, lan.port), timeout=30) as raw:
            raw.sendall(broken)
            assert raw.recv(64).split(b" ")[1:2] in ([b"400"], [b"421"]), broken[:40]
    assert phone.get("/version").status == 200


def test_an_unlikely_reading_is_asked_back(lan):
    phone, form = lan.phone(), reading(90)
    asked = phone.post(form)
    assert (asked.status, asked.data["ask"]) == (400, "sure")
    assert phone.post({**form, "sure": "yes"}).status == 200


def test_tricks_with_paths_get_nothing_of_this_computer(lan):
    phone = lan.phone()
    answers = [phone.get(path) for path in TRICKS]
    print(f"\n{len(answers)} paths")
    assert {answer.status for answer in answers} <= {400, 403, 404}
    assert all(len(answer.body) < 200 for answer in answers)


@pytest.mark.slow
def test_no_answer_tells_of_this_computer_or_its_keys(lan):
    phone = lan.phone()
    secret = [*lan.site.doors.links.values(), phone.cookie.partition("=")[2]]
    hidden = [str(lan.live.farm.path.parent), lan.live.farm.path.parent.name, *secret]
    answers = [phone.get(path) for path in ("/", "/plan.html", "/sheet-1.html", "/log.html",
               "/live.js", "/worker.js", "/version", "/nothing")]  # fmt: skip
    answers.append(phone.post(reading("x")))
    for answer in answers:
        assert all(word not in answer.text for word in hidden)
        assert all(word not in str(answer.headers) for word in (*hidden, "uvicorn"))
        assert all(name in answer.headers for name in NEEDED_HEADERS)


def test_names_and_notes_with_scripts_stay_text(lan):
    phone = lan.phone()
    note = {"form": "note", "id": str(uuid.uuid4()), "field": BAD, "note": f"{BAD}\"'", "age": 0}
    assert phone.post(note).status == 200
    for path in ("/", "/plan.html", "/sheet-1.html", "/log.html"):
        page = phone.get(path)
        assert page.status == 200
        assert BAD not in page.text, path
        assert "&lt;img src=x onerror=alert(1)&gt;" in page.text, path
        policy = page.headers["content-security-policy"]
        scripts = re.search(r"script-src ([^;]*)", policy)[1]
        assert "unsafe" not in scripts
        assert scripts.startswith("'self'")
        assert policy.startswith("default-src 'none'")
        assert handlers_in(page.text) == []


def handlers_in(page: str) -> list[str]:
    """Attributes of a page's tags that would run something."""
    found: list[str] = []

    class Tags(HTMLParser):
        def handle_starttag(self, tag, attributes):
            found.extend(name for name, _ in attributes if name.startswith("on"))

    Tags().feed(page)
    return found


def gone(connection: socket.socket) -> bool:
    """Whether the other side has closed a connection; it waits for that."""
    try:
        return connection.recv(1) == b""
    except ConnectionError:
        return True


@pytest.mark.slow
def test_slow_browsers_are_let_go(tmp_path, monkeypatch):
    monkeypatch.setattr(Patient, "head_s", 0.4)
    monkeypatch.setattr(web_app, "BODY_S", 0.4)
    with running(live_of(farm_in(tmp_path))) as served:
        slow = [socket.create_connection(("127.0.0.1", served.port), timeout=30) for _ in range(30)]
        for one in slow:
            one.sendall(b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Slow: ")
        assert served.phone().get("/version").status == 200
        for one in slow:
            assert gone(one)
            one.close()
        body = socket.create_connection(("127.0.0.1", served.port), timeout=30)
        body.sendall(
            f"POST /entry HTTP/1.1\r\nHost: 127.0.0.1:{served.port}\r\n"
            f"Origin: http://127.0.0.1:{served.port}\r\nContent-Length: 100\r\n"
            "Content-Type: application/x-www-form-urlencoded\r\n\r\nform=".encode()
        )
        assert body.recv(64).startswith(b"HTTP/1.1 408")
        body.close()
        monkeypatch.setattr(Patient, "most_each", 5)
        crowd = [socket.create_connection(("127.0.0.1", served.port), timeout=30) for _ in range(9)]
        time.sleep(0.1)
        assert len(Patient.counts) <= 1
        for one in crowd:
            one.close()


@pytest.mark.slow
def test_the_pace_of_one_visitor_is_bounded(tmp_path):
    with running(live_of(farm_in(tmp_path))) as served:
        phone = served.phone()
        answers = [phone.get("/version").status for _ in range(200)]
        assert 429 in answers
        assert answers[:40] == [200] * 40
    pace = Pace(burst=3, rate=0.0, most=10)
    assert [pace.allows("a") for _ in range(5)] == [True, True, True, False, False]
    assert pace.allows("b")
    for number in range(1000):
        pace.allows(str(number))
    assert len(pace._left) == 10


def test_without_the_extra_one_line(capsys, tmp_path, monkeypatch):
    monkeypatch.setattr(command, "NEEDED", ("no_such_module_of_the_web",))
    assert "hayweather[web]" in refused(capsys, "serve", farm_in(tmp_path))


@pytest.mark.parametrize(
    "options",
    [("--port", "x"), ("--port", "99999"), ("--behind", "hay"), ("--behind", "ftp://a"),
     ("--behind", "https://a/?b"), ("--withdraw", "nobody")],
)  # fmt: skip
def test_options_that_cannot_be(capsys, tmp_path, options):
    refused(capsys, "serve", farm_in(tmp_path), *options)


def test_a_port_that_is_taken(capsys, tmp_path):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        assert str(port) in refused(capsys, "serve", farm_in(tmp_path), "--port", port)
