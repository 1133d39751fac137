"""Invented notes of the Sagebeck sample: moisture readings and a log of three nights.

All made up: written by hand near what such nights are like, with a small seeded
unevenness. They tell of the nights around the sample's own, as if these had passed.
"""

from __future__ import annotations

import random
from datetime import date, timedelta

EVENING = date(2025, 7, 8)  # of the middle night
SEED = 80
UNEVEN_WB = 0.2
FIELD = "bench"
MARK = "# INVENTED SAMPLE: made up for this example, measured on no field."

# Night before, of, and after the sample's evening: clock, kind, moisture [% wb], note.
READINGS = (
    (-1, "22:30", "windrow", 8.9, ""),
    (-1, "02:30", "windrow", 11.9, ""),
    (-1, "05:15", "windrow", 14.4, "dawn"),
    (-1, "12:00", "leaf", 9.4, "noon"),
    (0, "22:00", "windrow", 8.6, ""),
    (0, "02:00", "windrow", 11.9, ""),
    (0, "05:15", "windrow", 15.3, "dawn"),
    (0, "09:30", "bale", 12.5, "second window"),
    (0, "12:15", "leaf", 9.4, "noon"),
    (1, "23:00", "windrow", 8.9, ""),
    (1, "03:00", "windrow", 11.7, ""),
    (1, "05:00", "windrow", 13.2, "dawn"),
    (1, "12:00", "leaf", 8.6, "noon"),
)
# First and last clock, event, moisture [% wb] or none, note.
LOG = (
    (-1, "20:00", "02:45", "too_dry", 9.0, ""),
    (-1, "02:45", "04:15", "baled", 12.9, "first window"),
    (-1, "04:15", "07:30", "too_wet", None, "waited"),
    (-1, "07:30", "09:00", "baled", 12.8, "second window"),
    (0, "20:00", "02:00", "too_dry", 9.1, ""),
    (0, "02:00", "03:30", "baled", 12.6, "first window"),
    (0, "03:30", "08:00", "too_wet", 15.2, "waited"),
    (0, "08:00", "10:00", "baled", 12.7, "second window"),
    (1, "21:00", "03:15", "rig", 12.9, "10 gal per ton"),
    (1, "03:15", "05:15", "baled", 12.6, ""),
)


def readings_csv() -> str:
    """READINGS.csv of the bench."""
    uneven = random.Random(SEED)
    rows = [
        f"{moment(night, clock)},{FIELD},{wet + uneven.uniform(-UNEVEN_WB, UNEVEN_WB):.1f},"
        f"{kind},,{note}"
        for night, clock, kind, wet, note in READINGS
    ]
    return "\n".join([MARK, "time,field,moisture_wb,kind,meter_error,note", *rows, ""])


def log_csv() -> str:
    """LOG.csv of the bench."""
    rows = [
        f"{moment(night, first)},{moment(night, last)},{FIELD},{event},"
        f"{'' if wet is None else wet},{note}"
        for night, first, last, event, wet, note in LOG
    ]
    return "\n".join([MARK, "start,end,field,event,moisture_wb,note", *rows, ""])


def moment(night: int, clock: str) -> str:
    """Local time in a night: after 14:00 of its evening, else of the morning after."""
    day = EVENING + timedelta(days=night + (clock < "14:00"))
    return f"{day}T{clock}"
