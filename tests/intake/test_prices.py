"""Spot: the last price on or before a day, in shop currency per gram fine."""

import numpy as np
import pytest

from shoplib.intake import spot_on, spot_series
from shoplib.intake.prices import priced_metals
from shoplib.intake.spot import cadence, gaps

from .shops import ORDERS, said, shop


def test_the_last_price_on_or_before_a_day_stands(tmp_path):
    """92 on the 2nd, 93 on the 5th."""
    assert spot_on(shop(tmp_path), "gold", ["2026-01-02", "2026-01-04", "2026-01-05", "2027-01-01"]).tolist() == [92, 92, 93, 93]


def test_before_the_first_price_the_first_stands(tmp_path):
    """And the orders it concerns are counted."""
    made = shop(tmp_path, orders=ORDERS.replace("2026-01-05", "2025-12-30"))
    assert spot_on(made, "gold", "2025-12-30").tolist() == [92] and "1 order placed" in said(made, "before_first_price")[0]


def test_no_day_has_no_price(tmp_path):
    """NaT gives NaN."""
    assert np.isnan(spot_on(shop(tmp_path), "gold", [np.datetime64("NaT")]))[0]


def test_a_metal_without_prices_is_nan_and_said_when_used(tmp_path):
    """Silver is ordered and has no price."""
    made = shop(tmp_path, orders=ORDERS.replace("18k white", "925"))
    assert np.isnan(spot_on(made, "silver", "2026-01-05"))[0] and "silver" in said(made, "no_price")[0]


@pytest.mark.parametrize(("price", "per"), [("3110.34768", "ozt"), ("100", "g"), ("100000", "kg")])
def test_every_unit_comes_to_a_gram(tmp_path, price, per):
    """31.1034768 g a troy ounce (UK Weights and Measures Act 1985)."""
    made = shop(tmp_path, metal_prices=f"date,metal,price,per\n2026-01-02,gold,{price},{per}\n")
    assert spot_on(made, "gold", "2026-01-02")[0] == pytest.approx(100, rel=1e-12)


@pytest.mark.parametrize(("settings", "rate"), [("", "0.8"), ("[formats.fx]\ninverse = true\n", "1.25")])
def test_a_foreign_price_is_converted_at_the_day_s_rate(tmp_path, settings, rate):
    """100 dollars at 0.80 euro a dollar are 80 euro, either way round the table is written."""
    made = shop(
        tmp_path,
        settings,
        metal_prices="date,metal,price,currency\n2026-01-02,gold,100,USD\n",
        fx=f"date,currency,rate\n2026-01-01,USD,{rate}\n",
    )
    assert spot_on(made, "gold", "2026-01-02")[0] == pytest.approx(80)


def test_the_series_carries_each_price_forward(tmp_path):
    """Every day from the first to the last price."""
    series = spot_series(shop(tmp_path), "gold")
    assert series.tolist() == [92, 92, 92, 93] and str(series.index[0])[:10] == "2026-01-02"


def test_a_metal_without_prices_has_an_empty_series(tmp_path):
    """No rows."""
    assert spot_series(shop(tmp_path), "silver").empty


def test_the_last_of_two_prices_of_a_day_stands(tmp_path):
    """As the doubt says."""
    made = shop(tmp_path, metal_prices="date,metal,price\n2026-01-02,gold,92\n2026-01-02,gold,94\n")
    assert spot_on(made, "gold", "2026-01-02").tolist() == [94]


def test_a_monthly_table_is_said_to_be_one(tmp_path):
    """A month without a day stands for its last working day."""
    made = shop(tmp_path, metal_prices="date,metal,price\n2026-01,gold,92\n2026-02,gold,94\n2026-03,gold,95\n")
    assert str(made["metal_prices"]["date"][0])[:10] == "2026-01-30" and said(made, "price_cadence") and said(made, "repaired_month_end")


def test_gaps_are_counted(tmp_path):
    """Monday 5 to Friday 9 January 2026 without Wednesday."""
    days = ("2026-01-05", "2026-01-06", "2026-01-08", "2026-01-09")
    made = shop(tmp_path, metal_prices="date,metal,price\n" + "".join(f"{day},gold,92\n" for day in days))
    assert said(made, "price_gaps")[0].startswith("1 working day without")


@pytest.mark.parametrize(("step", "word"), [(1, "daily"), (7, "weekly"), (30, "monthly")])
def test_the_step_tells_how_often(step, word):
    """By the median step."""
    assert cadence(np.datetime64("2026-01-01") + step * np.arange(9)) == word


def test_only_daily_tables_have_gaps():
    """A weekly price is no hole in a daily one."""
    assert gaps(np.datetime64("2026-01-02") + 7 * np.arange(9)) == 0


def test_priced_metals_are_counted(tmp_path):
    """Two gold prices."""
    assert priced_metals(shop(tmp_path)) == {"gold": 2}
