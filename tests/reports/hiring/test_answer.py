"""The hiring report on the demo workshop, with few replications: what is always there, and what the owner leaves out or gets wrong."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from shoplib.decide import compare
from shoplib.errors import SettingsError
from shoplib.intake import Shop, as_of, load
from shoplib.reports import hiring
from shoplib.reports.answer import Answer
from shoplib.reports.blocks import KeyFigure, KeyFigures, Table
from shoplib.reports.hiring import Parameters, tables
from shoplib.workshop.baseline import Baseline

DEMO = Path(__file__).parents[3] / "data_demo"
CANDIDATES = (
    "rank candidate kind stage orders_per_year orders_gain orders_gain_low orders_gain_high backlog_orders grams_gain wait_days "
    "wait_change_days on_time_share extra_contribution cost npv npv_low npv_high payback_months payback_probability breakeven_demand "
    "next_limit refused"
)
"""Columns of table candidates as the answers file promises them."""


@pytest.fixture(scope="module", autouse=True)
def _few_replications() -> Iterator[None]:
    """Sixteen replications where the report runs 128: what stands where does not depend on their number."""
    with pytest.MonkeyPatch.context() as patch:
        for name, runs in (("SCREEN", 8), ("FINAL", 16), ("STEP", 4)):
            patch.setattr(compare, name, runs)
        yield


@pytest.fixture(scope="module")
def shop() -> Shop:
    return load(DEMO)


@pytest.fixture(scope="module")
def told(shop: Shop) -> Answer:
    return hiring.answer(shop, Parameters())


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


def paid_nobody(shop: Shop) -> Shop:
    """Return the shop with every wage left out."""
    workers = tuple(one.model_copy(update={"wage_per_hour": None}) for one in shop.settings.workers)
    hire = shop.settings.hire.model_copy(update={"wage_per_hour": None})
    return replace(shop, settings=shop.settings.model_copy(update={"workers": workers, "hire": hire}))


def test_every_promised_column_is_there(told: Answer) -> None:
    """Table candidates holds the promised columns in their order."""
    assert list(told.table("candidates").columns) == CANDIDATES.split()


def test_cash_holds_every_month_of_every_plan(told: Answer) -> None:
    """Months 0 to 24 for each plan judged."""
    months = told.table("cash").groupby("candidate")["month"].agg(["min", "max", "count"])
    assert (months == [0, 24, 25]).all(axis=None)


def test_all_figures_are_finite(told: Answer) -> None:
    """Five figures, each with a value and a range."""
    values = [value for figure in told.figures for value in (figure.value, figure.low, figure.high)]
    assert len(values) == 15 and all(value is not None and math.isfinite(value) for value in values)


def test_judged_plans_have_every_number(told: Answer) -> None:
    """Only payback, break-even and the reason of a refusal may be missing in the row of a plan that was run."""
    plans = told.table("candidates")
    run = plans[plans["npv"].notna()].drop(columns=["stage", "payback_months", "breakeven_demand", "refused"])
    assert len(run) >= 5 and run.notna().all(axis=None)


def test_plans_stand_from_the_best_value_down(told: Answer) -> None:
    """Ranks count the rows, values fall."""
    plans = told.table("candidates")
    assert plans["rank"].tolist() == list(range(1, len(plans) + 1)) and plans["npv"].dropna().is_monotonic_decreasing


def test_the_learning_table_agrees_with_the_plan(told: Answer) -> None:
    """Demand as forecast and pieces as assumed: the value of the best plan with people itself, though on fewer runs."""
    plans, grid = told.table("candidates"), told.table("learning")
    best = plans[~plans["kind"].isin(["price", "nothing"])].iloc[0]
    middle = grid[(grid["demand_factor"] == 1.0) & (grid["learning_factor"] == 1.0)]["npv"]
    assert middle.tolist() == pytest.approx([best["npv"]])


def paid_back(told: Answer, value: float | None, low: float | None, high: float | None) -> KeyFigure:
    """Return the key figure the page shows for a payback."""
    changed = {"value": value, "low": low, "high": high}
    figures = [one.model_copy(update=changed) if one.name == "Paid back after" else one for one in told.figures]
    block = hiring.page(told.model_copy(update={"figures": figures}))["figures"]
    assert isinstance(block, KeyFigures)
    return next(one for one in block.figures if one.name == "Paid back after")


def test_a_payback_of_nothing_is_said_in_words(told: Answer) -> None:
    """Nothing laid out first: paid back "at once", never "0.0 months"."""
    shown = paid_back(told, 0.0, 0.0, 4.0)
    assert (shown.value, shown.unit, shown.range) == ("at once", "", "at once to 4")


def test_a_payback_that_never_comes_is_said_in_words(told: Answer) -> None:
    """No month within the horizon: "never", and within what."""
    shown = paid_back(told, None, None, None)
    assert (shown.value, plain(shown.range)) == ("never", "not within 2 years")


def test_payback_is_whole_months(told: Answer) -> None:
    """Five months, between three and eight."""
    shown = paid_back(told, 5.0, 3.2, 8.0)
    assert (shown.value, shown.unit, shown.range) == ("5", "months", "3 to 8")


def test_doing_nothing_pays_nothing_back(told: Answer) -> None:
    """The page leaves payback and its odds open in the row of doing nothing."""
    block = hiring.page(told)["candidates"]
    assert isinstance(block, Table)
    row = next(cells for cells in block.rows if cells[0].text == "Doing nothing")
    assert [cell.text for cell in row[-2:]] == ["–", "–"]


def test_without_any_wage_no_hire_is_judged(shop: Shop) -> None:
    """A finding, a headline that says what is missing, and the other plans in the table."""
    told = hiring.answer(paid_nobody(shop), Parameters())
    plans = told.table("candidates").set_index("candidate")
    assert "no wage is known; set [hire] wage_per_hour" in told.headline
    assert "no_wage" in {one.code for one in told.findings}
    assert pd.isna(plans.loc["Another person to solder", "npv"]) and "no wage" in plans.loc["Another person to solder", "refused"]
    assert plans[plans["kind"] == "train"]["npv"].notna().all()
    assert isinstance(hiring.page(told)["figures"], KeyFigures)


def test_a_mean_wage_stands_in_for_a_missing_one(shop: Shop) -> None:
    """[hire] wage_per_hour left out: the mean of those at the bench, said in a note."""
    hire = shop.settings.hire.model_copy(update={"wage_per_hour": None})
    told = hiring.answer(replace(shop, settings=shop.settings.model_copy(update={"hire": hire})), Parameters())
    assert "wage_assumed" in {one.code for one in told.findings}
    assert (told.table("candidates").set_index("candidate")["cost"].dropna()["Another person to solder"]) > 0


def test_a_stage_that_does_not_exist_stops_in_words(shop: Shop) -> None:
    """The stage is named, and the one that may be meant."""
    with pytest.raises(SettingsError, match="solder"):
        hiring.answer(shop, Parameters(stages=("soldre",)))


def test_a_start_in_the_past_is_moved_and_told(shop: Shop) -> None:
    """The first day after the search is taken, and a caution says so."""
    told = hiring.answer(shop, Parameters(start_on="2020-01-01"))
    assert "start_moved" in {one.code for one in told.findings} and len(told.table("candidates")) > 5


def test_a_horizon_longer_than_plans_are_run_is_cut_and_told(shop: Shop) -> None:
    """Sixty months in shop.toml: thirty-six are judged, and a caution says so."""
    hire = shop.settings.hire.model_copy(update={"horizon_months": 60})
    told = hiring.answer(replace(shop, settings=shop.settings.model_copy(update={"hire": hire})), Parameters())
    assert "horizon_cut" in {one.code for one in told.findings} and "over 3 years" in plain(told.headline)


def test_without_quotes_no_mark_up_is_judged(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody knows who would still come: the row stands, refused."""
    base, _ = hiring.baseline_or_none(shop, as_of(shop), Parameters().seed)
    assert isinstance(base, Baseline)
    blind = replace(base, workshop=replace(base.workshop, has_quotes=False))
    monkeypatch.setattr(hiring, "baseline_or_none", lambda *_: (blind, ""))
    told = hiring.answer(shop, Parameters())
    plans = told.table("candidates")
    price = plans[plans["kind"] == "price"]
    assert price["npv"].isna().all() and price["refused"].str.contains("without quotes").all()


def test_empty_answer_keeps_every_table(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """A history that carries no simulation: a stop with its reason, every table with its columns, no rows."""
    monkeypatch.setattr(hiring, "baseline_or_none", lambda *_: (None, "no stage has hours."))
    told = hiring.answer(shop, Parameters())
    assert told.findings[0].level == "stop" and "no stage has hours" in told.headline
    assert list(told.table("candidates").columns) == [name for name, _, _ in tables.CANDIDATES] and told.table("candidates").empty
