"""Fine grams of each metal on the benches, from the gross grams of the job cards."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from ..costing.totals import total_by
from ..settings import Settings
from ..units import METALS
from .alloying import OTHER, composition
from .cards import Bench, Floats, Ints


@dataclass(frozen=True)
class Flows:
    """Fine grams of one metal on the benches.

    Attributes
    ----------
    lost_g, scrap_g, solder_g : ndarray, shape (n_events,)
        Fine grams of each event: lost, back in the safe, taken from the safe as solder.
    end_g : ndarray, shape (n_orders,)
        Fine grams delivered, or still on the bench.
    issued_g : ndarray, shape (n_orders,)
        Fine grams that left the safe at issue: end + lost + scrap − solder.
    """

    lost_g: Floats
    scrap_g: Floats
    solder_g: Floats
    end_g: Floats
    issued_g: Floats


def flows(bench: Bench, metal: str, settings: Settings) -> Flows:
    """Return the fine grams of `metal` on the benches; losses are taken at each stage's share of fine loss."""
    order, events = bench.events["order"].to_numpy(), bench.events
    share = shares_of(bench.pieces, metal, settings)
    fine_share = np.array([*(stage.loss_fine_share_percent / 100.0 for stage in settings.stages), 1.0])[events["stage"].to_numpy()]
    solder = np.array([*(s.fineness / 1000.0 * (s.metal == metal) for s in settings.solders), 0.0])[events["solder"].to_numpy()]
    lost = events["drop_g"].to_numpy() * share[order] * fine_share
    scrap = events["scrap_g"].to_numpy() * share[order]
    soldered = events["solder_g"].to_numpy() * solder
    held = ~(bench.pieces["cancelled_on"].notna() & bench.pieces["delivered_on"].isna()).to_numpy()
    sums = [total_by(order, values, len(bench.pieces)) for values in (lost, scrap, soldered)]
    end = share * bench.end_alloy_g + sums[2] * held
    scrap = scrap + _solder_of_cancelled(events, order, sums[2] * ~held)
    back = total_by(order, scrap, len(bench.pieces))
    return Flows(lost, scrap, soldered, end, end + sums[0] + back - sums[2])


def _solder_of_cancelled(events: pd.DataFrame, order: Ints, solder_g: Floats) -> Floats:
    """Send the solder of an order called off back to the safe with its last event."""
    last = np.append(order[1:] != order[:-1], True) if len(order) else np.zeros(0, bool)
    back: Floats = np.where(last, solder_g[order], 0.0)
    return back


def shares_of(pieces: pd.DataFrame, metal: str, settings: Settings) -> Floats:
    """Return the fine grams of `metal` in a gram of each order's alloy as really melted, shape (n_orders,)."""
    return shares_by_alloy(pieces["alloy"], metal, settings)


def shares_by_alloy(codes: pd.Series, metal: str, settings: Settings) -> Floats:
    """Return the fine grams of `metal` in a gram of each alloy code as really melted; 0 for a code that is no alloy."""
    place = pd.Index([alloy.code for alloy in settings.alloys], dtype=object).get_indexer(pd.Index(codes.astype(object)))
    share: Floats = np.array([*(composition(alloy).get(metal, 0.0) for alloy in settings.alloys), 0.0])[place]
    return share


def metals_worked(settings: Settings) -> tuple[str, ...]:
    """Return the priced metals in the alloys and solders of a shop, in the order gold, silver, platinum, palladium."""
    held = {metal for alloy in settings.alloys for metal in composition(alloy) if metal != OTHER} | {s.metal for s in settings.solders}
    return tuple(metal for metal in METALS if metal in held)
