"""The columns of one table, read; a row's values are looked up only where a rule or the accepted table needs them."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..settings import Settings
from .checks.base import Coded, coded
from .columns import DTYPES, Column, Table
from .dates import FIRST_PRICE_YEAR, FIRST_YEAR, DateStyle, read_dates
from .distinct import Cells
from .findings import Flag, Reason
from .formats import Written
from .numbers import Style, read_numbers
from .parsed import BLANK, PLAIN, REJECTED, REPAIRED, Parsed
from .sheet import Sheet
from .words import Spellings, read_choices, read_codes, read_text, read_yes_no

_MISSING = Reason("missing", "a value is needed here", "fill the cell")
_PRICES = ("metal_prices", "fx")

MANY = 1000
"""Rejected rows from which a table is picked row by row."""

Rows = NDArray[np.bool_]


class Keep:
    """Which rows are accepted; few are not, so their columns are joined from the stretches between."""

    def __init__(self, kept: Rows) -> None:
        gone = np.flatnonzero(~kept)
        self._kept, self._all, self.count = kept, not len(gone), len(kept) - len(gone)
        bounds = zip([0, *(gone + 1).tolist()], [*gone.tolist(), len(kept)], strict=True) if len(gone) <= MANY else ()
        self._stretches = [slice(begin, end) for begin, end in bounds if begin < end]

    def of(self, array: NDArray[Any]) -> NDArray[Any]:
        """Return the accepted rows of `array`."""
        if self._all:
            return array
        return np.concatenate([array[one] for one in self._stretches]) if self._stretches else array[self._kept]

    def taken(self, values: NDArray[Any], codes: NDArray[np.int32]) -> NDArray[Any]:
        """Return the accepted rows of the column that has `values` at `codes`."""
        if self._all or not self._stretches:
            return values.take(self.of(codes))
        column, begin = np.empty(self.count, dtype=values.dtype), 0
        for one in self._stretches:
            end = begin + one.stop - one.start
            values.take(codes[one], out=column[begin:end], mode="clip")
            begin = end
        return column


class Fields(dict[str, NDArray[Any]]):
    """Column name to its values, a row each; looked up when first asked for, and then kept so that rules may complete them.

    Parameters
    ----------
    sheet : Sheet
        The table as it lies in its file.
    parsed : dict of str to Parsed
        Its columns, read.
    settings : Settings
        Whose currency stands where a currency is blank.
    """

    def __init__(self, sheet: Sheet, parsed: dict[str, Parsed], settings: Settings) -> None:
        super().__init__()
        self.sheet, self.parsed, self.settings = sheet, parsed, settings

    def __missing__(self, name: str) -> NDArray[Any]:
        parsed = name in self.parsed
        self[name] = self._distinct(name).take(self.sheet.cells[name].codes) if parsed else self._absent(name, len(self.sheet))
        return self[name]

    def accepted(self, name: str, keep: Keep) -> tuple[NDArray[Any], Coded | None]:
        """Return a column's values in the accepted rows, and their codes when it was in the file."""
        if name not in self.parsed:
            return keep.of(self[name]) if name in self else self._absent(name, keep.count), None
        codes = self.sheet.cells[name].codes
        values = keep.of(self[name]) if name in self else keep.taken(self._distinct(name), codes)
        return values, self._coded(name, codes, keep)

    def _coded(self, name: str, codes: NDArray[np.int32], keep: Keep) -> Coded:
        """Return the codes of a column in the accepted rows; two spellings of one word get one."""
        values = self.parsed[name].values
        if values.dtype != object or not (self.parsed[name].state != PLAIN).any():
            return Coded(lambda: keep.of(codes), values)
        one = coded(values)
        return Coded(lambda: keep.taken(one.codes.astype(np.int32), codes), one.values)

    def _default(self, column: Column) -> Any:
        return self.settings.shop.currency if column.name == "currency" and column.need == "no" else column.default

    def _distinct(self, name: str) -> NDArray[Any]:
        """Return the values of a column's distinct cells, blank ones with their default."""
        column, parsed = self.sheet.table.by_name[name], self.parsed[name]
        default = self._default(column)
        if default is None:
            return parsed.values
        values = parsed.values.copy()
        values[parsed.state == BLANK] = default
        return values > 0 if column.kind == "yes_no" else values

    def _absent(self, name: str, rows: int) -> NDArray[Any]:
        column = self.sheet.table.by_name[name]
        default = self._default(column)
        dtype = "float64" if column.kind == "yes_no" and default is None else DTYPES[column.kind]
        missing = {"float64": np.nan, "object": None}.get(dtype, np.datetime64("NaT", "s"))
        return np.full(rows, missing if default is None else default, dtype=dtype)


def read_fields(sheet: Sheet, written: Written, settings: Settings, spellings: Spellings, blanks: frozenset[str]) -> Fields:
    """Read every column of `sheet`."""
    columns = [column for column in sheet.table.columns if column.name in sheet.cells]
    read = {one.name: read_cells(sheet.cells[one.name], one, sheet.table, written, settings, spellings, blanks) for one in columns}
    return Fields(sheet, read, settings)


def read_cells(
    cells: Cells, column: Column, table: Table, written: Written, settings: Settings, spellings: Spellings, blanks: frozenset[str]
) -> Parsed:
    """Read one column by its kind."""
    if column.kind in ("number", "count"):
        return read_numbers(cells, column, Style(written.decimal[column.name], settings.shop.currency, blanks))
    if column.kind in ("date", "timestamp", "month"):
        first = FIRST_PRICE_YEAR if table.name in _PRICES else FIRST_YEAR
        kind = table.name if table.name in _PRICES else column.kind
        return read_dates(cells, DateStyle(written.order[column.name], blanks, first), kind)
    if column.kind in ("code", "codes"):
        return read_codes(cells, column, table.name, spellings, blanks)
    if column.kind == "choice":
        return read_choices(cells, column, settings.aliases.get(column.name, {}), blanks)
    return read_yes_no(cells, blanks) if column.kind == "yes_no" else read_text(cells, blanks)


def cell_flags(fields: Fields) -> list[Flag]:
    """Return a rejection for each cell that could not be read, and for each needed one that is blank."""
    flags = []
    for name, column in fields.parsed.items():
        cells = fields.sheet.cells[name]
        if fields.sheet.table.by_name[name].need == "yes" and (column.state == BLANK).any():
            at = np.flatnonzero((column.state == BLANK)[cells.codes])
            flags.append(Flag(at, name, [""] * len(at), _MISSING))
        if (column.state == REJECTED).any():
            flags += _by_reason(cells, column, REJECTED, name)
    return flags


def repair_flags(fields: Fields, kept: Rows) -> tuple[list[Flag], int]:
    """Return the repaired cells of the rows that are true in `kept`, and how many rows have one."""
    flags, touched = list[Flag](), np.zeros(len(kept), dtype=np.bool_)
    for name, column in fields.parsed.items():
        if (column.state == REPAIRED).any():
            flags += _by_reason(fields.sheet.cells[name], column, REPAIRED, name, kept)
    for name, rows in fields.sheet.filled.items():
        at = np.flatnonzero(rows & kept)
        flags.append(Flag(at, name, [""] * len(at), Reason("merged", "the value of a merged cell was taken for each of its rows")))
    for flag in flags:
        touched[flag.at] = True
    return flags, int(touched.sum())


def _by_reason(cells: Cells, column: Parsed, state: int, name: str, among: Rows | None = None) -> list[Flag]:
    wanted = (column.state == state)[cells.codes]
    at = np.flatnonzero(wanted if among is None else wanted & among)
    code = cells.codes[at]
    found, place = np.unique(code, return_inverse=True)
    texts = cells.texts(found)
    groups: dict[Reason, list[int]] = {}
    for i, cell in enumerate(found.tolist()):
        groups.setdefault(column.reasons[cell], []).append(i)
    flags = []
    for reason, members in groups.items():
        here = np.isin(place, members) if len(groups) > 1 else np.ones(len(at), dtype=np.bool_)
        flags.append(Flag(at[here], name, [texts[i] for i in place[here]], reason))
    return flags
