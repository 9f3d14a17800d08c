"""A table of an answer as a page shows it: which columns, under which headings, how each cell is written."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

import pandas as pd

from . import sentences
from .answer import Answer, Cell, plain
from .blocks import Column, Control, Rows, Shown
from .blocks import Table as TableBlock
from .sentences import MISSING, Writing


@dataclass(frozen=True)
class Show:
    """A column of an answer's table as a page shows it.

    Parameters
    ----------
    column : str
        Name in the answer.
    head : str
        Heading in the trade's words.
    kind : str
        How its cells are written, a key of `KINDS`.
    unit : str
        Under the heading; left out: the kind's own.
    narrow : bool
        Shown on a phone without a tap.
    paper : bool
        Shown on paper only.
    """

    column: str
    head: str
    kind: str = "text"
    unit: str = ""
    narrow: bool = True
    paper: bool = False


Write = Callable[[Writing, Cell], str]


def _number(cell: Cell) -> float | None:
    return float(cell) if isinstance(cell, int | float) else None


def _date(cell: Cell) -> date | None:
    return date.fromisoformat(str(cell)) if cell is not None else None


KINDS: dict[str, Write] = {
    "text": lambda w, cell: MISSING if cell is None or cell == "" else str(cell),
    "yes_no": lambda w, cell: MISSING if cell is None else "yes" if cell else "no",
    "report": lambda w, cell: MISSING if cell is None else str(cell).replace("_", " "),
    "number": lambda w, cell: w.number(_number(cell)),
    "number1": lambda w, cell: w.number(_number(cell), 1),
    "number2": lambda w, cell: w.number(_number(cell), 2),
    "change": lambda w, cell: w.number(_number(cell), 0, "both"),
    "change1": lambda w, cell: w.number(_number(cell), 1, "both"),
    "money": lambda w, cell: w.number(_number(cell)),
    "money2": lambda w, cell: w.number(_number(cell), 2),
    "money_change": lambda w, cell: w.number(_number(cell), 0, "both"),
    "grams": lambda w, cell: w.number(_number(cell), 1),
    "grams_change": lambda w, cell: w.number(_number(cell), 1, "both"),
    "hours": lambda w, cell: w.number(_number(cell), 1),
    "share": lambda w, cell: w.percent(_number(cell)),
    "share_change": lambda w, cell: w.percent(_number(cell), "both"),
    "per_mille": lambda w, cell: w.number(_number(cell), 1),
    "odds": lambda w, cell: sentences.short_odds(_number(cell)),
    "day": lambda w, cell: sentences.short_day(_date(cell)),
    "month": lambda w, cell: sentences.short_month(_date(str(cell)[:7] + "-01") if cell is not None else None),
}
"""How a cell is written, by kind; those of `LEFT` are aligned left, the others right and sorted by value."""


UNITS = {"hours": "h", "per_mille": "‰"}


LEFT = ("text", "yes_no", "report", "day", "month")


def table_of(
    answer: Answer,
    name: str,
    caption: str,
    shows: Sequence[Show],
    rows: pd.DataFrame | None = None,
    note: str = "",
    total: bool = False,
    control: Control | None = None,
    steps: Sequence[pd.DataFrame] = (),
    block: str = "",
    sheet: bool = False,
) -> TableBlock:
    """Return an answer's table as a block.

    Parameters
    ----------
    answer : Answer
        Holds table `name`.
    caption : str
        What the table shows.
    shows : sequence of Show
        At most 8 columns beside those on paper only; the others are in the workbook.
    rows : DataFrame, optional
        A selection of ``answer.table(name)``; left out: all of it.
    note : str
        A line under the table.
    total : bool
        The last row stays last.
    control, steps
        A control and the rows of each of its steps.
    block : str
        Name of the block, when it differs from the table's.
    sheet : bool
        Printed on a sheet of its own.
    """
    writing = answer.writing
    columns = tuple(
        Column(one.head, one.unit or _unit(one.kind, writing), one.kind not in LEFT and one.kind in KINDS, one.narrow, one.paper)
        for one in shows
    )
    sets = tuple(_rows(frame, shows, writing) for frame in steps)
    first = sets[control.start] if sets and control else _rows(answer.table(name) if rows is None else rows, shows, writing)
    return TableBlock(block or name, caption, columns, first, note, total, control, sets, sheet)


def _cell(kind: str, writing: Writing, cell: Cell) -> Shown:
    return Shown(KINDS[kind](writing, cell), cell)


def _unit(kind: str, writing: Writing) -> str:
    return writing.currency if kind.startswith("money") else UNITS.get(kind, "")


def _rows(frame: pd.DataFrame, shows: Sequence[Show], writing: Writing) -> Rows:
    columns = [[_cell(one.kind, writing, cell) for cell in map(plain, frame[one.column].tolist())] for one in shows]
    return tuple(zip(*columns, strict=True)) if len(frame) else ()
