"""The check rule and when to get up for it."""

from __future__ import annotations

import numpy as np

from hayweather.baling.headline import Check
from hayweather.nights import FieldNight
from hayweather.show.voice import Voice


def check_sentence(field: FieldNight, voice: Voice) -> list[str]:
    """What a reading should show tonight, and what follows if it does not."""
    check = field.headline.check
    if check is None:
        return []
    first = field.headline.dew[0].start if field.headline.dew else None
    low, high = shown_range(check)
    expected = f"{low} %" if low == high else f"{voice.say('range', low=low, high=high)} %"
    if first is None and check.dew_if_drier is None and check.dew_if_damper is None:
        time = voice.when(check.time)
        return [voice.say("outlook_check_never", time=time, expected=expected)]
    return [
        voice.say(
            "outlook_check",
            time=voice.when(check.time),
            expected=expected,
            drier=_drier(check, f"{low} %", first, voice),
            damper=_damper(check, f"{high} %", first, voice),
        )
    ]


def shown_range(check: Check) -> tuple[int, int]:
    """Expected moistures in whole percent, the measured one certainly inside."""
    low = min(round(check.low_wb), round(check.expected_wb))
    return low, max(round(check.high_wb), round(check.expected_wb))


def _drier(check: Check, low: str, first: np.datetime64 | None, voice: Voice) -> str:
    """What a lower reading means."""
    comes = check.dew_if_drier
    if comes is None:
        return voice.say("check_drier_none", low=low)
    if first is not None and comes <= first:
        return voice.say("check_drier_same", low=low)
    return voice.say("check_drier_later", low=low, time=voice.when(comes))


def _damper(check: Check, high: str, first: np.datetime64 | None, voice: Voice) -> str:
    """What a higher reading means."""
    comes = check.dew_if_damper
    if comes is None:
        return voice.say("check_damper_none", high=high)
    if first is None:
        return voice.say("check_damper_comes", high=high, time=voice.when(comes))
    if comes >= first:
        return voice.say("check_damper_wet", high=high)
    return voice.say("check_damper_earlier", high=high, time=voice.when(comes))


def look_sentence(field: FieldNight, voice: Voice) -> list[str]:
    """When to go out and look, or that one may sleep."""
    look_at = field.headline.look_at
    if look_at is None:
        return [voice.say("outlook_rig_only" if field.headline.rig else "outlook_sleep")]
    if look_at <= field.span.first:
        return [voice.say("outlook_look_now")]
    return [voice.say("outlook_look", time=voice.when(look_at))]
