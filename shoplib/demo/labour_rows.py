"""Rows of labour: the job cards by day, and the shared work."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from .book import Book, Cells, number
from .cards import CAUSES
from .catalogue import ALLOYS
from .parameters import World
from .staff import PEOPLE

SOLDERS = tuple(f"{alloy.code} hard" for alloy in ALLOYS)
LABOUR_COLUMNS = (
    "order_id",
    "stage",
    "worker",
    "date",
    "hours",
    "start",
    "finish",
    "rework",
    "links_redone",
    "rework_cause",
    "weight_in_g",
    "weight_out_g",
    "scrap_back_g",
    "solder",
    "solder_g",
)


def labour_order(book: Book) -> list[int]:
    """Places of the job card entries that lie inside the history, in the sequence in which they began."""
    cards, days = book.shop.cards, book.world.days
    inside = (n for n in range(len(cards)) if cards.day[n] < days)
    return sorted(inside, key=lambda n: (cards.day[n], cards.start[n], n))


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
    clocked = cards.clocked[n]
    hours = max(0.5 * 10 ** -_hour_digits(world), cards.hours[n])
    return [
        "; ".join(book.ids[order] for order in cards.orders_of(cards.order[n])),
        world.stages[cards.stage[n]].name,
        PEOPLE[cards.worker[n]].code,
        str(world.day(cards.day[n])),
        number(hours, _hour_digits(world)),
        _moment(world, cards.start[n]) if clocked else "",
        _moment(world, cards.finish[n]) if clocked else "",
        "y" if cards.again[n] else "",
        str(cards.links[n] or ""),
        CAUSES[cards.cause[n]],
        number(cards.weight_in[n], world.digits),
        number(cards.weight_out[n], world.digits),
        number(cards.scrap[n], world.digits) if cards.scrap[n] else "",
        SOLDERS[cards.solder[n]] if cards.solder[n] >= 0 else "",
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
