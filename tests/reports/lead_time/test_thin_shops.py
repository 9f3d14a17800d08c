"""The lead-time report on shops whose books are thin: promises missing, a style never finished, an order open since forever,
three months of records, a month without orders."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from shoplib.forecast.promises import Choice
from shoplib.intake import load
from shoplib.reports import lead_time
from shoplib.reports.answer import Answer
from shoplib.reports.lead_time import tables
from shoplib.reports.shared import baseline_of

HEAD = "order_id,ordered_on,style,alloy,price,quoted_weight_g,finished_weight_g,promised_on,delivered_on\n"
FIRST = date(2026, 3, 2)
STAGES = (("roll", "A", 2), ("solder", "B", 3))
TOML = (
    '[shop]\nname = "Thin (invented)"\ncurrency = "EUR"\n'
    + "".join(f'[[stages]]\nname = "{stage}"\n' for stage, _, _ in STAGES)
    + "".join(f'[[workers]]\ncode = "{who}"\nskills = ["{stage}"]\nwage_per_hour = 20\n' for stage, who, _ in STAGES)
)


def working_day(number: int) -> date:
    """Return the working day `number` after the first, a Monday."""
    return FIRST + timedelta(days=number // 5 * 7 + number % 5)


def shop_rows(days: int, promised: bool = True, skip: range = range(0)) -> tuple[list[str], list[str]]:
    """Return orders and entries: one order a working day, rolled the next day, soldered the day after, delivered three days on."""
    orders, labour = [], []
    for n in (n for n in range(days) if n not in skip):
        done, promise = working_day(n + 3), working_day(n + 5) if promised else ""
        out = f"20.4,{promise},{done}" if n + 3 < days else f",{promise},"
        orders.append(f"A{n:03d},{working_day(n)},rope,18k yellow,1500,20,{out}\n")
        for step, (stage, who, hours) in enumerate(STAGES, 1):
            labour += [f"A{n:03d},{stage},{who},{working_day(n + step)},{hours}\n"] if n + step < days else []
    return orders, labour


def told(folder: Path, orders: list[str], labour: list[str], as_of: date) -> Answer:
    """Write the shop, read it and return the report of the day."""
    texts = {
        "orders.csv": HEAD + "".join(orders),
        "labour.csv": "order_id,stage,worker,date,hours\n" + "".join(labour),
        "metal_prices.csv": "date,metal,price,per\n2026-01-01,gold,80,g\n",
        "shop.toml": TOML,
    }
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8")
    return lead_time.answer(load(folder), lead_time.Parameters(as_of=as_of))


def plain(text: str) -> str:
    """Return the text with usual spaces."""
    return text.replace("\u00a0", " ")


@pytest.fixture(scope="module")
def three_months(tmp_path_factory: pytest.TempPathFactory) -> Answer:
    """A shop of three months without a single promise, with one order of a style never finished and one open for two years."""
    orders, labour = shop_rows(65, promised=False)
    orders += [f"NEW,{working_day(60)},figaro,18k yellow,1800,22,,,\n", "OLD,2024-03-04,rope,18k yellow,1500,20,,,\n"]
    return told(tmp_path_factory.mktemp("thin"), orders, labour, working_day(64))


def test_without_promises_no_odds_are_told(three_months: Answer) -> None:
    """Dates are told, odds to miss a date nobody named are not, and the headline says so."""
    rows = three_months.table("open_orders")
    assert rows["late_probability"].isna().all() and rows["finish_p50"].notna().any()
    assert "no open order has a promise" in plain(three_months.headline)


def test_three_months_have_no_past_days_to_judge_by(three_months: Answer) -> None:
    """Too short to show how right dates were: said, no number, and the page is drawn."""
    assert three_months.table("backtest").empty and three_months.figure("Dates off by").value is None
    page = lead_time.page(three_months)
    assert "too short to show how right" in str(list(page.blocks.values())) + str(page)


def test_a_style_never_finished_is_told_by_the_others(three_months: Answer) -> None:
    """The only figaro is open: it has a date, and what to promise on another is told."""
    rows = three_months.table("open_orders").set_index("order_id")
    new = three_months.table("new_orders").set_index("style")
    assert rows["finish_p80"].notna()["NEW"] and np.isfinite(new.loc["figaro", "days_p50"])


def test_an_order_open_since_forever_stays_on_the_list(three_months: Answer) -> None:
    """Ordered two years ago, no work on record: listed once, with a date after today or none, never dropped."""
    old = three_months.table("open_orders").query("order_id == 'OLD'")
    assert len(old) == 1 and (old["finish_p50"].isna() | (old["finish_p50"].astype(str) > three_months.as_of.isoformat())).all()


def test_a_month_without_orders_counts_as_none(tmp_path: Path) -> None:
    """Nothing is ordered in April: the month stands in the past with 0 orders, and demand is forecast."""
    orders, labour = shop_rows(110, skip=range(20, 45))
    answer = told(tmp_path, orders, labour, working_day(109))
    past = answer.table("past").set_index("month")["orders"]
    assert past["2026-04"] == 0 and len(answer.table("demand")) == 12


@pytest.fixture(scope="module")
def orders_alone(tmp_path_factory: pytest.TempPathFactory) -> Answer:
    """Three months of orders with promises, and not one job card."""
    return told(tmp_path_factory.mktemp("alone"), shop_rows(65)[0], [], working_day(64))


def test_orders_alone_get_dates_by_the_plain_rule(orders_alone: Answer) -> None:
    """Three working days take three calendar days from Monday and Tuesday, five from the other three: the middle one is five."""
    rows = orders_alone.table("open_orders")
    assert len(rows) == 3 and rows[["finish_p50", "finish_p80", "finish_p95", "late_probability"]].notna().all(axis=None)
    new = orders_alone.table("new_orders")
    assert list(new["days_p50"]) == [5.0] and list(new["days_p95"]) == [5.0]


def test_orders_alone_say_by_what_they_are_told(orders_alone: Answer) -> None:
    """No bench is named, no stage claimed, and the headline promises."""
    assert orders_alone.table("open_orders")[["stage_now", "waits_at"]].isna().all(axis=None)
    assert "no_simulation" in {found.code for found in orders_alone.findings}
    assert plain(orders_alone.headline).startswith("Promise 5 days")


def test_a_plain_rule_chosen_gives_open_orders_dates(tmp_path: Path) -> None:
    """Flow times come from what is delivered, not from the open orders asked about."""
    told(tmp_path, *shop_rows(65), working_day(64))
    shop, last = load(tmp_path), working_day(64)
    base = baseline_of(shop, last, 1)
    rows = tables.open_rows(shop, base, last, Choice("recent", np.ones(3)))
    assert len(rows) == 3 and rows["finish_p50"].notna().all() and (rows["stage_now"] != "").all()
