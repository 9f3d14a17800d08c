"""From cells to accepted rows: each column read, each row judged, what is missing filled with its default."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..errors import DataError
from ..settings import Settings
from .checks.base import Book, Coded, coded
from .columns import DTYPES, Column, Table
from .dates import FIRST_PRICE_YEAR, FIRST_YEAR, DateStyle, read_dates
from .distinct import Cells
from .findings import Flag, Reason, Remarks
from .formats import Written
from .numbers import Style, read_numbers
from .parsed import BLANK, PLAIN, REJECTED, REPAIRED, Parsed
from .row_rules import reject_rows
from .sheet import Sheet
from .words import Spellings, read_choices, read_codes, read_text, read_yes_no

_MISSING = Reason("missing", "a value is needed here", "fill the cell")


@dataclass(frozen=True)
class Reading:
    """One table, read.

    Attributes
    ----------
    book : Book
        Accepted rows: all columns of the table and ``row``, and the codes of its words.
    rows : ndarray of int
        Spreadsheet row of every row read, accepted or not.
    kept : ndarray of bool
        Which of them were accepted.
    repaired : int
        Accepted rows with a repaired cell.
    remarks : Remarks
        Rejections (positions among the rows read), doubts, repairs and findings.
    """

    book: Book
    rows: NDArray[np.int64]
    kept: NDArray[np.bool_]
    repaired: int
    remarks: Remarks
    sha256: str = ""


def blank_marks(settings: Settings) -> frozenset[str]:
    """Return the cells that mean nothing, case-folded."""
    return frozenset({""} | {mark.casefold().strip() for mark in settings.formats.null_marks})


def read_rows(sheet: Sheet, written: Written, settings: Settings, spellings: Spellings) -> Reading:
    """Read every cell of `sheet` and accept or reject each row.

    Raises
    ------
    DataError
        A needed column is missing.
    """
    _needed_columns(sheet)
    blanks = blank_marks(settings)
    remarks = Remarks(findings=[*sheet.findings, *written.findings])
    values, parsed = {}, {}
    for column in sheet.table.columns:
        if column.name in sheet.cells:
            cells = sheet.cells[column.name]
            parsed[column.name] = read_cells(cells, column, sheet.table, written, settings, spellings, blanks)
            values[column.name] = parsed[column.name].values[cells.codes]
        else:
            values[column.name] = np.full(len(sheet), _missing(column), dtype=_dtype(column))
    remarks.rejected = _cell_flags(sheet, parsed)
    kept = np.ones(len(sheet), dtype=np.bool_)
    reject_rows(sheet, values, remarks.rejected, kept)
    repaired = _repairs(sheet, parsed, kept, remarks)
    frame = _frame(sheet, values, kept, settings)
    book = Book(frame, _coded(sheet, parsed, kept), _refused_keys(sheet, values, kept))
    return Reading(book, sheet.rows, kept, repaired, remarks, sheet.sha256)


def _coded(sheet: Sheet, parsed: Mapping[str, Parsed], kept: NDArray[np.bool_]) -> dict[str, Coded]:
    """Return the codes of accepted rows; two spellings of one word get one code."""
    found, every = {}, bool(kept.all())
    for name, column in parsed.items():
        codes, values = sheet.cells[name].codes, column.values
        if values.dtype == object and (column.state != PLAIN).any():
            one = coded(values)
            codes, values = one.codes[codes], one.values
        found[name] = Coded(codes if every else codes[kept], values)
    return found


def _refused_keys(sheet: Sheet, values: Mapping[str, NDArray[Any]], kept: NDArray[np.bool_]) -> frozenset[str]:
    if not sheet.table.key or kept.all():
        return frozenset()
    return frozenset(key for key in values[sheet.table.key][~kept] if key is not None)


def _needed_columns(sheet: Sheet) -> None:
    gone = [column.name for column in sheet.table.columns if column.need != "no" and column.name not in sheet.cells]
    if gone:
        raise DataError(
            f"needed column{'s' if len(gone) > 1 else ''} missing: {', '.join(gone)}", where=sheet.name, found=", ".join(sheet.cells),
            to_do=f"add the column, or map your own heading in shop.toml under [headings.{sheet.table.name}]",
        )  # fmt: skip


def read_cells(
    cells: Cells, column: Column, table: Table, written: Written, settings: Settings, spellings: Spellings, blanks: Collection[str]
) -> Parsed:
    """Read one column by its kind."""
    if column.kind in ("number", "count"):
        return read_numbers(cells, column, Style(written.decimal[column.name], settings.shop.currency, blanks))
    if column.kind in ("date", "timestamp", "month"):
        first = FIRST_PRICE_YEAR if table.name in ("metal_prices", "fx") else FIRST_YEAR
        style = DateStyle(written.order[column.name], blanks, first)
        return read_dates(cells, style, table.name if table.name in ("metal_prices", "fx") else column.kind)
    if column.kind in ("code", "codes"):
        return read_codes(cells, column, table.name, spellings, blanks)
    if column.kind == "choice":
        return read_choices(cells, column, settings.aliases.get(column.name, {}), blanks)
    return read_yes_no(cells, blanks) if column.kind == "yes_no" else read_text(cells, blanks)


def _dtype(column: Column) -> str:
    return "float64" if column.kind == "yes_no" else DTYPES[column.kind]


def _missing(column: Column) -> Any:
    return {"float64": np.nan, "object": None}.get(_dtype(column), np.datetime64("NaT", "s"))


def _cell_flags(sheet: Sheet, parsed: Mapping[str, Parsed]) -> list[Flag]:
    """Return a rejection for each cell that could not be read, and for each needed one that is blank."""
    flags = []
    for name, column in parsed.items():
        cells = sheet.cells[name]
        if sheet.table.by_name[name].need == "yes" and (column.state == BLANK).any():
            at = np.flatnonzero((column.state == BLANK)[cells.codes])
            flags.append(Flag(at, name, [""] * len(at), _MISSING))
        if (column.state == REJECTED).any():
            flags += _by_reason(cells, column, REJECTED, name)
    return flags


def _by_reason(cells: Cells, column: Parsed, state: int, name: str, among: NDArray[np.bool_] | None = None) -> list[Flag]:
    wanted = (column.state == state)[cells.codes]
    at = np.flatnonzero(wanted if among is None else wanted & among)
    groups: dict[Reason, list[int]] = {}
    for row in at.tolist():
        groups.setdefault(column.reasons[int(cells.codes[row])], []).append(row)
    found = np.unique(cells.codes[at])
    texts = dict(zip(found.tolist(), cells.texts(found), strict=True))
    return [Flag(np.array(rows), name, [texts[int(cells.codes[row])] for row in rows], reason) for reason, rows in groups.items()]


def _repairs(sheet: Sheet, parsed: Mapping[str, Parsed], kept: NDArray[np.bool_], remarks: Remarks) -> int:
    """Note the repaired cells of accepted rows; return how many rows have one."""
    touched = np.zeros(len(sheet), dtype=np.bool_)
    for name, column in parsed.items():
        if (column.state == REPAIRED).any():
            remarks.repaired += _by_reason(sheet.cells[name], column, REPAIRED, name, kept)
            touched |= (column.state == REPAIRED)[sheet.cells[name].codes]
    for name, rows in sheet.filled.items():
        at = np.flatnonzero(rows & kept)
        remarks.repaired.append(
            Flag(at, name, [""] * len(at), Reason("merged", "the value of a merged cell was taken for each of its rows"))
        )
        touched |= rows
    return int((touched & kept).sum())


def _frame(sheet: Sheet, values: Mapping[str, NDArray[Any]], kept: NDArray[np.bool_], settings: Settings) -> pd.DataFrame:
    every = bool(kept.all())
    columns: dict[str, Any] = {}
    for column in sheet.table.columns:
        array = values[column.name] if every else values[column.name][kept]
        columns[column.name] = pd.Series(_defaulted(array, column, settings), dtype=None if array.dtype != object else object)
    columns["row"] = sheet.rows if every else sheet.rows[kept]
    return pd.DataFrame(columns, copy=False)


def _defaulted(array: NDArray[Any], column: Column, settings: Settings) -> NDArray[Any]:
    default = settings.shop.currency if column.name == "currency" and column.need == "no" else column.default
    if default is not None:
        blank = np.asarray(pd.isna(array), dtype=np.bool_)
        array[blank] = default
    return array.astype(np.bool_) if column.kind == "yes_no" and default is not None else array
