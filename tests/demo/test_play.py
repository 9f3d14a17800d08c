"""How work moves in the invented workshop."""

from __future__ import annotations

import math
from collections import Counter
from datetime import date

import pandas as pd
import pytest

from shoplib.demo.book import Book
from shoplib.demo.order import ROUTE
from shoplib.demo.parameters import FILE, POLISH, SOLDER, STAGES, TIGHTEN
from shoplib.demo.staff import LEARNT_SOLDERING_ON, PEOPLE
from shoplib.intake.shop import Shop


def visits(book: Book, number: int) -> list[int]:
    """Stages of an order in the sequence of its entries, each visit once."""
    cards = book.shop.cards
    stages = [cards.stage[n] for n in range(len(cards)) if number in cards.orders_of(cards.order[n])]
    return [stage for n, stage in enumerate(stages) if n == 0 or stages[n - 1] != stage]


def test_a_chain_without_returns_passes_the_route_once(book: Book) -> None:
    """Eleven stages in their order."""
    order = next(o for o in book.shop.orders if o.delivered >= 0 and o.of_metal and not o.returns)
    assert visits(book, order.number) == list(ROUTE)


def test_a_returned_chain_is_tightened_again(book: Book) -> None:
    """Sent back from tightening it is soldered, tightened and then filed."""
    order = next(o for o in book.shop.orders if o.delivered >= 0 and o.returns == 1 and visits(book, o.number).count(SOLDER) == 2)
    assert visits(book, order.number)[SOLDER:] == [SOLDER, TIGHTEN, SOLDER, TIGHTEN, FILE, POLISH, POLISH + 1]


def test_nobody_works_on_two_things_at_once(shop: Shop) -> None:
    """Clocked entries of a person overlap only where a slip of the pen was planted."""
    cards = shop["labour"].dropna(subset=["start"]).sort_values(["worker", "start", "finish"])
    overlap = cards["start"] < cards.groupby("worker")["finish"].shift()
    assert overlap.sum() <= 4


def test_hours_fit_the_clock(shop: Shop) -> None:
    """Booked hours never exceed start to finish, but for planted slips."""
    cards = shop["labour"].dropna(subset=["start"])
    clock = (cards["finish"] - cards["start"]).dt.total_seconds() / 3600
    assert (cards["hours"] > clock + 0.01).sum() <= 3


def test_soldering_was_learnt(shop: Shop) -> None:
    """TL books no soldering before the day named in the truth, and does after."""
    cards = shop["labour"]
    own = cards[(cards["worker"] == "TL") & (cards["stage"] == "solder")]
    assert own["date"].min() >= pd.Timestamp(LEARNT_SOLDERING_ON)
    assert len(own) > 50


def test_people_work_only_at_what_they_can(shop: Shop) -> None:
    """Every entry's stage is one of its worker's skills."""
    skills = {person.code: set(person.skills) for person in PEOPLE}
    pairs = set(zip(shop["labour"]["worker"], shop["labour"]["stage"].fillna(""), strict=True))
    assert all(stage in skills[worker] for worker, stage in pairs if stage)


def test_nine_people_at_a_time(shop: Shop) -> None:
    """In any month of the last year eight to ten people book hours."""
    cards = shop["labour"][shop["labour"]["date"] >= pd.Timestamp("2025-11-01")]
    assert cards.groupby(cards["date"].dt.to_period("M"))["worker"].nunique().between(8, 10).all()


def test_work_time_keeps_its_mean(book: Book) -> None:
    """Hours of first visits at rolling average to the truth: fixed + per gram × mean weight, within 3 standard errors."""
    cards, orders = book.shop.cards, book.shop.orders
    spent: Counter[int] = Counter()
    for n in range(len(cards)):
        if cards.stage[n] == 1:
            spent[cards.order[n]] += cards.hours[n]
    done = [o for o in orders if o.of_metal and o.place > 1 and o.number in spent]
    stage = STAGES[1]
    ratio = [spent[o.number] / (stage.fixed_h + stage.per_g_h * o.piece.weight_g) for o in done]
    mean = sum(ratio) / len(ratio)
    error = math.sqrt((math.exp(stage.sigma**2) - 1) / len(ratio))
    assert abs(mean - 1) < 3 * error


def test_returns_occur_as_the_truth_says(book: Book) -> None:
    """First returns of 18k white to soldering: the share lies within three standard errors of its odds."""
    white = [o for o in book.shop.orders if o.of_metal and o.piece.alloy == 2 and o.place > TIGHTEN and o.cancelled < 0]
    cards = book.shop.cards
    again = {cards.order[n] for n in range(len(cards)) if cards.stage[n] == SOLDER and cards.again[n]}
    share, odds = sum(o.number in again for o in white) / len(white), 0.19
    assert abs(share - odds) < 3 * math.sqrt(odds * (1 - odds) / len(white))


def test_the_dispatch_rule_shows(book: Book) -> None:
    """Soldering follows promises more than the order of arrival: orders promised earlier begin earlier (rank correlation)."""
    cards, orders = book.shop.cards, book.shop.orders
    begun: dict[int, int] = {}
    for n in range(len(cards)):
        if cards.stage[n] == SOLDER and not cards.again[n]:
            begun.setdefault(cards.order[n], cards.day[n])
    late = [(orders[k].promise, day) for k, day in begun.items() if orders[k].kind == "order" and day > book.world.index(date(2026, 6, 1))]
    table = pd.DataFrame(late, columns=["promise", "day"])
    assert table.corr(method="spearman").iloc[0, 1] > 0.85


@pytest.mark.parametrize("kind", ["order", "stock", "repair", "guarantee"])
def test_every_kind_occurs(shop: Shop, kind: str) -> None:
    """Orders, pieces for the window, repairs and a guarantee or two."""
    assert (shop["orders"]["kind"] == kind).sum() >= 2


@pytest.mark.parametrize("terms", ["fixed", "at_delivery", "customer_metal"])
def test_all_metal_terms_occur(shop: Shop, terms: str) -> None:
    """The three ways to strike the metal."""
    assert (shop["orders"]["metal_terms"] == terms).sum() >= 50


def test_what_the_reports_need_occurs(shop: Shop) -> None:
    """Cancellations, rush orders, holds of each sort, shared melts and shared work, unanswered quotes."""
    orders, cards = shop["orders"], shop["labour"]
    assert orders["cancelled_on"].notna().sum() >= 10
    assert orders["rush"].sum() >= 10
    assert set(shop["holds"]["why"]) == {"customer", "part", "assay", "outwork"}
    assert cards["order_id"].str.contains(";", na=False).sum() >= 50
    assert cards["order_id"].isna().sum() >= 100
    assert shop["quotes"]["won"].isna().sum() >= 1
