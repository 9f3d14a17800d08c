"""Right first time over delivered orders. Values worked by hand; no source."""

import numpy as np
import pytest

from shoplib.flow.visits import history
from shoplib.flow.yields import rolled_yield, stage_yields

from .shops import AS_OF, entry, order, shop_of


def yields(many, sent_back, least=20):
    """Return the yields of `many` delivered orders of which some were sent back from tightening to soldering."""
    orders = [order(str(n), delivered_on="2026-03-20") for n in range(many)]
    rows = []
    for n in range(many):
        rows += [entry(str(n), "solder", "A", "2026-03-03", 1.0), entry(str(n), "tighten", "B", "2026-03-04", 1.0)]
        again = [entry(str(n), "solder", "A", "2026-03-05", 1.0, rework=True), entry(str(n), "tighten", "B", "2026-03-06", 1.0, rework=True)]
        rows += again if n < sent_back else []
    seen = history(shop_of(orders=orders, labour=rows), AS_OF)
    return stage_yields(seen, seen.shop["orders"]["delivered_on"].notna(), least).set_index("stage")


def test_orders_sent_back_count_against_the_stage_they_go_back_to():
    """3 of 20 soldered again: 0.85."""
    assert yields(20, 3).loc["solder", "first_pass_yield"] == pytest.approx(0.85)


def test_passing_again_counts_against_nobody():
    """Tightening was passed twice and found the fault."""
    assert yields(20, 3).loc["tighten", "first_pass_yield"] == 1.0


def test_too_few_orders_tell_no_yield():
    """19 orders: null."""
    assert np.isnan(yields(19, 3).loc["solder", "first_pass_yield"])


def test_a_stage_never_passed_tells_no_yield():
    """No order was polished."""
    assert np.isnan(yields(20, 3).loc["polish", "first_pass_yield"])


def test_an_order_sent_back_twice_counts_once():
    """The yield counts orders, not returns."""
    rounds = [("solder", 3), ("tighten", 4), ("solder", 5), ("tighten", 6), ("solder", 9), ("tighten", 10)]
    rows = [entry("1", stage, "A", f"2026-03-{day:02d}", 1.0) for stage, day in rounds]
    seen = history(shop_of(orders=[order("1", delivered_on="2026-03-20")], labour=rows), AS_OF)
    assert stage_yields(seen, seen.shop["orders"]["delivered_on"].notna()).set_index("stage").loc["solder", "sent_back"] == 1


def test_unknown_yields_are_left_out_of_the_product():
    """0.9 × 0.8, one unknown."""
    assert rolled_yield([0.9, np.nan, 0.8]) == pytest.approx(0.72)


def test_no_yield_known():
    """Nothing known gives nothing."""
    assert np.isnan(rolled_yield([np.nan]))
