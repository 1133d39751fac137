"""Tables read by a map: declared by the user, or one of the public layouts.

Rows are made by hand in the shape that the layouts' documents describe (variable
lists of flux towers; hourly report of an irrigation network; from memory).
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from hayweather.cli.main import run
from hayweather.errors import FarmFileError, WeatherFileError
from hayweather.weather.files import ReadOptions, read_weather_file
from hayweather.weather.files.maps import QUANTITIES, map_of, shipped

FLUX = "TIMESTAMP_START,TIMESTAMP_END,TA_F,TA_F_QC,SW_IN_F,VPD_F,PA_F,P_F,WS_F"
BASE = "TIMESTAMP_START,TIMESTAMP_END,TA_1_1_1,RH_1_1_1,SW_IN_1_1_1,PA_1_1_1,P_1_1_1,WS_1_1_1"
NETWORK = (
    "Stn Id,Stn Name,CIMIS Region,Date,Hour (PST),Jul,ETo (in),qc,Precip (in),qc,"
    "Sol Rad (Ly/day),qc,Vap Pres (mBars),qc,Air Temp (F),qc,Rel Hum (%),qc,Dew Point (F),qc,"
    "Wind Speed (mph),qc,Wind Dir (0-360),qc,Soil Temp (F),qc"
)


def halves(count: int) -> list[tuple[str, str]]:
    times = np.datetime64("2015-07-01T00:00") + np.arange(count + 1) * np.timedelta64(30, "m")
    texts = [str(t).replace("-", "").replace("T", "").replace(":", "") for t in times]
    return list(pairwise(texts))


def read(folder: Path, text: str, **options: object):
    path = folder / "table.csv"
    path.write_text(text)
    return read_weather_file(path, ReadOptions(**options))  # type: ignore[arg-type]


def test_a_flux_tower_is_known_by_its_columns_and_its_deficit_becomes_a_dew_point(tmp_path):
    rows = [f"{a},{b},25.0,0,400,15.837,84.1,0.1,2.5" for a, b in halves(12)]
    rows[7] = rows[7].replace("25.0", "-9999")
    text = "\n".join([FLUX, *rows]) + "\n"
    weather, report = read(tmp_path, text, timezone="UTC-07:00")
    assert report.layout == "plain"
    assert weather.source.measured
    assert "columns_mapped" in {note.key for note in weather.assumed}
    # FAO-56 annex 2, table 2.3: 3.168 kPa at 25 C; half of it is 50 %, dew point 13.9 C.
    assert_allclose(weather.columns["dew_point_c"][1:-1, 0], 13.9, atol=0.1)
    assert_allclose(weather.columns["rain_mm"][:4, 0], 0.2)
    assert str(weather.start[0]).startswith("2015-07-01T08:00")  # the first whole hour, UTC
    with pytest.raises(WeatherFileError, match="timezone"):
        read(tmp_path, text)


def test_base_files_with_positions_in_names_and_head_lines(tmp_path):
    rows = [f"{a},{b},20.0,50,400,84.1,0,2.5" for a, b in halves(12)]
    text = "\n".join(["# Site: XX-Abc", "# Version: 1-5", BASE, *rows]) + "\n"
    weather, _ = read(tmp_path, text, timezone="UTC-07:00")
    assert_allclose(weather.columns["dew_point_c"][1:-1, 0], 9.3, atol=0.1)  # published tables
    assert_allclose(weather.columns["pressure_kpa"][1:-1, 0], 84.1)


def test_an_agency_report_in_english_units_with_hours_at_their_end(tmp_path):
    cells = ["0.00", " ", "1200", " ", "12.0", " ", "77.0", " ", "50", " ", "57.0", " ", "10.0"]
    rows = [
        ",".join(["2", "Anywhere", "Valley", "7/1/2014", f"{hour:02d}00", "182", "0.01", " ",
                  *cells, " ", "180", " ", "75", " "])
        for hour in range(1, 25)
    ]  # fmt: skip
    weather, report = read(tmp_path, "\n".join([NETWORK, *rows]) + "\n")
    assert (report.timezone, report.hour, report.wind_height_m) == ("UTC-08:00", "end", 2.0)
    assert_allclose(weather.columns["air_temperature_c"][2:-2, 0], 25.0, atol=1e-6)
    assert_allclose(weather.columns["wind_speed_m_s"][2:-2, 0], 4.4704, atol=1e-4)
    # 1200 langley a day are 581.1 W/m2 (41,840 J/m2 a langley).
    assert_allclose(weather.columns["shortwave_w_m2"][2:-2, 0], 581.1, atol=0.1)


OWN = """[columns]
time = ["D", "T"]
clock = "UTC+01:00"
hour = "end"
missing = [-99]
air_temperature = "Lufttemp [degC]"
relative_humidity = { column = "Feuchte [%]", unit = "%", missing = 255 }
wind_speed = { column = "ff", unit = "km/h", height = "10 m" }
rain = ["RR neu [mm]", "RR [mm]"]
"""
TABLE = "D;T;Lufttemp;Feuchte [%];ff;RR;Sonstiges\n" + "".join(
    f"2024-06-01;{hour:02d}:00;{15 + hour / 10};{255 if hour == 5 else 60};"
    f"{-99 if hour == 9 else 18};0;x\n"
    for hour in range(1, 20)
)


def test_a_declared_map_reads_any_table(tmp_path):
    Path(tmp_path, "own.toml").write_text(OWN)
    weather, report = read(tmp_path, TABLE, columns=str(tmp_path / "own.toml"))
    assert (report.timezone, report.hour, report.wind_height_m) == ("UTC+01:00", "end", 10.0)
    assert_allclose(weather.columns["wind_speed_m_s"][0, 0], 5.0)
    assert {"dew_point_c", "wind_speed_m_s"} <= {r.column for r in report.repairs}  # codes
    assert "Sonstiges" in report.unused


def test_a_map_stands_in_the_farm_file_too(tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("table.csv").write_text(TABLE)
    Path("farm.toml").write_text(
        '[farm]\nunits = "metric"\n[site.home]\nlatitude = 48.0\nlongitude = 11.0\n'
        'elevation = 500\ntimezone = "Europe/Berlin"\n[weather]\nfile = "table.csv"\n'
        '[field.a]\nsite = "home"\narea = 4\ncured = true\n[baler]\nkind = "large-square"\n' + OWN
    )
    assert run(["inspect", "farm.toml"]) == 0
    assert "Lufttemp" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (("Lufttemp [degC]", "Lufttemp [furlong]"), "air_temperature"),
        (('"10 m"', "10"), "wind_speed"),  # feet or meters: not said
        (('"UTC+01:00"', '"Nowhere"'), "clock"),
        (("rain =", "rainfall ="), "rainfall"),
        (('"Lufttemp [degC]"', "[1, 2]"), "air_temperature"),
    ],
)
def test_a_wrong_map_is_one_line_with_the_key(tmp_path, change, said):
    Path(tmp_path, "own.toml").write_text(OWN.replace(*change))
    with pytest.raises(FarmFileError, match=said):
        read(tmp_path, TABLE, columns=str(tmp_path / "own.toml"))


def test_a_column_that_is_not_there_is_named(tmp_path):
    Path(tmp_path, "own.toml").write_text(OWN.replace("Lufttemp", "Temp"))
    with pytest.raises(WeatherFileError, match=r'"Temp".*found: D, T, Lufttemp'):
        read(tmp_path, TABLE, columns=str(tmp_path / "own.toml"))
    with pytest.raises(FarmFileError, match="fluxnet"):
        map_of("unknown", "columns")


def test_every_shipped_map_names_its_document_and_enough_columns():
    for name, columns in shipped().items():
        assert columns.source, name
        assert columns.detect, name
        assert {"air_temperature_c", "wind_speed_m_s"} <= set(columns.columns), name
        assert set(columns.columns) <= set(QUANTITIES.values())
