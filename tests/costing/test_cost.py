"""Facts that hold in any shop: what is earned agrees with the pool's own entries, and nothing is lost on the way."""

import math
from dataclasses import replace
from datetime import date, timedelta
from functools import cache

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shoplib.costing import bridge, bridges, cost, group_table
from shoplib.costing.metal_pool import COLUMNS as POOL_COLUMNS
from shoplib.costing.open_orders import COLUMNS as OPEN_COLUMNS
from tests.flow.shops import order, shop_of

from .random_shops import AS_OF, random_shop

SEEDS = st.integers(0, 19)
"""Twenty shops, each costed once for all the properties; none of them was chosen."""
COSTS = ["metal_at_fix", "metal_lost", "other_metals", "findings", "labour", "rework_labour", "stones", "outwork"]
CENT = 0.005


every_shop = settings(max_examples=15, deadline=None)


@cache
def costing_of(seed):
    """Return the costing of one random shop."""
    return cost(random_shop(seed), AS_OF)


def closed(costing):
    return pd.concat([costing.orders, costing.cancelled], ignore_index=True)


def charged(costing):
    """Return what the pool's own entries charged each order with, money; parts of alloys apart."""
    main = costing.pool[~costing.pool["kind"].str.startswith("part_")]
    return main.groupby("order_id")["orders"].sum()


@every_shop
@given(SEEDS)
def test_making_margin_is_price_and_metal_billed_less_every_cost(seed):
    """The sum of the order's own columns is its making margin."""
    orders = closed(costing_of(seed))
    left = orders["price"] + orders["metal_billed"] - orders[COSTS].sum(axis=1)
    assert left.to_numpy() == pytest.approx(orders["making_margin"].to_numpy(), abs=1e-6)


@every_shop
@given(SEEDS)
def test_both_margins_agree_with_the_pools_own_entries_order_by_order(seed):
    """Making margin + metal result = price + metal billed − what the pool charged − all other costs, to the cent."""
    costing = costing_of(seed)
    orders = closed(costing)
    other = orders[[name for name in COSTS if name not in ("metal_at_fix", "metal_lost")]].sum(axis=1)
    direct = orders["price"] + orders["metal_billed"] - other - orders["order_id"].map(charged(costing)).fillna(0.0)
    both = orders["making_margin"] + orders["metal_result"]
    assert np.abs(direct - both).max() <= CENT if len(orders) else True
    assert math.fsum(direct) == pytest.approx(math.fsum(orders["book_margin"]), abs=CENT)


@every_shop
@given(SEEDS)
def test_move_and_premium_are_the_whole_metal_result(seed):
    """The two parts of the metal result leave nothing over."""
    orders = closed(costing_of(seed))
    parts = orders["metal_result_move"] + orders["metal_result_premium"]
    assert parts.to_numpy() == pytest.approx(orders["metal_result"].to_numpy(), abs=1e-6)


@every_shop
@given(SEEDS)
def test_no_movement_of_the_pool_loses_money(seed):
    """pool + orders + filings + refiner − owed = paid + correction in every movement, and in what stands at the end."""
    pool = costing_of(seed).pool
    held = pool["pool"] + pool["orders"] + pool["filings"] + pool["refiner"] - pool["owed"]
    assert held.to_numpy(float) == pytest.approx((pool["paid"] + pool["correction"]).to_numpy(float), abs=1e-6)
    for _, rows in pool.groupby("metal"):
        assert rows["pool"].sum() == pytest.approx(rows["pool_cost"].iloc[-1], abs=1e-6)


@every_shop
@given(SEEDS)
def test_the_bridge_sums_in_whole_cents(seed):
    """The eight causes are whole cents and add to the difference of the two months' making margins in whole cents."""
    orders = costing_of(seed).orders
    months = orders["delivered_on"].to_numpy("datetime64[M]").astype(str)
    for month, base in (("2026-04", "2026-03"), ("2026-05", "2026-01"), ("2026-03", "2025-03")):
        amounts = bridge(orders, month, base)["amount"].to_numpy() * 100
        assert amounts == pytest.approx(np.round(amounts), abs=1e-6)
        now, then = (orders.loc[months == name, "making_margin"].sum() for name in (month, base))
        assert abs(amounts.sum() - 100 * (now - then)) <= 1.0 + 1e-6


@every_shop
@given(SEEDS)
def test_the_months_hold_every_order_and_correction_once(seed):
    """Summed over the months: orders, book margins, cancelled orders and corrections are those of the tables."""
    costing = costing_of(seed)
    months = costing.months
    told = months[["orders", "book_margin", "cancelled", "corrections"]].sum().tolist()
    parts = [len(costing.orders), *(frame[c].sum() for frame, c in _amounts(costing))]
    assert told == pytest.approx(parts, abs=1e-6)


def _amounts(costing):
    return (costing.orders, "book_margin"), (costing.cancelled, "book_margin"), (costing.corrections, "amount")


@every_shop
@given(SEEDS)
def test_the_result_of_a_month_is_what_the_columns_say(seed):
    """result = book margin + corrections + cancelled − unbooked pay − overheads."""
    months = costing_of(seed).months
    result = months["book_margin"] + months["corrections"] + months["cancelled"] - months["unbooked_pay"] - months["overheads"]
    assert result.to_numpy() == pytest.approx(months["result"].to_numpy(), abs=1e-9)


@every_shop
@given(SEEDS)
def test_all_pay_is_borne_by_orders_or_unbooked(seed):
    """Wages by the calendar, overtime and premium of the hired person = labour of all orders, but owner's and standard, + unbooked."""
    shop = random_shop(seed)
    costing = costing_of(seed)
    hired = costing.labour[(costing.labour["worker"] == 0) & (costing.labour["day"] <= pd.Timestamp(AS_OF))]
    paid = wages(costing, shop) + (hired["overtime_h"] * hired["rate"] + hired["premium"]).sum()
    standard = costing.labour.loc[costing.labour["row"] == 0, "cost"].sum()
    borne = (costing.known["labour"] + costing.known["rework_labour"] - costing.known["owner_labour"]).sum() - standard
    # Standard hours, of orders without a card, count as booked: they were somebody's paid hours.
    assert borne + costing.months["unbooked_pay"].sum() + standard == pytest.approx(paid, abs=1e-6)


def wages(costing, shop):
    """Return the pay of the one hired person from the first day on record to the as-of day, worked day by day."""
    booked = costing.labour.loc[costing.labour["row"] > 0, "day"]
    first = min([shop["orders"]["ordered_on"].min(), booked.min(), pd.Timestamp(AS_OF)], key=lambda day: (pd.isna(day), day))
    days = pd.date_range(first, AS_OF)
    wage = np.where(days < "2026-03-01", 19.0, 20.0) * 1.2
    return float((8.0 * wage * (days.day_of_week < 5)).sum())


@settings(max_examples=8, deadline=None)
@given(SEEDS, st.integers(20, 170))
def test_what_happens_later_moves_nothing(seed, days):
    """Every row dated after the as-of day may be changed or left out: the costing stays the same."""
    shop, as_of = random_shop(seed), date(2026, 1, 1) + timedelta(days=days)
    whole, cut = cost(shop, as_of, "solder"), cost(_without_later(shop, as_of), as_of, "solder")
    for name in ("orders", "cancelled", "open_orders", "months", "corrections"):
        left, right = getattr(whole, name), getattr(cut, name)
        pd.testing.assert_frame_equal(left.drop(columns="row", errors="ignore"), right.drop(columns="row", errors="ignore"), check_dtype=False)


def _without_later(shop, as_of):
    """Return the shop with later rows gone and later days of orders changed."""
    end = pd.Timestamp(as_of)
    tables = dict(shop.tables)
    for name, column in (("metal_ledger", "date"), ("metal_prices", "date"), ("payments", "date"), ("labour", "date"), ("metal_book", "to")):
        tables[name] = tables[name][tables[name][column] <= end].reset_index(drop=True)
    orders = tables["orders"][tables["orders"]["ordered_on"] <= end].reset_index(drop=True)
    for column in ("delivered_on", "cancelled_on"):
        later = orders[column] > end
        orders[column] = orders[column].where(~later, orders[column] + pd.Timedelta(days=9))
    changed = orders["delivered_on"] > end
    orders["finished_weight_g"] = orders["finished_weight_g"].where(~changed, 1.0)
    return replace(shop, tables=tables | {"orders": orders})


@settings(max_examples=8, deadline=None)
@given(SEEDS)
def test_a_past_months_corrections_are_never_restated(seed):
    """Corrections known at the end of March are the same seen from June, for pools whose first count is not still to come."""
    shop = random_shop(seed)
    then, now = cost(shop, date(2026, 3, 31)), costing_of(seed)
    opened = {metal for metal in ("gold", "silver", "palladium") if first_count(then, metal) == first_count(now, metal)}
    past = now.corrections[now.corrections["month"] <= "2026-03"]
    left, right = (told.loc[told["metal"].isin(opened), "amount"].sum() for told in (then.corrections, past))
    assert left == pytest.approx(right, abs=1e-6)


def first_count(costing, metal):
    counts = costing.pool[(costing.pool["kind"] == "stock_count") & (costing.pool["metal"] == metal)]
    return None if counts.empty else counts["date"].min()


@every_shop
@given(SEEDS)
def test_no_table_holds_an_infinite_number(seed):
    """Ratios without a divisor are missing, never infinite."""
    costing = costing_of(seed)
    for frame in (costing.orders, costing.open_orders, costing.months, group_table(costing.orders)):
        assert not np.isinf(frame.select_dtypes("number").to_numpy(float)).any()


def test_the_same_shop_gives_the_same_costing():
    """Two runs agree to the last bit."""
    shop = random_shop(7)
    pd.testing.assert_frame_equal(cost(shop, AS_OF).orders, cost(shop, AS_OF).orders)


def test_tables_keep_their_columns_in_a_shop_without_orders():
    """An as-of day before the first order gives empty tables, not an error."""
    costing = cost(random_shop(1), date(2025, 12, 31))
    assert (len(costing.orders), list(costing.open_orders), set(POOL_COLUMNS) <= set(costing.pool)) == (0, list(OPEN_COLUMNS), True)


def test_bridges_compare_with_last_month_and_a_year_ago():
    """Two comparisons of eight causes a month."""
    table = bridges(cost(random_shop(3), AS_OF).orders, ["2026-05"])
    assert table["compared_with"].tolist() == ["2026-04"] * 8 + ["2025-05"] * 8


def bare(*orders):
    """Return the costing of a shop that has orders and spot only: no card, no ledger, no wage."""
    prices = [{"date": "2026-01-01", "metal": "gold", "price": 100.0, "per": "g", "currency": "EUR"}]
    toml = '[shop]\nname = "Bare"\ncurrency = "EUR"\n[[alloys]]\ncode = "18k"\nmetal = "gold"\nfineness = 750\n'
    return cost(shop_of(toml, orders=orders, metal_prices=prices), date(2026, 3, 31))


def test_orders_and_spot_alone_give_a_making_margin():
    """1,000 − 22.5 g × 100 − loss by policy; no labour is known, which a finding says."""
    costing = bare(order("x", finished_weight_g=30.0, delivered_on="2026-03-20"))
    lost = 2250 * 3 / 97 * (1 - 0.92 * 0.985)
    assert costing.orders["making_margin"].tolist() == pytest.approx([1000 - 2250 - lost])
    assert {"no_hours", "no_ledger"} <= {found.code for found in costing.findings}


def test_without_limiting_hours_contribution_an_hour_is_missing():
    """No hour anywhere: null, never infinite, and no limiting skill is named."""
    costing = bare(order("x", finished_weight_g=30.0, delivered_on="2026-03-20"))
    assert (costing.orders["contribution_per_limiting_hour"].isna().all(), costing.limiting_skill) == (True, None)


def test_a_price_of_nothing_is_a_loss_of_all_costs():
    """Price 0: minus the metal and its loss."""
    assert bare(order("x", price=0.0, finished_weight_g=30.0, delivered_on="2026-03-20")).orders["making_margin"].iloc[0] < -2250


def test_a_shop_with_nothing_delivered_has_no_orders_but_open_ones():
    """One open order: an empty table of orders, a month without any, one open row."""
    costing = bare(order("x"))
    assert (len(costing.orders), costing.months["orders"].tolist(), costing.open_orders["order_id"].tolist()) == (0, [0], ["x"])


def test_a_guarantee_is_costed_to_its_style():
    """A guarantee on a curb stands with the curbs: two orders, one price."""
    sold, back = order("x", finished_weight_g=30.0, delivered_on="2026-03-20"), order("g", kind="guarantee", alloy=None, price=0.0)
    table = group_table(bare(sold, back | {"quoted_weight_g": None, "delivered_on": "2026-03-25"}).orders)
    assert table.loc[table["by"] == "style", ["group", "n"]].to_numpy().tolist() == [["curb", 2]]
