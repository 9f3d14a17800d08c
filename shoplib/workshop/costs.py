"""What an order costs beside its own metal, per money of metal: what comes off price and metal to leave the throughput contribution."""

from __future__ import annotations

import numpy as np

from ..costing.cost import Costing
from ..intake.shop import Shop
from .arrays import Floats
from .axes import Axes

RECENT_DAYS = 365
PRIOR_ORDERS = 10.0
"""Weight, in orders, of the shop's share in an alloy's own."""


def policy_share(shop: Shop, axes: Axes) -> Floats:
    """Return the share by the shop's policy, shape (A,): the part of its metal loss that does not come back.

    `loss_percent` of grams issued, `filings_recovery_percent` of it back less `refining_charge_percent`.
    """
    policy = shop.settings.policy
    lost = policy.loss_percent / (100.0 - policy.loss_percent)
    back = policy.filings_recovery_percent / 100.0 * (1.0 - policy.refining_charge_percent / 100.0)
    return np.full(len(axes.alloys), lost * (1.0 - back))


def measured_share(costing: Costing, shop: Shop, axes: Axes) -> Floats:
    """Return the share measured on the orders delivered in the last year, shape (A,); the policy's where none tells.

    Everything between price with metal and throughput contribution but the metal in the piece: metal lost, other metals, stones,
    findings, work sent out, overtime premium. An alloy with few orders leans on the shop.

    Parameters
    ----------
    costing : Costing
        Of the same day.
    shop : Shop
        For its policy.
    axes : Axes
        Positions.
    """
    orders = costing.orders
    recent = (np.datetime64(costing.as_of, "D") - orders["delivered_on"].to_numpy("datetime64[D]")).astype(np.int64) < RECENT_DAYS
    use = orders[recent & (orders["metal_at_fix"] > 0).to_numpy()]
    metal = use["metal_at_fix"].to_numpy(float)
    cost = (use["price"] + use["metal_billed"] - use["contribution"]).to_numpy(float) - metal
    if not metal.sum() > 0:
        return policy_share(shop, axes)
    alloy, n = axes.alloy_at(use["alloy"]), len(axes.alloys)
    shop_share, weight = float(cost.sum() / metal.sum()), PRIOR_ORDERS * float(metal.mean())
    own, total = (np.bincount(alloy, values, minlength=n) for values in (cost, metal))
    return np.asarray((own + shop_share * weight) / (total + weight))
