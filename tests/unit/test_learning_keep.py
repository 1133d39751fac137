"""Outlooks kept for scoring: named, written whole, read back as they were shown."""

import json
import os
from dataclasses import replace

import numpy as np
import pytest
from support.kept import keep_outlook
from support.outlooks import outlook_of

from hayweather.baling.calls import Call
from hayweather.errors import InputError, OutputError
from hayweather.learning.keep import (
    LAYER_KINDS,
    SCORED_AS,
    each_once,
    file_name,
    load_kept,
    logged_outlooks,
)
from hayweather.log import keep_issued, open_log
from hayweather.log.records import LAYERS
from hayweather.show.outlook_data import outlook_form
from hayweather.weather.record import HOUR

MADE = np.datetime64("2025-07-09T00:00", "s")  # 17:00 of 8 July in the high desert


@pytest.fixture(scope="module")
def form():
    return outlook_form(outlook_of("sagebeck"), "us")


def test_one_file_a_field_named_by_field_and_utc_time(form, tmp_path):
    written = keep_outlook(form, tmp_path / "new" / "outlooks")
    names = ["bench", "creek", "saddle"]
    assert [path.name for path in written] == [f"{name}_20250709T0000Z.json" for name in names]
    assert sorted(path.name for path in written[0].parent.iterdir()) == sorted(
        path.name for path in written
    )
    for path, name in zip(written, names, strict=True):
        saved = json.loads(path.read_text(encoding="utf-8"))
        assert (saved["schema"], saved["now"]) == (form["schema"], form["now"])
        assert [field["field"] for field in saved["fields"]] == [name]


def test_what_is_kept_reads_back_as_it_was_shown(form, tmp_path):
    keep_outlook(form, tmp_path)
    kept, other = load_kept(tmp_path)
    assert other == []
    made = outlook_of("sagebeck")
    assert [item.field for item in kept] == [item.setting.field.name for item in made.fields]
    for item, shown in zip(kept, made.fields, strict=True):
        assert (item.made, item.timezone) == (MADE, "America/Los_Angeles")
        assert item.starts.tolist() == [hour.start.tolist() for hour in shown.hours]
        assert item.calls.tolist() == [
            Call.NO_DATA if hour.stop else SCORED_AS.get(hour.call, hour.call)
            for hour in shown.hours
        ]
        moistures = [hour.hay.windrow_wb for hour in shown.hours]
        np.testing.assert_allclose(item.windrow_wb, moistures, atol=6e-5)
        for layer in LAYERS:
            for kind, word in LAYER_KINDS.items():
                parts = [getattr(getattr(hour.hay, layer), f"{word}_wb") for hour in shown.hours]
                said = item.layers_wb[kind][LAYERS.index(layer)]
                np.testing.assert_allclose(said, parts, atol=6e-5)
        np.testing.assert_allclose(item.chances.sum(axis=0), 1.0, atol=1e-9)
        assert [(each.call, each.start, each.end) for each in item.windows] == [
            (window.call, window.start, window.end) for window in shown.windows
        ]
        assert [each.start_range for each in item.windows] == [
            window.start_range for window in shown.windows
        ]


def test_moisture_between_hours_is_a_line_between_their_middles(form, tmp_path):
    keep_outlook(form, tmp_path)
    bench = load_kept(tmp_path)[0][0]
    first, second = bench.windrow_wb[:2]
    assert bench.moisture_at(MADE + HOUR // 2) == pytest.approx(first)
    assert bench.moisture_at(MADE + HOUR) == pytest.approx((first + second) / 2)
    assert bench.moisture_at(MADE) == pytest.approx(first)
    assert np.isnan(bench.moisture_at(MADE - HOUR))
    assert np.isnan(bench.moisture_at(bench.starts[-1] + 2 * HOUR))


def test_an_older_outlook_holds_no_layers(form, tmp_path):
    older = {**form, "schema": "hayweather/outlook/1"}
    older["fields"] = [
        {**f, "hours": [{k: v for k, v in h.items() if k != "layers"} for h in f["hours"]]}
        for f in form["fields"]
    ]
    keep_outlook(older, tmp_path)
    bench = load_kept(tmp_path)[0][0]
    assert bench.layers_wb is None
    assert np.isnan(bench.moisture_at(MADE + HOUR, "top"))
    assert np.isfinite(bench.moisture_at(MADE + HOUR))


def test_from_the_log_as_from_the_folder_and_both_count_once(form, tmp_path):
    made = outlook_of("sagebeck")
    farm = replace(made.farm, log=tmp_path / "hayweather.sqlite")
    exact = outlook_form(made, "us", exact=True)
    with open_log(farm) as log:
        keep_issued(log, exact)
        logged = logged_outlooks(log)
    keep_outlook(exact, tmp_path / "outlooks")
    kept, _ = load_kept(tmp_path / "outlooks")
    assert [repr(item) for item in logged] == [repr(item) for item in kept]
    for one, other in zip(logged, kept, strict=True):
        np.testing.assert_array_equal(one.windrow_wb, other.windrow_wb)
    both = each_once([*kept, *logged])
    assert [(item.made, item.field) for item in both] == [(item.made, item.field) for item in kept]


def test_the_same_minute_again_replaces_the_file(form, tmp_path):
    for _ in range(2):
        keep_outlook(form, tmp_path)
    assert len(list(tmp_path.iterdir())) == 3


@pytest.mark.parametrize(
    ("field", "name"),
    [("../up", "%2E%2E%2Fup"), ("a:b", "a%3Ab"), ("vega 2", "vega 2"), ("campo ñ", "campo ñ")],
)
def test_a_fields_name_cannot_leave_the_folder(field, name):
    assert file_name(field) == name


def test_a_write_that_fails_leaves_the_old_file_and_nothing_else(form, tmp_path, monkeypatch):
    (old, *_) = keep_outlook(form, tmp_path)
    before = old.read_bytes()
    monkeypatch.setattr(os, "replace", _full)
    with pytest.raises(OutputError) as caught:
        keep_outlook({**form, "farm": "another"}, tmp_path)
    assert caught.value.key == "out_failed"
    assert "No space left" in str(caught.value)
    assert old.read_bytes() == before
    assert len(list(tmp_path.iterdir())) == 3


def _full(*_):
    raise OSError(28, "No space left on device")


def test_a_folder_that_is_a_file_is_refused(form, tmp_path):
    place = tmp_path / "outlooks"
    place.write_text("taken")
    with pytest.raises(OutputError):
        keep_outlook(form, place)


def test_files_that_are_no_outlooks_are_named_and_left(form, tmp_path):
    keep_outlook(form, tmp_path)
    bad = {"schema": "hayweather/outlook/2"}
    for name, text in {"a.json": "{", "b.json": json.dumps(bad), "c.json": "[]"}.items():
        (tmp_path / name).write_text(text)
    (tmp_path / "readme.txt").write_text("no json")
    kept, other = load_kept(tmp_path)
    assert (len(kept), other) == (3, ["a.json", "b.json", "c.json"])


def test_a_time_without_offset_is_no_outlook(form, tmp_path):
    (path, *_) = keep_outlook({**form, "fields": form["fields"][:1]}, tmp_path)
    path.write_text(path.read_text().replace(form["now"], "2025-07-08T17:00:00"))
    with pytest.raises(InputError) as caught:
        load_kept(tmp_path)
    assert caught.value.key == "keep_nothing"


def test_no_folder_and_no_outlook_are_refused(tmp_path):
    for folder, key in ((tmp_path / "none", "keep_no_folder"), (tmp_path, "keep_nothing")):
        with pytest.raises(InputError) as caught:
            load_kept(folder)
        assert caught.value.key == key
        assert "\n" not in caught.value.line("es")
