"""What limits: told by experiment, in shops small enough to know."""

import numpy as np
import pytest

from shoplib.workshop.limits import DEMAND, Limits, find_limits, ideal_gain
from shoplib.workshop.model import State

from .small import AS_OF, open_orders, small_workshop

ONE_SKILL_EACH = np.eye(2, dtype=bool)


def limits(gains, ideal=(10.0, 10.0)):
    return Limits(("solder", "polish"), np.array(gains, dtype=float), np.array(ideal))


def test_the_largest_gain_limits():
    """Solder gains most in every draw."""
    assert limits([[9, 1]] * 8).limiting == "solder" and limits([[9, 1]] * 8).probability("solder") == 1.0


def test_small_gains_mean_demand():
    """Less than a sixth of what an hour could carry: demand limits."""
    assert limits([[1, 0]] * 8).limiting is None and limits([[1, 0]] * 8).probability(DEMAND) == 1.0


def test_probabilities_add_up_to_one():
    """Half the draws for each: benches and demand together are all there is."""
    table = limits([[9, 1]] * 4 + [[1, 9]] * 4).table()
    assert table["limiting_probability"].tolist() == [0.5, 0.5, 0.0]


def test_a_skill_screened_out_keeps_the_mean_it_has():
    """NaN beyond the screening is left out of the mean, and never wins."""
    found = limits([[9, 1]] * 4 + [[9, np.nan]] * 4)
    assert found.table()["orders_per_extra_hour"].tolist()[:2] == [9.0, 1.0] and found.limiting == "solder"


def test_ideal_gain_is_hours_of_a_year_over_hours_of_a_piece():
    """52.18 hours a year ÷ 2 hours a piece (worked by hand)."""
    assert ideal_gain(small_workshop(hours=2.0)) == pytest.approx([26.09, 26.09], abs=0.01)


def test_the_slow_bench_limits_where_orders_pile_up():
    """Stage 1 takes five times as long and each person has one skill: its hour is worth most, and about all it could carry."""
    intercept = np.log([[2.0, 10.0]])
    shop = small_workshop(orders_per_day=2.0, sd=0.0, can=ONE_SKILL_EACH, work_intercept=intercept)
    found = find_limits(shop, open_orders(60), 7)
    gain = found.table()["orders_per_extra_hour"]
    assert found.limiting == "skill 1" and gain[1] == pytest.approx(5.2, rel=0.25) and gain[0] < 1.0


def test_demand_limits_where_benches_idle():
    """Two people for two short stages and an order every other day: an hour more finishes nothing."""
    found = find_limits(small_workshop(orders_per_day=0.5), State.empty(AS_OF, 2), 7)
    assert found.limiting is None


def test_threads_change_no_bit():
    """The same gains on one thread and on two."""
    shop = small_workshop(orders_per_day=2.0, can=ONE_SKILL_EACH)
    one, two = (find_limits(shop, open_orders(20), 3, threads) for threads in (1, 2))
    assert np.array_equal(one.gains, two.gains, equal_nan=True)
