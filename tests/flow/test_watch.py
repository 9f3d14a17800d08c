"""What is watched month by month. Values worked by hand; no source."""

from datetime import date

import numpy as np
import pandas as pd
import pytest

from shoplib.flow.visits import history
from shoplib.flow.watch import chart_table

from .shops import entry, order, shop_of


def charts(months=10, bad=None):
    """Return the chart table of a shop that solders four pieces of 40 g a month; in month `bad` each loses five times as much."""
    orders, rows = [], []
    for month in range(months):
        day = str(np.datetime64("2025-01", "M") + month)
        for n in range(4):
            name = f"{month}-{n}"
            orders.append(order(name, f"{day}-02", delivered_on=f"{day}-20", finished_weight_g=41.0))
            lost = (0.04 + 0.001 * n + 0.002 * (month % 2)) * (5 if month == bad else 1)
            rows.append(entry(name, "solder", "A", f"{day}-06", 2.0, weight_in_g=40.0, weight_out_g=40.0 - lost))
    last = (np.datetime64("2025-01", "M") + months).astype("datetime64[D]") - 1
    return chart_table(history(shop_of(orders=orders, labour=rows), last.astype(date)))


def of(table, measure, item="solder"):
    """Return the rows of one chart."""
    return table[(table["measure"] == measure) & (table["item"] == item)].reset_index(drop=True)


def test_loss_per_mille():
    """0.166 g of 160 g in the first month."""
    assert of(charts(), "loss_permille")["value"][0] == pytest.approx(1000 * 0.166 / 160)


def test_a_month_of_heavy_loss_is_unusual():
    """Five times the loss in the seventh month."""
    found = of(charts(bad=6), "loss_permille")
    assert found.index[found["unusual"]].tolist() == [6]


def test_an_even_shop_shows_nothing_unusual():
    """Small differences are noise."""
    assert not charts()["unusual"].any()


def test_seven_months_are_not_judged():
    """Too short a past to call anything unusual."""
    found = of(charts(7, bad=6), "loss_permille")
    assert found["upper"].isna().all() and not found["unusual"].any()


def test_weight_over_quote_by_style_and_over_all():
    """41 g delivered for 40 g quoted."""
    table = charts()
    assert [of(table, "weight_over_quote", item)["value"][0] for item in ("curb", "all styles")] == pytest.approx([1.025, 1.025])


def test_hours_per_gram():
    """2 h on 41 g."""
    assert of(charts(), "hours_per_g")["value"][0] == pytest.approx(2 / 41)


def test_right_first_time():
    """Nothing was sent back."""
    assert of(charts(), "first_pass")["value"].tolist() == [1.0] * 10


def test_a_running_month_is_left_out():
    """Seen on 10 March, January and February stand."""
    orders = [order(str(n), "2026-01-02", delivered_on=f"2026-0{1 + n // 4}-05", finished_weight_g=40.0) for n in range(12)]
    found = chart_table(history(shop_of(orders=orders), date(2026, 3, 10)))
    assert of(found, "weight_over_quote", "curb")["month"].tolist() == [pd.Timestamp("2026-01-01"), pd.Timestamp("2026-02-01")]


def test_a_month_of_two_pieces_has_no_value():
    """Under three pieces a month tells nothing."""
    orders = [order(str(n), "2026-01-02", delivered_on="2026-01-05", finished_weight_g=40.0) for n in range(2)]
    assert of(chart_table(history(shop_of(orders=orders), date(2026, 1, 31))), "weight_over_quote", "curb")["value"].isna().all()


def test_an_empty_shop_keeps_the_columns():
    """No orders, no rows."""
    found = chart_table(history(shop_of(), date(2026, 1, 31)))
    assert not len(found) and list(found.columns)[:3] == ["measure", "item", "month"]
