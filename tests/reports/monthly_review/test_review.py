"""The monthly review: sentence, decisions, forecasts and their score, on hand-made answers."""

import json
from datetime import date
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from shoplib.errors import DataError
from shoplib.reports.monthly_review.decisions import ASKED, calls, decisions, hire, one_head, prices, refiner, take_first
from shoplib.reports.monthly_review.forecasts import MEASURES, Facts, due_day, margin_draws, read_review, running_record, said, scored
from shoplib.reports.monthly_review.headline import Told, headline, stake
from shoplib.reports.sentences import Writing
from shoplib.settings import parse_settings

W = Writing()
SETTINGS = parse_settings('[shop]\nname = "Tiny (invented)"\ncurrency = "EUR"\n')


def plain(text):
    return text.replace("\u00a0", " ")


class Said:
    """An answer as decisions read it: tables by name and a headline."""

    def __init__(self, headline="", **tables):
        self.headline, self.tables = headline, tables

    def table(self, name):
        return self.tables[name]


@pytest.mark.parametrize(
    ("told", "text"),
    [
        (
            Told(date(2026, 10, 1), 3600.0, 9900.0, "Teach SO to solder"),
            "October 2026 left EUR 3,600 after all pay and overheads, EUR 6,300 less than the month before; decide: teach SO to solder.",
        ),
        (
            Told(date(2026, 10, 1), -500.0, -900.0, ""),
            "October 2026 lost EUR 500 after all pay and overheads, EUR 400 more than the month before; nothing is to be decided.",
        ),
        (Told(date(2026, 10, 1), 500.0, None, "EV learns"), "October 2026 left EUR 500 after all pay and overheads; decide: EV learns."),
        (
            Told(date(2026, 10, 1), 500.0, None, "", pay=False, overheads=False),
            "October 2026 left EUR 500 before wages and overheads, which are not written; nothing is to be decided.",
        ),
        (
            Told(date(2026, 10, 1), 500.0, None, "", pay=False),
            "October 2026 left EUR 500 after overheads, before wages, which are not written; nothing is to be decided.",
        ),
        (
            Told(date(2026, 10, 1), 500.0, None, "", overheads=False),
            "October 2026 left EUR 500 after all pay, before overheads, which are not written; nothing is to be decided.",
        ),
        (Told(date(2026, 10, 1), None, None, ""), "October 2026 has no delivered order, so no result; nothing is to be decided."),
    ],
)
def test_headline(told, text):
    """Left or lost, more or less than the month before, with or without a decision."""
    assert plain(headline(told, W)) == text


def test_stake_counts_what_came_true():
    """Decisions waiting and forecasts right."""
    assert (
        plain(stake(10, 8, 1, W))
        == "1 decision waits below, with odds and money where there are any. Of the last forecasts 8 of 10 came true; 8 in 10 should."
    )


def plans(npv, odds):
    frame = pd.DataFrame({"kind": ["price", "hire", "nothing"], "candidate": ["Raise", "Another person to solder", "Doing nothing"]})
    return Said(
        "headline",
        candidates=frame.assign(
            npv=[9e5, npv, 0.0], npv_low=[1.0, -5.0, 0.0], npv_high=[2.0, 9.0, 0.0], payback_probability=[1.0, odds, 1.0]
        ),
    )


@pytest.mark.parametrize(("npv", "odds", "answer"), [(3e4, 0.8, "Another person to solder"), (3e4, 0.5, "Not now"), (-1.0, 0.9, "Not now")])
def test_hire_only_when_likely_and_worth_it(npv, odds, answer):
    """A mark-up is no pair of hands; a plan is advised at 2 in 3 and above zero."""
    assert hire({"hiring": plans(npv, odds)}, SETTINGS, W).answer == answer


def test_prices_that_reach_their_target_need_no_decision_to_raise():
    """Nothing short of target: none this month."""
    lines = pd.DataFrame({"line": ["a"], "change_share": [-0.01], "money_at_stake": [5.0]})
    assert prices({"price_sensitivity": Said(price_list=lines)}, SETTINGS, W).answer == "None this month"


def test_prices_name_the_lines_with_most_at_stake():
    """Two lines short, the larger first, their money summed."""
    lines = pd.DataFrame({"line": ["a", "b", "c"], "change_share": [0.1, 0.2, -0.1], "money_at_stake": [5.0, 50.0, 900.0]})
    found = prices({"price_sensitivity": Said(price_list=lines)}, SETTINGS, W)
    assert (found.answer, found.money) == ("Raise b and a first", 55.0)


def test_metal_to_buy_comes_after_what_is_gained_or_lost():
    """A purchase of 900 is no more pressing than prices that leave 55 a year."""
    lines = pd.DataFrame({"line": ["a"], "change_share": [0.1], "money_at_stake": [55.0]})
    weeks = pd.DataFrame({"week": ["2026-01-05"], "metal": ["gold"], "fine_g": [9.0], "money": [900.0]})
    found = decisions({"price_sensitivity": Said(price_list=lines, metal_to_buy=weeks)}, SETTINGS, W)
    assert [plain(one) for one in found["answer"]][:2] == ["Raise a first", "Buy 9 g of fine gold within four weeks"]


def test_calls_follow_their_rank():
    """Only orders late at even odds or worse, in the order of the report."""
    orders = pd.DataFrame(
        {"order_id": ["a", "b", "c"], "late_probability": [0.9, 0.6, 0.1], "call_rank": [2, 1, 3], "price": [10.0, 20.0, 30.0]}
    )
    assert calls({"lead_time": Said(open_orders=orders)}, SETTINGS, W).answer == "Call b and a first"


def test_orders_are_not_ranked_while_the_bench_has_time():
    """Without a full bench there is no first and last."""
    groups = pd.DataFrame(
        {
            "by": ["style_alloy"] * 2,
            "group": ["a · x", "b · x"],
            "rank": [1, 2],
            "low": [9, 1],
            "high": [10, 2],
            "contribution_per_limiting_hour": [9.5, 1.5],
        }
    )
    loads = pd.DataFrame({"skill": ["solder"], "limits": [True], "load": [0.7]})
    assert take_first({"margin": Said(groups=groups, loads=loads)}, SETTINGS, W) is None
    full = Said(groups=groups, loads=loads.assign(load=0.95))
    assert take_first({"margin": full}, SETTINGS, W).answer == "A x first, b x last"


def test_refiner_is_reminded_of_overdue_lots_only():
    """One lot overdue, one not, one lot of two metals named once."""
    lots = pd.DataFrame({"lot": ["L1", "L1", "L2"], "expected_g": [5.0, 1.0, 9.0], "overdue_days": [3.0, 3.0, np.nan]})
    assert refiner({"metal_balance": Said(filings=lots)}, SETTINGS, W).answer == "Ask for lot L1"


def test_a_skill_of_one_person_is_named():
    """Two stages, one skill held by one person only."""
    toml = '[shop]\nname = "T"\ncurrency = "EUR"\n[[stages]]\nname = "solder"\n[[stages]]\nname = "file"\n'
    toml += '[[workers]]\ncode = "A"\nskills = ["solder", "file"]\n[[workers]]\ncode = "B"\nskills = ["file"]\n'
    assert one_head({}, parse_settings(toml), W).answer == "Teach a second person to solder"


def test_without_other_reports_there_is_nothing_to_decide():
    """Each question falls silent without its report, none fails."""
    assert decisions({}, SETTINGS, W).empty and all(ask({}, SETTINGS, W) is None for ask in ASKED)


@pytest.mark.parametrize(
    ("last", "due"),
    [(date(2026, 10, 31), date(2026, 11, 30)), (date(2026, 10, 17), date(2026, 10, 31)), (date(2026, 12, 31), date(2027, 1, 31))],
)
def test_due_day_is_the_end_of_the_next_month(last, due):
    """From a month's end the next month's end; from its middle this month's (worked by hand)."""
    assert due_day(last) == due


def facts():
    orders = pd.DataFrame({
        "ordered_on": pd.to_datetime(["2026-09-01", "2026-10-05", "2026-10-06", "2026-11-01"]),
        "delivered_on": pd.to_datetime(["2026-10-10", "2026-10-20", None, None]), "making_margin": [100.0, 50.0, np.nan, np.nan],
    })  # fmt: skip
    return Facts({"orders": orders}, SimpleNamespace(orders=orders.dropna(subset=["delivered_on"])))


@pytest.mark.parametrize(
    ("what", "happened"), [("orders placed", 2), ("orders delivered", 2), ("making margin", 150), ("open orders delivered", 1)]
)
def test_what_happened_is_counted_between_the_two_days(what, happened):
    """October, counted by hand: two placed, two delivered for 150, one of them open at the end of September."""
    assert MEASURES[what](facts(), date(2026, 9, 30), date(2026, 10, 31)) == happened


def review(rows):
    names = ["made_on", "what", "due_on", "low", "mid", "high", "level", "unit", "replayed"]
    return {
        "report": "monthly_review",
        "as_of": "2026-09-30",
        "tables": {"forecasts": {"columns": [{"name": n} for n in names], "rows": rows}},
    }


ROWS = [
    ["2026-09-30", "orders placed", "2026-10-31", 1.0, 2.0, 3.0, 0.8, "orders", False],
    ["2026-09-30", "making margin", "2026-10-31", 200.0, 250.0, 300.0, 0.8, "EUR", False],
    ["2026-09-30", "orders placed", "2026-12-31", 1.0, 2.0, 3.0, 0.8, "orders", False],
]


def test_only_what_came_due_is_scored():
    """Two due by the end of October, one inside and one outside; December waits."""
    found = scored(review(ROWS), facts(), date(2026, 10, 31))
    assert found[["what", "inside"]].values.tolist() == [["orders placed", True], ["making margin", False]]


def test_the_record_keeps_each_forecast_once():
    """Scoring the same review again adds nothing."""
    new = scored(review(ROWS), facts(), date(2026, 10, 31))
    first = running_record(None, new)
    again = {**review(ROWS), "tables": {"record": {"columns": [{"name": n} for n in first.columns], "rows": first.values.tolist()}}}
    assert len(running_record(again, new)) == len(first) == 2


def test_forecasts_carry_their_level():
    """Ten draws 1 to 10: the 80 % range is 1 to 9 by whole draws, the middle 5."""
    table = said(date(2026, 10, 31), {"orders placed": np.arange(1.0, 11.0)}, {"orders placed": "orders"}, True)
    assert table[["low", "mid", "high", "level", "replayed"]].values.tolist() == [[1.0, 5.0, 9.0, 0.8, True]]


def test_margin_draws_follow_deliveries():
    """Orders that all earn 10: the month's margin is ten times the deliveries."""
    orders = pd.DataFrame({"making_margin": [10.0, 10.0]})
    assert margin_draws(np.array([0, 3]), orders, 1).tolist() == [0.0, 30.0]


@pytest.mark.parametrize("content", ["no json", json.dumps({"report": "margin", "tables": {}}), "[]"])
def test_an_earlier_file_that_is_no_review_is_refused(tmp_path, content):
    """The message names the file and the way out."""
    path = tmp_path / "monthly_review.json"
    path.write_text(content)
    with pytest.raises(DataError, match="--previous"):
        read_review(path)
