"""Readings given with the outlook: the night follows them, and bad ones are one line."""

import json

import pytest
from cli.commands import SAGEBECK, done, refused

NIGHT = (
    "outlook", SAGEBECK, "--field", "bench", "--format", "json", "--now", "2025-07-08T23:30",
)  # fmt: skip


def dawn(capsys, *readings: str) -> float:
    """Windrow moisture at 5 am [% wb] after some readings."""
    given = [part for reading in readings for part in ("--reading", reading)]
    (field,) = json.loads(done(capsys, *NIGHT, *given))["fields"]
    hour = next(each for each in field["hours"] if each["start"].startswith("2025-07-09T05"))
    moisture: float = hour["windrow_moisture_wb"]
    return moisture


def test_the_night_follows_its_readings(capsys, monkeypatch):
    monkeypatch.setattr("hayweather.nights.drive.MOST_MEMBERS", 200)
    plain = dawn(capsys)
    assert dawn(capsys, "23:00=12.5") > plain + 1 > dawn(capsys, "23:00=8.5") + 2
    assert dawn(capsys, "22:00=10.5", "2025-07-08T23:00=12.0") > plain


@pytest.mark.parametrize(
    ("reading", "word"),
    [
        ("noon=10", "noon=10"),
        ("23:00", "23:00"),
        ("23:00=250", "250"),
        ("23:00=wet", "wet"),
        ("23:00=10,root", "root"),
        ("2025-06-01T23:00=10", "night"),
        ("nowhere@23:00=10", "nowhere"),
        ("creek@23:00=10", "creek"),
        ("23:45=10", "after now"),
    ],
)
def test_a_bad_reading_is_one_line(capsys, reading, word):
    assert word in refused(capsys, *NIGHT, "--reading", reading)


def test_a_farm_of_several_fields_wants_the_field(capsys):
    assert "bench@" in refused(capsys, "outlook", SAGEBECK, "--reading", "23:00=10")
