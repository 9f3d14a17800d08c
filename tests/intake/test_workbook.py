"""One workbook with a sheet per table gives what CSV files give."""

import shutil
import zipfile
from datetime import date, datetime

import pandas as pd
import pytest
import xlsxwriter

from shoplib.errors import DataError
from shoplib.intake import load
from shoplib.intake.templates.workbook import empty_workbook

from .shops import LABOUR_HEADINGS, ORDER_HEADINGS, SETTINGS, adds_up, codes, said, shop, write

ORDER_ROWS = [
    ["A1", date(2026, 1, 5), "curb", "18k yellow", 4250.0, 47, 48.0, date(2026, 2, 3)],
    ["A2", date(2026, 1, 6), "rope", "18k white", 3000, 30, None, None],
]
PRICE_ROWS = [[date(2026, 1, 2), "gold", 92], [date(2026, 1, 5), "gold", 93]]


def book(tmp_path, name="shop.xlsx", touch=None, **sheets):
    """Write a workbook; `touch` may add to the sheets before it is closed."""
    (tmp_path / "shop.toml").write_text(SETTINGS, encoding="utf-8")
    path = tmp_path / name
    made = xlsxwriter.Workbook(str(path), {"default_date_format": "yyyy-mm-dd"})
    rows = {"orders": [ORDER_HEADINGS.split(","), *ORDER_ROWS], "metal_prices": [["date", "metal", "price"], *PRICE_ROWS]} | sheets
    for sheet, content in rows.items():
        page = made.add_worksheet(sheet)
        for i, row in enumerate(content):
            for j, cell in enumerate(row):
                if isinstance(cell, (date, datetime)):
                    page.write_datetime(i, j, cell)
                elif cell is not None:
                    page.write(i, j, cell)
        if touch:
            touch(sheet, page)
    made.close()
    return path


def test_a_workbook_gives_the_tables_of_csv_files(tmp_path):
    """Cell by cell the same."""
    (tmp_path / "csv").mkdir()
    (tmp_path / "xlsx").mkdir()
    one, other = load(write(tmp_path / "csv")), load(book(tmp_path / "xlsx"))
    for name in one.tables:
        pd.testing.assert_frame_equal(one[name], other[name])


def test_a_folder_with_one_workbook_and_no_csv_is_that_workbook(tmp_path):
    """The folder is enough."""
    book(tmp_path)
    assert len(load(tmp_path)["orders"]) == 2


def test_empty_csv_tables_beside_a_filled_workbook_are_left_alone(tmp_path):
    """As `start` leaves them when the owner fills the workbook."""
    book(tmp_path)
    (tmp_path / "orders.csv").write_text(ORDER_HEADINGS + "\n")
    assert load(tmp_path).tallies[0].file == "shop.xlsx/orders"


def test_two_sheets_with_rows_for_one_table_stop(tmp_path):
    """Which one counts cannot be told."""
    shutil.copy(book(tmp_path), tmp_path / "copy.xlsx")
    with pytest.raises(DataError, match="two sheets hold the table orders"):
        load(tmp_path)


def test_workbooks_named_like_tables_are_those_tables(tmp_path):
    """Each file its own first sheet, whatever that is called."""
    (tmp_path / "whole").mkdir()
    whole = load(book(tmp_path / "whole"))
    for table, sheet, rows in (
        ("orders", "Aufträge", [ORDER_HEADINGS.split(","), *ORDER_ROWS]), ("metal_prices", "Kurse", [["date", "metal", "price"], *PRICE_ROWS])
    ):  # fmt: skip
        made = xlsxwriter.Workbook(str(tmp_path / f"{table}.xlsx"), {"default_date_format": "yyyy-mm-dd"})
        page = made.add_worksheet(sheet)
        for i, row in enumerate(rows):
            page.write_row(i, 0, row)
        made.close()
    (tmp_path / "shop.toml").write_text(SETTINGS, encoding="utf-8")
    apart = load(tmp_path)
    for name in whole.tables:
        pd.testing.assert_frame_equal(whole[name], apart[name])


def test_the_tools_own_empty_workbook_beside_a_filled_one_does_not_count(tmp_path):
    """`start` leaves it there."""
    book(tmp_path)
    (tmp_path / "tables.xlsx").write_bytes(empty_workbook((), ()))
    assert load(tmp_path).tallies[0].file == "shop.xlsx/orders"


def test_a_number_as_an_id_is_the_number_without_a_point(tmp_path):
    """1001.0 is 1001, and a text 0012 keeps its zeros."""
    rows = [ORDER_HEADINGS.split(","), [1001.0, *ORDER_ROWS[0][1:]], ["0012", *ORDER_ROWS[1][1:]]]
    assert load(book(tmp_path, orders=rows))["orders"]["order_id"].tolist() == ["1001", "0012"]


def test_a_day_number_without_a_format_is_read_as_a_date(tmp_path):
    """46027 is 2026-01-05, a repair."""
    rows = [ORDER_HEADINGS.split(","), ["A1", 46027, *ORDER_ROWS[0][2:]]]
    made = load(book(tmp_path, orders=rows))
    assert str(made["orders"]["ordered_on"][0])[:10] == "2026-01-05" and said(made, "repaired_serial")


def test_a_merged_word_is_taken_for_each_row_and_said(tmp_path):
    """One order id over three labour rows."""
    rows = [
        LABOUR_HEADINGS.split(","),
        ["", "solder", "EV", date(2026, 1, 7), 2],
        ["", "file", "EV", date(2026, 1, 8), 2],
        ["A2", "file", "EV", date(2026, 1, 9), 2],
    ]

    def touch(sheet, page):
        if sheet == "labour":
            page.merge_range("A2:A3", "A1")

    made = load(book(tmp_path, touch=touch, labour=rows))
    assert made["labour"]["order_id"].tolist() == ["A1", "A1", "A2"] and said(made, "repaired_merged") and made.tallies[1].repaired == 1


def test_a_merged_number_is_not_doubled(tmp_path):
    """The row below is left without its price and rejected."""

    def touch(sheet, page):
        if sheet == "orders":
            page.merge_range("E2:E3", 7250)

    made = load(book(tmp_path, touch=touch))
    assert codes(made.rejected) == {3: {"missing"}} and adds_up(made)


def test_a_formula_without_a_stored_value_is_rejected(tmp_path):
    """A stored one is taken."""
    path = book(
        tmp_path,
        touch=lambda sheet, page: (
            sheet == "orders" and (page.write_formula("E2", "=4000+250", None, 4250), page.write_formula("E3", "=3000", None, ""))
        ),
    )
    emptied(path, b"<v></v>")
    made = load(path)
    assert made["orders"]["price"].tolist() == [4250] and codes(made.rejected) == {3: {"formula"}}


def test_a_formula_without_a_value_in_a_needless_cell_is_rejected_too(tmp_path):
    """It is never taken for a blank."""
    path = book(tmp_path, touch=lambda sheet, page: sheet == "orders" and page.write_formula("G2", "=1+1", None, ""))
    emptied(path, b"<v></v>")
    assert codes(load(path).rejected) == {2: {"formula"}}


def emptied(path, value):
    """Write the workbook anew without the empty values some programs leave out."""
    with zipfile.ZipFile(path) as parts:
        content = {name: parts.read(name) for name in parts.namelist()}
    with zipfile.ZipFile(path, "w") as parts:
        for name, data in content.items():
            parts.writestr(name, data.replace(b"<v></v>", b"") if name.startswith("xl/worksheets/sheet") else data)


def test_a_heading_below_a_title_keeps_the_spreadsheets_rows(tmp_path):
    """Two rows above, so the first order stands in row 4."""
    rows = [["Our orders"], [None], ORDER_HEADINGS.split(","), *ORDER_ROWS]
    assert load(book(tmp_path, orders=rows))["orders"]["row"].tolist() == [4, 5]


def test_a_table_that_begins_further_down_and_right_keeps_its_rows(tmp_path):
    """Empty rows and columns before it."""
    rows = [[], [], [None, *ORDER_HEADINGS.split(",")], *([None, *row] for row in ORDER_ROWS)]
    assert load(book(tmp_path, orders=rows))["orders"]["row"].tolist() == [4, 5]


def test_other_sheets_are_named(tmp_path):
    """And left alone."""
    assert "Notes" in said(load(book(tmp_path, Notes=[["hello"]])), "sheet_left_alone")[0]


def test_a_moment_typed_in_a_cell_is_read(tmp_path):
    """8:00 to 10:30 are two and a half hours."""
    rows = [
        ["order_id", "stage", "worker", "start", "finish"],
        ["A1", "solder", "EV", datetime(2026, 1, 7, 8, 0), datetime(2026, 1, 7, 10, 30)],
    ]
    assert load(book(tmp_path, labour=rows))["labour"]["hours"].tolist() == [2.5]


@pytest.mark.parametrize("content", [b"", b"not a workbook", b"PK\x03\x04broken"])
def test_a_broken_workbook_is_an_error_in_plain_words(tmp_path, content):
    """With what to do."""
    (tmp_path / "shop.xlsx").write_bytes(content)
    (tmp_path / "shop.toml").write_text(SETTINGS)
    with pytest.raises(DataError, match=r"shop\.xlsx"):
        load(tmp_path / "shop.xlsx")


def test_a_file_that_is_no_workbook_by_name_is_refused(tmp_path):
    """A text file is no folder."""
    (tmp_path / "shop.pdf").write_bytes(b"x")
    with pytest.raises(DataError, match="neither a folder nor a workbook"):
        load(tmp_path / "shop.pdf")


def test_csv_files_win_over_a_workbook_and_it_is_named(tmp_path):
    """When the CSV files hold rows."""
    book(tmp_path)
    assert "shop.xlsx" in said(shop(tmp_path), "file_left_alone")[0]


def test_a_heading_named_in_shop_toml_must_be_there(tmp_path):
    """A slip of the pen is told with the heading that is meant, not as rows that cannot be accepted."""
    book(tmp_path)
    (tmp_path / "shop.toml").write_text(SETTINGS + '\n[headings.orders]\nstyle = "Modell"\n', encoding="utf-8")
    with pytest.raises(DataError, match="the heading that shop.toml names for style is not there"):
        load(tmp_path)


def test_where_no_heading_is_known_the_fullest_row_is_shown(tmp_path):
    """A title above the headings is not what the owner has to map."""
    rows = [["Orders of the year"], ["No.", "Day", "Model"], ["A1", "5 January 2026", "curb"]]
    with pytest.raises(DataError, match="No., Day, Model"):
        load(book(tmp_path, orders=rows))


def test_the_heading_row_is_told_as_the_spreadsheet_numbers_it(tmp_path):
    """Blank rows above count, although nothing is read from them."""
    rows = [[], [], ["Orders of the year"], ORDER_HEADINGS.split(","), *ORDER_ROWS]
    assert "stand in row 4;" in said(load(book(tmp_path, orders=rows)), "heading_row")[0]


def test_an_empty_table_beside_sheets_of_other_names_says_which_were_left_alone(tmp_path):
    """The owner sees that the own sheet was there and how it has to be called."""
    (tmp_path / "shop.toml").write_text(SETTINGS, encoding="utf-8")
    (tmp_path / "tables.xlsx").write_bytes(empty_workbook((), ()))
    made = xlsxwriter.Workbook(str(tmp_path / "Bestellungen.xlsx"))
    made.add_worksheet("Aufträge").write_row(0, 0, ["No.", "Day"])
    made.close()
    with pytest.raises(DataError, match="that holds it orders \\(left alone here: sheet Aufträge\\)"):
        load(tmp_path)
