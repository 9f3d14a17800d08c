"""Merged cells of a workbook: the value stands in the first cell; the rows below get it, and it is said.

Words and dates are taken for each row of the range. A number is not: a weight over two rows is one weight, and whose it
is only the owner knows, so the rows below are left without it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .distinct import as_text
from .sheets import SheetRows


@dataclass(frozen=True)
class Filled:
    """A cell that got the value of the merged range it belongs to: its row and column among the sheet's rows."""

    row: int
    column: int


def fill_merged(page: SheetRows) -> list[Filled]:
    """Write the value of each merged range into the cells below its first, numbers aside; return which were written.

    Whatever a file still holds under a merged range is not shown by a spreadsheet, and not read.
    """
    filled = []
    for top, left, bottom, right in page.merged:
        row, column = top - page.top, left - page.left
        if not (0 <= row < len(page.rows) and 0 <= column < len(page.rows[row])):
            continue
        value, width = page.rows[row][column], min(right - left + 1, len(page.rows[row]) - column)
        for below in range(row, min(bottom - page.top + 1, len(page.rows))):
            page.rows[below][column : column + width] = [""] * width
        page.rows[row][column] = value
        if as_text(value).strip() and not isinstance(value, (int, float)):
            filled += [Filled(below, column) for below in range(row + 1, min(bottom - page.top + 1, len(page.rows)))]
    for one in filled:
        page.rows[one.row][one.column] = page.rows[one.row - 1][one.column]
    return filled


def lent_rows(filled: Sequence[Filled], column: int, first: int, count: int) -> NDArray[np.bool_]:
    """Tell which of `count` rows from sheet row `first` on got the value of `column` from a merged range."""
    lent = np.zeros(count, dtype=np.bool_)
    lent[[one.row - first for one in filled if one.column == column and first <= one.row < first + count]] = True
    return lent
