"""What reading a column gives: a value or a reason for each distinct cell."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Collection
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .distinct import Cells
from .findings import Reason

PLAIN, BLANK, REPAIRED, REJECTED = 0, 1, 2, 3
"""State of a distinct cell."""

NO_VALUE = "=formula without a stored value"
"""What stands for a workbook's formula that was never calculated."""

_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\u200b\u200e\u200f\ufeff]")


class Unreadable(Exception):
    """A cell cannot be read; `reason` says why."""

    def __init__(self, code: str, what: str, to_do: str = "") -> None:
        self.reason = Reason(code, what, to_do)
        super().__init__(what)


@dataclass
class Parsed:
    """The distinct cells of a column, read.

    Attributes
    ----------
    values : ndarray
        One value a distinct cell.
    state : ndarray of uint8
        `PLAIN`, `BLANK`, `REPAIRED` or `REJECTED`.
    reasons : dict of int to Reason
        For the repaired and rejected.
    """

    values: NDArray[Any]
    state: NDArray[np.uint8]
    reasons: dict[int, Reason] = field(default_factory=dict)

    @classmethod
    def empty(cls, count: int, dtype: Any, missing: Any) -> Parsed:
        """Return `count` blank cells of `dtype` whose value is `missing`."""
        return cls(np.full(count, missing, dtype=dtype), np.zeros(count, dtype=np.uint8))

    def put(self, i: int, text: str, read: Callable[[str], tuple[Any, Reason | None]], blanks: Collection[str]) -> None:
        """Read distinct cell `i` with the careful reader `read`, which returns a value and what it repaired."""
        clean = tidy(text)
        if clean.casefold() in blanks:
            self.state[i] = BLANK
            return
        try:
            if clean == NO_VALUE:
                raise Unreadable(
                    "formula", "a formula without a stored value", "open the file in a spreadsheet, let it calculate, save again"
                )
            value, repair = read(clean)
        except Unreadable as error:
            self.state[i], self.reasons[i] = REJECTED, error.reason
            return
        self.values[i] = value
        repair = (
            repair or spaces(text, clean) or (Reason("wide_signs", "wide signs were read as plain ones") if wide(clean, value) else None)
        )
        if repair:
            self.state[i], self.reasons[i] = REPAIRED, repair

    def refuse(self, which: NDArray[np.bool_], reason: Reason) -> None:
        """Reject the distinct cells that are true in `which`."""
        for i in np.flatnonzero(which).tolist():
            self.state[i], self.reasons[i] = REJECTED, reason


def tidy(text: str) -> str:
    """Return `text` without control signs, outer spaces and runs of spaces."""
    return " ".join(_CONTROL.sub("", text).split())


def spaces(text: str, clean: str) -> Reason | None:
    """Return the repair that made `clean` of `text`, or None when nothing was changed."""
    if text == clean:
        return None
    if _CONTROL.search(text):
        return Reason("control_sign", "an unreadable sign was taken out")
    return Reason("spaces", "needless spaces were taken out")


def wide(text: str, value: Any) -> bool:
    """Tell whether a number or date was written in other than plain signs."""
    return not isinstance(value, str) and plain_width(text) != text


def plain_width(text: str) -> str:
    """Return `text` with full-width and other compatible signs written plainly (Unicode NFKC)."""
    return unicodedata.normalize("NFKC", text)


def matrix(cells: Cells) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
    """Return the bytes of the distinct cells, a row each, and which of them are whole (not cut)."""
    whole = np.ones(len(cells.raw), dtype=np.bool_)
    whole[list(cells.long)] = False
    return cells.raw.view(np.uint8).reshape(len(cells.raw), cells.raw.dtype.itemsize), whole
