"""Doubts about prices, rates of exchange, the metal ledger, the metal book and overheads."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...settings import Settings
from ...units import FINEST, METALS
from ..findings import Flag
from ..spot import spot_on_days
from .base import Book, Mask, flag

MOST_JUMP = 0.2
WAGES = re.compile(
    r"\b(?:wages?|salar(?:y|ies)|payroll|(?:löhne?|lohn|loehne)\w*|geh(?:alt|älter|aelter)\w*|salaires?|stipend[io]|sueldos?|nóminas?)\b",
    re.IGNORECASE,
)
"""Overhead items that sound like bench wages."""


def jumps(days: NDArray[np.datetime64], values: NDArray[np.float64]) -> Mask:
    """Tell which of a series lies more than 20 % off the value before it; a return to what stood before does not count."""
    odd = np.zeros(len(values), dtype=np.bool_)
    order = np.argsort(days, kind="stable")
    sorted_values = values[order]
    off = np.abs(sorted_values[1:] / sorted_values[:-1] - 1) > MOST_JUMP
    for i in (np.flatnonzero(off) + 1).tolist():
        back = i > 1 and odd[order[i - 1]] and abs(sorted_values[i] / sorted_values[i - 2] - 1) <= MOST_JUMP
        odd[order[i]] = not back
    return odd


def price_doubts(prices: Book) -> list[Flag]:
    """Return the doubts about metal prices: jumps, and two prices for one day."""
    frame = prices.frame
    odd = np.zeros(len(frame), dtype=np.bool_)
    for _, rows in frame.groupby(["metal", "currency", "per"], sort=False).indices.items():
        odd[rows] = jumps(prices.days("date")[rows], prices.numbers("price")[rows])
    again = frame.duplicated(["date", "metal", "currency"]).to_numpy()
    return [
        flag(
            frame,
            odd,
            "price",
            "spot_jump",
            "more than 20 % off the price before it",
            "look the price up again; check its unit and currency",
        ),
        flag(frame, again, "date", "second_price", "a second price for the same day; the last one stands", "delete one of the two"),
    ]


def fx_doubts(fx: Book) -> list[Flag]:
    """Return the doubts about rates of exchange: jumps."""
    frame = fx.frame
    odd = np.zeros(len(frame), dtype=np.bool_)
    for _, rows in frame.groupby("currency", sort=False).indices.items():
        odd[rows] = jumps(fx.days("date")[rows], fx.numbers("rate")[rows])
    return [flag(frame, odd, "rate", "rate_jump", "more than 20 % off the rate before it", "look the rate up again")]


def square_of_the_rate(books: dict[str, Book], settings: Settings) -> list[Flag]:
    """Doubt a table of rates that seems to quote the other way round.

    Gold converted with such a table is off by the square of the rate. What the shop itself paid, or struck with
    customers, tells: the doubt is raised when that lies nearer to the converted price times or divided by the square.
    """
    fx = books["fx"].frame
    paid = _paid_over_spot(books, settings)
    prices = books["metal_prices"].frame
    flags = []
    for code in pd.unique(prices["currency"][(prices["currency"] != settings.shop.currency).to_numpy()]):
        rows = np.flatnonzero((fx["currency"] == code).to_numpy())
        square = abs(2 * np.log(float(fx["rate"].iloc[rows].median()))) if len(rows) else 0.0
        if square > 0.05 and len(paid) >= 3 and abs(abs(float(np.median(paid))) - square) < abs(float(np.median(paid))):
            what = f"metal priced in {code} comes out off by the square of this rate against what the shop paid"
            flags.append(
                flag(
                    fx,
                    rows[:1],
                    "rate",
                    "rate_inverse",
                    what,
                    "if the table quotes the other way round, say inverse = true under [formats.fx]",
                )
            )
    return flags


def _paid_over_spot(books: dict[str, Book], settings: Settings) -> NDArray[np.float64]:
    """Return the logarithm of the gold price paid or struck over the converted spot of the day, one each."""
    orders, ledger = books["orders"].frame, books["metal_ledger"].frame
    gold = {alloy.code for alloy in settings.alloys if alloy.metal == "gold"}
    struck = orders[(orders["fixed_price_per_g"].notna() & orders["alloy"].isin(gold)).to_numpy()]
    bought = ledger[
        ((ledger["kind"] == "bought") & (ledger["metal"] == "gold") & (ledger["cost"] > 0) & (ledger["gross_g"] > 0)).to_numpy()
    ]
    days = pd.concat([struck["fixed_on"].fillna(struck["ordered_on"]), bought["date"]]).to_numpy("datetime64[D]")
    per_g = bought["cost"] / bought["gross_g"] / (bought["fineness"].fillna(FINEST) / 1000)
    paid = np.concatenate([struck["fixed_price_per_g"].to_numpy(np.float64), per_g.to_numpy(np.float64)])
    with np.errstate(invalid="ignore", divide="ignore"):
        over = np.log(paid / spot_on_days(books["metal_prices"].frame, books["fx"].frame, "gold", settings, days))
    return over[np.isfinite(over)]


def ledger_doubts(ledger: Book, books: dict[str, Book], settings: Settings) -> list[Flag]:
    """Return the doubts about the ledger: purchases far off spot, and returns of a lot that was never sent."""
    frame = ledger.frame
    kind, lot = frame["kind"], frame["lot"]
    sent = set(lot[kind.isin(("refining_sent", "filings_sent")).to_numpy()].dropna())
    back = (kind == "refined_back").to_numpy()
    strange = back & lot.notna().to_numpy() & ~lot.isin(sent).to_numpy()
    return [
        flag(
            frame,
            back & lot.isna().to_numpy(),
            "lot",
            "no_lot",
            "came back from the refiner without the number of its lot",
            "write the lot",
        ),
        flag(frame, strange, "lot", "unknown_lot", "no such lot was sent", "correct the lot, or enter when it was sent"),
        flag(
            frame,
            (kind == "bought").to_numpy() & ~(ledger.numbers("cost") > 0),
            "cost",
            "bought_without_cost",
            "metal bought without its cost",
            "write what it cost",
        ),
        _off_spot(ledger, books, settings),
    ]


def _off_spot(ledger: Book, books: dict[str, Book], settings: Settings) -> Flag:
    frame = ledger.frame
    fineness = {alloy.code: alloy.fineness for alloy in settings.alloys} | dict.fromkeys(METALS, FINEST)
    metal = {alloy.code: str(alloy.metal) for alloy in settings.alloys} | {name: name for name in METALS}
    fine = ledger.numbers("gross_g") * frame["fineness"].fillna(frame["metal"].map(fineness)).to_numpy(np.float64) / 1000
    spot = np.full(len(frame), np.nan)
    for name in METALS:
        here = (frame["metal"].map(metal) == name).to_numpy()
        spot[here] = spot_on_days(books["metal_prices"].frame, books["fx"].frame, name, settings, ledger.days("date")[here])
    with np.errstate(invalid="ignore", divide="ignore"):
        off = np.abs(ledger.numbers("cost") / fine / spot - 1) > MOST_JUMP
    trade = frame["kind"].isin(("bought", "sold")).to_numpy() & (ledger.numbers("cost") > 0)
    return flag(
        frame, off & trade, "cost", "cost_off_spot", "more than 20 % off spot of the day a gram fine", "check weight, fineness and cost"
    )


def metal_book_doubts(metal_book: Book, settings: Settings) -> list[Flag]:
    """Return the periods in which more came back than was given out."""
    back = sum(metal_book.numbers(name) for name in ("work_back_g", "scrap_back_g", "filings_back_g"))
    more = np.asarray(back > metal_book.numbers("given_g") + settings.policy.scale_readability_g * 4)
    return [flag(metal_book.frame, more, "work_back_g", "more_back_than_given", "more came back than was given out", "check the weights")]


def overhead_doubts(overheads: Book) -> list[Flag]:
    """Return the overheads that are named like bench wages."""
    named = overheads.frame["item"].map(lambda item: bool(WAGES.search(str(item)))).to_numpy(np.bool_)
    what = "named like wages; bench wages are costed by the hour and do not belong here"
    return [flag(overheads.frame, named, "item", "wages_in_overheads", what, "take it out, or name it plainly if it is not bench pay")]
