"""One table as it lies in its file: spreadsheet rows and, for each known column, its cells."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Any

import numpy as np
from numpy.typing import NDArray
from python_calamine import CalamineWorkbook

from .columns import Table
from .distinct import Cells, as_text, distinct_objects
from .files import Source
from .findings import Finding
from .grid import Grid, cut, loose_rows
from .headings import ROWS_SEARCHED, SEPARATORS, Headings, find_headings, separator_of
from .merged import Filled, fill_merged, lent_rows
from .parsed import tidy
from .sheets import read_sheet
from .text import read_text

Rows = NDArray[np.bool_]


@dataclass(frozen=True)
class Sheet:
    """A table as it lies in its file, blank rows left out.

    Attributes
    ----------
    table : Table
        Which table it is.
    name : str
        File, or workbook/sheet, as the owner knows it.
    rows : ndarray of int
        Row number of each row as the spreadsheet shows it.
    cells : dict of str to Cells
        Column to its cells.
    crowded : ndarray of bool
        Rows with more cells than headings.
    filled : dict of str to ndarray of bool
        Rows whose cell was taken from the merged range it belongs to.
    separator : str
        Of a text file; empty in a workbook.
    findings : tuple of Finding
        Formats found.
    sha256 : str
        Of a text file; empty in a workbook.
    """

    table: Table
    name: str
    rows: NDArray[np.int64]
    cells: dict[str, Cells]
    crowded: NDArray[np.bool_]
    filled: dict[str, NDArray[np.bool_]]
    separator: str
    findings: tuple[Finding, ...]
    sha256: str = ""

    def __len__(self) -> int:
        return len(self.rows)


def read_source(source: Source, table: Table, known: Mapping[str, str]) -> Sheet:
    """Read the table at `source`; `known` maps folded headings to columns.

    Raises
    ------
    DataError
        The file cannot be read, is empty or has no heading row.
    """
    if source.book is not None:
        return _workbook_sheet(source.book, source, table, known)
    text = read_text(source.path)
    separator = separator_of(text, known)
    said = [f"columns are parted by {SEPARATORS[separator]}"] if separator != "," else []
    grid = cut(text, separator)
    findings = _formats(
        source.name, [*text.said, *said] + ([] if grid else ["has quotation marks that do not pair; each line was read as a row"])
    )
    sheet = _from_grid(grid, source, table, known) if grid else _from_rows(loose_rows(text, separator), 0, source, table, known)
    return _replaced(sheet, separator=separator, findings=findings + sheet.findings, sha256=text.sha256)


def _replaced(sheet: Sheet, **changes: Any) -> Sheet:
    return Sheet(**{**sheet.__dict__, **changes})


def _formats(name: str, said: Sequence[str]) -> tuple[Finding, ...]:
    return (Finding("note", "format", f"{name}: {'; '.join(said)}.", name),) if said else ()


def _from_grid(grid: Grid, source: Source, table: Table, known: Mapping[str, str]) -> Sheet:
    top = [grid.cells_of(row) for row in range(min(ROWS_SEARCHED, len(grid)))]
    headings = find_headings(top, table, known, source.name)
    rows = np.arange(headings.row + 2, len(grid) + 1, dtype=np.int64)
    return _sheet(source, table, headings, rows, grid.columns(headings.row, headings.width), grid.crowded(headings.row, headings.width), {})


def _from_rows(
    rows: list[list[Any]], above: int, source: Source, table: Table, known: Mapping[str, str], filled: Sequence[Filled] = ()
) -> Sheet:
    """Return the sheet of `rows`, which are emptied: the collector would walk through them again and again."""
    top = [[as_text(cell) for cell in row] for row in rows[:ROWS_SEARCHED]]
    headings = find_headings(top, table, known, source.name, above)
    below, width = headings.row + 1, headings.width
    numbers = np.arange(above + below + 1, above + len(rows) + 1, dtype=np.int64)
    table_cells = _square(rows[below:], width)
    rows.clear()
    crowded = np.zeros(len(numbers), dtype=np.bool_)
    for column in table_cells.T[width:]:
        crowded |= [bool(as_text(cell).strip()) for cell in column]
    lent = {place: lent_rows(filled, place, below, len(numbers)) for place in {one.column for one in filled}}
    return _sheet(source, table, headings, numbers, map(distinct_objects, table_cells.T[:width]), crowded, lent)


def _square(rows: list[list[Any]], width: int) -> NDArray[np.object_]:
    """Return rows as an array of cells, at least `width` wide; a short row's lacking cells are blank."""
    widest = max(map(len, rows), default=width)
    if widest > width and any(len(row) != widest for row in rows):
        # one row with thousands of cells too many would make the array as wide: its first filled one is enough to tell
        rows = [[*row[:width], next((cell for cell in row[width:] if as_text(cell).strip()), "")] for row in rows]
        widest = width + 1
    widest = max(widest, width)
    square = np.full((len(rows), widest), "", dtype=object)
    if rows:
        square[:] = [row if len(row) == widest else [*row, *[""] * (widest - len(row))] for row in rows]
    return square


def _sheet(
    source: Source,
    table: Table,
    headings: Headings,
    rows: NDArray[np.int64],
    columns: Iterable[Cells],
    crowded: Rows,
    lent: dict[int, Rows],
) -> Sheet:
    """Return a sheet of the known columns without its blank rows."""
    at = {place: name for name, place in headings.place.items()}
    blank, cells = ~crowded, {}
    for place, column in enumerate(islice(columns, headings.width)):
        if blank.any():
            blank &= _blank(column)[column.codes]
        if place in at:
            cells[at[place]] = column
    if blank.any():
        cells = {name: column.kept(~blank) for name, column in cells.items()}
        rows, crowded = rows[~blank], crowded[~blank]
    filled = {at[place]: below[~blank] for place, below in lent.items() if place in at}
    return Sheet(table, source.name, rows, cells, crowded, filled, "", headings.findings)


def _blank(cells: Cells) -> Rows:
    """Tell which distinct cells hold nothing but spaces."""
    blank: Rows = cells.raw == b""
    short = np.flatnonzero((np.char.str_len(cells.raw) <= 4) & ~blank)
    blank[short] = [not tidy(text) for text in cells.texts(short)]
    return blank


def _workbook_sheet(book: CalamineWorkbook, source: Source, table: Table, known: Mapping[str, str]) -> Sheet:
    page = read_sheet(book, source.path, source.sheet)
    filled = fill_merged(page)
    return _from_rows(page.rows, page.top, source, table, known, filled)
