"""Numbers, odds and dates in words: each rule of the reports' page on how numbers are written, once."""

from __future__ import annotations

import math
import re
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shoplib.reports import sentences
from shoplib.reports.sentences import Writing

W = Writing()
GERMAN = Writing("EUR", ",", ".")


@pytest.mark.parametrize(
    ("value", "text"),
    [(31_400.4, "EUR\u00a031,400"), (-3_600.0, "EUR\u00a0−3,600"), (4.2, "EUR\u00a04.20"), (99.996, "EUR\u00a0100"), (0.0, "EUR\u00a00")],
)
def test_money_is_whole_from_100_on_and_has_two_decimals_below(value: float, text: str) -> None:
    """The code stands before the amount."""
    assert W.money(value) == text


def test_the_shops_own_signs_are_used() -> None:
    """A decimal comma and a point for thousands."""
    assert GERMAN.number(1_234_567.891, 2) == "1.234.567,89"


def test_a_space_between_thousands_does_not_break() -> None:
    """A number never falls apart at a line's end."""
    assert Writing("CHF", ".", " ").number(12_345) == "12\u00a0345"


@pytest.mark.parametrize("value", [None, math.nan, math.inf])
def test_missing_is_a_dash(value: float | None) -> None:
    """No number is written where there is none."""
    assert {W.number(value), W.money(value), W.grams(value), W.percent(value), W.per_mille(value), W.span(value, 1.0)} == {"–"}


@pytest.mark.parametrize(("value", "text"), [(12.0, "+12"), (-12.0, "−12"), (0.2, "0"), (-0.2, "0")])
def test_plus_stands_on_differences_only_and_never_on_zero(value: float, text: str) -> None:
    """Zero has no sign, also when it is rounded from below."""
    assert W.number(value, 0, "both") == text


@pytest.mark.parametrize(
    ("share", "text"), [(0.17, "17%"), (0.083, "8.3%"), (0.0996, "10%"), (-0.05, "−5.0%"), (0.0, "0%"), (0.9949, "99%")]
)
def test_a_share_below_10_percent_has_one_decimal(share: float, text: str) -> None:
    """17%, but 8.3%."""
    assert W.percent(share) == text


def test_the_change_of_a_share_is_in_points() -> None:
    """71% after 62% is nine points more."""
    assert W.points(0.09) == "+9.0\u00a0points"


def test_grams_say_whether_fine_or_gross() -> None:
    """One decimal."""
    assert (W.grams(12.34), W.grams(12.34, "gross")) == ("12.3\u00a0g\u00a0fine", "12.3\u00a0g\u00a0gross")


def test_loss_is_in_per_mille() -> None:
    """6.2 of a thousand."""
    assert W.per_mille(0.00617) == "6.2‰"


def test_a_range_has_no_plus_minus() -> None:
    """Both ends are written."""
    assert W.span(-3_600, 66_400, 0, "both") == "−3,600\u00a0to +66,400"


def test_a_value_is_rounded_to_two_digits_of_its_ranges_width() -> None:
    """Width 70,000: to the thousand."""
    assert sentences.step_of(-3_600, 66_400) == 1000.0


def test_money_in_a_sentence_is_about() -> None:
    """A sentence rounds once more than the table."""
    assert W.about(31_412.0, -3_600, 66_400) == "about EUR\u00a031,000"


@pytest.mark.parametrize(
    ("chance", "text"),
    [
        (0.97, "very likely (more than 19 in 20)"),
        (0.94, "very likely (about 19 in 20)"),
        (0.91, "very likely (about 9 in 10)"),
        (0.83, "likely (about 8 in 10)"),
        (0.66, "likely (about 7 in 10)"),
        (0.5, "about as likely as not (about 5 in 10)"),
        (0.33, "about as likely as not (about 3 in 10)"),
        (0.2, "unlikely (about 2 in 10)"),
        (0.07, "very unlikely (about 1 in 20)"),
        (0.01, "very unlikely (fewer than 1 in 20)"),
    ],
)
def test_odds_are_a_word_and_a_count(chance: float, text: str) -> None:
    """Words by the published scale (IPCC guidance note, Mastrandrea et al. 2010, table 1: likely from 66%, very likely from 90%)."""
    assert sentences.odds(chance).replace("\u00a0", " ") == text


@given(st.floats(0, 1))
def test_odds_never_say_certain_nor_none(chance: float) -> None:
    """No count reaches 0 or all."""
    numbers = [int(number) for number in re.findall(r"\d+", sentences.odds_count(chance))]
    assert 0 < numbers[0] < numbers[1]


@given(st.floats(-1e9, 1e9), st.integers(0, 3))
def test_a_number_read_back_is_the_number(value: float, digits: int) -> None:
    """Signs and separators lose nothing but the decimals not asked for."""
    back = float(W.number(value, digits).replace(",", "").replace("−", "-"))
    assert back == pytest.approx(value, abs=0.5001 * 10**-digits)


def test_dates_are_written_out() -> None:
    """Day, month and year without a break between them."""
    assert (sentences.day(date(2026, 3, 31)), sentences.short_month(date(2026, 3, 1))) == ("31\u00a0March\u00a02026", "Mar\u00a026")


def test_a_list_of_many_ends_with_how_many_others() -> None:
    """Three are named."""
    assert sentences.listed(["a", "b", "c", "d", "e"]) == "a, b, c and 2\u00a0others"


@pytest.mark.parametrize(("items", "text"), [([], ""), (["a"], "a"), (["a", "b"], "a and b"), (["a", "b", "c", "d"], "a, b, c and d")])
def test_a_short_list_is_whole(items: list[str], text: str) -> None:
    """Up to four."""
    assert sentences.listed(items) == text


def test_a_count_agrees_with_its_noun() -> None:
    """1 order, 2 orders, 0 entries."""
    assert [sentences.count(n, "entry", "entries") for n in (0, 1)] == ["0\u00a0entries", "1\u00a0entry"]


def test_long_names_are_cut_at_28_signs() -> None:
    """The table holds the whole name."""
    assert len(sentences.cut("x" * 40)) == 28
