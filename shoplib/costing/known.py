"""The shop as it was known on a day: rows dated later do not exist yet, orders delivered later are still open."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..intake.shop import Finding, Shop

_DATE_OF = {
    "metal_prices": "date", "fx": "date", "metal_ledger": "date", "metal_book": "to", "absences": "from", "holds": "from",
    "quotes": "quoted_on", "payments": "date", "price_list": "struck_on",
}


def known(shop: Shop, as_of: date) -> Shop:
    """Return the shop with the rows that existed on `as_of`.

    A row exists from its own date: labour from its finish, an order from ordered_on, its finished weight and delivery
    from delivered_on, a month's overheads from the first day of the month, a metal book from its last day. Ends that lie
    later are cut to `as_of`. A finding counts what was left out.
    """
    day = np.datetime64(as_of, "D")
    tables = {name: _until(shop[name], column, day) for name, column in _DATE_OF.items()}
    absences = tables["absences"]
    tables["absences"] = absences.assign(to=np.minimum(absences["to"].to_numpy("datetime64[D]"), day).astype("datetime64[s]"))
    tables["holds"] = _cut(tables["holds"], "to", day)
    tables["labour"] = _rows(shop["labour"], labour_days(shop["labour"]) <= day)
    tables["orders"] = _orders(shop["orders"], day)
    tables["overheads"] = _overheads(shop["overheads"], day)
    left_out = sum(len(shop[name]) - len(tables[name]) for name in tables)
    note = Finding("note", "later_rows", f"{left_out} rows dated after {as_of.isoformat()} are left out.")
    findings = (*shop.findings, note) if left_out else shop.findings
    return replace(shop, tables={**shop.tables, **tables}, findings=findings)


def labour_days(labour: pd.DataFrame) -> NDArray[np.datetime64]:
    """Return the day from which each labour row exists: that of its finish, else its date, else its start."""
    finish, day, start = (labour[name].to_numpy("datetime64[D]") for name in ("finish", "date", "start"))
    return np.where(~np.isnat(finish), finish, np.where(~np.isnat(day), day, start))


def _rows(table: pd.DataFrame, keep: NDArray[np.bool_]) -> pd.DataFrame:
    return table if keep.all() else table[keep].reset_index(drop=True)


def _until(table: pd.DataFrame, column: str, day: np.datetime64) -> pd.DataFrame:
    return _rows(table, table[column].to_numpy("datetime64[D]") <= day)


def _cut(table: pd.DataFrame, column: str, day: np.datetime64) -> pd.DataFrame:
    return table.assign(**{column: table[column].mask(table[column].to_numpy("datetime64[D]") > day)})


def _orders(orders: pd.DataFrame, day: np.datetime64) -> pd.DataFrame:
    orders = _cut(_cut(_until(orders, "ordered_on", day), "delivered_on", day), "cancelled_on", day)
    both = orders["delivered_on"].notna() & orders["cancelled_on"].notna()
    weight = orders["finished_weight_g"].where(orders["delivered_on"].notna())
    return orders.assign(finished_weight_g=weight, cancelled_on=orders["cancelled_on"].mask(both))


def _overheads(overheads: pd.DataFrame, day: np.datetime64) -> pd.DataFrame:
    first = overheads["month"].fillna(overheads["month_from"]).to_numpy("datetime64[D]")
    return _rows(overheads, first <= day)
