"""Small multiples: the same form for several items on one scale, side by side, one below the other on a phone."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from ..drawing import INK, TEXT_PX, Drawing, safe

PANEL_PX, GAP_PX, TITLE_PX = 180, 64, 28


def panels(parts: Mapping[str, Drawing], across: int = 2) -> Drawing:
    """Join drawings made by `columns`, `lines` or `control`, one a panel, `across` in a row.

    Parameters
    ----------
    parts : mapping of str to Drawing
        Title of each panel, and its drawing.
    across : int
        Panels in a row of a wide column.
    """
    traces: list[dict[str, Any]] = []
    layout: dict[str, Any] = {"shapes": [], "annotations": []}
    for number, (title, part) in enumerate(parts.items(), 1):
        end = "" if number == 1 else str(number)
        traces += [{**trace, "xaxis": f"x{end}", "yaxis": f"y{end}"} for trace in part.data]
        layout[f"xaxis{end}"] = part.layout["xaxis"] | _ticks_of(part) | {"anchor": f"y{end}", "fixedrange": True, "ticks": ""}
        layout[f"yaxis{end}"] = part.layout["yaxis"] | {"anchor": f"x{end}", "nticks": 4, "fixedrange": True, "ticks": ""}
        layout["shapes"] += [_moved(shape, end) for shape in part.layout["shapes"]]
        layout["annotations"].append(_title(title, end))
    first = next(iter(parts.values())).layout
    margin = {"l": first["margin"]["l"], "r": 12, "t": TITLE_PX, "b": 34}
    wide = _grid(len(parts), across, margin["l"])
    narrow = _grid(len(parts), 1, margin["l"])
    common = {"margin": margin, "separators": first["separators"], "barmode": "overlay"}
    return Drawing(tuple(traces), _merged(layout | common, wide), narrow)


def _ticks_of(part: Drawing) -> dict[str, Any]:
    few = part.narrow.get("xaxis", {})
    return {key: few[key] for key in ("tickvals", "ticktext") if key in few}


def _moved(shape: dict[str, Any], end: str) -> dict[str, Any]:
    """Put a line across one panel: paper places become places of the panel's own domain."""
    return {**shape, "xref": f"x{end} domain", "yref": f"y{end}"}


def _title(title: str, end: str) -> dict[str, Any]:
    return {
        "text": f"<b>{safe(title)}</b>", "x": 0, "xref": f"x{end} domain", "xanchor": "left", "y": 1, "yref": f"y{end} domain",
        "yanchor": "bottom", "yshift": 6, "showarrow": False, "font": {"color": INK, "size": TEXT_PX},
    }  # fmt: skip


def _grid(count: int, across: int, left: int) -> dict[str, Any]:
    """Return heights and domains of `count` panels, `across` in a row."""
    down = math.ceil(count / across)
    inner = down * PANEL_PX + (down - 1) * GAP_PX
    gap = (left + 20) / 640 if across > 1 else 0.0
    width = (1 - gap * (across - 1)) / across
    layout: dict[str, Any] = {"height": inner + TITLE_PX + 34}
    for at in range(count):
        end = "" if at == 0 else str(at + 1)
        column, row = at % across, at // across
        top = 1 - row * (PANEL_PX + GAP_PX) / inner
        layout[f"xaxis{end}"] = {"domain": [round(column * (width + gap), 4), round(column * (width + gap) + width, 4)]}
        layout[f"yaxis{end}"] = {"domain": [round(max(top - PANEL_PX / inner, 0.0), 4), round(top, 4)]}
    return layout


def _merged(one: dict[str, Any], other: dict[str, Any]) -> dict[str, Any]:
    merged = dict(one)
    for key, value in other.items():
        merged[key] = _merged(merged[key], value) if isinstance(value, dict) and isinstance(merged.get(key), dict) else value
    return merged
