"""Every night of seasons as a row: a frame, CSV, and Parquet with units in its metadata."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

import numpy as np

from hayweather.errors import OptionError
from hayweather.farm.records import UnitSystem
from hayweather.seasons.record.nights import Missing, Nights
from hayweather.seasons.record.results import Seasons
from hayweather.show.seasons_data import before_rows
from hayweather.show.seasons_words import CAUSES, season_voice
from hayweather.show.table import csv_text
from hayweather.show.voice import short_safety_texts
from hayweather.units import symbol_of, to_shown

if TYPE_CHECKING:
    import pandas as pd

_HOURS = {
    "dew_hours": "dew_h",
    "rig_hours": "rig_h",
    "wet_hours": "wet_h",
    "too_dry_hours": "dry_h",
    "stopped_hours": "stop_h",
    "first_on_dew_after_14": "first_h",
    "last_on_dew_after_14": "last_h",
}
_AMOUNTS = {
    "rain_before": ("rain_before_mm", "rain"),
    "water_rate": ("water_l_t", "water_rate"),
    "hay_with_rig": ("rig_kg", "tons"),
    "water": ("water_l", "volume"),
}
PARQUET = (".parquet", ".pq")


def nights_frame(seasons: Seasons, units: UnitSystem = "metric") -> pd.DataFrame:
    """A row a site and evening; `attrs["units"]` has the unit of each column.

    A night that cannot be told has `known` false, its causes in `missing`, and
    no figures. Figures of a night after rain stand, with `after_rain` true.

    Parameters
    ----------
    units
        Of rain, water and hay.
    """
    import pandas as pd

    parts = [_frame(site.site.name, site.nights, units) for site in seasons.sites]
    found = pd.concat(parts, ignore_index=True) if parts else pd.DataFrame()
    hours = dict.fromkeys(_HOURS, "h")
    amounts = {name: symbol_of(quantity, units) for name, (_, quantity) in _AMOUNTS.items()}
    found.attrs["units"] = hours | amounts
    return found


def _frame(site: str, nights: Nights, units: UnitSystem) -> pd.DataFrame:
    """The nights of one site."""
    import pandas as pd

    known = nights.known
    causes = {
        int(code): " ".join((c.name or "").lower() for c in CAUSES if code & c)
        for code in np.unique(nights.missing)
    }
    columns: dict[str, Any] = {
        "site": np.full(nights.count, site, dtype=object),
        "evening": nights.evening.astype("datetime64[s]"),
        "year": nights.year,
        "month": nights.month,
        "known": known,
        "missing": [causes[int(code)] for code in nights.missing],
        "after_rain": nights.rain_night,
        "spun_up": nights.spun_up,
    }
    for name, attribute in _HOURS.items():
        columns[name] = np.where(known, getattr(nights, attribute), np.nan)
    for name, (attribute, quantity) in _AMOUNTS.items():
        values = to_shown(getattr(nights, attribute), quantity, units)
        there = known
        if name == "rain_before":
            there = nights.rain_known & ((nights.missing & Missing.RAIN_BEFORE) == 0)
        columns[name] = np.where(there, values, np.nan)
    return pd.DataFrame(columns)


def nights_csv(seasons: Seasons, units: UnitSystem | None = None, *, raw: bool = False) -> str:
    """Nights as CSV, the unit in the name of each column; notes before begin with ``#``."""
    voice = season_voice(seasons, units)
    frame = nights_frame(seasons, voice.units)
    named = {name: f"{name} [{unit}]" for name, unit in frame.attrs["units"].items()}
    frame = frame.assign(evening=frame["evening"].dt.strftime("%Y-%m-%d")).round(4)
    rows = frame.astype(object).where(frame.notna(), "")
    for name in ("known", "after_rain", "spun_up"):
        rows[name] = np.where(frame[name], "true", "false")
    return csv_text(
        [named.get(name, name) for name in frame.columns],
        rows.to_numpy().tolist(),
        (*before_rows(seasons, voice), *short_safety_texts(voice)),
        raw=raw,
    )


def nights_parquet(seasons: Seasons, units: UnitSystem | None = None) -> bytes:
    """Nights as the bytes of a Parquet file; each field's metadata has its unit.

    Raises
    ------
    OptionError
        If pyarrow (extra ``grid``) is not installed.
    """
    try:
        import pyarrow
        from pyarrow import parquet
    except ImportError:
        raise OptionError("nights_needs", "--nights") from None
    voice = season_voice(seasons, units)
    frame = nights_frame(seasons, voice.units)
    measured = frame.attrs.pop("units")
    table = pyarrow.Table.from_pandas(frame, preserve_index=False)
    fields = [
        field.with_metadata({"unit": measured[field.name]}) if field.name in measured else field
        for field in table.schema
    ]
    said = {
        "generator": "hayweather",
        "schema": "hayweather/nights/1",
        "title": seasons.file.name,
        "invented": "true" if seasons.file.invented else "false",
        "notes": "\n".join(before_rows(seasons, voice)),
        "cautions": "\n".join(short_safety_texts(voice)),
    }
    table = table.cast(pyarrow.schema(fields)).replace_schema_metadata(said)
    stream = io.BytesIO()
    parquet.write_table(table, stream, compression="zstd")
    return stream.getvalue()
