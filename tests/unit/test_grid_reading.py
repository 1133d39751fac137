"""Gridded weather read strictly: names, units, clocks, places; what is not told stops.

Conventions are those of CF (https://cfconventions.org, standard names and
units); the fields themselves are made up.
"""

import numpy as np
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st
from support.grids import FIRST, PLACE, choice, columns, grid_weather, refused, written

from hayweather.seasons.grid.axes import open_grid, zone_of
from hayweather.seasons.grid.columns import layout_of
from hayweather.seasons.grid.variables import NAMES, UNITS
from hayweather.seasons.record.sites import GridChoice


@pytest.fixture
def weather() -> xr.Dataset:
    return grid_weather(2, 3, days=4)


def renamed(dataset, name, new, **attributes):
    """The dataset with a variable of another name and other attributes."""
    found = dataset.rename({name: new})
    found[new].attrs = attributes
    return found


def test_values_stand_at_their_hours(weather):
    found = columns(weather)
    kelvin = weather["t2m"].sel(time=slice("2021-06-29T00", "2021-06-29T23"))
    assert found["air_temperature_c"].shape == (24, 6)
    assert found["air_temperature_c"] == pytest.approx(
        kelvin.values.reshape(24, 6).astype(float) - 273.15
    )
    assert set(found) == {
        "air_temperature_c", "dew_point_c", "wind_speed_m_s", "cloud_fraction", "rain_mm",
    }  # fmt: skip


def test_hours_outside_the_file_are_blank(weather):
    found = columns(weather, 48, np.datetime64("2021-07-01T12:00", "s"))
    assert np.isfinite(found["air_temperature_c"][:12]).all()
    assert np.isnan(found["air_temperature_c"][12:]).all()
    beyond = columns(weather, 3, np.datetime64("2030-01-01", "s"))
    assert np.isnan(beyond["air_temperature_c"]).all()


def test_a_gap_in_the_times_stays_blank(weather):
    holed = weather.isel(time=np.r_[0:30, 33:96])
    found = columns(holed)["air_temperature_c"]
    assert np.isnan(found[6:9]).all()
    assert np.isfinite(np.delete(found, [6, 7, 8], axis=0)).all()


@pytest.mark.parametrize(
    ("unit", "turned"),
    [
        ("degC", lambda kelvin: kelvin - 273.15),
        ("degree_F", lambda kelvin: (kelvin - 273.15) * 1.8 + 32),
    ],
)
def test_temperature_in_other_units_is_the_same(weather, unit, turned):
    other = weather.copy()
    attributes = {**weather["t2m"].attrs, "units": unit}
    other["t2m"] = turned(weather["t2m"].astype(float)).assign_attrs(attributes)
    assert columns(other)["air_temperature_c"] == pytest.approx(
        columns(weather)["air_temperature_c"], abs=1e-9
    )


@pytest.mark.parametrize(
    ("name", "factor", "attributes", "more"),
    [
        ("pr", 3600.0, {"units": "mm h-1"}, {}),
        ("tp", 3600.0, {"units": "mm", "cell_methods": "time: sum"}, {}),
        ("tp", 3.6, {"units": "m"}, {"sums": "hour"}),
        (
            "rain_total",
            3600.0,
            {
                "units": "kg m**-2",
                "standard_name": "precipitation_amount",
                "cell_methods": "time: sum",
            },
            {},
        ),
    ],
)
def test_rain_is_millimeters_of_the_hour(weather, name, factor, attributes, more):
    weather["pr"][30] = 1.5 / 3600
    other = renamed(weather, "pr", name, **attributes)
    other[name] = (other[name].astype(float) * factor).assign_attrs(attributes)
    expected = columns(weather)["rain_mm"]
    assert expected.max() == pytest.approx(1.5, abs=1e-6)
    assert columns(other, **more)["rain_mm"] == pytest.approx(expected, abs=1e-6)


def test_wind_from_its_components():
    dataset = grid_weather(1, 2, days=4).drop_vars("si10")
    shape = dataset["t2m"].dims, np.ones(dataset["t2m"].shape)
    dataset["u10"] = (shape[0], -3 * shape[1], {"units": "m s-1"})
    dataset["v10"] = (shape[0], 4 * shape[1], {"units": "m s-1"})
    assert columns(dataset)["wind_speed_m_s"] == pytest.approx(5.0)


@pytest.mark.slow
def test_humidity_of_every_kind_gives_the_dew_point(weather):
    # Relative humidity and mixing ratio from psychrolib, an implementation of ASHRAE's formulas.
    import psychrolib

    psychrolib.SetUnitSystem(psychrolib.SI)
    air, dew = 21.0, 9.0
    weather["t2m"][:], weather["d2m"][:] = air + 273.15, dew + 273.15
    relative = psychrolib.GetRelHumFromTDewPoint(air, dew)
    ratio = psychrolib.GetHumRatioFromTDewPoint(dew, 90_000.0)
    dims = weather["t2m"].dims
    blank = np.ones(weather["t2m"].shape)
    for name, value, unit in (("hurs", 100 * relative, "%"), ("huss", ratio / (1 + ratio), "1")):
        other = weather.drop_vars("d2m")
        other[name] = (dims, value * blank, {"units": unit})
        other["sp"] = (dims, 90_000.0 * blank, {"units": "Pa"})
        assert columns(other)["dew_point_c"] == pytest.approx(dew, abs=0.1)


def test_specific_humidity_without_pressure_takes_that_of_the_elevation():
    # Standard atmosphere at 1,000 m: 89.875 kPa (ISO 2533, from memory).
    dataset = grid_weather(1, 1, days=4)
    dataset["orog"][:] = 1000.0
    dims, blank = dataset["t2m"].dims, np.ones(dataset["t2m"].shape)
    ratio = 0.622 * 1.0 / (89.875 - 0.378)  # of a vapor pressure of 1 kPa
    dataset["huss"] = (dims, ratio * blank, {"units": "kg kg-1"})
    dataset["t2m"][:] = 293.15
    dew = columns(dataset.drop_vars("d2m"))["dew_point_c"]
    assert dew == pytest.approx(6.97, abs=0.05)  # saturation at 1 kPa, steam tables, from memory
    dataset["huss"][:] = 0.0
    dry = columns(dataset.drop_vars("d2m"))["dew_point_c"]
    assert np.isnan(dry).all()  # air without any vapor has no dew point


def test_sun_of_an_hour_is_a_mean_and_what_an_archive_packs_below_zero_is_none():
    dataset = grid_weather(1, 1, days=4)
    dims, shape = dataset["t2m"].dims, dataset["t2m"].shape
    joules = np.full(shape, 3600.0 * 250)
    joules[30] = -1e-3
    dataset["ssrd"] = (dims, joules, {"units": "J m**-2", "cell_methods": "time: sum"})
    sun = columns(dataset)["shortwave_w_m2"][:, 0]
    assert sun[6] == 0.0
    assert np.delete(sun, 6) == pytest.approx(250.0)


def test_the_height_of_the_wind_may_stand_at_a_coordinate(weather):
    told = weather.rename(si10="wind")
    for value, unit, expected in ((2.0, "m", 2.0), (33.0, "feet", 10.06)):
        height = xr.DataArray(value, attrs={"standard_name": "height", "units": unit})
        dataset = told.assign(wind=told["wind"].assign_coords(height=height))
        layout = layout_of(dataset, choice(PLACE))
        assert layout.wind_height_m == pytest.approx(expected, abs=0.01)
    assert layout_of(told, choice(PLACE, wind_height_m=3.0)).wind_height_m == 3.0
    height.attrs["units"] = "hands"
    strange = told.assign(wind=told["wind"].assign_coords(height=height))
    assert 'unit "hands" is not known' in refused(strange)


def test_rain_of_an_hour_moves_with_the_convention_and_instants_do_not(weather):
    weather["pr"][:] = 0.0
    weather["pr"][24 + 13] = 2 / 3600  # stamped 13:00
    wet = {
        hour: np.flatnonzero(columns(weather, hour=hour)["rain_mm"][:, 0]).tolist()
        for hour in ("start", "end")
    }
    assert wet == {"start": [13], "end": [12]}
    airs = [columns(weather, hour=hour)["air_temperature_c"] for hour in ("start", "end")]
    assert np.array_equal(*airs)


def test_stamps_at_half_hours_are_centers(weather):
    centered = weather.assign_coords(time=weather["time"] + np.timedelta64(30, "m"))
    for name in ("t2m", "d2m", "si10", "tcc", "pr"):
        centered[name].attrs["cell_methods"] = "time: mean"
    centered["pr"][:] = 0.0
    centered["pr"][24 + 13] = 2 / 3600  # stamped 13:30
    found = columns(centered, hour="center")
    assert np.flatnonzero(found["rain_mm"][:, 0]).tolist() == [13]
    kelvin = weather["t2m"].values.reshape(96, 6).astype(float)
    between = (kelvin[23:47] + kelvin[24:48]) / 2 - 273.15
    assert found["air_temperature_c"] == pytest.approx(between)
    assert "off the hour" in refused(centered, hour="start")


def test_means_of_hours_lie_in_their_middle(weather):
    weather["t2m"].attrs["cell_methods"] = "time: mean (interval: 1 hour)"
    kelvin = weather["t2m"].values.reshape(96, 6).astype(float)
    ends = columns(weather, hour="end")["air_temperature_c"]
    assert ends == pytest.approx((kelvin[24:48] + kelvin[25:49]) / 2 - 273.15)
    starts = columns(weather, hour="start")["air_temperature_c"]
    assert starts == pytest.approx((kelvin[23:47] + kelvin[24:48]) / 2 - 273.15)


def test_bounds_tell_the_hour(weather):
    hour = np.timedelta64(1, "h")
    stamps = weather["time"].values
    weather["time_bnds"] = (("time", "nv"), np.stack([stamps - hour, stamps], axis=1))
    weather["time"].attrs["bounds"] = "time_bnds"
    assert layout_of(weather, GridChoice(PLACE)).clock.hour == "end"
    assert 'bounds say hour = "end", [grid] says "start"' in refused(weather, hour="start")
    weather["time_bnds"] = (("time", "nv"), np.stack([stamps - 3 * hour, stamps], axis=1))
    assert "180 minutes" in refused(weather, hour="end")
    quarter = np.timedelta64(15, "m")
    weather["time_bnds"] = (("time", "nv"), np.stack([stamps - quarter, stamps + 3 * quarter], 1))
    assert "15 minutes" in refused(weather, hour="end")


def test_the_files_clock_may_be_a_fixed_offset(weather):
    utc = columns(weather, 12)["air_temperature_c"]
    seven = FIRST + np.timedelta64(7, "h")
    local = columns(weather, 12, seven, file_timezone="UTC-7")["air_temperature_c"]
    assert np.array_equal(utc, local)


def test_an_offset_in_the_time_units_is_followed(weather):
    raw = weather.copy()
    attributes = {
        "units": "hours since 2021-06-28 00:00:00 -07:00",
        "calendar": "standard",
        "standard_name": "time",
    }
    raw["time"] = ("time", np.arange(96), attributes)
    decoded = xr.decode_cf(raw)
    assert layout_of(decoded, choice(PLACE)).clock.stamps[0] == np.datetime64("2021-06-28T07:00")


def test_a_standard_name_goes_before_the_common_one(weather):
    weather["t2"] = weather["t2m"] * 0
    weather["t2"].attrs = {"standard_name": "sea_surface_temperature", "units": "K"}
    assert columns(weather)["air_temperature_c"].min() > -40


def test_longitudes_to_360_are_west(weather):
    east = weather.assign_coords(longitude=weather["longitude"] % 360)
    east["longitude"].attrs = weather["longitude"].attrs
    found = layout_of(east, choice(PLACE)).space
    assert found.longitude == pytest.approx(layout_of(weather, choice(PLACE)).space.longitude)


def test_places_in_two_dimensions_and_stations_and_one_point(weather):
    flat = layout_of(weather, choice(PLACE)).space
    latitude, longitude = xr.broadcast(weather["latitude"], weather["longitude"])
    curved = weather.rename(latitude="y", longitude="x").drop_vars(["y", "x"])
    degrees = {"north": {"units": "degrees_north"}, "east": {"units": "degrees_east"}}
    curved = curved.assign_coords(
        lat=(("y", "x"), latitude.values, degrees["north"]),
        lon=(("y", "x"), longitude.values, degrees["east"]),
    )
    for name in ("latitude", "longitude", "elevation_m"):
        found = getattr(layout_of(curved, choice(PLACE)).space, name)
        assert found == pytest.approx(getattr(flat, name))
    stations = curved.stack(station=("y", "x")).reset_index("station").drop_vars(["y", "x"])
    assert layout_of(stations, choice(PLACE)).space.latitude == pytest.approx(flat.latitude)
    point = weather.isel(latitude=1, longitude=2)
    assert columns(point)["air_temperature_c"][:, 0] == pytest.approx(
        columns(weather)["air_temperature_c"][:, 5]
    )


def test_the_clock_of_the_user_holds_for_all_cells():
    told = GridChoice(PLACE, timezone="America/Denver")
    assert zone_of(-120.0, told) == zone_of(10.0, told) == "America/Denver"


def test_elevation_of_the_user_stands_for_all(weather):
    space = layout_of(weather.drop_vars("orog"), choice(PLACE, elevation_m=1200.0)).space
    assert space.elevation_m.tolist() == [1200.0] * 6


def test_a_file_and_a_store_give_the_same(weather, tmp_path):
    from_file, from_store = (
        written(weather, tmp_path / name, (48, 1, 2)) for name in ("a.nc", "a.zarr")
    )
    found = []
    for path in (from_file, from_store):
        with open_grid(path) as dataset:
            found.append(columns(dataset))
    assert set(found[0]) == set(found[1])
    assert all(np.array_equal(found[0][name], found[1][name]) for name in found[0])


def test_every_unit_is_spelled_small_and_every_name_known_once():
    assert all(text == text.lower() for units in UNITS.values() for text in units)
    common = [name for known in NAMES.values() for name in (*known.common, *known.standard)]
    assert len(common) == len(set(common))
    assert {known.units for known in NAMES.values()} == set(UNITS)


@given(st.floats(-180, 180))
def test_the_clock_of_a_cell_is_within_half_an_hour_of_its_sun(longitude):
    from datetime import datetime
    from zoneinfo import ZoneInfo

    zone = ZoneInfo(zone_of(longitude, GridChoice(PLACE)))
    hours = datetime(2021, 7, 1, tzinfo=zone).utcoffset().total_seconds() / 3600
    assert abs(hours - longitude / 15) <= 0.5 + 1e-9
