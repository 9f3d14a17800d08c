"""The lead-time report on the invented workshop and on thin tables."""

import json
from datetime import date

import numpy as np
import pandas as pd
import pytest

from shoplib.intake import load
from shoplib.reports import lead_time
from shoplib.reports.blocks import Chart

OUTPUT = {
    "open_orders": "order_id promised_on stage_now finish_p50 finish_p80 finish_p95 late_probability waits_at",
    "new_orders": "style alloy days_p50 days_p80 days_p95 promise_on promise_80 promise_90 promise_95",
    "backtest": "method origin horizon n pinball_50 pinball_80 pinball_95 coverage_50 coverage_80 coverage_95 bias_days",
    "demand": "month orders_p10 orders_p50 orders_p90",
}
"""Columns other programs rely on (the project's output design)."""
TINY = '[shop]\nname = "Tiny (invented)"\ncurrency = "EUR"\n'


@pytest.fixture(scope="module")
def answer():
    return lead_time.answer(load("data_demo"), lead_time.Parameters())


@pytest.mark.parametrize("name", list(OUTPUT))
def test_tables_have_the_columns_others_rely_on(answer, name):
    """Every listed column is there under its name."""
    assert set(OUTPUT[name].split()) <= {column.name for column in answer.tables[name].columns}


def test_quantiles_are_in_order(answer):
    """No 8-in-10 date before the 5-in-10 date, none before tomorrow."""
    rows = answer.table("open_orders")
    days = rows[["finish_p50", "finish_p80", "finish_p95"]].apply(pd.to_datetime)
    assert (days["finish_p50"] <= days["finish_p80"]).all() and (days["finish_p80"] <= days["finish_p95"]).all()
    assert (days["finish_p50"] > pd.Timestamp(answer.as_of)).all()


def test_overdue_orders_are_late(answer):
    """A promise on or before the as-of date of an order still open is missed for sure."""
    rows = answer.table("open_orders").dropna(subset=["promised_on"])
    overdue = pd.to_datetime(rows["promised_on"]) <= pd.Timestamp(answer.as_of)
    assert overdue.any() and (rows.loc[overdue, "late_probability"] == 1).all()


def test_headline_and_figure_agree(answer):
    """One number, one source: the sum of the odds."""
    late = answer.table("open_orders")["late_probability"].dropna().sum()
    assert f"about {round(late)} of" in answer.headline.replace("\u00a0", " ")


def test_the_model_beats_the_plain_rules_on_the_demo(answer):
    """Open orders, all origins: its loss at every level is below that of each plain rule."""
    table = answer.table("backtest").query("horizon == 'open'")
    for column in ("pinball_50", "pinball_80", "pinball_95"):
        loss = (table[column] * table["n"]).groupby(table["method"]).sum() / table.groupby("method")["n"].sum()
        assert loss["model"] < loss[["recent", "recent_by_load", "promised"]].min()


def test_twelve_origins(answer):
    """Where history allows there are twelve past days, none after the as-of date."""
    origins = answer.table("backtest")["origin"].unique()
    assert len(origins) == 12 and max(origins) < answer.as_of.isoformat()


def test_charts_are_told_in_words(answer):
    """Each chart has a measure, a reading and a label with a number."""
    charts = [block for block in lead_time.page(answer).blocks.values() if isinstance(block, Chart)]
    assert len(charts) == 5 and all(chart.measure and chart.reading and any(sign.isdigit() for sign in chart.label) for chart in charts)


def test_no_number_is_infinite_or_nan(answer):
    """Strict JSON: missing is null."""
    assert json.dumps(json.loads(answer.to_json()), allow_nan=False)


def tiny(folder, orders, labour=""):
    """A shop of a few orders at 80 EUR a gram."""
    head = "order_id,ordered_on,style,alloy,price,quoted_weight_g,finished_weight_g,delivered_on\n"
    texts = {"orders.csv": head + orders, "metal_prices.csv": "date,metal,price,per\n2026-01-01,gold,80,g\n", "shop.toml": TINY}
    if labour:
        texts["labour.csv"] = "order_id,stage,worker,date,hours\n" + labour
    for name, text in texts.items():
        (folder / name).write_text(text)
    return load(folder)


def test_orders_alone_make_a_report(tmp_path):
    """Without job cards no date is told, demand still is, and the page says what would settle it."""
    rows = "".join(f"A{n},2026-0{1 + n % 6}-0{1 + n % 9},rope,18k yellow,1500,20,20.4,2026-0{2 + n % 6}-1{n % 9}\n" for n in range(40))
    told = lead_time.answer(tiny(tmp_path, rows), lead_time.Parameters())
    assert {"no_simulation"} <= {one.code for one in told.findings} and len(told.table("demand")) == 12
    assert lead_time.page(told)["headline"].text == told.headline


def test_one_open_order_is_told(tmp_path):
    """A single order on the bench, no promise: no odds, no failure."""
    shop = tiny(tmp_path, "A1,2026-01-05,rope,18k yellow,1500,20,,\n", "A1,solder,EV,2026-01-06,3\nA1,solder,EV,2026-01-07,2\nA1,solder,EV,2026-01-08,2\n")
    told = lead_time.answer(shop, lead_time.Parameters(as_of=date(2026, 1, 8)))
    assert told.table("open_orders")["late_probability"].isna().all() if len(told.table("open_orders")) else True
    assert np.isfinite(told.figure("Open orders likely late").value)


@pytest.mark.parametrize(("seen", "said"), [(10.0, True), (1000.0, False)])
def test_waits_beyond_all_seen_are_called_an_extrapolation(answer, seen, said):
    """Where the forecast wait passes the slowest month so far, the page says that it extrapolates; elsewhere it does not."""
    table = answer.tables["outlook"]
    place = [column.name for column in table.columns].index("longest_seen")
    rows = [[*row[:place], seen, *row[place + 1 :]] for row in table.rows]
    changed = answer.model_copy(update={"tables": {**answer.tables, "outlook": table.model_copy(update={"rows": rows})}})
    assert ("extrapolation" in lead_time.page(changed).blocks["outlook"].reading) == said
