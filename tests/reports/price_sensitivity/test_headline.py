"""The price headline, branch by branch."""

import pytest

from shoplib.reports.price_sensitivity.headline import Told, headline, stake
from shoplib.reports.sentences import Writing

W = Writing()


def told(**change):
    facts = {"metal": "gold", "lines": 60, "short": 60, "first": ("curb · 18k yellow · 7 mm", "rope · 18k white · 9 mm"), "change": 0.118,
             "money": 735_000.0, "quote_days": 2.0}  # fmt: skip
    return Told(**{**facts, **change})


def plain(text):
    return text.replace("\u00a0", " ")


def test_lines_that_miss_the_target_are_named():
    """Lines, move of spot, and how many miss the target."""
    assert plain(headline(told(), W)) == (
        "Raise curb 18k yellow 7 mm and rope 18k white 9 mm first: gold stands 12% above the price they were struck at, 60 of 60 lines miss the target."
    )


def test_no_line_misses_the_target():
    """A fall of spot asks for no rise and tells what could be given away."""
    text = plain(headline(told(short=0, first=(), change=-0.05, money=-9_000.0), W))
    assert (
        text
        == "No price needs raising: gold stands 5.0% below its price when they were struck; 60 lines meet the target with EUR 9,000 a year to spare."
    )


def test_nothing_moved():
    """All on target, no money to speak of."""
    assert "all 60 lines meet the target" in headline(told(short=0, first=(), money=0.0), W)


def test_a_metal_without_prices():
    """No number is made up; the owner is told what to add."""
    assert "cannot be judged: silver has no price" in headline(told(metal="silver", short=0, change=float("nan")), W)


def test_no_lines():
    """Neither list nor order."""
    assert headline(told(lines=0, short=0), W).startswith("There is no price to look at yet")


def test_the_stake_tells_money_and_days():
    """What new prices bring, and how long a quote may stand."""
    assert plain(stake(told(), W)) == (
        "The new prices would bring EUR 735,000 a year if customers order as before. A quote of the usual line may stand 2 days."
    )


def test_a_quote_that_holds_for_the_day():
    """Zero days is said in words."""
    assert "holds for the day it is given" in stake(told(quote_days=0.0), W)


@pytest.mark.parametrize("first", [("curb · 18k yellow · 7 mm",), ("a b c d · 18k very white · 7 mm", "e f g h · 18k very white · 9 mm")])
def test_headline_is_short(first):
    """At most 30 words, however long the names."""
    assert len(plain(headline(told(first=first), W)).split()) <= 30
