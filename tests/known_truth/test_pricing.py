"""The accuracy paragraph of the price report on ten histories; a hundred by `python -m tests.known_truth pricing --shops 100`."""

from __future__ import annotations

import pytest

from . import pricing
from .case import Case, Measured

HISTORIES = 10
LEAST = 5
"""A range that holds the truth 8 times in 10 holds fewer than 5 of 10 once in 150 tables (binomial)."""


@pytest.fixture(scope="module")
def rows(tmp_path_factory: pytest.TempPathFactory) -> list[Measured]:
    """Both answers of ten histories, two of them with a hidden season."""
    folder = tmp_path_factory.mktemp("histories")
    return [row for number in range(HISTORIES) for row in pricing.measure(Case(number, 0, folder / str(number)))]


@pytest.mark.parametrize("what", [pricing.PRICE, pricing.WAIT])
def test_ranges_hold_the_truth(rows: list[Measured], what: str) -> None:
    """Price and wait alike."""
    assert sum(row.inside for row in rows if row.what == what) >= LEAST


def test_ranges_are_narrower_than_what_the_owner_holds_likely(rows: list[Measured]) -> None:
    """Two thousand quotes say more than the stated prior of −4 to −1."""
    assert all(row.high - row.low < 1.5 for row in rows if row.what == pricing.PRICE and row.high is not None and row.low is not None)


@pytest.mark.parametrize(("inside", "held"), [(71, False), (72, True), (88, True), (89, False)])
def test_a_price_range_too_narrow_or_too_wide_fails(inside: int, held: bool) -> None:
    """72 to 88 of 100, not one more or less."""
    told = [Measured(k, pricing.PRICE, pricing.PLAIN, -2.0 if k < inside else -9.0, -2.0, -3.0, -1.0) for k in range(100)]
    assert pricing.judge(told)[0].holds == held


@pytest.mark.parametrize(("inside", "held"), [(69, False), (70, True), (100, True)])
def test_a_range_of_the_wait_may_be_wide(inside: int, held: bool) -> None:
    """70 of 100 or more."""
    told = [Measured(k, pricing.WAIT, pricing.SEASON, -0.2 if k < inside else -9.0, -0.2, -0.3, -0.1) for k in range(100)]
    assert pricing.judge(told)[1].holds == held


def test_no_history_is_no_proof() -> None:
    """Both sentences fail where nothing was told."""
    assert not any(verdict.holds for verdict in pricing.judge([]))
