"""Weights, fineness and money rounding."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shoplib.units import (
    GRAMS_PER_GRAIN,
    GRAMS_PER_PENNYWEIGHT,
    GRAMS_PER_TROY_OUNCE,
    cents,
    fine_grams,
    price_per_gram,
    read_alloy_name,
    round_money,
    round_up,
)  # fmt: skip


def test_a_troy_ounce_is_twelve_hundred_and_seventy_fifths_of_a_pound():
    """480 of the 7,000 grains of 453.59237 g (UK Weights and Measures Act 1985)."""
    assert pytest.approx(453.59237 * 480 / 7000, rel=1e-15) == GRAMS_PER_TROY_OUNCE


def test_a_pennyweight_is_a_twentieth_and_a_grain_a_480th():
    """1.55517384 g and 0.06479891 g (the same act)."""
    assert (pytest.approx(1.55517384, rel=1e-12), pytest.approx(0.06479891, rel=1e-12)) == (GRAMS_PER_PENNYWEIGHT, GRAMS_PER_GRAIN)


def test_a_kilogram_is_32_ounces_and_a_little():
    """32.1507466 ozt (from memory: the figure bullion dealers print)."""
    assert pytest.approx(32.1507466, abs=5e-8) == 1000 / GRAMS_PER_TROY_OUNCE


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("18k yellow", ("gold", 750)), ("18 ct white", ("gold", 750)), ("14 karat", ("gold", 585)), ("9 Carat rose", ("gold", 375)), ("925", ("silver", 925)), ("sterling 925", ("silver", 925)),
        ("pt950", ("platinum", 950)), ("Pt 950 Ru", ("platinum", 950)), ("pd 950", ("palladium", 950)), ("au750", ("gold", 750)), ("585 white", ("gold", 585)), ("silver 999.9", ("silver", 999.9)),
        ("916.6 yellow", ("gold", 916.6)), ("gold 999,9", ("gold", 999.9)), ("958.4", ("silver", 958.4)), ("585.12", ("gold", 585)),
        ("house blend", None), ("", None), ("12345", None), ("99k", None),
    ],
)  # fmt: skip
def test_an_alloys_name_tells_metal_and_fineness(name, told):
    """Customary marks (ISO 9202 names 375, 585, 750, 916, 925, 950 among them; common practice for the others)."""
    assert read_alloy_name(name) == told


@pytest.mark.parametrize(("amount", "rounded"), [(1.005, 1.01), (2.675, 2.68), (-1.005, -1.01), (0.0, 0.0), (1.0049, 1.0)])
def test_money_is_rounded_half_away_from_zero(amount, rounded):
    """As the figure is written, not as it is stored."""
    assert round_money(amount) == rounded and cents(amount) == round(rounded * 100)


def test_a_price_goes_up_to_the_step():
    """1,231 to 1,235 by fives; 1,235 stays."""
    assert (round_up(1231, 5), round_up(1235, 5)) == (1235, 1235)


@given(st.floats(0, 1e6), st.floats(0.01, 1e3))
def test_rounding_up_never_goes_down_nor_a_whole_step_up(amount, step):
    """Between the amount and a step above it."""
    rounded = round_up(amount, step)
    assert amount - 1e-6 * step <= rounded <= amount + step


def test_units_of_a_price_and_fine_grams():
    """A kilogram price is a thousandth a gram; 100 g of 750 hold 75 g."""
    assert (price_per_gram(95_000, "kg"), fine_grams(100, 750)) == (95.0, 75.0)
