"""Remarks into sentences; remarks of several hours into one."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from hayweather.report.voice import Voice
from hayweather.weather.record import Assumption
from hayweather.words import Remark

MOST_EXTRA_DECIMALS = 3


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
        return voice.between(*value)
    if isinstance(value, tuple):
        number, quantity = value
        return voice.amount(float(number), str(quantity), extra=extra)
    return str(value)


def _extra_decimals(remark: Remark, voice: Voice) -> int:
    """Decimals beyond the usual that tell different numbers of one remark apart."""
    pairs = [v for v in remark.values.values() if isinstance(v, tuple) and len(v) == 2]
    numbers = {(round(float(number), 9), str(quantity)) for number, quantity in pairs}
    for extra in range(MOST_EXTRA_DECIMALS):
        texts = (voice.amount(number, quantity, extra=extra) for number, quantity in numbers)
        if len({(float(text.split()[0]), text.split()[-1]) for text in texts}) == len(numbers):
            return extra
    return MOST_EXTRA_DECIMALS if len(numbers) > 1 else 0


def phrases(remarks: Sequence[Remark], voice: Voice) -> list[str]:
    """Several remarks, each text once."""
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
