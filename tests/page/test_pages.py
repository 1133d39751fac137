"""Pages in headless Chromium: widths, letters, contrast, one sheet of paper, no network.

Rules of accessibility by axe-core (https://github.com/dequelabs/axe-core, the
version that the package axe-core-python brings, or the file that HAYWEATHER_AXE
names), levels A and AA of WCAG 2.1. Contrast is measured by a script of our own,
which also looks into the pictures, and on one page of each kind by axe as well:
its rule takes three quarters of the time of all.
"""

import importlib.util
import os
import re
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from page.browser import A4_IN, LETTER_IN, Browser
from support.outlooks import SAMPLES, in_language
from support.seasons import DATA
from support.sheets import of_field, sheet_of

from hayweather.plan.make import plan_of_night
from hayweather.seasons.engine import Request, make_seasons
from hayweather.seasons.record.results import Seasons
from hayweather.seasons.sites import read_sites
from hayweather.show.page import outlook_page, plan_page, runsheet_page, seasons_page

pytestmark = pytest.mark.page

SMALLEST_PX = 12
LEAST_CONTRAST = 4.5
AXE = os.environ.get("HAYWEATHER_AXE", "")
LANGUAGES = ("en", "es")

OPEN_ALL = "document.querySelectorAll('details').forEach(each => each.open = true)"
WIDER = """[...document.querySelectorAll('body *')].filter(e => !e.closest('svg') &&
  e.getBoundingClientRect().right > innerWidth + 0.5).map(e => e.outerHTML.slice(0, 80))"""
# Every element with a text of its own that is shown: size, color, the ground behind it.
LETTERS = """(() => {
  const parts = color => color.match(/[\\d.]+/g).map(Number);
  const linear = c => (c /= 255) <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4;
  const light = ([r, g, b]) => 0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b);
  const ground = element => {
    for (; element; element = element.parentElement) {
      const found = parts(getComputedStyle(element).backgroundColor);
      if (found.length < 4 || found[3] > 0) return found;
    }
    return [255, 255, 255];
  };
  const found = [];
  for (const element of document.querySelectorAll('body *')) {
    if (['TITLE', 'DESC', 'STYLE'].includes(element.tagName.toUpperCase())) continue;
    const own = [...element.childNodes].some(n => n.nodeType === 3 && n.textContent.trim());
    if (!own || !element.getClientRects().length) continue;
    const style = getComputedStyle(element);
    const drawn = element.closest('svg[viewBox]:not([preserveAspectRatio])');
    const scale = drawn ? drawn.getBoundingClientRect().width / drawn.viewBox.baseVal.width : 1;
    const ink = parts(element.closest('svg') ? style.fill : style.color);
    const [a, b] = [light(ink), light(ground(element))];
    found.push({
      drawn: Boolean(drawn), text: element.textContent.trim().slice(0, 30),
      size: parseFloat(style.fontSize) * scale,
      contrast: (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05)});
  }
  return found;
})()"""
RULES = """axe.run({runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'best-practice'],
    rules: {'color-contrast': {enabled: CONTRAST}}})
  .then(r => ({passed: r.passes.length, failed: r.violations.map(v =>
    v.id + ': ' + v.nodes.map(n => n.html.slice(0, 90)).slice(0, 3).join(' | '))}))"""


def rules_broken(browser: Browser, *, contrast: bool = True) -> list[str]:
    """What axe finds wrong on the page that is shown; looks at contrast where asked to."""
    browser.value(f"{axe()}; 0")
    found = browser.value(RULES.replace("CONTRAST", "true" if contrast else "false"))
    assert found["passed"] > 15
    return found["failed"]


def axe() -> str:
    """The script of axe-core."""
    if AXE:
        return Path(AXE).read_text(encoding="utf-8")
    found = importlib.util.find_spec("axe_core_python")
    if found is None or not found.submodule_search_locations:
        pytest.skip("axe-core is not installed")
    return Path(found.submodule_search_locations[0], "axe.min.js").read_text(encoding="utf-8")


def written(folder: Path, text: str) -> Path:
    """A page as a file."""
    path = folder / "page.html"
    path.write_text(text, encoding="utf-8")
    return path


SITES = f"""
[farm]
name = "Two <script> 'climates'"
[site.high]
latitude = 40.53
longitude = -108.54
elevation = "2168 m"
timezone = "America/Denver"
wind_height = "2 m"
weather = ["{DATA}/nw_colorado_2017_may_september.csv.gz",
           "{DATA}/nw_colorado_2023_may_september.csv.gz"]
"""


@pytest.fixture(scope="module")
def seasons(tmp_path_factory: pytest.TempPathFactory) -> Seasons:
    """One real site, two Julys (tests/data/README.md)."""
    path = tmp_path_factory.mktemp("sites") / "sites.toml"
    path.write_text(SITES)
    return make_seasons(read_sites(path), Request(months=(7, 7), cores=1))


def of(kind: str, name: str, language: str, units: str = "us") -> str:
    """A page of a sample."""
    if kind == "outlook":
        return outlook_page(in_language(name, language), units)
    if kind == "plan":
        return plan_page(plan_of_night(in_language(name, language)), units)
    return runsheet_page(sheet_of(name, language), units)


PAGES = [
    ("outlook", "sagebeck", "en"),
    ("outlook", "sagebeck_hot_wind", "es"),
    ("outlook", "vallumbria", "es"),
    ("runsheet", "sagebeck", "es"),
    ("runsheet", "sagebeck_hot_wind", "en"),
]


SPOKEN = [(name, LANGUAGES[number % 2]) for number, name in enumerate(SAMPLES)]
LIGHTS = [(360, False), (360, True), (768, False), (1200, True)]


@pytest.mark.parametrize(("width", "dark"), LIGHTS)
@pytest.mark.parametrize(("kind", "name", "language"), PAGES)
def test_fits_its_width_in_letters_large_and_plain_enough(
    browser, tmp_path, kind, name, language, width, dark
):
    path = written(tmp_path, of(kind, name, language))
    browser.show(path, width, dark=dark)
    browser.value(OPEN_ALL)
    assert browser.value("innerWidth") == width
    assert browser.value("document.documentElement.scrollWidth") <= width
    assert browser.value(WIDER) == []
    letters = browser.value(LETTERS)
    assert len(letters) > 200
    assert min(each["size"] for each in letters) >= SMALLEST_PX
    assert [each for each in letters if each["contrast"] < LEAST_CONTRAST] == []
    assert browser.requests == [path.as_uri()]
    ground = browser.value("getComputedStyle(document.body).backgroundColor")
    assert (sum(map(int, re.findall(r"\d+", ground))) < 150) == dark


@pytest.mark.parametrize(("width", "dark"), LIGHTS)
def test_seasons_fit_as_well(browser, tmp_path, seasons, width, dark):
    language = "es" if dark else "en"
    spoken = replace(seasons, file=replace(seasons.file, language=language))
    browser.show(written(tmp_path, seasons_page(spoken, "us")), width, dark=dark)
    assert browser.value("document.documentElement.scrollWidth") <= width
    letters = browser.value(LETTERS)
    assert min(each["size"] for each in letters) >= SMALLEST_PX
    outside = [each for each in letters if each["contrast"] < LEAST_CONTRAST]
    assert [each for each in outside if not each["drawn"]] == []
    assert rules_broken(browser, contrast=False) == []
    assert "Two <script> 'climates'" in browser.value("document.querySelector('h1').innerText")


@pytest.mark.parametrize(("width", "dark"), [(360, True), (1200, False)], ids=["night", "day"])
def test_a_plan_fits_as_well(browser, tmp_path, width, dark):
    browser.show(written(tmp_path, of("plan", "sagebeck", "es")), width, dark=dark)
    assert browser.value("document.documentElement.scrollWidth") <= width
    letters = browser.value(LETTERS)
    assert min(each["size"] for each in letters) >= SMALLEST_PX
    assert [each for each in letters if each["contrast"] < LEAST_CONTRAST] == []
    assert rules_broken(browser, contrast=dark) == []


@pytest.mark.parametrize(("width", "dark"), [(360, True), (1200, False)], ids=["night", "day"])
@pytest.mark.parametrize(("kind", "name", "language"), PAGES)
def test_keeps_the_rules_of_accessibility(browser, tmp_path, kind, name, language, width, dark):
    browser.show(written(tmp_path, of(kind, name, language)), width, dark=dark)
    assert rules_broken(browser, contrast=dark and name == "sagebeck") == []


def test_faults_would_be_seen(browser, tmp_path):
    text = of("outlook", "sagebeck", "en").replace(
        "<header>",
        '<header><p style="font-size:9px;color:#999;width:900px">small and pale</p>'
        '<table><tr><td></td></tr></table><img src="x.png">',
    )
    browser.show(written(tmp_path, text), 360)
    assert browser.value("document.documentElement.scrollWidth") > 360
    letters = [each for each in browser.value(LETTERS) if each["text"] == "small and pale"]
    assert letters[0]["size"] == 9
    assert letters[0]["contrast"] < 3
    broken = rules_broken(browser)
    assert any(found.startswith("color-contrast") for found in broken)
    assert any(found.startswith("image-alt") for found in broken)


def pages_of(pdf: bytes) -> int:
    """Number of pages of a PDF as Chromium writes it."""
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


@pytest.mark.parametrize(("name", "language"), SPOKEN)
def test_a_field_prints_on_one_sheet(browser, tmp_path, name, language):
    made = in_language(name, language)
    units = "us" if language == "en" else "metric"
    for index, field in enumerate(made.fields):
        one = replace(made, fields=(field,))
        browser.show(written(tmp_path, outlook_page(one, units)), 360, dark=True)
        counts = {size: pages_of(browser.printed(size)) for size in (LETTER_IN, A4_IN)}
        assert counts == {LETTER_IN: 1, A4_IN: 1}, index


@pytest.mark.parametrize(("name", "language"), SPOKEN)
def test_a_machine_s_two_nights_print_on_three_sheets_at_most(browser, tmp_path, name, language):
    sheet, units = sheet_of(name, language), "us" if language == "en" else "metric"
    for machine in sheet.machines:
        text = runsheet_page(sheet.of_machine(machine.name), units)
        browser.show(written(tmp_path, text), 360, dark=True)
        assert max(pages_of(browser.printed(size)) for size in (LETTER_IN, A4_IN)) <= 3


CARDS = """[...document.querySelectorAll('.card')].filter(e => !e.hidden).map(
  e => ['.label', '.span'].map(c => e.querySelector(c).innerText))"""


@pytest.mark.parametrize(
    ("at", "shown"),
    [
        ("2025-07-08T20:20", [["NOW", "8:15 pm to 8:30 pm"], ["NEXT", "8:30 pm to 8:45 pm"]]),
        ("2025-07-08T18:00", [["NEXT", "7:45 pm to 8 pm"]]),
        ("2026-01-01T00:00", None),
    ],
)
def test_the_cards_move_with_the_clock_of_the_telephone(browser, tmp_path, at, shown):
    sheet = of_field(sheet_of("sagebeck"), 0)
    farm = replace(sheet.night.farm, weather=replace(sheet.night.farm.weather, invented=False))
    real = replace(sheet, night=replace(sheet.night, farm=farm)).of_machine("rig")
    time = int(datetime.fromisoformat(f"{at}-07:00").timestamp() * 1000)
    source = f"Date.now = () => {time}"
    added = browser.call("Page.addScriptToEvaluateOnNewDocument", source=source)
    browser.show(written(tmp_path, runsheet_page(real, "us")), 360)
    browser.call("Page.removeScriptToEvaluateOnNewDocument", identifier=added["identifier"])
    found = browser.value(CARDS)
    if shown is None:
        ((label, _),) = found
        assert label.startswith("OVER")
    else:
        assert found == shown


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_telephone_shows_all_that_a_setting_needs_without_a_fold(browser, tmp_path, language):
    sheet = sheet_of("sagebeck", language)
    browser.show(written(tmp_path, runsheet_page(sheet, "us")), 360)
    seen = """[...document.querySelectorAll('.dials td, .dials th, .answers-table td')].every(
      e => e.getClientRects().length && e.getBoundingClientRect().right <= innerWidth)"""
    assert browser.value(seen)
    moisture = """[...document.querySelectorAll('.work tbody tr')].filter(e => e.cells.length > 5)
      .every(e => [...e.cells].filter(c => c.getClientRects().length).length >= 4)"""
    assert browser.value(moisture)
    lines = """[...document.querySelectorAll('.dials tbody th:not(.day)')].every(
      e => e.getClientRects()[0].height < 30)"""
    assert browser.value(lines)


def test_several_fields_print_a_sheet_each(browser, tmp_path):
    made = in_language("sagebeck", "en")
    browser.show(written(tmp_path, outlook_page(made, "us")), 1200)
    assert pages_of(browser.printed(LETTER_IN)) == len(made.fields) == 3


@pytest.mark.parametrize("kind", ["outlook", "runsheet"])
def test_print_is_by_day_in_letters_large_enough(browser, tmp_path, kind):
    browser.show(written(tmp_path, of(kind, "sagebeck", "en")), 720, dark=True, media="print")
    letters = browser.value(LETTERS)
    assert min(each["size"] for each in letters) >= SMALLEST_PX
    assert [each for each in letters if each["contrast"] < LEAST_CONTRAST] == []
    ground = browser.value("getComputedStyle(document.body).backgroundColor")
    assert ground == "rgb(255, 255, 255)"
    shown = browser.value("document.body.innerText")
    assert "This is a planning aid only." in shown
    assert "INVENTED SAMPLE" in shown


def test_names_with_signs_of_html_are_seen_as_typed(browser, tmp_path):
    name = "<script>document.title='gone'</script> \"Bob's\" <img src=x onerror=alert(1)>"
    made = in_language("sagebeck", "en")
    farm = replace(made.farm, name=name)
    browser.show(written(tmp_path, outlook_page(replace(made, farm=farm), "us")), 360)
    assert name in browser.value("document.querySelector('h1').innerText")
    assert name in browser.value("document.title")
    assert browser.value("document.scripts.length + document.images.length") == 0
