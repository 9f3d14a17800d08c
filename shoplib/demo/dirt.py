"""A little dirt, as it is found in real sheets: other spellings, slips of the pen, rows that cannot be right.

Rows are spoilt while they are written; nearly all that must be refused is an extra row, so that the metal still balances.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from .book import Book
from .catalogue import ALLOYS, STYLES
from .tables import HEADINGS

Cells = dict[str, str]
HOSTILE_IDS = ("<img src=x onerror=alert(1)>", "A</script><b>7")
"""An order id that looks like HTML must come out as text: one of an order delivered lately, one of an open one."""
OTHER_STYLE_EVERY, OTHER_ALLOY_EVERY = 37, 53


@dataclass(frozen=True)
class Slip:
    """One slip: at the first row from `share` of the table on that `fits`, `change` the cells; `extra` writes it as a further row."""

    share: float
    change: Callable[[Cells], Cells]
    fits: Callable[[Cells], bool] = lambda cells: True
    extra: bool = False


def put(**cells: str) -> Callable[[Cells], Cells]:
    """Return a change that overwrites cells."""
    return lambda row: {**row, **cells}


def _plain(row: Cells) -> bool:
    return bool(row["start"]) and row["stage"] in ("roll", "coil") and not row["weight_in_g"] and ";" not in row["order_id"]


def _weighed_roll(row: Cells) -> bool:
    return row["stage"] == "roll" and bool(row["weight_in_g"] and row["weight_out_g"])


def _day_only(row: Cells) -> bool:
    return bool(row["order_id"]) and not row["start"] and row["stage"] == "finish"


def _repair(row: Cells) -> bool:
    return row["kind"] == "repair" and bool(row["delivered_on"])


SLIPS: dict[str, tuple[Slip, ...]] = {
    "orders": (
        Slip(0.12, lambda row: row, lambda row: bool(row["delivered_on"]), extra=True),
        Slip(0.22, put(order_id="B0001", ordered_on="1926-03-11"), extra=True),
        Slip(0.31, put(order_id="B0002", style=""), extra=True),
        Slip(0.35, lambda row: {**row, "quoted_weight_g": row["quoted_weight_g"] + " g"}, lambda row: row["kind"] == "order"),
        Slip(0.41, put(order_id="B0003", price="on request"), extra=True),
        Slip(0.52, lambda row: {**row, "delivered_on": row["ordered_on"], "ordered_on": row["delivered_on"]}, _repair),
        Slip(0.63, lambda row: {**row, "price": row["price"] + " EUR"}, lambda row: row["kind"] == "order"),
        Slip(0.84, put(order_id="B0004", quoted_weight_g="", finished_weight_g=""), lambda row: row["kind"] == "order", extra=True),
    ),
    "labour": (
        Slip(0.10, put(order_id="A77777"), extra=True),
        Slip(0.20, put(worker=""), _plain, extra=True),
        Slip(0.25, put(hours="1.5.2"), _plain, extra=True),
        Slip(0.30, put(date="1900-01-00", start="", finish=""), _plain, extra=True),
        Slip(0.40, lambda row: {**row, "hours": row["hours"] + " h"}, _plain),
        Slip(0.45, lambda row: {**row, "hours": row["hours"].replace(".", ",")}, _plain),
        Slip(0.50, lambda row: row, _plain, extra=True),
        Slip(0.60, put(hours="16.5"), _day_only),
        Slip(0.70, lambda row: {**row, "weight_out_g": f"{float(row['weight_in_g']) + 0.4:.2f}"}, _weighed_roll),
        Slip(0.80, put(stage=""), _plain),
        Slip(0.90, lambda row: {**row, "hours": f"{float(row['hours']) + 9:.2f}", "finish": row["finish"]}, _plain, extra=True),
    ),
    "metal_prices": (Slip(0.37, put(price="n/a"), extra=True),),
    "quotes": (
        Slip(0.45, put(quote_id="Q-new", price="0"), extra=True),
        Slip(0.55, put(quote_id="Q-lost", quoted_on="31.02.2025"), extra=True),
    ),
    "payments": (Slip(0.60, put(order_id="A77777"), extra=True),),
    "absences": (Slip(0.50, lambda row: {**row, "from": row["to"], "to": "2023-01-09"}, extra=True),),
}


def hostile_ids(book: Book) -> list[str]:
    """Return the ids of the orders with two that look like HTML, where the shop has such orders."""
    ids = list(book.ids)
    shared = {order for melt in book.shop.cards.melts for order in melt}
    chains = [o for o in book.shop.orders if o.kind == "order" and o.terms == "fixed" and o.cancelled < 0 and o.number not in shared]
    days = book.world.days
    lately = [o for o in chains if days - 60 <= o.delivered < days]
    still_open = [o for o in chains if o.delivered < 0 and 0 <= o.first_work < days]
    for found, name in zip((lately, still_open), HOSTILE_IDS, strict=True):
        if found:
            ids[found[len(found) // 2].number] = name
    return ids


def soil(name: str, rows: Iterator[list[str]], length: int) -> Iterator[list[str]]:
    """Yield the rows of a table of about `length` rows with its slips among them."""
    waiting = list(SLIPS.get(name, ()))
    for place, cells in enumerate(rows):
        row = dict(zip(HEADINGS[name], cells, strict=True))
        slip = waiting[0] if waiting and place >= waiting[0].share * length and waiting[0].fits(row) else None
        spoilt = _other_spelling(name, place, row)
        if slip:
            waiting.pop(0)
            if slip.extra:
                yield list(spoilt.values())
            spoilt = slip.change(spoilt)
        yield list(spoilt.values())


def _other_spelling(name: str, place: int, row: Cells) -> Cells:
    """Now and then a style or an alloy is written otherwise."""
    if name != "orders":
        return row
    if place % OTHER_STYLE_EVERY == 5:
        ways = next(style.spellings for style in STYLES if style.name == row["style"])
        return {**row, "style": ways[place % len(ways)]}
    if place % OTHER_ALLOY_EVERY == 7 and row["alloy"]:
        ways = next(alloy.spellings for alloy in ALLOYS if alloy.code == row["alloy"])
        return {**row, "alloy": ways[place % len(ways)]}
    return row
