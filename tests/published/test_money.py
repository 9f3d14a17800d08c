"""Present value, internal rate and payback against published examples. Timing: the first flow is undiscounted."""

import numpy as np
import numpy_financial
import pytest

from shoplib.decide.money import cumulative, deepest, irr, monthly_rate, npv, payback_month, payback_within_period


def yearly(flows):
    """Spread yearly flows over months: each at the end of its twelfth month, so that a published yearly example can be fed in."""
    months = np.zeros(12 * (len(flows) - 1) + 1)
    months[::12] = flows
    return months


def test_npv_of_the_library_that_documents_it():
    """numpy-financial's documented example: 8 % of −40000, 5000, 8000, 12000, 30000 is 3065.22267 (first flow undiscounted)."""
    assert npv(yearly([-40000, 5000, 8000, 12000, 30000]), 0.08) == pytest.approx(3065.22267, abs=1e-4)


def test_npv_as_spreadsheets_do_it_is_one_period_later():
    """'Matches Excel': 5 % of 4, 3, 2, 1 is 9.08098991675279 with the first flow a period away."""
    assert npv(yearly([0, 4, 3, 2, 1]), 0.05) == pytest.approx(9.08098991675279)


def test_open_formula_example():
    """OASIS OpenFormula: NPV(100 %; 4; 5; 7) = 4.125, first flow a period away."""
    assert npv(yearly([0, 4, 5, 7]), 1.0) == pytest.approx(4.125)


@pytest.mark.parametrize(
    ("flows", "rate"),
    [
        ((-100, 39, 59, 55, 20), 0.2809484212),
        ((-250000, 100000, 150000, 200000, 250000, 300000), 0.5672303344358536),
        ((-70000, 12000, 15000, 18000, 21000, 26000), 0.0866309),
        ((-70000, 12000, 15000, 18000, 21000), -0.0212448),
        ((-70000, 12000, 15000), -0.443507),
    ],
)
def test_internal_rates(flows, rate):
    """numpy-financial documentation; Gitman, Managerial Finance, Brief 3e, p. 346–348; a spreadsheet's help (from memory)."""
    assert irr(flows) == pytest.approx(rate, abs=1e-6)


def test_npv_at_almost_the_internal_rate():
    """The same example of Gitman at 28.1 %: −0.0084785916 (numpy-financial documentation)."""
    assert npv(yearly([-100, 39, 59, 55, 20]), 0.281) == pytest.approx(-0.0084785916, abs=5e-11)


def test_paybacks_of_the_documented_example():
    """−40000, 5000, 8000, 12000, 30000: payback 3.5 years; discounted at 8 % 3.8610 (derived from numpy-financial's example)."""
    flows = np.array([-40000, 5000, 8000, 12000, 30000])
    assert (payback_within_period(flows), payback_within_period(flows / 1.08 ** np.arange(5))) == (
        pytest.approx(3.5),
        pytest.approx(3.8610, abs=1e-4),
    )


def test_monthly_rate_compounds_to_the_yearly():
    """(1 + r)^(1/12) − 1, twelve times, is the year's rate (closed form)."""
    assert (1 + monthly_rate(0.08)) ** 12 == pytest.approx(1.08)


def test_npv_agrees_with_the_library_over_rows():
    """Every row of a table of monthly flows has the value numpy-financial gives it at the monthly rate."""
    flows = np.random.default_rng(2).normal(0, 100, (5, 37))
    assert npv(flows, 0.08) == pytest.approx([numpy_financial.npv(monthly_rate(0.08), row) for row in flows])


def test_payback_must_stay():
    """Cash that touches zero in month 1 and falls again is paid back only in month 3 (worked by hand: −10, 0, −5, 5)."""
    assert payback_month([-10, 10, -5, 10]) == 3


@pytest.mark.parametrize(("flows", "month"), [([-10, 1, 1], None), ([0, 5, 5], 0), ([-10, 10], 1)])
def test_payback_edges(flows, month):
    """Never, at once, and in the last month (worked by hand)."""
    assert payback_month(flows) == month


def test_deepest_point():
    """−10, −4, +20: lowest cumulative cash −14 (worked by hand); never above zero."""
    assert (deepest([-10, -4, 20]), deepest([1, 1]), cumulative([1, 2]).tolist()) == (-14, 0, [1, 3])
