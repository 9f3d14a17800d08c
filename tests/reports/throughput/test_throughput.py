"""The throughput report on the invented workshop and on edge cases."""

import json

import pandas as pd
import pytest

from shoplib.intake import as_of, load
from shoplib.reports import margin, throughput
from shoplib.reports.blocks import Absent, Chart, Details, Text
from shoplib.reports.shared import limits_of
from shoplib.reports.throughput.page import page
from shoplib.workshop.limits import DEMAND

from .shops import TOML, rows, shop_of

OUTPUT = {
    "stages": "stage hours_booked hours_available load visits first_pass_yield returns_found rework_hours queue_hours_mean longest_queue_share limiting_probability orders_per_extra_hour low high",
    "months": "month partial orders_in orders_out grams_out wip_orders started_orders flow_days_mean flow_days_p80 touch_hours_mean on_time_share on_time_last_share n_due",
    "rework": "cause stage alloy returns hours labour metal delay_contribution cost",
    "without_one": "skill away orders_late wait_days_change contribution_lost",
}
"""Columns other programs rely on (the project's output design)."""


@pytest.fixture(scope="module")
def demo():
    return load("data_demo")


@pytest.fixture(scope="module")
def answer(demo):
    return throughput.answer(demo, throughput.Parameters())


@pytest.fixture(scope="module")
def charts(answer):
    blocks = page(answer).blocks.values()
    inner = [one for block in blocks if isinstance(block, Details) for one in block.blocks]
    return [block for block in [*blocks, *inner] if isinstance(block, Chart)]


def codes(told):
    return {finding.code for finding in told.findings}


def absent(told):
    return {name for name, block in page(told).blocks.items() if isinstance(block, Absent | Text)}


@pytest.mark.parametrize("name", list(OUTPUT))
def test_tables_have_the_columns_others_rely_on(answer, name):
    """Every listed column is there under its name."""
    assert set(OUTPUT[name].split()) <= {column.name for column in answer.tables[name].columns}


def test_soldering_limits_the_invented_workshop(answer, demo):
    """The bench the demo is built around (truth.json) is named, in the headline as in the table."""
    table = answer.table("stages").set_index("stage")
    assert "solder limits output" in answer.headline and table.at["solder", "limiting_probability"] > 0.9


def test_demand_is_a_row_of_the_stages(answer):
    """Chances of all skills and of demand add up to one."""
    table = answer.table("stages").drop_duplicates("skill")
    assert table["stage"].iloc[-1] == DEMAND and table["limiting_probability"].sum() == pytest.approx(1.0)


def test_months_count_every_order_once(answer, demo):
    """Orders in and out of the shown months are those of the orders table."""
    months, orders = answer.table("months"), demo["orders"]
    for column, day in (("orders_in", "ordered_on"), ("orders_out", "delivered_on")):
        counts = orders[day].dropna().dt.strftime("%Y-%m-01").value_counts()
        assert months[column].tolist() == [int(counts.get(month, 0)) for month in months["month"]]


def test_rework_cost_is_labour_metal_and_delay(answer):
    """Every row adds up, and the key figure is the sum of the rows."""
    table = answer.table("rework")
    parts = table["labour"] + table["metal"] + table["delay_contribution"].fillna(0.0)
    assert (parts - table["cost"]).abs().max() < 1e-6
    assert answer.figure("Rework").value == pytest.approx(table["cost"].sum(), rel=1e-9)


def test_a_delay_counts_only_when_it_is_surely_there(answer):
    """Where the range of the delay reaches zero, none is counted."""
    table = answer.table("rework")
    assert (table.loc[table["delay_low"] <= 0.0, "delay_contribution"] == 0.0).all()


def test_every_skill_has_both_absences(answer):
    """Four weeks and for good, skill by skill; nobody is named."""
    table = answer.table("without_one")
    assert (table.groupby("skill")["away"].nunique() == 2).all()
    assert "worker" not in {column.name for one in answer.tables.values() for column in one.columns}


def test_no_table_of_people(answer, demo):
    """No cell of any table holds a worker's code, and no finding lists people by what they book."""
    known = {worker.code for worker in demo.settings.workers}
    assert not [cell for table in answer.tables.values() for row in table.rows for cell in row if cell in known]
    assert "presence_assumed" not in codes(answer)


def test_margin_takes_the_limiting_bench_from_the_simulation(demo):
    """The margin report ranks by the bench that limits, and says how it was found."""
    told = margin.answer(demo, margin.Parameters())
    loads = told.table("loads")
    expected = limits_of(demo, as_of(demo), 20260101).limiting
    assert loads.loc[loads["limits"].astype(bool), "skill"].tolist() == [expected]
    assert any(one.code == "limiting_bench" and "As simulated" in one.text for one in told.findings)


def test_an_owner_s_own_bench_is_taken_as_told(demo):
    """What the parameter names is used, without a simulation."""
    told = margin.answer(demo, margin.Parameters(limiting_bench="polish"))
    loads = told.table("loads")
    assert loads.loc[loads["limits"].astype(bool), "skill"].tolist() == ["polish"]


def test_every_chart_is_told_in_words(charts):
    """Message, measure, a label with a number, and a reading."""
    assert len(charts) == 8
    assert all(chart.measure and chart.reading and any(sign.isdigit() for sign in chart.label) for chart in charts)


def test_messages_are_short(charts):
    """At most 16 words a message, group names and no-break spaces included."""
    messages = [m for chart in charts for m in ((chart.message,) if isinstance(chart.message, str) else chart.message)]
    assert max(len(message.replace("\u00a0", " ").split()) for message in messages) <= 16


def test_no_number_is_infinite_or_nan(answer):
    """Strict JSON: missing is null, and the file reads back as it was told."""
    read = json.loads(answer.to_json(), parse_constant=lambda name: pytest.fail(name))
    assert read["headline"] == answer.headline


def test_the_same_bytes_with_a_cold_and_a_warm_cache(demo, answer, tmp_path, monkeypatch):
    """What the cache holds changes no answer."""
    monkeypatch.setenv("SHOPLIB_CACHE", str(tmp_path))
    assert throughput.answer(demo, throughput.Parameters()).to_json() == answer.to_json()


def test_stake_rests_on_the_answer_alone(answer):
    """The page writes the worth of an hour from the answer's own figure."""
    worth = answer.writing.about(answer.figure("Worth of that hour").value)
    assert worth in page(answer)["headline"].stake


def test_orders_alone_say_what_can_be_said(tmp_path):
    """Without job cards: months are counted, the rest is named as missing."""
    told = throughput.answer(shop_of(tmp_path, rows(60)[0]), throughput.Parameters())
    assert {"no_simulation", "no_stages"} <= codes(told) and told.table("months")["orders_out"].sum() > 0
    assert {"extra_hour", "load", "one_away", "control"} <= absent(told) and "cannot be told" in told.headline


def test_dates_only_are_said(tmp_path):
    """Cards without clock times: a note, and a whole report."""
    told = throughput.answer(shop_of(tmp_path, *rows(40)), throughput.Parameters())
    assert "dates_only" in codes(told) and told.table("stages")["load"].notna().sum() == 2


def test_a_single_month_names_what_is_missing(tmp_path):
    """One month of one order a day: no comparison, no control charts, no bench named before 20 orders."""
    told = throughput.answer(shop_of(tmp_path, *rows(10, every=1)), throughput.Parameters(period_months=1))
    assert "short_history" in codes(told) and {"control", "days"} <= absent(told)
    assert not [one for one in told.figures if one.name.endswith("before")]


def test_stages_without_load_are_named(tmp_path):
    """A stage nobody booked on has no load, and the finding names it."""
    stages = "".join(f'[[stages]]\nname = "{name}"\n' for name in ("melt", "solder", "polish"))
    told = throughput.answer(shop_of(tmp_path, *rows(40), toml=TOML + stages), throughput.Parameters())
    assert any(one.code == "no_load" and "melt" in one.text for one in told.findings)


def test_cards_without_hours_have_no_load(tmp_path):
    """Unknown hours are not nought: the loads are blank and the finding says so."""
    told = throughput.answer(shop_of(tmp_path, *rows(40, hours="")), throughput.Parameters())
    assert "no_load" in codes(told) and "load" in absent(told)


def test_unknown_holidays_are_said(tmp_path):
    """A country whose holidays are not known: a warning, and a whole report."""
    toml = TOML + '[calendar]\nholidays = "Atlantis"\n'
    told = throughput.answer(shop_of(tmp_path, *rows(40), toml=toml), throughput.Parameters())
    assert "holidays_unknown" in codes(told) and told.table("stages")["load"].notna().any()


def test_a_past_day_sees_nothing_of_what_came_after(tmp_path):
    """As of an earlier day later orders are not counted."""
    shop = shop_of(tmp_path, *rows(60))
    told = throughput.answer(shop, throughput.Parameters(as_of=pd.Timestamp(2026, 3, 31).date()))
    assert told.table("months")["month"].max() == "2026-03-01" and told.table("months")["orders_in"].sum() == 43
