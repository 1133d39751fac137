"""Farm files that the farm tests start from, and how a refusal is checked."""

import pytest

from hayweather.errors import FarmFileError
from hayweather.farm import read_farm

FARM = """
[farm]
name = "Sagebeck"
[site.home]
latitude = 43.2
longitude = -120.6
elevation = "4330 ft"
timezone = "America/Los_Angeles"
[weather]
file = "weather.csv"
[field.north]
area = 120
cured = true
[baler]
bale_size = "3x4"
"""
RIG = """
[rig]
tank = 800
rate_min = 5
rate_max = 20
flow_max = 10
fill_time = 15
"""
STATION = '[station.yard]\nfile = "yard.csv"\n'
FILE = 'file = "weather.csv"'


def replaced(old, new):
    """The farm with `old` replaced; `old` must be there."""
    assert old in FARM
    return FARM.replace(old, new)


def in_field(*lines):
    """The farm with more lines in its field."""
    return FARM.replace("area = 120", "\n".join(["area = 120", *lines]))


def refusal(folder, text, environ=None):
    """The English line with which `text` is refused.

    Checks on the way: exit status 2, one line, a Spanish line, no field left open.
    """
    path = folder / "farm.toml"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    with pytest.raises(FarmFileError) as caught:
        read_farm(path, environ)
    english, spanish = str(caught.value), caught.value.line("es")
    for line in (english, spanish):
        assert "\n" not in line
        assert "{" not in line.replace("{ rate", "").replace("{ supreme", "").replace("{…}", "")
    assert caught.value.exit_code == 2
    assert spanish != english
    return english
