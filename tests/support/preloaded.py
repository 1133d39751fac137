"""What the server of `children` has ready before it forks: libraries, commands, the loop.

The loop in the server alone: a search for doctests imports this module too.
"""

import os

import matplotlib.figure
import metpy.calc
import pandas
import pytest  # the main module of who asks, which a child reads again
from support import quick
from weather import hostile

import hayweather.cli.load
import hayweather.cli.nights
import hayweather.show.outlook_text
from hayweather.windrow import run

__all__ = ["hayweather", "hostile", "matplotlib", "metpy", "pandas", "pytest"]

SERVER = "HAYWEATHER_TESTS_SERVER"
if os.environ.get(SERVER) == "1" and quick.asked_for() and run.has_compiled_loop():
    quick.compile_once()
    run._worth_compiling = quick.compiled_where_it_can_be
