"""The job cards as arrays: the visits of the route, the waits before them, and the facts of each order, on the workshop's axes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from ..flow.queues import waiting_stretches
from ..flow.visits import History
from .arrays import Flags, Floats, Integers
from .axes import Axes
from .dispatch import Waits
from .returns import Sequence
from .work_time import VisitHours

USUAL_LN_WEIGHT = float(np.log(30.0))
"""Weight of an order of a shop that writes none, ln g."""
SECONDS_A_DAY = 86400.0
TIMED_SHARE = 0.8
"""Share of visits with clock times above which moments within a day are believed."""
CLEARLY_PASSED = 0.5
LONG_WAIT_DAYS, LONG_WAIT_TIMES = 3.0, 4.0
"""Calendar days, and multiple of the median wait at the stage, beyond which an order is taken to have been held up unrecorded."""
FEW_ORDERS = 5
PRIOR_ORDERS = 2.0
"""Weight, in orders, of the style's share in that of a style and alloy, and of the shop's in the style's."""


@dataclass(frozen=True)
class Cards:
    """What the fit reads.

    Attributes
    ----------
    past : History
        Entries and visits.
    axes : Axes
        Positions.
    table : DataFrame
        Visits of the route before delivery, by order and in sequence, with stage (position, work done again at its own stage), again
        (the order had been there) and person (position in `axes.workers`).
    style, alloy : Integers, shape (orders,)
        Of each order.
    ln_weight : Floats, shape (orders,)
        ln g gross as quoted, else finished, else the usual of the style.
    passes : Floats, shape (Y, A, S)
        Share of orders that go through each stage.
    left_out : tuple of int
        Stages booked but not recorded per order: out of the route.
    never : tuple of int
        Stages without a visit.
    dates_only : bool
        Most cards name no clock times.
    """

    past: History
    axes: Axes
    table: pd.DataFrame
    style: Integers
    alloy: Integers
    ln_weight: Floats
    passes: Floats
    left_out: tuple[int, ...]
    never: tuple[int, ...]
    dates_only: bool

    @property
    def closed(self) -> Flags:
        """Order is delivered, shape (orders,)."""
        return np.asarray(self.past.shop["orders"]["delivered_on"].notna())

    def visit_hours(self) -> VisitHours:
        """Return the visits as the work-time fit takes them."""
        t, order = self.table, self.table["order"].to_numpy()
        return VisitHours(
            t["stage"].to_numpy(),
            self.style[order],
            self.alloy[order],
            self.ln_weight[order],
            t["again"].to_numpy(),
            t["hours"].to_numpy(float),
            t["running"].to_numpy(bool),
        )

    def sequence(self) -> Sequence:
        """Return the visits as the returns fit takes them."""
        order = self.table["order"].to_numpy()
        return Sequence(order, self.table["stage"].to_numpy(), self.alloy[order], self.closed[order])


def cards_of(past: History, axes: Axes) -> Cards:
    """Return the job cards of a shop on the workshop's axes."""
    orders, visits = past.shop["orders"], past.visits
    style, alloy = axes.style_at(orders["style"]), axes.alloy_at(orders["alloy"])
    stage = axes.redoes[visits["stage_no"].to_numpy(np.int64)] if len(visits) else np.zeros(0, np.int64)
    table = visits.assign(stage=stage, person=axes.worker_at(visits["worker"]))
    table = table[~table["later"].to_numpy(bool)]
    passes, left_out, never = _route(table, past, style, alloy, axes)
    table = table[~np.isin(table["stage"].to_numpy(), left_out)].reset_index(drop=True)
    again = table.groupby(["order", "stage"], sort=False).cumcount().to_numpy() > 0
    dates_only = not len(table) or float(table["timed"].mean()) < TIMED_SHARE
    return Cards(past, axes, table.assign(again=again), style, alloy, ln_weights(orders, style), passes, left_out, never, dates_only)


def ln_weights(orders: pd.DataFrame, style: Integers) -> Floats:
    """Return ln g gross of each order: as quoted, else finished, else the median of its style, else of the shop."""
    grams = orders["quoted_weight_g"].fillna(orders["finished_weight_g"]).to_numpy(float)
    told = np.where(np.isfinite(grams) & (grams > 0), np.log(np.where(grams > 0, grams, 1.0)), np.nan)
    by_style = pd.Series(told).groupby(style).transform("median").to_numpy()
    shop = float(np.nanmedian(told)) if np.isfinite(told).any() else USUAL_LN_WEIGHT
    return np.where(np.isfinite(told), told, np.where(np.isfinite(by_style), by_style, shop))


def _route(
    table: pd.DataFrame, past: History, style: Integers, alloy: Integers, axes: Axes
) -> tuple[Floats, tuple[int, ...], tuple[int, ...]]:
    """Return the share of orders that pass each stage, the stages most orders lack, and those nobody visited.

    Only delivered orders with all their visits on record count: those taken after the cards begin.
    """
    n_stages = len(axes.stages)
    been = np.zeros((len(style), n_stages), dtype=bool)
    been[table["order"].to_numpy(), table["stage"].to_numpy()] = True
    never = tuple(np.flatnonzero(~been.any(axis=0)).tolist())
    whole = _whole_orders(past, been)
    share = _shares(been[whole], style[whole], alloy[whole], len(axes.styles), len(axes.alloys))
    common = been[whole].mean(axis=0) if whole.any() else np.ones(n_stages)
    often = _most_in_some_style(been[whole], style[whole])
    left_out = tuple(s for s in np.flatnonzero((common < CLEARLY_PASSED) & ~often).tolist() if s not in never)
    share[:, :, list(left_out + never)] = 0.0
    return share, left_out, never


def _whole_orders(past: History, been: Flags) -> Flags:
    orders, entries = past.shop["orders"], past.entries
    first = entries["day"].min() if len(entries) else pd.NaT
    whole = orders["delivered_on"].notna().to_numpy() & been.any(axis=1)
    since = whole & (orders["ordered_on"] >= first).to_numpy()
    return np.asarray(since if since.sum() >= FEW_ORDERS else whole if whole.any() else been.any(axis=1))


def _most_in_some_style(been: Flags, style: Integers) -> Flags:
    often = np.zeros(been.shape[1], dtype=bool)
    for one in np.unique(style):
        rows = been[style == one]
        if len(rows) >= FEW_ORDERS:
            often |= rows.mean(axis=0) >= CLEARLY_PASSED
    return often


def _shares(been: Flags, style: Integers, alloy: Integers, n_styles: int, n_alloys: int) -> Floats:
    count, passed = np.zeros((n_styles, n_alloys)), np.zeros((n_styles, n_alloys, been.shape[1]))
    np.add.at(count, (style, alloy), 1.0)
    np.add.at(passed, (style, alloy), been.astype(float))
    shop = passed.sum(axis=(0, 1)) / count.sum() if count.sum() else np.ones(been.shape[1])
    by_style = (passed.sum(axis=1) + PRIOR_ORDERS * shop) / (count.sum(axis=1)[:, None] + PRIOR_ORDERS)
    return np.asarray((passed + PRIOR_ORDERS * by_style[:, None, :]) / (count[:, :, None] + PRIOR_ORDERS))


def waits_of(cards: Cards) -> Waits:
    """Return every wait in a queue of the route, those that last included, as the dispatch and presence fits take them."""
    orders, t = cards.past.shop["orders"], cards.table
    still = _still_waiting(cards)
    began = t[t["ready_at"].notna().to_numpy()]
    held = np.nan_to_num(began["held_days"].to_numpy(float)) * SECONDS_A_DAY
    joined = began["ready_at"].to_numpy("datetime64[s]") + held.astype("timedelta64[s]")
    joined = np.concatenate([np.minimum(joined, began["started"].to_numpy("datetime64[s]")), still["begin"].to_numpy("datetime64[s]")])
    begun = np.concatenate([_days(began["started"].to_numpy("datetime64[s]")), np.full(len(still), np.inf)])
    order = np.concatenate([began["order"].to_numpy(np.int64), still["order"].to_numpy(np.int64)])
    stage = np.concatenate([began["stage"].to_numpy(np.int64), still["stage"].to_numpy(np.int64)])
    person = np.concatenate([began["person"].to_numpy(np.int64), np.full(len(still), -1, np.int64)])
    since = _days(joined)
    if cards.dates_only:
        since, begun = np.floor(since), np.floor(begun)
    rank = np.argsort(np.argsort(orders["ordered_on"].to_numpy("datetime64[D]"), kind="stable"), kind="stable")
    promised = _days(orders["first_promised_on"].fillna(orders["promised_on"]).to_numpy("datetime64[s]"))
    key = np.vstack([promised[order], _days(orders["ordered_on"].to_numpy("datetime64[s]"))[order], since])
    sort = np.argsort(begun, kind="stable")
    rush = orders["rush"].to_numpy(bool)[order]
    sure = np.concatenate([_without_gap(cards)[t["ready_at"].notna().to_numpy()], np.ones(len(still), dtype=bool)])
    sure &= _usual_wait(stage, since, np.where(np.isinf(begun), _days(np.array([cards.past.now])), begun), len(cards.axes.stages))
    return Waits(stage[sort], person[sort], since[sort], begun[sort], key[:, sort], rush[sort], rank[order][sort], sure[sort])


def _usual_wait(stage: Integers, joined: Floats, begun: Floats, n_stages: int) -> Flags:
    """Return that a wait is not so long, for its stage, that the order was rather held up by something nobody wrote down."""
    days = begun - joined
    median = np.array([np.median(days[stage == s]) if (stage == s).any() else 0.0 for s in range(n_stages)])
    return np.asarray(days <= LONG_WAIT_DAYS + LONG_WAIT_TIMES * median[stage])


def _without_gap(cards: Cards) -> Flags:
    """Return, for each visit, that no stage of the order's route lies between the visit before and this one."""
    order, stage = cards.table["order"].to_numpy(np.int64), cards.table["stage"].to_numpy(np.int64)
    usual = np.concatenate(
        [np.zeros((len(cards.style), 1)), np.cumsum(cards.passes[cards.style, cards.alloy] >= CLEARLY_PASSED, axis=1)], axis=1
    )
    before = np.full(len(order), -1, dtype=np.int64)
    before[1:] = np.where(order[1:] == order[:-1], stage[:-1], -1)
    return np.asarray((before >= stage) | (usual[order, stage] - usual[order, np.minimum(before + 1, stage)] == 0))


def _still_waiting(cards: Cards) -> pd.DataFrame:
    """Return the waits that last, at the stage of the route to which orders usually go; those on hold are left out."""
    stretches = waiting_stretches(cards.past)
    held = stretches.loc[(stretches["weight"] < 0) & (stretches["end"].to_numpy("datetime64[s]") >= cards.past.now), "order"]
    still = stretches[stretches["open"].to_numpy(bool) & (stretches["weight"] > 0).to_numpy() & ~stretches["order"].isin(held).to_numpy()]
    still = still.assign(stage=cards.axes.redoes[still["stage_no"].to_numpy(np.int64)])
    return still[~np.isin(still["stage"].to_numpy(), cards.left_out)]


def _days(moments: np.ndarray) -> Floats:
    """Return days since 1970 with their fraction; +inf where missing."""
    seconds = moments.astype("datetime64[s]")
    return np.where(np.isnat(seconds), np.inf, seconds.astype(np.int64) / SECONDS_A_DAY)
