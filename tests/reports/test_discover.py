"""Reports are found by their two files; nothing is registered."""

from __future__ import annotations

from pathlib import Path

import pytest

from shoplib.errors import UsageError
from shoplib.reports.discover import ORDER, by_length, chosen, notebooks_folder, reports

from .runs import SAMPLE, sample


def test_a_report_is_there_when_its_module_and_its_notebook_are() -> None:
    """ "fails" has a notebook and no module, "throughput" neither."""
    found = reports(("throughput", "fails", "gallery"), "tests.reports.sample", SAMPLE / "notebooks")
    assert [one.name for one in found] == ["gallery"]


def test_reports_come_in_the_suites_order() -> None:
    """The review first."""
    names = [one.name for one in reports()]
    assert names == [name for name in ORDER if name in names]


def test_the_notebooks_of_a_checkout_lie_beside_the_package() -> None:
    """A wheel holds them inside."""
    assert notebooks_folder() == Path(__file__).parents[2] / "notebooks"


def test_reports_asked_for_are_made_in_the_known_order() -> None:
    """Whatever the order of the call."""
    known = list(sample("gallery", "fails", "exits"))
    assert [one.name for one in chosen(["exits", "gallery"], known)] == ["gallery", "exits"]


def test_none_named_means_all() -> None:
    """shoplib run."""
    known = list(sample("gallery", "fails"))
    assert chosen([], known) == known


def test_a_name_that_is_not_known_suggests_the_nearest() -> None:
    """And lists those that are."""
    with pytest.raises(UsageError, match="allowed: gallery, fails.* Did you mean gallery"):
        chosen(["galery"], list(sample("gallery", "fails")))


def test_the_longest_is_begun_first_and_the_review_last() -> None:
    """Whatever the order they are listed in."""
    names = [one.name for one in by_length(reports())]
    assert (names[:2], names[-1]) == (["lead_time", "hiring"], "monthly_review")
