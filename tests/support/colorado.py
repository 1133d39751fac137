"""A farm in NW Colorado, where the measured summers are from (tests/data/README.md)."""

COLORADO = """[farm]
name = "Colorado"
[site.home]
latitude = 40.53
longitude = -108.54
elevation = "2168 m"
timezone = "America/Denver"
[weather]
{weather}
[baler]
kind = "large-square"
bale_size = "3x4"
bale_weight = 1250
capacity = 21
[field.bench]
site = "home"
cured = true
"""


def colorado(weather: str) -> str:
    """The farm file, with what stands in its table of the weather and in tables below that."""
    return COLORADO.format(weather=weather)
