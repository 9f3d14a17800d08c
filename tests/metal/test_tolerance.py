"""Tolerance of a balance, worked by hand: readability, shared fineness, metal in process not weighed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shoplib.metal.tolerance import Tolerance, fineness_u, in_process_u, readability_u

READABILITY = readability_u(0.01, 520 * 0.75**2)
FINENESS = fineness_u([1650 / 0.75], 1)
IN_PROCESS = in_process_u(95, 2)
MONTH = Tolerance(READABILITY, IN_PROCESS, FINENESS)


def test_520_weighings_to_a_hundredth():
    """√520 × 0.01 ÷ √12 × 0.75 ≈ 0.049371 g fine."""
    assert pytest.approx(0.049371, abs=5e-7) == READABILITY


def test_one_per_mille_shared_by_all_melts():
    """2,200 g gross × 0.001 ÷ √3 ≈ 1.270171 g fine."""
    assert pytest.approx(1.270171, abs=5e-7) == FINENESS


def test_ten_independent_melts_would_have_a_third():
    """√10 × 220 × 0.001 ÷ √3 ≈ 0.401663 g fine: alloys add by squares."""
    assert fineness_u([220] * 10, 1) == pytest.approx(0.401663, abs=5e-7)


def test_two_percent_of_what_was_not_weighed():
    """1.9 ÷ √3 ≈ 1.096966 g fine."""
    assert pytest.approx(1.096966, abs=5e-7) == IN_PROCESS


def test_the_month_together():
    """√2.819104167 ≈ 1.679019 g fine."""
    assert MONTH.u == pytest.approx(1.679019, abs=5e-7)


def test_range_above_zero():
    """8.600 g unexplained: 5.309 to 11.891."""
    assert MONTH.around(8.6) == (pytest.approx(5.309, abs=5e-4), pytest.approx(11.891, abs=5e-4))


def test_range_around_zero():
    """2.000 g unexplained: −1.291 to 5.291."""
    assert MONTH.around(2.0) == (pytest.approx(-1.291, abs=5e-4), pytest.approx(5.291, abs=5e-4))


def test_the_part_that_differs_from_month_to_month_leaves_fineness_out():
    """√(0.0024375 + 1.2033333) = 1.098076 g fine."""
    assert MONTH.independent == pytest.approx(1.0980760, abs=5e-6)


@given(st.lists(st.floats(0, 5000), min_size=1, max_size=5), st.floats(0, 3))
def test_shared_errors_are_never_smaller_than_independent_ones(grams, tolerance):
    """One recipe for all hides at least as much as a recipe for each."""
    assert fineness_u([sum(grams)], tolerance) >= fineness_u(grams, tolerance) - 1e-9
