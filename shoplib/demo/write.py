"""Writes the invented workshop into a folder: tables, shop.toml, its truth."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from pathlib import Path

import simpy

from ..errors import OutputError, UsageError
from .book import Book, order_ids
from .dirt import hostile_ids, soil
from .ledger import Safe
from .market import Customers, play
from .parameters import SEED, USUAL_MONTHS, USUAL_ORDERS, make_world
from .people import make_rota
from .play import Workshop
from .prices import make_spot
from .settings_text import settings_text
from .tables import HEADINGS, WRITERS
from .truth import truth


def write_demo(folder: Path, orders: int = USUAL_ORDERS, months: int = USUAL_MONTHS, seed: int = SEED) -> None:
    """Write the invented workshop.

    Parameters
    ----------
    folder : Path
        Where to; made if it does not exist, files of the same names are replaced.
    orders : int
        About so many order lines; nine people and their load stay, hours and grams an order shrink where they must.
    months : int
        Months of history up to 2026-10-31.
    seed : int
        Same seed, same files.

    Raises
    ------
    UsageError
        When orders or months is below 1.
    OutputError
        When the folder cannot be written.
    """
    write_book(make_book(orders, months, seed), folder)


def write_book(book: Book, folder: Path) -> None:
    """Write a workshop already played into `folder`; see `write_demo`."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name in WRITERS:
            _write_table(folder / f"{name}.csv", name, book)
        (folder / "shop.toml").write_text(settings_text(book.world), encoding="utf-8", newline="\n")
        (folder / "truth.json").write_text(json.dumps(truth(book), indent=1) + "\n", encoding="utf-8", newline="\n")
    except OSError as error:
        raise OutputError(
            "the folder of the invented workshop cannot be written",
            where=str(folder),
            found=error.strerror,
            to_do="choose another folder",
        ) from error


def make_book(orders: int = USUAL_ORDERS, months: int = USUAL_MONTHS, seed: int = SEED) -> Book:
    """Play the workshop and return what it left behind, before any of it is written."""
    if orders < 1 or months < 1:
        raise UsageError(
            "an invented workshop needs orders and months", found=f"{orders} orders, {months} months", allowed="1 or more of each"
        )
    world = make_world(orders, months, seed)
    rota, spot = make_rota(world), make_spot(world)
    shop = Workshop(simpy.Environment(), world, rota)
    customers = Customers(shop, spot)
    play(world, shop, customers)
    ledger = Safe(world, spot, shop.flows, shop.orders).run()
    book = Book(world, rota, spot, shop, customers, ledger, order_ids(world, len(shop.orders)))
    return replace(book, ids=hostile_ids(book))


def _write_table(path: Path, name: str, book: Book) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(HEADINGS[name])
        writer.writerows(soil(name, WRITERS[name](book), _length(name, book)))


def _length(name: str, book: Book) -> int:
    """Rows a table will have, near enough to place slips."""
    known = {
        "orders": len(book.shop.orders),
        "labour": len(book.shop.cards),
        "quotes": len(book.customers.quotes),
        "payments": len(book.shop.orders),
        "metal_prices": 2 * len(book.spot.days),
        "absences": len(book.rota.absences),
    }
    return known.get(name, 0)
