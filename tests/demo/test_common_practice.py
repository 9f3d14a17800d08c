"""The invented workshop against common practice of the trade (no source: told by people of the trade, round figures)."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from shoplib.demo.book import Book
from shoplib.demo.parameters import STAGES
from shoplib.demo.staff import PEOPLE
from shoplib.intake.shop import Shop

LAST = pd.Timestamp("2026-10-31")
YEAR = LAST - pd.Timedelta(days=364)


@pytest.fixture(scope="module")
def chains(shop: Shop) -> pd.DataFrame:
    """Delivered chains of the last twelve months, with bench hours."""
    orders = shop["orders"]
    chains = orders[orders["kind"].isin(["order", "stock"]) & (orders["delivered_on"] >= YEAR)].set_index("order_id")
    cards = shop["labour"][["order_id", "hours", "worker", "stage"]].dropna(subset=["order_id"])
    cards = cards.assign(order_id=cards["order_id"].str.split("; "))
    cards["hours"] = cards["hours"] / cards["order_id"].str.len()
    hours = cards.explode("order_id").groupby("order_id").agg(hours=("hours", "sum"), hands=("worker", "nunique"))
    return chains.join(hours)


def test_a_heavy_chain_takes_about_twelve_hours(chains: pd.DataFrame) -> None:
    """12 to 14 bench hours an order (common practice, no source); 11 to 14 taken as about."""
    assert 11.0 <= chains["hours"].mean() <= 14.0


def test_a_chain_passes_more_than_five_hands(chains: pd.DataFrame) -> None:
    """More than five people work on a chain (common practice, no source)."""
    assert chains["hands"].median() > 5


def test_a_chain_weighs_about_a_hundred_grams(chains: pd.DataFrame) -> None:
    """About 100 g (common practice, no source)."""
    assert chains["finished_weight_g"].mean() == pytest.approx(100, rel=0.10)


def test_two_kilograms_leave_a_week(chains: pd.DataFrame) -> None:
    """About 2 kg of finished gold a week, a fifth more or less (common practice, no source)."""
    assert chains["finished_weight_g"].sum() / 52 == pytest.approx(2000, rel=0.20)


def test_twenty_orders_come_in_a_week(shop: Shop) -> None:
    """About 20 orders a week (common practice, no source)."""
    assert len(shop["orders"]) / ((LAST - pd.Timestamp("2024-05-01")).days / 7) == pytest.approx(20, rel=0.10)


def test_the_wait_has_grown_to_five_to_seven_weeks(chains: pd.DataFrame) -> None:
    """Five to seven weeks from order to delivery in the last three months (common practice, no source)."""
    late = chains[(chains["delivered_on"] > LAST - pd.Timedelta(days=92)) & (chains["kind"] == "order")]
    assert 35 <= (late["delivered_on"] - late["ordered_on"]).dt.days.mean() <= 49


def test_the_wait_was_short_at_first(shop: Shop) -> None:
    """In the first year the wait was under three weeks, so it has really grown."""
    orders = shop["orders"]
    first = orders[(orders["kind"] == "order") & (orders["delivered_on"] < pd.Timestamp("2025-05-01"))]
    assert (first["delivered_on"] - first["ordered_on"]).dt.days.mean() < 21


def test_about_a_hundred_and_twenty_orders_are_in_process(shop: Shop) -> None:
    """20 orders a week × 6 weeks ≈ 120 open orders at the end (common practice, no source); a fifth more or less."""
    orders = shop["orders"]
    assert (orders["delivered_on"].isna() & orders["cancelled_on"].isna()).sum() == pytest.approx(120, rel=0.20)


def test_littles_law(shop: Shop) -> None:
    """Over the year to October 2025: mean open orders = orders out a day × their mean days in the shop (Little 1961).

    6 percent allowed: some 40 of its 940 orders straddle either end of the year.
    """
    orders, first, last = shop["orders"], pd.Timestamp("2024-11-01"), pd.Timestamp("2025-10-31")
    out = orders["delivered_on"].fillna(orders["cancelled_on"])
    left = out.between(first, last)
    days = pd.date_range(first, last)
    flow = (out - orders["ordered_on"])[left].dt.days.mean()
    wip = np.mean([((orders["ordered_on"] <= day) & ~(out <= day)).sum() for day in days])
    assert wip == pytest.approx(left.sum() / len(days) * flow, rel=0.06)


def test_white_breaks_more_than_yellow(shop: Shop) -> None:
    """Palladium-whitened gold breaks more often than yellow gold (common practice, no source): twice and more here."""
    cards = shop["labour"]
    alloy = shop["orders"].set_index("order_id")["alloy"]
    at = cards[cards["stage"] == "solder"].assign(alloy=cards["order_id"].map(alloy)).dropna(subset=["alloy"])
    back = at.groupby("alloy")["rework"].sum() / at.groupby("alloy")["order_id"].nunique()
    assert back["18k white"] > 2 * back["18k yellow"]


def test_drawing_takes_an_hour(shop: Shop) -> None:
    """Drawing wire to length takes about an hour and more (common practice, no source)."""
    cards = shop["labour"]
    drawn = cards[(cards["stage"] == "draw") & ~cards["rework"]].groupby("order_id")["hours"].sum()
    assert 0.8 <= drawn.mean() <= 2.0


def load(book: Book, stage: int, after: int) -> float:
    """Hours booked at a stage ÷ hours of all who have the skill that were there for orders and not booked elsewhere."""
    cards, skilled = book.shop.cards, [n for n, p in enumerate(PEOPLE) if STAGES[stage].name in p.skills]
    inside = [n for n in range(len(cards)) if after <= cards.day[n] < book.world.days]
    booked = sum(cards.hours[n] for n in inside if cards.stage[n] == stage)
    elsewhere = sum(cards.hours[n] for n in inside if cards.stage[n] != stage and cards.worker[n] in skilled)
    window = (24 * after, 24 * book.world.days)
    there = sum((s.end - s.start) * s.rate for p in skilled for s in book.rota.shifts[p] if window[0] <= s.start < window[1])
    return booked / (there - elsewhere)


def test_soldering_is_short_and_nothing_else(book: Book) -> None:
    """In the last half year at least nine tenths of the hours there are for soldering are booked, and of no other stage."""
    loads = {stage.name: load(book, place, book.world.days - 183) for place, stage in enumerate(STAGES)}
    assert loads.pop("solder") >= 0.95
    assert max(loads.values()) < 0.90


def test_three_or_four_solder(shop: Shop) -> None:
    """Three or four people solder at any time of the last year."""
    cards = shop["labour"]
    at = cards[(cards["stage"] == "solder") & (cards["date"] >= YEAR)]
    assert at.groupby(at["date"].dt.to_period("Q"))["worker"].nunique().between(3, 4).all()
