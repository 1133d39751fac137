"""Tests of a module; those above the windrow run it by the compiled loop."""

from support.quick import quick_windrow

__all__ = ["quick_windrow"]
