"""Hours in the band, too wet, first and last, by month: the mean of the whole windrow.

Nights as lanes, 18:00 to 12:00 local, hour boundaries; weather as `support.seasons`
reads it. In band is 12-16 % wet basis whatever the stems; too wet is above the band
or with free water.
"""

from __future__ import annotations

import numpy as np
from support.seasons import NIGHT, SITES, default_run, find_file, known_nights, read_season

BAND_WB = (12.0, 16.0)
MONTHS = {5: "May", 6: "June", 7: "July", 8: "August", 9: "September"}
FIRST_HOUR = 18
HEADINGS = (
    "place and year",
    "month",
    "hours in band",
    "nights with none",
    "hours too wet",
    "first hour",
    "last hour",
)


def night_moisture(name: str) -> np.ndarray:
    """Whole windrow [% wb] at the hour boundaries of each night, (19, lanes)."""
    return default_run(name).windrow_wb[::4][NIGHT]


def in_band(name: str) -> np.ndarray:
    """True at the hour boundaries in the band, (19, lanes)."""
    moisture = night_moisture(name)
    return (moisture >= BAND_WB[0]) & (moisture <= BAND_WB[1])


def too_wet(name: str) -> np.ndarray:
    """True at the hour boundaries above the band or with free water, (19, lanes)."""
    free = default_run(name).free_water_mm[::4][NIGHT] > 0
    return (night_moisture(name) > BAND_WB[1]) | free


def clock(hours: np.ndarray) -> str:
    """Median of hours from 18:00 as ``"01:30"``; ``"-"`` where there is none."""
    if not hours.size:
        return "-"
    minutes = round(60 * (FIRST_HOUR + float(np.median(hours))))
    return f"{minutes // 60 % 24:02d}:{minutes % 60:02d}"


def month_row(name: str, month: int) -> tuple[str, ...]:
    """One line of the table."""
    chosen = (read_season(name).month() == month) & known_nights(name)
    band, wet = in_band(name)[:, chosen], too_wet(name)[:, chosen]
    some = band.any(axis=0)
    first = band.argmax(axis=0)[some]
    last = (band.shape[0] - 1 - band[::-1].argmax(axis=0))[some]
    return (
        name,
        MONTHS[month],
        f"{band.sum(axis=0).mean():.1f}",
        f"{100 * (1 - some.mean()):.0f} %",
        f"{wet.sum(axis=0).mean():.1f}",
        clock(first),
        clock(last),
    )


def hours_table() -> str:
    """Every site whose weather is at hand, in Markdown."""
    rows = [
        month_row(name, month)
        for name, site in SITES.items()
        if find_file(site) is not None
        for month in MONTHS
    ]
    lines = [HEADINGS, ("---", "---", *["---:"] * 5), *rows]
    return "\n".join(f"| {' | '.join(cells)} |" for cells in lines) + "\n"
