"""Paths of spot, and when a backtest cannot tell; published values are in tests/published/test_volatility.py."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shoplib.errors import DataError
from shoplib.pricing.volatility import (
    Volatility,
    chance_above,
    daily_returns,
    fit_volatility,
    kupiec,
    rise_paths,
    several_days_backtest,
    upper_quantiles,
)

GARCH = Volatility("garch_t", 1e-4, 2e-6, 0.08, 0.90, 5.0)


def test_direction_is_not_forecast():
    """The mean rise is zero on every day, exactly: each path has its mirror."""
    assert np.abs(rise_paths(GARCH, 20, seed=3, paths=400).mean(axis=0)).max() < 1e-15


def test_variance_of_the_first_day_is_the_one_told():
    """20,000 draws of a t with 5 degrees of freedom scaled to the variance: within 3 standard errors (kurtosis 9)."""
    first = rise_paths(GARCH, 1, seed=4)[:, 0]
    assert abs(np.mean(first**2) / 1e-4 - 1.0) < 3 * np.sqrt(8.0 / 10_000)


def test_the_same_seed_gives_the_same_paths():
    """Two draws, one answer."""
    assert np.array_equal(rise_paths(GARCH, 5, seed=7, paths=50), rise_paths(GARCH, 5, seed=7, paths=50))


def test_chance_above():
    """Of four paths one is above 0.02 after the first day and two after the second (worked by hand)."""
    paths = np.array([[0.01, 0.03], [0.03, 0.01], [-0.01, -0.02], [0.0, 0.05]])
    assert chance_above(paths, 0.02).tolist() == [0.25, 0.5]


@given(st.floats(2.1, 200), st.floats(1e-6, 1e-2))
def test_quantiles_rise_with_the_tail(freedom, variance):
    """A rise passed 1 day in 100 is larger than one passed 1 in 10."""
    found = upper_quantiles(Volatility("garch_t", variance, freedom=freedom), (0.10, 0.05, 0.01))
    assert found[0] < found[1] < found[2]


@pytest.mark.parametrize("price", [0.0, -1.0])
def test_a_price_of_zero_or_below_is_refused(price):
    """A logarithm of it is no return."""
    with pytest.raises(DataError, match="above zero"):
        daily_returns(pd.Series([80.0, price]))


def test_one_return_is_too_few():
    """Two prices tell no spread."""
    with pytest.raises(DataError, match="too few"):
        fit_volatility(np.array([0.01]))


def test_fewer_than_100_windows_cannot_tell():
    """1,500 days leave 50 windows of ten days after a window of 1,000: no verdict, and the count is told."""
    assert several_days_backtest(np.zeros(1500), 10, 0.05) == (50, None)


@given(st.integers(1, 2000), st.floats(0.001, 0.5))
def test_a_share_as_stated_is_never_rejected(n, tail):
    """As many exceptions as stated, to the nearest day, give a ratio below the bound."""
    assert not kupiec(n, round(n * tail), tail).rejected or n * tail < 1


@given(st.integers(1, 500), st.data(), st.floats(0.001, 0.5))
def test_the_ratio_is_never_negative(n, data, tail):
    """No stated share is likelier than the one seen."""
    assert kupiec(n, data.draw(st.integers(0, n)), tail).ratio >= -1e-9
