"""Fits of a windrow as tuning would give them, without any readings."""

from hayweather.learning.tune import KNOBS, Fit, Fitted


def fit_of(**values: float) -> Fit:
    """A fit of the numbers given, each with a bar from 0 to 2; the others kept."""
    fitted = tuple(
        Fitted(
            knob,
            values.get(knob.name, knob.center),
            0.0,
            2.0,
            0.5,
            "fitted" if knob.name in values else "unclear",
        )
        for knob in KNOBS
    )
    return Fit(fitted, 12, 0, 6, 1.5, 0.9, 1.0, 0)
