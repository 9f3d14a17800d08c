"""Rows of orders and payments, and the money in them."""

from __future__ import annotations

from collections.abc import Iterator
from random import Random

from .book import Book, Cells, number
from .catalogue import ALLOYS, STYLES
from .market import Quote
from .order import Order

KEPT_OF_WORK_BEGUN = 0.25
"""Share of the deposit kept when an order is called off after work on it began."""

ORDER_COLUMNS = (
    "order_id",
    "ordered_on",
    "style",
    "alloy",
    "price",
    "kind",
    "length_cm",
    "width_mm",
    "quoted_weight_g",
    "finished_weight_g",
    "not_metal_g",
    "findings_g",
    "metal_terms",
    "fixed_on",
    "fixed_price_per_g",
    "settled_by",
    "deposit",
    "stones_cost",
    "outwork_cost",
    "findings_cost",
    "first_promised_on",
    "promised_on",
    "rush",
    "delivered_on",
    "cancelled_on",
    "customer_type",
)


def orders(book: Book) -> Iterator[Cells]:
    """Rows of orders."""
    luck = Random(f"{book.world.seed} orders")
    for order in book.shop.orders:
        yield _order(book, order, luck)


def _order(book: Book, order: Order, luck: Random) -> Cells:
    world, piece = book.world, order.piece
    delivered = order.delivered if 0 <= order.delivered < world.days else -1
    weighed = order.of_metal and delivered >= 0
    chain = order.of_metal
    return [
        book.ids[order.number],
        str(world.day(order.ordered)),
        STYLES[piece.style].name,
        ALLOYS[piece.alloy].code if chain else "",
        number(_price(book, order)),
        order.kind,
        number(piece.length_cm) if chain else "",
        number(STYLES[piece.style].widths_mm[piece.width]) if chain else "",
        number(piece.weight_g) if chain else "",
        number(order.finished_g, world.digits) if weighed else "",
        number(piece.stones_g, 3) if chain and piece.stones_g else "",
        number(piece.findings_g, 3) if chain and piece.findings_g else "",
        order.terms,
        *_fixed(book, order, luck),
        "weight" if order.by_weight else "piece",
        number(deposit(book, order)),
        number(piece.stones_cost) if chain and piece.stones_cost else "",
        number(piece.outwork_cost) if chain and piece.outwork_cost else "",
        number(piece.findings_cost) if chain and piece.findings_cost else "",
        str(world.day(order.promise)),
        str(world.day(_promise_now(book, order, luck))),
        "y" if order.rush else "n",
        str(world.day(delivered)) if delivered >= 0 else "",
        str(world.day(order.cancelled)) if order.cancelled >= 0 else "",
        order.customer_type,
    ]


def _price(book: Book, order: Order) -> float:
    """Agreed price; a line settled by weight follows the scale once it is finished."""
    if order.by_weight and 0 <= order.delivered < book.world.days:
        return round(order.price * order.finished_g / order.piece.weight_g, 2)
    return order.price


def _fixed(book: Book, order: Order, luck: Random) -> tuple[str, str]:
    """Some customers had the metal struck on the day of the quote, some at a price of their own."""
    chance = luck.random()
    quote = quote_of(book, order)
    if order.terms != "fixed" or quote is None or quote.day == order.ordered or chance > 0.3:
        return "", ""
    struck = book.world.day(quote.day)
    return str(struck), number(book.spot.on(struck) * 1.004) if chance < 0.06 else ""


def quote_of(book: Book, order: Order) -> Quote | None:
    """Return the quote an order came from."""
    return book.customers.quotes[order.quote] if order.quote >= 0 else None


def deposit(book: Book, order: Order) -> float:
    """Paid at order: a third of what it will cost, rounded."""
    if order.kind != "order" or order.terms == "customer_metal":
        return 0.0
    worth = order.price + (_metal_billed(book, order, order.piece.weight_g, order.ordered) if order.terms == "at_delivery" else 0.0)
    step = 50.0 if book.world.shrink > 0.3 else 5.0
    return step * round(0.3 * worth / step)


def _metal_billed(book: Book, order: Order, grams: float, day: int) -> float:
    alloy = ALLOYS[order.piece.alloy]
    return (grams - order.piece.stones_g) * alloy.fineness / 1000 * book.spot.on(book.world.day(day))


def _promise_now(book: Book, order: Order, luck: Random) -> int:
    """Some of the promises that failed were renewed in time."""
    chance, weeks = luck.random(), luck.randint(1, 2)
    ended = max(order.delivered, order.cancelled)
    end = ended if 0 <= ended < book.world.days else book.world.days + 7
    if end <= order.promise or chance > 0.4 or order.promise >= book.world.days - 3:
        return order.promise
    return order.promise + 7 * max(weeks, round((end - order.promise) / 7 * luck.uniform(0.6, 1.2)))


def payments(book: Book) -> Iterator[Cells]:
    """Rows of payments: deposits at order, the rest at delivery or, for the trade, within a month; refunds of orders called off."""
    luck = Random(f"{book.world.seed} payments")
    rows = [row for order in book.shop.orders for row in _paid(book, order, luck) if row[0] < book.world.days]
    for day, order_number, amount in sorted(rows):
        yield [book.ids[order_number], str(book.world.day(day)), number(amount)]


def _paid(book: Book, order: Order, luck: Random) -> Iterator[tuple[int, int, float]]:
    """Day, order and amount of each payment; paid back is below 0."""
    first = deposit(book, order)
    if first:
        yield order.ordered, order.number, first
    if first and order.cancelled >= 0:
        kept = KEPT_OF_WORK_BEGUN if order.first_work >= 0 else 0.0
        yield order.cancelled + luck.randint(1, 6), order.number, -first * (1 - kept)
    if 0 <= order.delivered < book.world.days and order.price:
        billed = _metal_billed(book, order, order.finished_g, order.delivered) if order.terms == "at_delivery" else 0.0
        day = order.delivered + (luck.randint(5, 35) if order.customer_type == "trade" else 0)
        yield day, order.number, _price(book, order) + billed - first
