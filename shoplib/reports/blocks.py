"""The blocks a page is built of.

A report's ``page(answer)`` returns a `Page`: named blocks in the order in which they are read. Every number in them is
read from the answer; every text is finished. Where a text differs by the step of a control it is a tuple, one text a step.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from .answer import Answer, Cell, Found
from .drawing import Drawing

FIRST = "shoplib_first"
"""Metadata of a block's first output: the page begins a new block there."""
Stepped = str | tuple[str, ...]
"""A text, or one text for each step of the block's control."""


@dataclass(frozen=True)
class Control:
    """A slider or a group of choices whose steps are all made beforehand.

    Parameters
    ----------
    name : str
        Names the control for everything that follows it.
    title : str
        What is chosen, before the choices.
    labels : tuple of str
        The chosen value, written out, a step; at most 17.
    start : int
        The step shown first: the report's parameter.
    kind : {'slider', 'choice'}
        A slider for a scale, choices for at most nine alternatives.
    mark : int, optional
        A step worth marking on a slider's track, such as today's price.
    """

    name: str
    title: str
    labels: tuple[str, ...]
    start: int
    kind: str = "slider"
    mark: int | None = None


@dataclass(frozen=True)
class Headline:
    """The sentence that says what to know or do, and what being wrong would cost."""

    text: str
    stake: str
    line: str
    cautions: int = 0


@dataclass(frozen=True)
class KeyFigure:
    """One key figure: name, value with unit, range or basis, one comparison."""

    name: str
    value: str
    unit: str
    range: str
    compare: str = ""


@dataclass(frozen=True)
class KeyFigures:
    """Three to five key figures and the sentence that says what their ranges hold."""

    figures: tuple[KeyFigure, ...]
    note: str = ""


@dataclass(frozen=True)
class Findings:
    """The cautions shown above any chart; `more` counts those only ``shoplib check`` lists."""

    items: tuple[Found, ...]
    more: int = 0


@dataclass(frozen=True)
class Column:
    """Heading of a shown column; `number` aligns right and sorts by value; `narrow` keeps it on a phone; `paper`: on paper only."""

    head: str
    unit: str = ""
    number: bool = False
    narrow: bool = True
    paper: bool = False


@dataclass(frozen=True)
class Shown:
    """One cell: its text, and the raw value it sorts by."""

    text: str
    raw: Cell = None


Rows = tuple[tuple[Shown, ...], ...]


@dataclass(frozen=True)
class Table:
    """A table the owner works with: it sorts, filters from 15 rows, and keeps a total row last.

    `steps` holds other rows, one set a step of `control`; `rows` is then the set of the starting step. A `sheet` is printed on paper
    of its own, in small type: 60 rows on one A4 or Letter sheet.
    """

    name: str
    caption: str
    columns: tuple[Column, ...]
    rows: Rows
    note: str = ""
    total: bool = False
    control: Control | None = None
    steps: tuple[Rows, ...] = ()
    sheet: bool = False


@dataclass(frozen=True)
class Chart:
    """A chart: message, measure line, control, drawing, reading and the numbers behind it.

    Parameters
    ----------
    name : str
        Part of the chart's id on the page.
    message : str or tuple of str
        What this one chart shows, at most 14 words.
    measure : str
        What, unit, period, key of the fills.
    drawing : Drawing
        Made by a form of `charts`.
    label : str
        What a reader who cannot see the chart is told: its message and the numbers that matter.
    reading : str or tuple of str
        One mark or one consequence explained.
    table : Table, optional
        The numbers behind the chart, in closed details; left out when the table that follows holds them.
    control : Control, optional
        The control shown with this chart.
    follows : str
        Name of a control shown elsewhere that moves this chart as well.
    """

    name: str
    message: Stepped
    measure: str
    drawing: Drawing
    label: str
    reading: Stepped
    table: Table | None = None
    control: Control | None = None
    follows: str = ""


@dataclass(frozen=True)
class Absent:
    """Stands where a chart or table would be: what is not shown, why in numbers, what would settle it."""

    name: str
    what: str
    why: str
    settles: str


@dataclass(frozen=True)
class Text:
    """Sentences in a section: a reading without a chart, a caution for those who may get hurt, one line that says nothing is due."""

    name: str
    paragraphs: tuple[str, ...]


@dataclass(frozen=True)
class Notes:
    """Data and notes: rows read and what became of them, and every finding that is a note."""

    items: tuple[Found, ...]
    files: Table | None = None


@dataclass(frozen=True)
class Details:
    """Blocks behind a closed summary, for whoever wants more."""

    name: str
    summary: str
    blocks: tuple[Chart | Table | Absent | Text, ...]


@dataclass(frozen=True)
class Footer:
    """What the page was made from: files with the start of their sha256, parameters, seed, version."""

    inputs: tuple[tuple[str, str], ...]
    parameters: tuple[tuple[str, str], ...]
    seed: int
    version: str
    invented: bool = False


Named = Table | Chart | Absent | Text | Details
"""Blocks a report makes itself; each has a name of its own."""
Block = Headline | KeyFigures | Findings | Table | Chart | Absent | Text | Notes | Details | Footer


@dataclass(frozen=True)
class Page:
    """The blocks of one report by name, in reading order.

    ``page["by_style"]`` is what a notebook cell shows. Every page begins with ``headline``, ``figures``, ``cautions``
    and ends with ``notes``, ``footer``; `page_of` adds these five.
    """

    answer: Answer
    blocks: Mapping[str, Block] = field(default_factory=dict)

    def __getitem__(self, name: str) -> Block:
        """Return one block by name."""
        return self.blocks[name]
