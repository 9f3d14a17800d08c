"""Merged cells of a workbook: the value stands in the first cell; the others of the range get it, and it is said."""

from __future__ import annotations

from typing import Any

from .sheets import SheetRows


def fill_merged(page: SheetRows) -> dict[str, Any]:
    """Write the value of each merged range that spans rows into the rows below its first."""
    return {}
