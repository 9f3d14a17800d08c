"""The price report's accuracy paragraph: the ranges of the answers to price and to the wait hold the truth as often as they should.

A history is thirty months of quotes of a shop as played: the weeks quoted follow its queue, and the queue the quotes won. In two of
ten shops a season that nothing in the records shows wins quotes too. The truth is what each customer was drawn from.
"""

from __future__ import annotations

import numpy as np

from shoplib.pricing.response import customers_response

from .case import Case, Measured, Verdict

TITLE = "Customers' answers to price and wait"
SEED = 20260101
PRICE, WAIT = "answer_to_price", "answer_to_wait"
SEASON, PLAIN = "hidden season", "no hidden season"
PRICE_SHARES, WAIT_SHARE = (0.72, 0.88), 0.70
"""Shares of histories asked for: 72 to 88 of 100 for the price, at least 70 of 100 for the wait."""


def measure(case: Case) -> list[Measured]:
    """Return both answers of one history with their 80 % ranges and their truth; no row of a history that tells none."""
    told = customers_response(case.shop, np.datetime64(case.as_of, "D"), SEED)
    if told is None:
        return []
    part = SEASON if case.truth.hidden_season else PLAIN
    both = ((PRICE, case.truth.win_price, told.price), (WAIT, case.truth.win_wait, told.wait))
    return [Measured(case.number, what, part, truth, one.estimate, one.low, one.high) for what, truth, one in both]


def judge(rows: list[Measured]) -> list[Verdict]:
    """Return the sentences of the paragraph; the shares asked are those of 100 histories."""
    low, high = PRICE_SHARES
    price, wait = (share_inside(rows, what) for what in (PRICE, WAIT))
    return [
        Verdict("80 % range of the answer to price holds the truth in 72 to 88 of 100", _found(rows, PRICE), low <= price <= high),
        Verdict("that of the answer to the wait, hidden season included, in at least 70 of 100", _found(rows, WAIT), wait >= WAIT_SHARE),
    ]


def share_inside(rows: list[Measured], what: str) -> float:
    """Return the share of histories whose range holds the truth; NaN without one."""
    inside = [row.inside for row in rows if row.what == what]
    return float(np.mean(inside)) if inside else float("nan")


def _found(rows: list[Measured], what: str) -> str:
    asked = [row for row in rows if row.what == what]
    if not asked:
        return "no history tells it"
    season = [row for row in asked if row.part == SEASON]
    off = np.mean([row.off for row in asked])
    width = np.mean([row.high - row.low for row in asked if row.low is not None and row.high is not None])
    return (
        f"{sum(row.inside for row in asked)} of {len(asked)}, with a hidden season {sum(row.inside for row in season)} of {len(season)}; "
        f"told less truth {off:+.3f} on average, range {width:.2f} wide"
    )
