"""Cash by month on rows short enough to add up by hand."""

import pytest

from shoplib.decide.money import cumulative, deepest, npv, payback_month, payback_within_period


def test_a_flow_a_year_ahead_is_discounted_once():
    """110 at the end of month 12 at 10 % a year is worth 100 today (worked by hand)."""
    assert npv([0.0] * 12 + [110.0], 0.10) == pytest.approx(100.0)


def test_cash_so_far():
    """−10, then 4 a month: −10, −6, −2, 2."""
    assert cumulative([-10.0, 4.0, 4.0, 4.0]).tolist() == [-10.0, -6.0, -2.0, 2.0]


def test_payback_is_the_month_from_which_cash_stays():
    """Above zero in month 1, below in month 2, above for good from month 3."""
    assert payback_month([-1.0, 2.0, -2.0, 3.0]) == 3


@pytest.mark.parametrize(("flows", "month"), [([0.0, 1.0], 0), ([-2.0, 1.0], None)])
def test_payback_at_once_and_never(flows, month):
    """Nothing laid out: month 0; never above zero: None."""
    assert payback_month(flows) == month


def test_payback_within_the_last_month():
    """−10 and 4 a month: half of month 3."""
    assert payback_within_period([-10.0, 4.0, 4.0, 4.0]) == pytest.approx(2.5)


def test_deepest_cash():
    """−10, then −12, then up: −12; never below zero: 0."""
    assert (deepest([-10.0, -2.0, 20.0]), deepest([1.0, 1.0])) == (-12.0, 0.0)
