"""Charts over time and along a scale: columns by month, lines with bands, control charts.

What happened is solid, a forecast is hatched, a limit dotted. The labels of an axis are written in Python, so that no
locale or time zone of the reader's machine changes them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from ..drawing import BAD, BAND, GREY, INK, METAL, PAPER, SOFT, TEXT_PX, Drawing, safe
from ..sentences import short_month
from .frame import Axis, Mark, marks_layout, solid_marks, text_px

HEIGHT_PX, NARROW_HEIGHT_PX = 320, 300
WIDE_PX, NARROW_PX = 620, 290
LABEL_PX, NOTE_PX = 15, 46
Tick = tuple[float, str]


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


@dataclass(frozen=True)
class Series:
    """One line, labelled at its end.

    Parameters
    ----------
    label : str
        Written at the line's end.
    x, y : tuple of float
        Places; None in `y` breaks the line.
    colour : str
        Ink, grey, metal, good or bad.
    low, high : tuple of float, optional
        Band around the line, as long as `x`; None where there is none.
    dash : {'solid', 'dot', 'dash'}
        Dotted for what is a limit or a plan.
    marks : bool
        Points only.
    hover : tuple of str, optional
        Shown under the pointer.
    steps : bool
        Keeps its value until the next point, as a price list does.
    """

    label: str
    x: tuple[float, ...]
    y: tuple[float | None, ...]
    colour: str = INK
    low: tuple[float | None, ...] = ()
    high: tuple[float | None, ...] = ()
    dash: str = "solid"
    marks: bool = False
    hover: tuple[str, ...] = ()
    steps: bool = False


def day_number(day: date) -> float:
    """Return the place of a day on a time axis: days since 1970-01-01."""
    return float((day - date(1970, 1, 1)).days)


def month_ticks(first: date, last: date, most: int = 7) -> list[Tick]:
    """Return the first days of months between two days as axis ticks, thinned to `most`."""
    count = (last.year - first.year) * 12 + last.month - first.month + 1
    months = [date(first.year + (first.month - 1 + at) // 12, (first.month - 1 + at) % 12 + 1, 1) for at in range(count)]
    inside = [month for month in months if first <= month <= last]
    return [(day_number(month), short_month(month)) for month in inside[:: max(1, math.ceil(len(inside) / most))]]


def columns(points: Sequence[Point], axis: Axis, marks: Sequence[Mark] = ()) -> Drawing:
    """Columns by month or week: solid what happened, hatched with a whisker what is forecast."""
    layout = _layout(axis, _thinned([point.label for point in points], WIDE_PX), marks, (-0.6, len(points) - 0.4))
    trace: dict[str, Any] = {
        "type": "bar", "x": list(range(len(points))), "y": [point.value for point in points], "width": 0.66, "hoverinfo": "text",
        "hovertext": [safe(point.hover) for point in points], "text": [safe(point.text) for point in points], "textposition": "outside",
        "cliponaxis": False, "textfont": {"color": INK, "size": TEXT_PX}, "textangle": 0, "constraintext": "none",
        "marker": _hatched(points),
    }  # fmt: skip
    narrow = {"xaxis": _ticks(_thinned([point.label for point in points], NARROW_PX))}
    zero = solid_marks(marks, (-0.6, len(points) - 0.4), "y")
    return Drawing((*zero, trace, *_whiskers(points)), layout, _narrow(layout, narrow))


def lines(
    series: Sequence[Series],
    axis: Axis,
    ticks: Sequence[Tick],
    marks: Sequence[Mark] = (),
    title: str = "",
    notes: Sequence[tuple[float, float, str]] = (),
) -> Drawing:
    """Up to four lines with or without bands, each labelled at its end.

    Parameters
    ----------
    ticks : sequence of (float, str)
        What the horizontal axis says where.
    title : str
        Title of the horizontal axis, for a scale that is not time.
    notes : sequence of (float, float, str)
        Points worth a word: x, y, text.
    """
    xs = [x for one in series for x in one.x]
    spare = (max(xs) - min(xs)) * 0.015 if xs else 0.0
    layout = _layout(axis, ticks, marks, (min(xs, default=0.0) - spare, max(xs, default=1.0) + spare), title)
    room = max((text_px(one.label) for one in series), default=0.0)
    layout["margin"] = layout["margin"] | {"r": round(room) + 16}
    layout["annotations"] = [*layout["annotations"], *_end_labels(series, axis), *[_note(*note, axis) for note in notes]]
    layout["yaxis"] = layout["yaxis"] | {"range": _with_room(axis, notes)}
    grounds = [trace for one in series for trace in _band(one)]
    span = layout["xaxis"]["range"]
    traces = [*grounds, *solid_marks(marks, (span[0], span[1]), "y"), *map(_line, series)]
    few = _every(ticks, 4)
    return Drawing(tuple(traces), layout, _narrow(layout, {"xaxis": _ticks(few)}))


def bands(series: Series, axis: Axis, ticks: Sequence[Tick], ends: tuple[str, str], **more: Any) -> Drawing:
    """One line with its 80% band; `ends` are written at the band's two ends: ``1 in 10 above``, ``1 in 10 below``."""
    drawing = lines([series], axis, ticks, **more)
    high = next(value for value in reversed(series.high) if value is not None)
    low = next(value for value in reversed(series.low) if value is not None)
    words = [_end_word(high, ends[0], SOFT), _end_word(low, ends[1], SOFT)]
    layout = {**drawing.layout, "annotations": [*drawing.layout["annotations"], *words]}
    layout["margin"] = layout["margin"] | {"r": round(max(map(text_px, [*ends, series.label]))) + 16}
    return replace(drawing, layout=layout)


def control(points: Sequence[Point], axis: Axis, centre: float, low: float | None, high: float | None) -> Drawing:
    """Control chart: grey points, dotted limits, only points outside in the bad colour and labelled."""
    marks = [Mark(limit, "", True) for limit in (low, high) if limit is not None]
    layout = _layout(axis, _thinned([point.label for point in points], WIDE_PX), marks, (-0.6, len(points) - 0.4))
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
        _narrow(layout, {"xaxis": _ticks(_thinned([point.label for point in points], NARROW_PX))}),
    )


def _beside(value: float | None, low: float | None) -> str:
    return "bottom center" if value is not None and low is not None and value < low else "top center"


def _is_outside(value: float | None, low: float | None, high: float | None) -> bool:
    return value is not None and ((low is not None and value < low) or (high is not None and value > high))


def _layout(axis: Axis, ticks: Sequence[Tick], marks: Sequence[Mark], span: tuple[float, float], title: str = "") -> dict[str, Any]:
    left = max(text_px(_longest(axis)), 24.0) + 12
    layout = {
        "height": HEIGHT_PX, "margin": {"l": round(left), "r": 12, "t": 22, "b": 52 if title else 34}, "separators": axis.separators,
        "xaxis": {"range": list(span), "showgrid": False, "title": {"text": safe(title)}} | _ticks(ticks),
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


def _ticks(ticks: Sequence[Tick]) -> dict[str, Any]:
    return {"tickvals": [at for at, _ in ticks], "ticktext": [safe(text) for _, text in ticks]}


def _thinned(labels: Sequence[str], room_px: float) -> list[Tick]:
    """Return as many ticks as stand in `room_px`, counted from the last label so that it is always written."""
    most = max(2, int(room_px / (max(map(text_px, labels), default=1.0) + 12)))
    step = max(1, math.ceil(len(labels) / most))
    return [(float(at), labels[at]) for at in range(len(labels) - 1, -1, -step)][::-1]


def _every(ticks: Sequence[Tick], most: int) -> Sequence[Tick]:
    return ticks[:: max(1, math.ceil(len(ticks) / most))]


def _narrow(layout: dict[str, Any], changes: dict[str, Any]) -> dict[str, Any]:
    return {"height": NARROW_HEIGHT_PX, **changes}


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


def _band(one: Series) -> list[dict[str, Any]]:
    """The band as one closed outline, so that it needs no second trace to fill to."""
    if not one.low:
        return []
    known = [(x, low, high) for x, low, high in zip(one.x, one.low, one.high, strict=True) if low is not None and high is not None]
    there, back = [x for x, _, _ in known], [x for x, _, _ in reversed(known)]
    return [
        {
            "type": "scatter", "mode": "lines", "x": there + back,
            "y": [high for _, _, high in known] + [low for _, low, _ in reversed(known)],
            "fill": "toself", "fillcolor": BAND, "line": {"width": 0, "color": BAND}, "hoverinfo": "skip", "opacity": 1,
        }
    ]  # fmt: skip


def _line(one: Series) -> dict[str, Any]:
    style = {"marker": {"size": 9, "color": one.colour}} if one.marks else {"line": {"color": one.colour, "width": 2, "dash": one.dash}}
    if one.steps:
        style["line"]["shape"] = "hv"
    return {
        "type": "scatter", "mode": "markers" if one.marks else "lines", "x": list(one.x), "y": list(one.y), "connectgaps": False,
        "hoverinfo": "text" if one.hover else "skip", "hovertext": [safe(text) for text in one.hover], **style,
    }  # fmt: skip


def _end_labels(series: Sequence[Series], axis: Axis) -> list[dict[str, Any]]:
    """Label each line at its end, moved apart where two ends lie closer than a line of text."""
    known = [(end, one) for one in series if one.label and (end := _last(one)) is not None]
    per_px = (axis.high - axis.low) / (HEIGHT_PX - 56)
    notes, above = [], -math.inf
    for end, one in sorted(known, key=lambda pair: pair[0]):
        above = max(end, above + LABEL_PX * per_px)
        notes.append(_end_word(above, one.label, SOFT if one.colour in (GREY, METAL) else one.colour))
    return notes


def _last(one: Series) -> float | None:
    return next((value for value in reversed(one.y) if value is not None), None)


def _end_word(y: float, text: str, colour: str) -> dict[str, Any]:
    return {
        "text": safe(text), "x": 1, "xref": "paper", "xanchor": "left", "xshift": 6, "y": y, "yanchor": "middle",
        "showarrow": False, "font": {"color": colour, "size": TEXT_PX},
    }  # fmt: skip


def _with_room(axis: Axis, notes: Sequence[tuple[float, float, str]]) -> list[float]:
    """Return the axis range, lower where a word below a point needs the room."""
    room = NOTE_PX * (axis.high - axis.low) / (HEIGHT_PX - 56)
    return [min([axis.low, *(y - room for _, y, _ in notes if y < (axis.low + axis.high) / 2)]), axis.high]


def _note(x: float, y: float, text: str, axis: Axis) -> dict[str, Any]:
    """A word at a point: above it in the upper half of the chart, below it in the lower."""
    lower = y < (axis.low + axis.high) / 2
    return {
        "text": safe(text), "x": x, "y": y, "showarrow": True, "arrowhead": 0, "arrowwidth": 1, "arrowcolor": SOFT, "standoff": 4,
        "ax": 28 if lower else -28, "ay": 24 if lower else -24, "xanchor": "left" if lower else "right",
        "font": {"color": INK, "size": TEXT_PX},
    }  # fmt: skip
