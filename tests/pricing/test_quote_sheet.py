"""The sheet to quote from: promise, days, deposit, another length."""

from datetime import date

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shoplib.pricing.costs import MakingCosts
from shoplib.pricing.lines import Lines
from shoplib.pricing.quote_sheet import ENOUGH_RUNS, at_length, promise_days, quote_sheet

LINE = "curb · 18k · 5 mm"


def lines(style="curb", alloy="18k"):
    table = pd.DataFrame({"line": [LINE], "style": [style], "alloy": [alloy], "g_per_cm": [2.0], "length_cm": [50.0], "weight_g": [100.0]})
    return Lines(table, np.array([[75.0]]), np.array([0]), False, ())


def sheet(metal=6612.5, price=7150.0, days=80.0, stands=30.0):
    costs = MakingCosts(np.array([9.5]), np.array([2.0]), np.array([190.0]), np.array([20.0]), "bench", 70.0)
    repriced = pd.DataFrame({"metal_now": [metal], "price_to_target": [price]})
    return quote_sheet(lines(), repriced, costs, np.array([stands]), np.array([days]), date(2026, 3, 27), 14, 5.0)


def runs(flow, style="curb", alloy="18k", n=ENOUGH_RUNS):
    return pd.DataFrame({"style": style, "alloy": alloy, "arrival_days": 3.4, "delivered_days": 3.0 + np.resize(flow, n)})


def test_the_price_is_metal_and_making_charge():
    """7,150 − 6,612.50 = 537.50 (worked by hand)."""
    assert sheet()["making_charge"].to_list() == [537.5]


def test_the_deposit_covers_the_metal_rounded_up():
    """6,612.50 to the next 5 (worked by hand)."""
    assert sheet()["deposit"].to_list() == [6615.0]


@given(st.floats(1, 50_000))
def test_no_deposit_is_below_the_metal(metal):
    """Whatever the metal costs."""
    assert sheet(metal)["deposit"].iloc[0] >= metal - 1e-3


def test_a_quote_stands_no_longer_than_the_shop_allows():
    """30 days by the metal, 14 by the shop's rule."""
    assert sheet()["valid_days"].to_list() == [14.0]


def test_the_promise_counts_from_today():
    """27 March and 80 days: 15 June 2026 (worked by hand)."""
    assert sheet()["promise_on"].to_list() == [pd.Timestamp("2026-06-15")]


def test_without_a_simulation_no_promise():
    """No date is made up."""
    assert sheet(days=np.nan)["promise_on"].isna().all()


def test_a_promise_holds_at_its_level():
    """Days 1 to 40 in 40 runs: 36 of them hold 36 days (worked by hand)."""
    assert promise_days(runs(np.arange(1, 41)), lines(), 0.9).tolist() == [36.0]


def test_few_runs_of_a_style_and_alloy_borrow_those_of_the_style():
    """10 runs of 18k at 99 days beside 40 of 14k at 30: the 50 of the style answer."""
    table = pd.concat([runs([99.0], n=10), runs([30.0], alloy="14k")])
    assert promise_days(table, lines(), 0.5).tolist() == [30.0]


def test_an_order_not_delivered_in_the_run_is_late():
    """Half of them are never seen again: no date holds 9 times in 10."""
    table = runs(np.where(np.arange(40) < 20, np.nan, 30.0))
    assert np.isnan(promise_days(table, lines(), 0.9)).all()


def test_another_length():
    """25 cm is half the weight, metal, hours and charge; 3,306.25 + 268.75 = 3,575 (worked by hand)."""
    one = at_length(sheet(), LINE, 25.0, 5.0).iloc[0]
    assert one[["weight_g", "metal", "hours", "price", "deposit"]].to_list() == [50.0, 3306.25, 4.75, 3575.0, 3310.0]


def test_a_line_that_is_not_there_gives_no_row():
    """The page says so."""
    assert at_length(sheet(), "rope", 25.0, 5.0).empty


@given(st.floats(1, 500))
def test_a_price_by_length_is_metal_and_charge(length):
    """To the cent, at any length."""
    one = at_length(sheet(), LINE, length, 5.0).iloc[0]
    assert one["metal"] + one["making_charge"] == pytest.approx(one["price"], abs=0.005)
