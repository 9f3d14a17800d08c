"""Cost of capital against a sum day by day. Values worked by hand; no source."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shoplib.costing.capital import capital_cost, payment_days
from shoplib.costing.spot import Spot
from shoplib.settings import Policy
from tests.flow.shops import table_of

DAYS = np.arange("2026-01-01", "2026-07-01", dtype="datetime64[D]")
NEVER = np.datetime64("NaT", "D")


def orders_of(issued, closed, deposit):
    days = {name: np.array(values, dtype="datetime64[s]") for name, values in (("issued_on", issued), ("closed_on", closed))}
    return pd.DataFrame({"order_id": [f"o{n}" for n in range(len(issued))], "metal": "gold", "deposit": deposit, **days})


def cost_of(table, held, prices, paid=None, borrowed=0.0):
    paid = np.full(len(table), NEVER) if paid is None else paid
    spot = Spot({"gold": DAYS}, {"gold": prices})
    return capital_cost(table, np.array(held, float), np.full(len(table), borrowed), paid, spot, DAYS[-1], Policy())


def test_capital_of_an_order_worked_by_hand():
    """28 days × (37.5 g × 94 − 1,500) × 8 % ÷ 365 ≈ 12.4274."""
    table = orders_of(["2026-02-01"], ["2026-03-01"], [1500.0])
    assert cost_of(table, [37.5], np.full(len(DAYS), 94.0)) == pytest.approx([12.4274], abs=5e-5)


def test_a_deposit_above_the_metal_costs_nothing_and_earns_nothing():
    """Not below 0 on any day."""
    assert cost_of(orders_of(["2026-02-01"], ["2026-03-01"], [9999.0]), [37.5], np.full(len(DAYS), 94.0)).tolist() == [0.0]


def test_customers_metal_ties_up_no_capital():
    """No gram of the shop's in it."""
    assert cost_of(orders_of(["2026-02-01"], ["2026-03-01"], [0.0]), [0.0], np.full(len(DAYS), 94.0)).tolist() == [0.0]


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 150), st.integers(0, 30), st.floats(0.1, 80), st.floats(0, 4000)), min_size=1, max_size=6), st.integers(0, 99))
def test_the_sum_day_by_day_is_the_same(orders, seed):
    """Against a plain loop over days, with spot that wanders across the deposit."""
    prices = 50 * np.exp(np.cumsum(np.random.default_rng(seed).normal(0, 0.05, len(DAYS))))
    table = orders_of([DAYS[s] for s, *_ in orders], [DAYS[s + d] for s, d, *_ in orders], [paid for *_, paid in orders])
    direct = [sum(max(0.0, g * prices[day] - paid) for day in range(s, s + d)) * 0.08 / 365 for s, d, g, paid in orders]
    assert cost_of(table, [g for _, _, g, _ in orders], prices) == pytest.approx(direct, rel=1e-9, abs=1e-9)


def test_capital_lies_in_an_order_until_it_is_paid():
    """Paid on 11 March, delivered on the first: ten days more."""
    table = orders_of(["2026-02-01"], ["2026-03-01"], [0.0])
    paid = payment_days(table, table_of("payments", [{"order_id": "o0", "date": "2026-03-11", "amount": 100.0}]))
    assert cost_of(table, [10.0], np.full(len(DAYS), 100.0), paid) == pytest.approx([38 * 1000 * 0.08 / 365])


def test_a_deposit_is_not_the_last_payment():
    """The only payment known came in before delivery: the day of delivery counts."""
    table = orders_of(["2026-02-01"], ["2026-03-01"], [0.0])
    assert np.isnat(payment_days(table, table_of("payments", [{"order_id": "o0", "date": "2026-02-11", "amount": 100.0}]))).all()
