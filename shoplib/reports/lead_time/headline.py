"""The sentence at the top of the lead-time report, and the stake under it."""

from __future__ import annotations

from dataclasses import dataclass

from ..sentences import SPACE, Writing, odds_count


@dataclass(frozen=True)
class Told:
    """What the headline needs.

    Attributes
    ----------
    promise_days : float or None
        Days to promise on the usual order at the service level; None when it cannot be told.
    usual : str
        The usual order: style and alloy.
    level : float
        Service level, 0–1.
    open_orders, promised : int
        Orders open, and those of them with a promise.
    late : float
        Sum of their chances to miss it.
    kept, due : int
        Promises of the last year kept, and fallen due.
    """

    promise_days: float | None
    usual: str
    level: float
    open_orders: int
    promised: int
    late: float
    kept: int
    due: int


def headline(told: Told, writing: Writing) -> str:
    """Return what to promise, what will be late, and what was kept."""
    return f"{_promise(told, writing)}; {_late(told, writing)}.{_kept(told, writing)}"


def _promise(told: Told, writing: Writing) -> str:
    if told.promise_days is None:
        return "What to promise cannot be told from this history"
    days, weeks = writing.unit(told.promise_days, "days"), writing.number(told.promise_days / 7)
    roughly = "" if told.promise_days < 10 else f" (about {weeks}{SPACE}weeks)"
    return f"Promise {days}{roughly} on {told.usual}: about {odds_count(told.level)} would be kept"


def _late(told: Told, writing: Writing) -> str:
    if not told.open_orders:
        return "no order is open"
    if not told.promised:
        return "no open order has a promise"
    return f"about {writing.number(told.late)} of {writing.number(told.promised)} open orders will miss their date"


def _kept(told: Told, writing: Writing) -> str:
    return f" The last year kept {writing.number(told.kept)} of {writing.number(told.due)}." if told.due else ""


METHODS = {
    "model": "the fitted workshop",
    "model_recalibrated": "the fitted workshop, corrected by its past",
    "recent": "the last twenty orders",
    "recent_by_load": "the last twenty orders, scaled by orders open",
    "promised": "the promise itself",
}
"""The methods in words."""


def stake(open_by: str, new_by: str, bias_days: float | None, writing: Writing, simulated: bool = True) -> str:
    """Return by what the dates are told and how far off they were.

    Parameters
    ----------
    open_by, new_by : str
        Methods used for open and for new orders.
    bias_days : float or None
        Mean of the middle forecast less what came, days; None without a backtest.
    simulated : bool
        Whether there was a model to choose.
    """
    by = METHODS[open_by] if open_by == new_by else f"{METHODS[open_by]} (open) and {METHODS[new_by]} (new)"
    text = f"Dates are told by {by}"
    if not {open_by, new_by} <= {"model", "model_recalibrated"}:
        text += ": on this shop's past that plain rule did better than the model" if simulated else ", for want of a model of the benches"
    if bias_days is None:
        return f"{text}; the history is too short to show how right they were."
    word = "late" if bias_days > 0 else "early"
    return f"{text}; on past days the middle date was {writing.unit(abs(bias_days), 'days', 1)} too {word} on average."
