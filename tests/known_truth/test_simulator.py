"""The accuracy paragraph of the workshop simulator on two shops with known truth."""

from __future__ import annotations

import numpy as np
import pytest

from . import simulator
from .case import Case, Measured

SHOPS = (1, 2)
"""One where another bench limits though soldering books most hours, one with a person busy a third of the time."""


@pytest.fixture(scope="module")
def cases(tmp_path_factory: pytest.TempPathFactory) -> list[Case]:
    """Return the two shops."""
    return [Case(number, 0, tmp_path_factory.mktemp(f"shop{number}")) for number in SHOPS]


@pytest.fixture(scope="module")
def rows(cases: list[Case]) -> list[Measured]:
    """Return every number with its truth."""
    return [row for case in cases for row in simulator.measure(case)]


def of(rows: list[Measured], what: str) -> list[Measured]:
    """Return the rows of one kind."""
    return [row for row in rows if row.what == what]


def test_presence_is_within_five_points(rows: list[Measured]) -> None:
    """Share of bench work of each person with enough waiting work, against the share drawn for that person."""
    assert len(of(rows, "presence")) >= 4
    assert max(abs(row.off) for row in of(rows, "presence")) <= 0.05


def test_absences_are_within_two_points(rows: list[Measured]) -> None:
    """Share of working days away, told from a table in one shop and from days without an entry in the other."""
    assert max(abs(row.off) for row in of(rows, "absent")) <= 0.02


def test_the_person_busy_a_third_is_not_taken_for_away(cases: list[Case]) -> None:
    """K0 books a third of the paid hours: the share of bench work told is at least twice that."""
    workshop = cases[1].fitted.workshop
    told = workshop.bench_share[0][[str(code) for code in workshop.people].index("K0")]
    days = next(d for person, d in zip(cases[1].played.people, cases[1].played.days, strict=True) if person.code == "K0")
    booked = sum(e.hours for e in cases[1].played.entries if cases[1].played.people[e.person].code == "K0")
    assert booked / days.owed_h.sum() < 0.4 < 2 * booked / days.owed_h.sum() < told


@pytest.mark.parametrize("what", ["returns", "hours"])
def test_ranges_hold_the_truth_as_often_as_they_say(rows: list[Measured], what: str) -> None:
    """80 % ranges: inside in 70–90 % of cases, give or take three standard errors of so many cases."""
    inside = np.array([row.inside for row in of(rows, what)])
    slack = 3 * np.sqrt(0.8 * 0.2 / len(inside))
    assert 0.7 - slack <= inside.mean() <= min(0.9 + slack, 1.0)


def test_mean_hours_are_close(rows: list[Measured]) -> None:
    """Mean hours of stages and styles are within 3 % of the truth on average, each within 15 %."""
    off = np.array([abs(row.off) / float(row.truth) for row in of(rows, "hours")])
    assert off.mean() < 0.03 and off.max() < 0.15


def test_the_dispatch_rule_is_named(rows: list[Measured]) -> None:
    """In both shops."""
    assert all(row.truth == row.told for row in of(rows, "dispatch"))


def test_the_answer_to_the_wait_is_near(rows: list[Measured]) -> None:
    """The hull of each shop lies within three times its width of the truth (seven of ten must hold it; two shops cannot tell that)."""
    for row in of(rows, "wait"):
        assert row.low is not None and row.high is not None
        assert row.low - 3 * (row.high - row.low) < float(row.truth) < row.high + 3 * (row.high - row.low)
