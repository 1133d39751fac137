"""The windrow by its compiled loop, where there is one."""

from support.quick import quick_windrow

__all__ = ["quick_windrow"]
