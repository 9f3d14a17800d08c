"""All doubts of all tables, by table."""

from __future__ import annotations

import numpy as np

from ...settings import Settings
from ..columns import TABLES
from ..findings import Flag
from .base import Book, flag
from .labour import labour_doubts, unknown_words
from .metal import fx_doubts, ledger_doubts, metal_book_doubts, overhead_doubts, price_doubts, square_of_the_rate
from .orders import order_doubts, order_links, quote_doubts, repeated_rows

FAR_YEARS = 2
"""Years beyond all but the outermost hundredth of a column's dates from which a date is doubted."""

_MAIN_DATE = {
    "orders": ("ordered_on", "delivered_on", "promised_on"),
    "labour": ("date",),
    "metal_prices": ("date",),
    "metal_ledger": ("date",),
    "quotes": ("quoted_on",),
    "payments": ("date",),
    "absences": ("from",),
    "holds": ("from",),
}


def doubts(books: dict[str, Book], given: Settings, full: Settings) -> dict[str, list[Flag]]:
    """Return the doubts about each table.

    Parameters
    ----------
    books : dict of str to Book
        Every table of `columns.TABLES`.
    given : Settings
        shop.toml as the owner wrote it: a worker or stage it lacks is a doubt.
    full : Settings
        The same completed from the tables.
    """
    found: dict[str, list[Flag]] = {name: _far_dates(name, books[name]) for name in TABLES}
    for name, flags in order_links(books).items():
        found[name] += flags
    stages = frozenset(stage.name for stage in given.stages)
    workers = frozenset(worker.code for worker in given.workers)
    found["orders"] += order_doubts(books["orders"])
    found["labour"] += unknown_words(books["labour"], "stage", stages, "stage") + unknown_words(
        books["labour"], "worker", workers, "worker"
    )
    found["labour"] += labour_doubts(books["labour"], books["orders"], full)
    found["metal_prices"] += price_doubts(books["metal_prices"])
    found["fx"] += fx_doubts(books["fx"]) + square_of_the_rate(books, full)
    found["metal_ledger"] += ledger_doubts(books["metal_ledger"], books, full)
    found["metal_book"] += metal_book_doubts(books["metal_book"], full) + unknown_words(books["metal_book"], "stage", stages, "stage")
    found["absences"] += unknown_words(books["absences"], "worker", workers, "worker")
    found["overheads"] += overhead_doubts(books["overheads"])
    found["quotes"] += quote_doubts(books["quotes"])
    for name in ("metal_ledger", "metal_book", "absences", "holds", "overheads", "payments", "price_list"):
        columns = [column.name for column in TABLES[name].columns]
        found[name].append(repeated_rows(books[name].frame, columns, "the same as an earlier row in every column; kept"))
    return {name: [one for one in flags if len(one.at)] for name, flags in found.items()}


def _far_dates(name: str, book: Book) -> list[Flag]:
    """Find dates years away from the others of their column, such as 2062 for 2026."""
    flags = []
    for column in _MAIN_DATE.get(name, ()):
        days = book.days(column)
        known = days[~np.isnat(days)].astype(np.int64)
        if len(known) < 20:
            continue
        outer = max(1, len(known) // 100)
        low, high = np.partition(known, (outer, len(known) - 1 - outer))[[outer, len(known) - 1 - outer]]
        far = FAR_YEARS * 366
        odd = (days < np.datetime64(int(low) - far, "D")) | (days > np.datetime64(int(high) + far, "D"))
        flags.append(flag(book.frame, odd, column, "date_far_off", "years away from the other dates of the column", "check the year"))
    return flags
