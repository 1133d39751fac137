"""The starter file: complete, commented, and accepted as it stands."""

import re

import pytest

from hayweather.errors import FarmFileError, OutputError
from hayweather.farm import read_farm, starter
from hayweather.farm.records import Site
from hayweather.farm.tables import TABLES
from hayweather.words import LANGUAGES, table

SYSTEMS = ("us", "metric")
PLACES = {  # the starter's service covers its place
    "us": Site("home", 43.2, -120.6, 1311.0, "America/Los_Angeles"),
    "metric": Site("home", 41.6, -0.6, 250.0, "Europe/Madrid"),
}
BOTH = pytest.mark.parametrize(
    ("units", "language"), [(units, language) for units in SYSTEMS for language in LANGUAGES]
)


def starter_text(units, language="en"):
    """The starter of a known place."""
    return starter.starter_text(units, language, PLACES[units])


def write_starter(directory, units, language="en"):
    return starter.write_starter(directory, units, language, PLACES[units])


@BOTH
def test_refused_until_its_place_is_the_reader_s(tmp_path, units, language):
    text = starter.starter_text(units, language)
    with pytest.raises(FarmFileError, match=r"--at LAT,LON") as refused:
        read_text(tmp_path, text)
    assert "[site.home] latitude" in refused.value.line("en")
    own = text.replace("# latitude = ", "latitude = ", 1)
    own = own.replace("# longitude = ", "longitude = ", 1)
    site = read_text(tmp_path, own).sites["home"]
    assert site.elevation_m is None  # the service tells it, nobody's example holds
    assert site.timezone is None


def read_text(tmp_path, text, environ=None):
    path = tmp_path / "read.toml"
    path.write_text(text, encoding="utf-8")
    return read_farm(path, environ)


def settings(text):
    """Every setting of the text, in force or not, as (line, table, key)."""
    found, heading = [], ""
    for line in text.splitlines():
        if match := re.fullmatch(r"(?:# )?\[+([a-z.]+)\]+", line):
            heading = match[1].split(".")[0]
        elif match := re.match(r"(?:# )?([a-z_]+) = ", line):
            found.append((line, heading, match[1]))
    return found


@BOTH
def test_accepted_at_once(tmp_path, units, language):
    farm = read_farm(write_starter(tmp_path, units, language))
    assert (farm.units, farm.language) == (units, language)
    assert farm.rigs is None
    assert farm.weather.service == ("us-nws" if units == "us" else "open-meteo")


def test_us_starter_needs_no_key(tmp_path):
    assert read_farm(write_starter(tmp_path, "us"), {}).weather.service == "us-nws"


def test_metric_starter_leaves_the_terms_to_the_user(tmp_path):
    with pytest.raises(FarmFileError, match="non-commercial use only"):
        read_farm(write_starter(tmp_path, "metric"), {})
    text = starter_text("metric").replace("# terms =", "terms =")
    assert read_text(tmp_path, text, {}).weather.terms == "non-commercial"


@BOTH
def test_shows_every_key_once_with_a_comment(units, language):
    found = settings(starter_text(units, language))
    expected = [(name, key) for name in TABLES for key in TABLES[name].key_names]
    assert [(name, key) for _, name, key in found] == expected
    assert all("  # " in line or " # " in line for line, _, _ in found)


@pytest.mark.parametrize("units", SYSTEMS)
def test_every_line_not_in_force_can_be_put_in_force(tmp_path, units):
    text = starter_text(units)
    for name in ("rig", "shift", "money", "tuning"):
        text = uncomment_table(text, name)
    text = text.replace("# [station.yard]", "[station.yard]")
    for line, name, key in settings(text):
        if name in ("site", "field", "baler") or (name, key) == ("station", "file"):
            text = text.replace(line, line.removeprefix("# "))
    farm = read_text(tmp_path, text)
    assert farm.stations[0].file == tmp_path / "yard.csv"
    assert farm.rigs["rig"].heated is False
    assert farm.shifts[0].crew == "night crew"
    assert None not in vars(farm.money).values()
    assert None not in vars(farm.fields["north"]).values()
    assert None not in vars(farm.balers["baler"]).values()


def uncomment_table(text, name):
    """Take the # from the heading of a table and all its settings."""
    lines, inside = [], False
    for line in text.splitlines():
        if re.fullmatch(rf"# \[+{name}\]+", line):
            inside = True
        inside = inside and bool(line)
        lines.append(line.removeprefix("# ") if inside else line)
    return "\n".join(lines)


@pytest.mark.parametrize("units", SYSTEMS)
def test_weather_from_a_file_can_be_put_in_force(tmp_path, units):
    text = starter_text(units).replace("invented = false", "invented = true")
    for line, name, key in settings(text):
        if name == "weather":
            text = text.replace(line, "" if key == "service" else line.removeprefix("# "))
    weather = read_text(tmp_path, text).weather
    assert weather.file == tmp_path / "weather.csv"
    assert weather.wind_height_m == pytest.approx(10, abs=0.1)
    assert weather.now is not None


@pytest.mark.parametrize("units", SYSTEMS)
def test_shown_defaults_are_the_defaults(tmp_path, units):
    """A default behind "#" put in force changes nothing (to the three digits shown)."""
    plain = read_text(tmp_path, starter_text(units))
    text = starter_text(units)
    for line, name, key in settings(text):
        entry = TABLES[name]
        item = next(item for item in entry.keys if item.name == key)
        if name in ("site", "field", "baler") and not item.us and entry.default(item) is not None:
            text = text.replace(line, line.removeprefix("# "))
    shown = read_text(tmp_path, text)
    assert shown.sites == plain.sites
    assert shown.balers == plain.balers
    assert shown.fields["north"].windrow_mass_kg_m2 == pytest.approx(1.5, rel=2e-3)


def test_placeholders_are_marked():
    text = starter_text("us")
    rig = text[text.index("# [rig]") : text.index("# [[shift]]")]
    assert rig.count("replace with your manual's") == 10
    assert "# heated = false" in rig


@BOTH
def test_ends_with_one_line_end_and_no_trailing_blanks(units, language):
    text = starter_text(units, language)
    assert text.endswith("\n")
    assert not re.search(r"[ \t]$", text, re.MULTILINE)


def test_every_key_and_table_has_its_comment():
    keys = {f"farm_key_{name}_{key}" for name in TABLES for key in TABLES[name].key_names}
    keys |= {f"farm_table_{name}" for name in TABLES}
    present = {key for key in table() if key.startswith(("farm_key_", "farm_table_"))}
    assert keys == present


def test_never_writes_over_a_file(tmp_path):
    (tmp_path / "farm.toml").write_text("mine")
    with pytest.raises(OutputError, match=r"farm\.toml: is there already and is left as it is"):
        write_starter(tmp_path, "us")
    assert (tmp_path / "farm.toml").read_text() == "mine"
    assert [path.name for path in tmp_path.iterdir()] == ["farm.toml"]


def test_makes_the_folder(tmp_path):
    path = write_starter(tmp_path / "new" / "farm", "metric", "es")
    assert path.read_text(encoding="utf-8") == starter_text("metric", "es")
    assert [item.name for item in path.parent.iterdir()] == ["farm.toml"]


def test_folder_that_is_a_file(tmp_path):
    (tmp_path / "x").write_text("")
    with pytest.raises(OutputError, match="is no folder"):
        write_starter(tmp_path / "x", "us")


def test_folder_below_a_file(tmp_path):
    (tmp_path / "x").write_text("")
    with pytest.raises(OutputError, match="cannot be written"):
        write_starter(tmp_path / "x" / "y", "us")
