"""The tables of the invented workshop as rows of text, one generator a table; orders and job cards have pages of their own."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from .book import Book, Cells, number
from .catalogue import ALLOYS, STYLES
from .labour_rows import LABOUR_COLUMNS, labour
from .order_rows import ORDER_COLUMNS, orders, payments
from .pieces import grams_per_cm, list_making

LIST_STRUCK_ON = date(2026, 6, 1)
OVERHEADS = (
    ("rent", 3100),
    ("insurance", 980),
    ("power and gas", 640),
    ("office and telephone", 720),
    ("tools and upkeep", 1150),
    ("hallmarking and assay", 890),
    ("bookkeeper", 950),
    ("counter and sales", 4700),
)


def metal_prices(book: Book) -> Iterator[Cells]:
    """Rows of metal_prices: published in dollars a troy ounce."""
    for place, day in enumerate(book.spot.days):
        for metal in ("gold", "palladium"):
            yield [str(day), metal, number(book.spot.in_dollars(place, metal)), "USD", "ozt"]


def fx(book: Book) -> Iterator[Cells]:
    """Rows of fx."""
    for day, rate in zip(book.spot.days, book.spot.dollar, strict=True):
        yield [str(day), "USD", number(rate, 5)]


def metal_ledger(book: Book) -> Iterator[Cells]:
    """Rows of metal_ledger."""
    for row in book.ledger:
        yield [
            str(row.day),
            row.kind,
            row.metal,
            number(row.gross_g),
            number(row.fineness, 1),
            number(row.cost),
            row.lot,
            book.ids[row.order] if row.order >= 0 else "",
            str(row.due_on) if row.due_on else "",
        ]


def absences(book: Book) -> Iterator[Cells]:
    """Rows of absences up to the last day, and what is already planned after it."""
    for away in book.rota.absences:
        if away.first <= book.world.last_day:
            yield [away.worker, str(away.first), str(away.last), "y" if away.planned else "n", "y" if away.paid else "n"]


def holds(book: Book) -> Iterator[Cells]:
    """Rows of holds; one that still lasts has no end."""
    for order, first, last, why in book.shop.holds:
        if first < book.world.days:
            yield [book.ids[order], str(book.world.day(first)), str(book.world.day(last)) if last < book.world.days else "", why]


def overheads(book: Book) -> Iterator[Cells]:
    """Rows of overheads: what recurs each year at its level, and a few single bills."""
    for year in range(book.world.first_day.year, book.world.last_day.year + 1):
        first = max(date(year, 1, 1), book.world.first_day)
        last = min(date(year, 12, 1), book.world.last_day.replace(day=1))
        for item, amount in OVERHEADS:
            yield ["", f"{first:%Y-%m}", f"{last:%Y-%m}", item, number(round(amount * 1.03 ** (year - 2026), 0))]
        for month, item, cost in ((3, "rolling mill overhaul", 1900), (9, "trade fair", 2400), (11, "tax adviser, year end", 1600)):
            if first <= date(year, month, 1) <= last:
                yield [f"{year}-{month:02d}", "", "", item, number(cost)]


def quotes(book: Book) -> Iterator[Cells]:
    """Rows of quotes."""
    for place, quote in enumerate(book.customers.quotes):
        won = {True: "y", False: "n", None: ""}[quote.won]
        yield [
            f"Q{place + 1:05d}",
            str(book.world.day(quote.day)),
            STYLES[quote.piece.style].name,
            ALLOYS[quote.piece.alloy].code,
            number(quote.piece.weight_g),
            number(quote.price),
            number(quote.weeks),
            won,
            book.ids[quote.order] if quote.order >= 0 else "",
        ]


def price_list(book: Book) -> Iterator[Cells]:
    """Rows of price_list: struck once for a usual piece of 50 cm; curb by the gram, the others by the centimetre."""
    struck = max(LIST_STRUCK_ON, book.world.first_day)
    for style, shape in enumerate(STYLES):
        for alloy, metal in enumerate(ALLOYS):
            for width, width_mm in enumerate(shape.widths_mm):
                per_cm = grams_per_cm(style, alloy, width) * book.world.shrink
                grams = 50 * per_cm
                fine = grams * metal.fineness / 1000 * book.spot.on(struck) * 1.012
                palladium = grams * metal.palladium / 1000 * book.spot.on(struck, "palladium") * 1.06
                price = fine + palladium + list_making(book.world, style, alloy, grams, struck)
                by_g = shape.name == "curb"
                yield [
                    shape.name,
                    metal.code,
                    number(width_mm),
                    number(per_cm, 3),
                    "" if by_g else number(price / 50),
                    number(price / grams) if by_g else "",
                    str(struck),
                ]


HEADINGS = {
    "orders": ORDER_COLUMNS,
    "labour": LABOUR_COLUMNS,
    "metal_prices": ("date", "metal", "price", "currency", "per"),
    "fx": ("date", "currency", "rate"),
    "metal_ledger": ("date", "kind", "metal", "gross_g", "fineness", "cost", "lot", "order_id", "due_on"),
    "absences": ("worker", "from", "to", "planned", "paid"),
    "holds": ("order_id", "from", "to", "why"),
    "overheads": ("month", "month_from", "month_to", "item", "amount"),
    "quotes": ("quote_id", "quoted_on", "style", "alloy", "weight_g", "price", "lead_weeks", "won", "order_id"),
    "payments": ("order_id", "date", "amount"),
    "price_list": ("style", "alloy", "width_mm", "weight_g_per_cm", "price_per_cm", "price_per_g", "struck_on"),
}
WRITERS = {
    "orders": orders,
    "labour": labour,
    "metal_prices": metal_prices,
    "fx": fx,
    "metal_ledger": metal_ledger,
    "absences": absences,
    "holds": holds,
    "overheads": overheads,
    "quotes": quotes,
    "payments": payments,
    "price_list": price_list,
}
