"""The metal balance on the invented workshop: columns, one number one source, agreement with the margin report."""

import json
import math

import pandas as pd
import pytest

from shoplib.errors import UsageError
from shoplib.intake import load
from shoplib.metal.balance import IN, OUT
from shoplib.reports import margin, metal_balance
from shoplib.reports.answer import Answer
from shoplib.reports.blocks import Absent, Chart

OUTPUT = {
    "balance": "metal from to opening in_process_opening bought customer_in borrowed refined_back sold delivered customer_out returned "
    "refining_sent recorded_loss in_process closing unexplained unexplained_low unexplained_high",
    "filings": "metal lot sent_on expected_g settled_on settled_g overdue_days",
    "stage_loss": "stage alloy fine_g_in fine_g_lost loss_per_mille low high",
    "places": "place metal fine_g money",
    "peak": "month fine_g money insured",
    "alloying": "from_alloy to_alloy add_metal g_per_100g",
    "customer_metal": "order_id received_g piece_g allowance_g returned_g owed_g",
}
"""Columns other programs rely on (the project's output design)."""


@pytest.fixture(scope="module")
def demo():
    return load("data_demo")


@pytest.fixture(scope="module")
def answer(demo):
    return metal_balance.answer(demo, metal_balance.Parameters(make_alloy="18K White", make_g=250))


@pytest.fixture(scope="module")
def margin_orders(demo):
    """The orders of the margin report over the same year."""
    return margin.answer(demo, margin.Parameters()).table("orders")


@pytest.mark.parametrize("name", list(OUTPUT))
def test_tables_have_the_columns_others_rely_on(answer, name):
    """Every listed column is there under its name, in this order."""
    columns = [column.name for column in answer.tables[name].columns]
    assert columns[: len(OUTPUT[name].split())] == OUTPUT[name].split()


@pytest.mark.parametrize("name", list(OUTPUT))
def test_rows_are_sorted_by_their_first_columns(answer, name):
    """Sorted by the columns that name a row; stages stand in the order of the route."""
    frame = answer.table(name)
    keys = {"balance": ["metal", "from", "to"], "filings": ["metal", "lot"], "places": ["place", "metal"], "peak": ["month"]}.get(name, [])
    assert frame[keys].astype(str).equals(frame[keys].astype(str).sort_values(keys, kind="stable")) if keys else len(frame)


def test_book_cost_is_the_margin_reports_to_the_cent(margin_orders, answer):
    """What the metal of the orders of the year cost is one number in both reports."""
    ours, theirs = answer.table("book_cost")["book_metal"], margin_orders["book_metal"]
    assert round(math.fsum(ours), 2) == round(math.fsum(theirs), 2)


def test_book_cost_agrees_month_by_month(margin_orders, answer):
    """Each month, to the cent."""
    theirs = margin_orders.groupby(margin_orders["closed_on"].str[:7])["book_metal"].sum().round(2)
    ours = answer.table("book_cost").groupby("month")["book_metal"].sum().round(2)
    assert ours.to_dict() == pytest.approx(theirs[theirs != 0].to_dict(), abs=0.011)


def test_every_balance_closes(answer):
    """In = out + unexplained in every row with two counts."""
    rows = answer.table("balance").dropna(subset=["unexplained"])
    left = rows[list(IN)].sum(axis=1) - rows[list(OUT)].sum(axis=1)
    assert (left - rows["unexplained"]).abs().max() < 1e-4


def test_nothing_is_missing_in_the_invented_workshop(answer):
    """Its books were kept without a leak (truth.json): no alarm, every balance inside its range."""
    rows = answer.table("balance").dropna(subset=["unexplained"])
    assert not answer.table("metals")["alarm"].any()
    assert ((rows["unexplained_low"] <= 0) & (rows["unexplained_high"] >= 0)).all()


def test_recovery_of_the_invented_workshop_is_found(answer):
    """Settled lots bring back 92 % less the refiner's 1.5 %: within three of the half-widths told."""
    with open("data_demo/truth.json", encoding="utf-8") as file:
        assert "recovery" in json.load(file)["metal"]
    gold = answer.table("recovery").set_index("metal").loc["gold"]
    assert gold["recovered"] == pytest.approx(920 * 0.985, abs=3 * (gold["high"] - gold["low"]) / 2)


def test_loss_by_stage_of_the_invented_workshop_is_found(answer):
    """The melt of 18k yellow loses what truth.json says, within three of the half-widths told."""
    with open("data_demo/truth.json", encoding="utf-8") as file:
        stages = {stage["name"]: stage for stage in json.load(file)["stages"]}
    frame = answer.table("stage_loss")
    melt = frame[(frame["stage"] == "melt") & (frame["alloy"] == "18k yellow")].iloc[0]
    true = stages["melt"]["loss_permille"]["18k yellow"]
    assert melt["loss_per_mille"] == pytest.approx(true, abs=3 * (melt["high"] - melt["low"]) / 2)


def test_figures_read_the_balance(answer):
    """One number, one source: the key figures are a row of the table."""
    frame = answer.table("balance")
    first, last = answer.figure("Unexplained").period.split(" to ")
    row = frame[(frame["metal"] == "gold") & (frame["from"] == first) & (frame["to"] == last)].iloc[0]
    assert answer.figure("Delivered").value == row["delivered"]
    assert answer.figure("Unexplained").high == row["unexplained_high"]


def test_the_headline_names_the_upper_end_of_the_last_balance(answer):
    """The number of the sentence is the figure's."""
    assert f"{answer.figure('Unexplained').high:.1f}" in answer.headline


def test_loss_of_the_balance_is_the_margin_reports_gross_loss(demo, answer):
    """Recorded gold loss over all counts is what the costing charges gross to orders, but for what is still open."""
    from shoplib.costing import cost
    from shoplib.intake import as_of

    costing = cost(demo, as_of(demo))
    row = answer.table("balance").query("metal == 'gold' and span == 'over all'").iloc[0]
    open_loss = costing.known[costing.known["delivered_on"].isna()]["gross_loss_fine_g"].sum()
    closed_loss = costing.orders.query("metal == 'gold'")["gross_loss_fine_g"].sum()
    assert closed_loss - 1 <= row["recorded_loss"] + 2 and row["recorded_loss"] <= closed_loss + open_loss + 60


def test_the_melt_from_stock_holds_what_the_alloy_asks(answer):
    """250 g of 18k white hold 188 g fine (752 ‰)."""
    melt = answer.table("melt")
    assert (melt["gross_g"].sum(), melt["fine_g"].sum()) == (pytest.approx(250, abs=0.1), pytest.approx(188, abs=0.1))


def test_an_alloy_that_is_not_there_names_the_nearest(demo):
    """The message names what is allowed and the nearest."""
    with pytest.raises(UsageError, match="Did you mean 18k white"):
        metal_balance.answer(demo, metal_balance.Parameters(make_alloy="18k whte"))


def test_the_answers_file_comes_back(answer):
    """The JSON reads back to the same answer, without NaN."""
    text = answer.to_json()
    assert "NaN" not in text and Answer.model_validate_json(text).headline == answer.headline


def test_page_blocks_and_chart_rules(answer):
    """Every chart has a message of at most 14 words, a measure, a reading and a label with numbers."""
    page = metal_balance.page(answer)
    drawn = [block for block in page.blocks.values() if isinstance(block, Chart)]
    assert {block.name for block in drawn} == {"bridge", "unexplained", "loss_by_stage", "filings_chart"}
    for chart in drawn:
        for message in [chart.message] if isinstance(chart.message, str) else chart.message:
            assert len(message.split()) <= 14, message
        assert chart.measure and chart.reading and any(sign.isdigit() for sign in chart.label)
    assert not any(isinstance(block, Absent) for block in page.blocks.values())


def test_no_worker_is_on_the_page(answer):
    """It names no person: no code of any worker stands in a table, the headline or a finding."""
    codes = set(pd.read_csv("data_demo/labour.csv")["worker"].dropna().unique())
    words = {word.strip(".,;:()") for one in answer.findings if one.level != "note" for word in one.text.split()}
    assert not codes & (words | set(answer.headline.split()))
    assert not any(column.name == "worker" for table in answer.tables.values() for column in table.columns)


def test_an_earlier_day_sees_only_its_own_rows(demo):
    """As of 30 June 2025 no balance reaches beyond that day."""
    from datetime import date

    early = metal_balance.answer(demo, metal_balance.Parameters(as_of=date(2025, 6, 30)))
    assert early.table("balance")["to"].max() == "2025-06-30"
