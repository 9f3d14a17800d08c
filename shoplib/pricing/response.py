"""Customers' answer to price and wait, as the fit of the workshop told it, and what it makes of a price.

The coefficient of ln (price ÷ metal) is about the making part, at given metal. What the level of gold does to demand cannot be told
from one shop, whose quotes all saw the same gold on the same day; decisions are shown for several assumed elasticities instead.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from ..errors import UsageError
from ..intake.shop import Shop
from ..workshop.asked import asked_in_quotes
from ..workshop.axes import axes_of
from ..workshop.enquiries import FEW_QUOTES, response_to_quotes
from ..workshop.response import Response

ENOUGH_QUOTES = 150
"""Answered quotes from which the quotes, not the prior, say most of the answer to price (common practice, no source)."""
COLUMNS = ("what", "estimate", "low", "high", "n", "basis")


def answered_quotes(shop: Shop, as_of: np.datetime64) -> int:
    """Return how many quotes have an outcome; one unanswered for long counts as lost."""
    if not shop.settings.stages:
        return int(shop["quotes"]["won"].notna().sum())
    return int(np.isfinite(asked_in_quotes(shop, axes_of(shop), as_of).won).sum())


def customers_response(shop: Shop, as_of: np.datetime64, seed: int) -> Response | None:
    """Return the fit of won on price, wait, weight, style and time; None with too few, only won or only lost, or no stages.

    A quote whose metal has no price tells nothing of price ÷ metal; where that are all, there is no fit either.

    Parameters
    ----------
    shop : Shop
        As known on `as_of`.
    as_of : datetime64[D]
        Today.
    seed : int
        Of the draws.
    """
    if not shop.settings.stages:
        return None
    axes = axes_of(shop)
    quotes = asked_in_quotes(shop, axes, as_of)
    answered = np.isfinite(quotes.won)
    if not (quotes.metal[answered] > 0).any():
        return None
    if answered.sum() < FEW_QUOTES or not (quotes.won == 1).any() or not (quotes.won == 0).any():
        return None
    return response_to_quotes(quotes, answered, as_of, len(axes.styles), shop, np.random.default_rng([seed, 5]), 256)


def why_untold(shop: Shop, as_of: np.datetime64) -> str:
    """Return why the quotes do not tell how customers answer to price, and what would settle it, one sentence each."""
    n = answered_quotes(shop, as_of)
    if not n:
        return f"No quote has an outcome. Keep table quotes with won = y or n; about {ENOUGH_QUOTES} tell it."
    if n < FEW_QUOTES:
        return f"Only {n} quotes have an outcome. About {ENOUGH_QUOTES} tell it: keep won = y or n on each."
    won = shop["quotes"]["won"].to_numpy(float)
    if not (won == 0).any() or not (won == 1).any():
        same, other = ("won", "lost") if (won == 1).any() else ("lost", "won")
        return f"All {n} quotes with an outcome were {same}, so nothing tells dear from cheap. Write down the {other} ones too."
    if not shop.settings.stages:
        return f"{n} quotes have an outcome, but shop.toml names no stages. Add them."
    return f"{n} quotes have an outcome, but their metal has no price. Add it to metal_prices."


def response_table(response: Response | None) -> pd.DataFrame:
    """Return the answers to price and wait with their 80 % ranges, columns `COLUMNS`; no row without a fit."""
    if response is None:
        return pd.DataFrame(columns=list(COLUMNS))
    few = response.n < ENOUGH_QUOTES
    basis = f"logit of won, hull of two fits{'; mostly the range stated in shop.toml' if few else ''}"
    answers = {"answer_to_price": response.price, "answer_to_wait": response.wait}
    rows = [(name, one.estimate, one.low, one.high, response.n, basis) for name, one in answers.items()]
    return pd.DataFrame(rows, columns=list(COLUMNS))


def elasticity(coefficient: float, won_share: float) -> float:
    """Return per cent of quotes won more for a per cent on price ÷ metal: coefficient × (1 − share won), the slope of a logit."""
    return coefficient * (1.0 - won_share)


def lerner_price(marginal_cost: float, own_elasticity: float) -> float:
    """Return the price that earns most where customers answer with a constant elasticity: cost × e ÷ (1 + e).

    Parameters
    ----------
    marginal_cost : float
        Cost of one more, money.
    own_elasticity : float
        Below −1; closer to 0 no price is the best one.

    Raises
    ------
    UsageError
        The elasticity is −1 or above.

    References
    ----------
    A. P. Lerner, "The concept of monopoly and the measurement of monopoly power", Review of Economic Studies 1 (1934), 157–175.
    """
    if own_elasticity >= -1.0:
        raise UsageError("no price earns most where customers hardly answer to it", found=own_elasticity, allowed="below -1")
    return marginal_cost * own_elasticity / (1.0 + own_elasticity)
