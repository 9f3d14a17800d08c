"""The accuracy paragraph of the metal balance on two shops with known truth; twenty by `python -m tests.known_truth metal --shops 20`."""

from __future__ import annotations

from pathlib import Path

import pytest

from . import metal
from .case import Case, Measured


@pytest.fixture(scope="module")
def rows() -> list[Measured]:
    """Every number of two shops, whole and with a leak."""
    return [row for number in range(2) for row in metal.measure(Case(number, 0, Path()))]


def test_no_shop_without_a_leak_alarms(rows: list[Measured]) -> None:
    """At most 1 of 20 may; of two none does."""
    assert [row.told for row in rows if row.what == "alarm" and row.part == "whole"] == [0.0] * 2


def test_thirty_grams_gone_in_one_day_are_said(rows: list[Measured]) -> None:
    """The test alarms and the headline says it, in both."""
    assert [row.told for row in rows if row.what == "said"] == ["yes"] * 2


def test_the_quarter_in_which_they_went_is_right(rows: list[Measured]) -> None:
    """Of every leak."""
    assert all(row.truth == row.told for row in rows if row.what == "quarter")


def test_the_grams_missing_are_near_thirty(rows: list[Measured]) -> None:
    """Within 3 g: two counts with an error of 0.5 g each are four standard deviations away from that."""
    assert all(abs(row.off) < 3.0 for row in rows if row.what == "grams")


def test_what_is_unexplained_is_near_the_truth(rows: list[Measured]) -> None:
    """No balance of any shop is more than 3 g from what truly went."""
    assert max(float(row.told) for row in rows if row.what == "unexplained") < 3.0


def test_the_verdicts_hold(rows: list[Measured]) -> None:
    """The sentences the command prints."""
    assert all(verdict.holds for verdict in metal.judge(rows))


def test_a_program_that_never_alarms_fails_the_paragraph(rows: list[Measured]) -> None:
    """Leaks without an alarm make the verdict fail."""
    silent = [row for row in rows if row.what not in ("quarter", "grams", "said")]
    assert not metal.judge(silent)[1].holds
