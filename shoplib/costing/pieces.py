"""What each order is made of: alloy, weights, fine metal in the piece, whose metal it is, and the days that count."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..settings import Alloy, Settings
from ..units import METALS
from .spot import Spot
from .totals import total_by
from .weighings import last_weight

Floats = NDArray[np.float64]
BROUGHT_IN = ("repair", "guarantee")
"""Kinds whose piece comes from the customer: metal counts only where a stage gave some out."""


def pieces(orders: pd.DataFrame, frame: pd.DataFrame, weighed: pd.DataFrame, settings: Settings) -> pd.DataFrame:
    """Return the orders with what they are made of.

    Parameters
    ----------
    orders : DataFrame
        Accepted orders as known.
    frame : DataFrame
        Entries in sequence, from `labour.entries`.
    weighed : DataFrame
        From `weighings.weighed_visits`.
    settings : Settings
        Its alloys, solders and stages.

    Returns
    -------
    DataFrame
        The orders with closed_on (delivered or cancelled), issued_on (first entry at a stage that takes metal, else first
        entry, never after closed_on; closed_on without entries; missing while not begun), metal, phi, phi_melted,
        base_cost_per_g, part_<metal> (share of one), weight_g (finished, else last weighed, else quoted), solder_g,
        solder_fine_g, solder_cost, alloy_g (weight less solder, findings and what is not metal), fine_g (fine in the
        piece, whoever owns it), own (the shop's metal is worked), customers (the customer's is).
    """
    table = orders.assign(closed_on=orders["delivered_on"].fillna(orders["cancelled_on"]))
    table = table.assign(**_alloy_facts(orders["alloy"], settings))
    table = table.assign(**_solder_facts(frame, table, settings))
    table["issued_on"], metal_given = _issued(table, frame, settings)
    on_card = pd.Series(last_weight(weighed, len(table))).where(table["delivered_on"].notna())
    table["weight_g"] = table["finished_weight_g"].fillna(on_card).fillna(table["quoted_weight_g"]).fillna(0.0)
    table["alloy_g"] = (table["weight_g"] - table["solder_g"] - table["findings_g"] - table["not_metal_g"]).clip(lower=0.0)
    table["alloy_g"] *= table["metal"] != ""
    table["fine_g"] = table["phi_melted"] * table["alloy_g"] + table["solder_fine_g"]
    worked = (table["metal"] != "") & (~table["kind"].isin(BROUGHT_IN).to_numpy() | metal_given)
    table["customers"] = worked & (table["metal_terms"] == "customer_metal").to_numpy()
    table["own"] = worked & ~table["customers"]
    return table


def _alloy_facts(codes: pd.Series, settings: Settings) -> dict[str, Floats | NDArray[np.object_]]:
    place = pd.Index([alloy.code for alloy in settings.alloys], dtype=object).get_indexer(pd.Index(codes.astype(object)))
    facts = {
        "phi": [alloy.phi for alloy in settings.alloys],
        "phi_melted": [alloy.phi_melted for alloy in settings.alloys],
        "base_cost_per_g": [alloy.other_metals_per_g for alloy in settings.alloys],
        **{f"part_{metal}": [_part(alloy, metal) for alloy in settings.alloys] for metal in METALS},
    }
    known: dict[str, Floats | NDArray[np.object_]] = {name: np.array([*values, 0.0])[place] for name, values in facts.items()}
    known["metal"] = np.array([*(alloy.metal for alloy in settings.alloys), ""], dtype=object)[place]
    return known


def _part(alloy: Alloy, metal: str) -> float:
    return next((share / 1000.0 for name, share in alloy.parts.items() if name == metal), 0.0)


def _solder_facts(frame: pd.DataFrame, table: pd.DataFrame, settings: Settings) -> dict[str, Floats]:
    order, fine = frame["order"].to_numpy(), solder_fine(frame, table, settings)
    cost = np.array([*(solder.cost_per_g for solder in settings.solders), 0.0])[_solder(frame, settings)]
    grams = frame["solder_g"].fillna(0.0).to_numpy()
    parts = {"solder_g": grams, "solder_fine_g": fine, "solder_cost": grams * cost}
    return {name: total_by(order, values, len(table)) for name, values in parts.items()}


def solder_fine(frame: pd.DataFrame, table: pd.DataFrame, settings: Settings) -> Floats:
    """Return the fine grams of the order's own metal in the solder of each entry, 0 without order.

    A solder unknown to shop.toml counts as fine as the alloy, one of another metal as not fine.
    """
    order, place = frame["order"].to_numpy(), _solder(frame, settings)
    metal = np.array([*(solder.metal for solder in settings.solders), ""], dtype=object)[place]
    fineness = np.array([*(solder.fineness / 1000.0 for solder in settings.solders), 0.0])[place]
    same = metal == np.append(table["metal"].to_numpy(), "")[order]
    fineness = np.where(place < 0, np.append(table["phi_melted"].to_numpy(), 0.0)[order], fineness * same)
    fine: Floats = np.where(order >= 0, frame["solder_g"].fillna(0.0).to_numpy() * fineness, 0.0)
    return fine


def _solder(frame: pd.DataFrame, settings: Settings) -> NDArray[np.int64]:
    codes = pd.Index([solder.code for solder in settings.solders], dtype=object)
    return np.asarray(codes.get_indexer(pd.Index(frame["solder"].astype(object))), dtype=np.int64)


def _issued(table: pd.DataFrame, frame: pd.DataFrame, settings: Settings) -> tuple[pd.Series, NDArray[np.bool_]]:
    takes = np.array([*(stage.takes_metal for stage in settings.stages), False])
    at_metal = takes[frame["stage"].to_numpy()]
    first_metal = _first_day(frame[at_metal], len(table))
    day = np.where(np.isnat(first_metal), _first_day(frame, len(table)), first_metal)
    closed = table["closed_on"].to_numpy("datetime64[D]")
    day = np.where(np.isnat(day), closed, np.where(np.isnat(closed), day, np.minimum(day, closed)))
    return pd.Series(day.astype("datetime64[s]"), index=table.index), ~np.isnat(first_metal)


def _first_day(frame: pd.DataFrame, n_orders: int) -> NDArray[np.datetime64]:
    days = np.full(n_orders, np.datetime64("NaT", "D"))
    firsts = frame[frame["order"] >= 0].drop_duplicates("order")
    days[firsts["order"].to_numpy()] = firsts["day"].to_numpy("datetime64[D]")
    return days


def fix_days(table: pd.DataFrame, as_of: np.datetime64) -> NDArray[np.datetime64]:
    """Return the day on which each order's metal price was struck; `as_of` stands for a day still to come.

    fixed_on where written; else ordered_on (`fixed`), delivered_on (`at_delivery`) or issued_on (`customer_metal`).
    """
    terms = table["metal_terms"].to_numpy()
    by_terms = {"at_delivery": table["closed_on"], "customer_metal": table["issued_on"]}
    day = table["ordered_on"].to_numpy("datetime64[D]")
    for name, days in by_terms.items():
        day = np.where(terms == name, days.to_numpy("datetime64[D]"), day)
    fixed = table["fixed_on"].to_numpy("datetime64[D]")
    day = np.where(np.isnat(fixed), day, fixed)
    return np.where(np.isnat(day), as_of, day)


def fix_prices(table: pd.DataFrame, spot: Spot, as_of: np.datetime64) -> Floats:
    """Return the metal price each order was struck at, money per g fine; a price written in the order wins over spot."""
    prices: Floats = table["fixed_price_per_g"].fillna(pd.Series(spot.of(table["metal"].to_numpy(), fix_days(table, as_of)))).to_numpy()
    return prices
