"""Orders whose last visit is over: sent back, or on to the next stage? The days since then tell.

An order that usually waits two days for the next stage and has waited thirty was rather sent back to the stage with the long queue,
where nobody has begun on it yet, so that no card says it. Bayes' rule: the chance to be sent back, times the share of orders sent
back that wait as long before they are begun on, against the same of orders that go on.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from ..flow.visits import History
from .arrays import Floats, Integers
from .axes import Axes
from .cards import CLEARLY_PASSED, TIMED_SHARE
from .model import Workshop

RECENT_DAYS = 365
"""Waits that ended in the last year tell how long orders wait now."""
FEW_WAITS = 10
HELD_UP = 0.005
"""Share of waits taken to have nothing to do with a queue (a card mislaid, a part missing), however long: no past wait tells of them."""
GRACE_DAYS = 1.0
"""Where most cards tell days rather than moments, a wait is taken to be a working day shorter than it looks."""
ONE_DAY = np.timedelta64(1, "D")


def moves(told: History, axes: Axes, on_route: np.ndarray) -> pd.DataFrame:
    """Return the moves of the last year from one visit to the next or to delivery.

    Parameters
    ----------
    told : History
        What was known.
    axes : Axes
        Positions.
    on_route : ndarray(bool), shape (S,)
        Stages of the route.

    Returns
    -------
    DataFrame
        to (stage, S for delivery), back (the stage is the same or an earlier one), days (working days waited, without holds).
    """
    visits, orders = told.visits, told.shop["orders"]
    stage = axes.redoes[visits["stage_no"].to_numpy(np.int64)] if len(visits) else np.zeros(0, np.int64)
    use = np.append(on_route, False)[stage] & ~visits["later"].to_numpy(bool)
    seen, stage = visits[use], stage[use]
    order = seen["order"].to_numpy(np.int64)
    last = np.append(order[1:] != order[:-1], True)[: len(order)]
    delivered = orders["delivered_on"].to_numpy("datetime64[s]")[order]
    ended = np.where(last, delivered + ONE_DAY, np.append(seen["started"].to_numpy("datetime64[s]")[1:], np.datetime64("NaT")))
    to_delivery = told.clock.hours_between(seen["last_at"].to_numpy("datetime64[s]"), ended)
    hours = np.where(last, to_delivery, np.append(seen["queue_h"].to_numpy()[1:], np.nan))
    to = np.where(last, len(on_route), np.append(stage[1:], 0))
    recent = ended >= told.now - RECENT_DAYS * ONE_DAY
    return pd.DataFrame({"to": to, "back": to <= stage, "days": hours / told.clock.usual_h})[recent & np.isfinite(hours)]


class _Lasting:
    """The share of waits that last longer than some days, by where the order goes and whether it was sent back."""

    def __init__(self, waits: pd.DataFrame, grace_days: float) -> None:
        self._grace = grace_days
        self._of = {key: np.sort(part.to_numpy()) for key, part in waits.groupby(["to", "back"])["days"]}

    def at(self, to: int, back: bool, days: float) -> float:
        """Return the share; of all orders that go there where too few were sent back, 1 where too few went there at all."""
        own = self._of.get((to, back), np.zeros(0))
        if back and len(own) < FEW_WAITS:
            own = np.sort(np.concatenate([own, self._of.get((to, False), np.zeros(0))]))
        if len(own) < FEW_WAITS:
            return 1.0
        longer = 1.0 - np.searchsorted(own, days - self._grace, "left") / len(own)
        return float(HELD_UP + (1.0 - HELD_UP) * longer)


def sent_back(
    told: History, workshop: Workshop, axes: Axes, stage: Integers, repair: Integers, alloy: Integers, passes: Floats, waited: Floats
) -> Integers:
    """Return the stage each order was most likely sent back to; −1 where it more likely went on.

    Parameters
    ----------
    told, workshop, axes : History, Workshop, Axes
        What was known, and the fit.
    stage, repair, alloy : Integers, shape (n,)
        Stage of the visit that is over; stage the order is under way to again, or −1; alloy.
    passes : Floats, shape (n, S)
        Chance to pass each stage.
    waited : Floats, shape (n,)
        Working days since the visit was over; NaN: not asked about.
    """
    asked = np.flatnonzero(np.isfinite(waited))
    found = np.full(len(stage), -1, dtype=np.int64)
    if not len(asked):
        return found
    timed = float(told.visits["timed"].mean()) >= TIMED_SHARE
    lasting = _Lasting(moves(told, axes, np.asarray(workshop.passes.any(axis=(0, 1)))), 0.0 if timed else GRACE_DAYS)
    for row in asked.tolist():
        s, days = int(stage[row]), float(waited[row])
        chance = float(workshop.return_chance[0, s, alloy[row]])
        back = np.array([lasting.at(t, True, days) if share > 0 else 0.0 for t, share in enumerate(workshop.return_to[s])])
        back = chance * workshop.return_to[s] * back
        on = (1.0 - chance) * max(lasting.at(t, False, days) for t in _onward(s, int(repair[row]), passes[row]))
        if back.sum() > on:
            found[row] = int(back.argmax())
    return found


def _onward(stage: int, repair: int, passes: Floats) -> list[int]:
    """Return the stages an order may go on to: up to the first it surely passes, or any up to where it was sent back from."""
    last = repair if repair > stage else next((t for t in range(stage + 1, len(passes)) if passes[t] >= CLEARLY_PASSED), len(passes))
    ahead = [t for t in range(stage + 1, last) if passes[t] > 0]
    return [*ahead, last]
