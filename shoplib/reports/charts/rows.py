"""Charts in rows: which of these and how sure, before and after, what made the difference, what turns the answer.

Name left, mark, written value right; at most 12 rows, the rest in the table. Bars start at zero.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from ..drawing import BAD, GOOD, GREY, INK, METAL, PAPER, SOFT, TEXT_PX, Drawing, safe
from .frame import Axis, Frame, Mark, solid_marks, text_px, tone_of

MOST_ROWS = 12
BAR, THIN, DOT_PX = 0.46, 0.2, 11


@dataclass(frozen=True)
class Row:
    """One row of a chart.

    Parameters
    ----------
    name : str
        What the row is; from data, escaped here.
    middle : float or None
        The dot, or the length of the bar.
    low, high : float, optional
        80% range.
    before : float, optional
        The outline ○: last period, the target, the level stated.
    value, more : str
        Written value (bold) and its range.
    tone : str
        Colour of the mark; left out: good, bad or ink by where the range lies against zero.
    """

    name: str
    middle: float | None
    low: float | None = None
    high: float | None = None
    before: float | None = None
    value: str = ""
    more: str = ""
    tone: str = ""

    @property
    def colour(self) -> str:
        """The row's tone."""
        return self.tone or tone_of(self.low, self.high)


@dataclass(frozen=True)
class Window:
    """A row on a date axis: from `low` over a tick at `tick` to `high`, and ◆ where it was promised."""

    name: str
    low: float
    tick: float
    high: float
    promised: float | None = None
    value: str = ""
    more: str = ""
    tone: str = INK


@dataclass(frozen=True)
class Part:
    """One part of a whole in stacked rows: its label and its size in each row."""

    label: str
    sizes: tuple[float, ...]
    colour: str


def ranges(rows: Sequence[Row], axis: Axis, marks: Sequence[Mark] = (), widest: Sequence[str] = ()) -> Drawing:
    """Rows with a dot and its 80% bar; ○ as well where a row has `before`."""
    frame = _frame(rows, axis, marks, widest)
    return _drawing(frame, [_span(rows, frame), _outline(rows, frame), _dots(rows, frame)])


def dumbbell(rows: Sequence[Row], axis: Axis, marks: Sequence[Mark] = (), widest: Sequence[str] = ()) -> Drawing:
    """Before ○ and after ● by row, joined by a line; a thin bar holds the range of the dot where there is one."""
    frame = _frame(rows, axis, marks, widest)
    joins: dict[str, Any] = {"type": "scatter", "mode": "lines", "x": [], "y": [], "line": {"color": GREY, "width": 2}, "hoverinfo": "skip"}
    for place, row in zip(frame.places(), rows, strict=True):
        joins["x"] += [row.before, row.middle, None]
        joins["y"] += [place, place, None]
    return _drawing(frame, [_span(rows, frame), joins, _outline(rows, frame), _dots(rows, frame)])


def bars(rows: Sequence[Row], axis: Axis, marks: Sequence[Mark] = (), widest: Sequence[str] = ()) -> Drawing:
    """Bars from zero; ○ marks each row's target or earlier value."""
    frame = _frame(rows, axis, marks, widest)
    solid = _bar([row.middle for row in rows], [0.0] * len(rows), [row.tone or GREY for row in rows], frame)
    return _drawing(frame, [solid, _outline(rows, frame)])


def bridge(rows: Sequence[Row], axis: Axis, marks: Sequence[Mark] = (), widest: Sequence[str] = ()) -> Drawing:
    """What made the difference: first and last row are totals from zero, the others steps that add up between them.

    Parameters
    ----------
    rows : sequence of Row
        `middle` is the total in the first and last row, the signed step in the others.
    axis, marks, widest
        As in the other forms; the axis holds every running total, see `running`.
    """
    frame = _frame(rows, axis, marks, widest)
    ends = running([row.middle or 0.0 for row in rows])
    starts = [0.0, *ends[:-2], 0.0]
    colours = [INK if at in (0, len(rows) - 1) else row.tone or (GOOD if (row.middle or 0.0) >= 0 else BAD) for at, row in enumerate(rows)]
    bar = _bar([end - start for start, end in zip(starts, ends, strict=True)], starts, colours, frame)
    hair: dict[str, Any] = {"type": "scatter", "mode": "lines", "x": [], "y": [], "line": {"color": SOFT, "width": 1}, "hoverinfo": "skip"}
    for place, end in list(zip(frame.places(), ends, strict=True))[:-1]:
        hair["x"] += [end, end, None]
        hair["y"] += [place - BAR / 2, place - 1 + BAR / 2, None]
    return _drawing(frame, [bar, hair])


def running(amounts: Sequence[float]) -> list[float]:
    """Return where each row of a bridge ends: the opening total, the running total after each step, the closing total."""
    ends = [amounts[0]]
    for step in amounts[1:-1]:
        ends.append(ends[-1] + step)
    return [*ends, amounts[-1]]


def turns(rows: Sequence[Row], axis: Axis, base: float, marks: Sequence[Mark] = (), widest: Sequence[str] = ()) -> Drawing:
    """What turns the answer: one bar per assumption, from `low` over the base to `high`, the widest first."""
    frame = _frame(rows, axis, [*marks, Mark(base, "")], widest)
    ends = [(min(row.low or base, base), max(row.high or base, base)) for row in rows]
    worse = _bar([low - base for low, _ in ends], [base] * len(rows), [BAD] * len(rows), frame)
    better = _bar([high - base for _, high in ends], [base] * len(rows), [GOOD] * len(rows), frame)
    return _drawing(frame, [worse, better])


def windows(rows: Sequence[Window], axis: Axis, ticks: Sequence[tuple[float, str]], marks: Sequence[Mark] = ()) -> Drawing:
    """Orders on a date axis: bar from P50 to P95, tick at P80, ◆ at the promised date.

    Parameters
    ----------
    rows : sequence of Window
        Places on the axis in days; see `series.day_number`.
    ticks : sequence of (float, str)
        Where a date is written on the axis.
    """
    frame = Frame([row.name for row in rows], [(row.value, row.more) for row in rows], axis, marks)
    places, colours = frame.places(), [row.tone for row in rows]
    span = _bar([row.high - row.low for row in rows], [row.low for row in rows], colours, frame, THIN, 0.4)
    tick = _points([row.tick for row in rows], places, {"symbol": "line-ns", "size": 15, "line": {"width": 3, "color": colours}})
    promised = _points([row.promised for row in rows], places, {"symbol": "diamond", "size": 11, "color": colours})
    drawing = _drawing(frame, [span, tick, promised])
    dates = {"tickvals": [at for at, _ in ticks], "ticktext": [text for _, text in ticks]}
    return replace(drawing, layout={**drawing.layout, "xaxis": drawing.layout["xaxis"] | dates})


def stacked(names: Sequence[str], parts: Sequence[Part], axis: Axis, values: Sequence[tuple[str, str]]) -> Drawing:
    """Parts of a whole in rows, white gaps between, each part labelled once above the first row.

    Parameters
    ----------
    names : sequence of str
        The rows.
    parts : sequence of Part
        In stacking order; a part below zero is drawn to the left of zero.
    values : sequence of (str, str)
        Written at the right of each row.
    """
    frame = Frame(names, values, axis)
    above, below = [0.0] * len(names), [0.0] * len(names)
    traces, labels = [], []
    for part in parts:
        starts = [above[at] if size >= 0 else below[at] for at, size in enumerate(part.sizes)]
        traces.append(_bar(list(part.sizes), starts, [part.colour] * len(names), frame, 0.5) | {"name": safe(part.label)})
        traces[-1]["marker"]["line"] = {"color": PAPER, "width": 1.5}
        labels.append((starts[0] + part.sizes[0] / 2, part))
        for at, size in enumerate(part.sizes):
            above[at], below[at] = above[at] + max(size, 0.0), below[at] + min(size, 0.0)
    drawing = _drawing(frame, traces)
    notes, depth = _part_labels(labels, axis)
    layout = {**drawing.layout, "annotations": notes, "margin": {**drawing.layout["margin"], "t": 8 + 18 * depth}}
    height = drawing.height + 18 * depth - 18
    narrow = {**drawing.narrow, "margin": {**drawing.narrow["margin"], "t": 8 + 18 * depth}}
    narrow |= {"height": narrow["height"] + 18 * depth - 18}
    return replace(drawing, layout={**layout, "height": height}, narrow=narrow)


def _part_labels(labels: Sequence[tuple[float, Part]], axis: Axis) -> tuple[list[dict[str, Any]], int]:
    """Place each part's label over its middle, on the lowest line where it does not meet another."""
    notes, ends = [], [-1e9] * len(labels)
    for at, part in sorted(labels, key=lambda label: label[0]):
        middle = (at - axis.low) / (axis.high - axis.low) * 300
        half = text_px(part.label) / 2 + 6
        line = next(number for number, end in enumerate(ends) if middle - half >= end)
        ends[line] = middle + half
        colour = SOFT if part.colour in (METAL, GREY) else part.colour
        notes.append(
            {
                "text": safe(part.label), "x": at, "y": 1, "yref": "paper", "yanchor": "bottom", "yshift": 18 * line, "showarrow": False,
                "font": {"color": colour, "size": TEXT_PX},
            }
        )  # fmt: skip
    return notes, max(sum(end > -1e9 for end in ends), 1)


def _frame(rows: Sequence[Row], axis: Axis, marks: Sequence[Mark], widest: Sequence[str]) -> Frame:
    return Frame([row.name for row in rows], [(row.value, row.more) for row in rows], axis, marks, widest)


def _drawing(frame: Frame, traces: Sequence[dict[str, Any]]) -> Drawing:
    drawn = [*solid_marks(frame.marks, (-1, len(frame.names))), *traces]
    shown = {str(len(drawn)): {"visible": True}, str(len(drawn) + 1): {"visible": True}}
    return Drawing((*drawn, *frame.written()), frame.layout() | {"barmode": "overlay"}, frame.narrow(), shown)


def _span(rows: Sequence[Row], frame: Frame) -> dict[str, Any]:
    widths = [None if row.low is None or row.high is None else row.high - row.low for row in rows]
    return _bar(widths, [row.low for row in rows], [row.colour for row in rows], frame, THIN, 0.35)


def _dots(rows: Sequence[Row], frame: Frame) -> dict[str, Any]:
    return _points([row.middle for row in rows], frame.places(), {"size": DOT_PX, "color": [row.colour for row in rows], "opacity": 1})


def _outline(rows: Sequence[Row], frame: Frame) -> dict[str, Any]:
    style = {"size": DOT_PX, "symbol": "circle", "color": PAPER, "line": {"width": 2, "color": INK}, "opacity": 1}
    return _points([row.before for row in rows], frame.places(), style)


def _points(values: Sequence[float | None], places: Sequence[int], marker: dict[str, Any]) -> dict[str, Any]:
    points = {"x": list(values), "y": list(places), "marker": marker, "cliponaxis": False}
    return {"type": "scatter", "mode": "markers", "hoverinfo": "skip", **points}


def _bar(
    lengths: Sequence[float | None],
    starts: Sequence[float | None],
    colours: list[str],
    frame: Frame,
    width: float = BAR,
    opacity: float = 1.0,
) -> dict[str, Any]:
    return {
        "type": "bar", "orientation": "h", "x": list(lengths), "base": list(starts), "y": frame.places(), "width": width,
        "marker": {"color": colours, "opacity": opacity, "line": {"width": 0}}, "hoverinfo": "skip",
    }  # fmt: skip
