"""Tuning to synthetic readings, many times over: fits in, Markdown out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from twin.tables import HEADING, markdown
from twin.tuned import blank_readings, fit_all, true_values, values_off_weather, with_noise

from hayweather.farm.records import Tuning
from hayweather.learning.past import FieldReading
from hayweather.learning.tune import KNOBS, NAMES, Fit, tuning_at

DRAW_SEED, NOISE_SEED, WEATHER_SEED = 3, 100, 600_000
# One standard deviation off the middle of each prior: 35 % heavier, 1.5 K damper, drier leaf.
KNOWN = np.array([1.0, 1.0, -1.0, 1.0, 0.5, 0.0])


@dataclass(frozen=True)
class Recovery:
    """What became of one number over many seeds.

    Attributes
    ----------
    name
        Of the number.
    fitted, held
        Seeds in which it was fitted; in which its bar held the truth.
    bar, widest
        Mean and largest width of its bar beside the prior's [-].
    kept
        How often it was kept, by reason.
    """

    name: str
    fitted: int
    held: int
    bar: float
    widest: float
    kept: dict[str, int]


def drawn_truths(seeds: int) -> list[Tuning]:
    """A truth for each seed, drawn from the priors."""
    random = np.random.default_rng(DRAW_SEED)
    return [tuning_at(z) for z in random.standard_normal((seeds, len(KNOBS)))]


def recover(truths: list[Tuning], *, readings: int | None = None) -> list[Recovery]:
    """Fit every truth to its own noisy readings: 12, or the first so many."""
    blanks = blank_readings()[:readings]
    return _recovered(truths, blanks, true_values(truths, blanks), at_field=True)


def recover_off_weather(truths: list[Tuning]) -> list[Recovery]:
    """The same where the weather of each night is off as assumed, and the fit knows that it is."""
    blanks = blank_readings()
    values = values_off_weather(truths, blanks, WEATHER_SEED)
    return _recovered(truths, blanks, values, at_field=False)


def _recovered(
    truths: list[Tuning], blanks: list[FieldReading], values: np.ndarray, *, at_field: bool
) -> list[Recovery]:
    """Fits to the values with noise."""
    sets = [with_noise(blanks, row, NOISE_SEED + seed) for seed, row in enumerate(values)]
    fits = fit_all(sets, at_field=at_field)
    return [_recovery(name, row, fits, truths) for row, name in enumerate(NAMES)]


def _recovery(name: str, row: int, fits: list[Fit], truths: list[Tuning]) -> Recovery:
    """One number."""
    found = [(fit.fitted[row], truth) for fit, truth in zip(fits, truths, strict=True)]
    told = [(item, truth) for item, truth in found if item.status == "fitted"]
    held = sum(item.low <= getattr(truth, item.knob.attribute) <= item.high for item, truth in told)
    bars = [item.share for item, _ in told]
    reasons = [item.status for item, _ in found if item.status != "fitted"]
    kept = {reason: reasons.count(reason) for reason in sorted(set(reasons))}
    mean, widest = (float(np.mean(bars)), max(bars)) if bars else (1.0, 1.0)
    return Recovery(name, len(told), held, mean, widest, kept)


def recovery_table(found: list[Recovery]) -> str:
    """One row a number."""
    head = ["number", "fitted", "truth in the 95 % bar", "bar, of the prior's", "widest", "kept"]
    rows = [
        [
            each.name,
            str(each.fitted),
            f"{each.held} of {each.fitted}" if each.fitted else "-",
            f"{each.bar:.2f}" if each.fitted else "-",
            f"{each.widest:.2f}" if each.fitted else "-",
            ", ".join(f"{reason} {count}" for reason, count in each.kept.items()) or "-",
        ]
        for each in found
    ]
    return markdown(head, rows)


def tuning_report(seeds: int, command: str) -> str:
    """All tables on tuning."""
    truths = drawn_truths(seeds)
    known = [tuning_at(KNOWN)] * seeds
    parts = [
        f"### Tuning: {HEADING[0].lower()}{HEADING[1:]}",
        f"12 synthetic readings (six nights with dew: windrow at 06:00, leaf at 12:00; meter "
        f"error 1 point), {seeds} seeds. Made by `{command}`.",
        "Truth drawn from the priors, a new one for each seed:",
        recovery_table(recover(truths)),
        "One truth, one standard deviation off the middle of every prior:",
        recovery_table(recover(known)),
        "Truth drawn from the priors, and the weather of every night off as assumed:",
        recovery_table(recover_off_weather(truths)),
        "Two readings of one night:",
        recovery_table(recover(truths, readings=2)),
    ]
    return "\n\n".join(parts) + "\n"
