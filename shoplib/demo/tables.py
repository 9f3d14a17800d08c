"""The tables of the invented workshop as rows of text, one generator a table."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from random import Random

from .cards import CAUSES, SHARED
from .ledger import Row
from .market import Customers, Quote
from .order import Order
from .parameters import ALLOYS, PEOPLE, STYLES, World
from .people import Rota
from .pieces import grams_per_cm, list_making, metal_value
from .play import Workshop
from .prices import Spot

Cells = list[str]
SOLDERS = tuple(f"{alloy.code} hard" for alloy in ALLOYS)
LIST_STRUCK_ON = date(2026, 6, 1)
OVERHEADS = (("rent", 3100), ("insurance", 980), ("power and gas", 640), ("office and telephone", 720), ("tools and upkeep", 1150),
             ("hallmarking and assay", 890), ("bookkeeper", 950), ("counter and sales", 2600))
PLANNED_LATER = "20"


@dataclass(frozen=True)
class Book:
    """Everything the play left behind, ready to be written down."""

    world: World
    rota: Rota
    spot: Spot
    shop: Workshop
    customers: Customers
    ledger: list[Row]
    ids: list[str]


def number(value: float | None, digits: int = 2) -> str:
    """Return a number as short text; blank for nothing."""
    if value is None or math.isnan(value):
        return ""
    text = f"{value:.{digits}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def order_ids(world: World, count: int) -> list[str]:
    """Numbers of the job cards."""
    width = max(4, len(str(count)))
    return [f"A{n + 1:0{width}d}" for n in range(count)]


ORDER_COLUMNS = (
    "order_id", "ordered_on", "style", "alloy", "price", "kind", "length_cm", "width_mm", "quoted_weight_g", "finished_weight_g",
    "not_metal_g", "findings_g", "metal_terms", "fixed_on", "fixed_price_per_g", "settled_by", "deposit", "stones_cost", "outwork_cost",
    "findings_cost", "first_promised_on", "promised_on", "rush", "delivered_on", "cancelled_on", "customer_type",
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
        book.ids[order.number], str(world.day(order.ordered)), STYLES[piece.style].name, ALLOYS[piece.alloy].code if chain else "",
        number(_price(book, order)), order.kind, number(piece.length_cm) if chain else "",
        number(STYLES[piece.style].widths_mm[piece.width]) if chain else "", number(piece.weight_g) if chain else "",
        number(order.finished_g, world.digits) if weighed else "", number(piece.stones_g, 3) if chain and piece.stones_g else "",
        number(piece.findings_g, 3) if chain and piece.findings_g else "", order.terms, *_fixed(book, order, luck),
        "weight" if order.by_weight else "piece", number(deposit(book, order)), number(piece.stones_cost) if chain and piece.stones_cost else "",
        number(piece.outwork_cost) if chain and piece.outwork_cost else "", number(piece.findings_cost) if chain and piece.findings_cost else "",
        str(world.day(order.promise)), str(world.day(_promise_now(book, order, luck))), "y" if order.rush else "n",
        str(world.day(delivered)) if delivered >= 0 else "", str(world.day(order.cancelled)) if order.cancelled >= 0 else "", order.customer_type,
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
    worth = order.price + (_metal_billed(book, order, order.ordered) if order.terms == "at_delivery" else 0.0)
    step = 50.0 if book.world.shrink > 0.3 else 5.0
    return step * round(0.3 * worth / step)


def _metal_billed(book: Book, order: Order, day: int) -> float:
    grams = order.finished_g if order.finished_g > 0 else order.piece.weight_g
    return (grams - order.piece.stones_g) * ALLOYS[order.piece.alloy].fineness / 1000 * book.spot.on(book.world.day(day))


def _promise_now(book: Book, order: Order, luck: Random) -> int:
    """Some of the promises that failed were renewed in time."""
    chance, weeks = luck.random(), luck.randint(1, 2)
    ended = max(order.delivered, order.cancelled)
    end = ended if 0 <= ended < book.world.days else book.world.days + 7
    if end <= order.promise or chance > 0.4 or order.promise >= book.world.days - 3:
        return order.promise
    return order.promise + 7 * max(weeks, round((end - order.promise) / 7 * luck.uniform(0.6, 1.2)))


LABOUR_COLUMNS = (
    "order_id", "stage", "worker", "date", "hours", "start", "finish", "rework", "links_redone", "rework_cause", "weight_in_g",
    "weight_out_g", "scrap_back_g", "solder", "solder_g",
)


def labour_order(book: Book) -> list[int]:
    """Places of the job card entries that lie inside the history, by day and time."""
    cards, days = book.shop.cards, book.world.days
    inside = (n for n in range(len(cards)) if cards.day[n] < days)
    return sorted(inside, key=lambda n: (cards.day[n], cards.worker[n], 0.0 if math.isnan(cards.start[n]) else cards.start[n], n))


def labour(book: Book) -> Iterator[Cells]:
    """Rows of labour; job cards by day, then the shared work of that day."""
    shared: dict[int, list[Cells]] = {}
    for work in book.rota.shared:
        cells = ["", "", PEOPLE[work.worker].code, str(book.world.day(work.day)), number(work.hours), "", ""]
        shared.setdefault(work.day, []).append([*cells, *[""] * 8])
    day = -1
    for place in labour_order(book):
        if book.shop.cards.day[place] != day:
            yield from shared.pop(day, [])
            day = book.shop.cards.day[place]
        yield _entry(book, place)
    for rest in sorted(set(shared) & set(range(book.world.days))):
        yield from shared[rest]


def _entry(book: Book, n: int) -> Cells:
    cards, world = book.shop.cards, book.world
    clocked = not math.isnan(cards.start[n])
    hours = max(0.5 * 10 ** -_hour_digits(world), cards.hours[n])
    return [
        "; ".join(book.ids[order] for order in cards.orders_of(cards.order[n])), world.stages[cards.stage[n]].name, PEOPLE[cards.worker[n]].code,
        str(world.day(cards.day[n])), number(hours, _hour_digits(world)), _moment(world, cards.start[n]) if clocked else "",
        _moment(world, cards.finish[n]) if clocked else "", "y" if cards.again[n] else "", str(cards.links[n] or ""), CAUSES[cards.cause[n]],
        number(cards.weight_in[n], world.digits), number(cards.weight_out[n], world.digits),
        number(cards.scrap[n], world.digits) if cards.scrap[n] else "", SOLDERS[cards.solder[n]] if cards.solder[n] >= 0 else "",
        number(cards.solder_g[n], world.digits) if cards.solder[n] >= 0 else "",
    ]


def _hour_digits(world: World) -> int:
    return 2 if world.shrink > 0.3 else 4


def _moment(world: World, hours: float) -> str:
    """Clock time to the minute; to the second where pieces are small."""
    fine = world.shrink <= 0.3
    seconds = round(hours * 3600) if fine else round(hours * 60) * 60
    moment = datetime.combine(world.first_day, datetime.min.time()) + timedelta(seconds=seconds)
    return moment.strftime("%Y-%m-%d %H:%M:%S" if fine else "%Y-%m-%d %H:%M")


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
            str(row.day), row.kind, row.metal, number(row.gross_g), number(row.fineness, 1), number(row.cost), row.lot,
            book.ids[row.order] if row.order >= 0 else "", str(row.due_on) if row.due_on else "",
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
            f"Q{place + 1:05d}", str(book.world.day(quote.day)), STYLES[quote.piece.style].name, ALLOYS[quote.piece.alloy].code,
            number(quote.piece.weight_g), number(quote.price), number(quote.weeks), won, book.ids[quote.order] if quote.order >= 0 else "",
        ]


def payments(book: Book) -> Iterator[Cells]:
    """Rows of payments: deposits at order, the rest at delivery or, for the trade, within a month."""
    luck = Random(f"{book.world.seed} payments")
    rows = []
    for order in book.shop.orders:
        first, delivered = deposit(book, order), order.delivered
        if first:
            rows.append((order.ordered, order.number, first))
        if 0 <= delivered < book.world.days and order.kind != "guarantee":
            billed = _metal_billed(book, order, delivered) if order.terms == "at_delivery" else 0.0
            day = delivered + (luck.randint(5, 35) if order.customer_type == "trade" else 0)
            if day < book.world.days:
                rows.append((day, order.number, _price(book, order) + billed - first))
    for day, order_number, amount in sorted(rows):
        yield [book.ids[order_number], str(book.world.day(day)), number(amount)]


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
                    shape.name, metal.code, number(width_mm), number(per_cm, 3), "" if by_g else number(price / 50), number(price / grams) if by_g else "",
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
    "orders": orders, "labour": labour, "metal_prices": metal_prices, "fx": fx, "metal_ledger": metal_ledger, "absences": absences,
    "holds": holds, "overheads": overheads, "quotes": quotes, "payments": payments, "price_list": price_list,
}
