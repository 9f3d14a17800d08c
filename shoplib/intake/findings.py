"""What the intake has to say: findings, tallies, and the two lists of rejected and doubted rows."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

LISTING = ("file", "row", "column", "value", "code", "what", "what_to_do")
"""Columns of rejected_rows.csv and doubted_rows.csv."""


@dataclass(frozen=True)
class Finding:
    """Something the reader must know: ``stop`` (not shown), ``warn`` (caution) or ``note``.

    `text` is one sentence what and one what to do; `where` is file, row and column.
    """

    level: str
    code: str
    text: str
    where: str = ""


@dataclass(frozen=True)
class Tally:
    """Rows of one table: read = accepted + rejected; repaired and doubted count cells' rows among them."""

    file: str
    read: int
    accepted: int
    rejected: int
    repaired: int
    doubted: int

    def line(self) -> str:
        """Return ``orders.csv: 1,204 read, 1,201 accepted, 3 rejected, 12 repaired, 5 doubted``."""
        return (
            f"{self.file}: {self.read:,} read, {self.accepted:,} accepted, {self.rejected:,} rejected, "
            f"{self.repaired:,} repaired, {self.doubted:,} doubted"
        )


@dataclass(frozen=True)
class Reason:
    """Why a cell was repaired, doubted or rejected: a code, what is wrong and what to do."""

    code: str
    what: str
    to_do: str = ""


@dataclass(frozen=True)
class Flag:
    """Rows of one table with one thing to say about one of their columns.

    Attributes
    ----------
    at : ndarray of int
        Positions of the rows in the table the flag was raised on.
    column : str
        The column, empty when the row as a whole is meant.
    values : sequence of object
        The value met in each of the rows.
    reason : Reason
        What is wrong and what to do.
    """

    at: NDArray[np.intp]
    column: str
    values: Any
    reason: Reason


@dataclass
class Remarks:
    """Everything said about one table while it is read; `rejected` and `doubted` end up in the two lists."""

    rejected: list[Flag] = field(default_factory=list)
    doubted: list[Flag] = field(default_factory=list)
    repaired: list[Flag] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)


def listing(file: str, rows: NDArray[np.int64], flags: Iterable[Flag]) -> pd.DataFrame:
    """Return the list of `flags` on a table of `file` whose spreadsheet rows are `rows`, sorted by row.

    Returns
    -------
    DataFrame
        Columns `LISTING`; one line a flag and row.
    """
    raised = [flag for flag in flags if len(flag.at)]
    if not raised:
        return empty_listing()
    at = np.concatenate([flag.at for flag in raised])
    order = np.argsort(rows[at], kind="stable")
    columns = {
        "file": [file] * len(at),
        "row": rows[at],
        "column": [flag.column for flag in raised for _ in range(len(flag.at))],
        "value": [shown(value) for flag in raised for value in flag.values],
        "code": [flag.reason.code for flag in raised for _ in range(len(flag.at))],
        "what": [flag.reason.what for flag in raised for _ in range(len(flag.at))],
        "what_to_do": [flag.reason.to_do for flag in raised for _ in range(len(flag.at))],
    }
    arrays = {name: np.asarray(values, dtype=np.int64 if name == "row" else object)[order] for name, values in columns.items()}
    return pd.DataFrame({name: pd.Series(array, dtype=array.dtype) for name, array in arrays.items()})


def empty_listing() -> pd.DataFrame:
    """Return a list without lines."""
    return pd.DataFrame({name: np.empty(0, dtype=np.int64 if name == "row" else object) for name in LISTING})


def counted(count: int, thing: str) -> str:
    """Return ``1 row`` or ``1,204 rows``."""
    return f"{count:,} {thing}" if count == 1 else f"{count:,} {thing}s"


def shown(value: Any) -> str:
    """Return `value` as an owner would write it: no time at midnight, no needless zeros, blank when missing."""
    if value is None or value is pd.NaT or (isinstance(value, float) and np.isnan(value)):
        return ""
    if isinstance(value, (np.datetime64, pd.Timestamp)):
        moment = pd.Timestamp(value)
        return "" if pd.isna(moment) else moment.strftime("%Y-%m-%d" if moment == moment.normalize() else "%Y-%m-%d %H:%M")
    if isinstance(value, (float, np.floating)):
        return f"{float(value):.10g}"
    return str(value)
