"""The live pages end to end in headless Chromium: typed, moved, cut off, sent once.

Served at an address of this computer that is no loopback where there is one, so that
a browser gives no service worker, as on a telephone over plain http.
"""

import time

import pytest
from page.browser import Browser
from page.test_pages import LEAST_CONTRAST, LETTERS, OPEN_ALL, SMALLEST_PX, WIDER, rules_broken
from support.live import FEW, farm_in, live_of, outside, running

from hayweather.log import open_log
from hayweather.nights import drive

pytestmark = pytest.mark.page

PATIENCE_S = 60.0
OPEN_FORMS = "document.querySelectorAll('#forms form').forEach(f => f.classList.add('open'))"
NO_TABLE = "!e.closest('svg') && !e.closest('.wide')"
SMALLEST_THUMB_PX = 48
THUMBS = """[...document.querySelectorAll('#live a, #open a, #forms button, #forms select,'
  + '#forms input:not([type=hidden]):not([type=radio]), #forms .choices label')]
  .filter(e => e.getClientRects().length && e.getBoundingClientRect().height < {least})
  .map(e => e.outerHTML.slice(0, 80))"""


@pytest.fixture
def served(tmp_path, monkeypatch):
    monkeypatch.setattr(drive, "MOST_MEMBERS", FEW)
    with running(live_of(farm_in(tmp_path)), lan=True) as site:
        yield site


def go(browser: Browser, address: str, width: int = 360) -> None:
    browser.call(
        "Emulation.setDeviceMetricsOverride",
        width=width, height=740, deviceScaleFactor=1, mobile=True,
    )  # fmt: skip
    browser.call("Page.navigate", url=address)
    come(browser, "document.readyState === 'complete' && !!document.getElementById('live')")


def come(browser: Browser, wanted: str) -> None:
    """Wait until an expression of the page is true."""
    until = time.monotonic() + PATIENCE_S
    while True:
        try:
            if browser.value(wanted):
                return
        except RuntimeError:
            pass  # the page is being loaded anew
        assert time.monotonic() < until, (wanted, browser.value("document.body.innerText")[:400])
        time.sleep(0.05)


def offline(browser: Browser, off: bool) -> None:
    browser.call(
        "Network.emulateNetworkConditions",
        offline=off, latency=0, downloadThroughput=-1, uploadThroughput=-1,
    )  # fmt: skip


def type_reading(browser: Browser, moisture: str) -> None:
    browser.value("document.querySelector('#open a[href=\"#reading\"]').click()")
    assert browser.value("document.activeElement.id") == "moisture"
    browser.call("Input.insertText", text=moisture)
    browser.value("document.querySelector('#reading button').click()")


def readings_in(site) -> list[float]:
    with open_log(site.live.farm, only_read=True) as log:
        return [item.moisture_wb for item in log.readings()]


# A number and its unit are held together.
TOLD = "document.getElementById('told').innerText.includes('{}\\u00a0%')"


def test_end_to_end(open_browser, served):
    host = outside() or "127.0.0.1"
    link = f"http://{host}:{served.port}/in/{served.site.doors.links['log']}"
    one, other = open_browser(), open_browser()
    go(one, link)
    assert one.value("location.pathname") == "/"
    assert one.value("isSecureContext") == (host == "127.0.0.1")
    go(other, link)
    before = one.value("document.getElementById('page').innerText")
    marked = "window.here = 1"
    one.value(marked)
    other.value(marked)

    type_reading(one, "15")
    for browser in (one, other):
        come(browser, TOLD.format("15"))
        assert browser.value("window.here") == 1, "the page was moved in place"
    assert one.value("document.getElementById('page').innerText") != before
    assert readings_in(served) == [15.0]

    offline(one, True)
    type_reading(one, "13,5")
    come(one, "document.querySelectorAll('#waiting li').length === 1")
    come(one, "document.getElementById('net').innerText.length > 20")
    assert readings_in(served) == [15.0]
    offline(one, False)
    come(one, "document.querySelectorAll('#waiting li').length === 0")
    for browser in (one, other):
        come(browser, TOLD.format("13.5"))
    time.sleep(6)  # longer than the script waits before it sends again
    assert sorted(readings_in(served)) == [13.5, 15.0]


def test_what_waits_outlives_a_reload_and_a_restart_of_the_server(
    open_browser, tmp_path, monkeypatch
):
    monkeypatch.setattr(drive, "MOST_MEMBERS", FEW)
    path, browser = farm_in(tmp_path), open_browser()
    with running(live_of(path)) as site:
        port = site.port
        go(browser, f"http://127.0.0.1:{port}/")
    type_reading(browser, "11")
    come(browser, "document.querySelectorAll('#waiting li').length === 1")
    with running(live_of(path), port=port) as site:
        go(browser, f"http://127.0.0.1:{port}/plan.html")
        come(browser, "document.querySelectorAll('#waiting li').length === 0")
        assert readings_in(site) == [11.0]


def test_an_unlikely_reading_is_asked_back_on_the_page(open_browser, served):
    browser = open_browser()
    go(browser, f"http://127.0.0.1:{served.port}/in/{served.site.doors.links['log']}")
    type_reading(browser, "95")
    come(browser, "document.querySelectorAll('#waiting li button').length === 2")
    assert readings_in(served) == []
    browser.value("document.querySelector('#waiting li button').click()")
    come(browser, "document.querySelectorAll('#waiting li').length === 0")
    assert readings_in(served) == [95.0]


@pytest.mark.parametrize(("language", "width"), [("en", 360), ("es", 360), ("es", 768)])
def test_fits_thumbs_and_eyes(open_browser, tmp_path, monkeypatch, language, width):
    monkeypatch.setattr(drive, "MOST_MEMBERS", FEW)
    path = farm_in(tmp_path, ('language = "en"', f'language = "{language}"'))
    browser = open_browser()
    with running(live_of(path)) as site:
        for name in ("", "plan.html", "sheet-2.html", "log.html"):
            go(browser, f"http://127.0.0.1:{site.port}/{name}", width)
            browser.value(OPEN_ALL)
            browser.value(
                "document.querySelectorAll('#forms form').forEach(f => f.classList.add('open'))"
            )
            # A wide table of the plan scrolls by itself.
            assert browser.value(WIDER.replace("!e.closest('svg')", NO_TABLE)) == [], name
            letters = browser.value(LETTERS)
            assert min(each["size"] for each in letters) >= SMALLEST_PX
            poor = [
                each for each in letters if each["contrast"] < LEAST_CONTRAST and not each["drawn"]
            ]
            assert poor == [], name
            small = browser.value(THUMBS.replace("{least}", str(SMALLEST_THUMB_PX)))
            assert small == [], name
            browser.call("Page.setBypassCSP", enabled=True)
            assert rules_broken(browser, contrast=language == "en") == [], name
