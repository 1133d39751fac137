"""The cautions that always show.

Stack temperatures and what each asks for: extension services of Pennsylvania
State and Purdue universities, published. Wording made here.
"""

from __future__ import annotations

from hayweather.show.voice import Voice

# Text and temperature [F] of each step.
STACK_STEPS_F = (
    ("safety_stack_watch", 125),
    ("safety_stack_twice", 150),
    ("safety_stack_hours", 160),
    ("safety_stack_call", 175),
    ("safety_stack_fire", 190),
)
BEFORE_STACKS = (
    "safety_planning",
    "safety_authority",
    "safety_fire",
    "safety_steam",
    "safety_exhaust",
    "safety_power",
    "safety_lightning",
    "safety_road",
    "safety_tired",
    "safety_stack",
)
SHORT = ("safety_short_hay", "safety_short_danger", "safety_short_all")


def safety_texts(voice: Voice) -> list[str]:
    """All of them, in full."""
    stacks = [voice.say(key, limit=both_scales(limit)) for key, limit in STACK_STEPS_F]
    return [*(voice.say(key) for key in BEFORE_STACKS), *stacks, voice.say("safety_driving")]


def short_safety_texts(voice: Voice) -> list[str]:
    """The short form that stands below every outlook."""
    watch = both_scales(STACK_STEPS_F[0][1])
    return [voice.say(key, watch=watch) for key in SHORT]


def shown_safety(voice: Voice, all_cautions: bool) -> list[str]:
    """The cautions in full where they were asked for, else the short form."""
    return safety_texts(voice) if all_cautions else short_safety_texts(voice)


def both_scales(fahrenheit: int) -> str:
    """A stack temperature in both scales.

    Examples
    --------
    >>> both_scales(175)
    '175 °F (79 °C)'
    """
    return f"{fahrenheit} °F ({round((fahrenheit - 32) / 1.8)} °C)"
