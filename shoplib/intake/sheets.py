"""Workbooks: a sheet's cells as the rows of a table, with its merged cells and formulas without a stored value."""

from __future__ import annotations

import re
import zipfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

from python_calamine import CalamineError, CalamineSheet, CalamineWorkbook

from ..errors import DataError, shown
from .parsed import NO_VALUE

_BARE_FORMULA = re.compile(
    rb'<c\s(?:[^>]*?\s)?r="([A-Z]{1,3})(\d{1,7})"[^>]*>\s*<f(?:\s[^>]*)?(?:/>|>[^<]*</f>)\s*(?:<v\s*/>|<v>\s*</v>)?\s*</c>'
)
_RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"


@dataclass(frozen=True)
class SheetRows:
    """The rows of one sheet.

    Attributes
    ----------
    rows : list of list
        Cells as text, float, bool, date, datetime, time or timedelta; all rows equally long.
    top, left : int
        Spreadsheet row and column (from 0) of the first cell.
    merged : list of tuple of int
        First row, first column, last row, last column of each merged range, from 0, in spreadsheet places.
    """

    rows: list[list[Any]]
    top: int
    left: int
    merged: list[tuple[int, int, int, int]]


def open_workbook(path: Path) -> CalamineWorkbook:
    """Open a workbook, or raise a DataError that says why it cannot be."""
    try:
        with path.open("rb") as file:
            file.read(1)
        return CalamineWorkbook.from_path(str(path))
    except OSError as error:
        raise DataError(
            "the workbook cannot be opened", where=shown(path), found=error.strerror, to_do="close it in other programs"
        ) from error
    except (CalamineError, ValueError) as error:
        raise DataError(
            "this is not a workbook that can be read",
            where=shown(path),
            found=str(error),
            to_do="open it in a spreadsheet and save it as .xlsx",
        ) from error


def read_sheet(book: CalamineWorkbook, path: Path, sheet: str) -> SheetRows:
    """Read one sheet of the open workbook that lies at `path`."""
    try:
        page: CalamineSheet = book.get_sheet_by_name(sheet)
        rows = page.to_python(skip_empty_area=True)
        top, left = page.start or (0, 0)
        merged = [(*first, *last) for first, last in page.merged_cell_ranges or []]
    except (CalamineError, ValueError) as error:
        raise DataError(
            "the sheet cannot be read", where=f"{shown(path)}/{sheet}", found=str(error), to_do="save the workbook again"
        ) from error
    for row, column in _bare_formulas(path, sheet):
        if 0 <= row - top < len(rows) and 0 <= column - left < len(rows[row - top]):
            rows[row - top][column - left] = NO_VALUE
    return SheetRows(rows, top, left, merged)


def _bare_formulas(path: Path, sheet: str) -> list[tuple[int, int]]:
    """Return row and column (from 0) of each formula of a sheet that has no stored value."""
    if path.suffix.lower() not in (".xlsx", ".xlsm"):
        return []
    try:
        with zipfile.ZipFile(path) as parts:
            xml = parts.read(_part_of(parts, sheet))
    except (zipfile.BadZipFile, KeyError, ElementTree.ParseError) as error:
        raise DataError("the workbook is damaged", where=shown(path), found=str(error), to_do="save it again as .xlsx") from error
    if b"<f" not in xml:
        return []
    return [(int(match[2]) - 1, _column(match[1].decode())) for match in _BARE_FORMULA.finditer(xml)]


def _part_of(parts: zipfile.ZipFile, sheet: str) -> str:
    book = ElementTree.fromstring(parts.read("xl/workbook.xml"))
    links = ElementTree.fromstring(parts.read("xl/_rels/workbook.xml.rels"))
    targets = {link.get("Id"): link.get("Target", "") for link in links}
    wanted = next(node.get(_RELATION) for node in book.iter() if node.tag.endswith("}sheet") and node.get("name") == sheet)
    target = targets[wanted]
    return target.lstrip("/") if target.startswith("/") else f"xl/{target}"


def _column(letters: str) -> int:
    place = 0
    for letter in letters:
        place = place * 26 + ord(letter) - 64
    return place - 1
