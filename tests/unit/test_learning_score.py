"""Scores of kept outlooks: small cases worked by hand, and published worked examples.

Finley's tornado forecasts of 1884 (28 hits, 72 false alarms, 23 misses, 2,680 quiet)
after Murphy 1996, "The Finley affair", Weather and Forecasting 11, from memory; the
split of the Brier score into reliability, resolution and uncertainty after Murphy 1973,
Journal of Applied Meteorology 12.
"""

from dataclasses import replace

import numpy as np
import pytest

from hayweather.baling.calls import Call
from hayweather.errors import InputError
from hayweather.learning.happened import TimeError, bouts_of, hours_logged, logged_hours, of_hours
from hayweather.learning.keep import Kept, KeptWindow
from hayweather.learning.past import FieldReading, LogEvent
from hayweather.learning.score import (
    Counts,
    HumidityBand,
    band_of_other_months,
    best_band,
    brier,
    reliability,
    score,
)
from hayweather.log.records import LAYERS
from hayweather.weather.record import HOUR

ZONE = "America/Denver"  # six hours behind UTC in July
EVENING = np.datetime64("2024-07-03T00:00", "s")  # 18:00 of 2 July there
MINUTE = np.timedelta64(60, "s")
DEW, DRY, WET, RIG = Call.NATURAL_DEW, Call.TOO_DRY, Call.TOO_WET, Call.ADD_MOISTURE
CALLS = [DRY] * 8 + [DEW] * 3 + [WET] * 3 + [DRY] * 4  # 18:00 to 11:00
MOISTURES = np.linspace(8.0, 16.5, 18)


def chances_of(dew):
    """Chances of dew as said, the rest too dry, (6, hours)."""
    rows = np.zeros((len(Call), len(dew)))
    rows[DEW] = dew
    rows[DRY] = 1 - np.asarray(dew)
    return rows


def kept_of(made=EVENING, calls=CALLS, dew=None, field="north", **changed):
    """An outlook of one field from `made` on; chances of dew sure unless given."""
    starts = made + np.arange(len(calls)) * HOUR
    called = np.array(calls, dtype=np.int8)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], called == DEW, [False]])))
    windows = tuple(
        KeptWindow(DEW, made + first * HOUR, made + past * HOUR, 0.6, None)
        for first, past in edges.reshape(-1, 2)
    )
    values = {
        "field": field,
        "timezone": ZONE,
        "made": made,
        "starts": starts,
        "calls": called,
        "windrow_wb": np.resize(MOISTURES, len(calls)),
        "humidity": np.full(len(calls), 70.0),
        "chances": chances_of((called == DEW) * 1.0 if dew is None else dew),
        "windows": windows,
    }
    return Kept(**{**values, **changed})


def entry(first, last, event="baled", moisture=None, field="north", day=0):
    """A log entry from and to hours after the evening's 18:00."""
    start = EVENING + day * 24 * HOUR
    span = (start + round(60 * first) * MINUTE, start + round(60 * last) * MINUTE)
    return LogEvent(*span, field, event, moisture)


def rules_of(found):
    return {rule.name: rule for rule in found.rules}


def test_finleys_tornadoes():
    said = np.repeat([True, True, False, False], [28, 72, 23, 2680])
    happened = np.repeat([True, False, True, False], [28, 72, 23, 2680])
    counts = Counts.of(said, happened)
    assert (counts.hits, counts.false_alarms, counts.misses) == (28, 72, 23)
    assert (counts.quiet, counts.hours, counts.wrong) == (2680, 2803, 95)
    assert Counts.of(np.zeros_like(said), happened).wrong == 51
    assert brier(said * 1.0, happened * 1.0) == pytest.approx(95 / 2803)


def test_brier_by_hand():
    """0.7 of what came is off by 0.09, 0.3 of it by 0.49, 0.5 by 0.25 either way."""
    assert brier(np.array([1.0]), np.array([0.0])) == 1.0
    assert brier(np.array([0.7, 0.3, 0.5]), np.ones(3)) == pytest.approx((0.09 + 0.49 + 0.25) / 3)
    assert np.isnan(brier(np.array([]), np.array([])))


def test_reliability_by_hand():
    """Ten hours: of four said 0.1 one came, of four said 0.5 two, of two said 1.0 both."""
    chance = np.array([0.1] * 4 + [0.5] * 4 + [1.0] * 2)
    came = np.array([1.0, 0, 0, 0, 1, 1, 0, 0, 1, 1])
    table = reliability(chance, came)
    assert [each.hours for each in table] == [4, 0, 4, 0, 2]
    assert [(each.low, each.high) for each in table[:2]] == [(0.0, 0.2), (0.2, 0.4)]
    told = [each for each in table if each.hours]
    np.testing.assert_allclose([each.said for each in told], [0.1, 0.5, 1.0])
    np.testing.assert_allclose([each.happened for each in told], [0.25, 0.5, 1.0])
    assert np.isnan(table[1].said)


def test_brier_is_reliability_less_resolution_plus_uncertainty():
    random = np.random.default_rng(7)
    chance = random.choice([0.1, 0.3, 0.5, 0.7, 0.9], 4000)
    came = (random.random(4000) < chance**1.5).astype(float)
    base, bins = came.mean(), reliability(chance, came)
    split = sum(
        each.hours * ((each.said - each.happened) ** 2 - (each.happened - base) ** 2)
        for each in bins
    )
    assert brier(chance, came) == pytest.approx(split / 4000 + base * (1 - base))
    assert all(each.hours > 700 for each in bins)


def test_hours_of_a_log_count_where_half_is_covered():
    found = hours_logged([entry(2.4, 3.6), entry(4.6, 5.2)])
    assert set(found) == {("north", EVENING + 2 * HOUR), ("north", EVENING + 3 * HOUR)}


def test_of_two_entries_in_an_hour_the_wetter_counts():
    found = hours_logged([entry(2, 3, "rain"), entry(2, 3), entry(2, 3, "too_dry")])
    assert found == {("north", EVENING + 2 * HOUR): WET}


@pytest.mark.parametrize(
    ("first", "last", "hours"),
    [("2024-11-03T05:00", "2024-11-03T10:00", 5), ("2024-03-10T06:00", "2024-03-10T09:00", 3)],
)
def test_hours_of_a_log_across_a_clock_change_are_real_hours(first, last, hours):
    event = LogEvent(np.datetime64(first, "s"), np.datetime64(last, "s"), "north", "baled")
    assert len(hours_logged([event])) == hours


def test_counts_of_the_outlook_by_hand():
    """Said dew 02-05; baled 03-06, wet 02-03 and 06-08: two right, one missed, one false."""
    log = [entry(8, 9, "too_wet"), entry(9, 12), entry(12, 14, "rain"), entry(0, 8, "too_dry")]
    found = score([kept_of()], log)
    counts = rules_of(found)["outlook"].counts
    assert (counts.hits, counts.misses, counts.false_alarms, counts.quiet) == (2, 1, 1, 10)
    assert rules_of(found)["outlook"].too_wet == 1
    assert rules_of(found)["outlook"].brier == pytest.approx(2 / 14)
    assert (found.hours, found.nights, found.bouts, found.unspoken) == (14, 1, 1, 0)
    assert found.lead_h == pytest.approx(6.5)
    assert rules_of(found)["never"].counts.misses == 3
    assert rules_of(found)["never"].brier == pytest.approx(3 / 14)


def test_times_of_starts_and_ends_by_hand():
    """Said 02:00-05:00; baled 02:30-04:00 and 04:30-06:15, one bout: 30 min early, 75 early."""
    found = score([kept_of()], [entry(8.5, 10), entry(10.5, 12.25)])
    rule = rules_of(found)["outlook"]
    assert (rule.start.count, rule.start.bias_min, rule.start.mean_min) == (1, -30.0, 30.0)
    assert (rule.end.bias_min, rule.end.mean_min) == (-75.0, 75.0)


def test_two_windows_of_a_night_are_two_bouts():
    """Said 02-05 and 10-12, baled 02:00-04:00 and 10:30-12:00: starts 0 and 30 min early."""
    calls = [*CALLS[:16], DEW, DEW]
    found = score([kept_of(calls=calls)], [entry(8, 10), entry(16.5, 18)])
    rule = rules_of(found)["outlook"]
    assert found.bouts == 2
    assert (rule.start.bias_min, rule.start.mean_min) == (-15.0, 15.0)
    assert (rule.end.bias_min, rule.end.mean_min) == (30.0, 30.0)


def test_a_bout_without_a_window_counts_among_the_bouts_alone():
    found = score([kept_of()], [entry(15, 17)])
    assert (found.bouts, rules_of(found)["outlook"].start.count) == (1, 0)
    assert np.isnan(TimeError.of([float("nan")]).bias_min)


def test_yesterdays_hours_again():
    """Baled 02-04 and the next night 03-05: one right, one missed, one false, an hour early."""
    kept = [kept_of(), kept_of(EVENING + 24 * HOUR)]
    log = [entry(8, 10), entry(8, 9, "too_dry", day=1), entry(9, 11, day=1)]
    rule = rules_of(score(kept, log))["yesterday"]
    counts = rule.counts
    assert (counts.hits, counts.misses, counts.false_alarms) == (1, 3, 1)
    assert (rule.start.bias_min, rule.end.bias_min, rule.start.count) == (-60.0, -60.0, 1)


def test_the_range_of_starts_is_counted():
    windows = (
        KeptWindow(
            DEW, EVENING + 8 * HOUR, EVENING + 11 * HOUR, 0.7,
            (EVENING + 7 * HOUR, EVENING + 9 * HOUR),
        ),
    )  # fmt: skip
    kept = [kept_of(windows=windows), kept_of(field="south", windows=windows)]
    found = score(kept, [entry(8.5, 11), entry(9.5, 11, field="south")])
    assert (found.starts_held, found.starts_timed) == (1, 2)


def test_the_last_outlook_before_an_hour_counts():
    later = kept_of(EVENING + 6 * HOUR, [DRY] * 12)
    found = score([kept_of(), later], [entry(8, 10), entry(0, 1, "too_dry")])
    assert rules_of(found)["outlook"].counts.misses == 2
    assert found.lead_h == pytest.approx((2 + 3 + 0) / 3)


def test_an_outlook_made_in_the_hour_does_not_speak_of_it():
    made = kept_of(EVENING + HOUR // 2, starts=EVENING + np.arange(18) * HOUR)
    found = score([made], [entry(0, 2, "too_dry")])
    assert (found.hours, found.unspoken) == (1, 1)


def test_hours_that_no_outlook_speaks_of():
    found = score([kept_of()], [entry(17, 20, "too_dry"), entry(1, 2, field="west")])
    assert (found.hours, found.unspoken) == (1, 3)
    for log in ([entry(30, 32)], []):
        with pytest.raises(InputError) as caught:
            score([kept_of()], log)
        assert caught.value.key == "score_nothing"


def test_a_stopped_hour_is_no_hour_to_bale():
    calls = np.where(np.array(CALLS) == DEW, Call.NO_DATA, CALLS)
    counts = rules_of(score([kept_of(calls=list(calls))], [entry(8, 11)]))["outlook"].counts
    assert (counts.hits, counts.misses) == (0, 3)


def test_without_chances_the_call_is_scored_and_no_table_made():
    blank = np.full((len(Call), len(CALLS)), np.nan)
    found = score([kept_of(chances=blank)], [entry(8, 12)])
    assert found.reliability == ()
    assert rules_of(found)["outlook"].brier == pytest.approx(1 / 4)


def test_errors_of_moisture_by_hour():
    """Hours hold means: 8.0 at 18:30, 8.5 at 19:30; so 8.25 at 19:00."""
    reading = FieldReading(EVENING + HOUR, "north", "windrow", 8.0, 1.0)
    others = [
        replace(reading, kind="leaf"),
        replace(reading, kind="bale"),
        replace(reading, water_l_t=20.0),
        replace(reading, time=EVENING + 40 * HOUR),
    ]
    log = [entry(1, 2, "too_dry", 9.0), entry(6, 7, "rig", 15.0), entry(0, 1, "too_dry")]
    found = score([kept_of()], log, [reading, *others])
    seven, everything = found.moisture
    assert (seven.hour, seven.count, everything.hour) == (19, 2, None)
    assert seven.bias_wb == pytest.approx((0.25 - 0.5) / 2)
    assert seven.rms_wb == pytest.approx(np.sqrt((0.25**2 + 0.5**2) / 2))
    assert everything.bias_wb == seven.bias_wb


def test_hours_of_moisture_run_from_the_afternoon_on():
    readings = [
        FieldReading(EVENING + hour * HOUR, "north", "windrow", 9.0, 1.0) for hour in (14, 2, 6)
    ]
    found = score([kept_of()], [entry(0, 1, "too_dry")], readings)
    assert [each.hour for each in found.moisture] == [20, 0, 8, None]


def test_moistures_that_were_not_said_have_no_error():
    blank = np.where(np.arange(len(CALLS)) < 8, 10.0, np.nan)
    log = [entry(1, 2, "too_dry", 9.0), entry(12, 13, "too_wet", 20.0)]
    found = score([kept_of(windrow_wb=blank)], log)
    assert [(each.hour, each.count) for each in found.moisture] == [(19, 1), (None, 1)]


def samples_of(hour, values, kind="windrow", minutes=(0, 0, 0)):
    """Readings of top, middle and bottom; None was not read."""
    return [
        FieldReading(
            EVENING + hour * HOUR + minute * MINUTE, "north", kind, value, 0.5, layer=layer
        )
        for layer, value, minute in zip(LAYERS, values, minutes, strict=True)
        if value is not None
    ]


def layers_of(top, middle, bottom):
    """An outlook's layers, the same in every hour and for leaf, stem and whole."""
    levels = np.repeat([[top], [middle], [bottom]], len(CALLS), axis=1).astype(float)
    return dict.fromkeys(("leaf", "stem", "windrow"), levels)


def test_samples_at_three_depths_stand_beside_their_layers():
    """Said 20, 10, 9; read 18, 10, 10 and 21, not, 11: the errors by layer by hand."""
    kept = kept_of(layers_wb=layers_of(20, 10, 9))
    readings = [
        *samples_of(2, (18, 10, 10), minutes=(0, 4, 9)),
        *samples_of(3, (21, None, 11)),
        replace(samples_of(4, (50, 50, 50))[0], water_l_t=20.0),
        replace(samples_of(4, (50, 50, 50))[0], kind="bale"),
    ]
    found = score([kept], [], readings)
    first, second = found.samples
    assert (first.field, first.time, first.timezone) == ("north", EVENING + 2 * HOUR, ZONE)
    assert (first.read, first.said) == ((18, 10, 10), (20, 10, 9))
    assert first.off == (2, 0, -1)
    assert np.isnan(second.read[1])
    assert np.isnan(second.off[1])
    errors = {each.layer: each for each in found.layers}
    assert {name: each.count for name, each in errors.items()} == {
        "top": 2, "middle": 1, "bottom": 2,
    }  # fmt: skip
    assert errors["top"].bias_wb == pytest.approx((2 - 1) / 2)
    assert errors["top"].rms_wb == pytest.approx(np.sqrt((4 + 1) / 2))
    assert errors["bottom"].bias_wb == pytest.approx((-1 - 2) / 2)
    assert (found.hours, found.rules, found.moisture) == (0, (), ())


def test_samples_without_an_outlook_or_its_layers_say_so():
    readings = [*samples_of(2, (18, 10, 10)), *samples_of(-3, (9, 9, 9))]
    found = score([kept_of()], [entry(0, 1, "too_dry")], readings)
    assert [each.without for each in found.samples] == ["outlook", "layers"]
    assert found.layers == ()
    assert (found.unsaid("outlook"), found.unsaid("layers")) == (1, 1)
    with pytest.raises(InputError) as caught:
        score([kept_of()], [], readings)
    assert caught.value.key == "score_nothing"


def test_leaf_and_stem_of_a_layer_are_kept_apart():
    kept = kept_of(layers_wb=layers_of(20, 10, 9))
    readings = [*samples_of(2, (18, 10, 10), "leaf"), *samples_of(2, (25, 10, 10), "stem")]
    found = score([kept], [], readings)
    assert [(each.kind, each.off[0]) for each in found.samples] == [("leaf", 2), ("stem", -5)]
    assert len(found.layers) == 6


def test_a_rule_that_says_no_hour_has_no_times():
    kept = kept_of()
    log = [entry(8, 11)]
    bouts = list(bouts_of([kept], log))
    hours = logged_hours([kept], log)
    (errors,) = of_hours(np.zeros(hours.start.size, dtype=bool), hours, bouts)
    assert np.isnan(errors).all()


def test_the_best_band_is_of_other_months():
    """June's best is 65-80 %, July's 75-90 %: each month is judged by the other's band."""
    humidity = np.array([62.0, 72.0, 77.0, 82.0, 62.0, 72.0, 82.0, 87.0])
    dew = np.array([False, True, True, False, False, False, True, True])
    month = np.repeat([6, 7], 4)
    assert best_band(humidity[:4], dew[:4]) == HumidityBand(65.0, 80.0)
    assert best_band(humidity[4:], dew[4:]) == HumidityBand(75.0, 90.0)
    said = band_of_other_months(humidity, dew, month)
    assert said.tolist() == [False, False, True, True, False, True, False, False]
    assert band_of_other_months(humidity[:4], dew[:4], month[:4]) is None


def test_the_humidity_rule_beside_the_outlook():
    """Two months alike, dew at 70 %, dry at 40 %: the rule is right throughout, its starts too."""
    kept, log = [], []
    for day in (0, 31):
        made = EVENING + day * 24 * HOUR
        kept.append(kept_of(made, humidity=np.where(np.array(CALLS) == DEW, 70.0, 40.0)))
        log += [entry(8, 11, day=day), entry(0, 8, "too_dry", day=day)]
    rule = rules_of(score(kept, log))["humidity"]
    assert (rule.counts.hits, rule.counts.wrong) == (6, 0)
    assert (rule.start.bias_min, rule.end.bias_min, rule.start.count) == (0.0, 0.0, 2)
    alone = rules_of(score(kept[:1], log[:2]))["humidity"]
    assert alone.counts is None
    assert np.isnan(alone.brier)


def test_fields_are_kept_apart():
    """Both fields say 02-05; the south is baled an hour later than the north."""
    kept = [kept_of(), kept_of(field="south")]
    bouts = list(bouts_of(kept, [entry(8, 11), entry(9, 11, field="south")]))
    assert [(bout.field, bout.said[0]) for bout in bouts] == [("north", 0.0), ("south", -60.0)]
