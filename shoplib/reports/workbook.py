"""An answer as a workbook: a front sheet, then one sheet a table, numbers as numbers, the same bytes for the same answer."""

from __future__ import annotations

import io
import re
from datetime import date, datetime
from typing import Any

import xlsxwriter

from .answer import Answer, Cell, Figure, Table, TableColumn

SHEET_NAME_SIGNS = 31
WIDEST = 48
CELL_SIGNS = 32_767
ISO_DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
SHARES = ("_share", "_probability", "_yield", "load", "odds", "level", "spot_change")


def workbook(answer: Answer) -> bytes:
    """Return the .xlsx file of an answer.

    Text that looks like a formula stays text; units stand in the headings; the meaning of each column is on the sheet
    "Columns".
    """
    buffer = io.BytesIO()
    options = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    book = xlsxwriter.Workbook(buffer, options)
    book.set_properties({"title": f"{answer.report} {answer.as_of.isoformat()}", "created": datetime(answer.as_of.year, 1, 1)})
    formats = _formats(book)
    _front(book.add_worksheet("Answer"), answer, formats)
    taken = {"answer", "columns"}
    for name, table in answer.tables.items():
        _sheet(book.add_worksheet(_sheet_name(name, taken)), table, formats)
    _columns(book.add_worksheet("Columns"), answer, formats)
    book.close()
    return buffer.getvalue()


def _formats(book: Any) -> dict[str, Any]:
    money = {"whole": "#,##0", "number": "#,##0.00", "fine": "0.0000", "share": "0.0%", "day": "yyyy-mm-dd"}
    styles: dict[str, Any] = {name: book.add_format({"num_format": code}) for name, code in money.items()}
    styles["head"] = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "bottom"})
    styles["big"] = book.add_format({"bold": True, "font_size": 14, "text_wrap": True, "valign": "top"})
    styles["wrap"] = book.add_format({"text_wrap": True, "valign": "top"})
    styles["bold"] = book.add_format({"bold": True})
    return styles


def _front(sheet: Any, answer: Answer, formats: dict[str, Any]) -> None:
    sheet.set_column(0, 0, 34)
    sheet.set_column(1, 4, 14)
    sheet.set_column(5, 8, 22)
    sheet.merge_range(0, 0, 0, 6, "", formats["big"])
    sheet.write_string(0, 0, _text(answer.headline), formats["big"])
    sheet.set_row(0, 42)
    sheet.write_string(1, 0, _text(f"{answer.shop} · {answer.report.replace('_', ' ')} · to {answer.as_of.isoformat()}"))
    heads = ("Figure", "Value", "Low", "High", "Level", "Unit", "Period", "Cases", "Basis")
    line = _lines(sheet, 3, heads, _figures(answer), formats, [_figure_format(one, formats) for one in answer.figures])
    line = _lines(sheet, line + 1, ("Where", "Kind", "Finding"), [(one.where, one.level, one.text) for one in answer.findings], formats)
    given = [(name, str(value)) for name, value in answer.parameters.items() if value is not None]
    line = _lines(sheet, line + 1, ("Parameter", "Value"), [*given, ("seed", str(answer.seed)), ("shoplib", answer.shoplib)], formats)
    _lines(sheet, line + 1, ("Input file", "sha256"), list(answer.inputs.items()), formats)


def _figures(answer: Answer) -> list[tuple[Cell, ...]]:
    return [(one.name, one.value, one.low, one.high, one.level, one.unit, one.period, one.n, one.basis) for one in answer.figures]


def _figure_format(figure: Figure, formats: dict[str, Any]) -> Any:
    if figure.unit.startswith("share"):
        return formats["share"]
    return formats["whole" if figure.value is not None and abs(figure.value) >= 1000 else "number"]


def _lines(sheet: Any, start: int, heads: tuple[str, ...], rows: Any, formats: dict[str, Any], styles: Any = None) -> int:
    """Write a small block of lines, numbers in the style of their line, and return the next free line."""
    for column, head in enumerate(heads):
        sheet.write_string(start, column, head, formats["head"])
    for line, row in enumerate(rows, start + 1):
        for column, cell in enumerate(row):
            whole = heads[column] == "Cases"
            style = formats["whole"] if whole else styles[line - start - 1] if styles and heads[column] != "Level" else formats["number"]
            _write(sheet, line, column, cell, formats, style)
    return start + len(rows) + 1


def _sheet(sheet: Any, table: Table, formats: dict[str, Any]) -> None:
    sheet.freeze_panes(1, 1)
    for at, column in enumerate(table.columns):
        head = f"{column.name.replace('_', ' ')}\n{column.unit}" if column.unit else column.name.replace("_", " ")
        sheet.write_string(0, at, _text(head), formats["head"])
        style = _number_format(column, [row[at] for row in table.rows], formats)
        for line, row in enumerate(table.rows, 1):
            _write(sheet, line, at, row[at], formats, style)
        sheet.set_column(at, at, _width(column, table, at))
    if table.rows:
        sheet.autofilter(0, 0, len(table.rows), len(table.columns) - 1)


def _number_format(column: TableColumn, cells: list[Cell], formats: dict[str, Any]) -> Any:
    if column.name.endswith(SHARES) or column.unit.startswith("share"):
        return formats["share"]
    numbers = [abs(cell) for cell in cells if isinstance(cell, int | float)]
    if all(float(number).is_integer() for number in numbers):
        return formats["whole"]
    return formats["fine"] if max(numbers) < 1 else formats["number"]


def _write(sheet: Any, line: int, column: int, cell: Cell, formats: dict[str, Any], style: Any) -> None:
    if cell is None:
        return
    if isinstance(cell, bool):
        sheet.write_string(line, column, "yes" if cell else "no")
    elif isinstance(cell, int | float):
        sheet.write_number(line, column, cell, style)
    elif ISO_DAY.fullmatch(cell) and date.fromisoformat(cell).year >= 1900:
        sheet.write_datetime(line, column, date.fromisoformat(cell), formats["day"])
    else:
        sheet.write_string(line, column, _text(cell))


def _text(text: str) -> str:
    return text[:CELL_SIGNS]


def _width(column: TableColumn, table: Table, at: int) -> int:
    seen = [len(str(row[at])) for row in table.rows[:200] if row[at] is not None]
    heads = [len(word) for word in f"{column.name.replace('_', ' ')} {column.unit}".split()]
    return min(max([9, *heads, *seen]) + 2, WIDEST)


def _columns(sheet: Any, answer: Answer, formats: dict[str, Any]) -> None:
    rows = [(name, one.name, one.unit, one.meaning) for name, table in answer.tables.items() for one in table.columns]
    _lines(sheet, 0, ("Table", "Column", "Unit", "Meaning"), rows, formats)
    sheet.set_column(0, 2, 24)
    sheet.set_column(3, 3, 80)


def _sheet_name(name: str, taken: set[str]) -> str:
    """Return a name a sheet may have: 31 signs, none of ``[]:*?/\\``, no other sheet's."""
    clean = re.sub(r"[\[\]:*?/\\']", " ", name)[:SHEET_NAME_SIGNS] or "table"
    number, free = 2, clean
    while free.lower() in taken:
        free, number = f"{clean[: SHEET_NAME_SIGNS - 3]} {number}", number + 1
    taken.add(free.lower())
    return free
