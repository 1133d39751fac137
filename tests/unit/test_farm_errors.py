"""A farm file that cannot be understood: one line that says what, where, what to do."""

import json
import tomllib

import pytest
from unit.farm_files import FARM, RIG, STATION, in_field, refusal, replaced

from hayweather.errors import FarmFileError
from hayweather.farm import read_farm
from hayweather.farm.tables import TABLES

CASES = {
    "empty": ("", "farm.toml: is empty; write a starter"),
    "only comments": ("# nothing\n", "farm.toml: is empty"),
    "not utf-8": (b'[farm]\nname = "\xff\xfe"', "line 2 holds a character (0xff)"),
    "utf-16": (FARM.encode("utf-16"), "is not UTF-8"),
    "binary": (b"\x7fELF\x02\x01\x01\x00\x00", "farm.toml: line 1 is not understood"),
    "broken toml": ("[farm]\nname = = 3\n", "farm.toml: line 2 is not understood: name = = 3"),
    "open string": ('[farm]\nname = "Sage\n', "farm.toml: line 2 is not understood"),
    "ends early": ('[farm]\nname = """Sage', "farm.toml: line 2 is not understood"),
    "word without quotes": (
        in_field("crop = alfalfa"),
        'crop = alfalfa ; words need quotes, like: crop = "alfalfa"',
    ),
    "time without quotes": (
        in_field("cut_at = 2026-07-05T10:00"),
        "cut_at = 2026-07-05T10:00 ; put the time in quotes",
    ),
    "table twice": (FARM + "[field.north]\n", "gives something a second time: [field.north]"),
    "key twice": (in_field("cutting = 1", "cutting = 2"), "a second time: cutting = 2"),
    "unknown table": (
        FARM + "[feild.south]\n",
        '"feild" is not known in a farm file; did you mean [field.NAME]?',
    ),
    "key before any table": (
        "area = 5\n" + FARM,
        '"area" stands under no heading; put it below [field.NAME]',
    ),
    "a crop by another name": (
        in_field('crop = "lucerne"'),
        '"cereal"; write one of these',
    ),
    "decimal comma": (replaced("area = 120", "area = 118,5  # acres"), "decimals with a point"),
    "decimal comma in a quantity": (
        replaced("area = 120", 'area = "22,5 ha"'),
        '[field.north] area: "22,5 ha": is the comma a decimal sign? Write decimals with a point, '
        'like "22.5 ha"',
    ),
    "true as elsewhere": (in_field("cured = True"), "in small letters and without quotes"),
    "yes": (in_field("conditioned = yes"), "in small letters and without quotes"),
    "path with backslashes": (in_field('file = "C:\\Users\\hay.csv"'), "write / in place of"),
    "typographic quotes": (replaced('"Sagebeck"', "“Sagebeck”"), "put straight quotes"),
    "a quote left open": (replaced('"Sagebeck"', '"Sagebeck'), "put straight quotes"),
    "bare word that begins with a digit": (in_field("crop = 3x4  # [in]"), "words need quotes"),
    "unknown key": (
        in_field("acres = 5"),
        '[field.north] "acres": is not known here; did you mean "area"?',
    ),
    "a baler that is not there": (
        in_field('baler = "balr"'),
        '[field.north] baler: "balr" is no [baler.NAME] of this file; did you mean "baler"?',
    ),
    "a rig that is not there": (
        in_field('rig = "rg"') + RIG,
        '[field.north] rig: "rg" is no [rig.NAME] of this file; did you mean "rig"?',
    ),
    "a rig where there is none": (
        in_field('rig = "rig"'),
        '[field.north] rig: names "rig", but this file has no [rig]; add one',
    ),
    "paid by feed value without figures": (
        in_field("ndf = 38") + '[money]\nprice_by = "rfv"\n',
        '[money] price_by: "rfv" needs laboratory figures of the standing crop: write adf '
        "(% of dry matter) in [field.north]",
    ),
    "paid by class without prices": (
        in_field("ndf = 38", "adf = 30") + '[money]\nprice_by = "class"\n',
        "[money] class_prices: is missing; write, for example: class_prices = { supreme = 205",
    ),
    "a class without a price": (
        FARM + "[money]\nclass_prices = { supreme = 205, premium = 200, good = 180, fair = 150 }\n",
        "[money] class_prices: no price for utility; write one for every class",
    ),
    "a class that is none": (
        FARM + "[money]\nclass_prices = { supreem = 205 }\n",
        "[money] class_prices: supreem is no class",
    ),
    "classes as a number": (
        FARM + "[money]\nclass_prices = 200\n",
        "[money] class_prices: 200 is no list of prices",
    ),
    "a price of a class in words": (
        FARM + "[money]\nclass_prices = { supreme = 205, premium = 200, good = 180, "
        'fair = "cheap", utility = 1 }\n',
        "[money] class_prices.fair: ",
    ),
    "one feed value": (
        FARM + "[money]\nrfv_prices = [[150, 180]]\n",
        "[money] rfv_prices: [[150, 180]] is no list of pairs",
    ),
    "feed values that fall": (
        FARM + "[money]\nrfv_prices = [[170, 200], [150, 180]]\n",
        "the first number of each pair must rise",
    ),
    "a feed value of 1700": (
        FARM + "[money]\nrfv_prices = [[150, 180], [1700, 200]]\n",
        "[money] rfv_prices: 1700 is outside 60 to 300",
    ),
    "a range of loss upside down": (
        FARM + "leaf_loss = 1\nleaf_loss_range = [2, 1]\n",
        "[baler] leaf_loss_range: [2, 1] is no range",
    ),
    "a range of loss alone": (
        FARM + "leaf_loss_range = [0.5, 1]\n",
        "[baler] leaf_loss: is missing; write, for example: leaf_loss = 1.2",
    ),
    "unknown key in baler": (
        FARM + "capcity = 20\n",
        '[baler] "capcity": is not known here; did you mean "capacity"?',
    ),
    "key of another table": (
        in_field("tank = 5"),
        "[field.north] tank: does not belong here; it belongs below [rig]",
    ),
    "number for text": (replaced('"Sagebeck"', "5"), "[farm] name: 5 is no text"),
    "text for number": (
        replaced("area = 120", 'area = "big"'),
        '[field.north] area: "big" is not a number; write it like: area = 120',
    ),
    "true for number": (
        replaced("area = 120", "area = true"),
        "[field.north] area: true is not a number",
    ),
    "list for number": (
        replaced("area = 120", "area = [1]"),
        "[field.north] area: [1] is not a number",
    ),
    "text for true": (
        in_field('conditioned = "yes"'),
        '[field.north] conditioned: "yes" is neither true nor false',
    ),
    "half swath": (
        in_field("swaths_per_windrow = 1.5"),
        "swaths_per_windrow: 1.5 is not a whole number",
    ),
    "no such crop": (
        in_field('crop = "alfalfa grass"'),
        '"alfalfa-grass", "grass", "cereal"; did you mean "alfalfa-grass"?',
    ),
    "heading with a blank": (
        FARM + "[field.north forty]\n",
        '[field.north forty] ; a name with a blank needs quotes, like: [field."north forty"]',
    ),
    "bare currency": (FARM + "[money]\ncurrency = €\n", "currency = € ; words need quotes"),
    "wrong unit": (
        replaced("area = 120", 'area = "120 mm"'),
        '[field.north] area: the unit of "120 mm" does not fit; write one of "acre", "ha"',
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_refused_with_one_line(tmp_path, case):
    text, expected = CASES[case]
    line = refusal(tmp_path, text)
    assert line.startswith("farm.toml: ")
    assert expected in line


def test_missing_file_names_the_path_and_the_way_out(tmp_path):
    with pytest.raises(
        FarmFileError, match=r"nowhere\.toml: there is no such file.*hayweather farm"
    ):
        read_farm(tmp_path / "nowhere.toml")


def test_folder_is_no_farm_file(tmp_path):
    with pytest.raises(FarmFileError, match="is a folder; name the farm file"):
        read_farm(tmp_path)


def test_path_that_runs_through_a_file(tmp_path):
    (tmp_path / "x").write_text("")
    with pytest.raises(FarmFileError, match="cannot be read"):
        read_farm(tmp_path / "x" / "farm.toml")


def test_huge_file_is_not_read(tmp_path):
    path = tmp_path / "farm.toml"
    path.write_bytes(b"#" * 2_000_001)
    with pytest.raises(FarmFileError, match=r"too large for a farm file \(2000001 bytes\)"):
        read_farm(path)


def test_values_cannot_break_the_line(tmp_path):
    line = refusal(tmp_path, replaced('"3x4"', r'"a\nb\u001b[31m"'))
    assert "\x1b" not in line
    assert "a b" in line


ODD = (
    *("true", "0", "-1", "1.5", "nan", "-inf", "1" + "0" * 400, "1e999", "[]", "[1, 2]", "{}"),
    *('["a", "b"]', "[nan, nan]", '{ rate = 1, ceiling = "x" }', "{ rate = {}, ceiling = [] }"),
    *('""', '" "', '"x"', '"1e999 gal"', '"-5 %"', '"0001-01-01T00:00"', "0001-01-01T00:00:00"),
    *("2026-07-08", "10:00:00", "9999-12-31T23:59:59+00:00", r'"\u0000"', '"٣٣:٣٣"', "[[], {}]"),
)


@pytest.mark.slow
@pytest.mark.parametrize("name", TABLES)
def test_nothing_that_toml_can_hold_gives_a_traceback(tmp_path, name):
    """Each odd value at each key: read, or refused with an error of the farm file."""
    path, refused = tmp_path / "farm.toml", 0
    for key in TABLES[name].key_names:
        for value in ODD:
            path.write_text(with_value(name, key, value), encoding="utf-8")
            try:
                read_farm(path, {})
            except FarmFileError as error:
                refused += bool(error.line("es"))
    assert refused >= len(ODD) * len(TABLES[name].keys) // 2


def with_value(table, key, value):
    """A farm whose `table` says ``key = value``, and nothing else about `key`."""
    document = tomllib.loads(FARM + RIG + STATION)
    texts = {name: dict(entries) for name, entries in document.items()}
    texts.setdefault(table, {})
    inner = texts[table]
    if TABLES[table].form == "named":
        inner = inner[next(iter(inner))] = dict(inner[next(iter(inner))])
    inner.pop(key, None)
    return written(texts, table, key, value)


def written(texts, table, key, value):
    """TOML of the tables, with one more line in `table`."""
    lines = []
    for name, entry in texts.items():
        nested = TABLES[name].form == "named"
        heading = {"list": f"[[{name}]]"}.get(TABLES[name].form, f"[{name}]")
        lines.append(f"[{name}.{next(iter(entry))}]" if nested else heading)
        settings = entry[next(iter(entry))] if nested else entry
        lines += [f"{item} = {json.dumps(given)}" for item, given in settings.items()]
        lines += [f"{key} = {value}"] if name == table else []
    return "\n".join(lines)
