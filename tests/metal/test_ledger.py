"""The ledger in fine grams."""

import numpy as np
import pytest

from shoplib.metal.ledger import counts, fine_share
from tests.flow.shops import shop_of

from .shops import TOML, row

RICH = TOML.replace("fineness = 750", "fineness = 750\nmelted_fineness = 752\nparts = { palladium = 100 }")


def shares(metal, *rows, toml=RICH):
    found = shop_of(toml, metal_ledger=list(rows))
    return fine_share(found["metal_ledger"], metal, found.settings).tolist()


def test_fine_metal_as_bought_is_999_9():
    """A blank fineness of a metal."""
    assert shares("gold", row("2026-01-31", "bought", 10, "gold", None)) == [0.9999]


def test_an_alloy_comes_in_at_its_mark_and_is_counted_as_melted():
    """Bought sheet is worth its mark; what the shop melted itself lies in the safe at 752."""
    assert shares("gold", row("2026-01-31", "bought", 10, "18k", None), row("2026-01-31", "stock_count", 10, "18k", None)) == [0.75, 0.752]


def test_a_written_fineness_is_that_of_the_main_metal():
    """585 written to a row of 18k is gold; its palladium stays the recipe's."""
    written = row("2026-01-31", "customer_in", 10, "18k", 585.0)
    assert (shares("gold", written), shares("palladium", written)) == ([0.585], [0.1])


def test_a_name_that_is_neither_metal_nor_alloy_holds_nothing():
    """A refiner's charge without a metal."""
    assert shares("gold", row("2026-01-31", "refining_charge", None, None, None)) == [0.0]


def test_a_count_of_silver_is_no_count_of_gold():
    """Only rows that hold the metal make a day a count of it; its rows add up."""
    rows = [
        row("2026-01-31", "stock_count", 10),
        row("2026-01-31", "stock_count", 20, "18k", None),
        row("2026-02-28", "stock_count", 5, "silver"),
    ]
    found = shop_of(TOML, metal_ledger=rows)
    days, grams, squares = counts(found["metal_ledger"], fine_share(found["metal_ledger"], "gold", found.settings))
    assert days.tolist() == [np.datetime64("2026-01-31").item()]
    assert (grams.tolist(), squares.tolist()) == ([25.0], [pytest.approx(1 + 0.75**2)])
