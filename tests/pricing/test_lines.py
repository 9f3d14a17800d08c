"""The usual piece of each line, and which line an order belongs to."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shoplib.costing import cost
from shoplib.pricing.lines import line_name, line_of_orders, lines_of, needed_grams

from .shops import AS_OF, market, tiny

LOSS = {"18k": 0.01, "18k white": 0.01, "925": 0.0}


def listed(style="curb", alloy="18k", width=5.0, per_cm=2.0, by_cm=None, by_g=70.0, struck="2026-01-05"):
    return {
        "style": style, "alloy": alloy, "width_mm": width, "weight_g_per_cm": per_cm, "price_per_cm": by_cm, "price_per_g": by_g,
        "struck_on": struck,
    }  # fmt: skip


def sold(number, length=45.0, grams=90.0, width=5.0, alloy="18k", price=7000.0, style="curb"):
    return {
        "order_id": f"N{number}", "ordered_on": "2026-02-02", "style": style, "alloy": alloy, "price": price, "quoted_weight_g": grams,
        "length_cm": length, "width_mm": width, "delivered_on": "2026-03-02", "finished_weight_g": grams,
    }  # fmt: skip


def lines(price_list, orders=()):
    shop = tiny(price_list=price_list, orders=orders)
    return lines_of(shop, cost(shop, AS_OF).known, market(shop), LOSS)


def test_the_usual_piece_has_the_median_length():
    """40, 45, 60 cm sold at 2 g a cm: 45 cm, 90 g, at 70 a gram 6,300 (worked by hand)."""
    one = lines([listed()], [sold(k, cm, 2 * cm) for k, cm in enumerate((40.0, 45.0, 60.0))]).table.iloc[0]
    assert one[["length_cm", "weight_g", "price_now", "pieces_12_months"]].to_list() == [45.0, 90.0, 6300.0, 3.0]


def test_a_line_never_sold_is_50_cm():
    """2 g a cm × 50 cm × 70 = 7,000 (worked by hand)."""
    one = lines([listed()]).table.iloc[0]
    assert (one["length_cm"], one["price_now"], one["told_by"]) == (50.0, 7000.0, "50 cm")


def test_a_price_by_the_cm():
    """50 cm × 150 a cm = 7,500 (worked by hand)."""
    assert lines([listed(by_cm=150.0, by_g=None)]).table["price_now"].to_list() == [7500.0]


def test_an_order_belongs_to_the_nearest_width():
    """Widths 5 and 7 in the list; 6.5 mm sold goes to 7."""
    table = lines([listed(width=5.0), listed(width=7.0)], [sold(1, width=6.5)]).table
    assert table["pieces_12_months"].to_list() == [0.0, 1.0]


def test_the_price_struck_last_stands():
    """A line listed twice keeps its newer price, and the older one is told."""
    found = lines([listed(by_g=70.0), listed(by_g=77.0, struck="2026-02-05")])
    assert found.table["list_price"].to_list() == [77.0] and [one.code for one in found.findings] == ["older_prices"]


def test_a_price_struck_tomorrow_is_not_in_the_list():
    """A list for next month does not move today's."""
    assert lines([listed(by_g=70.0), listed(by_g=99.0, struck="2026-04-01")]).table["list_price"].to_list() == [70.0]


def test_a_line_whose_metal_nobody_can_tell_is_left_out():
    """A price by the cm, no weight of a cm and never sold: left out, and told."""
    found = lines([listed(), listed(style="rope", per_cm=None, by_cm=150.0, by_g=None)])
    assert found.table["style"].to_list() == ["curb"] and [one.code for one in found.findings] == ["line_without_weight"]


def test_without_a_list_the_making_charge_of_the_last_orders_is_carried():
    """7,000 for 90 g with 0.75 × 1.01 × 80 a gram of metal: that charge a gram on the last metal price is 7,000 ÷ 90 (worked by hand)."""
    found = lines([], [sold(1)])
    assert found.from_orders and found.table["list_price"].to_list() == pytest.approx([7000.0 / 90.0])


def test_grams_of_each_metal():
    """20 g of white gold: 20 × 0.75 × 1.01 of gold, 20 × 0.125 × 1.01 of palladium (worked by hand)."""
    shop, here = tiny(), market()
    alloys = {alloy.code: alloy for alloy in shop.settings.alloys}
    grams = dict(zip(here.metals, needed_grams(["18k white"], np.array([20.0]), alloys, here, LOSS)[0], strict=True))
    assert grams == pytest.approx({"gold": 15.15, "silver": 0.0, "palladium": 2.525})


@given(st.lists(st.floats(1, 20), min_size=1, max_size=8), st.lists(st.floats(1, 20), min_size=1, max_size=4, unique=True))
def test_no_other_line_is_nearer(widths, lines_mm):
    """Whatever the widths: the line found is as near as the nearest."""
    orders = pd.DataFrame({"style": "curb", "alloy": "18k", "width_mm": widths, "per_cm": np.nan})
    table = pd.DataFrame({"style": "curb", "alloy": "18k", "width_mm": lines_mm, "g_per_cm": np.nan})
    found = line_of_orders(orders, table)
    apart = np.abs(np.array(widths)[:, None] - np.array(lines_mm))
    assert apart[np.arange(len(widths)), found].tolist() == apart.min(axis=1).tolist()


def test_an_order_of_another_alloy_belongs_to_no_line():
    """−1: not counted anywhere."""
    orders = pd.DataFrame({"style": ["curb"], "alloy": ["925"], "width_mm": [5.0], "per_cm": [2.0]})
    table = pd.DataFrame({"style": ["curb"], "alloy": ["18k"], "width_mm": [5.0], "g_per_cm": [2.0]})
    assert line_of_orders(orders, table).tolist() == [-1]


def test_a_line_without_width_is_named_by_style_and_alloy():
    """No "nan mm" on a sheet that hangs in the shop."""
    assert [line_name("curb", "18k", width) for width in (np.nan, 6.5)] == ["curb · 18k", "curb · 18k · 6.5 mm"]
