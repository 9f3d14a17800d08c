"""What one play left behind, and how its numbers are written."""

from __future__ import annotations

import math
from dataclasses import dataclass

from .ledger import Row
from .market import Customers
from .parameters import World
from .people import Rota
from .play import Workshop
from .prices import Spot

Cells = list[str]


@dataclass(frozen=True)
class Book:
    """Everything the play left behind, ready to be written down."""

    world: World
    rota: Rota
    spot: Spot
    shop: Workshop
    customers: Customers
    ledger: list[Row]
    ids: list[str]


def number(value: float | None, digits: int = 2) -> str:
    """Return a number as short text; blank for nothing."""
    if value is None or math.isnan(value):
        return ""
    text = f"{value:.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def order_ids(world: World, count: int) -> list[str]:
    """Numbers of the job cards."""
    width = max(4, len(str(count)))
    return [f"A{n + 1:0{width}d}" for n in range(count)]
