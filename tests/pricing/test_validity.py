"""How long a quote may stand: the rise that costs the share at risk, and the day its chance passes what is allowed."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from shoplib.pricing.validity import Spread, chances_by_day, days_a_quote_may_stand, needed_rise, spread_findings, spread_of
from shoplib.pricing.volatility import Volatility

from .shops import market, price, tiny


def test_the_rise_that_costs_a_fifth_of_the_making_charge():
    """20 % of 500 is 100; on 1,000 of metal a rise of a tenth: ln 1.1 (worked by hand)."""
    assert needed_rise(np.array([500.0]), np.array([1000.0]), 0.2)[0] == pytest.approx(np.log(1.1))


def test_nothing_left_to_lose():
    """A making charge below zero: any rise is too much."""
    assert needed_rise(np.array([-50.0]), np.array([1000.0]), 0.2)[0] == 0.0


def test_a_piece_without_metal_of_ours_has_no_rise():
    """Customer's metal, or a metal without price: not known, not infinite."""
    assert np.isnan(needed_rise(np.array([500.0]), np.array([0.0]), 0.2)[0])


def test_days_before_the_chance_is_passed():
    """Passed on the third price day: two price days, 2.8 calendar days, whole days 2 (worked by hand)."""
    assert days_a_quote_may_stand(np.array([[0.02, 0.08, 0.12, 0.2]]), 0.10, 1.4).tolist() == [2.0]


def test_never_passed_is_told_as_the_horizon():
    """Four price days looked ahead are 5.6 calendar days, whole days 5 (worked by hand)."""
    assert days_a_quote_may_stand(np.full((1, 4), 0.05), 0.10, 1.4).tolist() == [5.0]


def test_passed_on_the_first_day():
    """Such a quote holds on the day it is given: 0 days."""
    assert days_a_quote_may_stand(np.full((1, 4), 0.5), 0.10, 1.4).tolist() == [0.0]


def test_what_is_not_known_stays_unknown():
    """No price, no days."""
    assert np.isnan(days_a_quote_may_stand(np.full((1, 4), np.nan), 0.10, 1.4)[0])


def test_chances_of_a_constant_spread_follow_the_normal_law():
    """1 % a day, a rise of 3 %: the chance after 4 and 9 days is that of a normal variable with sd 2 % and 3 % (± 3 standard errors)."""
    spread = Spread("gold", Volatility("constant", 1e-4), 1.4, "daily")
    found = chances_by_day(spread, np.array([0.03]), seed=1, horizon=9)[0, [3, 8]]
    asked = stats.norm.sf(0.03 / np.array([0.02, 0.03]))
    assert np.all(np.abs(found - asked) < 3 * np.sqrt(asked * (1 - asked) / 10_000))


@given(st.floats(10, 5000), st.floats(10, 5000))
def test_more_making_charge_may_stand_no_shorter(one, other):
    """With the same metal the piece that has more to lose stands at least as long."""
    low, high = sorted((one, other))
    spread = Spread("gold", Volatility("constant", 1e-4), 1.4, "daily")
    rises = needed_rise(np.array([low, high]), np.array([3000.0, 3000.0]), 0.2)
    days = days_a_quote_may_stand(chances_by_day(spread, rises, seed=2, horizon=20, paths=500), 0.1, 1.4)
    assert days[0] <= days[1]


def test_two_prices_tell_no_spread():
    """One move is none to judge by; the owner is told what to add."""
    shop = tiny([price("2026-03-25", "gold", 80.0), price("2026-03-26", "gold", 81.0)])
    spread = spread_of(shop, market(shop), "gold")
    assert spread.volatility is None and [one.code for one in spread_findings({"gold": spread})] == ["too_few_prices"]


def test_a_holiday_is_no_return():
    """The same price written again: two moves of 1 % remain of three days, not one of them zero."""
    days = ("2026-03-23", "2026-03-24", "2026-03-25", "2026-03-26")
    shop = tiny([price(day, "gold", level) for day, level in zip(days, (100.0, 101.0, 101.0, 102.01), strict=True)])
    assert spread_of(shop, market(shop), "gold").volatility.variance == pytest.approx(np.log(1.01) ** 2)


def test_weekly_prices_are_brought_to_a_day():
    """Moves of 2 % a week are 2 % ÷ √5 a price day (worked by hand)."""
    levels = 100.0 * 1.02 ** np.array([0, 1, 0, 1, 2])
    days = np.datetime64("2026-02-23") + 7 * np.arange(5)
    shop = tiny([price(str(day), "gold", level) for day, level in zip(days, levels, strict=True)])
    assert spread_of(shop, market(shop), "gold").volatility.daily == pytest.approx(np.log(1.02) / np.sqrt(5))
