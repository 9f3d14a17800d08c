"""The margin report on the invented workshop and on edge cases."""

import json
import math
from datetime import date

import pandas as pd
import pytest

from shoplib.costing import cost
from shoplib.intake import as_of, load
from shoplib.reports import margin
from shoplib.reports.answer import Answer
from shoplib.reports.blocks import Absent, Chart
from shoplib.reports.margin import chains
from shoplib.reports.periods import month_start, whole_months

OUTPUT = {
    "orders": "order_id closed_on delivered_on style alloy metal_terms price metal_billed making_charge metal_at_fix metal_lost other_metals findings labour rework_labour stones outwork making_margin book_metal metal_result book_margin weight_over_quote_money overtime_premium capital_cost hours limiting_hours contribution contribution_per_limiting_hour",
    "months": "month partial orders fine_g price making_charge making_margin metal_result_move metal_result_premium metal_result book_margin corrections unbooked_pay cancelled overheads_absorbed overheads result capital_cost",
    "bridge": "month compared_with cause amount",
    "groups": "by group n making_charge making_margin contribution contribution_per_limiting_hour low high",
    "open_orders": "order_id style alloy cost_so_far loss_so_far_g expected_cost expected_margin over_share",
}
"""Columns other programs rely on (the project's output design)."""
SPOT_ONLY = "date,metal,price,per\n2026-01-01,gold,80,g\n"
ORDERS = "order_id,ordered_on,style,alloy,price,quoted_weight_g,finished_weight_g,delivered_on\n"


@pytest.fixture(scope="module")
def demo():
    return load("data_demo")


@pytest.fixture(scope="module")
def answer(demo):
    return margin.answer(demo, margin.Parameters())


def shop_of(tmp_path, orders, prices=SPOT_ONLY, toml='[shop]\nname = "Tiny (invented)"\ncurrency = "EUR"\n'):
    for name, text in (("orders.csv", ORDERS + orders), ("metal_prices.csv", prices), ("shop.toml", toml)):
        (tmp_path / name).write_text(text)
    return load(tmp_path)


@pytest.mark.parametrize("name", list(OUTPUT))
def test_tables_have_the_columns_others_rely_on(answer, name):
    """Every listed column is there under its name."""
    assert set(OUTPUT[name].split()) <= {column.name for column in answer.tables[name].columns}


def test_figures_are_sums_of_the_tables(answer):
    """One number, one source: the key figure is the sum of the order table's delivered rows."""
    orders = answer.table("orders")
    delivered = orders[orders["delivered_on"].notna()]
    assert answer.figure("Making margin").value == pytest.approx(math.fsum(delivered["making_margin"]), rel=1e-9)


def test_months_lead_to_the_result(answer):
    """result = book margin + corrections + cancelled − unbooked pay − overheads, month by month."""
    m = answer.table("months")
    left = m["book_margin"] + m["corrections"] + m["cancelled"] - m["unbooked_pay"] - m["overheads"]
    assert (left - m["result"]).abs().max() < 0.01


def test_bridge_adds_up_to_the_cent(answer):
    """Each month's causes sum exactly to the difference of the two months' making margins in whole cents."""
    months = answer.table("months").set_index("month")["making_margin"]
    for (month, base), steps in answer.table("bridge").groupby(["month", "compared_with"]):
        total = sum(round(100 * amount) for amount in steps["amount"])
        assert abs(total - 100 * (months[month] - months.get(base, 0.0))) <= 1.001


def test_book_margin_agrees_with_the_costing(demo, answer):
    """The report shows the costing's own numbers, none computed anew."""
    costing = cost(demo, as_of(demo))
    ids = answer.table("orders").set_index("order_id")["book_margin"]
    ours = costing.orders.set_index("order_id")["book_margin"]
    shared = ids.index.intersection(ours.index)
    assert len(shared) == answer.figure("Making margin").n and (ids[shared] - ours[shared]).abs().max() < 1e-5


def test_no_number_is_infinite_or_nan(answer):
    """Strict JSON: missing is null."""
    assert json.dumps(json.loads(answer.to_json()), allow_nan=False)


def test_cells_have_ten_significant_digits(answer):
    """Numbers are rounded once, in the answer."""
    assert all(float(f"{value:.10g}") == value for row in answer.tables["orders"].rows[:200] for value in row if isinstance(value, float))


def test_every_chart_is_told_in_words(answer):
    """Each chart has message, measure, label with a number, and a reading; messages have at most 14 words."""
    charts = [block for block in margin.page(answer).blocks.values() if isinstance(block, Chart)]
    messages = [m for chart in charts for m in ((chart.message,) if isinstance(chart.message, str) else chart.message)]
    assert len(charts) == 4
    assert all(chart.measure and chart.reading and any(sign.isdigit() for sign in chart.label) for chart in charts)
    assert max(len(message.replace("\u00a0", " ").split()) for message in messages) <= 16


def test_orders_and_spot_alone_make_a_report(tmp_path):
    """Without labour, ledger and weighings the report still says what it assumed; the running month's three orders wait for their month."""
    rows = "".join(f"A{n},2026-0{1 + n % 3}-05,rope,18k yellow,1500,20,20.4,2026-0{2 + n % 3}-20\n" for n in range(9))
    told = margin.answer(shop_of(tmp_path, rows), margin.Parameters())
    assert told.figure("Making margin").n == 6 and {"loss_basis", "no_hours"} <= {finding.code for finding in told.findings}


def test_nothing_delivered_makes_a_report(tmp_path):
    """One open order: no margin, the page stands, charts say why they are absent."""
    told = margin.answer(shop_of(tmp_path, "A1,2026-01-05,rope,18k yellow,1500,20,,\n"), margin.Parameters())
    absent = [block for block in margin.page(told).blocks.values() if isinstance(block, Absent)]
    assert "No order was delivered" in told.headline and absent


def test_one_month_makes_a_report(tmp_path):
    """A single delivered order in a single month."""
    told = margin.answer(shop_of(tmp_path, "A1,2026-01-05,rope,18k yellow,1500,20,20,2026-01-31\n"), margin.Parameters(period_months=1))
    assert isinstance(told, Answer) and told.figure("Making margin").n == 1


def test_a_past_day_sees_nothing_of_what_came_after(demo):
    """As of an earlier day the orders of later days are not in the tables."""
    told = margin.answer(demo, margin.Parameters(as_of=date(2025, 12, 31)))
    assert told.period.to == date(2025, 12, 31) and pd.to_datetime(told.table("orders")["closed_on"]).max() <= pd.Timestamp(2025, 12, 31)


@pytest.mark.parametrize(
    ("day", "first", "last"),
    [
        (date(2026, 10, 31), date(2025, 11, 1), date(2026, 10, 31)),
        (date(2026, 11, 17), date(2025, 11, 1), date(2026, 10, 31)),
        (date(2026, 1, 31), date(2025, 2, 1), date(2026, 1, 31)),
    ],
)
def test_whole_months(day, first, last):
    """A running month is left out (worked by hand)."""
    assert whole_months(day, 12) == (first, last)


def test_month_start_crosses_years():
    """Three months before February is November of the year before."""
    assert month_start(date(2026, 2, 17), 3) == date(2025, 11, 1)


def test_metal_terms_are_said_in_words_on_the_page_and_kept_in_the_answers_file(answer):
    """The page speaks to the owner, the table to programs."""
    shown = {row[0].text for step in chains.groups_table(answer).steps for row in step}
    kept = set(answer.table("groups").query("by == 'metal_terms'")["group"])
    assert kept == set(chains.TERMS) and set(chains.TERMS.values()) <= shown and not kept & shown
