"""How many days a quote may stand: until the chance of losing more than a share of the making charge passes the chance allowed.

A line loses x of its making charge when its metal rises by x · making charge ÷ metal. The chance of that rise within d price days
is told from the spread of the metal's daily returns; price days are turned into calendar days by how often prices come.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from ..intake.shop import Finding, Shop
from .lines import Lines
from .market import Days, Floats, Market, quoted_in, struck_prices
from .volatility import PATHS, Volatility, chance_above, daily_returns, fit_volatility, rise_paths

HORIZON = 60
"""Price days looked ahead; a quote that could stand longer is told as this."""
JUMP = 8.0
"""A daily move beyond so many standard deviations (by the median) is told as a jump to be looked at."""
PRICE_DAY = 7.0 / 5.0
"""Calendar days a price day stands for: five prices a week."""
GAP_DAYS = 7
"""A move between two daily prices further apart is no daily move and is left out."""
STALE_DAYS = {"daily": 7, "weekly": 14, "monthly": 45}
"""Days after which the last price no longer tells of today (common practice, no source)."""


@dataclass(frozen=True)
class Spread:
    """How one metal may move.

    Attributes
    ----------
    metal : str
    volatility : Volatility or None
        Of one price day; None with fewer than three prices.
    calendar_days : float
        Calendar days a price day stands for.
    cadence : str
        ``daily``, ``weekly`` or ``monthly``.
    jumps : tuple of (str, float)
        Day and move of jumps.
    """

    metal: str
    volatility: Volatility | None
    calendar_days: float
    cadence: str
    jumps: tuple[tuple[str, float], ...] = ()


def spread_of(shop: Shop, market: Market, metal: str) -> Spread:
    """Fit the spread of one metal's returns on the prices up to today.

    Weekly and monthly prices are told as such: their spread is one constant volatility, brought to a price day by the square root of
    time. Days on which the price of the day before was written again (a holiday), and moves over a gap, are no returns.
    """
    days, prices, often = struck_prices(shop, metal, market.as_of)
    fresh = np.append(True, prices[1:] != prices[:-1]) if len(prices) else np.zeros(0, bool)
    days, returns = _moves(days[fresh], prices[fresh], often)
    if len(returns) < 2:
        return Spread(metal, None, PRICE_DAY, often)
    usual = float(np.median(np.abs(returns))) * 1.4826
    far = np.flatnonzero(np.abs(returns) > JUMP * usual) if usual > 0 else np.zeros(0, np.int64)
    jumps = tuple((str(days[k]), float(np.expm1(returns[k]))) for k in far)
    if often == "daily":
        return Spread(metal, fit_volatility(returns), PRICE_DAY, often, jumps)
    a_step = fit_volatility(returns, "constant")
    steps = float(np.median(np.diff(days).astype(np.int64))) / PRICE_DAY
    return Spread(metal, replace(a_step, variance=a_step.variance / steps), PRICE_DAY, often, jumps)


def _moves(days: Days, prices: Floats, often: str) -> tuple[Days, Floats]:
    """Return log returns between neighbouring prices and the days they end; in daily prices those over a gap are left out."""
    if len(prices) < 2:
        return days[1:], np.zeros(0)
    returns, apart = daily_returns(pd.Series(prices)), np.diff(days).astype(np.int64)
    near = apart <= (GAP_DAYS if often == "daily" else np.inf)
    return days[1:][near], returns[near]


def needed_rise(making_charge: Floats, metal_money: Floats, share: float) -> Floats:
    """Return the log rise of a metal that costs `share` of the making charge; 0 where nothing is left to lose, NaN without metal."""
    lost = share * np.maximum(making_charge, 0.0)
    rise = np.divide(lost, metal_money, out=np.full(len(lost), np.nan), where=metal_money > 0)
    return np.asarray(np.log1p(rise))


def chances_by_day(spread: Spread, rises: Floats, seed: int, horizon: int = HORIZON, paths: int = PATHS) -> Floats:
    """Return the chance that each rise is passed within 1 … `horizon` price days, shape (n, horizon): at the end of each day."""
    if spread.volatility is None:
        return np.full((len(rises), horizon), np.nan)
    drawn = rise_paths(spread.volatility, horizon, seed, paths)
    found = np.array([chance_above(drawn, rise) for rise in rises]).reshape(len(rises), horizon)
    found[np.isnan(rises)] = np.nan
    return found


def days_a_quote_may_stand(chances: Floats, risk: float, calendar_days: float) -> Floats:
    """Return the calendar days before the chance first passes `risk`, whole days, shape (n,); NaN where nothing is known.

    Parameters
    ----------
    chances : ndarray(float), shape (n, horizon)
        By price day.
    risk : float
        Chance allowed, 0 to 1.
    calendar_days : float
        Calendar days a price day stands for.
    """
    passed = chances > risk
    first = np.where(passed.any(axis=1), passed.argmax(axis=1), chances.shape[1]).astype(float)
    return np.where(np.isnan(chances).any(axis=1), np.nan, np.floor(first * calendar_days + 1e-9))


def quote_days(
    lines: Lines, making_charge: Floats, market: Market, spreads: dict[str, Spread], share: float, risk: float, seed: int
) -> pd.DataFrame:
    """Return how long a quote may stand, line by line, on the alloy's own metal.

    Returns
    -------
    DataFrame
        line, margin_at_risk_share, odds, days (calendar), method (garch_t, ewma, constant; None without prices), rise (log).
    """
    money = lines.main_g * market.now[lines.main] * (1.0 + market.premium)
    rises = needed_rise(making_charge, money, share)
    days, method = np.full(len(rises), np.nan), np.full(len(rises), None, dtype=object)
    for metal, spread in spreads.items():
        rows = np.flatnonzero(lines.main == market.place(metal))
        chances = chances_by_day(spread, rises[rows], seed)
        days[rows] = days_a_quote_may_stand(chances, risk, spread.calendar_days)
        method[rows] = spread.volatility.method if spread.volatility else None
    told = {"margin_at_risk_share": share, "odds": risk, "days": days, "method": method, "rise": rises}
    return pd.DataFrame({"line": lines.table["line"], **told})


def spread_findings(spreads: dict[str, Spread]) -> tuple[Finding, ...]:
    """Return what an owner must know of the prices the quote days rest on."""
    found = []
    for metal, spread in spreads.items():
        if spread.volatility is None:
            text = f"Fewer than three {metal} prices: how long a quote may stand is not told. Add daily prices to metal_prices."
            found.append(Finding("warn", "too_few_prices", text, "metal_prices"))
        elif spread.cadence != "daily":
            text = (
                f"Prices of {metal} are {spread.cadence}. A mean over weeks is not a price at which metal can be bought, and what moves "
                "between two prices is not seen: the quote days are rough. Add daily prices to metal_prices."
            )
            found.append(Finding("warn", "not_a_fix", text, "metal_prices"))
        if spread.jumps:
            steps = [f"{'rose' if move > 0 else 'fell'} by {100 * abs(move):.0f}% in one step to {day}" for day, move in spread.jumps[-2:]]
            text = f"{metal.capitalize()} {' and '.join(steps)}. If that is a typing error, mend the row; else it stays in the spread."
            found.append(Finding("warn", "price_jump", text, "metal_prices"))
    return tuple(found)


def age_findings(shop: Shop, market: Market) -> tuple[Finding, ...]:
    """Return what must be said of metals whose last price, or last rate of exchange, is too old to tell of today."""
    found = []
    for metal in market.metals:
        days, _, often = struck_prices(shop, metal, market.as_of)
        if not len(days):
            continue
        code = quoted_in(shop, metal, market.as_of)
        rates = shop["fx"].loc[(shop["fx"]["currency"] == code).to_numpy(), "date"].to_numpy("datetime64[D]")
        rates = rates[rates <= market.as_of]
        for what, table, last in ((f"{metal} price", "metal_prices", days[-1]), (f"{code} rate", "fx", rates.max(initial=days[0]))):
            age = int((market.as_of - last).astype(np.int64))
            if age > STALE_DAYS[often] and (table != "fx" or code != shop.settings.shop.currency):
                text = (
                    f"The last {what} is {age} days old ({last}); every figure at today's spot rests on it. Add the later ones to {table}."
                )
                found.append(Finding("warn", "old_price", text, table))
    return tuple(dict.fromkeys(found))
