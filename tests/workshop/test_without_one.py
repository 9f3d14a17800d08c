"""One person away, in shops small enough to know."""

import numpy as np

from shoplib.workshop.replicate import simulate
from shoplib.workshop.without_one import FOR_GOOD, FOUR_WEEKS, busiest_person, without_one

from .small import open_orders, small_workshop

ONE_SKILL_EACH = np.eye(2, dtype=bool)


def test_who_books_most_stands_for_the_skill():
    """Hours decide among those who have the skill; nobody stands for a skill nobody has."""
    shop = small_workshop(can=np.array([[True, False], [True, False]]))
    assert busiest_person(shop, np.array([[1.0, 9.0], [2.0, 0.0]])).tolist() == [1, -1]


def found(**changes):
    shop = small_workshop(orders_per_day=1.0, hours=4.0, can=ONE_SKILL_EACH, **changes)
    rows = without_one(shop, open_orders(20), np.eye(2), 5)
    return {(one.skill, one.away): one for one in rows}


def test_the_only_one_gone_for_good_stops_deliveries():
    """Nothing is delivered without the skill: all contribution is lost, and no wait can be told."""
    one = found()["skill 1", FOR_GOOD]
    assert one.others == 0 and np.isnan(one.wait_days_change).all() and (one.contribution_lost > 300.0 * 100).all()


def test_for_good_costs_more_than_four_weeks():
    """The longer absence loses more, in every replication."""
    rows = found()
    assert (rows["skill 0", FOR_GOOD].contribution_lost > rows["skill 0", FOUR_WEEKS].contribution_lost).all()


def test_four_weeks_lengthen_the_wait():
    """Orders of the next half-year stay longer while the bench that limits stands still."""
    assert found()["skill 1", FOUR_WEEKS].wait_days_change.mean() > 0.0


def test_a_longer_run_of_the_shop_unchanged_serves_as_well():
    """Orders wait for years and go out days after they are done; 900 days and 24 replications handed in: the same bits as a run of its own."""
    lag = {"delivery_lag_days": np.array([0, 9]), "delivery_lag_from": np.array([0, 2, 2, 2, 2, 2, 2, 2])}
    shop, here = small_workshop(orders_per_day=10.0, hours=4.0, can=ONE_SKILL_EACH, **lag), open_orders(20)
    nothing = simulate(shop, here, horizon_days=900, seed=5, replications=24)
    own, given = (without_one(shop, here, np.eye(2), 5, nothing=run) for run in (None, nothing))
    assert [bits(one) for one in own] == [bits(one) for one in given]


def bits(one):
    return one.orders_late.tobytes(), one.wait_days_change.tobytes(), one.contribution_lost.tobytes()
