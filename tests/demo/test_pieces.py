"""Quotes and the answer to them."""

from __future__ import annotations

import math
from datetime import date
from random import Random

import pytest

from shoplib.demo.parameters import make_world
from shoplib.demo.pieces import Offer, draw_piece, metal_value, odds_of_order, wave, weeks_quoted
from shoplib.demo.prices import make_spot

WORLD = make_world()
DAY = date(2026, 5, 4)


def logit(odds: float) -> float:
    return math.log(odds / (1 - odds))


def test_a_week_more_costs_what_the_truth_says() -> None:
    """The logit falls by the answer to the wait for each week quoted."""
    offer = Offer(900.0, 6000.0, 6900.0, 1.15)
    fall = logit(odds_of_order(WORLD, offer, 6.0, DAY)) - logit(odds_of_order(WORLD, offer, 5.0, DAY))
    assert fall == pytest.approx(WORLD.market.answer_to_wait)


def test_a_dearer_quote_is_won_less_often() -> None:
    """The logit falls by the answer to price times the logarithm of the price ratio."""
    cheap, dear = Offer(900.0, 6000.0, 6900.0, 1.10), Offer(900.0, 6000.0, 6900.0, 1.21)
    fall = logit(odds_of_order(WORLD, dear, 5.0, DAY)) - logit(odds_of_order(WORLD, cheap, 5.0, DAY))
    assert fall == pytest.approx(WORLD.market.answer_to_price * math.log(1.1))


def test_weeks_are_named_in_half_weeks_within_their_range() -> None:
    """Whatever the backlog, the owner names half weeks between the least and the most."""
    low, high = WORLD.market.weeks_range
    named = {weeks_quoted(WORLD, count, Random(count)) for count in range(0, 400, 7)}
    assert all(low <= weeks <= high and (2 * weeks).is_integer() for weeks in named)


def test_white_gold_carries_its_palladium() -> None:
    """The metal of a white piece is quoted above that of its gold alone, by an eighth of its weight in palladium."""
    luck, spot = Random(1), make_spot(WORLD)
    white = next(piece for piece in iter(lambda: draw_piece(WORLD, luck), None) if piece.alloy == 2)
    palladium = metal_value(white, spot, DAY) - white.metal_g * 0.750 * spot.on(DAY) * 1.012
    assert palladium == pytest.approx(white.metal_g * 0.125 * spot.on(DAY, "palladium") * 1.06)


def test_demand_is_highest_in_november() -> None:
    """The yearly wave is at its top in mid November."""
    assert wave(date(2025, 11, 15)) == pytest.approx(1.0, abs=1e-3)
