"""Figures read from the records, on runs short enough to count by hand. Two orders, one bench, two hours each, 1 July a Wednesday."""

import numpy as np
import pandas as pd
import pytest

from shoplib.workshop.model import State
from shoplib.workshop.replicate import simulate
from shoplib.workshop.scenario import Scenario
from tests.workshop.small import AS_OF, open_orders, small_workshop


@pytest.fixture(scope="module")
def two():
    """Two orders of eight hours, promised on Wednesday both: done on Wednesday and Thursday, in two replications alike."""
    state = open_orders(2, 1, promised_on=np.array(["2026-07-01"] * 2, "datetime64[D]"))
    return simulate(small_workshop(1, 1, orders_per_day=0.0, hours=8.0, sd=0.0), state, horizon_days=40, seed=1, replications=2)


@pytest.fixture(scope="module")
def year():
    """A year with lost enquiries."""
    workshop = small_workshop(2, 2, orders_per_day=2.0, has_quotes=True, piece_win_logit=np.zeros(1))
    return simulate(workshop, open_orders(3), horizon_days=365, seed=1, replications=3)


def test_one_row_an_order(two):
    """Two replications of two orders: four rows with their own numbers, style, alloy and id."""
    assert two.orders[["replication", "order", "order_id", "style", "alloy"]].to_numpy().tolist() == [
        [r, o, f"A{o}", "curb", "18k yellow"] for r in (0, 1) for o in (0, 1)]


def test_days_of_delivery(two):
    """Wednesday is day 0, Thursday day 1."""
    assert two.open_finish().tolist() == [[0.0, 1.0]] * 2 and two.start_on == np.datetime64("2026-07-01")


def test_delivered_by_a_day(two):
    """Before day 1 one order, before day 2 both."""
    assert two.delivered_by(1).tolist() == [1, 1] and two.delivered_by(2).tolist() == [2, 2]


def test_work_in_process_by_day(two):
    """At the end of Wednesday one is left, then none."""
    assert two.wip()[0, :3].tolist() == [1, 0, 0]


def test_late_chance(two):
    """The second misses its Wednesday for certain."""
    assert two.late_chance().tolist() == [0.0, 1.0]


def test_no_promise_no_lateness():
    """An order without a promise is neither late nor in time."""
    records = simulate(small_workshop(1, 1, orders_per_day=0.0), open_orders(1, 1), horizon_days=5, seed=1, replications=1)
    assert np.isnan(records.late_chance()).all()


def test_on_time_share(two):
    """Of two promises due on day 0 one is kept."""
    assert two.on_time_share(0, 1).tolist() == [0.5, 0.5]


def test_contribution(two):
    """300 an order: 300 by day 1, 600 by day 2."""
    assert two.contribution_by(1).tolist() == [300, 300] and two.contribution_by(2).tolist() == [600, 600]


def test_contribution_with_a_mark_up():
    """Ten per cent on the making part, 500 of a price of 1,000, adds 50 to the 300 of new orders."""
    records = simulate(small_workshop(1, 4), State.empty(AS_OF, 1), horizon_days=60, seed=1, replications=1, scenario=Scenario(mark_up=0.1))
    assert set(records.orders["contribution"]) == {350.0}


def test_quantile_is_the_first_day_by_which_enough_are_done():
    """Ten replications that end on days 0 … 9: half are done by day 4, eight tenths by day 7, all but a twentieth by day 9."""
    state = open_orders(1, 1)
    hours = np.log(np.arange(10) * 24.0 + 1.0)[:, None]
    workshop = small_workshop(1, 1, orders_per_day=0.0, sd=0.0, work_intercept=np.vstack([hours[:1], hours]), own_hours=np.full((1, 7), 24.0),
                              day_start_h=0.0)
    records = simulate(workshop, state, horizon_days=40, seed=1, replications=10)
    assert records.open_finish_quantiles((0.5, 0.8, 0.95)).tolist() == [[4.0, 7.0, 9.0]]


def test_quantile_beyond_the_horizon_is_never():
    """Not done within the horizon: +inf, not a date."""
    records = simulate(small_workshop(1, 1, hours=500.0), open_orders(1, 1), horizon_days=5, seed=1, replications=2)
    assert np.isinf(records.open_finish_quantiles()).all()


def test_months_add_up(year):
    """Monthly deliveries sum to those of the year; months are those of the calendar, July to June."""
    assert (year.monthly().sum(axis=1) == year.delivered_by(365)).all() and len(year.months) == 12


def test_lost_and_taken_are_all(year):
    """Open orders and orders taken are all the orders there are; with the enquiries lost, numbers are counted through."""
    arrived, lost = year.monthly("arrived").sum(axis=1), year.monthly("lost").sum(axis=1)
    assert (arrived + 3 == np.diff(year.first)).all() and (year.lost_by(365) == lost).all()
    assert max(year.number[year.replication == 0]) <= arrived[0] + lost[0] + 2


def test_lost_enquiries_are_counted_by_day(year):
    """Half of the enquiries are lost at even odds, all on working days; orders are a table."""
    assert 0.45 < year.lost.sum() / (year.lost.sum() + len(year.orders)) < 0.55 and isinstance(year.orders, pd.DataFrame)
    assert year.lost[:, 3].sum() == year.lost[:, 4].sum() == 0


def test_flow_days_by_hand(two, year):
    """No new orders: no flow; with them, the mean of delivery less order day over those that came."""
    assert np.isnan(two.flow_days()).all()
    rows = year.orders.query("order >= 3 and arrival_days < 300 and replication == 1 and delivered_days == delivered_days")
    assert year.flow_days(0, 300)[1] == pytest.approx((rows["delivered_days"] - rows["arrival_days"] // 1).mean())


def test_days_in_the_shop_within_a_shorter_horizon():
    """Asked for its first 150 days a year tells what a run of 150 days does; some orders are done later."""
    shop = small_workshop(2, 2, orders_per_day=5.0, delivery_lag_days=np.array([0, 9]), delivery_lag_from=np.array([0, 2, 2, 2, 2, 2, 2, 2]))
    short, long = (simulate(shop, open_orders(3), horizon_days=days, seed=1, replications=3) for days in (150, 365))
    assert np.array_equal(long.flow_days(0, 150, 150), short.flow_days(0, 150)) and (long.flow_days(0, 150) > short.flow_days(0, 150)).all()


def test_queue_days_by_hand(two):
    """The first waits from midnight to eight, the second to Thursday eight: mean (8 + 32) ÷ 2 h."""
    assert two.queue_days() == pytest.approx(np.full((2, 1), 20 / 24))


def test_waits_of_open_orders(two):
    """The same two waits, order by order."""
    assert two.open_waits[0, :, 0] == pytest.approx([8 / 24, 32 / 24])
