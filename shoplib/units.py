"""Weights, fineness and money rounding: the constants of the trade, each with its source."""

from __future__ import annotations

import math
import re
from decimal import ROUND_HALF_UP, Decimal

GRAMS_PER_TROY_OUNCE = 31.1034768
"""Exact: 12/175 of the avoirdupois pound of 453.59237 g (UK Weights and Measures Act 1985)."""

GRAMS_PER_PENNYWEIGHT = GRAMS_PER_TROY_OUNCE / 20
GRAMS_PER_GRAIN = GRAMS_PER_TROY_OUNCE / 480

GRAMS_PER = {"g": 1.0, "kg": 1000.0, "ozt": GRAMS_PER_TROY_OUNCE}
"""Grams in one unit in which a metal price may be quoted."""

METALS = ("gold", "silver", "platinum", "palladium")

CARAT_MARKS = {8: 333.0, 9: 375.0, 10: 417.0, 12: 500.0, 14: 585.0, 15: 625.0, 18: 750.0, 20: 833.0, 21: 875.0, 22: 916.0, 24: 999.9}
"""Customary mark in per mille of fine gold for a carat (ISO 9202 for 9, 14, 18 and 22 carat; the other marks are in
common use). 14 carat is marked 585, not 14/24."""

FINEST = 999.9
"""Fineness of bought-in fine metal when a ledger row leaves it blank, per mille."""

_CARAT = re.compile(r"\b(\d{1,2})\s*(?:k|kt|ct|karat|carat)\b", re.IGNORECASE)
_PER_MILLE = re.compile(r"\b(333|375|417|500|585|625|750|800|833|835|875|900|916|925|935|950|958|990|995|999)(?:[.,](\d))?\b")
_SILVER_MARKS = {800.0, 835.0, 925.0, 935.0, 958.0}


def price_per_gram(price: float, per: str) -> float:
    """Return a price quoted per `per` (``g``, ``kg`` or ``ozt``) as a price per gram."""
    return price / GRAMS_PER[per]


def fine_grams(gross_g: float, fineness_permille: float) -> float:
    """Return the fine grams in `gross_g` grams of an alloy."""
    return gross_g * fineness_permille / 1000.0


def read_alloy_name(name: str) -> tuple[str, float] | None:
    """Tell metal and fineness (per mille) from an alloy's name, or None when the name tells neither.

    ``18k yellow`` is gold 750, ``925`` is silver 925, ``pt950`` is platinum 950, ``916.6 gold`` is gold 916.6.
    """
    metal = next((m for m in METALS if m in name.lower()), "")
    carat = _CARAT.search(name)
    if carat and int(carat[1]) in CARAT_MARKS:
        return "gold", CARAT_MARKS[int(carat[1])]
    mark = _PER_MILLE.search(re.sub(r"(?i)\b(pt|pd|au|ag)\s*(?=\d)", "", name))
    if not mark:
        return None
    fineness = float(f"{mark[1]}.{mark[2] or 0}")
    prefix = re.search(r"(?i)\b(pt|pd|au|ag)\s*\d", name)
    named = {"pt": "platinum", "pd": "palladium", "au": "gold", "ag": "silver"}.get(prefix[1].lower() if prefix else "", metal)
    return named or ("silver" if float(mark[1]) in _SILVER_MARKS else "gold"), fineness


def round_money(amount: float) -> float:
    """Return `amount` rounded to the cent, halves away from zero."""
    return float(Decimal(repr(amount)).quantize(Decimal("0.01"), rounding=ROUND_HALF_UP))


def cents(amount: float) -> int:
    """Return `amount` in whole cents, halves away from zero."""
    return int(Decimal(repr(amount)).scaleb(2).quantize(Decimal(1), rounding=ROUND_HALF_UP))


def round_up(amount: float, step: float) -> float:
    """Return the smallest multiple of `step` that is not below `amount` (to a billionth of a step)."""
    return math.ceil(amount / step - 1e-9) * step
