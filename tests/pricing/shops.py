"""A tiny shop with gold in dollars, palladium in white gold, and silver without a price; figures round enough to work by hand."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

import numpy as np

from shoplib.intake.shop import Shop
from shoplib.pricing.market import Market, market_of
from tests.flow.shops import shop_of

AS_OF = date(2026, 3, 27)
TODAY = np.datetime64(AS_OF, "D")
TOML = """
[shop]
name = "Price bench (invented)"
currency = "EUR"
[[alloys]]
code = "18k"
metal = "gold"
fineness = 750
[[alloys]]
code = "18k white"
metal = "gold"
fineness = 750
[alloys.parts]
palladium = 125
[[alloys]]
code = "925"
metal = "silver"
fineness = 925
[[stages]]
name = "bench"
[[workers]]
code = "A"
skills = ["bench"]
wage_per_hour = 20
[policy]
metal_premium_percent = 0
quote_valid_days = 14
"""


def price(day: str, metal: str, per_g: float, currency: str = "EUR") -> dict[str, Any]:
    """Return a price a gram fine."""
    return {"date": day, "metal": metal, "price": per_g, "per": "g", "currency": currency}


PRICES = (price("2026-01-02", "gold", 80.0), price("2026-03-02", "gold", 88.0), price("2026-01-02", "palladium", 30.0))


def tiny(prices: Sequence[dict[str, Any]] = PRICES, toml: str = TOML, **tables: Any) -> Shop:
    """Return the shop with these prices: gold 80, from March 88; palladium 30; no silver."""
    return shop_of(toml, metal_prices=prices, **tables)


def market(shop: Shop | None = None) -> Market:
    """Return its market today."""
    return market_of(shop or tiny(), TODAY)
