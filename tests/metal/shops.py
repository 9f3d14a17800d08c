"""Small shops for the metal room: gold in 18k, three stages, weighed job cards."""

from __future__ import annotations

from datetime import date
from typing import Any

from shoplib.costing import cost
from shoplib.intake import until
from shoplib.intake.shop import Shop
from shoplib.metal.whole import Whole, whole
from tests.flow.shops import Row, entry, order, shop_of

TOML = """
[shop]
name = "Metal bench (invented)"
currency = "EUR"
[[alloys]]
code = "18k"
metal = "gold"
fineness = 750
[[solders]]
code = "hard"
fineness = 700
[[stages]]
name = "melt"
takes_metal = true
[[stages]]
name = "cut"
cuts = true
[[stages]]
name = "polish"
[[workers]]
code = "A"
skills = ["melt", "cut", "polish"]
wage_per_hour = 20
"""
AS_OF = date(2026, 3, 31)
PRICES = [{"date": "2026-01-01", "metal": "gold", "price": 100.0, "per": "g", "currency": "EUR"}]


def row(day: str, kind: str, gross_g: float | None, metal: str = "gold", fineness: float | None = 1000.0, **cells: Any) -> Row:
    """Return a row of the ledger; gold is fine to the last gram unless said."""
    return {"date": day, "kind": kind, "metal": metal, "gross_g": gross_g, "fineness": fineness, **cells}


def weighed(name: str, stage: str, day: str, weight_in: float | None = None, weight_out: float | None = None, **cells: Any) -> Row:
    """Return an entry with weights."""
    return entry(name, stage, "A", day, 1.0, weight_in_g=weight_in, weight_out_g=weight_out, **cells)


def piece(name: str, weight: float | None, delivered: str | None = None, **cells: Any) -> Row:
    """Return an order, delivered with its finished weight or still open."""
    done = {"delivered_on": delivered, "finished_weight_g": weight} if delivered else {}
    return order(name, "2026-01-05", **{"quoted_weight_g": weight or 40.0, **done, **cells})


def shop(orders: list[Row], labour: list[Row], ledger: list[Row] = [], toml: str = TOML, **tables: list[Row]) -> Shop:  # noqa: B006
    """Return a shop as known on `AS_OF`."""
    found = {"orders": orders, "labour": labour, "metal_ledger": ledger, "metal_prices": PRICES, **tables}
    return until(shop_of(toml, **found), AS_OF)


def metals(shop: Shop) -> Whole:
    """Return what is told of its metals."""
    return whole(shop, cost(shop, AS_OF))
