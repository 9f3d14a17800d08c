"""What each price should be: the shop's target at today's spot, two floors, rounding, and the money at stake.

With metal = Σ g fine (loss included) × spot × (1 + premium), the making charge of a price is price − metal. By target:

* keep_making_charge: price + metal now − metal when struck, so that metal is passed through 1 : 1;
* percent_of_price: (metal + costs) ÷ (1 − p); each swing of spot is then multiplied by 1 ÷ (1 − p);
* per_limiting_hour: floor with idle benches + target × hours at the limiting bench;
* per_g_fine: metal + costs + target × g fine in the piece.

The floor with idle benches leaves no throughput contribution (wages are paid whatever is made); with full benches an order must
bring what the limiting hours it takes bring elsewhere.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from ..settings import Policy
from .costs import MakingCosts
from .lines import Lines
from .market import Floats, Market

CHANGES = np.linspace(-0.20, 0.20, 17)
"""Changes of spot in the grid, share of one."""
CENT = 0.005


@dataclass(frozen=True)
class Piece:
    """The usual piece of each line, n lines: what a target needs to know of it.

    Attributes
    ----------
    price : ndarray(float), shape (n,)
        Present price, money.
    metal_then : ndarray(float), shape (n,)
        Metal when the price was struck, money.
    fine_g : ndarray(float), shape (n,)
        Fine metal of the alloy's own kind, loss included, g.
    labour, other : ndarray(float), shape (n,)
        Wages; base metals, consumables, findings, outwork; money.
    limiting_hours : ndarray(float), shape (n,)
        Hours at the limiting bench.
    hour_worth : float
        What such an hour brings elsewhere, money; NaN when not known.
    """

    price: Floats
    metal_then: Floats
    fine_g: Floats
    labour: Floats
    other: Floats
    limiting_hours: Floats
    hour_worth: float


def pieces_of(lines: Lines, costs: MakingCosts, market: Market) -> Piece:
    """Return the usual pieces of the lines."""
    then = market.on(lines.table["struck_on"].to_numpy("datetime64[D]"))
    return Piece(
        lines.table["price_now"].to_numpy(float), metal_value(lines.needed_g, then, market.premium), lines.main_g,
        costs.labour, costs.other, costs.limiting_hours, costs.hour_worth,
    )  # fmt: skip


def metal_value(needed_g: Floats, spot: Floats, premium: float) -> Floats:
    """Return the metal of pieces, money: grams of each metal × its spot × (1 + premium).

    Parameters
    ----------
    needed_g : ndarray(float), shape (n, M)
        Fine grams, loss included.
    spot : ndarray(float), shape (M,) or (n, M)
        Money per g fine; NaN where a metal has no price.
    premium : float
        Share of spot.
    """
    worth = np.where(needed_g > 0, needed_g * spot, 0.0)
    return np.asarray(worth.sum(axis=1) * (1.0 + premium))


def target_price(piece: Piece, metal: Floats, policy: Policy) -> Floats:
    """Return the price of each line that meets the shop's target, not rounded.

    Parameters
    ----------
    piece : Piece
        The usual pieces.
    metal : ndarray(float), shape (n,)
        Their metal at the spot in question, money.
    policy : Policy
        target and its amount.
    """
    if policy.target == "keep_making_charge":
        return np.asarray(piece.price + (metal - piece.metal_then))
    if policy.target == "per_limiting_hour":
        return metal + piece.other + policy.target_per_limiting_hour * piece.limiting_hours
    costs = metal + piece.other + piece.labour
    if policy.target == "per_g_fine":
        return costs + policy.target_per_g_fine * piece.fine_g
    return np.asarray(costs / (1.0 - min(policy.target_making_margin_percent, 99.0) / 100.0))


def rounded_up(price: Floats, step: float, present: Floats | None = None) -> Floats:
    """Return prices rounded up to `step`; one that is the present price to the cent stays as it is.

    A price within a ten-thousandth of a step above a multiple is that multiple: floating point, not money.
    """
    up = np.ceil(np.round(price / step, 4)) * step
    return up if present is None else np.where(np.abs(price - present) < CENT, present, up)


def floor_idle(piece: Piece, metal: Floats) -> Floats:
    """Return the price below which an idle bench earns nothing: metal and what is bought in; wages are paid anyway."""
    return metal + piece.other


def floor_full(piece: Piece, metal: Floats) -> Floats:
    """Return the price below which a full bench should make something else; NaN when no limiting hour is known."""
    return floor_idle(piece, metal) + piece.limiting_hours * piece.hour_worth


def price_list(lines: Lines, piece: Piece, market: Market, policy: Policy) -> pd.DataFrame:
    """Return the list repriced at today's spot.

    Returns
    -------
    DataFrame
        line, pieces_12_months, price_now, metal_when_struck, metal_now, making_charge_now, making_margin_now, price_exact (meets
        the target to the cent), price_to_target (rounded up to the price step), change_share, floor_idle, floor_full,
        money_at_stake (change × pieces of 12 months), short (misses the target by a step or more), struck_on; most money first.
    """
    metal = metal_value(lines.needed_g, market.now, market.premium)
    exact = target_price(piece, metal, policy)
    price = rounded_up(exact, policy.price_step, piece.price)
    pieces = lines.table["pieces_12_months"].to_numpy(float)
    return pd.DataFrame({
        "line": lines.table["line"], "pieces_12_months": pieces, "price_now": piece.price, "metal_when_struck": piece.metal_then,
        "metal_now": metal, "making_charge_now": piece.price - metal, "making_margin_now": piece.price - metal - piece.labour - piece.other,
        "price_exact": exact, "price_to_target": price, "change_share": price / piece.price - 1.0, "floor_idle": floor_idle(piece, metal),
        "floor_full": floor_full(piece, metal), "money_at_stake": (price - piece.price) * pieces,
        "short": exact - piece.price >= policy.price_step - CENT, "struck_on": lines.table["struck_on"],
    })  # fmt: skip


def spot_grid(lines: Lines, piece: Piece, market: Market, policy: Policy, metal: str) -> pd.DataFrame:
    """Return the list at 17 spots of one metal, the others as today.

    Returns
    -------
    DataFrame
        spot_change, line, price_to_target, making_margin_at_present_price, making_charge_at_present_price, making_charge_at_target
        (of the exact price), floor_full, short (misses the target by a step or more), metal (the one that changes).
    """
    parts = []
    for change in CHANGES:
        spot = market.now.copy()
        spot[market.place(metal)] *= 1.0 + change
        value = metal_value(lines.needed_g, spot, market.premium)
        exact = target_price(piece, value, policy)
        parts.append(pd.DataFrame({
            "spot_change": round(float(change), 4), "line": lines.table["line"],
            "price_to_target": rounded_up(exact, policy.price_step, piece.price),
            "making_margin_at_present_price": piece.price - value - piece.labour - piece.other,
            "making_charge_at_present_price": piece.price - value, "making_charge_at_target": exact - value,
            "floor_full": floor_full(piece, value), "short": exact - piece.price >= policy.price_step - CENT, "metal": metal,
        }))  # fmt: skip
    return pd.concat(parts, ignore_index=True)


def new_list(lines: Lines, repriced: pd.DataFrame) -> pd.DataFrame:
    """Return the price list to print, old and new side by side, as it is kept: by the cm or by the g.

    Returns
    -------
    DataFrame
        line, style, alloy, width_mm, g_per_cm, per (cm or g), old_price, new_price (rounded up to the cent), change_share,
        usual_old, usual_new (of the usual piece), struck_on.
    """
    table = lines.table
    amount = (table["price_now"] / table["list_price"]).to_numpy(float)
    new = np.ceil(np.round(repriced["price_to_target"].to_numpy(float) / amount * 100.0, 4)) / 100.0
    same = repriced["price_to_target"].to_numpy(float) == table["price_now"].to_numpy(float)
    new = np.where(same, table["list_price"].to_numpy(float), new)
    kept = table[["line", "style", "alloy", "width_mm", "g_per_cm", "per", "struck_on"]]
    old = table["list_price"].to_numpy(float)
    return kept.assign(
        old_price=old, new_price=new, change_share=new / old - 1.0, usual_old=table["price_now"], usual_new=repriced["price_to_target"]
    )


def if_customers_answer(lines: Lines, piece: Piece, repriced: pd.DataFrame, elasticity: float) -> tuple[float, float]:
    """Return pieces a year and contribution a year of the new prices less that of the present ones, at an elasticity of pieces to price.

    Parameters
    ----------
    elasticity : float
        Per cent more pieces sold for a per cent on the price; 0: customers order as before.

    Returns
    -------
    tuple of float
        Pieces a year at the new prices; change of a year's throughput contribution, money.
    """
    new, floor = repriced["price_to_target"].to_numpy(float), repriced["floor_idle"].to_numpy(float)
    pieces = lines.table["pieces_12_months"].to_numpy(float)
    sold = pieces * (new / piece.price) ** elasticity
    gain = sold * (new - floor) - pieces * (piece.price - floor)
    return float(np.nansum(sold)), float(np.nansum(gain))
