"""The accuracy paragraph of the throughput report on two shops with known truth: another bench limits; demand does."""

from __future__ import annotations

import pytest

from shoplib.workshop.limits import DEMAND

from . import throughput
from .case import Case, Measured

SHOPS = (4, 6)


@pytest.fixture(scope="module")
def rows(tmp_path_factory: pytest.TempPathFactory) -> list[Measured]:
    """Return what limits and the months' orders of both shops, with their truth."""
    cases = [Case(number, 0, tmp_path_factory.mktemp(f"shop{number}")) for number in SHOPS]
    return [row for case in cases for row in (*throughput.limiting(case, throughput.limits_of(case)), *throughput.months(case))]


def of(rows: list[Measured], what: str) -> dict[int, Measured]:
    """Return the row of one kind of each shop."""
    return {row.shop: row for row in rows if row.what == what}


def test_the_limiting_bench_is_named_though_another_books_most_hours(rows: list[Measured]) -> None:
    """Linking limits shop 6 by design; soldering books most hours."""
    assert of(rows, "limiting")[6].told == "link" and of(rows, "busiest")[6].told == "solder"


def test_thin_demand_is_told(rows: list[Measured]) -> None:
    """Shop 4 could make almost twice what it is asked for."""
    assert of(rows, "limiting")[4].told == DEMAND


def test_months_are_counted_exactly(rows: list[Measured]) -> None:
    """Orders in and out of every month of both shops."""
    counted = [row for row in rows if row.what in ("orders_in", "orders_out")]
    assert len(counted) >= 120 and all(row.truth == row.told for row in counted)
