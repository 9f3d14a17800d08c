"""What must be said about prices: how often they come, their gaps, and metals or days without one."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from ..errors import DataError
from ..settings import Settings
from .findings import Finding, counted
from .spot import cadence, gaps, spot_table

Tables = Mapping[str, pd.DataFrame]


def check_rates(tables: Tables, settings: Settings) -> None:
    """Raise a DataError when prices stand in a currency for which there is no rate of exchange."""
    currencies = set(tables["metal_prices"]["currency"].dropna()) - {settings.shop.currency}
    gone = sorted(currencies - set(tables["fx"]["currency"].dropna()))
    if gone:
        raise DataError(
            f"metal prices stand in {', '.join(gone)} and there is no rate of exchange", where="metal_prices", found=gone[0],
            allowed=settings.shop.currency, to_do=f"add a table fx with {gone[0]}, or give prices in {settings.shop.currency}",
        )  # fmt: skip


def price_findings(tables: Tables, settings: Settings) -> tuple[Finding, ...]:
    """Return what must be said about the prices of each metal that the shop uses."""
    said = []
    used = dict.fromkeys(metal for alloy in settings.alloys for metal in (alloy.metal, *alloy.parts))
    orders = tables["orders"]["ordered_on"].to_numpy("datetime64[D]")
    for metal in used:
        days, _ = spot_table(tables["metal_prices"], tables["fx"], metal, settings.shop.currency, settings.formats.fx.inverse)
        if not len(days):
            said.append(
                Finding("warn", "no_price", f"There is no price of {metal}, which an alloy holds. Add it to metal_prices.", "metal_prices")
            )
            continue
        said += _coverage(str(metal), days)
        early = int((orders < days[0]).sum())
        if early:
            text = (
                f"{counted(early, 'order')} placed before the first {metal} price of {days[0]}; that price stands in. Add earlier prices."
            )
            said.append(Finding("warn", "before_first_price", text, "metal_prices"))
    return tuple(said)


def _coverage(metal: str, days: np.ndarray[tuple[int], np.dtype[np.datetime64]]) -> list[Finding]:
    often, missing = cadence(days), gaps(days)
    said = []
    if often != "daily":
        text = f"Prices of {metal} are {often}; each stands until the next. A price between two of them is not seen."
        said.append(Finding("note", "price_cadence", text, "metal_prices"))
    if missing:
        text = (
            f"{counted(missing, 'working day')} without a {metal} price between {days[0]} and {days[-1]}; the last one was carried forward."
        )
        said.append(Finding("note", "price_gaps", text, "metal_prices"))
    return said
