"""What every check works on: a table's accepted rows, with the codes of its words."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..findings import Flag, Reason

Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class Coded:
    """A column as its distinct values and the position of each row's value among them."""

    codes: NDArray[np.integer[Any]]
    values: NDArray[Any]

    def spread(self, of_values: NDArray[Any]) -> NDArray[Any]:
        """Return, for each row, what `of_values` says of its value."""
        spread: NDArray[Any] = of_values[self.codes]
        return spread


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
    return Coded(np.asarray(codes, dtype=np.intp), distinct)


def flag(frame: pd.DataFrame, where: Mask | NDArray[np.intp], column: str, code: str, what: str, to_do: str = "") -> Flag:
    """Return a doubt about the rows of `frame` that are true in `where` (or stand at the places in it)."""
    at = np.flatnonzero(where) if where.dtype == np.bool_ else where.astype(np.intp)
    values = frame[column].iloc[at].tolist() if column and len(at) else [""] * len(at)
    return Flag(at, column, values, Reason(code, what, to_do))


def unknown(book: Book, column: str, known: frozenset[str]) -> Mask:
    """Tell which rows name a code that is not in `known`; several codes may be parted by semicolons."""
    words = book.words(column)
    strange = np.array([value not in known and not _all_known(value, known) for value in words.values.tolist()], dtype=np.bool_)
    return np.asarray(words.spread(strange), dtype=np.bool_) if strange.any() else np.zeros(len(book.frame), dtype=np.bool_)


def _all_known(value: Any, known: frozenset[str]) -> bool:
    return value is None or known.issuperset(str(value).split("; "))
