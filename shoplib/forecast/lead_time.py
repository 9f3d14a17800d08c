"""When orders will be delivered, by the fitted workshop run on from where each open order stands.

A date quantile is the first day by which at least that share of replications is done. Days count from the as-of date: 1 is the
day after it.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import partial

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..errors import ShoplibError
from ..flow.visits import history
from ..intake.as_of import until
from ..intake.shop import Shop
from ..workshop.fit import fitted
from ..workshop.model import State, Workshop
from ..workshop.records import Records
from ..workshop.replicate import simulate
from ..workshop.state import state
from .backtest import NEW_DAYS, Forecaster, forecasts
from .plain_rules import LEVELS, QUANTILES, RULES, Rule, day_count, days_of

Floats = NDArray[np.float64]
REPLICATIONS = 64
HORIZON_DAYS = 400
FEWEST_ALIKE = 100
"""With fewer simulated new orders of a style and alloy, those of all styles stand in."""
MODEL = "model"


@dataclass(frozen=True)
class Outlook:
    """What a run says of delivery dates.

    Attributes
    ----------
    open_days : ndarray(float), shape (R, n)
        Days after the as-of date on which each open order is delivered; +inf beyond the horizon.
    order_id : ndarray(str), shape (n,)
        The open orders.
    new_orders : DataFrame
        style, alloy, arrival_days (after the as-of date), flow_days of simulated new orders; +inf beyond the horizon.
    """

    open_days: Floats
    order_id: NDArray[np.str_]
    new_orders: pd.DataFrame


def quantiles(days: Floats, levels: tuple[float, ...] = LEVELS) -> Floats:
    """Return, per column of `days`, the first day by which at least each share of the rows is done, shape (n, levels)."""
    ordered = np.sort(days, axis=0)
    place = [min(max(int(np.ceil(level * len(days) - 1e-9)) - 1, 0), len(days) - 1) for level in levels]
    return np.asarray(ordered[place].T)


def outlook(workshop: Workshop, here: State, seed: int, replications: int = REPLICATIONS, threads: int = 1) -> Outlook:
    """Run the workshop on and collect delivery dates.

    Parameters
    ----------
    workshop, here : Workshop, State
        The fitted shop and its open orders.
    seed, replications, threads
        As in `simulate`.
    """
    records = simulate(workshop, here, horizon_days=HORIZON_DAYS, seed=seed, replications=replications, threads=threads)
    return Outlook(1.0 + np.floor(records.open_finish()), here.order_id, new_order_flows(records))


def new_order_flows(records: Records, within_days: int = NEW_DAYS) -> pd.DataFrame:
    """Return style, alloy, arrival_days and flow_days of simulated orders that come within some days; see `Outlook`."""
    c, w = records.cards, records.workshop
    use = np.flatnonzero((records.number >= records.n_open) & records.taken & (c["arrival"] < within_days))
    piece, came = c["piece"][use], np.floor(c["arrival"][use])
    done = np.where(np.isnan(c["delivered"][use]), np.inf, np.floor(c["delivered"][use]))
    frame = {"style": w.styles[w.piece_style[piece]], "alloy": w.alloys[w.piece_alloy[piece]], "arrival_days": 1.0 + came}
    return pd.DataFrame({**frame, "flow_days": done - came})


def new_order_quantiles(flows: pd.DataFrame, style: object, alloy: object, levels: tuple[float, ...] = LEVELS) -> Floats:
    """Return the days of a new order of a style and alloy at each level, NaN where nothing new was simulated."""
    alike = flows[(flows["style"] == style) & (flows["alloy"] == alloy)]
    chosen = alike if len(alike) >= FEWEST_ALIKE else flows
    if chosen.empty:
        return np.full(len(levels), np.nan)
    points: Floats = quantiles(chosen["flow_days"].to_numpy()[:, None], levels)[0]
    return points


def said_by_model(found: Outlook, asked: pd.DataFrame, origin: np.datetime64, horizon: str) -> pd.DataFrame:
    """Return order_id, q50, q80, q95 in days after `origin` for the orders asked about; NaN where the horizon is too short.

    Parameters
    ----------
    found : Outlook
        Of the origin.
    asked : DataFrame
        order_id, style, alloy, ordered_on.
    origin : datetime64[D]
        As-of date of the run.
    horizon : {'open', 'new'}
        Which orders are asked about.
    """
    if horizon == "open":
        table = (
            pd.DataFrame(quantiles(found.open_days), columns=list(QUANTILES))
            if len(found.order_id)
            else pd.DataFrame(columns=list(QUANTILES))
        )
        days = table.set_axis(found.order_id, axis=0).reindex(asked["order_id"].astype(str).to_numpy()).to_numpy(dtype=float)
    else:
        kinds = {(s, a): new_order_quantiles(found.new_orders, s, a) for s, a in set(zip(asked["style"], asked["alloy"], strict=True))}
        later = day_count(days_of(asked["ordered_on"]), origin)
        own = [kinds[pair] for pair in zip(asked["style"], asked["alloy"], strict=True)]
        days = np.array(own).reshape(len(asked), 3) + later[:, None]
    days = np.where(np.isfinite(days), days, np.nan)
    return pd.DataFrame({"order_id": asked["order_id"].to_numpy(), **dict(zip(QUANTILES, days.T, strict=True))})


def outlook_at(shop: Shop, origin: date, seed: int, replications: int = REPLICATIONS) -> Outlook | None:
    """Refit on what was known on `origin` and run on; None where that history cannot be simulated."""
    try:
        seen = until(shop, origin)
        past = history(seen, origin)
        workshop = fitted(shop, origin, seed, draws=replications, past=past).workshop
        return outlook(workshop, state(shop, workshop, origin, past=past), seed, replications)
    except ShoplibError:
        return None


def said_at(shop: Shop, origin: np.datetime64, as_of: np.datetime64, seed: int) -> pd.DataFrame:
    """Return what the model and the plain rules said at one origin, beside what came; see `backtest.forecasts`."""
    day: date = origin.astype("datetime64[D]").astype(object)
    known, found = until(shop, day)["orders"], outlook_at(shop, day, seed)
    methods: dict[str, Forecaster] = {name: partial(_by_rule, rule, known) for name, rule in RULES.items()}
    if found is not None:
        methods[MODEL] = partial(_by_model, found)
    return forecasts(shop["orders"], [origin], methods, as_of)


def _by_rule(rule: Rule, known: pd.DataFrame, origin: np.datetime64, asked: pd.DataFrame) -> pd.DataFrame:
    return rule(known, origin, asked)


def _by_model(found: Outlook, origin: np.datetime64, asked: pd.DataFrame) -> pd.DataFrame:
    later = bool((days_of(asked["ordered_on"]) > origin).any())
    return said_by_model(found, asked, origin, "new" if later else "open")
