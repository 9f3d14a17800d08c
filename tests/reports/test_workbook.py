"""The workbook: every table with numbers as numbers, text as text, the same bytes twice; read back with another library."""

from __future__ import annotations

import io
from datetime import date

import openpyxl
import pytest

from shoplib.reports.answer import Answer, Figure, Found, Period, Table, TableColumn
from shoplib.reports.workbook import workbook

COLUMNS = (TableColumn(name="order_id"), TableColumn(name="price", unit="EUR", meaning="agreed price"), TableColumn(name="on_time_share"),
           TableColumn(name="promised_on", unit="day"))  # fmt: skip
RISKY = ["=1+1", "+1", "-1", "@x", "<img src=x>", "{=1}", "http://x.example"]


@pytest.fixture(scope="module")
def answer() -> Answer:
    rows = tuple((text, 1234.5, 0.5, "2026-03-31") for text in RISKY) + (("A1", None, None, None),)
    names = {"orders": Table(columns=COLUMNS, rows=rows), "o" * 40: Table(columns=COLUMNS), "o" * 35: Table(columns=COLUMNS)}
    return Answer(
        report="margin", shop="=cmd()", as_of=date(2026, 3, 31), period=Period(from_=date(2025, 4, 1), to=date(2026, 3, 31)), shoplib="1",
        seed=1, inputs={"orders.csv": "ab"}, parameters={"stages": ["a"]}, headline="=HEADLINE()", figures=(Figure(name="f", value=1.5),),
        tables=names, findings=(Found(level="warn", code="c", text="=t"),),
    )  # fmt: skip


@pytest.fixture(scope="module")
def book(answer: Answer) -> openpyxl.Workbook:
    return openpyxl.load_workbook(io.BytesIO(workbook(answer)))


def test_text_that_looks_like_a_formula_is_text(book: openpyxl.Workbook) -> None:
    """Whatever it begins with, the cell holds it as a string."""
    cells = [row[0] for row in book["orders"].iter_rows(min_row=2, max_row=1 + len(RISKY))]
    assert [(cell.value, cell.data_type) for cell in cells] == [(text, "s") for text in RISKY]


def test_the_headline_is_text_too(book: openpyxl.Workbook) -> None:
    """The front sheet begins with it."""
    assert (book["Answer"]["A1"].value, book["Answer"]["A1"].data_type) == ("=HEADLINE()", "s")


def test_numbers_are_numbers_with_a_format(book: openpyxl.Workbook) -> None:
    """Money with thousands, shares as percent."""
    cells = [book["orders"].cell(2, column) for column in (2, 3)]
    assert [(cell.value, cell.number_format) for cell in cells] == [(1234.5, "#,##0.00"), (0.5, "0.0%")]


def test_a_day_is_a_date(book: openpyxl.Workbook) -> None:
    """It can be sorted and counted."""
    assert book["orders"].cell(2, 4).value.date() == date(2026, 3, 31)


def test_missing_is_an_empty_cell(book: openpyxl.Workbook) -> None:
    """Not a zero, not a word."""
    assert [book["orders"].cell(len(RISKY) + 2, column).value for column in (2, 3, 4)] == [None, None, None]


def test_units_stand_in_the_headings(book: openpyxl.Workbook) -> None:
    """Under the name."""
    assert book["orders"].cell(1, 2).value == "price\nEUR"


def test_meanings_stand_on_a_sheet_of_their_own(book: openpyxl.Workbook) -> None:
    """For every column of every table."""
    assert ("orders", "price", "EUR", "agreed price") in list(book["Columns"].iter_rows(values_only=True))


def test_long_names_of_sheets_are_cut_and_stay_apart(book: openpyxl.Workbook) -> None:
    """Excel takes 31 signs."""
    assert (len(book.sheetnames), max(map(len, book.sheetnames))) == (5, 31)


def test_the_same_answer_gives_the_same_bytes(answer: Answer) -> None:
    """No clock time is in it."""
    assert workbook(answer) == workbook(answer)
