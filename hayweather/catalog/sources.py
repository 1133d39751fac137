"""Where a number comes from, said beside the number."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Status = Literal["published", "memory", "fitted", "common", "assumed"]


@dataclass(frozen=True)
class Source:
    """Standing of a number and who says it.

    Attributes
    ----------
    status
        "published": read in the source. "memory": published, the value from
        memory. "fitted": fitted here to what is named. "common": common
        practice in the trade, no source. "assumed": nobody's but ours.
    name
        Author, year, table; for an assumption what it leans on, if anything.
    """

    status: Status
    name: str = ""


ASSUMED = Source("assumed")


@dataclass(frozen=True)
class Figure:
    """A number that holds where the farm file gives none.

    Attributes
    ----------
    value
        In the inside unit of its attribute.
    source
        Where it comes from.
    us, metric
        The round figure that the starter file shows, as TOML text. Without
        `metric` both are alike, without `us` the starter shows `value`.
    """

    value: float
    source: Source = ASSUMED
    us: str = ""
    metric: str = ""
