"""Readings and logs as people give them: understood, or refused in one line."""

from dataclasses import replace

import numpy as np
import pytest
from support.fields import CURED, EVENING, HOME, RIG, farm_of

from hayweather.errors import InputError, OptionError
from hayweather.learning.past import read_log, read_readings
from hayweather.learning.spoken import read_spoken
from hayweather.weather.record import HOUR

ONE = farm_of()
SOUTH = replace(CURED, name="south")
TWO = farm_of(fields={"north": CURED, "south": SOUTH})
ZONES = {"home": HOME.timezone}


def spoken(*texts, farm=ONE, zones=ZONES, now=EVENING, field=None):
    return read_spoken(texts, farm, zones, now, field)


def only(text, **named):
    (readings,) = spoken(text, **named).values()
    return readings[0]


def utc(text):
    return np.datetime64(text, "s")


def check_line(caught):
    """One line in both languages, no field left open, exit 2."""
    english, spanish = str(caught.value), caught.value.line("es")
    for line in (english, spanish):
        assert "\n" not in line
        assert "{" not in line
    assert english != spanish
    assert caught.value.exit_code == 2
    return english


def refused(text, **named):
    with pytest.raises(OptionError) as caught:
        spoken(text, **named)
    line = check_line(caught)
    assert line.startswith("--reading: ")
    return line


def test_a_clock_time_is_of_this_night():
    """Denver is six hours behind UTC in July; EVENING is 19:00 of 2 July there."""
    assert only("21:40=10.5").time == utc("2024-07-03T03:40")
    assert only("05:15=10.5").time == utc("2024-07-03T11:15")
    morning = EVENING + 14 * HOUR
    assert only("21:40=10.5", now=morning).time == utc("2024-07-03T03:40")


def test_an_iso_time_is_local_or_as_it_says():
    assert only("2024-07-02T21:40=10.5").time == utc("2024-07-03T03:40")
    assert only("2024-07-03T03:40Z=10.5").time == utc("2024-07-03T03:40")
    assert only("2024-07-02T20:40-07:00=10.5").time == utc("2024-07-03T03:40")


def test_a_time_that_the_clock_never_showed_is_asked_back():
    with pytest.raises(InputError) as caught:
        only("02:30=10.5", now=utc("2024-03-10T05:00"))
    assert "did not exist, because clocks went forward" in check_line(caught)


def test_kind_error_and_bias():
    plain = only("21:40=10.5")
    assert (plain.moisture_wb, plain.kind, plain.error_wb, plain.bias_wb) == (10.5, "windrow", 1, 0)
    full = only("21:40 = 14 % , leaf , error = 2 , bias=1.5")
    assert (full.kind, full.error_wb, full.bias_wb, full.true_wb) == ("leaf", 2.0, 1.5, 12.5)
    assert only("21:40=14,0,leaf,error=2,0,bias=1,5") == only("21:40=14,leaf,error=2,bias=1.5")
    assert only("21:40\n=10").moisture_wb == 10  # a line break is white space


def test_fields_and_order():
    found = spoken("south@23:00=12", "north@22:00=10", "south@21:00=11", farm=TWO)
    assert [reading.moisture_wb for reading in found["south"]] == [11.0, 12.0]
    assert [reading.moisture_wb for reading in found["north"]] == [10.0]
    assert set(spoken("21:40=10.5", farm=TWO, field="south")) == {"south"}


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("21:40=250", "between 1 and 80"),
        ("21:40=0", "between 1 and 80"),
        ("21:40=nan", "between 1 and 80"),
        ("21:40=-3", "between 1 and 80"),
        ("21:40=wet", "is not understood"),
        ("21:40", "is not understood"),
        ("", "is not understood"),
        ("25:40=10", "is not understood"),
        ("later=10", "is not understood"),
        ("21:40=10,leaf,stem", "can be: windrow, leaf, stem"),
        ("21:40=10,bale", "can be: windrow, leaf, stem"),
        ("21:40=10,eror=2", "is not understood"),
        ("21:40=10,error=0", "between 0.1 and 20"),
        ("21:40=10,error=1,error=2", "is not understood"),
        ("21:40=10,bias=40", "between -15 and 15"),
        ("2024-07-01T21:40=10", "outside the night of 2024-07-02"),
        ("2024-07-03T21:40=10", "outside the night of 2024-07-02"),
        ("west@21:40=10", 'of the field "west"'),
    ],
)
def test_bad_readings_get_one_line(text, part):
    assert part in refused(text)


def test_which_field_and_zone_must_be_known():
    assert "Fields: north, south" in refused("21:40=10", farm=TWO)
    assert "not asked for here" in refused("north@21:40=10", farm=TWO, field="south")
    assert "time zone" in refused("21:40=10", zones={"home": None})


def rows(folder, text, read=read_readings, farm=ONE, zones=ZONES):
    path = folder / "table.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read(path, farm, zones)


def test_readings_file(tmp_path):
    found = rows(
        tmp_path,
        "time,field,moisture_wb,kind,meter_error,bias,note\n"
        "2024-07-03T05:00,north,14.5,,,,dawn\n"
        "2024-07-03T03:40Z,,10.5,leaf,2,0.5,\n"
        "\n"
        "2024-07-03 06:00,north,15,bale,,,\n",
    )
    assert [item.kind for item in found] == ["leaf", "windrow", "bale"]
    assert [item.value for item in found] == [10.0, 14.5, 15.0]
    assert [item.error for item in found] == [2.0, 1.0, 2.0]
    assert found[1].time == utc("2024-07-03T11:00")


def test_skin_and_rig_columns_in_both_units(tmp_path):
    found = rows(
        tmp_path,
        "time,skin_temperature_f,skin_temperature_c,moisture_wb,water_gal_per_ton,water_l_per_t\n"
        "2024-07-03T01:00,50,,,,\n"
        "2024-07-03T02:00,,10,,,\n"
        "2024-07-03T03:00,,,13,10,\n"
        "2024-07-03T04:00,,,13,,0\n",
        farm=farm_of(rig=RIG),
    )
    assert [item.kind for item in found] == ["skin", "skin", "windrow", "windrow"]
    assert found[0].value == pytest.approx(found[1].value) == pytest.approx(10.0)
    assert found[0].error == found[1].error == 1.0
    assert found[2].water_l_t == pytest.approx(10 * 3.785411784 / 0.90718474, rel=1e-6)
    assert found[3].water_l_t is None


def test_semicolons_and_decimal_commas(tmp_path):
    text = "\ufefftime;moisture_wb\r\n2024-07-03T05:00;14,5\r\n"
    assert rows(tmp_path, text)[0].value == 14.5
    assert rows(tmp_path, "time,moisture_wb,note\n2024-07-03T05:00,9,ma\u00f1ana".encode("cp1252"))


HEAD = "time,field,moisture_wb,kind\n"
LOG_HEAD = "start,end,field,event,moisture_wb\n"


@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("", "no row to read"),
        (HEAD, "no row to read"),
        ("field,moisture_wb\nnorth,10\n", 'column "time" is missing'),
        ("time,moistre_wb\n2024-07-03T05:00,10\n", 'did you mean "moisture_wb"'),
        ("time,time\na,b\n", "stands twice"),
        (HEAD + "2024-07-03T05:00,north,250,\n", "line 2, moisture_wb"),
        (HEAD + "2024-07-03T05:00,north,ten,\n", '"ten" is not a number'),
        (HEAD + "2024-07-03T05:00,north,,\n", "nothing was read"),
        (HEAD + "yesterday,north,10,\n", 'time "yesterday" is not understood'),
        (HEAD + "2024-07-03T05:00,west,10,\n", 'no field "west"; write one of: north'),
        (HEAD + "2024-07-03T05:00,north,10,lief\n", 'did you mean "leaf"'),
        (b"time,moisture_wb\n\x00\x01\x02", "not a file of text rows"),
        (b'time,moisture_wb\n"' + 200_000 * b"x" + b'",1\n', "not a file of text rows"),
    ],
)
def test_bad_rows_get_one_line(tmp_path, text, part):
    with pytest.raises(InputError) as caught:
        rows(tmp_path, text)
    line = check_line(caught)
    assert part in line
    assert line.startswith("table.csv")


def test_no_file_and_no_zone_get_one_line(tmp_path):
    for path in (tmp_path, tmp_path / "none.csv"):
        with pytest.raises(InputError) as caught:
            read_readings(path, ONE, ZONES)
        check_line(caught)
    (tmp_path / "file").write_text("")
    with pytest.raises(InputError) as caught:
        read_readings(tmp_path / "file" / "none.csv", ONE, ZONES)
    assert "Not a directory" in check_line(caught)
    with pytest.raises(InputError) as caught:
        rows(tmp_path, HEAD + "2024-07-03T05:00,north,10,\n", zones={"home": None})
    assert "has no time zone" in check_line(caught)


def test_log_file(tmp_path):
    found = rows(
        tmp_path,
        LOG_HEAD
        + "2024-07-03T02:00,2024-07-03T05:30,north,baled,13.5\n"
        + "2024-07-03T00:00,2024-07-03T02:00,,Too dry,\n",
        read_log,
    )
    assert [item.event for item in found] == ["too_dry", "baled"]
    assert found[1].end - found[1].start == np.timedelta64(3 * 3600 + 1800, "s")
    assert (found[0].moisture_wb, found[1].moisture_wb) == (None, 13.5)


@pytest.mark.parametrize(
    ("row", "part"),
    [
        ("2024-07-03T05:00,2024-07-03T02:00,north,baled,", "is not after the start"),
        ("2024-07-01T05:00,2024-07-04T02:00,north,baled,", "longer than 48 hours"),
        ("2024-07-03T02:00,2024-07-03T05:00,north,bailed,", 'did you mean "baled"'),
        ("2024-07-03T02:00,2024-07-03T05:00,north,,", "can be: baled"),
    ],
)
def test_bad_log_rows_get_one_line(tmp_path, row, part):
    with pytest.raises(InputError) as caught:
        rows(tmp_path, LOG_HEAD + row + "\n", read_log)
    assert part in check_line(caught)


@pytest.mark.parametrize(
    ("night", "hours"),
    [
        ("2024-11-02T23:00,2024-11-03T03:00", 5),  # clocks go back at 2 am
        ("2024-03-09T23:00,2024-03-10T03:00", 3),  # and forward
        ("2024-11-03T01:30-06:00,2024-11-03T01:15-07:00", 0.75),
    ],
)
def test_log_across_a_clock_change(tmp_path, night, hours):
    (entry,) = rows(tmp_path, LOG_HEAD + night + ",north,baled,\n", read_log)
    assert (entry.end - entry.start) / HOUR == hours


def test_lines_that_begin_with_a_mark_are_notes(tmp_path):
    text = "# mine\n\n" + HEAD + "# skipped\n2024-07-03T05:00,north,14,\n# end, too\n"
    assert [item.value for item in rows(tmp_path, text)] == [14.0]
    with pytest.raises(InputError) as caught:
        rows(tmp_path, "# mine\n\n" + HEAD + "2024-07-03T05:00,north,140,\n")
    assert "line 4" in check_line(caught)
