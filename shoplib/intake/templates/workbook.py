"""The empty tables as one workbook: a sheet a table, drop-downs, dates and numbers held to their kind."""

from __future__ import annotations

import io
from typing import Any

import xlsxwriter

from ..columns import TABLES, Column, Table
from .dictionary import kind_of

ROWS = 5000
"""Rows below the headings that get drop-downs and formats."""

_FORMATS = {
    "date": "yyyy-mm-dd", "timestamp": "yyyy-mm-dd hh:mm", "month": "yyyy-mm", "number": "0.00", "count": "0", "text": "@", "code": "@",
    "codes": "@",
    "choice": "@", "yes_no": "@",
}  # fmt: skip
_FIRST_DAY = "1990-01-01"


def empty_workbook(stages: tuple[str, ...], alloys: tuple[str, ...]) -> bytes:
    """Return an .xlsx with a sheet for each table; `stages` and `alloys` are offered in drop-downs, others may be typed."""
    buffer = io.BytesIO()
    book = xlsxwriter.Workbook(buffer, {"in_memory": True})
    offered = {"stage": stages, "alloy": alloys}
    for table in TABLES.values():
        _sheet(book, table, offered)
    book.close()
    return buffer.getvalue()


def _sheet(book: Any, table: Table, offered: dict[str, tuple[str, ...]]) -> None:
    sheet = book.add_worksheet(table.name)
    sheet.freeze_panes(1, 0)
    for place, column in enumerate(table.columns):
        heading = book.add_format({"bold": True, "bottom": 1, "italic": column.need == "no"})
        sheet.write_string(0, place, column.name, heading)
        sheet.write_comment(0, place, f"{column.meaning}\n{kind_of(column)}", {"x_scale": 2})
        sheet.set_column(place, place, max(12, len(column.name) + 2), book.add_format({"num_format": _FORMATS[column.kind]}))
        rule = _rule(column, offered)
        if rule:
            sheet.data_validation(1, place, ROWS, place, rule)


def _rule(column: Column, offered: dict[str, tuple[str, ...]]) -> dict[str, Any]:
    """Return what a spreadsheet accepts in a column; offered words only warn."""
    if column.kind == "choice":
        return {"validate": "list", "source": list(column.options), "error_message": f"Choose one of: {', '.join(column.options)[:200]}."}
    if column.kind == "yes_no":
        return {"validate": "list", "source": ["y", "n"], "error_message": "Write y or n."}
    if column.name in offered:
        return {
            "validate": "list",
            "source": list(offered[column.name]),
            "error_type": "information",
            "error_message": "New here: is it spelled right?",
        }
    if column.kind in ("date", "timestamp", "month"):
        return {"validate": "custom", "value": "=TRUE", "input_title": column.name, "input_message": column.meaning[:200]}
    if column.kind in ("number", "count") and column.low != float("-inf"):
        criteria = ">" if column.above_zero else ">="
        return {"validate": "decimal", "criteria": criteria, "value": 0, "error_message": f"{column.name} is a number."}
    return {}
