"""Why one month's making margin differs from another's: eight causes, put in one after another, none left over.

The order of substitution is number of orders, mix, price over metal, grams lost (at the base spot), hours (at the base rate),
rate (at this month's hours), rework, and other (other costs, then the spot at which loss is valued).
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..units import cents
from .totals import ratio, total_by

Floats = NDArray[np.float64]
CAUSES = ("volume", "mix", "price", "metal_loss", "labour_rate", "labour_efficiency", "rework", "other")
COLUMNS = ("month", "compared_with", "cause", "amount")
LEAST_ORDERS = 5
"""A style in one alloy with fewer orders in either month joins its style's remainder."""
YEAR = 12


@dataclass(frozen=True)
class Cells:
    """Means of an order in each cell; margin = over_metal − lost_g × spot − hours × rate − rework − other.

    Arrays of shape (n_cells,): number of orders, price over metal, net loss in g fine, the spot it is valued at, hours of
    first work, labour cost an hour, rework labour, and all other costs, money an order.
    """

    orders: Floats
    over_metal: Floats
    lost_g: Floats
    spot: Floats
    hours: Floats
    rate: Floats
    rework: Floats
    other: Floats

    @property
    def margin(self) -> Floats:
        """Making margin of an order, money."""
        return self.over_metal - self.lost_g * self.spot - self.hours * self.rate - self.rework - self.other


def bridge(orders: pd.DataFrame, month: str, compared_with: str) -> pd.DataFrame:
    """Return what made the making margin of `month` differ from that of `compared_with`.

    Parameters
    ----------
    orders : DataFrame
        Costed orders of all months.
    month, compared_with : str
        ``YYYY-MM``.

    Returns
    -------
    DataFrame
        `COLUMNS`, one row a cause in the order of `CAUSES`. Amounts are whole cents and sum exactly to the difference of
        the two months' making margins in whole cents; the last cent is in `other`.
    """
    known = orders[orders["making_margin"].notna()]
    closed = known["delivered_on"].to_numpy("datetime64[M]")
    here, base = (closed == np.datetime64(name, "M") for name in (month, compared_with))
    cell, n_cells = cells_of(known, here, base)
    now = cell_means(known, np.where(here, cell, -1), n_cells)
    then = _base(known, cell, n_cells, base, np.datetime64(compared_with, "M"), now)
    margin = known["making_margin"].to_numpy()
    difference = cents(float(margin[here].sum())) - cents(float(margin[base].sum()))
    whole = {cause: cents(float(amount)) for cause, amount in _steps(then, now).items()}
    whole["other"] = difference - sum(amount for cause, amount in whole.items() if cause != "other")
    return pd.DataFrame({"month": month, "compared_with": compared_with, "cause": CAUSES, "amount": [whole[c] / 100 for c in CAUSES]})


def bridges(orders: pd.DataFrame, months: list[str]) -> pd.DataFrame:
    """Return the bridge of each of `months` from the month before and from the same month a year before."""
    parts = [bridge(orders, month, str(np.datetime64(month, "M") - back)) for month in months for back in (1, YEAR)]
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=list(COLUMNS))


def cells_of(orders: pd.DataFrame, here: NDArray[np.bool_], base: NDArray[np.bool_]) -> tuple[NDArray[np.int64], int]:
    """Return the cell of each order and how many there are: style × alloy, or the style's remainder where few were made."""
    style = pd.factorize(orders["style"].astype(object))[0].astype(np.int64)
    alloy = pd.factorize(orders["alloy"].astype(object).fillna(""))[0].astype(np.int64)
    pair, pairs = pd.factorize(style * (alloy.max(initial=0) + 1) + alloy)
    many = np.ones(len(pairs), dtype=bool)
    for month in (here, base):
        many &= np.bincount(pair[month], minlength=len(pairs)) >= LEAST_ORDERS
    cell, cells = pd.factorize(np.where(many[pair], len(orders) + pair, style))
    return cell.astype(np.int64), len(cells)


def cell_means(orders: pd.DataFrame, cell: NDArray[np.int64], n_cells: int) -> Cells:
    """Return the means of an order in each cell.

    Parameters
    ----------
    orders : DataFrame
        Costed orders.
    cell : ndarray(int)
        Cell of each order, −1 for those left out.
    n_cells : int
        Number of cells.
    """
    n = np.bincount(cell[cell >= 0], minlength=n_cells).astype(np.float64)

    def total(values: pd.Series) -> Floats:
        return total_by(cell, values.to_numpy(dtype=np.float64), n_cells)

    lost, weight = total(orders["net_fine_g"]), total(orders["net_fine_g"].abs())
    spot = ratio(total(orders["metal_lost"].abs()), weight)
    hours, labour = total(orders["first_hours"]), total(orders["labour"])
    rate = ratio(labour, hours)
    # What no gram or hour carries, a shared cost without hours say, is another cost: nothing may be left over.
    costs = orders[["other_metals", "stones", "findings", "outwork"]].sum(axis=1)
    other = total(costs) + (total(orders["metal_lost"]) - lost * spot) + (labour - hours * rate)
    over_metal = total(orders["price"] + orders["metal_billed"] - orders["metal_at_fix"])
    sums = (over_metal, lost, spot * n, hours, rate * n, total(orders["rework_labour"]), other)
    return Cells(n, *(ratio(values, n) for values in sums))


def _base(orders: pd.DataFrame, cell: NDArray[np.int64], n_cells: int, base: NDArray[np.bool_], month: np.datetime64, now: Cells) -> Cells:
    """Return the base means; a cell not made in the base month takes the year before it, else its own of this month."""
    closed = orders["delivered_on"].to_numpy("datetime64[M]")
    then = cell_means(orders, np.where(base, cell, -1), n_cells)
    year = cell_means(orders, np.where((closed >= month - YEAR) & (closed < month), cell, -1), n_cells)
    chosen = np.where(then.orders > 0, 0, np.where(year.orders > 0, 1, 2))
    parts = {part.name: np.choose(chosen, [getattr(cells, part.name) for cells in (then, year, now)]) for part in fields(Cells)}
    parts["orders"] = then.orders
    # Without grams lost, or hours, in the base there is no base spot, or rate; this month's stands in.
    parts["spot"] = np.where(parts["lost_g"] == 0, now.spot, parts["spot"])
    parts["rate"] = np.where(parts["hours"] == 0, now.rate, parts["rate"])
    return Cells(**parts)


def _steps(then: Cells, now: Cells) -> dict[str, float]:
    """Return the amount of each cause, money; worked by hand in the tests."""
    n1, total1, total0 = now.orders, now.orders.sum(), then.orders.sum()
    spot1 = np.where(now.lost_g == 0, then.spot, now.spot)
    rate1 = np.where(now.hours == 0, then.rate, now.rate)
    base_margin = float((then.orders * then.margin).sum())
    share0 = then.orders / total0 if total0 else np.zeros_like(then.orders)
    return {
        "volume": (total1 - total0) * base_margin / total0 if total0 else 0.0,
        "mix": float(((n1 - total1 * share0) * then.margin).sum()),
        "price": float((n1 * (now.over_metal - then.over_metal)).sum()),
        "metal_loss": -float((n1 * (now.lost_g - then.lost_g) * then.spot).sum()),
        "labour_rate": -float((n1 * now.hours * (rate1 - then.rate)).sum()),
        "labour_efficiency": -float((n1 * (now.hours - then.hours) * then.rate).sum()),
        "rework": -float((n1 * (now.rework - then.rework)).sum()),
        "other": -float((n1 * (now.other - then.other)).sum()) - float((n1 * now.lost_g * (spot1 - then.spot)).sum()),
    }
