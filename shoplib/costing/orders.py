"""What each order earned: making margin, metal result and book margin, and its contribution per limiting hour.

Making margin is the benches' doing: price and metal billed, less metal at the day its price was struck, metal lost, and all
other costs. Metal result is the rest of the way to what the metal really cost. Book margin is both.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..settings import Settings
from ..units import METALS
from .pieces import fix_days
from .pool_accounts import OrdersMetal
from .spot import Spot
from .totals import ratio, total_by

Floats = NDArray[np.float64]
MONEY = (
    "price", "metal_billed", "making_charge", "metal_at_fix", "metal_lost", "other_metals", "findings", "labour", "rework_labour",
    "stones", "outwork", "making_margin", "book_metal", "metal_result", "metal_result_move", "metal_result_premium", "book_margin",
    "weight_over_quote_money", "overtime_premium", "owner_labour", "capital_cost", "contribution",
)  # fmt: skip


def other_metals(table: pd.DataFrame, lost: pd.DataFrame, hours: Floats, spot: Spot, as_of: np.datetime64, settings: Settings) -> Floats:
    """Return the cost of what is neither the alloy's own metal nor work: other parts, solder's cost, consumables.

    Other priced parts of the alloy at their spot on the day the metal was struck, and base metals by settings, on alloy in the
    piece + net loss, of an order called off on the loss alone; nothing for a customer's own alloy. Solder and consumables by settings.
    """
    day, grams = fix_days(table, as_of), (table["alloy_g"].where(table["cancelled_on"].isna(), 0.0) + lost["net_loss_g"]).to_numpy()
    per_g = table["base_cost_per_g"].to_numpy()
    for metal in METALS:
        share = table[f"part_{metal}"].to_numpy()
        if share.any():
            per_g = per_g + np.where(share > 0, share * spot.on(metal, day), 0.0)
    alloy = np.where(table["own"].to_numpy(), grams * per_g, 0.0)
    other: Floats = alloy + table["solder_cost"].to_numpy() + hours * settings.policy.consumables_per_hour
    return other


def priced(table: pd.DataFrame, use: pd.DataFrame, taken: OrdersMetal, labour: pd.DataFrame, other: Floats, fix: Floats) -> pd.DataFrame:
    """Return the money of every order as if it closed as it stands.

    Parameters
    ----------
    table, use : DataFrame
        From `pieces.pieces` and `pool_entries.metal_use`.
    taken : OrdersMetal
        From `pool_entries.pool_of`.
    labour : DataFrame
        From `labour_of`.
    other : ndarray(float)
        From `other_metals`.
    fix : ndarray(float)
        From `pieces.fix_prices`.

    Returns
    -------
    DataFrame
        The money columns of the margin report's table `orders` but capital_cost, with the two parts of metal_result.
    """
    worked = (table["own"] | table["customers"]).to_numpy()
    fix = np.where(worked, fix, 0.0)
    delivered, at_delivery = table["delivered_on"].notna().to_numpy(), (table["metal_terms"] == "at_delivery").to_numpy()
    in_piece = table["fine_g"].to_numpy() * (table["own"].to_numpy() & delivered)
    book_g = use["book_g"].to_numpy()
    billed = table["phi"] * (table["weight_g"] - table["not_metal_g"]).clip(lower=0.0) * at_delivery * table["own"] * delivered
    money = pd.DataFrame({"price": np.where(delivered, table["price"].to_numpy(), table["kept"].to_numpy())}, index=table.index)
    money["metal_billed"] = billed * fix
    money["metal_at_fix"] = in_piece * fix
    money["metal_lost"] = (book_g - in_piece) * fix
    money["making_charge"] = money["price"] - money["metal_at_fix"].where(table["metal_terms"] == "fixed", 0.0)
    spent = {"findings": "findings_cost", "stones": "stones_cost", "outwork": "outwork_cost"}
    money["other_metals"], money["labour"], money["rework_labour"] = other, labour["labour"].to_numpy(), labour["rework_labour"].to_numpy()
    money = money.assign(**{name: table[column].where(delivered, 0.0) for name, column in spent.items()})
    return _margins(money, book_g, taken, labour, fix).assign(weight_over_quote_money=_over_quote(table, fix))


def _margins(money: pd.DataFrame, book_g: Floats, taken: OrdersMetal, labour: pd.DataFrame, fix: Floats) -> pd.DataFrame:
    without_wages = money["price"] + money["metal_billed"] - money[
        ["metal_at_fix", "metal_lost", "other_metals", "stones", "findings", "outwork"]
    ].sum(axis=1)  # fmt: skip
    cost, spot = np.nan_to_num(taken.cost_per_g), np.nan_to_num(taken.spot_per_g)
    money["making_margin"] = without_wages - money["labour"] - money["rework_labour"]
    money["book_metal"] = book_g * cost
    money["metal_result_move"] = book_g * (fix - spot)
    money["metal_result_premium"] = book_g * (spot - cost)
    money["metal_result"] = money["metal_at_fix"] + money["metal_lost"] - money["book_metal"]
    money["book_margin"] = money["making_margin"] + money["metal_result"]
    money["overtime_premium"], money["owner_labour"] = labour["overtime_premium"].to_numpy(), labour["owner_labour"].to_numpy()
    money["contribution"] = without_wages - money["overtime_premium"]
    hours = labour["limiting_hours"].to_numpy()
    return money.assign(contribution_per_limiting_hour=ratio(money["contribution"].to_numpy(), hours, np.nan))


def _over_quote(table: pd.DataFrame, fix: Floats) -> Floats:
    """Return the metal given away above the weight quoted, money; 0 where the customer pays by weight, NaN without a quote."""
    over = table["phi_melted"] * (table["weight_g"] - table["quoted_weight_g"]) * fix
    by_piece = (table["settled_by"] == "piece") & (table["metal_terms"] == "fixed") & table["own"] & table["delivered_on"].notna()
    given: Floats = over.where(by_piece, 0.0).to_numpy()
    return given


def deposits_kept(table: pd.DataFrame, payments: pd.DataFrame) -> Floats:
    """Return what was paid for each order and not paid back: its payments, else its deposit, money."""
    place = pd.Index(table["order_id"].astype(object)).get_indexer(pd.Index(payments["order_id"].astype(object)))
    paid = total_by(place, payments["amount"].to_numpy(), len(table))
    return np.where(np.isin(np.arange(len(table)), place), paid, table["deposit"].to_numpy())
