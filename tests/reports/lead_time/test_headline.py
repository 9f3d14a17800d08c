"""The lead-time headline, branch by branch."""

import pytest

from shoplib.reports.lead_time.headline import Told, headline, stake
from shoplib.reports.sentences import Writing

W = Writing()


def told(**change):
    facts = {"promise_days": 42.0, "usual": "curb, 18k yellow", "level": 0.9, "open_orders": 120, "promised": 118, "late": 23.4, "kept": 789, "due": 1034}
    return Told(**{**facts, **change})


def plain(text):
    return text.replace("\u00a0", " ")


def test_usual_case():
    """What to promise, at which odds, how many will be late, how many were kept."""
    assert plain(headline(told(), W)) == (
        "Promise 42 days (about 6 weeks) on curb, 18k yellow: about 9 in 10 would be kept; about 23 of 118 open orders will miss their date. "
        "The last year kept 789 of 1,034."
    )


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"promise_days": None}, "What to promise cannot be told from this history"),
        ({"open_orders": 0, "promised": 0}, "no order is open"),
        ({"promised": 0}, "no open order has a promise"),
    ],
)
def test_what_cannot_be_said_is_said(change, words):
    """Each missing part has its own words."""
    assert words in plain(headline(told(**change), W))


def test_a_few_days_are_not_told_in_weeks():
    """Four days are four days; no week is named."""
    assert plain(headline(told(promise_days=4), W)).startswith("Promise 4 days on curb")


def test_no_promise_fell_due():
    """Without promises due the last sentence is left out."""
    assert "The last year" not in headline(told(due=0), W)


def test_stake_says_when_a_plain_rule_was_better():
    """A plain rule that did better is used and said."""
    assert "that plain rule did better than the model" in plain(stake("recent_by_load", "model", 1.25, W))


@pytest.mark.parametrize(("bias", "word"), [(2.0, "2.0 days too late"), (-0.5, "0.5 days too early")])
def test_stake_tells_the_bias(bias, word):
    """A middle date after what came is too late, before it too early."""
    assert word in plain(stake("model", "model", bias, W))


def test_stake_without_a_past():
    """No backtest: said, no number."""
    assert "too short" in stake("model", "model", None, W)
