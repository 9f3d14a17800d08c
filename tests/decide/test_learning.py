"""A starter's pieces, in units of the standard time."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shoplib.decide.learning import SLOWEST, average_times, starter_factor, unit_times


def test_the_second_piece_takes_the_rate():
    """Rate 80 %: 0.8 of the first in the unit form, 0.6 in the other, whose mean of two is 0.8 (worked by hand)."""
    assert unit_times(2, 0.8) == pytest.approx(0.8) and average_times(2, 0.8) == pytest.approx(0.6)


def test_standard_time_is_reached_at_n():
    """At piece N and beyond the standard; at half of N, rate 80 %, a quarter more (worked by hand: 1 ÷ 0.8)."""
    assert starter_factor([50, 100, 400], 100, 0.8).tolist() == pytest.approx([1.25, 1.0, 1.0])


@pytest.mark.parametrize(("pieces", "rate"), [(0.0, 0.8), (100.0, 1.0)])
def test_no_ramp_is_standard_from_day_one(pieces, rate):
    """Nothing to learn: the first piece takes the standard."""
    assert starter_factor([1, 2], pieces, rate).tolist() == [1.0, 1.0]


@given(st.floats(1, 1e4), st.floats(0.55, 0.99))
def test_a_starter_only_gets_faster(pieces, rate):
    """Never slower with practice, never below standard, at most three times it."""
    times = starter_factor(np.arange(1, 200), pieces, rate)
    assert (np.diff(times) <= 1e-12).all() and times.min() >= 1.0 and times.max() <= SLOWEST
