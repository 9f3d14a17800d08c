"""Loss by stage and alloy, and what the finished pieces are made of: solder's share, fineness, metal given away."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..costing.totals import total_by
from ..settings import Alloy, Settings
from .alloying import composition, melt_to
from .cards import UNWEIGHED, Bench, Days, Floats
from .fineness import finished_fineness, given_away_g

BETWEEN_STAGES = "between the stages"
"""Name of the loss no single stage can answer for."""
FEWEST_WEIGHED = 5
"""Weighed visits below which a loss per mille has no range."""


def stage_loss(bench: Bench, settings: Settings, first: np.datetime64, last: np.datetime64) -> pd.DataFrame:
    """Return the loss of each stage and alloy from `first` to `last`, both days in.

    Returns
    -------
    DataFrame
        stage, alloy, visits (weighed before and after), fine_g_in, fine_g_lost (g fine of the alloy's main metal),
        loss_per_mille (g gross lost ÷ g gross given to the stage), low, high (80 %; NaN under five visits). Losses told by
        no single stage stand under `BETWEEN_STAGES` with their grams only.

    Notes
    -----
    Range of a ratio of sums: Cochran, *Sampling Techniques* (1977), 6.4, with Student's quantile.
    """
    events = bench.events.assign(alloy=bench.pieces["alloy"].astype(object).to_numpy()[bench.events["order"].to_numpy()])
    day = events["day"].to_numpy("datetime64[D]")
    events = events[(day >= first) & (day <= last) & (events["drop_g"] != 0.0).to_numpy() | _weighed(events, day, first, last)]
    phi, fine_share = _phi(events["alloy"], settings), _fine_share(settings)[events["stage"].to_numpy()]
    events = events.assign(fine_in=events["given_g"] * phi, fine_lost=events["drop_g"] * phi * fine_share)
    rows = [_stage_row(group) for _, group in events.groupby(["stage", "alloy"], sort=True)]
    columns = ["stage", "alloy", "visits", "fine_g_in", "fine_g_lost", "loss_per_mille", "low", "high"]
    table = pd.DataFrame(rows, columns=columns)
    table["stage"] = np.array([*(stage.name for stage in settings.stages), BETWEEN_STAGES], dtype=object)[table["stage"].astype(np.int64)]
    return table


def _weighed(events: pd.DataFrame, day: Days, first: np.datetime64, last: np.datetime64) -> NDArray[np.bool_]:
    return (events["given_g"].notna() & ~events["unnoted"]).to_numpy() & (day >= first) & (day <= last)


def _stage_row(group: pd.DataFrame) -> tuple[int, str, int, float, float, float, float, float]:
    seen = group[group["given_g"].notna() & (group["stage"] != UNWEIGHED)]
    rate, low, high = loss_rate(seen["drop_g"].to_numpy(), seen["given_g"].to_numpy())
    grams_in = float(seen["fine_in"].sum()) if len(seen) else math.nan
    lost = float(group["fine_lost"].sum())
    return int(group["stage"].iloc[0]), str(group["alloy"].iloc[0]), len(seen), grams_in, lost, rate * 1000, low * 1000, high * 1000


def loss_rate(lost_g: Floats, given_g: Floats, level: float = 0.80) -> tuple[float, float, float]:
    """Return grams lost ÷ grams given over many visits with its range at `level`; NaN where there are too few."""
    n = len(lost_g)
    if not n or given_g.sum() <= 0:
        return math.nan, math.nan, math.nan
    rate = float(lost_g.sum() / given_g.sum())
    if n < FEWEST_WEIGHED:
        return rate, math.nan, math.nan
    error = math.sqrt(float(np.sum((lost_g - rate * given_g) ** 2)) * n / (n - 1)) / float(given_g.sum())
    half = student(level, n - 1) * error
    return rate, rate - half, rate + half


def student(level: float, freedom: int) -> float:
    """Return the half-width, in standard errors, of a range at `level` (Student's t)."""
    from scipy.special import stdtrit

    return float(stdtrit(freedom, 0.5 + level / 2.0))


def _phi(codes: pd.Series, settings: Settings) -> Floats:
    place = pd.Index([alloy.code for alloy in settings.alloys], dtype=object).get_indexer(pd.Index(codes.astype(object)))
    phi: Floats = np.array([*(alloy.phi_melted for alloy in settings.alloys), 0.0])[place]
    return phi


def _fine_share(settings: Settings) -> Floats:
    return np.array([*(stage.loss_fine_share_percent / 100.0 for stage in settings.stages), 1.0])


def finished_pieces(bench: Bench, settings: Settings, first: np.datetime64, last: np.datetime64) -> pd.DataFrame:
    """Return what was delivered from `first` to `last` by alloy: what it holds, and what melting rich gave away.

    Returns
    -------
    DataFrame
        alloy, metal, mark, melted (‰), gross_g (metal delivered, solder in it), solder_share (of that weight, NaN when no card
        notes any), solder_unknown_g (solder whose fineness is not known), finished (‰, the whole article; NaN as before),
        given_away_g (fine above the mark).
    """
    delivered = bench.pieces["delivered_on"].to_numpy("datetime64[D]")
    inside = (delivered >= first) & (delivered <= last) & (bench.pieces["own"] | bench.pieces["customers"]).to_numpy()
    solder = _solder_by_order(bench, settings)
    codes = bench.pieces["alloy"].astype(object).to_numpy()
    rows = [_finished_row(alloy, bench, solder, inside & (codes == alloy.code)) for alloy in settings.alloys]
    table = pd.DataFrame([row for row in rows if row], columns=list(_FINISHED))
    return table.sort_values("alloy", kind="stable", ignore_index=True)


_FINISHED = ("alloy", "metal", "mark", "melted", "gross_g", "solder_share", "solder_unknown_g", "finished", "given_away_g")


def _solder_by_order(bench: Bench, settings: Settings) -> dict[str, dict[str, Floats]]:
    """Return by metal the solder grams of known fineness, their fine grams, and the grams of unknown fineness, of each order."""
    events, n = bench.events, len(bench.pieces)
    order, grams, place = (events[name].to_numpy() for name in ("order", "solder_g", "solder"))
    unknown = total_by(order, np.where(place < 0, grams, 0.0), n)
    known = total_by(order, np.where(place >= 0, grams, 0.0), n)
    out: dict[str, dict[str, Floats]] = {}
    for metal in {str(alloy.metal) for alloy in settings.alloys}:
        phi = np.array([*(s.fineness / 1000.0 * (s.metal == metal) for s in settings.solders), 0.0])[place]
        out[metal] = {"known": known, "unknown": unknown, "fine": total_by(order, grams * phi, n)}
    return out


def _finished_row(alloy: Alloy, bench: Bench, solder: dict[str, dict[str, Floats]], mine: NDArray[np.bool_]) -> tuple[object, ...] | None:
    if not mine.any():
        return None
    mark, melted = alloy.fineness, alloy.phi_melted * 1000.0
    known, unknown, fine = (float(solder[alloy.metal][name][mine].sum()) for name in ("known", "unknown", "fine"))
    body = float(bench.end_alloy_g[mine].sum())
    gross = body + known + unknown
    noted = known > 0 and gross > 0
    finished = finished_fineness(body + known, melted, [known], [fine / known * 1000.0]) if noted else math.nan
    share = (known + unknown) / gross if known + unknown > 0 else math.nan
    return alloy.code, alloy.metal, mark, melted, gross, share, unknown, finished, given_away_g(body, melted, mark)


def alloying_sheet(settings: Settings) -> pd.DataFrame:
    """Return what to add to 100 g of one alloy, or of fine metal, to make another of the same metal.

    Returns
    -------
    DataFrame
        from_alloy, to_alloy, add_metal (a metal as bought, or other metals of the recipe), g_per_100g (g to add; NaN where the
        other alloy cannot be reached because a metal would have to come out again), total_g.
    """
    rows: list[tuple[str, str, str, float, float]] = []
    for wanted in settings.alloys:
        fine: tuple[str, dict[str, float]] = (f"fine {wanted.metal}", {wanted.metal: 1.0})
        others = [(alloy.code, composition(alloy)) for alloy in settings.alloys if alloy.metal == wanted.metal and alloy != wanted]
        for name, held in (fine, *others):
            melt = melt_to(100.0, held, composition(wanted))
            if melt is None:
                rows.append((name, wanted.code, "cannot be reached", math.nan, math.nan))
                continue
            rows += [(name, wanted.code, metal, grams, melt.total_g) for metal, grams in melt.added_g.items()]
    return pd.DataFrame(rows, columns=["from_alloy", "to_alloy", "add_metal", "g_per_100g", "total_g"]).sort_values(
        ["from_alloy", "to_alloy", "add_metal"], kind="stable", ignore_index=True
    )
