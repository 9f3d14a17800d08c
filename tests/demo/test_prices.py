"""The invented paths of metal and money."""

from __future__ import annotations

from datetime import date

import pytest

from shoplib.demo.book import Book
from shoplib.demo.parameters import make_world
from shoplib.demo.prices import make_spot


def test_gold_swings_in_the_last_month(book: Book) -> None:
    """Seven to nine percent in the shop's currency from the end of September to the end of October."""
    change = book.spot.on(date(2026, 10, 30)) / book.spot.on(date(2026, 9, 30)) - 1
    assert 0.07 <= change <= 0.09


def test_gold_quiet_from_day_to_day(book: Book) -> None:
    """No day moves by more than 8 percent: an owner would take it for a slip."""
    gold = book.spot.gold
    assert max(abs(b / a - 1) for a, b in zip(gold, gold[1:], strict=False)) < 0.08


def test_dollars_an_ounce_lead_back_to_money_a_gram(book: Book) -> None:
    """The published price × the rate ÷ 31.1034768 is the spot, to the rounding of a cent."""
    place = 300
    back = book.spot.in_dollars(place, "gold") * book.spot.dollar[place] / 31.1034768
    assert back == pytest.approx(book.spot.gold[place], abs=0.001)


def test_a_weekend_takes_fridays_price(book: Book) -> None:
    """Sunday 11 October 2026 is priced like Friday the 9th."""
    assert book.spot.on(date(2026, 10, 11)) == book.spot.on(date(2026, 10, 9))


def test_prices_begin_before_a_longer_history() -> None:
    """Sixty months of orders have a price on their first day."""
    world = make_world(orders=10, months=60)
    assert make_spot(world).days[0] <= world.first_day
