"""Tuning to readings: what it recovers, keeps, and says that it cannot tell.

Most tests put a straight-line model in place of the windrow, whose answer is known
from the textbook (conjugate normal); two use the windrow itself, with readings that it
made under known numbers. Nothing here speaks of fields.
"""

from dataclasses import replace

import numpy as np
import pytest
from support.fields import CURED, RIG, TURN, days, farm_of

from hayweather.errors import InputError
from hayweather.farm.records import Tuning
from hayweather.learning import predict as predicting
from hayweather.learning import tune
from hayweather.learning.past import FieldReading, noted_before
from hayweather.learning.predict import predict, site_nights
from hayweather.learning.tune import KNOBS, NAMES, believe, fit, prior_bar, tuning_at
from hayweather.log.records import LAYERS
from hayweather.weather.record import HOUR

HOURS = np.arange(76)
WEATHER = {  # a damp, calm night, then a drier one with some wind
    "home": days(
        76,
        dew_point_c=np.where(HOURS < 48, 12.0, 7.0),
        wind_speed_m_s=np.where(HOURS < 48, 1.0, 2.0),
    )
}
FARM = farm_of(CURED, RIG)
MASS, DEW, LEAF, STEM = (NAMES.index(name) for name in NAMES[:4])
BASE_WB = 12.0


def blanks(hours, kind="windrow", error=0.5, **named):
    """Readings at hours after 14:00 of the first day, their values still to be filled."""
    return [FieldReading(TURN + hour * HOUR, "north", kind, 0.0, error, **named) for hour in hours]


def filled(empty, values):
    return [replace(each, value=float(value)) for each, value in zip(empty, values, strict=True)]


def straight(monkeypatch, slopes):
    """A model in which readings follow each number in a straight line.

    `slopes` are (readings, numbers), points a standard deviation of the prior.
    """

    def lines(farm, nights, tunings):
        rows = [[knob.z(_value(tuning, knob)) for knob in KNOBS] for tuning in tunings]
        return BASE_WB + np.array(rows) @ slopes.T

    monkeypatch.setattr(tune, "predict", lines)


def _value(tuning, knob):
    value = getattr(tuning, knob.attribute)
    return knob.center if value is None else value


def slopes_of(count, **columns):
    slopes = np.zeros((count, len(NAMES)))
    for name, values in columns.items():
        slopes[:, NAMES.index(name)] = values
    return slopes


def by_name(result):
    return {item.knob.name: item for item in result.fitted}


def statuses(result):
    return {item.knob.name: item.status for item in result.fitted}


def test_one_number_told_by_one_reading(monkeypatch):
    """Slope 2 points, error 0.5: the bar shrinks to 1/sqrt(1 + 16) = 0.243 of the prior's."""
    straight(monkeypatch, slopes_of(1, dew_point_offset=2.0))
    result = fit(FARM, WEATHER, filled(blanks([40]), [BASE_WB + 2.0]), at_field=True)
    dew = by_name(result)["dew_point_offset"]
    middle = 16 / 17 * 1.5  # of 1.5 K, one standard deviation of the prior
    assert dew.status == "fitted"
    assert dew.value == pytest.approx(middle, abs=0.01)
    assert dew.share == pytest.approx(0.243, abs=0.03)
    assert dew.low == pytest.approx(middle - 1.96 * 1.5 * 0.243, abs=0.1)
    assert dew.high == pytest.approx(middle + 1.96 * 1.5 * 0.243, abs=0.1)
    assert (result.before, result.scatter) == (pytest.approx(4.0), 1.0)
    assert result.after == pytest.approx(4.0 / 17, abs=0.01)
    assert result.tuning == Tuning(dew_point_offset_k=dew.value)


def test_numbers_that_readings_barely_move_are_kept(monkeypatch):
    """A slope of 0.3 points at an error of 0.5 leaves 0.86 of the prior's bar."""
    slopes = slopes_of(1, dew_point_offset=2.0, stem_moisture=0.3)
    straight(monkeypatch, slopes)
    result = fit(FARM, WEATHER, filled(blanks([40]), [BASE_WB + 2.0]), at_field=True)
    assert statuses(result)["stem_moisture"] == "unclear"
    stem = by_name(result)["stem_moisture"]
    assert (stem.value, stem.low, stem.high) == (1.0, *prior_bar(stem.knob))
    assert [item.knob.name for item in result.told] == ["dew_point_offset"]


def test_numbers_that_cannot_be_told_apart_are_kept_both(monkeypatch):
    """Only the sum of leaf and dew point is read, very well: neither is fitted."""
    slopes = slopes_of(6, leaf_moisture=10.0, dew_point_offset=10.0, windrow_mass=0.0)
    straight(monkeypatch, slopes)
    readings = filled(blanks([34, 37, 40, 58, 61, 64], error=0.1), [BASE_WB + 8.0] * 6)
    result = fit(FARM, WEATHER, readings, at_field=True)
    found = statuses(result)
    assert found["leaf_moisture"] == found["dew_point_offset"] == "alike"
    assert found["windrow_mass"] == "unclear"
    assert result.told == ()
    assert result.tuning == Tuning()


def test_two_readings_tell_one_number_at_most(monkeypatch):
    """Both hang on mass and dew point alike: all four numbers stay."""
    slopes = slopes_of(2, windrow_mass=-0.5, dew_point_offset=0.6, leaf_moisture=0.4)
    straight(monkeypatch, slopes)
    result = fit(FARM, WEATHER, filled(blanks([34, 40], error=1.0), [14.0, 14.5]), at_field=True)
    assert (result.used, result.nights, result.told) == (2, 1, ())


def test_sky_view_and_rig_need_readings_of_their_own(monkeypatch):
    slopes = slopes_of(2, sky_view=3.0, rig_efficiency=3.0, dew_point_offset=2.0)
    straight(monkeypatch, slopes)
    readings = filled(blanks([34, 40]), [16.0, 16.0])
    plain = statuses(fit(FARM, WEATHER, readings, at_field=True))
    assert (plain["sky_view"], plain["rig_efficiency"]) == ("needs_skin", "needs_rig")
    slopes[0, :] = slopes_of(1, sky_view=3.0)
    slopes[1, :] = slopes_of(1, rig_efficiency=3.0)
    straight(monkeypatch, slopes)
    right = [replace(readings[0], kind="skin"), replace(readings[1], water_l_t=40.0)]
    told = statuses(fit(FARM, WEATHER, right, at_field=True))
    assert (told["sky_view"], told["rig_efficiency"]) == ("fitted", "fitted")


def test_numbers_stay_within_their_bounds(monkeypatch):
    """The bound of 6 K is 4 standard deviations, 20 %; all readings say 21 %."""
    straight(monkeypatch, slopes_of(3, dew_point_offset=2.0))
    readings = filled(blanks([34, 37, 40], error=0.1), [BASE_WB + 9.0] * 3)
    dew = by_name(fit(FARM, WEATHER, readings, at_field=True))["dew_point_offset"]
    assert dew.value == pytest.approx(6.0, abs=0.15)
    assert dew.low <= dew.value <= dew.high <= 6.0


def test_readings_that_scatter_widen_the_bars(monkeypatch):
    """Twelve readings 2 points off to both sides by turns, at an error of 0.5: four times."""
    straight(monkeypatch, slopes_of(12, dew_point_offset=2.0))
    steady = filled(blanks(range(34, 46)), [BASE_WB] * 12)
    wild = filled(blanks(range(34, 46)), BASE_WB + 2.0 * (-1.0) ** np.arange(12))
    plain, scattered = (fit(FARM, WEATHER, each, at_field=True) for each in (steady, wild))
    assert plain.scatter == 1.0
    assert scattered.scatter == pytest.approx(4.0 * np.sqrt(12 / 11), rel=0.03)
    ratio = by_name(scattered)["dew_point_offset"].share / by_name(plain)["dew_point_offset"].share
    assert ratio == pytest.approx(4, rel=0.2)


def test_the_same_readings_give_the_same_bytes(monkeypatch):
    straight(monkeypatch, slopes_of(3, dew_point_offset=[1.0, 2.0, 3.0], windrow_mass=1.0))
    readings = filled(blanks([34, 37, 40]), [13.0, 14.0, 15.0])
    first = repr(fit(FARM, WEATHER, readings, at_field=True))
    assert repr(fit(FARM, WEATHER, readings, at_field=True)) == first
    tuned = replace(FARM, tuning=Tuning(windrow_mass=2.0, dew_point_offset_k=-2.0))
    assert repr(fit(tuned, WEATHER, readings, at_field=True)) == first


def test_rig_readings_need_a_rig():
    with pytest.raises(InputError) as caught:
        fit(farm_of(CURED, None), WEATHER, blanks([34], water_l_t=40.0))
    assert caught.value.key == "tune_no_rig"


def test_only_what_was_over_by_then():
    reading = FieldReading(TURN, "north", "windrow", 10.0, 1.0)
    later = replace(reading, time=TURN + HOUR)
    assert noted_before([reading, later], TURN, "r.csv") == [reading]
    assert noted_before([reading, later], None, "r.csv") == [reading, later]
    with pytest.raises(InputError) as caught:
        noted_before([later], TURN, "r.csv")
    assert "none of the entries (1)" in str(caught.value)


def test_numbers_and_standard_deviations_of_the_priors():
    for knob in KNOBS:
        assert knob.value(0.0) == pytest.approx(knob.center)
        assert knob.z(knob.value(0.7)) == pytest.approx(0.7)
    far = tuning_at(np.full(len(NAMES), 50.0))
    assert (far.windrow_mass, far.dew_point_offset_k, far.sky_view) == (3.0, 6.0, 1.0)


def test_belief_of_a_straight_line_is_the_textbook_one():
    """One number, prior 0 +- 1, one reading 1.2 +- 0.5: 0.96 +- 0.447; mean of twelve seeds."""
    found = [
        believe(lambda z: ((z[:, 0] - 1.2) / 0.5) ** 2, np.array([0.96]), np.array([[0.2]]), seed)
        for seed in range(12)
    ]
    ends = np.mean([each.quantiles((0.025, 0.5, 0.975))[:, 0] for each in found], axis=0)
    np.testing.assert_allclose(ends, 0.96 + 1.96 * np.sqrt(0.2) * np.array([-1, 0, 1]), atol=0.04)
    assert np.mean([each.covariance()[0, 0] for each in found]) == pytest.approx(0.2, rel=0.05)
    effective = [1 / (each.weights**2).sum() for each in found]  # Kish's number of samples
    assert min(effective) > 150


def read_by(truth, empty):
    """Readings as a meter without error shows them when `truth` holds."""
    (nights,) = site_nights(FARM, WEATHER, empty)
    return filled(nights.readings, predict(FARM, nights, [truth])[0])


@pytest.mark.slow
def test_the_windrow_gives_back_mass_and_dew_point_and_later_readings_are_left_out(monkeypatch):
    """Few draws, to be quick; `late` lies beyond the weather."""
    monkeypatch.setattr(tune, "FIRST_DRAWS", 60)
    monkeypatch.setattr(tune, "LATER_DRAWS", 60)
    truth = Tuning(windrow_mass=1.5, dew_point_offset_k=1.0)
    empty = [*blanks((34, 40, 58, 64), error=0.3), *blanks((45, 37, 61), "leaf", error=0.3)]
    late = blanks([900])[0]
    result = fit(FARM, WEATHER, [*read_by(truth, empty), late], at_field=True)
    numbers = by_name(result)
    assert (result.used, result.left_out, result.nights) == (7, 1, 2)
    assert 1.2 < numbers["windrow_mass"].value < 1.7
    assert numbers["windrow_mass"].low <= 1.5 <= numbers["windrow_mass"].high
    assert numbers["dew_point_offset"].low <= 1.0 <= numbers["dew_point_offset"].high
    assert result.after < 0.4 < 1 < result.before


@pytest.mark.slow
def test_samples_by_layer_fit_layers_better_than_their_mean_does(monkeypatch):
    """One night at three depths of a windrow that mixes half as much as assumed."""
    monkeypatch.setattr(tune, "FIRST_DRAWS", 60)
    monkeypatch.setattr(tune, "LATER_DRAWS", 60)
    samples = [
        FieldReading(TURN + hour * HOUR, "north", "windrow", 0.0, 0.5, layer=layer)
        for hour in range(30, 44)
        for layer in LAYERS
    ]
    (nights,) = site_nights(FARM, WEATHER, samples)
    usual = predicting.settings_for

    def mixed_less(*asked):
        return [
            replace(one, windrow=replace(one.windrow, wind_mixing=1.0, free_mixing=10.0))
            for one in usual(*asked)
        ]

    with monkeypatch.context() as here:
        here.setattr(predicting, "settings_for", mixed_less)
        truth = predict(FARM, nights, [Tuning()])[0]
    by_layer = filled(samples, truth)
    means = truth.reshape(-1, len(LAYERS)) @ [0.15, 0.35, 0.5]
    by_mean = filled([replace(each, layer=None) for each in samples[:: len(LAYERS)]], means)
    found, off = {}, {}
    for name, readings in (("layer", by_layer), ("mean", by_mean)):
        found[name] = fit(FARM, WEATHER, readings, at_field=True)
        tuned = predict(FARM, nights, [found[name].tuning])[0]
        off[name] = np.sqrt(((tuned - truth) ** 2).mean())
    assert off["layer"] < 0.7 * off["mean"]
    assert found["layer"].layered == len(samples)


def test_weather_that_reaches_no_reading_is_refused():
    with pytest.raises(InputError) as caught:
        fit(FARM, WEATHER, blanks([900]))
    assert caught.value.key == "tune_no_weather"


def test_errors_of_a_forecast_are_added_to_those_of_the_meter():
    """Two readings of one night share the weather's error; another night has its own."""
    nights = tune.problem_of(FARM, WEATHER, blanks([37, 40, 64]), at_field=False)
    errors = np.linalg.inv(nights.root)
    covariance = errors @ errors.T
    assert (np.diag(covariance) > 0.5**2 + 0.3).all()
    assert covariance[0, 1] > 0.3 * np.sqrt(covariance[0, 0] * covariance[1, 1])
    assert covariance[0, 2] == pytest.approx(0.0, abs=1e-9)
