"""The two lists: formulas are text, workers can be left out, the terminal shows the first five."""

from __future__ import annotations

import csv
import io

import pandas as pd
import pytest

from shoplib.intake.findings import LISTING
from shoplib.reports.lists import as_csv, first_rows


def rows(*values: object, column: str = "price") -> pd.DataFrame:
    listed = [("orders.csv", at, column, value, "code", "what is wrong", "what to do") for at, value in enumerate(values, 2)]
    return pd.DataFrame(listed, columns=list(LISTING))


@pytest.mark.parametrize("value", ["=1+1", "+1", "-1", "@x", "\tx", "\rx"])
def test_what_a_spreadsheet_takes_for_a_formula_gets_an_apostrophe(value: str) -> None:
    """The text behind it is whole."""
    read = list(csv.DictReader(io.StringIO(as_csv(rows(value)), newline="")))
    assert read[0]["value"] == f"'{value}"


def test_a_missing_value_is_an_empty_cell() -> None:
    """Not nan, not None."""
    assert [line["value"] for line in csv.DictReader(io.StringIO(as_csv(rows(None, float("nan")))))] == ["", ""]


def test_workers_codes_can_be_left_out() -> None:
    """The row and what is wrong stay."""
    text = as_csv(pd.concat([rows("EV", column="worker"), rows("77")]), workers=False)
    assert ("EV" in text, "left out" in text, "77" in text) == (False, True, True)


def test_the_first_five_are_named_and_the_others_counted() -> None:
    """With file and row."""
    lines = first_rows(rows(*range(8)), "rejected", "rejected_rows.csv")
    assert (len(lines), "orders.csv row 2, price" in lines[0], lines[-1].strip()) == (6, True, "and 3 more rejected in rejected_rows.csv")
