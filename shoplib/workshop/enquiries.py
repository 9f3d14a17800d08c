"""Enquiries: how many come, what is asked for, and how the chance to win them depends on price and wait.

With table `quotes` an enquiry is a quote. Without it enquiries are the orders themselves, each taken: the answer to the wait is off.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any

import numpy as np

from ..intake.shop import Finding, Shop
from .arrays import Days, Flags, Floats, Integers
from .arrivals import monthly_rate
from .asked import Asked, asked_in_orders, asked_in_quotes
from .axes import Axes
from .open_days import YEARS_BACK, open_days
from .response import Answer, QuotesGiven, Response, fit_response

RECENT_DAYS = 365
FEW_PIECES = 30
"""Pieces asked for are taken from the last year, from all the past where that holds fewer."""
FEW_QUOTES = 30
SCALE_LOW, SCALE_HIGH = 0.8, 1.25
"""Orders ÷ won quotes outside: the two tables do not tell of the same customers."""


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

    @property
    def fields(self) -> dict[str, Any]:
        """The fields of `Workshop` this part fills."""
        piece = {f"piece_{field.name}": getattr(self.pieces, field.name) for field in fields(self.pieces)}
        return {
            **piece,
            "has_quotes": self.has_quotes,
            "win_weeks": self.win_weeks,
            "win_shift": self.win_shift,
            "win_wait": self.win_wait,
            "win_price": self.win_price,
            "win_scale": self.win_scale,
            "demand_from": self.first_month,
            "enquiries_per_day": self.per_day,
            "demand_dispersion": self.dispersion,
        }


def fit_enquiries(
    shop: Shop, axes: Axes, as_of: np.datetime64, shut: Days, rng: np.random.Generator, draws: int, share: Floats | None = None
) -> Enquiries:
    """Fit enquiries.

    Parameters
    ----------
    shop : Shop
        As known on `as_of`.
    axes : Axes
        Positions.
    as_of : np.datetime64
        Last day.
    shut : Days, shape (any,)
        Holidays and closures.
    rng : Generator
        Of the draws.
    draws : int
        Number of draws beside the estimate.
    share : Floats, shape (A,), optional
        As in `asked.asked_in_orders`.
    """
    quotes = asked_in_quotes(shop, axes, as_of, share)
    answered = np.isfinite(quotes.won)
    has_quotes = bool(answered.sum() >= FEW_QUOTES and (quotes.won == 1).any() and (quotes.won == 0).any())
    asked = quotes if has_quotes else asked_in_orders(shop, axes, share)
    past_days = np.arange(as_of - 366 * YEARS_BACK, as_of + 1)
    first, per_day, dispersion = monthly_rate(asked.day, as_of, past_days[open_days(shop.settings, past_days, shut)], rng, draws)
    response = response_to_quotes(quotes, answered, as_of, len(axes.styles), shop, rng, draws) if has_quotes else None
    pieces = _pieces(asked, answered if has_quotes else np.ones(len(asked.day), bool), as_of, response)
    scale, findings = _scale(shop, quotes, as_of) if has_quotes else (1.0, (_without_quotes(answered),))
    zero = np.zeros(1 + draws)
    both = (response.shift, response.wait.draws, response.price.draws) if response else (zero, zero, zero)
    return Enquiries(
        has_quotes,
        pieces,
        response.mean_weeks if response else 0.0,
        *both,
        scale,
        first,
        per_day,
        dispersion,
        response,
        findings + _thin(response),
    )


def response_to_quotes(
    quotes: Asked, answered: Flags, as_of: np.datetime64, n_styles: int, shop: Shop, rng: np.random.Generator, draws: int
) -> Response:
    """Return the answer to price and wait told by the answered quotes; parameters as in `fit_enquiries`."""
    ratio = np.log(np.maximum(quotes.price, 1e-3) / np.maximum(quotes.metal, 1e-3))
    usual = float(np.median(ratio[quotes.metal > 0])) if (quotes.metal > 0).any() else 0.0
    ratio = np.where(quotes.metal > 0, ratio, usual)
    day = quotes.day.astype(np.int64).astype(float)
    given = QuotesGiven(
        quotes.won[answered],
        ratio[answered],
        quotes.weeks[answered],
        quotes.ln_weight[answered],
        quotes.style[answered],
        day[answered],
        quotes.day[answered].astype("datetime64[M]").astype(np.int64),
    )
    policy = shop.settings.policy
    recent = (as_of.astype(np.int64) - given.day < RECENT_DAYS).astype(float)
    return fit_response(given, recent, n_styles, policy.answer_to_price_prior, policy.answer_to_wait_prior, rng, draws)


def _pieces(asked: Asked, told: Flags, as_of: np.datetime64, response: Response | None) -> Pieces:
    known = asked.only(told)
    logit = response.logit if response else np.full(len(known.day), np.inf)
    recent = (as_of - known.day).astype(np.int64) < RECENT_DAYS
    use = recent if recent.sum() >= FEW_PIECES else np.ones(len(known.day), dtype=bool)
    piece = known.only(use)
    return Pieces(piece.style, piece.alloy, np.exp(piece.ln_weight), piece.price, piece.metal, piece.contribution, logit[use])


def _scale(shop: Shop, quotes: Asked, as_of: np.datetime64) -> tuple[float, tuple[Finding, ...]]:
    """Return orders ÷ won quotes of the last 12 months."""
    ordered = shop["orders"]["ordered_on"].to_numpy("datetime64[D]")
    orders = int(np.sum((as_of - ordered).astype(np.int64) < RECENT_DAYS))
    won = int(np.sum((quotes.won == 1) & ((as_of - quotes.day).astype(np.int64) < RECENT_DAYS)))
    scale = orders / won if won else 1.0
    text = f"{orders:,} orders against {won:,} won quotes in the last 12 months: simulated orders are scaled by {scale:.2f}."
    if SCALE_LOW <= scale <= SCALE_HIGH:
        return scale, (Finding("note", "orders_over_quotes", text, "quotes"),)
    return scale, (Finding("warn", "orders_over_quotes", f"{text} Write down every quote, won or lost, so that the two agree.", "quotes"),)


def _without_quotes(answered: Flags) -> Finding:
    text = (
        f"Table quotes holds {int(answered.sum())} answered quotes, too few to tell how customers answer to price and wait: every order "
        "forecast is taken however long the wait. Keep quotes with won = y or n."
    )
    return Finding("warn", "no_quotes", text, "quotes")


def _thin(response: Response | None) -> tuple[Finding, ...]:
    if response is None:
        return ()
    wait, chance = response.wait, float(np.mean(1.0 / (1.0 + np.exp(-response.logit))))
    fewer, least, most = (round(-100.0 * chance * (1.0 - chance) * value) for value in (wait.estimate, wait.high, wait.low))
    text = (
        f"Of 100 quotes, each week longer quoted loses about {fewer} ({least} to {most}), told from {response.n:,} answered quotes"
        f"{' and the prior in policy.answer_to_wait_prior' if response.n < 300 else ''}."
    )
    return (Finding("warn" if _wide(wait) else "note", "answer_to_wait", text, "quotes.lead_weeks"),)


def _wide(answer: Answer) -> bool:
    """Whether the ends of the range differ threefold, or in sign."""
    near, far = sorted((abs(answer.low), abs(answer.high)))
    return answer.low * answer.high <= 0 or far > 3 * near
