"""Anything that a browser may post to a live server: taken once, or refused in one line.

Forms with wrong, huge and foreign values, missing and doubled fields, other people's ids,
without a session, in any order and four at a time. After each the log is compared with what
it held: a form that is taken adds its one entry, any other changes nothing. What is counted
in the night, and every page, is then what the log says. 120 forms by default, thousands with
``pytest -m long tests/endurance/test_any_form.py -s``, which prints what became of them.
"""

from __future__ import annotations

import random
import re
import sqlite3
import threading
import uuid
from collections import Counter
from contextlib import closing
from dataclasses import dataclass, field
from functools import cache
from urllib.parse import parse_qsl, quote_from_bytes, urlencode

import numpy as np
import pytest
from endurance.test_log import check_sound
from support.agree_work import page_words, served_disagreements
from support.all_outputs import outlook_outputs, work_outputs
from support.live import FEW, Inside, farm_in, live_of
from web.test_many import GROWN_MB, resident_mb

from hayweather.nights import drive
from hayweather.web.app import News, Site
from hayweather.web.doors import Doors, Pace, Sessions
from hayweather.words import table

BEGAN = "2025-07-08T21:00:00Z"
"""Two in the afternoon where the sample farm lies, when its night begins."""
TWICE = np.datetime64("2025-11-02T09:30", "s")
"""Half past one there, the second time."""
KIND = "application/x-www-form-urlencoded"
FIELDS = ["bench", "creek", "saddle", " BENCH ", "Creek"]
NO_FIELDS = [
    "", "nowhere", "bench\0", "ben ch", "'; DROP TABLE entries; --", "__proto__", "{farm}",
    "x" * 3000, "béñch", "\u202ebench", "bench\ncreek", "../bench", "%s%n", "<b>",
]  # fmt: skip
MOISTURES = [
    "9",
    "10.5",
    "10,5",
    " 12 %",
    "11°",
    "14.25",
    "8,0",
    "18",
    "7.",
    "3",
    "75",
    "１２",
    "١٢",
]
NO_MOISTURES = ["", " ", "ten", "nan", "NaN", "inf", "-inf", "1e999", "1e1", "1_5", "0x10", "-1",
                "−5", "100.01", "101", "9" * 3000, "10.5.5", "10,5,5", "1,000.5", "½", "12\0",
                "9 9", "{value}", "9;8", "True", "none", "٫", "12 g/kg"]  # fmt: skip
UNLIKELY = ["0", "1.5", "0.12", "90", "100", "99,9"]
AGES = ["0", "1", "59", "3600", "41000", "604800"]
NO_AGES = ["", "-1", "0.5", "1e3", "٣", "604801", "9999999", "9" * 40, "nan", " 5", "5\n", "inf"]
NOTES = [
    "",
    "dusty",
    "tierra húmeda, ñandú",
    "  two  \n lines ",
    "=1+1",
    "<script>",
    "\u2028x",
    "{x}",
]
NO_NOTES = ["x" * 501, "ñ" * 3000]
IDS = ["", "1" * 36, "x", "{id}", "00000000-0000-0000-0000-00000000000g", "' OR 1=1", "٣" * 36]
OTHERS = ["skin", "bale", "top\0", "baled", "rain", "other", "", "null", "0", "TRUE", "yes"]
FAR_KEYS = ["admin", "time", "uuid", "source", "made", "removed", "kind", "farm", "now", "bias"]


def a_form(chance: random.Random, known: list[dict[str, str]], numbers: int) -> dict[str, str]:
    """A form as the pages send it."""
    if known and chance.random() < 0.12:
        return dict(chance.choice(known))
    if numbers and chance.random() < 0.08:
        return {"form": "remove", "number": str(chance.randrange(1, numbers + 1))}
    form = {
        "form": chance.choice(["reading", "reading", "reading", "work", "note"]),
        "id": str(uuid.UUID(int=chance.getrandbits(128))),
        "field": chance.choice(FIELDS),
        "age": chance.choice(AGES),
    }
    if form["form"] == "reading":
        form |= {
            "moisture": chance.choice(MOISTURES),
            "part": chance.choice(["whole", "whole", "leaf", "stem"]),
            "layer": chance.choice(["", "", "top", "middle", "bottom"]),
        }
    elif form["form"] == "work":
        machine = chance.choice(["", "baler", "rig"])
        form |= {"event": chance.choice(["started", "stopped", "filled"]), "machine": machine}
    else:
        form["note"] = chance.choice(NOTES[1:])
    return form


HOSTILE = {
    "field": NO_FIELDS, "moisture": NO_MOISTURES + UNLIKELY, "age": NO_AGES, "id": IDS,
    "note": NO_NOTES + NOTES, "part": OTHERS, "layer": OTHERS, "event": OTHERS, "machine": OTHERS,
    "form": OTHERS, "sure": ["yes", "no", "1", ""], "by": NOTES + NO_NOTES,
    "number": ["0", "-1", "1;2", "9" * 9, "9" * 30, "٣", "1.0", "", "1 "],
}  # fmt: skip


def spoiled(form: dict[str, str], chance: random.Random) -> dict[str, str]:
    """The form with something of it wrong."""
    form = dict(form)
    for _ in range(chance.choice([1, 1, 1, 2, 3])):
        kind = chance.choice(["hostile", "hostile", "hostile", "drop", "strange", "swap", "other"])
        name = chance.choice(list(form))
        if kind == "hostile":
            name = chance.choice([name, *HOSTILE] if name in HOSTILE else list(HOSTILE))
            form[name] = chance.choice(HOSTILE[name])
        elif kind == "drop":
            del form[name]
        elif kind == "strange":
            form[chance.choice(FAR_KEYS)] = chance.choice(OTHERS)
        elif kind == "swap":
            other = chance.choice(list(form))
            form[name], form[other] = form[other], form[name]
        else:
            form[chance.choice(list(HOSTILE))] = chance.choice(MOISTURES + FIELDS + NOTES)
        if not form:
            return {"form": "reading"}
    return form


def body_of(form: dict[str, str], chance: random.Random) -> tuple[bytes, str, dict[str, str]]:
    """The bytes of a form, their kind, and what they say; now and then not as browsers send."""
    body, kind = urlencode(form).encode(), KIND
    broken = chance.random()
    if broken < 0.02:
        kind = chance.choice(
            ["application/json", "", "multipart/form-data; boundary=x", "text/html"]
        )
    elif broken < 0.04:
        body += b"&" + body
    elif broken < 0.06:
        body = body[: chance.randrange(len(body))]
    elif broken < 0.08:
        noise = bytes(chance.randrange(256) for _ in range(30))
        body += chance.choice(
            [b"&x=" + noise, b"&note=" + quote_from_bytes(noise).encode(), b"&&", b"=%"]
        )
    elif broken < 0.09:
        body += b"&note=" + b"y" * 9000
    said = dict(parse_qsl(body.decode("ascii", "replace"), keep_blank_values=True))
    return body, kind, said


ROWS = """SELECT e.id, e.uuid, e.what, e.field, e.time, e.note, e.by, e.removed,
    r.kind, r.layer, r.moisture_wb, w.event, w.machine FROM entries e
    LEFT JOIN readings r ON r.id = e.id LEFT JOIN work w ON w.id = e.id"""


@dataclass
class Posted:
    """What became of the forms of one run."""

    site: Site
    statuses: Counter[str] = field(default_factory=Counter)
    taken: list[dict[str, str]] = field(default_factory=list)

    @property
    def path(self):
        return self.site.live.farm.log

    def rows(self) -> dict[int, tuple]:
        """Every entry of the log by its number, as it stands in the file."""
        if not self.path.exists():
            return {}
        with closing(sqlite3.connect(self.path)) as file:
            return {row[0]: row for row in file.execute(ROWS)}

    def post(self, phone: Inside, form: dict[str, str], chance: random.Random) -> None:
        """Post a form, well or badly, and hold the log against the answer."""
        body, kind, form = body_of(form, chance)
        before, now = self.rows(), self.site.live.now()
        got = phone.ask("POST", "/entry", body, Origin=f"http://{phone.host}:{phone.port}",
                        Content_Type=kind, Accept="application/json")  # fmt: skip
        after = self.rows()
        self.statuses[f"{got.status}"] += 1
        check_answer(got, self.site.live.farm.language)
        changed = {number for number in after if before.get(number) != after[number]}
        if got.status != 200 or got.data["known"]:
            assert changed == set(), (form, got.text)
            if got.status == 200 and form["form"] != "remove":
                check_entry(after[got.data["number"]], form)
            return
        assert changed == {got.data["number"]}, (form, got.text)
        row = after[got.data["number"]]
        if form["form"] == "remove":
            assert str(row[0]) == form["number"]
            assert row[7] is not None
            return
        self.taken.append(form)
        check_entry(row, form)
        assert row[7] is None
        age = np.timedelta64(int(form.get("age", "0")), "s")
        assert now - age <= np.datetime64(row[4].rstrip("Z"), "s") <= self.site.live.now() - age


def check_answer(got, language: str) -> None:
    """One line in the people's language, from the table of texts, and never of a fault."""
    assert got.status in (200, 400, 403, 409, 413, 415), (got.status, got.text)
    said = got.data["said"]
    assert said.strip()
    assert len(said.splitlines()) == 1, said
    assert len(said) < 700, said
    assert any(pattern.fullmatch(said) for pattern in patterns(language)), said


@cache
def patterns(language: str) -> list[re.Pattern[str]]:
    """Everything that may be said of a form in a language."""
    texts = [texts[language] for key, texts in table().items()
             if key.startswith(("error_log_", "error_web_", "web_"))]  # fmt: skip
    parts = ([re.escape(part) for part in re.split(r"\{\w+\}", text)] for text in texts)
    return [re.compile("(.*?)".join(part), re.DOTALL) for part in parts]


def check_entry(row: tuple, form: dict[str, str]) -> None:
    """An entry is what its form says, read here a second time."""
    _, name, what, where, _, note, _, _, kind, layer, moisture, event, machine = row
    assert what == ("reading" if form["form"] == "reading" else "work")
    assert name == form.get("id", name).lower()
    assert where == form["field"].strip().lower()
    assert note == " ".join(form.get("note", "").split())
    if what == "reading":
        digits = re.sub(r"[\s%°]", "", form["moisture"]).replace(",", ".")
        assert re.fullmatch(r"\d+(\.\d*)?", digits), form
        whole, _, part = digits.partition(".")
        value = int(whole) + (int(part) / 10 ** len(part) if part else 0)
        assert moisture == pytest.approx(value)
        assert form.get("sure") == "yes" or 3 <= value <= 75
        assert kind == {"whole": "windrow"}.get(form.get("part", "whole"), form.get("part"))
        assert (layer or "") == form.get("layer", "")
    else:
        assert event == (form["event"] if form["form"] == "work" else "note")
        assert machine == (form.get("machine", "") if form["form"] == "work" else "")


def counted(site: Site) -> Counter[tuple[str, str, float]]:
    """Field, part and moisture of the readings that the night on the pages counts."""
    return Counter(
        (item.name, each.kind, value)
        for item in site.live.shown.night
        for each in item.readings
        for value in each.values_wb or (each.moisture_wb,)
    )


def in_the_log(posted: Posted) -> Counter[tuple[str, str, float]]:
    """The same by the log alone: of this night."""
    return Counter(
        (row[3], row[8], row[10])
        for row in posted.rows().values()
        if row[2] == "reading" and row[7] is None and row[4] >= BEGAN
    )


def made_site(folder, language: str = "en") -> Site:
    """The sample farm in a language, its night made."""
    live = live_of(farm_in(folder, ('language = "en"', f'language = "{language}"')))
    live.step()
    return Site(live, Doors(None), News())


def guarded_site(folder) -> Site:
    """The sample farm behind a link with a secret."""
    live = live_of(farm_in(folder))
    return Site(live, Doors(Sessions.beside(live.farm.log)), News())


@pytest.fixture(autouse=True)
def no_pace(monkeypatch):
    monkeypatch.setattr(Pace, "allows", lambda self, name: True)
    monkeypatch.setattr(drive, "MOST_MEMBERS", FEW)


def check_forms(site: Site, forms: int, seed: int, posted: Posted | None = None) -> Posted:
    """Post so many, the larger part of them spoiled."""
    posted = posted or Posted(site)
    phone, chance = Inside.of(site), random.Random(seed)
    for _ in range(forms):
        form = a_form(chance, posted.taken, len(posted.rows()))
        posted.post(phone, spoiled(form, chance) if chance.random() < 0.6 else form, chance)
    check_sound(posted.path)
    return posted


def test_any_form(tmp_path):
    """Whatever the night, which nobody has made here."""
    live = live_of(farm_in(tmp_path, ('language = "en"', 'language = "es"')))
    posted = check_forms(Site(live, Doors(None), News()), 150, 1)
    assert posted.statuses["200"] > 30
    assert posted.statuses["400"] > 30


@pytest.mark.parametrize("language", ["en", "es"])
def test_in_the_hour_that_comes_twice(language, tmp_path):
    """Half past one before and after the clock went back: two entries, told apart on the page."""
    path = farm_in(tmp_path, ('language = "en"', f'language = "{language}"'))
    site = Site(live_of(path, begin=TWICE), Doors(None), News())
    phone, posted = Inside.of(site), Posted(site)
    for age in ("3600", "0"):
        form = {**a_form(random.Random(1), [], 0), "age": age, "id": str(uuid.uuid4())}
        posted.post(phone, form, random.Random(1))
    told = [page_words(item) for item in re.findall(r"<li><span>(.*?)</span>",
            phone.get("/log.html").text)]  # fmt: skip
    assert len(told) == len(set(told)) == 2
    assert "PST" in told[0]
    assert "PDT" in told[1]
    check_forms(site, 30, 7, posted)


def test_who_may_not_write_writes_nothing(tmp_path):
    """Without a session, with one that may only look, from another page, with a session made up."""
    site = guarded_site(tmp_path)
    chance, posted = random.Random(2), Posted(site)
    log, look = Inside.of(site), Inside.of(site, "look")
    posted.post(log, a_form(chance, [], 0), chance)
    strangers = [Inside.of(site, None), look, *(Inside.of(site, None) for _ in range(3))]
    cookies = ("hayweather=", "hayweather=x", log.cookie[:-1])
    for phone, cookie in zip(strangers[2:], cookies, strict=True):
        phone.cookie = cookie
    before = posted.rows()
    for _ in range(40):
        body, kind, _ = body_of(a_form(chance, posted.taken, 1), chance)
        phone = chance.choice(strangers)
        got = phone.ask("POST", "/entry", body, Content_Type=kind,
                        Origin=f"http://{phone.host}:{phone.port}")  # fmt: skip
        elsewhere = log.ask("POST", "/entry", body, Content_Type=kind, Origin="http://evil.example")
        assert (got.status, elsewhere.status) == (403, 403)
        assert len(got.text.splitlines()) == len(elsewhere.text.splitlines()) == 1
    assert posted.rows() == before


def check_together(site: Site, forms: int, seed: int) -> None:
    """Four threads post the same forms, each in an order of its own; some ids stand on two."""
    chance = random.Random(seed)
    every = [a_form(chance, [], 0) for _ in range(forms)]
    every += [{**form, "field": "saddle", "note": "other"} for form in every[: forms // 4]]
    answers: list[tuple[dict[str, str], object]] = []

    def typed(number: int) -> None:
        phone, mine = Inside.of(site), list(every)
        random.Random(f"{seed} {number}").shuffle(mine)
        for form in mine:
            got = phone.post(form)
            check_answer(got, site.live.farm.language)
            answers.append((form, got))

    posted = Posted(site)
    threads = [threading.Thread(target=typed, args=(number,)) for number in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(answers) == 4 * len(every)
    rows = posted.rows()
    first = Counter(
        form["id"] for form, got in answers if got.status == 200 and not got.data["known"]
    )
    assert first == Counter({form["id"]: 1 for form in every}), "each id is new once"
    assert Counter(row[1] for row in rows.values()) == first
    stands = {row[1]: row for row in rows.values()}
    for form, got in answers:
        row = stands[form["id"]]
        same = row[3] == form["field"].strip().lower() and row[5] == " ".join(
            form.get("note", "").split()
        )
        assert got.status == (200 if same else 409), (form, row, got.text)
    check_sound(posted.path)


def test_four_at_once(tmp_path):
    check_together(Site(live_of(farm_in(tmp_path)), Doors(None), News()), 12, 3)


def served(site: Site) -> dict[str, str]:
    """Every page of the night, as it is served."""
    phone = Inside.of(site)
    names = ["", "plan.html", "sheet-1.html", "sheet-2.html"]
    found = {name: phone.get(f"/{name}") for name in names}
    assert {page.status for page in found.values()} == {200}
    return {name: page.text for name, page in found.items()}


def check_pages(site: Site, seed: int, rounds: int) -> None:
    """After each reading every page says what JSON, plan and sheets of that night say."""
    chance, posted, phone = random.Random(seed), Posted(site), Inside.of(site)
    for _ in range(rounds):
        form = a_form(chance, [], 0)
        if form["form"] == "reading":
            form["moisture"] = chance.choice(["9", "10,5", "12 %", "14.25", "18"])
        posted.post(phone, form, chance)
        site.live.step()
        night = site.live.shown.night
        assert site.live.shown.trouble == ()
        assert counted(site) == in_the_log(posted)
        pages = served(site)
        assert served_disagreements(pages, {**outlook_outputs(night), **work_outputs(night)}) == []
        log = phone.get("/log.html").text
        for row in posted.rows().values():
            shown = f'name="number" value="{row[0]}"' in log
            assert shown == (row[7] is None and row[4] >= "2025-07-07T00:00:00Z")


@pytest.mark.slow
def test_pages_agree_with_the_night_after_each_reading(tmp_path):
    site = made_site(tmp_path)
    check_pages(site, 4, 2)
    pages = served(site)
    night = site.live.shown.night
    written = {**outlook_outputs(night), **work_outputs(night)}
    for name, old, new in (
        ("", " in 10</td>", " in 9</td>"),
        ("plan.html", " to ", " to Fri "),
        ("sheet-2.html", "\u00a0pm to ", "\u00a0am to "),
    ):
        changed = {**pages, name: pages[name].replace(old, new)}
        assert changed != pages
        assert served_disagreements(changed, written), "the check can fail"


@pytest.mark.long
@pytest.mark.parametrize("language", ["en", "es"])
def test_thousands_of_forms(language, tmp_path):
    site = made_site(tmp_path, language)
    posted, sizes = Posted(site), []
    for part in range(10):
        seen = check_forms(site, 300, 100 + part, posted)
        site.live.step()
        site.live.let_go()
        assert site.live.shown.trouble == ()
        assert counted(site) == in_the_log(posted)
        served(site)
        sizes.append(resident_mb())
    print(f"\n{language}: {sum(seen.statuses.values())} forms, {dict(seen.statuses)},")
    print(f"grown from {sizes[2]:.0f} to {sizes[-1]:.0f} MB in the last seven tenths")
    assert sizes[-1] - sizes[2] < GROWN_MB


@pytest.mark.long
def test_many_at_once(tmp_path):
    for seed in range(10):
        folder = tmp_path / str(seed)
        folder.mkdir()
        check_together(Site(live_of(farm_in(folder)), Doors(None), News()), 60, seed)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(4))
def test_many_pages_agree_with_the_night(seed, tmp_path):
    check_pages(made_site(tmp_path), 50 + seed, 8)
