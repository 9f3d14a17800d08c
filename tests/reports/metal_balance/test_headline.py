"""The headline of the metal balance, branch by branch, and the stake under it."""

from dataclasses import replace
from datetime import date

import pytest

from shoplib.reports.metal_balance.headline import NEXT, Told, headline, stake
from shoplib.reports.sentences import Writing

WRITING = Writing()
QUIET = Told(
    "gold", from_=date(2026, 2, 28), to=date(2026, 3, 31), unexplained_g=1.0, low_g=-3.0, high_g=5.3, delivered_g=20_000.0, lost_g=600.0,
    spot=100.0, drift_g=120.0, drift_months=24.0,
)  # fmt: skip
ALARM = replace(QUIET, alarm=True, at_once=True, missing_g=30.0, began=date(2025, 5, 30), ended=date(2025, 6, 30))


def plain(text):
    return text.replace("\u00a0", " ")


def said(told):
    return plain(headline(told, WRITING))


def test_nothing_missing_names_what_could_be_unseen():
    """The upper end of the last balance, in grams and money."""
    assert (
        said(QUIET) == "Nothing shows as missing; between the last two counts up to 5.3 g of fine gold (EUR 530) could be missing unseen."
    )


def test_missing_at_once_names_the_two_counts():
    """Grams, money, between which counts, and what to check first."""
    assert said(ALARM) == (
        "30.0 g of fine gold (EUR 3,000) is unexplained between 30 May 2025 and 30 June 2025, more than weighing hides: "
        "check scale, fineness, scrap and filings lot first."
    )


def test_missing_for_longer_names_the_month_it_began():
    """A lasting leak is dated by its first balance."""
    assert "is unexplained since June 2025, more than weighing hides" in said(replace(ALARM, at_once=False))


def test_metal_found_asks_for_the_row_that_is_missing():
    """A range wholly below zero: more was counted than the books hold."""
    assert said(replace(QUIET, unexplained_g=-9.0, low_g=-12.0, high_g=-6.0)) == (
        "9.0 g of fine gold (EUR 900) more was counted on 31 March 2026 than the books hold: "
        "look for an unwritten purchase or customer's metal."
    )


def test_few_counts_above_zero_give_the_range_and_no_alarm():
    """Too few balances for the test: the range of the last one."""
    text = said(replace(QUIET, reason="few_counts", unexplained_g=8.6, low_g=5.3, high_g=11.9))
    assert text == (
        "8.6 g (5.3 to 11.9) of fine gold, EUR 860, is unexplained between 28 February 2026 and 31 March 2026: "
        "check scale, fineness, scrap and filings lot first."
    )


def test_few_counts_around_zero():
    """Nothing shows yet."""
    assert said(replace(QUIET, reason="few_counts")).startswith(
        "Nothing shows as missing yet; between 28 February 2026 and 31 March 2026 up to 5.3 g"
    )


@pytest.mark.parametrize(
    ("reason", "words"),
    [
        ("no_ledger", "there is no metal ledger; the job cards show 20,000 g fine delivered and 600 g lost"),
        ("no_count", "the safe was never counted"),
        ("one_count", "the safe was counted once, on 28 February 2026"),
        ("no_cards", "no job card says when metal left the safe for the 20,000 g fine delivered"),
        ("assumed", "400 of 600 g fine lost was assumed, not weighed"),
    ],
)
def test_what_cannot_be_told_is_said_with_its_reason(reason, words):
    """Each reason has its own sentence."""
    assert words in said(replace(QUIET, reason=reason, assumed_g=400.0))


def test_no_metal_at_all():
    """Nothing worked, nothing balanced."""
    assert said(Told("")) == "No metal was worked up to this day: there is nothing to balance yet."


def test_without_a_price_there_is_no_money():
    """Grams alone."""
    assert "EUR" not in said(replace(QUIET, spot=float("nan")))


@pytest.mark.parametrize(
    "told", [QUIET, ALARM, replace(ALARM, at_once=False), replace(QUIET, high_g=-1.0), replace(QUIET, reason="few_counts", low_g=1.0)]
)
def test_headlines_hold_thirty_words(told):
    """At most 30 words, a number and its unit counted as two."""
    assert len(headline(told, WRITING).split()) <= 30


def test_the_stake_names_the_drift_and_what_is_overdue():
    """A slow drift within the fineness, and the lot to ask for."""
    text = plain(stake(replace(QUIET, overdue_g=180.0), WRITING))
    assert "Over 24 months a slow drift of up to 120 g could hide behind a fineness 1‰ off" in text
    assert "180.0 g of fine gold (EUR 18,000) is overdue at the refiner." in text


def test_the_stake_of_an_alarm_accuses_nobody():
    """It names no person and says so."""
    assert "names no person" in stake(ALARM, WRITING)


@pytest.mark.parametrize("reason", list(NEXT))
def test_every_reason_says_what_would_settle_it(reason):
    """The stake holds the next step."""
    assert NEXT[reason] in stake(replace(QUIET, reason=reason), WRITING)
