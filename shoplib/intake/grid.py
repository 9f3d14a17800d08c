"""A text file's bytes cut into rows and cells, by array arithmetic.

A cell is told by the places of its first byte and of the byte after its last, so no Python string is made for it: a
million rows are cut in the time a text reader needs for a fifth of them. The rules are those of RFC 4180 (2005, §2):
separator, line break, double quotes around a cell that holds either, a quote inside doubled. A file that breaks the
rules on quotes goes through `loose_rows`, line by line.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .distinct import Builder, Cells
from .text import LINE_FEED, PADDING, RETURN, Text

QUOTE = 34
_BLOCK = 1 << 17
ROWS_AT_A_TIME = 1 << 16
"""Rows handled at once: a large file is never spread out whole, and memory is used again instead of anew."""

Places = NDArray[np.int64]


@dataclass(frozen=True)
class Grid:
    """Rows of a text file.

    Attributes
    ----------
    text : Text
        The file.
    marks : ndarray of int
        Place of the separator or line break that ends each cell, in file order.
    first, last : ndarray of int
        Position in `marks` of the first and last cell of each row.
    quoted : ndarray of int
        Position in `marks` of each cell that stands in double quotes.
    """

    text: Text
    marks: Places
    first: Places
    last: Places
    quoted: Places

    def __len__(self) -> int:
        return len(self.first)

    def cells_of(self, row: int, most: int = 300) -> list[str]:
        """Return the first `most` cells of row `row` (from 0) as text."""
        places = self.marks[self.first[row] : min(self.last[row] + 1, self.first[row] + most)]
        begin = int(self.marks[self.first[row] - 1]) + 1 if self.first[row] else 0
        starts = [begin, *(int(place) + 1 for place in places[:-1])]
        return [self._cell(start, int(end)) for start, end in zip(starts, places, strict=True)]

    def _cell(self, start: int, end: int) -> str:
        raw = self.text.data[start:end].tobytes().rstrip(b"\r")
        if raw[:1] == b'"' and raw[-1:] == b'"' and len(raw) > 1:
            raw = raw[1:-1].replace(b'""', b'"')
        return raw.decode(self.text.encoding, errors="replace")

    def columns(self, below: int, width: int) -> list[Cells]:
        """Return the first `width` columns of the rows after row `below`."""
        # one array for all columns: memory asked for at once comes in large pages, which cost a small part of many small ones
        codes = np.empty((width, len(self) - below - 1), dtype=np.int32)
        builders = [Builder(self.text, column) for column in codes]
        for begin in range(below + 1, max(len(self), below + 2), ROWS_AT_A_TIME):
            for builder, (start, length) in zip(builders, self._block(slice(begin, begin + ROWS_AT_A_TIME), width), strict=True):
                builder.add(start, length)
        return [builder.done() for builder in builders]

    def _block(self, rows: slice, width: int) -> Iterator[tuple[Places, Places]]:
        """Yield, for each of `width` columns, first places and lengths of its cells in `rows`."""
        first, last = self.first[rows], self.last[rows]
        if not len(first):
            yield from ((first, first) for _ in range(width))
            return
        begin = np.where(first > 0, self.marks[first - 1] + 1, 0).astype(first.dtype)
        ends = self._ends(first, last, width)
        starts = np.concatenate([begin[None, :], ends[:-1] + ends.dtype.type(1)])
        lengths = np.maximum(ends - starts, 0)
        if self.text.returns:
            returned = self.text.data[np.maximum(self.marks[last] - 1, 0)] == RETURN
            lengths -= returned & (np.arange(width)[:, None] >= last - first) & (lengths > 0)
        self._unquote(first, last, starts, lengths)
        yield from zip(starts, lengths, strict=True)

    def _ends(self, first: Places, last: Places, width: int) -> Places:
        """Return the places at which the cells end, shape (width, rows); a short row's lacking cells end with it."""
        if (last - first + 1 == width).all():
            regular: Places = np.ascontiguousarray(self.marks[first[0] : last[-1] + 1].reshape(len(first), width).T)
            return regular
        ends: Places = self.marks[np.minimum(first + np.arange(width, dtype=first.dtype)[:, None], last)]
        return ends

    def _unquote(self, first: Places, last: Places, starts: Places, lengths: Places) -> None:
        """Take the quotes off the quoted cells in `starts` and `lengths`."""
        low, high = np.searchsorted(self.quoted, (first[0], last[-1] + 1))
        cells = self.quoted[low:high]
        row = np.searchsorted(first, cells, side="right") - 1
        column = cells - first[row]
        seen = column < len(starts)
        starts[column[seen], row[seen]] += 1
        lengths[column[seen], row[seen]] = np.maximum(lengths[column[seen], row[seen]] - 2, 0)

    def crowded(self, below: int, width: int) -> NDArray[np.bool_]:
        """Tell for each row after row `below` whether something stands to the right of the last of `width` columns."""
        first, last = self.first[below + 1 :], self.last[below + 1 :]
        many = last - first >= width
        many[many] = [any(cell.strip() for cell in self.cells_of(below + 1 + row)[width:]) for row in np.flatnonzero(many).tolist()]
        return many


def cut(text: Text, separator: str) -> Grid | None:
    """Return the rows of `text` cut at `separator`, or None when its quotes do not follow the rules."""
    quotes = _quotes(text)
    if not _quotes_hold(text, quotes, ord(separator)):
        return None
    marks, last = _marks(text, ord(separator), quotes)
    return Grid(text, marks, np.append(np.zeros(1, marks.dtype), last[:-1] + 1), last, _quoted_cells(marks, quotes[::2]))


def _quotes(text: Text) -> Places:
    """Return the places of all double quotes."""
    if not text.quoted:
        return np.zeros(0, dtype=np.int32)
    blocks = range(0, text.size, _BLOCK)
    return np.concatenate([np.flatnonzero(text.data[at : min(at + _BLOCK, text.size)] == QUOTE) + at for at in blocks])


def _marks(text: Text, separator: int, quotes: Places) -> tuple[Places, Places]:
    """Return the places of the separators and line breaks outside quotes, and which of them are line breaks."""
    small = np.int32 if text.size < 2**31 - PADDING else np.int64
    places, breaks, count = [], [], 0
    bounds = np.searchsorted(quotes, np.arange(0, text.size + _BLOCK, _BLOCK))
    for i, begin in enumerate(range(0, text.size, _BLOCK)):
        block = text.data[begin : min(begin + _BLOCK, text.size)]
        found = np.flatnonzero((block == separator) | (block == LINE_FEED))
        if bounds[i] < bounds[i + 1] or bounds[i] % 2:
            found = _outside(found, quotes[bounds[i] : bounds[i + 1]] - begin, bool(bounds[i] % 2))
        breaks.append((np.flatnonzero(block[found] == LINE_FEED) + count).astype(small))
        places.append(np.add(found, begin, dtype=np.int64).astype(small))
        count += len(found)
    return np.concatenate(places), np.concatenate(breaks)


def _outside(marks: Places, quotes: Places, inside: bool) -> Places:
    """Return the marks of a block that stand outside quotes; `inside` says whether the block begins inside."""
    turns = np.searchsorted(marks, quotes)
    if inside:
        turns = np.append(0, turns)
    if len(turns) % 2:
        turns = np.append(turns, len(marks))
    count = turns[1::2] - turns[::2]
    within = np.repeat(turns[1::2] - np.cumsum(count), count) + np.arange(count.sum())
    return np.delete(marks, within)


def _quoted_cells(marks: Places, opening: Places) -> Places:
    """Return the positions in `marks` of the cells that begin with one of the `opening` quotes."""
    cell = np.searchsorted(marks, opening.astype(marks.dtype))
    begin = np.where(cell > 0, marks[np.maximum(cell - 1, 0)] + 1, 0)
    found: Places = cell[begin == opening].astype(marks.dtype)
    return found


def _quotes_hold(text: Text, places: Places, separator: int) -> bool:
    """Tell whether each opening quote begins a cell and each closing quote ends one."""
    if len(places) % 2 or not len(places):
        return not len(places)
    data, opening, closing = text.data, places[::2], places[1::2]
    before, after = data[opening - 1], data[closing + 1]
    begins = (before == separator) | (before == LINE_FEED) | (before == QUOTE) | (opening == 0)
    ends = (after == separator) | (after == LINE_FEED) | (after == QUOTE) | (after == RETURN)
    return bool(begins.all() and ends.all())


def loose_rows(text: Text, separator: str) -> list[list[str]]:
    """Return the rows of a text whose quotes break the rules: each line a row, quotes kept where they make no sense."""
    lines = text.data[: text.size].tobytes().decode(text.encoding, errors="replace").splitlines()
    before = csv.field_size_limit(text.size + 1)
    try:
        return [_loose_cells(line, separator) for line in lines]
    finally:
        csv.field_size_limit(before)


def _loose_cells(line: str, separator: str) -> list[str]:
    try:
        return next(csv.reader([line], delimiter=separator, strict=True), [])
    except csv.Error:
        return [cell.strip('"') for cell in line.split(separator)]
