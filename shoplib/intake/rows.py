"""From cells to accepted rows: each column read, each row judged, what is missing filled with its default."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..errors import DataError
from ..settings import Settings
from .checks.base import Book, Coded
from .fields import Fields, Keep, cell_flags, read_fields, repair_flags
from .findings import Remarks
from .formats import Written
from .row_rules import reject_rows
from .sheet import Sheet
from .words import Spellings


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
    sha256 : str
        Of the file; empty for a sheet of a workbook.
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
    needed_columns(sheet)
    fields = read_fields(sheet, written, settings, spellings, blank_marks(settings))
    kept = np.ones(len(sheet), dtype=np.bool_)
    rejected = reject_rows(fields, cell_flags(fields), kept)
    repaired, touched = repair_flags(fields, kept)
    remarks = Remarks(rejected=rejected, repaired=repaired, findings=[*sheet.findings, *written.findings])
    return Reading(_book(fields, kept), sheet.rows, kept, touched, remarks, sheet.sha256)


def needed_columns(sheet: Sheet) -> None:
    """Raise a DataError when a needed column is missing."""
    gone = [column.name for column in sheet.table.columns if column.need != "no" and column.name not in sheet.cells]
    if gone:
        raise DataError(
            f"needed column{'s' if len(gone) > 1 else ''} missing: {', '.join(gone)}", where=sheet.name, found=", ".join(sheet.cells),
            to_do=f"add the column, or map your own heading in shop.toml under [headings.{sheet.table.name}]",
        )  # fmt: skip


def _book(fields: Fields, kept: NDArray[np.bool_]) -> Book:
    sheet, keep, columns, codes = fields.sheet, Keep(kept), dict[str, pd.Series](), dict[str, Coded]()
    for column in sheet.table.columns:
        array, coded = fields.accepted(column.name, keep)
        columns[column.name] = pd.Series(array, dtype=object if array.dtype == object else None, copy=False)
        if coded:
            codes[column.name] = coded
    columns["row"] = pd.Series(keep.of(sheet.rows))
    key = sheet.table.key
    refused = frozenset(code for code in fields[key][~kept] if code is not None) if key and not kept.all() else frozenset()
    return Book(pd.DataFrame(columns, copy=False), codes, refused)
