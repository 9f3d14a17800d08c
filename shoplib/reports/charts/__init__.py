"""The few chart forms. Each takes finished values and texts and returns a `Drawing`; none computes."""

from ..drawing import BAD, BAND, GOOD, GREY, INK, METAL, Drawing, stepped
from .frame import Axis, Mark, Scale, money_scale, tone_of
from .panels import panels
from .points import Point, columns, control
from .rows import Part, Row, Window, bars, bridge, dumbbell, ranges, stacked, turns, windows
from .series import Series, bands, lines

__all__ = [
    "BAD", "BAND", "GOOD", "GREY", "INK", "METAL", "Axis", "Drawing", "Mark", "Part", "Point", "Row", "Scale", "Series", "Window",
    "bands", "bars", "bridge", "columns", "control", "dumbbell", "lines", "money_scale", "panels", "ranges", "stacked", "stepped",
    "tone_of", "turns", "windows",
]  # fmt: skip
