"""The balance of one metal between counts and over all, exact, with what weighing can hide.

Boundary: the safe and the benches. Filings and sweeps leave as recorded loss and come back as refined_back; what is sent
of them is an account of its own. Customers' metal is inside. Unexplained = all that was there or came in, less all that
went out or is still there; positive when metal is missing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..settings import Settings
from .cards import Bench, Days, Floats
from .fine import Flows, flows, shares_of
from .ledger import INTO, OUT_OF, counts, fine_share, moved
from .tolerance import Tolerance, even_u, fineness_u, in_process_u, readability_u

BETWEEN, OVER_ALL, SINCE = "between counts", "over all", "since the last count"
IN = ("opening", "in_process_opening", *INTO)
OUT = ("sold", "delivered", "customer_out", "returned", "refining_sent", "recorded_loss", "in_process", "closing")
COLUMNS = (
    "metal", "from", "to", "span", *IN, *OUT, "unexplained", "unexplained_low", "unexplained_high", "delivered_customers", "assumed_loss",
)  # fmt: skip
ASSUMED_HALF_WIDTH = 0.5
"""A loss that was assumed, not weighed, may be wrong by half of itself; common practice, no source."""


def unexplained_g(row: dict[str, float]) -> float:
    """Return what a balance leaves unexplained, g fine: the sum of `IN` less the sum of `OUT`; NaN without a count at both ends."""
    return math.fsum([*(row[name] for name in IN), *(-row[name] for name in OUT)])


@dataclass(frozen=True)
class MetalBalance:
    """The balances of one metal.

    Attributes
    ----------
    metal : str
    rows : DataFrame
        metal, from, to (days; a balance runs from the evening of one to the evening of the other), span (`BETWEEN`, `OVER_ALL`
        or `SINCE`), the columns of `IN` and `OUT`, unexplained, unexplained_low, unexplained_high (95 %), delivered_customers
        (of delivered), assumed_loss (of recorded_loss), all g fine; NaN where there was no count.
    tolerances : tuple of Tolerance
        One a row.
    gross_delivered_g : ndarray, shape (n_rows, n_alloys)
        Grams gross delivered of each alloy of the settings that holds the metal.
    alloys : tuple of str
        Their codes.
    fine : Flows
        Fine grams on the benches, event by event.
    """

    metal: str
    rows: pd.DataFrame
    tolerances: tuple[Tolerance, ...]
    gross_delivered_g: Floats
    alloys: tuple[str, ...]
    fine: Flows

    @property
    def between(self) -> NDArray[np.int64]:
        """Places of the rows between counts, oldest first."""
        return np.flatnonzero((self.rows["span"] == BETWEEN).to_numpy())

    def over_all(self) -> pd.Series | None:
        """Return the row over all counts, None with fewer than two counts."""
        rows = self.rows[self.rows["span"] == OVER_ALL]
        return rows.iloc[0] if len(rows) else None


def balance(metal: str, ledger: pd.DataFrame, bench: Bench, assumed: NDArray[np.bool_], settings: Settings, as_of: date) -> MetalBalance:
    """Return the balances of one metal.

    Parameters
    ----------
    metal : str
        A priced metal.
    ledger : DataFrame
        Table `metal_ledger` as known on `as_of`.
    bench : Bench
        From `cards.bench`.
    assumed : ndarray(bool), shape (n_orders,)
        The loss of the order was not weighed.
    settings : Settings
        Alloys, solders, stages and the tolerances of [policy].
    as_of : date
        Last day that counts.
    """
    fine = flows(bench, metal, settings)
    ledger_g = np.nan_to_num(ledger["gross_g"].to_numpy()) * fine_share(ledger, metal, settings)
    days, counted, readings = counts(ledger, fine_share(ledger, metal, settings))
    edges, stock, spans = _stretches(days, counted, _begun(ledger, bench), np.datetime64(as_of, "D"))
    sums = _sums(metal, ledger, ledger_g, bench, fine, assumed, edges)
    ends = {"from": edges[:, 0].astype("datetime64[s]"), "to": edges[:, 1].astype("datetime64[s]")}
    rows = pd.DataFrame({"metal": metal, **ends, "span": spans, "opening": stock[:, 0], "closing": stock[:, 1], **sums})
    rows["unexplained"] = [unexplained_g(dict(zip((*IN, *OUT), row, strict=True))) for row in rows[[*IN, *OUT]].to_numpy()]
    alloys = tuple(alloy.code for alloy in settings.alloys if shares_of(pd.DataFrame({"alloy": [alloy.code]}), metal, settings)[0] > 0)
    gross = _gross_delivered(bench, alloys, edges)
    phi_squared = _readings(metal, ledger, bench, edges, settings) + _count_readings(edges, days, readings)
    tolerances = _tolerances(bench, fine, gross, edges, rows["assumed_loss"].to_numpy(), phi_squared, settings)
    ranges = [tolerance.around(left) for tolerance, left in zip(tolerances, rows["unexplained"], strict=True)]
    rows[["unexplained_low", "unexplained_high"]] = np.array(ranges).reshape(-1, 2)
    return MetalBalance(metal, rows[list(COLUMNS)], tolerances, gross, alloys, fine)


def _begun(ledger: pd.DataFrame, bench: Bench) -> np.datetime64:
    """Return the first day of the ledger, of the job cards where there is none; no day where there is neither."""
    for known in (ledger["date"], bench.pieces["issued_on"]):
        if known.notna().any():
            return np.datetime64(known.min(), "D")
    return np.datetime64("NaT", "D")


def _stretches(days: Days, counted: Floats, begun: np.datetime64, as_of: np.datetime64) -> tuple[Days, Floats, list[str]]:
    """Return ends (evenings) of each balance, stock counted at both and what it spans."""
    if not len(days):
        first = as_of if np.isnat(begun) else begun - np.timedelta64(1, "D")
        return np.array([[first, as_of]]), np.array([[np.nan, np.nan]]), [OVER_ALL]
    pairs = [(days[k], days[k + 1], counted[k], counted[k + 1], BETWEEN) for k in range(len(days) - 1)]
    if len(days) > 1:
        pairs.append((days[0], days[-1], counted[0], counted[-1], OVER_ALL))
    if as_of > days[-1]:
        pairs.append((days[-1], as_of, counted[-1], np.nan, SINCE))
    if not pairs:
        pairs.append((days[0], days[0], counted[0], np.nan, SINCE))
    ends = np.array([pair[:2] for pair in pairs], dtype="datetime64[D]")
    return ends, np.array([pair[2:4] for pair in pairs], dtype=float), [pair[4] for pair in pairs]


def until(days: Days, values: Floats, ends: Days) -> Floats:
    """Return the running total of `values` in the evening of each of `ends`; rows without a day are left out."""
    known = np.flatnonzero(~np.isnat(days))
    order = known[np.argsort(days[known], kind="stable")]
    totals = np.append(0.0, np.cumsum(values[order]))
    reached: Floats = totals[np.searchsorted(days[order], ends, side="right")]
    return reached


def _within(days: Days, values: Floats, edges: Days) -> Floats:
    return np.asarray(until(days, values, edges[:, 1]) - until(days, values, edges[:, 0]), dtype=float)


def in_process_g(bench: Bench, fine: Flows, ends: Days) -> Floats:
    """Return the fine grams on the benches in the evening of each of `ends`."""
    issued = bench.pieces["issued_on"].to_numpy("datetime64[D]")
    delivered = bench.pieces["delivered_on"].to_numpy("datetime64[D]")
    moved_g = fine.solder_g - fine.lost_g - fine.scrap_g
    return until(issued, fine.issued_g, ends) + until(_event_days(bench), moved_g, ends) - until(delivered, fine.end_g, ends)


def _event_days(bench: Bench) -> Days:
    return bench.events["day"].to_numpy("datetime64[D]")


def _sums(
    metal: str, ledger: pd.DataFrame, ledger_g: Floats, bench: Bench, fine: Flows, assumed: NDArray[np.bool_], edges: Days
) -> dict[str, Floats]:
    kinds = {kind: _within(*moved(ledger, kind, ledger_g), edges) for kind in (*INTO, *OUT_OF)}
    delivered = bench.pieces["delivered_on"].to_numpy("datetime64[D]")
    customers = bench.pieces["customers"].to_numpy()
    doubtful = assumed[bench.events["order"].to_numpy()]
    return kinds | {
        "in_process_opening": in_process_g(bench, fine, edges[:, 0]),
        "in_process": in_process_g(bench, fine, edges[:, 1]),
        "delivered": _within(delivered, fine.end_g, edges),
        "delivered_customers": _within(delivered, fine.end_g * customers, edges),
        "recorded_loss": _within(_event_days(bench), fine.lost_g, edges),
        "assumed_loss": _within(_event_days(bench), fine.lost_g * doubtful, edges),
    }


def _gross_delivered(bench: Bench, alloys: tuple[str, ...], edges: Days) -> Floats:
    delivered = bench.pieces["delivered_on"].to_numpy("datetime64[D]")
    codes = bench.pieces["alloy"].astype(object).to_numpy()
    columns = [_within(delivered, bench.end_alloy_g * (codes == alloy), edges) for alloy in alloys]
    return np.column_stack(columns) if columns else np.zeros((len(edges), 0))


def _tolerances(
    bench: Bench, fine: Flows, gross: Floats, edges: Days, assumed_g: Floats, phi_squared: Floats, settings: Settings
) -> tuple[Tolerance, ...]:
    policy = settings.policy
    unweighed = np.hypot(_unweighed(bench, fine, edges[:, 0]), _unweighed(bench, fine, edges[:, 1]))
    return tuple(
        Tolerance(
            readability_u(policy.scale_readability_g, phi_squared[k]),
            in_process_u(unweighed[k], policy.in_process_tolerance_percent),
            fineness_u(gross[k], policy.fineness_tolerance_permille),
            even_u(ASSUMED_HALF_WIDTH * assumed_g[k]),
        )
        for k in range(len(edges))
    )


def _readings(metal: str, ledger: pd.DataFrame, bench: Bench, edges: Days, settings: Settings) -> Floats:
    """Return the sum of squared fineness over the weighings that decide a balance.

    Readings between issue and delivery cancel: what one weighing adds to a loss it takes from the next. What stays are the
    metal given out (or, of an order not weighed then, the finished weight), clean scrap, solder and the rows of the ledger.
    """
    pieces, events = bench.pieces, bench.events
    share = shares_of(pieces, metal, settings)
    day = np.where(bench.weighed, pieces["issued_on"].to_numpy("datetime64[D]"), pieces["delivered_on"].to_numpy("datetime64[D]"))
    solder = np.array([*(s.fineness / 1000.0 * (s.metal == metal) for s in settings.solders), 0.0])[events["solder"].to_numpy()]
    scrap = np.where(events["scrap_g"].to_numpy() > 0, share[events["order"].to_numpy()] ** 2, 0.0)
    moves = np.where(ledger["gross_g"].notna() & ledger["kind"].isin([*INTO, *OUT_OF]), fine_share(ledger, metal, settings) ** 2, 0.0)
    parts = ((day, share**2), (_event_days(bench), scrap + solder**2), (ledger["date"].to_numpy("datetime64[D]"), moves))
    return np.asarray(sum(_within(days, values, edges) for days, values in parts), dtype=float)


def _count_readings(edges: Days, days: Days, readings: Floats) -> Floats:
    seen = np.append(readings, 0.0)
    place = [np.where(np.isin(edges[:, side], days), np.searchsorted(days, edges[:, side]), -1) for side in (0, 1)]
    return np.asarray(seen[place[0]] + seen[place[1]], dtype=float)


def _unweighed(bench: Bench, fine: Flows, ends: Days) -> Floats:
    """Return the fine grams in process that were not weighed since their issue, in the evening of each of `ends`."""
    pieces, events = bench.pieces, bench.events
    later = events[events["nth_weighing"] > 0].drop_duplicates("order")
    seen = pieces["closed_on"].to_numpy("datetime64[D]").copy()
    seen[later["order"].to_numpy()] = later["day"].to_numpy("datetime64[D]")
    issued = pieces["issued_on"].to_numpy("datetime64[D]")
    return until(issued, fine.issued_g, ends) - until(np.maximum(seen, issued), fine.issued_g, ends)
