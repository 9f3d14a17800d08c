"""What every check works on: a table's accepted rows, with the codes of its words."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from itertools import repeat
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..findings import Flag, Reason

Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class Coded:
    """A column as its distinct values and the position of each row's value among them, found when first asked for."""

    find_codes: Callable[[], NDArray[np.integer[Any]]]
    values: NDArray[Any]

    @cached_property
    def codes(self) -> NDArray[np.integer[Any]]:
        """For each row the position of its value in `values`."""
        return self.find_codes()

    def spread(self, of_values: NDArray[Any]) -> NDArray[Any]:
        """Return, for each row, what `of_values` says of its value."""
        return of_values.take(self.codes)


@dataclass(frozen=True)
class Book:
    """The accepted rows of one table.

    Attributes
    ----------
    frame : DataFrame
        The rows.
    coded : dict of str to Coded
        The columns that were in the file.
    refused_keys : frozenset of str
        Ids of rejected rows.
    """

    frame: pd.DataFrame
    coded: dict[str, Coded] = field(default_factory=dict)
    refused_keys: frozenset[str] = frozenset()

    def words(self, column: str) -> Coded:
        """Return a column of words coded, also when it was not in the file."""
        if column in self.coded:
            return self.coded[column]
        return coded(self.frame[column].to_numpy(object))

    def present(self, column: str) -> list[str]:
        """Return the words of a column, each once."""
        words = self.words(column)
        met = np.bincount(words.codes, minlength=len(words.values)) > 0
        return [str(word) for word in words.values[met] if word is not None]

    def days(self, column: str) -> NDArray[np.datetime64]:
        """Return a column of dates by day."""
        return self.frame[column].to_numpy("datetime64[D]")

    def numbers(self, column: str) -> NDArray[np.float64]:
        """Return a column of numbers."""
        return self.frame[column].to_numpy(np.float64)


def coded(words: NDArray[Any]) -> Coded:
    """Return a column of words coded; a missing word is None among the values."""
    codes, values = pd.factorize(words, use_na_sentinel=False)
    distinct = np.array([*values] or [None], dtype=object)
    distinct[np.asarray(pd.isna(distinct), dtype=np.bool_)] = None
    return Coded(lambda: np.asarray(codes, dtype=np.intp), distinct)


def flag(frame: pd.DataFrame, where: Mask | NDArray[np.intp], column: str, code: str, what: str, to_do: str = "") -> Flag:
    """Return a doubt about the rows of `frame` that are true in `where` (or stand at the places in it)."""
    at = np.flatnonzero(where) if where.dtype == np.bool_ else where.astype(np.intp)
    values = frame[column].iloc[at].tolist() if column and len(at) else [""] * len(at)
    return Flag(at, column, values, Reason(code, what, to_do))


def rows_of(orders: Book) -> dict[str, int]:
    """Return the row of each order in the table of orders."""
    codes = orders.frame["order_id"].tolist()
    return dict(zip(codes, range(len(codes)), strict=True))


def places(book: Book, rows: Mapping[str, int]) -> NDArray[np.intp]:
    """Return for each distinct order named in `book` its row in orders, −1 without; several parted by semicolons have none."""
    named = book.words("order_id").values.tolist()
    return np.fromiter(map(rows.get, named, repeat(-1)), dtype=np.intp, count=len(named))
