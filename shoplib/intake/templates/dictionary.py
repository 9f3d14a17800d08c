"""The dictionary: every table and column in words, from their one definition."""

from __future__ import annotations

from ..columns import TABLES, Column, Table
from ..findings import shown

_KINDS = {
    "text": "text", "code": "code", "codes": "codes", "choice": "one of", "date": "date", "timestamp": "date and time", "month": "month",
    "number": "number", "count": "whole number", "yes_no": "y or n",
}  # fmt: skip
_NEEDS = {"yes": "yes", "column": "the column; cells may be blank", "no": ""}

_OPENING = """# Dictionary of the tables

Each table is a CSV file, or a sheet of one workbook, with the name given here and the headings in one row. A shop whose
headings differ maps them in `shop.toml`, e.g. `[headings.orders]` with `order_id = "Job No."`. Columns not named here are
left alone. Blank means not known, or the default where one is given.

- **date**: `2026-03-09` is never mistaken; other ways of writing it are read when the file leaves no doubt about their order.
- **number**: `1234.5`; a decimal comma, thousands signs and a unit in the cell are read and said.
- **code**: compared without case and spaces; leading zeros are kept. Workers stand by initials or a number, never by name.
- Money is before tax, in the shop's currency. Weights are what the scale shows (gross) unless a column says fine.
"""


def dictionary() -> str:
    """Return the dictionary of all tables as Markdown."""
    return "\n".join([_OPENING, *(_table(table) for table in TABLES.values())])


def _table(table: Table) -> str:
    lines = [f"## {table.name}{' (needed)' if table.need else ''}", "", table.meaning, ""]
    if table.key:
        lines += [f"`{table.key}` is unique: a second row with the same one is rejected.", ""]
    lines += [line for groups in table.one_of for line in (f"Each row fills {_one_of(groups)}.", "")]
    lines += ["| column | needed | kind | default | meaning |", "|---|---|---|---|---|"]
    return "\n".join([*lines, *(_row(column) for column in table.columns), ""])


def _one_of(groups: tuple[tuple[str, ...], ...]) -> str:
    return ", or ".join(" and ".join(f"`{name}`" for name in group) for group in groups)


def _row(column: Column) -> str:
    cells = [f"`{column.name}`", _NEEDS[column.need], kind_of(column), default_of(column), column.meaning.replace("|", "\\|")]
    return f"| {' | '.join(cells)} |"


def kind_of(column: Column) -> str:
    """Return how a column is read, with its unit and bounds, in words."""
    kind = f"one of {', '.join(column.options)}" if column.kind == "choice" else _KINDS[column.kind]
    unit = f", {column.unit}" if column.unit and column.unit != "count" else ""
    low = ", above 0" if column.above_zero else ", may be below 0" if column.low == float("-inf") else ""
    high = f", at most {shown(column.high)}" if column.high != float("inf") else ""
    return kind + unit + low + high


def default_of(column: Column) -> str:
    """Return the default of a column in words."""
    if column.default is None:
        return ""
    return ("y" if column.default else "n") if column.kind == "yes_no" else shown(column.default)
