"""What rework costs others by delay, in shops small enough to know."""

import numpy as np

from shoplib.workshop.replicate import simulate
from shoplib.workshop.rework_delay import delay_of_causes, without

from .small import open_orders, small_workshop

RETURNS = {"return_chance": np.array([[[0.0], [0.3]]]), "return_to": np.array([[0.0, 0.0], [1.0, 0.0]])}


def test_only_stages_with_a_share_are_cut():
    """A share of 0.25 leaves three quarters of the returns; others are left alone."""
    assert without(np.array([0.0, 0.25])).return_factor == ((1, 0.75),)


def test_rework_at_a_full_bench_delays_others():
    """More orders than one person can do: without the returns more go out."""
    shop = small_workshop(people=1, orders_per_day=3.0, **RETURNS)
    delay = delay_of_causes(shop, open_orders(40), np.array([[0.0, 1.0], [0.0, 0.5]]), 11)
    assert (delay[0] > delay[1]).all() and (delay[1] > 0.0).all()


def test_rework_of_idle_benches_delays_nobody():
    """With time at every bench the same orders go out, save for those around the last day."""
    shop = small_workshop(people=2, orders_per_day=0.3, **RETURNS)
    delay = delay_of_causes(shop, open_orders(0), np.array([[0.0, 1.0]]), 11)
    assert abs(delay.mean()) < 300.0


def test_a_longer_run_of_the_shop_unchanged_serves_as_well():
    """What is handed in may have more days and more replications: the same bits as with a run of its own."""
    shop, here, shares = small_workshop(people=1, orders_per_day=3.0, **RETURNS), open_orders(40), np.array([[0.0, 1.0]])
    nothing = simulate(shop, here, horizon_days=900, seed=11, replications=32)
    assert np.array_equal(delay_of_causes(shop, here, shares, 11, nothing=nothing), delay_of_causes(shop, here, shares, 11))


def test_no_cause_no_runs():
    """Without a cause there is nothing to tell."""
    assert delay_of_causes(small_workshop(), open_orders(0), np.zeros((0, 2)), 1).shape[0] == 0
