"""The balance between counts and over all."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shoplib.metal.balance import IN, OUT, OVER_ALL, until
from tests.costing import random_shops
from tests.flow.shops import order

from .shops import AS_OF, metals, piece, row, shop, weighed

SUMS = [name for name in (*IN, *OUT) if name not in ("opening", "closing", "in_process", "in_process_opening")]


def test_running_totals_leave_out_rows_without_a_day():
    """Totals in the evenings of the 1st, 2nd and 3rd: 1, 1, 4; the row without a day counts nowhere (worked by hand)."""
    days = np.array(["2026-01-03", "NaT", "2026-01-01"], dtype="datetime64[D]")
    ends = np.array(["2026-01-01", "2026-01-02", "2026-01-03"], dtype="datetime64[D]")
    assert until(days, np.array([3.0, 9.0, 1.0]), ends).tolist() == [1.0, 1.0, 4.0]


def balance(ledger, orders=(), labour=()):
    return metals(shop(list(orders), list(labour), ledger)).metals[0].balance


def test_a_purchase_and_a_sale_balance():
    """100 + 50 − 20 = 130 counted: nothing unexplained."""
    ledger = [
        row("2026-01-31", "stock_count", 100),
        row("2026-02-03", "bought", 50),
        row("2026-02-09", "sold", 20),
        row("2026-02-28", "stock_count", 130),
    ]
    assert balance(ledger).rows["unexplained"].iloc[0] == pytest.approx(0.0, abs=1e-12)


def test_a_movement_on_the_day_of_a_count_is_before_the_count():
    """Bought on the day of the second count: it is in the first balance, not in the next."""
    ledger = [
        row("2026-01-31", "stock_count", 100),
        row("2026-02-28", "bought", 50),
        row("2026-02-28", "stock_count", 150),
        row("2026-03-30", "stock_count", 150),
    ]
    assert balance(ledger).rows["bought"].tolist()[:2] == [50.0, 0.0]


def test_alloys_and_metals_of_one_count_are_added():
    """80 g of 18k and 40 g fine are 100 g fine."""
    ledger = [
        row("2026-01-31", "stock_count", 80, "18k", None),
        row("2026-01-31", "stock_count", 40),
        row("2026-02-28", "stock_count", 100),
    ]
    assert balance(ledger).rows["opening"].iloc[0] == pytest.approx(100.0)


def test_without_a_count_unexplained_is_not_told():
    """A ledger of purchases alone: one row over all, nothing unexplained is told."""
    rows = balance([row("2026-02-03", "bought", 50)]).rows
    assert (len(rows), bool(rows["unexplained"].isna().all()), rows["bought"].iloc[0]) == (1, True, 50.0)


def test_without_a_ledger_the_job_cards_tell_what_was_delivered():
    """One piece of 48 g of 18k: 36 g fine since the first metal was given out; nothing unexplained is told."""
    rows = balance([], [piece("A1", 48.0, "2026-02-10")], [weighed("A1", "melt", "2026-01-20", 50.0, 49.0)]).rows
    assert (rows["delivered"].tolist(), rows["unexplained"].isna().all()) == ([36.0], True)


def test_since_the_last_count_nothing_is_told_yet():
    """After the last count the row stays open: no closing, no unexplained."""
    last = balance([row("2026-01-31", "stock_count", 100), row("2026-02-28", "stock_count", 100)]).rows.iloc[-1]
    assert np.isnan(last["closing"]) and np.isnan(last["unexplained"])


def test_a_ledger_that_begins_mid_life_counts_what_is_on_the_benches():
    """An order given out before the first count stands in its opening, in process, and balances when it is delivered."""
    orders, labour = [piece("old", 48.0, "2026-02-10")], [weighed("old", "melt", "2026-01-20", 50.0, 49.0)]
    rows = balance([row("2026-01-31", "stock_count", 100), row("2026-02-28", "stock_count", 100)], orders, labour).rows
    assert rows["in_process_opening"].iloc[0] == pytest.approx(0.75 * 49.0)
    assert rows["unexplained"].iloc[0] == pytest.approx(0.0, abs=1e-9)


def test_metal_taken_from_the_safe_is_missing():
    """10 g less than the ledger says: 10 g unexplained, positive."""
    assert balance([row("2026-01-31", "stock_count", 100), row("2026-02-28", "stock_count", 90)]).rows["unexplained"].iloc[
        0
    ] == pytest.approx(10.0)


def test_an_assumed_loss_widens_the_range():
    """The same order without weights: its loss is assumed, and the range grows."""
    ledger = [row("2026-01-31", "stock_count", 1000), row("2026-02-28", "stock_count", 900)]
    orders = [piece("one", 100.0, "2026-02-20", quoted_weight_g=100.0)]
    told = balance(ledger, orders, [weighed("one", "melt", "2026-02-02", 103.0, 100.0)])
    guessed = balance(ledger, orders, [weighed("one", "melt", "2026-02-02")])
    assert guessed.tolerances[0].assumed > 0 == told.tolerances[0].assumed


@given(st.integers(0, 400))
@settings(max_examples=4, deadline=None)
def test_the_parts_add_up_to_the_whole(seed):
    """Each flow over all counts is the sum of its balances between counts; so is what is unexplained."""
    found = random_shops.random_shop(seed)
    for one in metals_of(found):
        rows = one.balance.rows
        whole = rows[rows["span"] == OVER_ALL]
        between = rows.iloc[one.balance.between]
        if len(between):
            assert between[[*SUMS, "unexplained"]].sum().to_numpy() == pytest.approx(
                whole[[*SUMS, "unexplained"]].iloc[0].to_numpy(float), abs=1e-6
            )


def metals_of(found):
    from shoplib.costing import cost
    from shoplib.intake import until as known
    from shoplib.metal.whole import whole

    seen = known(found, random_shops.AS_OF)
    return whole(seen, cost(seen, random_shops.AS_OF)).metals


def test_a_fresh_shop_without_anything_has_no_metal():
    """No orders delivered, no ledger: no metal is balanced."""
    assert metals(shop([order("one", "2026-03-02")], [])).metals == ()


def test_as_of_is_the_last_evening():
    """The open balance runs to the as-of date."""
    rows = balance([row("2026-01-31", "stock_count", 100)]).rows
    assert rows["to"].iloc[-1].date() == AS_OF
