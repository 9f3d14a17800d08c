"""The plane of charts over time and along a scale: value axis left, labelled axis below.

The labels of an axis are written in Python, so that no locale or time zone of the reader's machine changes them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date
from typing import Any

from ..drawing import SOFT, TEXT_PX, safe
from ..sentences import short_month
from .frame import Axis, Mark, marks_layout, text_px

HEIGHT_PX, NARROW_HEIGHT_PX = 320, 300
WIDE_PX, NARROW_PX = 620, 225
Tick = tuple[float, str]


def day_number(day: date) -> float:
    """Return the place of a day on a time axis: days since 1970-01-01."""
    return float((day - date(1970, 1, 1)).days)


def month_ticks(first: date, last: date, most: int = 7) -> list[Tick]:
    """Return the first days of months between two days as axis ticks, thinned to `most`."""
    count = (last.year - first.year) * 12 + last.month - first.month + 1
    months = [date(first.year + (first.month - 1 + at) // 12, (first.month - 1 + at) % 12 + 1, 1) for at in range(count)]
    inside = [month for month in months if first <= month <= last]
    return [(day_number(month), short_month(month)) for month in inside[:: max(1, math.ceil(len(inside) / most))]]


def plane_layout(axis: Axis, ticks: Sequence[Tick], marks: Sequence[Mark], span: tuple[float, float], title: str = "") -> dict[str, Any]:
    """Return the layout of a chart over time or along a scale; `span` is the range of the axis below."""
    left = max(text_px(_longest(axis)), 24.0) + 12
    layout = {
        "height": HEIGHT_PX, "margin": {"l": round(left), "r": 12, "t": 22, "b": 58 if title else 40}, "separators": axis.separators,
        "xaxis": {"range": list(span), "showgrid": False, "ticklabelstandoff": 6, "title": {"text": safe(title)}} | ticks_at(ticks),
        "yaxis": axis.layout() | {"title": {"text": ""}}, "barmode": "overlay",
        **marks_layout(marks, axis, "y"),
    }  # fmt: skip
    if axis.title:
        layout["annotations"] = [*layout["annotations"], _axis_title(axis.title, round(left))]
    return layout


def _axis_title(title: str, left: int) -> dict[str, Any]:
    return {
        "text": safe(title), "x": 0, "xref": "paper", "xshift": -left, "xanchor": "left", "y": 1, "yref": "paper", "yanchor": "bottom",
        "showarrow": False, "font": {"color": SOFT, "size": TEXT_PX},
    }  # fmt: skip


def _longest(axis: Axis) -> str:
    large = max(abs(axis.low), abs(axis.high))
    if "%" in axis.tickformat:
        return "−100%" if axis.low < 0 else "100%"
    digits = f"{large:,.0f}" if large >= 10 else f"{large:.2f}"
    return ("−" if axis.low < 0 else "") + digits


def ticks_at(ticks: Sequence[Tick]) -> dict[str, Any]:
    """Return ticks for a plotly axis."""
    return {"tickvals": [at for at, _ in ticks], "ticktext": [safe(text) for _, text in ticks]}


def thinned(labels: Sequence[str], room_px: float) -> list[Tick]:
    """Return as many ticks as stand in `room_px`, counted from the last label so that it is always written."""
    most = max(2, int(room_px / (max(map(text_px, labels), default=1.0) + 12)))
    step = max(1, math.ceil(len(labels) / most))
    return [(float(at), labels[at]) for at in range(len(labels) - 1, -1, -step)][::-1]


def every(ticks: Sequence[Tick], most: int) -> Sequence[Tick]:
    """Return every second, third … tick, so that at most `most` are left."""
    return ticks[:: max(1, math.ceil(len(ticks) / most))]


def narrow_of(changes: dict[str, Any]) -> dict[str, Any]:
    """Return what a narrow column changes: the height and `changes`."""
    return {"height": NARROW_HEIGHT_PX, **changes}
