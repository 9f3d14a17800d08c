"""The palette, the one plotly template, and a drawing: what a chart form returns.

A drawing is plain dicts as plotly.js takes them. Colours are written as the light palette's; the page swaps them for the
dark ones. Meaning of a colour is the same in every report, and position, text or fill always says it too.
"""

from __future__ import annotations

import html
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

INK, GOOD, BAD, METAL, GREY = "#1a1d21", "#0072b2", "#a83800", "#b98c00", "#878f97"
BAND, SOFT, RULE, WASH, PAPER = "#b9d3e6", "#5b636b", "#d5d9dd", "#f4f5f6", "#ffffff"
DARK = {
    INK: "#e8eaed", GOOD: "#4aa3dc", BAD: "#e0662e", METAL: "#ecc94b", GREY: "#7b848c",
    BAND: "#27506c", SOFT: "#a9b1b9", RULE: "#3a4149", WASH: "#1e2227", PAPER: "#15181c",
}  # fmt: skip
"""Dark colour of each light one."""
FONT = '-apple-system, BlinkMacSystemFont, "Segoe UI", Roboto, "Noto Sans", "Liberation Sans", Arial, sans-serif'
TEXT_PX = 13
NARROW_PX = 560
LAB_SLIDER_PX = 90
CONFIG = {"displayModeBar": False, "responsive": False, "showTips": False}
_AXIS = {
    "gridcolor": RULE, "zeroline": False, "showline": False, "fixedrange": True, "tickangle": 0, "ticks": "",
    "automargin": False, "nticks": 6,
    "tickfont": {"color": SOFT, "size": TEXT_PX}, "title": {"font": {"color": SOFT, "size": TEXT_PX}, "standoff": 8},
}  # fmt: skip
TEMPLATE: dict[str, Any] = {
    "layout": {
        "font": {"family": FONT, "size": TEXT_PX, "color": INK},
        "paper_bgcolor": PAPER, "plot_bgcolor": PAPER, "showlegend": False, "hovermode": "closest", "dragmode": False,
        "hoverlabel": {"bgcolor": INK, "bordercolor": INK, "font": {"color": PAPER, "family": FONT, "size": TEXT_PX}},
        "xaxis": _AXIS, "yaxis": _AXIS, "colorway": [INK, GREY, METAL, GOOD, BAD],
        "annotationdefaults": {"showarrow": False, "font": {"color": SOFT, "size": TEXT_PX}},
    },
    "data": {kind: [{"marker": {"line": {"color": PAPER}}}] for kind in ("scatter", "bar")},
}  # fmt: skip
"""The template of every figure; the page holds it once."""


@dataclass(frozen=True)
class Step:
    """What a control's step changes: plotly's restyle (a value for each trace that moves), relayout, and which traces move."""

    restyle: dict[str, list[Any]]
    relayout: dict[str, Any]
    traces: tuple[int, ...]


@dataclass(frozen=True)
class Drawing:
    """A chart form filled with values.

    Parameters
    ----------
    data : tuple of dict
        Traces.
    layout : dict
        Layout without template; holds ``height`` in px.
    narrow : dict
        What a column under 560 px changes in the layout, ``height`` among it.
    narrow_traces : dict
        What it changes in traces, by their number.
    steps : tuple of Step
        One a step of the control.
    start : int
        The step that `data` and `layout` show.
    labels : tuple of str
        Names of the steps, for plotly's own slider in JupyterLab.
    """

    data: tuple[dict[str, Any], ...]
    layout: dict[str, Any]
    narrow: dict[str, Any] = field(default_factory=dict)
    narrow_traces: dict[str, dict[str, Any]] = field(default_factory=dict)
    steps: tuple[Step, ...] = ()
    start: int = 0
    labels: tuple[str, ...] = ()

    @property
    def height(self) -> int:
        """Height in px in a wide column."""
        return int(self.layout["height"])

    def for_page(self) -> str:
        """Return the JSON the page's script draws from; the template stands once on the page, not here."""
        narrow = {"layout": self.narrow, "traces": self.narrow_traces}
        return dump({"data": self.data, "layout": self.layout, "narrow": narrow, "steps": [vars(step) for step in self.steps]})

    def for_lab(self) -> dict[str, Any]:
        """Return the figure as plotly's mime type, with a slider of its own where the chart has steps."""
        layout = {**self.layout, "template": TEMPLATE}
        if self.steps:
            calls = [
                {"method": "update", "label": label, "args": [step.restyle, step.relayout, list(step.traces)]}
                for label, step in zip(self.labels, self.steps, strict=True)
            ]
            layout["sliders"] = [{"active": self.start, "steps": calls, "pad": {"t": 50}}]
            layout["height"] = self.height + LAB_SLIDER_PX
            layout["margin"] = {**layout["margin"], "b": layout["margin"]["b"] + LAB_SLIDER_PX}
        return {"data": list(self.data), "layout": layout, "config": CONFIG}


def dump(content: object) -> str:
    """Return JSON with sorted keys that is safe inside a script element."""
    return json.dumps(content, sort_keys=True, ensure_ascii=False, allow_nan=False, separators=(",", ":")).replace("<", "\\u003c")


def safe(text: str) -> str:
    """Return text from data so that plotly, which reads a few tags, shows it as it is."""
    return html.escape(text, quote=False)


def stepped(drawings: Sequence[Drawing], start: int, labels: Sequence[str]) -> Drawing:
    """Join drawings of one form, one a step, into a drawing that a control moves.

    Parameters
    ----------
    drawings : sequence of Drawing
        Same traces in the same order, same axis ranges.
    start : int
        The step shown first.
    labels : sequence of str
        Names of the steps.
    """
    traces = [[_leaves(trace) for trace in one.data] for one in drawings]
    layouts = [_leaves(one.layout) for one in drawings]
    moving = _moving(traces)
    paths = sorted({path for found in moving.values() for path in found})
    turning = sorted({path for layout in layouts for path in layout if any(one.get(path) != layout[path] for one in layouts)})
    steps = tuple(
        Step({path: [trace[at].get(path) for at in moving] for path in paths}, {path: layout.get(path) for path in turning}, tuple(moving))
        for trace, layout in zip(traces, layouts, strict=True)
    )
    shown = drawings[start]
    narrow = max((one.narrow for one in drawings), key=lambda narrow: narrow.get("height", 0))
    return Drawing(shown.data, shown.layout, narrow, shown.narrow_traces, steps, start, tuple(labels))


def _moving(traces: Sequence[Sequence[Mapping[str, Any]]]) -> dict[int, list[str]]:
    """Return what differs between steps, by the number of the trace; traces that stay are left out."""
    moving = {}
    for at in range(len(traces[0])):
        paths = {path for step in traces for path in step[at] if any(other[at].get(path) != step[at][path] for other in traces)}
        if paths:
            moving[at] = sorted(paths)
    return moving


def _leaves(tree: Mapping[str, Any], before: str = "") -> dict[str, Any]:
    leaves: dict[str, Any] = {}
    for key, value in tree.items():
        path = f"{before}{key}"
        leaves.update(_leaves(value, f"{path}.") if isinstance(value, Mapping) else {path: value})
    return leaves
