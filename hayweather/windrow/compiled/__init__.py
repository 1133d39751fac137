"""The windrow loop compiled with numba: the same step, lane by lane in machine code.

The formulas are those of the NumPy step, compiled from the same source
(`hayweather.windrow.compiled.shared`); only how a step is put together is
written a second time. Loaded only when asked for; needs the extra ``fast``.
"""

from importlib.util import find_spec


def has_compiled_loop() -> bool:
    """True where the extra ``fast`` is installed."""
    return find_spec("numba") is not None
