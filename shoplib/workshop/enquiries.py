"""Enquiries: how many come, what is asked for, and how the chance to win them depends on price and wait.

With table `quotes` an enquiry is a quote. Without it enquiries are the orders themselves, each taken: the answer to the wait is off.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from ..intake.prices import spot_on
from ..intake.shop import Finding, Shop
from .arrays import Days, Flags, Floats, Integers
from .axes import Axes
from .cards import ln_weights
from .response import Answer, QuotesGiven, Response, fit_response

UNANSWERED_DAYS = 60
"""A quote without an answer for longer counts as lost."""
RECENT_DAYS = 365
FEW_PIECES = 30
"""Pieces asked for are taken from the last year, from all the past where that holds fewer."""
FEW_QUOTES = 30
SCALE_LOW, SCALE_HIGH = 0.8, 1.25
"""Orders ÷ won quotes outside: the two tables do not tell of the same customers."""
FADING = 0.9
"""Share of its growth a month keeps of the month before it; common practice, no source."""
SD_GROWTH, SD_SEASON = 0.02, 0.3
"""Prior standard deviations of growth a month and of the wave, ln; common practice, no source."""
LONG_MONTHS = 24
"""Whole months from which a season can be told."""


@dataclass(frozen=True)
class Pieces:
    """What is asked for, N pieces; fields as `piece_…` in `Workshop`."""

    style: Integers
    alloy: Integers
    weight_g: Floats
    price: Floats
    metal: Floats
    contribution: Floats
    win_logit: Floats


@dataclass(frozen=True)
class Enquiries:
    """The fit; fields as in `Workshop`. `response` is None without quotes."""

    has_quotes: bool
    pieces: Pieces
    win_weeks: float
    win_shift: Floats
    win_wait: Floats
    win_price: Floats
    win_scale: float
    first_month: np.datetime64
    per_day: Floats
    dispersion: Floats
    response: Response | None
    findings: tuple[Finding, ...]


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


def fit_enquiries(shop: Shop, axes: Axes, as_of: np.datetime64, open_days: Flags, first_day: np.datetime64, rng: np.random.Generator,
                  draws: int) -> Enquiries:
    """Fit enquiries.

    Parameters
    ----------
    shop : Shop
        As known on `as_of`.
    axes : Axes
        Positions.
    as_of : np.datetime64
        Last day.
    open_days : Flags, shape (n,)
        Working days of the shop from `first_day` to past the as-of date by a year or more.
    first_day : np.datetime64
        First day of `open_days`.
    rng : Generator
        Of the draws.
    draws : int
        Number of draws beside the estimate.
    """
    quotes = asked_in_quotes(shop, axes, as_of)
    answered = np.isfinite(quotes.won)
    has_quotes = bool(answered.sum() >= FEW_QUOTES and (quotes.won == 1).any() and (quotes.won == 0).any())
    asked = quotes if has_quotes else asked_in_orders(shop, axes)
    first, per_day, dispersion = monthly_rate(asked.day, as_of, open_days, first_day, rng, draws)
    response = _response(quotes, answered, as_of, len(axes.styles), shop, rng, draws) if has_quotes else None
    pieces = _pieces(asked, answered if has_quotes else np.ones(len(asked.day), bool), as_of, response)
    scale, findings = _scale(shop, quotes, as_of) if has_quotes else (1.0, (_without_quotes(answered),))
    zero = np.zeros(1 + draws)
    both = (response.shift, response.wait.draws, response.price.draws) if response else (zero, zero, zero)
    return Enquiries(has_quotes, pieces, response.mean_weeks if response else 0.0, *both, scale, first, per_day, dispersion, response,
                     findings + _thin(response))


def asked_in_quotes(shop: Shop, axes: Axes, as_of: np.datetime64) -> Asked:
    """Return the quotes; one that stays unanswered for `UNANSWERED_DAYS` counts as lost."""
    q = shop["quotes"]
    day, style, alloy = q["quoted_on"].to_numpy("datetime64[D]"), axes.style_at(q["style"]), axes.alloy_at(q["alloy"])
    grams, price = q["weight_g"].to_numpy(float), q["price"].to_numpy(float)
    metal = metal_value(shop, axes, alloy, grams, day)
    silent = np.isnan(q["won"].to_numpy(float)) & (day + np.timedelta64(UNANSWERED_DAYS, "D") < as_of)
    won = np.where(silent, 0.0, q["won"].to_numpy(float))
    return Asked(day, style, alloy, np.log(np.maximum(grams, 1e-3)), price, metal, contribution(shop, price, metal), won, q["lead_weeks"].to_numpy(float))


def asked_in_orders(shop: Shop, axes: Axes) -> Asked:
    """Return the orders as what was asked for, each taken."""
    o = shop["orders"]
    day, style, alloy = o["ordered_on"].to_numpy("datetime64[D]"), axes.style_at(o["style"]), axes.alloy_at(o["alloy"])
    ln_weight = ln_weights(o, style)
    terms = o["metal_terms"].to_numpy(object)
    metal = np.where(terms == "customer_metal", 0.0, metal_value(shop, axes, alloy, np.exp(ln_weight), day))
    price = np.nan_to_num(o["price"].to_numpy(float)) + np.where(terms == "at_delivery", metal, 0.0)
    other = np.nansum([o[name].to_numpy(float) for name in ("stones_cost", "outwork_cost", "findings_cost")], axis=0)
    return Asked(day, style, alloy, ln_weight, price, metal, contribution(shop, price, metal) - other, np.ones(len(o)), np.full(len(o), np.nan))


def metal_value(shop: Shop, axes: Axes, alloy: Integers, grams: Floats, day: Days) -> Floats:
    """Return the metal in pieces of `grams` gross at spot of their day, money; 0 without an alloy or a price."""
    value = np.zeros(len(grams))
    for place, code in enumerate(axes.alloys):
        known = next((one for one in shop.settings.alloys if one.code == code), None)
        rows = alloy == place
        if known is not None and rows.any():
            value[rows] = np.nan_to_num(grams[rows] * known.phi * spot_on(shop, known.metal, day[rows]))
    return value


def contribution(shop: Shop, price: Floats, metal: Floats) -> Floats:
    """Return the throughput contribution of pieces if made: price less metal and less the part of its loss that does not come back.

    The loss is that of the policy (`loss_percent` of grams issued, `filings_recovery_percent` of it back).
    """
    policy = shop.settings.policy
    lost = policy.loss_percent / (100.0 - policy.loss_percent)
    back = policy.filings_recovery_percent / 100.0 * (1.0 - policy.refining_charge_percent / 100.0)
    return np.asarray(price - metal * (1.0 + lost * (1.0 - back)))


def monthly_rate(day: Days, as_of: np.datetime64, open_days: Flags, first_day: np.datetime64, rng: np.random.Generator,
                 draws: int) -> tuple[np.datetime64, Floats, Floats]:
    """Return the month after the as-of date, enquiries a working day by month from there (draws + 1, 12), and their dispersion.

    Poisson regression of whole months' counts on the last two years: level, growth that fades, and a yearly wave from `LONG_MONTHS`
    months on; its covariance is widened by the dispersion found.

    References
    ----------
    P. McCullagh and J. A. Nelder, *Generalized Linear Models*, 2nd ed. 1989, ch. 6 (overdispersed counts).
    E. S. Gardner and E. McKenzie, "Forecasting trends in time series", Management Science 31 (1985), 1237–1246 (fading growth).
    """
    start = (as_of + 1).astype("datetime64[M]")
    months, counts, days = _whole_months(day, start, open_days, first_day)
    seasonal = len(months) >= LONG_MONTHS
    design, future = _terms(months, start, seasonal), _terms(start + np.arange(12), start, seasonal)
    usual = np.zeros(design.shape[1])
    usual[0] = np.log(max(counts.sum(), 0.5) / max(days.sum(), 1.0))
    b, covariance, scale, mean = _count_regression(design, counts, days, usual)
    rows = np.vstack([b, b + rng.standard_normal((draws, len(b))) @ np.linalg.cholesky(covariance).T])
    dispersion = max(0.0, (scale - 1.0) / max(mean, 1.0))
    return start, np.exp(np.clip(rows @ future.T, -20, 20)), np.full(1 + draws, dispersion)


def _count_regression(design: Floats, counts: Floats, days: Floats, usual: Floats) -> tuple[Floats, Floats, float, float]:
    """Return coefficients leaning on `usual`, their covariance, variance ÷ mean of the counts (at least 1), and their mean."""
    precision = np.diag(np.concatenate([[1e-2, SD_GROWTH**-2.0], np.full(len(usual) - 2, SD_SEASON**-2.0)]))
    b = usual.copy()
    for _ in range(12):
        mean = np.maximum(days, 1e-9) * np.exp(np.clip(design @ b, -20, 20))
        hessian = (design * mean[:, None]).T @ design + precision
        b = b + np.clip(np.linalg.solve(hessian, design.T @ (counts - mean) - precision @ (b - usual)), -1, 1)
    freedom = max(len(counts) - len(b), 1)
    scale = max(1.0, float(np.sum((counts - mean) ** 2 / np.maximum(mean, 1e-9))) / freedom) if len(counts) > len(b) else 1.0
    return b, np.linalg.inv(hessian) * scale, scale, float(mean.mean()) if len(mean) else 0.0


def _whole_months(day: Days, start: np.datetime64, open_days: Flags, first_day: np.datetime64) -> tuple[Days, Floats, Floats]:
    """Return up to 24 whole months before `start` with counts and working days; a part of a month where there is no whole one."""
    known = day[~np.isnat(day)]
    first = known.min().astype("datetime64[M]") + 1 if len(known) else start
    if first >= start:
        first = start - 1
    months = np.arange(max(first, start - LONG_MONTHS), start)
    counts = np.array([np.sum(known.astype("datetime64[M]") == month) for month in months], dtype=float)
    calendar = (first_day + np.arange(len(open_days))).astype("datetime64[M]")
    days = np.array([np.sum(open_days & (calendar == month)) for month in months], dtype=float)
    return months, counts, days


def _terms(months: Days, start: np.datetime64, seasonal: bool) -> Floats:
    """Return level, growth (months up to `start`, fading after it) and the wave of the year."""
    t = (months.astype("datetime64[M]") - start).astype(np.int64).astype(float)
    growth = np.where(t < 0, t, FADING * (1 - FADING ** np.maximum(t, 0.0)) / (1 - FADING))
    angle = 2 * np.pi * (months.astype("datetime64[M]").astype(np.int64) % 12) / 12
    return np.column_stack([np.ones(len(t)), growth, *([np.sin(angle), np.cos(angle)] if seasonal else [])])


def _response(quotes: Asked, answered: Flags, as_of: np.datetime64, n_styles: int, shop: Shop, rng: np.random.Generator, draws: int) -> Response:
    ratio = np.log(np.maximum(quotes.price, 1e-3) / np.maximum(quotes.metal, 1e-3))
    usual = float(np.median(ratio[quotes.metal > 0])) if (quotes.metal > 0).any() else 0.0
    ratio = np.where(quotes.metal > 0, ratio, usual)
    day = quotes.day.astype(np.int64).astype(float)
    given = QuotesGiven(quotes.won[answered], ratio[answered], quotes.weeks[answered], quotes.ln_weight[answered], quotes.style[answered],
                        day[answered], quotes.day[answered].astype("datetime64[M]").astype(np.int64))
    policy = shop.settings.policy
    recent = (as_of.astype(np.int64) - given.day < RECENT_DAYS).astype(float)
    return fit_response(given, recent, n_styles, policy.answer_to_price_prior, policy.answer_to_wait_prior, rng, draws)


def _pieces(asked: Asked, told: Flags, as_of: np.datetime64, response: Response | None) -> Pieces:
    day, style, alloy, ln_weight, price, metal, worth = (
        a[told] for a in (asked.day, asked.style, asked.alloy, asked.ln_weight, asked.price, asked.metal, asked.contribution))
    recent = (as_of - day).astype(np.int64) < RECENT_DAYS
    use = recent if recent.sum() >= FEW_PIECES else np.ones(len(day), dtype=bool)
    logit = response.logit if response else np.full(len(day), np.inf)
    return Pieces(style[use], alloy[use], np.exp(ln_weight[use]), price[use], metal[use], worth[use], logit[use])


def _scale(shop: Shop, quotes: Asked, as_of: np.datetime64) -> tuple[float, tuple[Finding, ...]]:
    """Return orders ÷ won quotes of the last 12 months."""
    ordered = shop["orders"]["ordered_on"].to_numpy("datetime64[D]")
    orders = int(np.sum((as_of - ordered).astype(np.int64) < RECENT_DAYS))
    won = int(np.sum((quotes.won == 1) & ((as_of - quotes.day).astype(np.int64) < RECENT_DAYS)))
    scale = orders / won if won else 1.0
    text = f"{orders} orders against {won} won quotes in the last 12 months: simulated orders are scaled by {scale:.2f}."
    if SCALE_LOW <= scale <= SCALE_HIGH:
        return scale, (Finding("note", "orders_over_quotes", text, "quotes"),)
    return scale, (Finding("warn", "orders_over_quotes", f"{text} Write down every quote, won or lost, so that the two agree.", "quotes"),)


def _without_quotes(answered: Flags) -> Finding:
    text = (f"Table quotes holds {int(answered.sum())} answered quotes, too few to tell how customers answer to price and wait: every order "
            "forecast is taken however long the wait. Keep quotes with won = y or n.")
    return Finding("warn", "no_quotes", text, "quotes")


def _thin(response: Response | None) -> tuple[Finding, ...]:
    if response is None:
        return ()
    wait = response.wait
    text = (f"A week longer quoted changes the log odds of winning by {wait.estimate:.2f} ({wait.low:.2f} to {wait.high:.2f}), "
            f"from {response.n} quotes{' and the prior in policy.answer_to_wait_prior' if response.n < 300 else ''}.")
    return (Finding("warn" if _wide(wait) else "note", "answer_to_wait", text, "quotes.lead_weeks"),)


def _wide(answer: Answer) -> bool:
    """Whether the ends of the range differ threefold, or in sign."""
    near, far = sorted((abs(answer.low), abs(answer.high)))
    return answer.low * answer.high <= 0 or far > 3 * near
