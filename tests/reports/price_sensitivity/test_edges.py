"""The price report on edge cases: no list, no labour, a metal without prices, quotes all won, a style never sold, monthly prices."""

import pytest

from shoplib.intake import load
from shoplib.reports import price_sensitivity as report

OUTPUT = {
    "price_list": "line pieces_12_months price_now metal_when_struck metal_now making_charge_now making_margin_now price_to_target change_share floor_idle floor_full money_at_stake",
    "spot_grid": "spot_change line price_to_target making_margin_at_present_price",
    "quote_sheet": "line g_per_cm weight_g metal hours making_charge price promise_on valid_days deposit",
    "exposure": "metal in_house_g ours_priced_g needed_g net_g bought_forward_g money_per_percent",
    "open_fixed": "order_id price fine_g_uncovered breakeven_spot making_margin_at_spot deposit_that_covers",
    "metal_to_buy": "week metal fine_g money deposits_and_balances_due",
    "quote_days": "line margin_at_risk_share odds days method",
    "response": "what estimate low high n basis",
}
"""Columns other programs rely on (the project's output design)."""
TOML = '[shop]\nname = "Tiny (invented)"\ncurrency = "EUR"\n'
ORDERS = "order_id,ordered_on,style,alloy,price,quoted_weight_g,delivered_on,finished_weight_g\nA1,2026-01-05,rope,18k yellow,1900,20,2026-01-20,20\nA2,2026-03-02,rope,18k yellow,2000,20,,\n"
PRICES = "date,metal,price,per\n2026-01-05,gold,80,g\n2026-02-02,gold,84,g\n2026-03-02,gold,88,g\n"
LIST = "style,alloy,width_mm,weight_g_per_cm,price_per_cm,price_per_g,struck_on\nrope,18k yellow,3,0.4,38,,2026-01-05\ncurb,18k yellow,4,0.5,,95,2026-01-05\n"


def said(tmp_path, **files):
    for name, text in {"orders": ORDERS, "metal_prices": PRICES, **files}.items():
        (tmp_path / f"{name}.csv").write_text(text)
    (tmp_path / "shop.toml").write_text(TOML)
    answer = report.answer(load(tmp_path), report.Parameters())
    assert report.page(answer).blocks
    return answer


@pytest.mark.parametrize("name", list(OUTPUT))
def test_tables_have_the_columns_others_rely_on(tmp_path, name):
    """Every listed column is there under its name, in the thinnest shop too."""
    assert set(OUTPUT[name].split()) <= {column.name for column in said(tmp_path).tables[name].columns}


def test_without_a_list_the_last_orders_stand_in(tmp_path):
    """One style × alloy, one line, and it is said."""
    answer = said(tmp_path)
    assert answer.table("price_list")["line"].tolist() == ["rope · 18k yellow"] and "no_price_list" in {one.code for one in answer.findings}


def test_a_style_never_sold_is_priced_at_50_cm(tmp_path):
    """0.5 g a cm × 50 cm × 95 a gram = 2,375 (worked by hand)."""
    table = said(tmp_path, price_list=LIST).table("price_list").set_index("line")
    assert table.loc["curb · 18k yellow · 4 mm", "price_now"] == 2375.0


def test_the_making_charge_is_kept(tmp_path):
    """Exact price − metal now = price now − metal when struck, to the cent."""
    t = said(tmp_path, price_list=LIST).table("price_list")
    assert ((t["price_exact"] - t["metal_now"]) - (t["price_now"] - t["metal_when_struck"])).abs().max() < 0.005


def test_monthly_prices_are_no_fix(tmp_path):
    """A price a month is told as rough."""
    prices = "date,metal,price,per\n" + "".join(f"2025-{month:02d}-01,gold,{70 + month},g\n" for month in range(6, 13))
    assert "not_a_fix" in {one.code for one in said(tmp_path, metal_prices=prices).findings}


def test_a_metal_without_prices_is_not_priced(tmp_path):
    """Silver lines have no number, gold ones do."""
    rows = LIST + "rope,925 silver,3,0.4,4,,2026-01-05\n"
    toml = "\n".join(
        f'[[alloys]]\ncode = "{code}"\nmetal = "{metal}"\nfineness = {f}\n'
        for code, metal, f in (("18k yellow", "gold", 750), ("925 silver", "silver", 925))
    )
    (tmp_path / "orders.csv").write_text(ORDERS)
    (tmp_path / "metal_prices.csv").write_text(PRICES)
    (tmp_path / "price_list.csv").write_text(rows)
    (tmp_path / "shop.toml").write_text(TOML + toml)
    table = report.answer(load(tmp_path), report.Parameters()).table("price_list").set_index("line")["price_exact"]
    assert table.isna().to_dict() == {
        "rope · 18k yellow · 3 mm": False,
        "curb · 18k yellow · 4 mm": False,
        "rope · 925 silver · 3 mm": True,
    }


def test_quotes_all_won_tell_no_answer_to_price(tmp_path):
    """No row, and the finding says why."""
    quotes = "quote_id,quoted_on,style,alloy,weight_g,price,won\n" + "".join(
        f"Q{n},2026-02-0{1 + n % 9},rope,18k yellow,20,1900,y\n" for n in range(40)
    )
    answer = said(tmp_path, quotes=quotes)
    assert answer.table("response").empty and "no_answer_to_price" in {one.code for one in answer.findings}
