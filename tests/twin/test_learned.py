"""Errors learned in one real summer hold in another."""

import pytest
from twin.learned import NAMES, YEARS, held_out, nights

from hayweather.learning.forecast_errors import fit_errors

AIR = "air_temperature_c"


@pytest.mark.parametrize(
    "every", [3, pytest.param(1, marks=pytest.mark.long)], ids=["sample", "all"]
)
@pytest.mark.parametrize("learned", YEARS)
def test_learned_errors_are_nearer_to_the_truth_of_another_summer(learned, every):
    used = next(year for year in YEARS if year != learned)
    plain = held_out(fit_errors(nights(learned, every), draws=0), nights(used, every))
    for before, after, within, fits in (plain[name] for name in NAMES):
        assert after < 1.03 * before  # no bias there to learn: none is made up
        assert abs(fits - 0.9) < abs(within - 0.9)
    colder = fit_errors(nights(learned, every, 1.5), draws=0)
    before, after, *_ = held_out(colder, nights(used, every, 1.5))[AIR]
    assert after < 0.93 * before
