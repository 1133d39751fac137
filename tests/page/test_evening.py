"""An evening's folder in headless Chromium: first screen, widths, day and night, without signal."""

import re
import threading
import time
from dataclasses import replace
from functools import cache, partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import numpy as np
import pytest
from page.browser import Browser
from page.test_pages import (
    LEAST_CONTRAST,
    LETTERS,
    LIGHTS,
    SMALLEST_PX,
    WIDER,
    rules_broken,
)
from support.outlooks import in_language

from hayweather.plan.sheet import make_runsheet
from hayweather.show.evening import Evening, evening_files, farms_files

pytestmark = pytest.mark.page
ENDS = """[...document.querySelectorAll('.field-tonight')].map(e =>
  e.getBoundingClientRect().bottom)"""
FIRST_SCREEN_PX = 640  # of a small telephone, upright


@cache
def evening_of(language: str) -> Evening:
    units = "us" if language == "en" else "metric"
    sheet = make_runsheet(in_language("sagebeck", language))
    return Evening(sheet.night.farm, sheet.night.now, units, sheet)


@cache
def real_like(made_ago_h: float) -> Evening:
    """The same night as if it were real and made some hours ago."""
    made = evening_of("en")
    night = made.sheet.night
    farm = replace(night.farm, weather=replace(night.farm.weather, invented=False))
    now = np.datetime64("now", "s") - np.timedelta64(round(3600 * made_ago_h), "s")
    sheet = replace(made.sheet, night=replace(night, farm=farm))
    return replace(made, farm=farm, sheet=sheet, now=now)


def put(folder: Path, files: dict[str, str]) -> Path:
    folder.mkdir(exist_ok=True)
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder / "index.html"


def several(language: str, folder: Path) -> Path:
    made = evening_of(language)
    unknown = replace(made, sheet=None, problem="The service does not answer.")
    for name, each in (("a", made), ("b", unknown)):
        put(folder / name, evening_files(each))
    both = {"a": made, "b": unknown, "c": None}
    return put(folder, farms_files(both, {"c": "c: line 1 is wrong"}, made.voice))


@pytest.mark.parametrize(("width", "dark"), LIGHTS)
@pytest.mark.parametrize("kind", ["one", "several", "unknown"])
def test_fits_by_day_and_by_night(browser, tmp_path, kind, width, dark):
    language = "es" if dark else "en"
    made = evening_of(language)
    if kind == "several":
        path = several(language, tmp_path)
    else:
        if kind == "unknown":
            made = replace(made, sheet=None, problem="The service does not answer.")
        path = put(tmp_path, evening_files(made))
    browser.show(path, width, dark=dark)
    assert browser.value("document.documentElement.scrollWidth") <= width
    assert browser.value(WIDER) == []
    letters = browser.value(LETTERS)
    assert min(each["size"] for each in letters) >= SMALLEST_PX
    assert [each for each in letters if each["contrast"] < LEAST_CONTRAST] == []
    assert rules_broken(browser, contrast=dark) == []


@pytest.mark.parametrize("language", ["en", "es"])
def test_all_fields_stand_on_a_telephone_s_first_screen(browser, tmp_path, language):
    browser.show(put(tmp_path, evening_files(evening_of(language))), 360)
    ends = browser.value(ENDS)
    assert len(ends) == 3
    assert max(ends) <= FIRST_SCREEN_PX


class _Quiet(SimpleHTTPRequestHandler):
    def log_message(self, format: str, *args: object) -> None:
        """Nothing."""


def served(folder: Path) -> ThreadingHTTPServer:
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(_Quiet, directory=str(folder)))
    threading.Thread(target=server.serve_forever, args=(0.01,), daemon=True).start()
    return server


def soon(browser: Browser, script: str, want: object = True) -> None:
    """Wait until an expression has a value."""
    end = time.monotonic() + 30
    while browser.value(script) != want:
        assert time.monotonic() < end, script
        time.sleep(0.05)


KEPT = """caches.keys().then(k => k.length === 1 && caches.open(k[0]).then(c => c.keys()))
  .then(n => n && n.length)"""


def test_opens_without_signal_and_says_how_old_it_is(browser, tmp_path):
    files = evening_files(real_like(0.5))
    put(tmp_path, files)
    server = served(tmp_path)
    address = f"http://127.0.0.1:{server.server_address[1]}/"
    browser.show(address, 360)
    assert "30 min ago" in browser.value("document.querySelector('.age').textContent")
    assert browser.value("document.querySelector('a.subscribe[href$=\\'night.ics\\']').href") == (
        f"webcal://127.0.0.1:{server.server_address[1]}/night.ics"
    )
    soon(browser, "navigator.serviceWorker.ready.then(r => r.active.state === 'activated')")
    soon(browser, KEPT, len(files))  # all but the worker, and the folder itself
    server.shutdown()
    server.server_close()
    for page in ("", "field-bench.html", "machine-rig.html"):
        browser.show(address + page, 360)
        assert "Sagebeck" in browser.value("document.querySelector('h1').textContent")
        assert "min ago" in browser.value("document.querySelector('.age').textContent")


def test_an_old_page_says_that_it_no_longer_serves(browser, tmp_path):
    made = real_like(20.0)
    browser.show(put(tmp_path, evening_files(made)), 360)
    age = browser.value("document.querySelector('.age').textContent")
    assert re.search("20 h ago. OLD: it no longer serves", age)
    assert "OLD" not in evening_files(made)["index.html"].split("<body>")[1].split("data-over")[0]
