"""A wide price sheet as published, a column a metal, laid out as one row a metal and day."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..errors import DataError
from ..settings import Series
from .distinct import Cells, distinct_objects
from .findings import Finding
from .parsed import tidy
from .sheet import Sheet


def lay_out(sheet: Sheet, series: Sequence[Series], blanks: frozenset[str]) -> Sheet:
    """Return a wide sheet of prices as the table ``metal_prices``; blank cells are gaps, not rows.

    Raises
    ------
    DataError
        A heading named in shop.toml is not in the sheet.
    """
    gone = [one.heading for one in series if one.heading not in sheet.cells]
    if gone:
        raise DataError(
            "headings of [[formats.metal_prices.series]] are not in the sheet", where=sheet.name, found=", ".join(gone),
            to_do="write each heading in shop.toml as it stands in the sheet",
        )  # fmt: skip
    parts = [(one, sheet.cells[one.heading], _filled(sheet.cells[one.heading], blanks)) for one in series]
    cells = {
        "date": _stacked([sheet.cells["date"].kept(keep) for _, _, keep in parts]) if "date" in sheet.cells else None,
        "price": _stacked([column.kept(keep) for _, column, keep in parts]),
        "metal": distinct_objects([one.metal for one, _, keep in parts for _ in range(int(keep.sum()))]),
        "currency": distinct_objects([one.currency for one, _, keep in parts for _ in range(int(keep.sum()))]),
        "per": distinct_objects([one.per for one, _, keep in parts for _ in range(int(keep.sum()))]),
    }
    rows = np.concatenate([sheet.rows[keep] for _, _, keep in parts])
    said = Finding(
        "note",
        "wide_prices",
        f"{sheet.name}: {len(sheet):,} rows hold {len(rows):,} prices of {len(series)} metal{'s' * (len(series) > 1)}; prices are counted.",
        sheet.name,
    )
    crowded = np.concatenate([sheet.crowded[keep] for _, _, keep in parts])
    found = {name: column for name, column in cells.items() if column is not None}
    return Sheet(sheet.table, sheet.name, rows, found, crowded, {}, sheet.separator, (*sheet.findings, said), sheet.sha256)


def _filled(cells: Cells, blanks: frozenset[str]) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    empty = np.array([tidy(text).casefold() in blanks for text in cells.texts()], dtype=np.bool_)
    return ~empty[cells.codes]


def _stacked(columns: Sequence[Cells]) -> Cells:
    codes, long, base = [], dict[int, str](), 0
    for column in columns:
        codes.append(column.codes + base)
        long |= {place + base: text for place, text in column.long.items()}
        base += len(column.raw)
    first = columns[0]
    return Cells(np.concatenate(codes), np.concatenate([column.raw for column in columns]), long, first.encoding, first.doubled)
