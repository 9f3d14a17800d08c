"""What was asked for: quotes or orders alike, with the metal in each piece and what it would contribute if made."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np

from ..intake.prices import spot_on
from ..intake.shop import Shop
from .arrays import Days, Flags, Floats, Integers
from .axes import Axes
from .cards import ln_weights
from .costs import policy_share

UNANSWERED_DAYS = 60
"""A quote without an answer for longer counts as lost."""


@dataclass(frozen=True)
class Asked:
    """Quotes or orders alike: day, style, alloy, grams, price, metal (M_fix), contribution, and won (1, 0, NaN) and weeks for quotes."""

    day: Days
    style: Integers
    alloy: Integers
    ln_weight: Floats
    price: Floats
    metal: Floats
    contribution: Floats
    won: Floats
    weeks: Floats

    def only(self, rows: Flags) -> Asked:
        """Return some rows."""
        return replace(self, **{field.name: getattr(self, field.name)[rows] for field in fields(self)})


def asked_in_quotes(shop: Shop, axes: Axes, as_of: np.datetime64, share: Floats | None = None) -> Asked:
    """Return the quotes, `share` as in `asked_in_orders`; one that stays unanswered for `UNANSWERED_DAYS` counts as lost."""
    q = shop["quotes"]
    day, style, alloy = q["quoted_on"].to_numpy("datetime64[D]"), axes.style_at(q["style"]), axes.alloy_at(q["alloy"])
    grams, price = q["weight_g"].to_numpy(float), q["price"].to_numpy(float)
    metal = metal_value(shop, axes, alloy, grams, day)
    silent = np.isnan(q["won"].to_numpy(float)) & (day + np.timedelta64(UNANSWERED_DAYS, "D") < as_of)
    won = np.where(silent, 0.0, q["won"].to_numpy(float))
    return Asked(
        day,
        style,
        alloy,
        np.log(np.maximum(grams, 1e-3)),
        price,
        metal,
        price - metal * (1.0 + _share(shop, axes, share)[alloy]),
        won,
        q["lead_weeks"].to_numpy(float),
    )


def asked_in_orders(shop: Shop, axes: Axes, share: Floats | None = None) -> Asked:
    """Return the orders as what was asked for, each taken.

    Parameters
    ----------
    shop : Shop
        As known on the day.
    axes : Axes
        Positions.
    share : Floats, shape (A,), optional
        Costs beside the metal per money of metal (`costs.measured_share`); left out: the policy's loss, and the costs the table names.
    """
    o = shop["orders"]
    day, style, alloy = o["ordered_on"].to_numpy("datetime64[D]"), axes.style_at(o["style"]), axes.alloy_at(o["alloy"])
    ln_weight = ln_weights(o, style)
    terms = o["metal_terms"].to_numpy(object)
    metal = np.where(terms == "customer_metal", 0.0, metal_value(shop, axes, alloy, np.exp(ln_weight), day))
    price = np.nan_to_num(o["price"].to_numpy(float)) + np.where(terms == "at_delivery", metal, 0.0)
    worth = price - metal * (1.0 + _share(shop, axes, share)[alloy])
    if share is None:
        worth = worth - np.nansum([o[name].to_numpy(float) for name in ("stones_cost", "outwork_cost", "findings_cost")], axis=0)
    return Asked(day, style, alloy, ln_weight, price, metal, worth, np.ones(len(o)), np.full(len(o), np.nan))


def _share(shop: Shop, axes: Axes, share: Floats | None) -> Floats:
    return policy_share(shop, axes) if share is None else share


def metal_value(shop: Shop, axes: Axes, alloy: Integers, grams: Floats, day: Days) -> Floats:
    """Return the metal in pieces of `grams` gross at spot of their day, money; 0 without an alloy or a price."""
    value = np.zeros(len(grams))
    for place, code in enumerate(axes.alloys):
        known = next((one for one in shop.settings.alloys if one.code == code), None)
        rows = alloy == place
        if known is not None and rows.any():
            value[rows] = np.nan_to_num(grams[rows] * known.phi * spot_on(shop, known.metal, day[rows]))
    return value
