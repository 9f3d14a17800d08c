"""All doubts of all tables, by table."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from ...settings import Settings
from ..columns import TABLES
from ..findings import Flag
from .base import Book, flag, places, rows_of
from .labour import labour_doubts, unknown_words
from .metal import fx_doubts, ledger_doubts, metal_book_doubts, overhead_doubts, price_doubts, square_of_the_rate
from .orders import order_doubts, order_links, quote_doubts, repeated_rows

_SAMPLED = 50_000
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


_REPEATED = ("metal_ledger", "metal_book", "absences", "holds", "overheads", "payments", "price_list")


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
    filled = [name for name in TABLES if len(books[name].frame)]
    found: dict[str, list[Flag]] = {name: [] for name in TABLES}
    rows, refused = rows_of(books["orders"]), books["orders"].refused_keys
    for name in filled:
        book, linked = books[name], name != "orders" and "order_id" in TABLES[name].by_name
        place = places(book, rows) if linked else np.zeros(0, dtype=np.intp)
        links = order_links(book, place, rows, refused) if linked else []
        flags = [*_far_dates(name, book), *links, *_strangers(name, book, given), *_own(name, books, full, place)]
        if name in _REPEATED:
            flags.append(repeated_rows(books[name].frame, [column.name for column in TABLES[name].columns]))
        found[name] = [flag for flag in flags if len(flag.at)]
    return found


def _own(name: str, books: dict[str, Book], settings: Settings, place: NDArray[np.intp]) -> list[Flag]:
    """Return the doubts that are a table's own; `place` is what `places` says of its orders."""
    checks: dict[str, Callable[[], list[Flag]]] = {
        "orders": lambda: order_doubts(books["orders"]),
        "labour": lambda: labour_doubts(books["labour"], books["orders"], place, settings),
        "metal_prices": lambda: price_doubts(books["metal_prices"]),
        "fx": lambda: fx_doubts(books["fx"]) + square_of_the_rate(books, settings),
        "metal_ledger": lambda: ledger_doubts(books["metal_ledger"], books, settings),
        "metal_book": lambda: metal_book_doubts(books["metal_book"], settings),
        "overheads": lambda: overhead_doubts(books["overheads"]),
        "quotes": lambda: quote_doubts(books["quotes"]),
    }
    return checks.get(name, list)()


def _strangers(name: str, book: Book, given: Settings) -> list[Flag]:
    """Return the rows whose worker or stage shop.toml does not know."""
    known = {"stage": frozenset(stage.name for stage in given.stages), "worker": frozenset(worker.code for worker in given.workers)}
    things = [thing for thing in known if thing in TABLES[name].by_name]
    return [flag for thing in things for flag in unknown_words(book, thing, known[thing])]


def _far_dates(name: str, book: Book) -> list[Flag]:
    """Find dates years away from the others of their column, such as 2062 for 2026."""
    flags = []
    for column in _MAIN_DATE.get(name, ()):
        days = book.days(column)
        known = days[:: max(1, len(days) // _SAMPLED)]
        known = known[~np.isnat(known)].astype(np.int64)
        if len(known) < 20:
            continue
        outer = max(1, len(known) // 100)
        low, high = np.partition(known, (outer, len(known) - 1 - outer))[[outer, len(known) - 1 - outer]]
        far = FAR_YEARS * 366
        odd = (days < np.datetime64(int(low) - far, "D")) | (days > np.datetime64(int(high) + far, "D"))
        flags.append(flag(book.frame, odd, column, "date_far_off", "years away from the other dates of the column", "check the year"))
    return flags
