"""Groups of orders and the range of what they bring an hour. Values worked by hand; no source unless named."""

import numpy as np
import pandas as pd
import pytest

from shoplib.costing import group_table


def orders_of(contribution, hours, style="curb", **cells):
    n = len(contribution)
    plain = {"style": style, "alloy": "18k", "customer_type": "trade", "metal_terms": "fixed", "making_charge": 10.0, "making_margin": 5.0, "hours": 9.0}
    return pd.DataFrame(plain | {"contribution": np.array(contribution, float), "limiting_hours": np.array(hours, float)} | cells, index=range(n))


def styles(orders):
    table = group_table(orders)
    return table[table["by"] == "style"].set_index("group")


def test_contribution_per_limiting_hour_is_a_ratio_of_sums():
    """(100 + 500) ÷ (1 + 4), not the mean of 100 and 125."""
    assert styles(orders_of([100, 500], [1, 4])).loc["curb", "contribution_per_limiting_hour"] == 120.0


def test_the_range_is_that_of_a_mean_when_hours_are_equal():
    """Four orders of one hour: mean 25, s = 12.90994, t(3; 0.9) = 1.637744 (tables of Student's t): 25 ± 10.5716."""
    found = styles(orders_of([10, 20, 30, 40], [1, 1, 1, 1])).loc["curb"]
    assert found[["low", "high"]].tolist() == pytest.approx([14.4284, 35.5716], abs=1e-4)


def test_a_single_order_has_no_range():
    """One order tells no spread."""
    assert styles(orders_of([100], [2])).loc["curb", ["low", "high"]].isna().all()


def test_without_limiting_hours_there_is_no_figure():
    """Missing, not infinite."""
    found = styles(orders_of([100, 200], [0, 0])).loc["curb"]
    assert found[["contribution_per_limiting_hour", "low", "high", "rank"]].isna().all()


def test_only_groups_of_five_orders_are_ranked():
    """Four ropes bring more and have no rank."""
    table = styles(pd.concat([orders_of([100] * 5, [1] * 5), orders_of([900] * 4, [1] * 4, "rope")], ignore_index=True))
    assert table["rank"].fillna(0).to_dict() == {"curb": 1.0, "rope": 0.0}


def test_the_best_group_ranks_first():
    """Ropes bring 120 an hour, curbs 100."""
    table = styles(pd.concat([orders_of([100] * 5, [1] * 5), orders_of([120] * 5, [1] * 5, "rope")], ignore_index=True))
    assert table["rank"].to_dict() == {"rope": 1.0, "curb": 2.0}


def test_an_order_without_alloy_stands_under_its_style():
    """A repair of a curb: no alloy row, and the style alone among style × alloy."""
    table = group_table(orders_of([100], [1], alloy=None))
    assert table.loc[table["by"].isin(["alloy", "style_alloy"]), ["by", "group"]].to_numpy().tolist() == [["style_alloy", "curb"]]


def test_every_order_is_in_one_group_of_each_kind():
    """Sums over styles, alloys and terms are the sums of the orders."""
    table = group_table(pd.concat([orders_of([100] * 5, [1] * 5), orders_of([120] * 3, [1] * 3, "rope")], ignore_index=True))
    assert table.groupby("by")["n"].sum().to_dict() == dict.fromkeys(["style", "alloy", "style_alloy", "customer_type", "metal_terms"], 8)


def test_one_kind_of_group_asked_for_is_that_of_the_whole_table():
    """The same rows alone as among all."""
    orders = pd.concat([orders_of([100] * 5, [1] * 5), orders_of([120] * 3, [1] * 3, "rope")], ignore_index=True)
    whole = group_table(orders)
    pd.testing.assert_frame_equal(group_table(orders, ["style_alloy"]), whole[whole["by"] == "style_alloy"].reset_index(drop=True))


def test_no_orders_give_an_empty_table():
    """All columns, no row."""
    table = group_table(orders_of([], []))
    assert (len(table), "contribution_per_limiting_hour" in table) == (0, True)


@pytest.mark.parametrize("n", [6, 40])
def test_the_range_holds_the_truth_eight_times_in_ten(n):
    """2,000 groups drawn from one law with hours 1 to 5 and truth 60 an hour; coverage 0.8 within three standard errors."""
    luck, draws = np.random.default_rng(5), 2000
    hours = luck.uniform(1, 5, (draws, n))
    earned = 60 * hours + luck.normal(0, 20, (draws, n))
    parts = [orders_of(earned[k], hours[k], f"s{k}") for k in range(draws)]
    table = styles(pd.concat(parts, ignore_index=True))
    inside = ((table["low"] <= 60) & (table["high"] >= 60)).mean()
    assert abs(inside - 0.8) < 3 * np.sqrt(0.8 * 0.2 / draws) + 0.01
