"""Where the metal lies, whose it is, and the most that was in the house."""

import numpy as np
import pytest

from shoplib.metal.places import Held, peak, places

from .shops import metals, piece, row, shop, weighed

LEDGER = [
    row("2026-03-01", "stock_count", 1000.0), row("2026-03-02", "customer_in", 60.0, order_id="theirs"),
    row("2026-03-03", "borrowed", 100.0), row("2026-03-04", "priced", 30.0), row("2026-03-05", "bought", 50.0),
]  # fmt: skip
ORDERS = [piece("own", None), piece("theirs", None, metal_terms="customer_metal")]
CARDS = [
    weighed("own", "melt", "2026-03-09", 80.0, 79.0),
    weighed("own", "cut", "2026-03-10"),
    weighed("theirs", "melt", "2026-03-09", 40.0, 40.0),
]


def where(ledger=LEDGER):
    found = shop(ORDERS, CARDS, ledger)
    whole = metals(found)
    one = whole.metals[0]
    rows = places(one.balance, one.held, whole.bench, whole.stage_now, found["metal_ledger"], found.settings, 100.0)
    return rows.set_index(["place", "owner"])


def test_the_safe_is_parted_by_owner():
    """1000 + 60 + 100 + 50 − 60 − 30 = 1,120: customers' 60 − 30, the lender's 100 − 30, the rest the shop's (worked by hand)."""
    rows = where()["fine_g"]
    assert (rows["safe", "customers"], rows["safe", "lender"], rows["safe", "shop"]) == (
        pytest.approx(30),
        pytest.approx(70),
        pytest.approx(1020),
    )


def test_the_benches_stand_by_stage():
    """59.25 g fine of the shop at the cut, 30 g of a customer at the melt."""
    rows = where()["fine_g"]
    assert (rows["bench: cut", "shop"], rows["bench: melt", "customers"]) == (pytest.approx(59.25), pytest.approx(30.0))


def test_money_is_at_spot():
    """59.25 g at 100.00."""
    assert where()["money"]["bench: cut", "shop"] == pytest.approx(5925.0)


def test_without_a_count_the_safe_is_not_told():
    """Nobody knows what lay in it at the start."""
    assert "safe" not in where(LEDGER[1:]).index.get_level_values("place")


def test_all_places_are_the_balance():
    """Safe and benches are what the open balance holds: counted + in − lost."""
    rows = where()["fine_g"]
    inside = sum(grams for (place, _), grams in rows.items() if place == "safe" or place.startswith("bench"))
    assert inside == pytest.approx(1000 + 60 + 100 + 50 - 0.75)


def held(metal, first, safe):
    days = np.arange(first, np.datetime64("2026-02-03"))
    zero = np.zeros(len(days))
    return Held(metal, days, np.array(safe, dtype=float), zero, zero, zero)


def test_the_peak_adds_metals_at_the_spot_of_the_day():
    """Gold 10 g at 100 every day, silver 200 g at 1 from 1 February: January peaks at 1,000, February at 1,200 (worked by hand)."""
    gold, silver = held("gold", np.datetime64("2026-01-31"), [10, 10, 10]), held("silver", np.datetime64("2026-02-01"), [200, 200])
    rows = peak([gold, silver], {"gold": np.full(3, 100.0), "silver": np.full(2, 1.0)}, 1100.0)
    assert (rows["money"].tolist(), rows["fine_g"].tolist(), rows["insured"].tolist()) == (
        [1000.0, 1200.0],
        [10.0, 210.0],
        [1100.0, 1100.0],
    )


def test_a_metal_without_price_is_in_no_peak():
    """Money cannot be told of it."""
    assert peak([held("silver", np.datetime64("2026-02-01"), [200, 200])], {"silver": np.full(2, np.nan)}, None).empty
