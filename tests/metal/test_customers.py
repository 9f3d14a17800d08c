"""Customers' own metal, order by order."""

import numpy as np
import pytest

from shoplib.metal.customers import customer_metal

from .shops import metals, piece, row, shop, weighed

ORDERS = [
    piece("done", 48.0, "2026-03-20", metal_terms="customer_metal"),
    piece("open", None, metal_terms="customer_metal"),
    piece("own", 40.0, "2026-03-20"),
]
CARDS = [weighed("done", "melt", "2026-03-02", 50.0, 48.0), weighed("open", "melt", "2026-03-09", 30.0, 29.9)]
LEDGER = [
    row("2026-03-01", "customer_in", 60.0, "18k", None, order_id="done"), row("2026-03-20", "customer_out", 8.0, "18k", None, order_id="done"),
    row("2026-03-05", "customer_in", 30.0, order_id="open"),
]  # fmt: skip


def told(loss=(2.0, 0.0, 0.0)):
    found = shop(ORDERS, CARDS, LEDGER)
    return customer_metal(metals(found).bench, found["metal_ledger"], np.array(loss), found.settings).set_index("order_id")


def test_received_piece_and_returned():
    """45 g fine brought, 36 g in the piece, 6 g given back (worked by hand)."""
    row = told().loc["done"]
    assert (row["received_g"], row["piece_g"], row["returned_g"]) == (pytest.approx(45), pytest.approx(36), pytest.approx(6))


def test_the_customer_bears_the_loss_up_to_the_allowance():
    """3 % of 48 g are 1.44 g, 1.08 g fine; of 2 g lost the customer bears no more; 45 − 36 − 1.08 − 6 = 1.92 g are owed."""
    row = told().loc["done"]
    assert (row["allowance_g"], row["loss_borne_g"], row["owed_g"]) == (pytest.approx(1.08), pytest.approx(1.08), pytest.approx(1.92))


def test_a_loss_below_the_allowance_is_borne_as_it_is():
    """1 g lost is 0.75 g fine."""
    assert told((1.0, 0.0, 0.0)).loc["done", "loss_borne_g"] == pytest.approx(0.75)


def test_an_open_order_shows_what_is_on_the_bench():
    """29.9 g of 18k: 22.425 g fine in the piece so far."""
    row = told().loc["open"]
    assert (bool(row["open"]), row["piece_g"]) == (True, pytest.approx(22.425))


def test_the_shops_own_orders_are_not_there():
    """Only customer_metal."""
    assert "own" not in told().index
