"""The flow of the invented workshop in data_demo hangs together."""

from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from shoplib.flow.months import month_table
from shoplib.flow.state_at import open_orders
from shoplib.flow.visits import History, history
from shoplib.intake import Shop, as_of, load

DEMO = Path(__file__).parents[2] / "data_demo"


@pytest.fixture(scope="module")
def shop() -> Shop:
    """Return the invented workshop as read from its files."""
    return load(DEMO)


@pytest.fixture(scope="module")
def seen(shop: Shop) -> History:
    """Return all its cards tell."""
    return history(shop, as_of(shop))


def test_hours_of_visits_are_the_hours_on_the_cards(seen):
    """Every hour booked on an order at a stage is in one visit."""
    on_orders = (seen.booked["order"] >= 0) & (seen.booked["stage"] >= 0)
    assert seen.visits["hours"].sum() == pytest.approx(seen.booked.loc[on_orders, "hours"].sum())


def test_months_count_every_order(seen):
    """In, out and open add up over all months."""
    table, orders = month_table(seen, None), seen.shop["orders"]
    counted = table[["orders_in", "orders_out", "cancelled"]].sum().tolist()
    assert counted == [len(orders), orders["delivered_on"].notna().sum(), orders["cancelled_on"].notna().sum()]


def test_an_order_never_begins_a_stage_before_it_was_taken(seen):
    """No visit starts before its order's day, but in the one order that is doubted as delivered before it was ordered."""
    ordered = seen.shop["orders"]["ordered_on"].to_numpy()[seen.visits["order"].to_numpy()]
    early = seen.visits.loc[seen.visits["started"].to_numpy() < ordered, "order"]
    assert set(early) <= set(np.flatnonzero(seen.shop["orders"]["delivered_on"] < seen.shop["orders"]["ordered_on"]))


@pytest.mark.parametrize("weeks", [2, 21, 40, 59])
def test_what_was_known_then_agrees_with_what_came_after(shop, seen, weeks):
    """On a past day at least 95 of 100 open orders stand on or off the bench as their later cards show."""
    day = as_of(shop) - timedelta(weeks=weeks, days=3)
    then = open_orders(history(shop, day)).set_index("order_id")
    evening = pd.Timestamp(day) + pd.Timedelta(days=1)
    begun = seen.visits[seen.visits["started"] < evening].drop_duplicates("order", keep="last").set_index("order_id")
    runs = (begun["last_at"] >= evening).reindex(then.index, fill_value=False)
    assert np.mean(then["running"] == runs) >= 0.95


def test_the_future_moves_nothing(shop):
    """Visits seen on a past day are the same with every later row taken out by hand."""
    day = date(2026, 3, 20)
    labour, orders = shop["labour"], shop["orders"]
    past = {
        "labour": labour[labour["date"] <= pd.Timestamp(day)].reset_index(drop=True),
        "orders": orders[orders["ordered_on"] <= pd.Timestamp(day)].reset_index(drop=True),
    }
    cut = Shop(shop.settings, {**shop.tables, **past}, shop.rejected, shop.doubted)
    pd.testing.assert_frame_equal(history(shop, day).visits, history(cut, day).visits)
