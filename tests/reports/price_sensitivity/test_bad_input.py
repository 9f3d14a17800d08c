"""Bad input of the price report: gaps, jumps, old prices and rates, prices of zero or below, quotes that tell nothing."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from shoplib.errors import DataError
from shoplib.intake import load
from shoplib.reports import price_sensitivity as report
from shoplib.reports.answer import Answer

LAST = date(2026, 3, 2)
ALLOYS = (("18k yellow", "gold", 750, ""), ("18k white", "gold", 750, "\n[alloys.parts]\npalladium = 125"), ("925", "silver", 925, ""))
TOML = '[shop]\nname = "Tiny (invented)"\ncurrency = "EUR"\n' + "".join(
    f'[[alloys]]\ncode = "{code}"\nmetal = "{metal}"\nfineness = {fineness}{parts}\n' for code, metal, fineness, parts in ALLOYS
)
ORDERS = (
    "order_id,ordered_on,style,alloy,price,quoted_weight_g,delivered_on,finished_weight_g\n"
    "A1,2026-01-05,rope,18k yellow,1900,20,2026-01-20,20\nA2,2026-03-02,rope,18k yellow,2000,20,,\n"
)
LIST = "style,alloy,width_mm,weight_g_per_cm,price_per_cm,struck_on\nrope,18k yellow,3,0.4,38,2026-01-05\n"


def days(n: int, last: date = LAST) -> list[date]:
    """Return the last `n` working days up to `last`."""
    return [day for k in range(2 * n) if (day := last - timedelta(days=k)).weekday() < 5][:n][::-1]


def daily(n: int = 300, metal: str = "gold", last: date = LAST, level: float = 80.0, currency: str = "EUR") -> list[list[object]]:
    """Return daily prices of a metal: a random walk with 1 % a day."""
    walk = level * np.exp(np.cumsum(np.random.default_rng(5).normal(0.0, 0.01, n)))
    return [[day.isoformat(), metal, round(float(price), 2), "g", currency] for day, price in zip(days(n, last), walk, strict=True)]


def written(rows: list[list[object]]) -> str:
    return "date,metal,price,per,currency\n" + "".join(",".join(map(str, row)) + "\n" for row in rows)


def told(folder: Path, prices: list[list[object]], **more: str) -> Answer:
    tables = {"orders": ORDERS, "price_list": LIST, "metal_prices": written(prices), **more}
    for name, text in tables.items():
        (folder / f"{name}.csv").write_text(text, "utf-8")
    (folder / "shop.toml").write_text(TOML, "utf-8")
    answer = report.answer(load(folder), report.Parameters(as_of=LAST))
    assert all(block is not None for block in report.page(answer).blocks.values())
    return answer


def codes(answer: Answer) -> set[str]:
    return {one.code for one in answer.findings}


def days_told(answer: Answer) -> float:
    return float(answer.table("quote_days")["days"].iloc[0])


def test_daily_prices_in_order_raise_no_caution(tmp_path: Path) -> None:
    """The base of the tests below: nothing to say of the prices of gold."""
    assert not {"price_jump", "old_price", "not_a_fix", "too_few_prices"} & codes(told(tmp_path, daily()))


def test_a_move_over_a_gap_is_no_daily_move(tmp_path: Path) -> None:
    """Ten weeks without a price, and a third dearer after them: the quote days are those of the same prices without that step."""
    rows = daily()
    before = [[row[0], row[1], round(float(row[2]) * 0.75, 2), *row[3:]] for row in rows[:120]]
    gap = told(tmp_path, before + rows[170:])
    assert "price_gaps" in codes(gap) and "price_jump" not in codes(gap) and days_told(gap) == days_told(told(tmp_path, rows))


def test_a_jump_is_told_with_both_its_steps(tmp_path: Path) -> None:
    """One price 60 % too high is a rise and a fall; both days are named."""
    rows = daily()
    rows[-30][2] = round(float(rows[-30][2]) * 1.6, 2)
    text = next(one.text for one in told(tmp_path, rows).findings if one.code == "price_jump")
    assert str(rows[-30][0]) in text and str(rows[-29][0]) in text and "rose" in text and "fell" in text


def test_old_prices_are_told_with_their_age(tmp_path: Path) -> None:
    """Prices that end 60 days before today."""
    text = next(one.text for one in told(tmp_path, daily(last=LAST - timedelta(days=60))).findings if one.code == "old_price")
    assert text.startswith("The last gold price is 60 days old")


def test_old_rates_of_exchange_are_told(tmp_path: Path) -> None:
    """Prices in dollars up to today, rates up to two months ago."""
    fx = "date,currency,rate\n2024-01-01,USD,0.9\n2026-01-01,USD,0.92\n"
    found = [one for one in told(tmp_path, daily(currency="USD"), fx=fx).findings if one.code == "old_price"]
    assert [one.where for one in found] == ["fx"] and "USD rate is 60 days old" in found[0].text


def test_prices_in_another_currency_without_rates_stop_the_run(tmp_path: Path) -> None:
    """The error names the currency and what to add."""
    with pytest.raises(DataError, match="USD.*no rate of exchange"):
        told(tmp_path, daily(currency="USD"))


@pytest.mark.parametrize("price", [0, -4])
def test_a_price_of_zero_or_below_is_rejected(tmp_path: Path, price: float) -> None:
    """The row is left out and counted; spot is that of the day before."""
    rows = daily()
    rows[-1][2] = price
    answer = told(tmp_path, rows)
    assert (
        answer.figure("Spot").value == pytest.approx(float(rows[-2][2]))
        and {row[0]: row[3] for row in answer.tables["files"].rows}["metal_prices.csv"] == 1
    )


def test_a_list_price_of_zero_is_rejected(tmp_path: Path) -> None:
    """The line is left out; the other one is priced."""
    answer = told(tmp_path, daily(), price_list=LIST + "curb,18k yellow,3,0.4,0,2026-01-05\n")
    assert answer.table("price_list")["line"].tolist() == ["rope · 18k yellow · 3 mm"]


def test_a_line_priced_below_its_metal_is_priced_all_the_same(tmp_path: Path) -> None:
    """Making charge below zero: a quote may stand 0 days, and nothing divides by it."""
    answer = told(
        tmp_path, daily(), price_list="style,alloy,width_mm,weight_g_per_cm,price_per_cm,struck_on\nrope,18k yellow,3,0.4,5,2026-01-05\n"
    )
    assert answer.table("price_list")["making_charge_now"].iloc[0] < 0 and days_told(answer) == 0.0


def test_monthly_prices_give_days_by_the_square_root_of_time(tmp_path: Path) -> None:
    """A step of 4 % a month is about 0.9 % a price day: the quote days are neither 0 nor a month, and told as rough."""
    steps = np.exp(0.04 * np.array([1, -1, 1, 1, -1, -1, 1, -1, 1, -1, -1, 1]).cumsum())
    rows = [
        [f"{2025 + (month + 2) // 12}-{(month + 2) % 12 + 1:02d}-02", "gold", round(80 * step, 2), "g", "EUR"]
        for month, step in enumerate(steps)
    ]
    answer = told(tmp_path, rows, price_list=LIST.replace(",38,", ",27,"))
    assert 1 <= days_told(answer) < 28 and {"not_a_fix"} <= codes(answer)


def test_without_gold_no_figure_is_made_up(tmp_path: Path) -> None:
    """Only silver has prices: spot, lines under target, money and grams are left open, and the finding says what to add."""
    answer = told(tmp_path, daily(metal="silver"))
    left = [
        answer.figure(name).value
        for name in ("Spot", "Lines under target", "A year of new prices", "Sold, not bought", "A quote may stand")
    ]
    assert left == [None] * 5 and "no_price" in codes(answer) and "cannot be judged" in answer.headline


def test_a_part_without_prices_leaves_its_lines_open(tmp_path: Path) -> None:
    """Palladium has no price: white gold has no number, yellow gold has."""
    answer = told(tmp_path, daily(), price_list=LIST + "rope,18k white,3,0.4,44,2026-01-05\n")
    table = answer.table("price_list").set_index("line")["price_exact"]
    assert table.isna().to_dict() == {"rope · 18k yellow · 3 mm": False, "rope · 18k white · 3 mm": True}


QUOTES = "quote_id,quoted_on,style,alloy,weight_g,price,won\n"


@pytest.mark.parametrize(
    ("rows", "said"),
    [("", "No quote has an outcome"), ("Q1,2026-02-02,rope,18k yellow,20,1900,y\n", "Only 1 quotes"),
     ("".join(f"Q{n},2026-02-02,rope,18k yellow,20,1900,y\n" for n in range(40)), "All 40 quotes with an outcome were won"),
     ("".join(f"Q{n},2026-02-02,rope,18k yellow,20,1900,n\n" for n in range(40)), "All 40 quotes with an outcome were lost")],
)  # fmt: skip
def test_why_quotes_tell_nothing(tmp_path: Path, rows: str, said: str) -> None:
    """None, too few, all won, all lost: each has its own words, and no number."""
    answer = told(tmp_path, daily(), quotes=QUOTES + rows)
    text = next(one.text for one in answer.findings if one.code == "no_answer_to_price")
    assert said in text and answer.table("response").empty and answer.table("mark_up").empty


def test_open_quotes_stand_beside_the_exposure(tmp_path: Path) -> None:
    """Not answered and not lapsed for long: listed, with what spot did to them; won, lost and long unanswered ones are not."""
    rows = "Q1,2026-02-27,rope,18k yellow,20,1900,\nQ2,2026-02-27,rope,18k yellow,20,1900,y\nQ3,2025-10-01,rope,18k yellow,20,1900,\n"
    answer = told(tmp_path, daily(), quotes=QUOTES + rows)
    table = answer.table("open_quotes")
    moved = table["making_charge_when_quoted"] - table["making_charge_now"]
    assert table["quote_id"].tolist() == ["Q1"] and moved.tolist() == pytest.approx(
        (table["metal_now"] - table["metal_when_quoted"]).tolist()
    )
    assert answer.table("exposure").set_index("metal").loc["gold", "needed_g"] == pytest.approx(
        answer.table("open_fixed")["fine_g_needed"].sum()
    )
