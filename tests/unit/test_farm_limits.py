"""A farm file whose values cannot be: one line that says what, where, what to do."""

import re
from pathlib import Path

import pytest
from unit.farm_files import FARM, FILE, RIG, in_field, refusal, replaced

from hayweather.errors import FarmFileError
from hayweather.farm.document import LARGEST_BYTES, load_document

CASES = {
    "latitude": (
        replaced("43.2", "143"),
        "farm.toml: [site.home] latitude: 143 ° is outside -90 to 90 °",
    ),
    "longitude": (replaced("-120.6", "-220"), "[site.home] longitude: -220 ° is outside"),
    "longitude sign": (
        replaced("-120.6", "120.6"),
        "120.6 does not lie in the time zone America/Los_Angeles; west of Greenwich is negative",
    ),
    "negative area": (
        replaced("120\n", "-5\n"),
        "farm.toml: [field.north] area: -5 acre is outside",
    ),
    "no area": (replaced("area = 120\n", "area = 0\n"), "[field.north] area: 0 acre is outside"),
    "not a number": (replaced("120\n", "nan\n"), "[field.north] area: nan is no usable number"),
    "infinite": (replaced("43.2", "inf"), "[site.home] latitude: inf is no usable number"),
    "infinite text": (
        replaced("120\n", '"1e999 acre"\n'),
        'area: "1e999 acre" is no usable number',
    ),
    "huge whole number": (replaced("120\n", "1" + "0" * 400 + "\n"), "is no usable number"),
    "nan in money": (FARM + "[money]\nprice = nan\n", "[money] price: nan is no usable number"),
    "negative price": (FARM + "[money]\nprice = -3\n", "[money] price: -3 /ton is below 0 /ton"),
    "unknown zone": (
        replaced("America/Los_Angeles", "America/Los Angeles"),
        '"America/Los Angeles" is no time zone; did you mean "America/Los_Angeles"?',
    ),
    "zone is a folder": (replaced("America/Los_Angeles", "America"), '"America" is no time zone'),
    "zone climbs out": (replaced("America/Los_Angeles", "../../etc/passwd"), "is no time zone"),
    "zone of the file": (
        replaced(FILE, FILE + '\ntimezone = "PDT"'),
        '[weather] timezone: "PDT" is no time zone',
    ),
    "no zone with a file": (
        replaced('timezone = "America/Los_Angeles"\n', ""),
        "[site.home] timezone: is missing; write, for example: timezone =",
    ),
    "no elevation with a file": (
        replaced('elevation = "4330 ft"\n', ""),
        "[site.home] elevation: is missing",
    ),
    "no latitude": (
        replaced("latitude = 43.2\n", ""),
        "[site.home] latitude: is missing: write where your field lies",
    ),
    "band reversed": (
        FARM + "band = [16, 12]\n",
        "[baler] band: the bottom 16 % is not below the top 12 %",
    ),
    "speeds reversed": (
        FARM + "speed_min = 6\nspeed_max = 3\n",
        "[baler] speed_min: speed_min is above speed_max (6 above 3)",
    ),
    "band of one": (FARM + "band = 14\n", "[baler] band: 14 is no band"),
    "band above ceiling": (
        FARM + "band = [12, 18]\n",
        "[baler] band: 12-18 % goes above 17 %, the ceiling of these bales without preservative",
    ),
    "band above ceiling, 4x4": (
        replaced("3x4", "4x4") + "band = [12, 16]\n",
        "12-16 % goes above 14 %",
    ),
    "band above ceiling, heavy": (
        FARM + 'bale_weight = "1100 kg"\nband = [12, 16]\n',
        "12-16 % goes above 14 %",
    ),
    "band above label": (
        FARM + 'band = [14, 22]\npreservative = { rate = "6 lb/ton", ceiling = 20 }\n',
        "14-22 % does not fit below the 20 % of your preservative's label",
    ),
    "band above export": (
        FARM + 'band = [12, 15]\nmarket = "export"\n',
        "12-15 % goes above 13 %, the top for export hay",
    ),
    "preservative by halves": (
        FARM + 'preservative = { rate = "6 lb/ton" }\n',
        "is no preservative; write it like: preservative = { rate =",
    ),
    "preservative without ceiling": (
        FARM + 'preservative = { rate = "6 lb/ton", ceiling = nan }\n',
        "preservative.ceiling: nan is no usable number",
    ),
    "bale size": (replaced('"3x4"', '"big"'), '[baler] bale_size: "big" is no size of a bale'),
    "rates reversed": (
        FARM + RIG.replace("rate_min = 5", "rate_min = 25"),
        "[rig] rate_min: rate_min is above rate_max",
    ),
    "rig without tank": (
        FARM + RIG.replace("tank = 800\n", ""),
        "[rig] tank: is missing; write, for example: tank = 1000",
    ),
    "target outside band": (
        FARM + RIG + "target = 17\n",
        "[rig] target: 17 % is outside the band 12-16 % of [baler]",
    ),
    "target outside one baler": (
        replaced("[baler]", '[baler.small]\nkind = "small-square"\n[baler.big]')
        + RIG
        + "target = 17\n",
        "17 % is outside the band 12-16 % of [baler.big]",
    ),
    "efficiency": (FARM + RIG + "efficiency = 80\n", "[rig] efficiency: 80 is outside 0.2 to 1"),
    "unknown site": (
        in_field('site = "hme"'),
        '[field.north] site: "hme" is no [site.NAME] of this file; did you mean "home"?',
    ),
    "which of two sites": (
        FARM
        + '[site.b]\nlatitude = 43\nlongitude = -120\nelevation = "1 ft"\n'
        + 'timezone = "America/Los_Angeles"\n',
        "[field.north] site: is missing",
    ),
    "no site": (
        re.sub(r"\[site.home\](.|\n)*(?=\[weather)", "", FARM),
        "farm.toml: has no [site.NAME]; add one",
    ),
    "no field": (
        re.sub(r"\[field.north\](.|\n)*(?=\[baler)", "", FARM),
        "farm.toml: has no [field.NAME]; add one",
    ),
    "no baler": (replaced('[baler]\nbale_size = "3x4"', ""), "farm.toml: has no [baler]; add one"),
    "field without a name": (
        replaced("[field.north]", "[field]"),
        '[field]: "area" stands under a heading without a name; write the heading as [field.NAME]',
    ),
    "list of fields": (
        replaced("[field.north]", "[[field]]"),
        '"field" must be written as [field.NAME]',
    ),
    "one shift": (
        FARM + '[shift]\nstart = "20:00"\nend = "08:00"\n',
        '"shift" must be written as [[shift]]',
    ),
    "baler both ways": (FARM + "[baler.two]\n", '[baler] "two": is not known here'),
    "names alike": (
        FARM + '[field."North "]\ncured = true\n',
        '"North " and "north" cannot be told apart',
    ),
    "name with a slash": (
        replaced("field.north", 'field."a/b"'),
        "a name may not be blank and may not hold / \\ or :",
    ),
    "name too long": (
        replaced("field.north", f"field.{'a' * 80}"),
        "the name is longer than 60 letters",
    ),
    "two sources": (
        replaced(FILE, FILE + '\nservice = "us-nws"'),
        "[weather] file: both service and file are given; keep one",
    ),
    "no source": (replaced(FILE, ""), "[weather]: there is neither service nor file"),
    "no weather table": (
        replaced("[weather]\n" + FILE, ""),
        "[weather]: there is neither service nor file",
    ),
    "now of real weather": (
        replaced(FILE, FILE + '\nnow = "2026-07-08T17:00"'),
        "[weather] now: a set time is for made-up samples only",
    ),
    "invented service": (
        replaced(FILE, 'service = "us-nws"\ninvented = true'),
        "[weather] invented: is for a weather file, but the weather comes from us-nws",
    ),
    "wind height of a service": (
        replaced(FILE, 'service = "us-nws"\nwind_height = "10 ft"'),
        "[weather] wind_height: is for a weather file",
    ),
    "a map of columns of a service": (
        replaced(FILE, 'service = "us-nws"\ncolumns = "mine.toml"'),
        "[weather] columns: is for a weather file, but the weather comes from us-nws",
    ),
    "a station's bare height where no units are named": (
        FARM + '[station.yard]\nfile = "yard.csv"\nwind_height = 10\n',
        "[station.yard] wind_height: 10 could be feet or meters",
    ),
    "us service abroad": (
        replaced(FILE, 'service = "us-nws"')
        .replace("43.2", "41.6")
        .replace("-120.6", "-0.6")
        .replace("America/Los_Angeles", "Europe/Madrid"),
        "[site.home] latitude: us-nws covers the United States only, not 41.6, -0.6",
    ),
    "not known how dry": (
        replaced("cured = true\n", ""),
        "[field.north]: nothing says how dry the hay is; write cured = true if you have checked",
    ),
    "not cured, not known how dry": (
        replaced("cured = true", "cured = false"),
        "[field.north]: nothing says how dry",
    ),
    "cured maybe": (
        replaced("cured = true", 'cured = "soon"'),
        '[field.north] cured: "soon" is neither true nor a time',
    ),
    "date without hour": (
        in_field("cut_at = 2026-07-05"),
        "[field.north] cut_at: 2026-07-05 is no date with an hour",
    ),
    "no such day": (in_field('cut_at = "2026-02-30T10:00"'), "is no date with an hour"),
    "raked before cut": (
        in_field('cut_at = "2026-07-05T10:00"', 'raked_at = "2026-07-04T10:00"'),
        "[field.north] raked_at: is before cut_at",
    ),
    "cured before cut": (
        in_field('cut_at = "2026-07-05T10:00"').replace(
            "cured = true", 'cured = "2026-07-04T10:00"'
        ),
        "[field.north] cured: is before cut_at",
    ),
    "moisture as a fraction": (
        in_field("moisture_now = 0.12"),
        "[field.north] moisture_now: 0.12 % is outside 3 to 85 %",
    ),
    "thick windrow": (
        in_field("yield = 5", "swath_width = 30", "swaths_per_windrow = 4", "windrow_width = 3"),
        "[field.north] yield: 5 ton/acre × 0.88 × 30 ft × 4 / 3 ft = 8.08 lb/ft2 of dry matter, "
        "no believable windrow (0.102 lb/ft2 to 1.23 lb/ft2)",
    ),
    "thin windrow": (
        in_field("yield = 0.3", "swath_width = 9", "windrow_width = 9"),
        "= 0.0121 lb/ft2 of dry matter, no believable windrow",
    ),
    "windrow mass": (
        in_field('windrow_mass = "9 kg/m2"'),
        '[field.north] windrow_mass: "9 kg/m2" is outside',
    ),
    "shifts overlap": (
        FARM
        + '[[shift]]\nstart = "20:00"\nend = "06:00"\n[[shift]]\nstart = "05:00"\nend = "12:00"\n',
        "[[shift]] 2 start: the shift overlaps shift 1",
    ),
    "shift of no length": (
        FARM + '[[shift]]\nstart = "20:00"\nend = "20:00"\n',
        "[[shift]] 1 end: is the same as start",
    ),
    "shift hour": (
        FARM + '[[shift]]\nstart = "25:00"\nend = "20:00"\n',
        '[[shift]] 1 start: "25:00" is no time of day',
    ),
    "road to nowhere known": (
        FARM + '[[road]]\nfrom = "home"\nto = "nort"\nminutes = 20\n',
        '[[road]] 1 to: "nort" is neither a field nor a site of this file; did you mean "north"?',
    ),
    "road to itself": (
        FARM + '[[road]]\nfrom = "north"\nto = "north"\nminutes = 20\n',
        "[[road]] 1 to: both places are the same",
    ),
    "road twice": (
        FARM
        + '[[road]]\nfrom = "home"\nto = "north"\nminutes = 20\n'
        + '[[road]]\nfrom = "north"\nto = "home"\nminutes = 30\n',
        "[[road]] 2 to: the same way is given in [[road]] 1",
    ),
    "road without minutes": (
        FARM + '[[road]]\nfrom = "home"\nto = "north"\n',
        "[[road]] 1 minutes: is missing",
    ),
    "least visit": (
        FARM + "least_visit = 30\n",
        "[baler] least_visit: 30 h is outside 0 to 24 h",
    ),
    "shift without end": (FARM + '[[shift]]\nstart = "20:00"\n', "[[shift]] 1 end: is missing"),
}


@pytest.mark.parametrize("case", CASES)
def test_refused_with_one_line(tmp_path, case):
    text, expected = CASES[case]
    line = refusal(tmp_path, text)
    assert line.startswith("farm.toml: ")
    assert expected in line


def test_a_file_that_is_no_page_of_text_is_not_read(tmp_path):
    text = FARM + "#" * LARGEST_BYTES
    assert f"is too large for a farm file ({len(text)} bytes)" in refusal(tmp_path, text)


def test_a_name_that_no_file_can_have_is_a_file_that_is_missing():
    with pytest.raises(FarmFileError) as refused:
        load_document(Path("farm\0.toml"))
    assert refused.value.key == "farm_missing"


def test_open_meteo_asks_for_terms_or_a_key(tmp_path):
    line = refusal(
        tmp_path, replaced(FILE, 'service = "open-meteo"'), {"HAYWEATHER_OPEN_METEO_KEY": " "}
    )
    assert "[weather] terms: open-meteo is free for non-commercial use only" in line
    assert "HAYWEATHER_OPEN_METEO_KEY" in line


def test_local_time_needs_a_zone(tmp_path):
    text = in_field('cut_at = "2026-07-05T10:00"').replace(FILE, 'service = "us-nws"')
    line = refusal(tmp_path, text.replace('timezone = "America/Los_Angeles"\n', ""))
    assert "[field.north] cut_at: 2026-07-05T10:00:00 has no time zone" in line
