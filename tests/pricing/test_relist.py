"""Repricing identities to the cent, floors and rounding."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shoplib.pricing.relist import Piece, floor_full, floor_idle, metal_value, rounded_up, target_price
from shoplib.settings import Policy

money = st.floats(100, 20_000)


def piece(price=1000.0, then=600.0):
    one = [np.array([value]) for value in (price, then, 8.0, 150.0, 20.0, 2.0)]
    return Piece(*one, 70.0)


@given(money, money, money)
def test_the_making_charge_is_kept_to_the_cent(price, then, now):
    """New price − metal now = old price − metal when struck."""
    new = target_price(piece(price, then), np.array([now]), Policy())[0]
    assert new - now == pytest.approx(price - then, abs=0.005)


@given(money)
def test_a_share_of_the_price_is_kept_to_the_cent(now):
    """Price − metal − costs = a quarter of the price."""
    policy = Policy(target="percent_of_price", target_making_margin_percent=25)
    price = target_price(piece(), np.array([now]), policy)[0]
    assert price - now - 170.0 == pytest.approx(0.25 * price, abs=0.005)


def test_money_for_a_limiting_hour():
    """700 + 20 + 2 h × 60 = 840 (worked by hand)."""
    assert target_price(piece(), np.array([700.0]), Policy(target="per_limiting_hour", target_per_limiting_hour=60))[0] == 840.0


def test_money_for_a_gram_fine():
    """700 + 150 + 20 + 8 g × 12 = 966 (worked by hand)."""
    assert target_price(piece(), np.array([700.0]), Policy(target="per_g_fine", target_per_g_fine=12))[0] == 966.0


def test_two_floors():
    """Idle 700 + 20; full 2 h × 70 more (worked by hand)."""
    metal = np.array([700.0])
    assert (floor_idle(piece(), metal)[0], floor_full(piece(), metal)[0]) == (720.0, 860.0)


def test_two_metals_and_a_premium():
    """(7.5 × 80 + 1.25 × 30) × 1.004 (worked by hand); a metal that is not in the alloy may have no price."""
    grams = np.array([[7.5, 1.25, 0.0]])
    assert metal_value(grams, np.array([80.0, 30.0, np.nan]), 0.004)[0] == pytest.approx(640.05)


@pytest.mark.parametrize(("price", "up"), [(1000.01, 1005.0), (1005.0, 1005.0), (1005.0000000001, 1005.0), (1001.0, 1005.0)])
def test_prices_are_rounded_up(price, up):
    """To the next step of 5, floating point left aside."""
    assert rounded_up(np.array([price]), 5.0)[0] == up


def test_a_price_that_need_not_move_stays():
    """998.70 at an unmoved metal stays 998.70, not 1,000."""
    assert rounded_up(np.array([998.7]), 5.0, np.array([998.7]))[0] == 998.7
