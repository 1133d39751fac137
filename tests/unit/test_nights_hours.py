"""Whole nights through the outlook: dew on cured hay, frost and thaw, stops, clock changes."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from support.fields import CURED, EVENING, HOME, RIG, TURN, days, farm_of

from hayweather.baling.calls import BALED, Call
from hayweather.baling.clock import to_local
from hayweather.nights import night_of
from hayweather.weather.record import HOUR


def outlook_of(weather, now=EVENING, field=CURED, **named):
    return night_of(farm_of(field, **named), {"home": weather}, now, members=0).fields[0]


def keys(remarks):
    return [remark.key for remark in remarks]


@cache
def frost():
    """A night to -5 C in a valley that the sun reaches at 08:00, hour 42 of the weather."""
    local = np.arange(52) + 14
    air = 5 + 10 * np.cos((local - 17) * np.pi / 12)
    sun = np.clip(900 * np.sin((local - 6) * np.pi / 12), 0, None)
    sun[24:42] = 0.0
    dew_point = np.minimum(-2.0, air)
    return outlook_of(days(52, air_temperature_c=air, dew_point_c=dew_point, shortwave_w_m2=sun))


EIGHT = 4 * 13  # quarters from 19:00 to 08:00


def test_frost_stays_out_of_leaf_and_stem_until_it_thaws_at_eight():
    """Unfrozen water would soak into the leaf within a quarter of an hour; vapor goes on."""
    run = frost().shown.trajectory
    skin, free, leaf = (
        values[:, 0] for values in (run.skin_temperature_c, run.free_water_mm, run.leaf_wb)
    )
    frozen = slice(EIGHT - 20, EIGHT + 1)  # 03:00 to 08:00
    assert skin[frozen].max() < 0
    assert (np.diff(free[frozen]) > 0).all()
    assert free[EIGHT] > 3 * 0.02
    assert np.abs(np.diff(leaf[frozen])).max() < 0.4  # a quarter hour
    # Then all at once.
    assert skin[EIGHT + 4] > 0
    assert free[EIGHT + 6] < 0.02
    assert np.abs(np.diff(leaf[EIGHT : EIGHT + 6])).max() > 0.5


def test_frost_is_too_wet_and_cautioned_through_the_thaw():
    hours = frost().hours
    night, thaw = hours[8:13], hours[13]
    assert to_local(thaw.start, "America/Denver").hour == 8
    for hour in (*night, thaw):
        assert hour.call == Call.TOO_WET
        assert {"reason_free_water", "reason_windrow_wet"} & set(keys(hour.reasons))
        assert "caution_frost" in keys(hour.cautions)
    assert thaw.hay.skin_temperature_c > 0 > hours[12].hay.skin_temperature_c
    assert "caution_frost" not in keys(hours[-1].cautions)


@pytest.mark.parametrize("dew_point_c", [9.0, 18.0])
def test_a_cured_field_that_gets_dew_is_never_not_cured(dew_point_c):
    """Also where the stem takes up far more than its limit."""
    found = outlook_of(days(46, dew_point_c=dew_point_c))
    assert max(hour.hay.stem_wb for hour in found.hours) > found.setting.band.stem_limit_wb
    assert Call.NOT_CURED not in {hour.call for hour in found.hours}


@cache
def dewy():
    return outlook_of(days(48))


def with_layers(weather, **layers):
    """The weather with more columns, each 0 but for ``{hour: value}``."""
    columns = dict(weather.columns)
    for name, values in layers.items():
        columns[name] = np.zeros((weather.hours, 1))
        for hour, value in values.items():
            columns[name][hour] = value
    return replace(weather, columns=columns)


def test_stopped_hours_keep_their_call_and_are_in_no_window():
    """Each layer in an hour of its own: on dew, too wet, and with the rig."""
    weather = with_layers(
        days(48),
        lightning_level={31: 3},
        thunder_chance_percent={35: 15},
        weather_code={36: 96},
        red_flag={38: 1, 46: 1},
    )
    plain, found = dewy(), outlook_of(weather)
    told = {29 + index: hour.reasons[0].key for index, hour in enumerate(found.hours) if hour.stop}
    assert told == {
        31: "stop_thunder",
        35: "stop_thunder",
        36: "stop_thunder",
        38: "stop_red_flag",
        46: "stop_red_flag",
    }
    assert [hour.call for hour in found.hours] == [hour.call for hour in plain.hours]
    for hour in told:
        begin, end = TURN + hour * HOUR, TURN + (hour + 1) * HOUR
        for window in (*found.windows, *found.headline.dew, *found.headline.rig):
            assert window.end <= begin or window.start >= end
    assert sum(window.hours for window in found.windows) == sum(
        window.hours for window in plain.windows
    ) - sum(
        (np.isin(plain.shown.quarters.call[4 * (hour - 29) : 4 * (hour - 28), 0], BALED)).sum() / 4
        for hour in told
    )


def test_a_stop_in_the_last_hour_shown_is_the_same_in_hours_and_windows():
    """The wind that stops the rig rises at the end of the last hour, 14:00."""
    wind = np.full(80, 1.5)
    wind[72:] = 6.0
    rig = replace(RIG, spray_wind_limit_m_s=4.0, rate_max_l_t=400.0)
    found = outlook_of(days(80, wind_speed_m_s=wind), rig=rig)
    last = found.hours[-1]
    assert last.call == Call.ADD_MOISTURE
    assert last.stop
    assert found.windows[-1].end == last.start


def test_rain_after_the_last_hour_shown_is_a_caution():
    rain = np.zeros(80)
    rain[74] = 3.0
    found = outlook_of(days(80, rain_mm=rain))
    told = ["caution_rain_ahead" in keys(hour.cautions) for hour in found.hours]
    assert told == [False] * 39 + [True] * 4


def test_rake_windows_have_soft_leaf_and_none_lies_in_a_stop():
    """A damp night on hay that is not cured yet: leaf soft for hours, nothing to bale."""
    uncured = replace(CURED, cured=TURN + 60 * HOUR)
    found = outlook_of(days(48, dew_point_c=14.0), field=uncured)
    assert found.rake
    for window in found.rake:
        first, past = ((time - EVENING) // np.timedelta64(900, "s") for time in
                       (window.start, window.end))  # fmt: skip
        leaf = found.shown.quarters.leaf_wb[first:past, 0]
        assert leaf.min() >= 18
        assert leaf.max() <= 40
    stopped = with_layers(days(48, dew_point_c=14.0), red_flag=dict.fromkeys(range(48), 1))
    assert outlook_of(stopped, field=uncured).rake == ()


CLOCK_CHANGES = [
    ("America/Denver", HOME, "2025-03-09T01:00", 42),  # evening of 8 March
    ("Europe/Madrid", replace(HOME, longitude=-1.0), "2025-10-25T18:00", 44),
]


@pytest.mark.parametrize(("zone", "place", "now", "hours"), CLOCK_CHANGES)
def test_on_days_of_clock_change_every_hour_is_there_once(zone, place, now, hours):
    """To 14:00 two days on, 19 and 24 hours, less or more the one of the change."""
    moment = np.datetime64(now, "s")
    site = replace(place, timezone=zone)
    local = to_local(moment, zone)
    start = moment - (local.hour - 14 + 24) * HOUR
    weather = days(74, start=start)
    found = night_of(farm_of(sites={"home": site}), {"home": weather}, moment, members=0).fields[0]
    assert len(found.hours) == hours + (19 - local.hour)
    starts = [hour.start for hour in found.hours]
    assert np.all(np.diff(starts) == HOUR)
    assert to_local(starts[-1] + HOUR, zone).hour == 14
    assert Call.NO_DATA not in {hour.call for hour in found.hours}


def test_a_half_hour_zone_has_whole_weather_hours_and_a_known_night():
    site = replace(HOME, latitude=-34.9, longitude=138.6, timezone="Australia/Adelaide")
    start = np.datetime64("2024-12-01T03:00", "s")  # 13:30 in Adelaide
    now = start + 29 * HOUR + np.timedelta64(50 * 60, "s")  # 19:20
    found = night_of(
        farm_of(sites={"home": site}), {"home": days(80, start=start)}, now, members=0
    ).fields[0]
    assert found.hours[0].start == start + 29 * HOUR
    assert to_local(found.hours[-1].start + HOUR, "Australia/Adelaide").hour == 13
    assert Call.NO_DATA not in {hour.call for hour in found.hours}


def test_changing_the_zone_on_display_alone_changes_nothing_in_utc():
    """Denver in July and a fixed zone of the same offset have the same starts."""
    fixed = farm_of(sites={"home": replace(HOME, timezone="Etc/GMT+6")})
    one = dewy()
    other = night_of(fixed, {"home": days(48)}, EVENING, members=0).fields[0]
    assert one.windows == other.windows
    assert [hour.call for hour in one.hours] == [hour.call for hour in other.hours]
    assert [hour.hay for hour in one.hours] == [hour.hay for hour in other.hours]


def test_order_of_fields_and_sites_changes_nothing():
    sites = {"home": HOME, "far": replace(HOME, name="far", elevation_m=900.0)}
    fields = {
        "north": CURED,
        "south": replace(CURED, name="south", site="far", crop="grass"),
        "east": replace(CURED, name="east", ground="wet"),
    }
    weather = {"home": days(36), "far": days(36, dew_point_c=12.0)}
    told = []
    for order in (list(fields), list(reversed(fields))):
        chosen = {name: fields[name] for name in order}
        placed = dict(reversed(sites.items())) if order[0] == "east" else sites
        farm = farm_of(sites=placed, fields=chosen)
        found = night_of(farm, weather, EVENING, members=0)
        assert [item.setting.field.name for item in found.fields] == order
        told.append({item.setting.field.name: item for item in found.fields})
    for name in fields:
        assert told[0][name].windows == told[1][name].windows
        one, other = ([hour.hay for hour in each[name].hours] for each in told)
        assert one == other


def test_hay_rained_on_before_the_spin_up_is_not_taken_as_dry():
    """8 mm at 11:00 yesterday, then damp overcast days: wetter than had it not been known."""
    damp = {"dew_point_c": 12.0, "cloud_fraction": 1.0, "air_temperature_c": 18.0}
    rain = np.zeros(82)
    rain[45] = 8.0
    wet = outlook_of(days(82, start=TURN - 48 * HOUR, rain_mm=rain, **damp)).hours
    dry = outlook_of(days(34, **damp)).hours
    gain = [one.hay.windrow_wb - other.hay.windrow_wb for one, other in zip(wet, dry, strict=False)]
    assert len(gain) > 4
    assert min(gain) > 1.0


def test_after_rain_that_cannot_be_followed_there_is_no_data_and_the_reason():
    rain = np.zeros(40)
    rain[12] = 4.0  # 09:00 today
    found = outlook_of(days(40, start=TURN + 7 * HOUR, rain_mm=rain))
    early = [hour for hour in found.hours if hour.start < TURN + 44 * HOUR]
    assert {hour.call for hour in early} == {Call.NO_DATA}
    assert keys(early[0].reasons) == ["start_after_rain"]
