"""The last day that counts, and the shop as it was known on a day."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from .findings import Finding, counted
from .shop import Shop

LONGEST_GAP_DAYS = 31
"""A day further than this from the day before it with entries is taken for a typing error."""

Days = NDArray[np.datetime64]


def as_of(shop: Shop) -> date:
    """Return the last day that counts.

    The last day on which two people, or three entries, stand in labour, not more than 31 days after the day before it
    with entries; without labour the last day with a delivery, else with an order, by the same rule on gaps.
    """
    labour = shop["labour"]
    days = labour["date"].to_numpy("datetime64[D]")
    if len(days):
        told = (
            pd.DataFrame({"day": days.astype("datetime64[s]"), "worker": labour["worker"]})
            .groupby("day")["worker"]
            .agg(["size", "nunique"])
        )
        busy = ((told["nunique"] >= 2) | (told["size"] >= 3)).to_numpy()
        return _last(told.index.to_numpy("datetime64[D]"), busy if busy.any() else np.ones(len(told), dtype=np.bool_))
    for column in ("delivered_on", "ordered_on"):
        known = np.unique(shop["orders"][column].dropna().to_numpy("datetime64[D]"))
        if len(known):
            return _last(known, np.ones(len(known), dtype=np.bool_))
    return date.min


def _last(days: Days, counts: NDArray[np.bool_]) -> date:
    """Return the last of sorted `days` that counts and follows the day before it closely."""
    near = np.append(True, np.diff(days).astype(np.int64) <= LONGEST_GAP_DAYS)
    fit = np.flatnonzero(counts & near)
    last: date = days[fit[-1] if len(fit) else 0].astype(object)
    return last


def until(shop: Shop, day: date) -> Shop:
    """Return the shop as it was known in the evening of `day`.

    A row exists from its own date: labour from its finish, orders from ordered_on, a finished weight from delivered_on;
    what was delivered, called off or ended later is still open. Before the shop's own as-of date, the first promise
    stands for the present one, a quote's answer is known when its order was placed or its validity had run out, and
    absences to come are unknown. The rows left out are counted in the findings.
    """
    end = np.datetime64(day, "D")
    past = day < as_of(shop)
    tables = {name: _known(name, frame, end, shop, past) for name, frame in shop.tables.items()}
    out = {name: len(shop.tables[name]) - len(frame) for name, frame in tables.items()}
    said = tuple(
        Finding("note", "rows_after", f"{counted(count, 'row')} of {name} dated after {day.isoformat()} left out.", name)
        for name, count in out.items()
        if count
    )
    name = hashlib.sha256(f"{shop.fingerprint} until {day.isoformat()}".encode()).hexdigest()
    return replace(shop, tables=tables, findings=shop.findings + said, fingerprint=name)


_OWN_DATE = {
    "orders": "ordered_on", "metal_prices": "date", "fx": "date", "metal_ledger": "date", "metal_book": "to", "holds": "from",
    "quotes": "quoted_on", "payments": "date", "price_list": "struck_on",
}  # fmt: skip


def _known(name: str, frame: pd.DataFrame, end: np.datetime64, shop: Shop, past: bool) -> pd.DataFrame:
    keep = _exists(name, frame, end, past)
    known = frame if keep.all() else frame[keep].reset_index(drop=True)
    if name == "orders":
        return _orders(known, end, past)
    if name == "holds":
        return _blanked(known, known["to"], end, ["to"])
    if name == "absences":
        return _cut_short(known, end)
    return _quotes(known, end, shop) if name == "quotes" and past and len(known) else known


def _exists(name: str, frame: pd.DataFrame, end: np.datetime64, past: bool) -> NDArray[np.bool_]:
    if name == "labour":
        own = frame["finish"].fillna(frame["date"]).to_numpy("datetime64[D]")
    elif name == "overheads":
        own = frame["month"].fillna(frame["month_from"]).to_numpy("datetime64[D]")
    elif name == "absences":
        planned = frame["planned"].to_numpy(np.bool_) & (not past)
        return (frame["from"].to_numpy("datetime64[D]") <= end) | planned
    else:
        own = frame[_OWN_DATE[name]].to_numpy("datetime64[D]")
    return ~(own > end)


def _later(days: pd.Series, end: np.datetime64) -> NDArray[np.bool_]:
    return days.to_numpy("datetime64[D]") > end


def _blanked(frame: pd.DataFrame, days: pd.Series, end: np.datetime64, columns: list[str]) -> pd.DataFrame:
    """Return `frame` with `columns` blank in the rows whose `days` lie after `end`."""
    later = _later(days, end)
    return frame.assign(**{name: frame[name].mask(later) for name in columns}) if later.any() else frame


def _orders(orders: pd.DataFrame, end: np.datetime64, past: bool) -> pd.DataFrame:
    known = _blanked(orders, orders["delivered_on"], end, ["finished_weight_g", "delivered_on"])
    known = _blanked(known, known["cancelled_on"], end, ["cancelled_on"])
    if not past:
        return known
    standing = known["delivered_on"].isna() & known["first_promised_on"].notna()
    return known.assign(promised_on=known["promised_on"].mask(standing, known["first_promised_on"]))


def _cut_short(absences: pd.DataFrame, end: np.datetime64) -> pd.DataFrame:
    later = _later(absences["to"], end) & ~absences["planned"].to_numpy(np.bool_)
    return absences.assign(to=absences["to"].mask(later, pd.Timestamp(end))) if later.any() else absences


def _quotes(quotes: pd.DataFrame, end: np.datetime64, shop: Shop) -> pd.DataFrame:
    placed = quotes["order_id"].map(shop["orders"].set_index("order_id")["ordered_on"]).to_numpy("datetime64[D]")
    run_out = quotes["quoted_on"].to_numpy("datetime64[D]") + np.timedelta64(shop.settings.policy.quote_valid_days, "D")
    open_still = np.where(np.isnat(placed), run_out, placed) > end
    return quotes.assign(won=quotes["won"].mask(open_still), order_id=quotes["order_id"].mask(open_still))
