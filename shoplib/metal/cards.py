"""Every gram on the benches by the job cards: issued, soldered in, cut back, lost and delivered, event by event.

An order's weighings stand in a row. What the scale shows less from one to the next, solder and clean scrap counted, is
lost there; between the last weighing and delivery as well. What an order had in process on any day is what it delivered
(or still holds) and everything it lost or gave back later, so issue, loss, scrap and delivery agree to the last digit.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..costing.totals import total_by
from ..settings import Settings

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Days = NDArray[np.datetime64]

UNWEIGHED = -1
"""Stage of a loss that no single stage can answer for: between two stages, or before delivery."""
LEAST_FINDING_SHARE = 0.2
"""A gain under this share of an order's findings is the scale, not the findings being set in."""


@dataclass(frozen=True)
class Bench:
    """Metal on the benches.

    Attributes
    ----------
    pieces : DataFrame
        One row an order, as `costing.pieces` returns it.
    events : DataFrame
        One row a change, in sequence within its order: order (row of `pieces`), day, stage (row of the settings,
        `UNWEIGHED`), drop_g (lost, g gross), scrap_g (clean scrap back in the safe, g gross), solder_g, solder (row of the
        settings, −1 unknown), given_g (weight before the stage, NaN unless weighed on both sides), nth_weighing (of its order,
        0 the metal given out, −1 not weighed), unnoted (bool: scrap that nobody noted).
    end_alloy_g : ndarray, shape (n_orders,)
        Alloy without solder, findings and what is not metal that was delivered, or is still on the bench, g gross.
    on_bench : ndarray(bool), shape (n_orders,)
        Metal was issued and neither delivered nor called off.
    weighed : ndarray(bool), shape (n_orders,)
        The order was weighed when its metal was given out; what the others lost is assumed.
    """

    pieces: pd.DataFrame
    events: pd.DataFrame
    end_alloy_g: Floats
    on_bench: NDArray[np.bool_]
    weighed: NDArray[np.bool_]


def bench(
    pieces: pd.DataFrame, frame: pd.DataFrame, visit: Ints, unusual: NDArray[np.bool_], given_g: Floats, loss_g: Floats, settings: Settings
) -> Bench:
    """Return the metal on the benches.

    Parameters
    ----------
    pieces : DataFrame
        From `costing.pieces.pieces`.
    frame : DataFrame
        Entries in sequence, from `costing.labour.entries`.
    visit : ndarray(int)
        From `costing.labour.visits`.
    unusual : ndarray(bool)
        For each visit: its drop is taken as scrap that was not noted.
    given_g : ndarray, shape (n_orders,)
        Grams gross given out, weighed, else NaN.
    loss_g : ndarray, shape (n_orders,)
        Gross loss of closed orders; that of an order not weighed counts on the day it closes, and an order that was weighed and
        called off has lost what its weighings show.
    settings : Settings
        Solders and policy.
    """
    worked = (pieces["own"] | pieces["customers"]).to_numpy()
    weighed = worked & ~np.isnan(given_g)
    path = _weighed_path(_points(pieces, frame, visit, settings, worked, weighed), pieces)
    path = _unnoted_scrap(path, unusual)
    delivered, cancelled = pieces["delivered_on"].notna().to_numpy(), pieces["cancelled_on"].notna().to_numpy()
    closed = delivered | cancelled
    begun = pieces["issued_on"].notna().to_numpy()
    level = _end_level(path, pieces, weighed, settings)
    end_alloy = np.where(delivered, pieces["alloy_g"].to_numpy(), np.maximum(0.0, level - pieces["solder_g"].to_numpy())) * (worked & begun)
    rest = np.where(cancelled & ~delivered, end_alloy, 0.0)
    told = worked & (delivered | (cancelled & ~weighed))
    events = _with_closing(path, pieces, told, loss_g, rest)
    return Bench(pieces, events, np.where(cancelled & ~delivered, 0.0, end_alloy), worked & begun & ~closed, weighed)


def _points(
    pieces: pd.DataFrame, frame: pd.DataFrame, visit: Ints, settings: Settings, worked: NDArray[np.bool_], weighed: NDArray[np.bool_]
) -> pd.DataFrame:
    """Return a point before and one after each entry of an order, and one at delivery, in sequence."""
    kept = frame[(frame["order"].to_numpy() >= 0) & (visit >= 0)]
    number = visit[(frame["order"].to_numpy() >= 0) & (visit >= 0)]
    order = kept["order"].to_numpy()
    solders = pd.Index([solder.code for solder in settings.solders], dtype=object).get_indexer(pd.Index(kept["solder"].astype(object)))
    scale = weighed[order]
    after = pd.DataFrame({
        "order": order, "visit": number, "stage": kept["stage"].to_numpy(), "day": kept["day"].to_numpy("datetime64[D]"),
        "weight_g": np.where(scale, kept["weight_out_g"].to_numpy(), np.nan),
        "solder_g": kept["solder_g"].fillna(0.0).to_numpy(), "solder": solders,
        "scrap_g": np.where(worked[order], kept["scrap_back_g"].fillna(0.0).to_numpy(), 0.0), "place": 2 * np.arange(len(kept)) + 1,
    })  # fmt: skip
    weight_in = np.where(scale, kept["weight_in_g"].to_numpy(), np.nan)
    before = after.assign(weight_g=weight_in, solder_g=0.0, scrap_g=0.0, place=after["place"] - 1)
    before = before[before["weight_g"].notna()]
    done = np.flatnonzero(pieces["delivered_on"].notna().to_numpy() & weighed)
    ends = pd.DataFrame({
        "order": done, "visit": -1, "stage": UNWEIGHED, "day": pieces["delivered_on"].to_numpy("datetime64[D]")[done],
        "weight_g": pieces["weight_g"].to_numpy()[done], "solder_g": 0.0, "solder": -1, "scrap_g": 0.0, "place": 2 * len(kept) + done,
    })  # fmt: skip
    points = pd.concat([before, after, ends], ignore_index=True)
    points = points.iloc[np.lexsort([points["place"].to_numpy(), points["order"].to_numpy()])].reset_index(drop=True)
    read = points["weight_g"].notna() | (points["solder_g"] > 0) | (points["scrap_g"] > 0)
    return points[read].reset_index(drop=True)


def _weighed_path(points: pd.DataFrame, pieces: pd.DataFrame) -> pd.DataFrame:
    """Add drop_g, given_g and level_g (after the point, NaN before the first weighing) to the points."""
    order, weight = points["order"].to_numpy(), points["weight_g"].to_numpy()
    change = np.cumsum(points["solder_g"].to_numpy() - points["scrap_g"].to_numpy())
    read = np.flatnonzero(~np.isnan(weight))
    base, of = weight[read] - change[read], order[read]
    again = np.append(False, of[1:] == of[:-1])
    drop = np.where(again, np.append(0.0, base[:-1]) - base, 0.0)
    placed = _findings_set_in(drop, of, points["stage"].to_numpy()[read] == UNWEIGHED, pieces)
    visit, stage = points["visit"].to_numpy()[read], points["stage"].to_numpy()[read]
    own = again & (visit == np.append(-9, visit[:-1])) & (visit >= 0)
    drops, stages, given = np.zeros(len(points)), np.full(len(points), UNWEIGHED), np.full(len(points), np.nan)
    drops[read], stages[read] = drop + placed, np.where(own, stage, UNWEIGHED)
    given[read] = np.where(own, np.append(0.0, weight[read][:-1]), np.nan)
    findings = np.zeros(len(points))
    findings[read] = placed
    nth = np.full(len(points), -1)
    nth[read] = np.arange(len(read)) - np.maximum.accumulate(np.where(again, 0, np.arange(len(read))))
    return points.assign(drop_g=drops, loss_stage=stages, given_g=given, finding_g=findings, nth_weighing=nth)


def _findings_set_in(drop: Floats, order: Ints, closing: NDArray[np.bool_], pieces: pd.DataFrame) -> Floats:
    """Return the grams of findings and stones that explain a gain at each weighing; what is left is set in at delivery."""
    total = (pieces["findings_g"] + pieces["not_metal_g"]).to_numpy()[order]
    gain = np.where((-drop > LEAST_FINDING_SHARE * total) & (total > 0) & ~closing, -drop, 0.0)
    gain = np.where(closing, total, gain)
    starts = np.flatnonzero(np.append(True, order[1:] != order[:-1])) if len(order) else np.zeros(0, np.int64)
    before = np.repeat(np.append(0.0, np.cumsum(gain))[starts], np.diff(np.append(starts, len(order))))
    so_far = np.minimum(np.cumsum(gain) - before, total)
    earlier = np.where(np.isin(np.arange(len(order)), starts), 0.0, np.append(0.0, so_far[:-1])) if len(order) else so_far
    placed: Floats = so_far - earlier
    return placed


def _unnoted_scrap(path: pd.DataFrame, unusual: NDArray[np.bool_]) -> pd.DataFrame:
    """Take an unusual drop at a cutting stage for scrap that went back to the safe unnoted."""
    visit = path["visit"].to_numpy()
    doubted = np.append(unusual, False)[visit] & (path["loss_stage"] == path["stage"]).to_numpy() & (visit >= 0)
    scrap = path["scrap_g"].to_numpy() + np.where(doubted, path["drop_g"].to_numpy(), 0.0)
    return path.assign(scrap_g=scrap, drop_g=np.where(doubted, 0.0, path["drop_g"].to_numpy()), unnoted=doubted)


def _end_level(path: pd.DataFrame, pieces: pd.DataFrame, weighed: NDArray[np.bool_], settings: Settings) -> Floats:
    """Return what each order weighs by its last entry, findings and stones set in left out, g gross."""
    lost_share = settings.policy.loss_percent / 100.0
    level = pieces["quoted_weight_g"].fillna(pieces["weight_g"]).to_numpy() / (1.0 - lost_share)
    order = path["order"].to_numpy()
    net = (path["solder_g"] - path["scrap_g"]).to_numpy()
    first = path[path["nth_weighing"] == 0]
    level[first["order"].to_numpy()] = first["weight_g"].to_numpy()
    begin = np.full(len(pieces), -1)
    begin[first["order"].to_numpy()] = first["place"].to_numpy()
    later = path["place"].to_numpy() > begin[order]
    moved = total_by(order, np.where(later, net, 0.0), len(pieces))
    lost = total_by(order, path["drop_g"].to_numpy(), len(pieces))
    end: Floats = np.where(weighed, level + moved - lost, level + total_by(order, net, len(pieces)))
    return end


def _with_closing(path: pd.DataFrame, pieces: pd.DataFrame, told: NDArray[np.bool_], loss_g: Floats, rest_g: Floats) -> pd.DataFrame:
    """Return the events: those of the path on days within the order, and one at its closing for what they leave over."""
    issued, ended = (pieces[name].to_numpy("datetime64[D]") for name in ("issued_on", "closed_on"))
    order = path["order"].to_numpy()
    day = np.fmax(path["day"].to_numpy("datetime64[D]"), issued[order])
    path = path.assign(day=np.fmin(day, ended[order]), stage=path["loss_stage"])
    left = np.where(told, loss_g - total_by(order, path["drop_g"].to_numpy(), len(pieces)), 0.0)
    rows = np.flatnonzero((np.abs(left) > 1e-9) | (rest_g > 0))
    ends = pd.DataFrame({
        "order": rows, "day": ended[rows], "stage": UNWEIGHED, "drop_g": left[rows], "scrap_g": rest_g[rows],
        "solder_g": 0.0, "solder": -1, "given_g": np.nan, "nth_weighing": -1, "unnoted": False,
    })  # fmt: skip
    columns = list(ends.columns)
    events = pd.concat([path[columns], ends], ignore_index=True)
    return events.iloc[np.argsort(events["order"].to_numpy(), kind="stable")].reset_index(drop=True)
