"""Doubts about orders, quotes, holds, payments and the price list."""

from __future__ import annotations

from collections.abc import Container, Mapping
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..findings import Flag
from .base import Book, flag

MOST_OVER_QUOTE = 1.03
"""Finished weight over the quoted one from which it is doubted; common practice, no source."""


def order_doubts(orders: Book) -> list[Flag]:
    """Return the doubts about orders that their own row tells."""
    return [*_dates(orders), *_against_quote(orders), *_weights(orders), *_money(orders)]


def _dates(orders: Book) -> list[Flag]:
    frame, ordered, delivered, cancelled = orders.frame, *(orders.days(name) for name in ("ordered_on", "delivered_on", "cancelled_on"))
    flags = [
        flag(
            frame,
            delivered < ordered,
            "delivered_on",
            "delivered_before_ordered",
            "delivered before it was ordered",
            "correct one of the two dates",
        ),
        flag(
            frame,
            cancelled < ordered,
            "cancelled_on",
            "cancelled_before_ordered",
            "called off before it was ordered",
            "correct one of the two dates",
        ),
        flag(
            frame,
            ~np.isnat(delivered) & ~np.isnat(cancelled),
            "cancelled_on",
            "delivered_and_cancelled",
            "delivered and called off",
            "blank one of the two dates",
        ),
    ]
    for name in ("first_promised_on", "promised_on"):
        what = "promised for a day before it was ordered"
        flags.append(flag(frame, orders.days(name) < ordered, name, "promised_before_ordered", what, "correct one of the two dates"))
    return flags


def _against_quote(orders: Book) -> list[Flag]:
    """Compare the finished weight with the quoted one."""
    with np.errstate(invalid="ignore"):
        ratio = orders.numbers("finished_weight_g") / orders.numbers("quoted_weight_g")
    cases = (
        (ratio > 2, "weight_over_twice", "finished weight over twice the quoted one", "weigh or look up again"),
        (ratio < 0.5, "weight_under_half", "finished weight under half the quoted one", "weigh or look up again"),
        (
            (ratio > MOST_OVER_QUOTE + 1e-9) & (ratio <= 2),
            "weight_over_quote",
            "finished weight more than 3 % over the quoted one",
            "if right, the metal was given away; else correct it",
        ),
    )
    return [flag(orders.frame, where, "finished_weight_g", code, what, to_do) for where, code, what, to_do in cases]


def _weights(orders: Book) -> list[Flag]:
    """Find deliveries without a weight, and pieces whose stones outweigh them."""
    frame, quoted, finished = orders.frame, orders.numbers("quoted_weight_g"), orders.numbers("finished_weight_g")
    made = frame["kind"].isin(("order", "stock")).to_numpy()
    lacking = ~np.isnat(orders.days("delivered_on")) & made & np.isnan(finished)
    with np.errstate(invalid="ignore"):
        hollow = orders.numbers("not_metal_g") + orders.numbers("findings_g") > np.where(np.isnan(finished), quoted, finished)
    no_weight = "delivered without a finished weight; the quoted one stands in"
    no_metal = "stones and findings weigh more than the whole piece"
    return [
        flag(frame, lacking, "finished_weight_g", "delivered_without_weight", no_weight, "weigh each piece at delivery"),
        flag(frame, hollow, "not_metal_g", "no_metal_left", no_metal, "correct one of the weights"),
    ]


def _money(orders: Book) -> list[Flag]:
    frame, price = orders.frame, orders.numbers("price")
    made = (frame["kind"] == "order").to_numpy()
    fixed = made & (frame["metal_terms"] == "fixed").to_numpy()
    return [
        flag(frame, made & (price == 0), "price", "price_zero", "an order without a price", "fill the price; a guarantee is its own kind"),
        flag(
            frame,
            fixed & (orders.numbers("deposit") > price),
            "deposit",
            "deposit_over_price",
            "the deposit is more than the price",
            "correct one of the two",
        ),
    ]


def order_links(book: Book, place: NDArray[np.intp], rows: Mapping[str, int], refused: frozenset[str]) -> list[Flag]:
    """Return the rows of `book` whose order is in no accepted row of orders.

    Parameters
    ----------
    book : Book
        The table.
    place : ndarray of int
        What `places` says of its orders.
    rows : mapping of str to int
        The row of each order.
    refused : frozenset of str
        Orders whose own row was rejected.
    """
    words, strange = book.words("order_id"), place < 0
    strange[strange] = [not _all_among(word, rows) for word in words.values[strange].tolist()]
    if not strange.any():
        return []
    lost = strange.copy()
    lost[strange] = [_all_among(word, rows, refused) for word in words.values[strange].tolist()]
    frame, unmet = book.frame, words.spread(strange & ~lost)
    return [
        flag(frame, unmet, "order_id", "unknown_order", "no such order in orders", "correct the number, or enter the order"),
        flag(frame, words.spread(lost), "order_id", "order_rejected", "the row of this order was rejected", "mend the order's own row"),
    ]


def _all_among(word: Any, *known: Container[str]) -> bool:
    """Tell whether each order of a cell, parted by semicolons, is in one of `known`; a blank cell names none."""
    return word is None or all(any(part in one for one in known) for part in str(word).split("; "))


def quote_doubts(quotes: Book) -> list[Flag]:
    """Return the doubts about quotes."""
    frame, won = quotes.frame, quotes.numbers("won")
    named = frame["order_id"].notna().to_numpy()
    return [
        flag(frame, (won == 0) & named, "order_id", "lost_with_order", "lost, and yet an order is named", "correct won, or blank the order")
    ]


def repeated_rows(frame: pd.DataFrame, columns: list[str]) -> Flag:
    """Return the rows that repeat an earlier one in `columns`; they are kept."""
    again = frame.duplicated(columns).to_numpy()
    return flag(
        frame, again, columns[0], "repeated_row", "the same as an earlier row in every column; kept", "delete it if it was entered twice"
    )
