"""What all chart forms share: text widths, axes, reference marks, tones and the frame of rows."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from ..drawing import BAD, GOOD, INK, SOFT, TEXT_PX, safe
from ..sentences import cut

ROW_PX, NARROW_ROW_PX, ROWS_EXTRA_PX = 34, 48, 78
ABOVE_ROW = 0.4
PLOT_PX, NARROW_PX = 420, 236
TOP_PX, BOTTOM_PX, GAP_PX = 26, 52, 10
_NARROW_SIGNS = "ijlI.,:;'|!()[] ft\u00a0"
_WIDE_SIGNS = "mwMW@%‰"


@dataclass(frozen=True)
class Axis:
    """A value axis: its title (measure and unit), range and number format.

    Parameters
    ----------
    title : str
        Measure with unit; empty when the measure line says it.
    low, high : float
        Range shown; see `Axis.around`.
    tickformat : str
        d3 format: ``",d"`` for counts and money, ``".0%"`` for shares of one.
    separators : str
        Decimal and thousands sign, from the shop's writing.
    """

    title: str
    low: float
    high: float
    tickformat: str = ""
    separators: str = ".,"

    @classmethod
    def around(
        cls, values: Iterable[float | None], title: str = "", tickformat: str = "", separators: str = ".,", zero: bool = False
    ) -> Axis:
        """Return an axis that holds all `values` (None is left out) with 5% to spare; `zero` starts bars at zero."""
        seen = [value for value in values if value is not None and math.isfinite(value)] or [0.0, 1.0]
        low, high = min([*seen, 0.0] if zero else seen), max([*seen, 0.0] if zero else seen)
        spare = 0.05 * (high - low) or max(abs(high), 1.0) * 0.05
        return cls(title, 0.0 if zero and low >= 0 else low - spare, 0.0 if zero and high <= 0 else high + spare, tickformat, separators)

    def layout(self) -> dict[str, Any]:
        """Return the axis for a plotly layout."""
        return {"range": [self.low, self.high], "tickformat": self.tickformat, "title": {"text": safe(self.title)}}


@dataclass(frozen=True)
class Mark:
    """A reference line: zero or today (solid), or a limit, target or base (dotted), with its label."""

    at: float
    label: str = ""
    dotted: bool = True


@dataclass(frozen=True)
class Scale:
    """Unit of a money axis and what values are divided by."""

    divisor: float
    unit: str


def money_scale(values: Iterable[float | None], currency: str) -> Scale:
    """Return ``thousand EUR`` when any value reaches 10,000, else ``EUR``."""
    large = any(value is not None and abs(value) >= 10_000 for value in values)
    return Scale(1000.0, f"thousand {currency}") if large else Scale(1.0, currency)


def tone_of(low: float | None, high: float | None, against: float = 0.0) -> str:
    """Return the colour of a range: good wholly above, bad wholly below, ink when it could be either."""
    if low is None or high is None:
        return INK
    return GOOD if low > against else BAD if high < against else INK


def text_px(text: str, size: int = TEXT_PX) -> float:
    """Return about how wide a text stands in the sans faces of the page, px."""
    narrow = sum(sign in _NARROW_SIGNS for sign in text)
    wide = sum(sign in _WIDE_SIGNS for sign in text)
    return size * (0.3 * narrow + 0.88 * wide + 0.57 * (len(text) - narrow - wide))


def fitted(text: str, room_px: float) -> str:
    """Return `text` cut until it stands in `room_px`, ten signs at least."""
    signs = len(text)
    while signs > 10 and text_px(cut(text, signs)) > room_px:
        signs -= 1
    return cut(text, signs)


def folded(text: str) -> str:
    """Return `text` with a line break near its middle when it is too long for a narrow column."""
    if text_px(text) <= NARROW_PX or " " not in text:
        return text
    at = min((place for place, sign in enumerate(text) if sign == " "), key=lambda place: abs(place - len(text) / 2))
    return f"{text[:at]}\n{text[at + 1 :]}"


def marks_layout(marks: Sequence[Mark], axis: Axis, along: str = "x") -> dict[str, Any]:
    """Return dotted lines and the labels of all; `along` is the axis their values stand on."""
    other = "y" if along == "x" else "x"
    shapes = [
        {
            "type": "line", f"{along}0": mark.at, f"{along}1": mark.at, f"{other}0": 0, f"{other}1": 1, f"{other}ref": "paper",
            "layer": "above", "line": {"color": INK, "width": 1.5, "dash": "dot"},
        }
        for mark in marks if mark.dotted
    ]  # fmt: skip
    anchors = _anchors(marks, axis)
    notes = [
        _note_above(mark, anchor) if along == "x" else _note_beside(mark) for mark, anchor in zip(marks, anchors, strict=True) if mark.label
    ]
    return {"shapes": shapes, "annotations": notes}


def solid_marks(marks: Sequence[Mark], across: tuple[float, float], along: str = "x") -> list[dict[str, Any]]:
    """Return solid lines as traces, so that they lie over the grid and under what is drawn."""
    other = "y" if along == "x" else "x"
    style = {"type": "scatter", "mode": "lines", "line": {"color": INK, "width": 1.5}, "hoverinfo": "skip"}
    return [style | {along: [mark.at, mark.at], other: list(across)} for mark in marks if not mark.dotted]


def _note_above(mark: Mark, anchor: str) -> dict[str, Any]:
    return {"text": safe(mark.label), "x": mark.at, "y": 1, "yref": "paper", "yanchor": "bottom", "xanchor": anchor} | _PLAIN


def _note_beside(mark: Mark) -> dict[str, Any]:
    return {"text": safe(mark.label), "x": 0, "xref": "paper", "y": mark.at, "yanchor": "bottom", "xanchor": "left"} | _PLAIN


_PLAIN = {"showarrow": False, "font": {"color": SOFT, "size": TEXT_PX}}


def _anchors(marks: Sequence[Mark], axis: Axis) -> list[str]:
    """Labels lean inward near the edges and away from each other where they would meet."""
    width = axis.high - axis.low
    place = [(mark.at - axis.low) / width for mark in marks]
    anchors = ["left" if at < 0.12 else "right" if at > 0.88 else "center" for at in place]
    order = sorted(range(len(marks)), key=place.__getitem__)
    for left, right in zip(order, order[1:], strict=False):
        room = (place[right] - place[left]) * PLOT_PX
        if room < (text_px(marks[left].label) + text_px(marks[right].label)) / 2 + 8:
            anchors[left], anchors[right] = "right", "left"
    return anchors


@dataclass(frozen=True)
class Frame:
    """The frame of rows: names left, written values right; under 560 px both stand above their row.

    Parameters
    ----------
    names : sequence of str
        One a row, top first; cut at 28 signs.
    values : sequence of (str, str)
        Written value (bold) and its range or addition.
    axis : Axis
        The measure.
    marks : sequence of Mark
        Zero, target or limit.
    widest : sequence of str
        Texts of other steps of the same chart, so that the right margin fits them all.
    """

    names: Sequence[str]
    values: Sequence[tuple[str, str]]
    axis: Axis
    marks: Sequence[Mark] = ()
    widest: Sequence[str] = field(default_factory=tuple)

    def places(self) -> list[int]:
        """Return the vertical place of each row, the first on top."""
        return list(range(len(self.names) - 1, -1, -1))

    def layout(self) -> dict[str, Any]:
        """Return the layout of a wide column."""
        texts = [f"{bold} {more}".strip() for bold, more in self.values]
        left = max(map(text_px, map(cut, self.names)), default=0.0) + GAP_PX
        right = max(map(text_px, [*texts, *self.widest]), default=0.0) * 1.04 + GAP_PX + 4
        places = self.places()
        rows = {"tickvals": places, "range": [-0.5, len(places) - 0.5], "showgrid": False, "tickfont": {"color": INK, "size": TEXT_PX}}
        return {
            "height": ROW_PX * len(places) + ROWS_EXTRA_PX,
            "margin": {"l": round(left), "r": round(right), "t": TOP_PX, "b": BOTTOM_PX},
            "xaxis": self.axis.layout(),
            "yaxis": rows | {"ticktext": [safe(cut(name)) for name in self.names], "ticklabelstandoff": 6},
            "yaxis2": rows | {"ticktext": self._values(), "overlaying": "y", "side": "right", "ticklabelstandoff": 6},
            "xaxis2": {"range": [0, 1], "overlaying": "x", "visible": False, "fixedrange": True},
            "separators": self.axis.separators,
            **marks_layout(self.marks, self.axis),
        }  # fmt: skip

    def narrow(self) -> dict[str, Any]:
        """Return what a narrow column changes."""
        rows = {"showticklabels": False, "range": [-0.4, len(self.names) - 0.3]}
        title = folded(self.axis.title)
        more = 18 * title.count("\n")
        return {
            "height": NARROW_ROW_PX * len(self.names) + ROWS_EXTRA_PX + more,
            "margin": {"l": 14, "r": 14, "t": TOP_PX, "b": BOTTOM_PX + more},
            "xaxis": {"nticks": 5, "title": {"text": safe(title).replace("\n", "<br>")}},
            "yaxis": rows,
            "yaxis2": rows,
        }

    def written(self) -> list[dict[str, Any]]:
        """Return the traces that write names and values above the rows, shown in a narrow column only."""
        rooms = [NARROW_PX - text_px(f"{bold}  {more}") * 1.06 for bold, more in self.values]
        names = [safe(fitted(cut(name), room)) for name, room in zip(self.names, rooms, strict=True)]
        values = self._values()
        common = {
            "type": "scatter", "mode": "text", "y": [place + ABOVE_ROW for place in self.places()], "visible": False, "hoverinfo": "skip",
            "xaxis": "x2", "yaxis": "y2", "cliponaxis": False, "textfont": {"color": INK, "size": TEXT_PX, "shadow": "auto"},
        }  # fmt: skip
        left = {"x": [0] * len(names), "text": names, "textposition": "middle right"}
        right = {"x": [1] * len(names), "text": values, "textposition": "middle left"}
        holder = {"type": "scatter", "mode": "markers", "x": [None], "y": [0], "xaxis": "x2", "yaxis": "y2", "hoverinfo": "skip"}
        return [common | left, common | right, holder]

    def _values(self) -> list[str]:
        return [f"<b>{safe(bold)}</b>{'  ' if more else ''}{safe(more)}" if bold else safe(more) for bold, more in self.values]
