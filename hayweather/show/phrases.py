"""Remarks into sentences; remarks of several hours into one."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations, product

import numpy as np

from hayweather.show.voice import Voice
from hayweather.weather.record import Assumption
from hayweather.words import Remark

MOST_EXTRA_DECIMALS = 3
SAME = 1e-9


def phrase(remark: Remark, voice: Voice) -> str:
    """A remark as a text in the reader's language, units and clock.

    A value and the limit beside it get as many decimals as it takes to tell
    them apart. A value of three parts, ``(low, high, quantity)``, is a range.
    """
    key = f"assumed_{remark.key}" if isinstance(remark, Assumption) else remark.key
    extra = _extra_decimals(remark, voice)
    values = {name: _shown(value, voice, extra) for name, value in remark.values.items()}
    return voice.say(key, **values)


def _shown(value: object, voice: Voice, extra: int) -> str:
    """One value of a remark as text."""
    if isinstance(value, Remark):
        return phrase(value, voice)
    if isinstance(value, np.datetime64):
        return voice.when(value)
    if isinstance(value, tuple) and len(value) == 3:
        low, high, quantity = value
        return voice.between(float(low), float(high), str(quantity), extra=extra)
    if isinstance(value, tuple):
        number, quantity = value
        return voice.amount(float(number), str(quantity), extra=extra)
    return str(value)


def _extra_decimals(remark: Remark, voice: Voice) -> int:
    """Decimals beyond the usual that tell the numbers of a remark from one another."""
    parts = [value for value in remark.values.values() if isinstance(value, tuple)]
    ends = [(float(end), str(part[2])) for part in parts if len(part) == 3 for end in part[:2]]
    alone = [(float(part[0]), str(part[1])) for part in parts if len(part) == 2]
    pairs = [*product(alone, ends), *combinations(alone, 2)]
    different = [(a, b) for a, b in pairs if abs(a[0] - b[0]) > SAME and a[1] == b[1]]
    for extra in range(MOST_EXTRA_DECIMALS):
        if all(
            voice.number(*a, extra=extra) != voice.number(*b, extra=extra) for a, b in different
        ):
            return extra
    return MOST_EXTRA_DECIMALS


def phrases(remarks: Sequence[Remark], voice: Voice) -> list[str]:
    """Several remarks, each text once.

    Parameters
    ----------
    remarks
        In order.
    voice
        Language and units of the reader.
    """
    return list(dict.fromkeys(phrase(remark, voice) for remark in remarks))


def merge(remarks: Sequence[Remark]) -> list[Remark]:
    """Remarks of several hours: one a key, its numbers as ranges, its first time kept."""
    by_key: dict[tuple[type, str, tuple[str, ...]], list[Remark]] = {}
    for remark in remarks:
        inner = tuple(v.key for v in remark.values.values() if isinstance(v, Remark))
        by_key.setdefault((type(remark), remark.key, inner), []).append(remark)
    return [
        kind(key, {name: _merged([r.values[name] for r in group]) for name in group[0].values})
        for (kind, key, _), group in by_key.items()
    ]


def _merged(values: Sequence[object]) -> object:
    """One value for those of several hours."""
    first = values[0]
    pairs = [value for value in values if isinstance(value, tuple) and len(value) == 2]
    if len(pairs) == len(values):
        numbers = [float(number) for number, _ in pairs]
        low, high = min(numbers), max(numbers)
        return first if low == high else (low, high, pairs[0][1])
    counts = [int(value) for value in values if isinstance(value, str) and value.isdigit()]
    if len(counts) == len(values):
        return first if min(counts) == max(counts) else f"{min(counts)}-{max(counts)}"
    return first
