"""Fineness of the finished article."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shoplib.metal.fineness import finished_fineness, given_away_g, highest_mark, keeps_mark


def test_a_rich_melt_gives_metal_away():
    """2 per mille above the mark on 2.2 kg are 4.4 g fine (worked by hand)."""
    assert given_away_g(2200, 752, 750) == pytest.approx(4.4)


@given(st.floats(1, 500), st.floats(375, 916), st.floats(0, 1), st.floats(300, 916))
def test_solder_draws_fineness_towards_its_own(gross, fineness, share, solder):
    """The finished fineness lies between alloy and solder."""
    found = finished_fineness(gross, fineness, [share * gross], [solder])
    assert min(fineness, solder) - 1e-9 <= found <= max(fineness, solder) + 1e-9


def test_an_alloy_just_below_its_mark_keeps_it_only_with_a_tolerance():
    """748 per mille keeps 750 with a tolerance of 3, not without."""
    assert (keeps_mark(748, 750, 3), keeps_mark(748, 750)) == (True, False)


def test_below_every_mark_there_is_none():
    """300 per mille keeps no mark from 375 up."""
    assert highest_mark(300, (375, 585, 750)) is None
