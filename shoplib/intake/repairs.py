"""Repairs said aloud: how many cells of which column, what was done, and where the first of them stands."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ..errors import short
from .findings import Finding, Flag, counted


def repair_findings(name: str, repaired: Sequence[Flag], rows: NDArray[np.int64]) -> list[Finding]:
    """Return a note for each kind of repair in each column of the file `name`."""
    grouped: dict[tuple[str, str, str], list[Flag]] = {}
    for flag in repaired:
        if len(flag.at):
            grouped.setdefault((flag.column, flag.reason.code, flag.reason.what), []).append(flag)
    return [_finding(name, column, code, what, flags, rows) for (column, code, what), flags in grouped.items()]


def _finding(name: str, column: str, code: str, what: str, flags: list[Flag], rows: NDArray[np.int64]) -> Finding:
    count = sum(len(flag.at) for flag in flags)
    first = min(flags, key=lambda flag: int(flag.at[0]))
    text = f"{name}, {column}: {counted(count, 'cell')} repaired, {what}; first in row {rows[first.at[0]]}: {short(first.values[0], 40)}."
    return Finding("note", f"repaired_{code}", text, f"{name}, row {rows[first.at[0]]}, {column}")
