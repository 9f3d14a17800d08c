"""Control charts beyond the published examples. Values worked by hand; no source."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shoplib.flow.control import c_chart, individuals_chart, moving_range_chart, p_chart, share_chart


def test_a_gap_is_passed_over():
    """An unknown month changes no limit."""
    assert individuals_chart([1.0, np.nan, 3.0, 2.0]).upper[0] == individuals_chart([1.0, 3.0, 2.0]).upper[0]


def test_a_gap_is_not_unusual():
    """What is unknown is not judged."""
    assert not individuals_chart([1.0, np.nan, 3.0, 2.0]).unusual[1]


@pytest.mark.parametrize("values", [[], [5.0], [np.nan, 5.0]])
def test_one_value_has_no_limits(values):
    """Nothing varies yet."""
    assert not individuals_chart(values).unusual.any()


def test_an_outlier_is_unusual():
    """Twenty months about 10 and one of 20."""
    values = [10.0 + 0.1 * (n % 3) for n in range(20)] + [20.0]
    assert np.flatnonzero(individuals_chart(values).unusual).tolist() == [20]


def test_moving_range_of_one_value_is_empty():
    """No neighbour, no range."""
    assert not len(moving_range_chart([3.0]).values)


def test_small_months_are_plotted_and_not_judged():
    """5 of 10 in a month under twenty."""
    chart = p_chart([1, 5, 1], [50, 10, 50])
    assert chart.values[1] == 0.5 and not chart.unusual[1]


def test_months_without_any_are_gaps():
    """Nothing delivered: no share."""
    assert np.isnan(p_chart([1, 0], [50, 0]).values[1])


def test_shares_of_small_months_go_on_a_chart_of_single_values():
    """One month under twenty: limits are the same for all."""
    chart = share_chart([1, 2, 1, 0], [30, 30, 10, 30])
    assert len(set(chart.upper)) == 1


def test_one_rare_failure_is_not_unusual():
    """One failure in 29 months of 80: 3 sigma would call that month unusual, the binomial law does not."""
    failures = np.zeros(29)
    failures[7] = 1
    assert p_chart(failures, np.full(29, 80)).unusual[7] and not share_chart(failures, np.full(29, 80)).unusual[7]


def test_many_rare_failures_are_unusual():
    """Six at once where one in two months is usual."""
    failures = np.array([0, 1] * 12 + [6])
    assert share_chart(failures, np.full(25, 80)).unusual.nonzero()[0].tolist() == [24]


def test_no_failure_ever_is_not_unusual():
    """A stage without a fault."""
    assert not share_chart(np.zeros(12), np.full(12, 80)).unusual.any()


def test_a_count_is_never_below_nought():
    """Mean 2: the lower limit is 0."""
    assert c_chart([1, 2, 3]).lower[0] == 0.0


@settings(deadline=None)
@given(st.lists(st.floats(-1e3, 1e3), min_size=2, max_size=30), st.floats(-100, 100), st.floats(0.1, 10))
def test_limits_move_with_the_unit(values, shift, scale):
    """Another unit or zero moves the chart, not its judgement."""
    plain, moved = individuals_chart(values), individuals_chart(np.array(values) * scale + shift)
    assert moved.upper[0] == pytest.approx(plain.upper[0] * scale + shift, abs=1e-6)
