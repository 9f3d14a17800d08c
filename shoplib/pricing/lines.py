"""The lines of the price list and the usual piece of each: what is priced, what it weighs, what it holds.

Without a list, the last orders of each style × alloy stand in for one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..intake.shop import Finding, Shop
from ..settings import Alloy
from .market import Floats, Market

Flags = NDArray[np.bool_]
Integers = NDArray[np.int64]
USUAL_CM = 50.0
"""Length of the usual piece of a line that was never sold."""
YEAR = np.timedelta64(365, "D")
LAST_ORDERS = 5
"""Orders from which the making charge of a line is told when there is no list."""
COLUMNS = (
    "line", "style", "alloy", "width_mm", "g_per_cm", "length_cm", "weight_g", "per", "list_price", "price_now", "struck_on",
    "pieces_12_months", "told_by",
)  # fmt: skip


@dataclass(frozen=True)
class Lines:
    """The price list, n lines.

    Attributes
    ----------
    table : DataFrame
        `COLUMNS`: weight_g and price_now are those of the usual piece; per is ``cm`` or ``g``, list_price money for one; told_by says
        where the usual piece comes from (its orders, 50 cm, the shop's usual weight).
    needed_g : ndarray(float), shape (n, M)
        Fine grams of each metal the usual piece takes, its net loss included.
    main : ndarray(int), shape (n,)
        Position of the alloy's own metal.
    from_orders : bool
        There is no list; the last orders stand in.
    findings : tuple of Finding
        What had to be left out or assumed.
    """

    table: pd.DataFrame
    needed_g: Floats
    main: Integers
    from_orders: bool
    findings: tuple[Finding, ...]

    @property
    def main_g(self) -> Floats:
        """Fine grams of the alloy's own metal, loss included, shape (n,)."""
        return np.asarray(self.needed_g[np.arange(len(self.main)), self.main])


def line_name(style: str, alloy: str, width_mm: float) -> str:
    """Return the name of a line: style · alloy · width."""
    return f"{style} · {alloy}" + ("" if np.isnan(width_mm) else f" · {width_mm:g} mm")


def lines_of(shop: Shop, known: pd.DataFrame, market: Market, loss: dict[str, float]) -> Lines:
    """Return the lines of the shop's list, or of its last orders, with their usual pieces.

    Parameters
    ----------
    shop : Shop
        As known today.
    known : DataFrame
        `Costing.known`.
    market : Market
        Spot.
    loss : dict of str to float
        Net loss by alloy code, share of the fine metal in the piece.
    """
    alloys = {alloy.code: alloy for alloy in shop.settings.alloys}
    known = known.assign(price=shop["orders"].set_index("order_id")["price"].reindex(known["order_id"]).to_numpy(float))
    sold = sold_orders(known, market.as_of)
    listed, findings = _listed(shop["price_list"], market.as_of)
    from_orders = listed.empty
    if from_orders:
        listed, findings = _last_orders(known, alloys, market, loss), ()
    listed = listed[listed["alloy"].isin(alloys)].reset_index(drop=True)
    place = line_of_orders(sold, listed)
    table, more = _with_usual_piece(listed, sold, place)
    main = np.array([market.place(alloys[code].metal) for code in table["alloy"]], dtype=np.int64)
    needed = needed_grams(table["alloy"].tolist(), table["weight_g"].to_numpy(float), alloys, market, loss)
    return Lines(table[list(COLUMNS)], needed, main, from_orders, (*findings, *more))


def needed_grams(codes: list[str], weight_g: Floats, alloys: dict[str, Alloy], market: Market, loss: dict[str, float]) -> Floats:
    """Return the fine grams of each metal that pieces of these alloys take, φm (W + L), shape (n, M)."""
    share = {code: _shares(alloy, market) * (1.0 + loss.get(code, 0.0)) for code, alloy in alloys.items()}
    return np.array([share[code] for code in codes]).reshape(len(codes), len(market.metals)) * np.asarray(weight_g)[:, None]


def _shares(alloy: Alloy, market: Market) -> Floats:
    shares = np.zeros(len(market.metals))
    for metal, permille in alloy.parts.items():
        shares[market.place(metal)] = permille / 1000.0
    shares[market.place(alloy.metal)] = alloy.phi_melted
    return shares


def sold_orders(known: pd.DataFrame, as_of: np.datetime64) -> pd.DataFrame:
    """Return the orders of the last 12 months in the shop's own metal, not called off, with weight and length of one piece."""
    ordered = known["ordered_on"].to_numpy("datetime64[D]")
    use = (ordered > as_of - YEAR) & known["kind"].isin(("order", "stock")).to_numpy() & known["cancelled_on"].isna().to_numpy()
    sold = known[use & (known["metal_terms"] != "customer_metal").to_numpy()]
    weight = sold["quoted_weight_g"].fillna(sold["finished_weight_g"]) / sold["pieces"]
    return sold.assign(piece_g=weight, per_cm=weight / sold["length_cm"]).reset_index(drop=True)


def line_of_orders(sold: pd.DataFrame, listed: pd.DataFrame) -> Integers:
    """Return the line each order belongs to, −1 for none: its style and alloy, the nearest width, else the nearest weight of a cm."""
    found = np.full(len(sold), -1, dtype=np.int64)
    groups = listed.groupby(["style", "alloy"], sort=False).indices
    for key, rows in sold.groupby(["style", "alloy"], sort=False).indices.items():
        lines = groups.get(key, np.zeros(0, np.int64))
        if len(lines):
            found[rows] = lines[_nearest(sold.iloc[rows], listed.iloc[lines])]
    return found


def _nearest(orders: pd.DataFrame, lines: pd.DataFrame) -> Integers:
    """Return, for each order, the nearest of the lines of its style and alloy."""
    if len(lines) == 1:
        return np.zeros(len(orders), np.int64)
    width = _distance(orders["width_mm"], lines["width_mm"])
    per_cm = _distance(orders["per_cm"], lines["g_per_cm"])
    apart = np.where(np.isnan(width).all(axis=1, keepdims=True), per_cm, width)
    return np.asarray(np.where(np.isnan(apart), np.inf, apart).argmin(axis=1))


def _distance(orders: pd.Series, lines: pd.Series) -> Floats:
    return np.asarray(np.abs(orders.to_numpy(float)[:, None] - lines.to_numpy(float)[None, :]))


def _listed(price_list: pd.DataFrame, as_of: np.datetime64) -> tuple[pd.DataFrame, tuple[Finding, ...]]:
    """Return the list as it stands on a day: each line once, the price struck last."""
    struck = price_list["struck_on"].to_numpy("datetime64[D]")
    rows = price_list[struck <= as_of].sort_values(["struck_on", "row"], kind="stable")
    last = rows.drop_duplicates(["style", "alloy", "width_mm"], keep="last").sort_values("row", kind="stable")
    findings = []
    if len(rows) > len(last):
        text = f"{len(rows) - len(last)} older prices of lines that stand in the list again are left out. Take them out of the list."
        findings.append(Finding("note", "older_prices", text, "price_list"))
    by_cm = last["price_per_cm"].notna().to_numpy()
    table = pd.DataFrame({
        "style": last["style"], "alloy": last["alloy"], "width_mm": last["width_mm"], "g_per_cm": last["weight_g_per_cm"],
        "per": np.where(by_cm, "cm", "g"), "list_price": last["price_per_cm"].fillna(last["price_per_g"]), "struck_on": last["struck_on"],
    })  # fmt: skip
    return table.reset_index(drop=True), tuple(findings)


def _last_orders(known: pd.DataFrame, alloys: dict[str, Alloy], market: Market, loss: dict[str, float]) -> pd.DataFrame:
    """Return a line a style × alloy: the usual making charge a gram of its last orders, at the metal price of the last one."""
    fixed = known[
        (known["metal_terms"] == "fixed").to_numpy() & known["own"].to_numpy() & known["kind"].isin(("order", "stock")).to_numpy()
    ]
    fixed = fixed[fixed["alloy"].isin(alloys) & (fixed["weight_g"] > 0)].sort_values(["ordered_on", "order_id"], kind="stable")
    rows = []
    for (style, alloy), group in fixed.groupby(["style", "alloy"], sort=True):
        last = group.tail(LAST_ORDERS)
        fix = last["fixed_on"].fillna(last["ordered_on"]).to_numpy("datetime64[D]")
        grams = needed_grams([str(alloy)] * len(last), np.ones(len(last)), alloys, market, loss)
        spots, more = (market.on(fix[-1:]), market.on(fix)), 1.0 + market.premium
        metal, then = (np.where(grams > 0, grams * spot, 0.0).sum(axis=1) * more for spot in spots)
        charge = (last["price"] - last["stones"]).to_numpy(float) / last["weight_g"].to_numpy(float) - then
        per_cm = float((last["quoted_weight_g"] / last["pieces"] / last["length_cm"]).median())
        rows.append((style, alloy, np.nan, per_cm, "g", float(np.median(charge)) + float(metal[-1]), fix[-1]))
    names = ["style", "alloy", "width_mm", "g_per_cm", "per", "list_price", "struck_on"]
    table = pd.DataFrame(rows, columns=names)
    return table.assign(struck_on=table["struck_on"].to_numpy("datetime64[s]"))


def _with_usual_piece(listed: pd.DataFrame, sold: pd.DataFrame, place: Integers) -> tuple[pd.DataFrame, tuple[Finding, ...]]:
    """Add the usual piece, its price and the pieces sold; lines whose weight nobody can tell are left out and told."""
    own = sold.assign(line=place).groupby("line")
    pieces = own["pieces"].sum().reindex(range(len(listed)), fill_value=0.0)
    length, weight, seen_cm = (own[name].median().reindex(range(len(listed))) for name in ("length_cm", "piece_g", "per_cm"))
    per_cm = listed["g_per_cm"].fillna(seen_cm)
    cm = length.fillna(weight / per_cm).fillna(USUAL_CM)
    grams = (cm * per_cm).where(length.notna() | weight.isna(), weight).fillna(weight)
    usual_g = float(sold["piece_g"].median()) if len(sold) else np.nan
    by_gram = (listed["per"] == "g") & grams.isna()
    grams = grams.fillna(pd.Series(usual_g, index=listed.index).where(by_gram))
    told = np.where(pieces > 0, "its orders", np.where(by_gram, "the shop's usual weight", f"{USUAL_CM:g} cm"))
    amount = np.where(listed["per"] == "cm", cm, grams)
    names = [line_name(s, a, w) for s, a, w in zip(listed["style"], listed["alloy"], listed["width_mm"].to_numpy(float), strict=True)]
    table = listed.assign(
        line=names, length_cm=cm.where(per_cm.notna() | (listed["per"] == "cm")), g_per_cm=per_cm, weight_g=grams,
        price_now=listed["list_price"] * amount, pieces_12_months=pieces, told_by=told,
    )  # fmt: skip
    return table[table["weight_g"].notna()].reset_index(drop=True), _left_out(table)


def _left_out(table: pd.DataFrame) -> tuple[Finding, ...]:
    gone = table.loc[table["weight_g"].isna(), "line"].tolist()
    if not gone:
        return ()
    text = (
        f"{len(gone)} lines of the list have no weight of a centimetre and were never sold, so their metal is not known; the first is "
        f"{gone[0]}. Fill in weight_g_per_cm."
    )
    return (Finding("warn", "line_without_weight", text, "price_list.weight_g_per_cm"),)
