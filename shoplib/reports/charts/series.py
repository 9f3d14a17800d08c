"""Lines with and without bands: levels and prices over time, forecasts, curves along a scale."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

from ..drawing import BAND, GREY, INK, METAL, SOFT, TEXT_PX, Drawing, safe
from .frame import Axis, Mark, solid_marks, text_px
from .plane import HEIGHT_PX, NARROW_HEIGHT_PX, NARROW_PX, Tick, day_number, every, month_ticks, narrow_of, plane_layout, ticks_at

__all__ = ["Series", "bands", "day_number", "lines", "month_ticks"]

LABEL_PX, NOTE_PX = 15, 46


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
    layout = plane_layout(axis, ticks, marks, (min(xs, default=0.0) - spare, max(xs, default=1.0) + spare), title)
    ends = _end_labels(series, axis)
    others = [*layout["annotations"], *[_note(*note, axis) for note in notes]]
    layout["yaxis"] = layout["yaxis"] | {"range": _with_room(axis, notes)}
    grounds = [trace for one in series for trace in _band(one)]
    span = layout["xaxis"]["range"]
    traces = [*grounds, *solid_marks(marks, (span[0], span[1]), "y"), *map(_line, series)]
    return _labelled(Drawing(tuple(traces), layout, narrow_of({"xaxis": ticks_at(every(ticks, _most(ticks)))})), others, ends)


def bands(series: Series, axis: Axis, ticks: Sequence[Tick], ends: tuple[str, str], **more: Any) -> Drawing:
    """One line with its 80% band; `ends` are written at the band's two ends: ``1 in 10 above``, ``1 in 10 below``."""
    drawing = lines([series], axis, ticks, **more)
    high = next(value for value in reversed(series.high) if value is not None)
    low = next(value for value in reversed(series.low) if value is not None)
    own = _end_labels([series], axis)
    others = [note for note in drawing.layout["annotations"] if note not in own]
    return _labelled(drawing, others, [*own, _end_word(high, ends[0], SOFT), _end_word(low, ends[1], SOFT)])


def _labelled(drawing: Drawing, others: list[dict[str, Any]], ends: list[dict[str, Any]]) -> Drawing:
    """Write what stands at the lines' ends: right of them, in a narrow column above them, the lowest below."""
    room = max((text_px(str(end["text"])) for end in ends), default=-4.0)
    margin = drawing.layout["margin"]
    low, high = drawing.layout["yaxis"]["range"]
    lowest = min((end["y"] for end in ends), default=0.0) if len(ends) > 1 else low
    below = lowest - low > 2 * LABEL_PX * (high - low) / (NARROW_HEIGHT_PX - 56)
    inside = {"xanchor": "right", "xshift": 0, "font": {"color": INK, "size": TEXT_PX}}
    above = [end | inside | {"yanchor": "top" if below and end["y"] == lowest else "bottom"} for end in ends]
    narrow = drawing.narrow | {"annotations": [*others, *above], "margin": margin | {"r": 12}}
    return replace(
        drawing, layout=drawing.layout | {"annotations": [*others, *ends], "margin": margin | {"r": round(room) + 16}}, narrow=narrow
    )


def _most(ticks: Sequence[Tick]) -> int:
    """Return how many ticks stand in a narrow column."""
    return max(2, int(NARROW_PX / (max((text_px(text) for _, text in ticks), default=1.0) + 14)))


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
    """A word at a point: above it in the upper half of the chart, below it in the lower half and close to the top."""
    close = (axis.high - y) * (HEIGHT_PX - 56) < NOTE_PX * (axis.high - axis.low)
    lower = close or y < (axis.low + axis.high) / 2
    return {
        "text": safe(text), "x": x, "y": y, "showarrow": True, "arrowhead": 0, "arrowwidth": 1, "arrowcolor": SOFT, "standoff": 4,
        "ax": 28 if lower else -28, "ay": 24 if lower else -24, "xanchor": "left" if lower else "right",
        "font": {"color": INK, "size": TEXT_PX},
    }  # fmt: skip
