"""Density: small cases by hand and the round trip."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shoplib.errors import UsageError
from shoplib.metal.density import DENSITY, alloy_density, share_from_density, specific_gravity


def test_a_piece_that_loses_a_tenth_in_water_has_gravity_ten():
    """10 g in air and 9 g in water: 10 (worked by hand)."""
    assert specific_gravity(10, 9) == 10


def test_a_piece_heavier_in_water_is_refused():
    """It would have a volume below zero."""
    with pytest.raises(UsageError, match="without bubbles"):
        specific_gravity(9, 10)


def test_a_density_outside_its_metals_is_refused():
    """Nothing made of gold and copper floats like aluminium."""
    with pytest.raises(UsageError, match=r"from 8\.96 to 19\.32"):
        share_from_density(2.7, DENSITY["gold"], DENSITY["copper"])


@given(st.floats(0, 1), st.sampled_from(["silver", "copper", "palladium"]))
def test_share_and_density_are_inverse(share, rest):
    """The share told from the density of a mixture is the share that was mixed."""
    density = alloy_density({"gold": share, rest: 1 - share})
    assert share_from_density(density, DENSITY["gold"], DENSITY[rest]) == pytest.approx(share, abs=1e-9)
