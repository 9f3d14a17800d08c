"""Columns and control charts: one mark a month or week; solid what happened, hatched what is forecast, dotted a limit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from ..drawing import BAD, GREY, INK, PAPER, TEXT_PX, Drawing, safe
from .frame import Axis, Mark, solid_marks
from .plane import NARROW_PX, WIDE_PX, narrow_of, plane_layout, thinned, ticks_at


@dataclass(frozen=True)
class Point:
    """One column or one point of a control chart.

    Parameters
    ----------
    label : str
        Written on the axis.
    value : float or None
        Its height.
    low, high : float, optional
        80% range, drawn as a whisker.
    forecast : bool
        Hatched.
    tone : str
        Its colour; grey unless it is singled out.
    text : str
        Written at the column; only for those that matter.
    hover : str
        Shown under the pointer.
    """

    label: str
    value: float | None
    low: float | None = None
    high: float | None = None
    forecast: bool = False
    tone: str = GREY
    text: str = ""
    hover: str = ""


def columns(points: Sequence[Point], axis: Axis, marks: Sequence[Mark] = ()) -> Drawing:
    """Columns by month or week: solid what happened, hatched with a whisker what is forecast."""
    layout = plane_layout(axis, thinned([point.label for point in points], WIDE_PX), marks, (-0.6, len(points) - 0.4))
    trace: dict[str, Any] = {
        "type": "bar", "x": list(range(len(points))), "y": [point.value for point in points], "width": 0.66, "hoverinfo": "text",
        "hovertext": [safe(point.hover) for point in points], "text": [safe(point.text) for point in points], "textposition": "outside",
        "cliponaxis": False, "textfont": {"color": INK, "size": TEXT_PX}, "textangle": 0, "constraintext": "none",
        "marker": _hatched(points),
    }  # fmt: skip
    narrow = {"xaxis": ticks_at(thinned([point.label for point in points], NARROW_PX))}
    zero = solid_marks(marks, (-0.6, len(points) - 0.4), "y")
    return Drawing((*zero, trace, *_whiskers(points)), layout, narrow_of(narrow))


def control(points: Sequence[Point], axis: Axis, centre: float, low: float | None, high: float | None) -> Drawing:
    """Control chart: grey points, dotted limits, only points outside in the bad colour and labelled."""
    marks = [Mark(limit, "", True) for limit in (low, high) if limit is not None]
    layout = plane_layout(axis, thinned([point.label for point in points], WIDE_PX), marks, (-0.6, len(points) - 0.4))
    middle = {
        "type": "scatter",
        "mode": "lines",
        "x": [-0.6, len(points) - 0.4],
        "y": [centre, centre],
        "line": {"color": GREY, "width": 1},
    }
    outside = [_is_outside(point.value, low, high) for point in points]
    xs, ys = list(range(len(points))), [point.value for point in points]
    path = {"type": "scatter", "mode": "lines", "x": xs, "y": ys, "line": {"color": GREY, "width": 1}, "hoverinfo": "skip"}
    dots = {
        "type": "scatter", "mode": "markers+text", "x": xs, "y": ys,
        "hoverinfo": "text", "hovertext": [safe(point.hover) for point in points],
        "marker": {"size": [11 if out else 8 for out in outside], "color": [BAD if out else GREY for out in outside], "opacity": 1},
        "text": [safe(point.text) if out else "" for point, out in zip(points, outside, strict=True)],
        "textposition": [_beside(point.value, low) for point in points],
        "textfont": {"color": INK, "size": TEXT_PX}, "cliponaxis": False,
    }  # fmt: skip
    return Drawing(
        (middle | {"hoverinfo": "skip"}, path, dots),
        layout,
        narrow_of({"xaxis": ticks_at(thinned([point.label for point in points], NARROW_PX))}),
    )


def _beside(value: float | None, low: float | None) -> str:
    return "bottom center" if value is not None and low is not None and value < low else "top center"


def _is_outside(value: float | None, low: float | None, high: float | None) -> bool:
    return value is not None and ((low is not None and value < low) or (high is not None and value > high))


def _hatched(points: Sequence[Point]) -> dict[str, Any]:
    return {
        "color": [point.tone for point in points], "opacity": 1,
        "line": {"width": [1 if point.forecast else 0 for point in points], "color": [point.tone for point in points]},
        "pattern": {
            "shape": ["/" if point.forecast else "" for point in points], "fillmode": "replace", "size": 7, "solidity": 0.28,
            "bgcolor": PAPER, "fgcolor": [point.tone for point in points],
        },
    }  # fmt: skip


def _whiskers(points: Sequence[Point]) -> list[dict[str, Any]]:
    known = [
        (at, point.value, point.low, point.high)
        for at, point in enumerate(points)
        if point.value is not None and point.low is not None and point.high is not None
    ]
    if not known:
        return []
    error = {
        "type": "data", "symmetric": False, "thickness": 1.5, "width": 4, "color": INK,
        "array": [high - value for _, value, _, high in known], "arrayminus": [value - low for _, value, low, _ in known],
    }  # fmt: skip
    return [
        {
            "type": "scatter", "mode": "markers", "x": [at for at, *_ in known], "y": [value for _, value, *_ in known], "error_y": error,
            "marker": {"size": 7, "color": INK, "opacity": 1}, "hoverinfo": "skip", "cliponaxis": False,
        }
    ]  # fmt: skip
