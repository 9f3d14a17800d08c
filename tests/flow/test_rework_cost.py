"""What work done again costs. Values worked by hand; no source."""

from datetime import date

import numpy as np
import pytest

from shoplib.flow.rework_cost import NOT_NAMED, lost_grams, rework_table, with_delay
from shoplib.flow.visits import history

from .shops import AS_OF, TOML, entry, order, shop_of

MARCH = (date(2026, 3, 1), date(2026, 3, 31))
PRICES = [{"date": "2026-01-02", "metal": "gold", "price": 100.0, "currency": "EUR", "per": "g"}]
AGAIN = {"rework": True, "rework_cause": "broken link"}
CARDS = [
    entry("1", "solder", "A", "2026-03-03", 4.0), entry("1", "tighten", "B", "2026-03-04", 1.0),
    entry("1", "solder", "A", "2026-03-05", 1.5, weight_in_g=40.0, weight_out_g=39.9, solder_g=0.3, **AGAIN),
    entry("1", "tighten", "B", "2026-03-06", 0.5, rework=True),
]  # fmt: skip


def table(labour=CARDS, **options):
    """Return the rework table of March of a small shop."""
    return rework_table(history(shop_of(TOML, orders=[order("1")], labour=labour, metal_prices=PRICES), AS_OF), *MARCH, **options)


def test_a_return_carries_the_stages_passed_again():
    """One return of 1.5 h and half an hour of tightening again, in one row."""
    assert table()[["cause", "stage", "alloy", "returns", "hours"]].to_numpy().tolist() == [["broken link", "solder", "18k", 1, 2.0]]


def test_labour_is_hours_at_the_pay():
    """2 h at 20."""
    assert table()["labour"][0] == pytest.approx(40.0)


def test_metal_is_what_does_not_come_back():
    """0.4 g lost × 0.75 × 100 × (1 − half of it)."""
    assert table(returned_share=0.5)["metal"][0] == pytest.approx(0.4 * 0.75 * 100 * 0.5)


def test_metal_by_policy_where_nothing_is_measured():
    """Recovery 92 % of which the refiner keeps 1.5 %."""
    assert table()["metal"][0] == pytest.approx(0.4 * 0.75 * 100 * (1 - 0.92 * 0.985))


def test_half_the_visits_were_weighed():
    """Soldering was, tightening was not."""
    assert table()["weighed_share"][0] == 0.5


def test_cost_is_labour_and_metal():
    """The delay is not known from the past."""
    found = table(returned_share=0.5)
    assert found["cost"][0] == pytest.approx(40.0 + 15.0) and np.isnan(found["delay_contribution"][0])


def test_delay_is_added():
    """The simulator says 120."""
    found = with_delay(table(returned_share=0.5), {("broken link", "solder", "18k"): 120.0})
    assert found["cost"][0] == pytest.approx(175.0)


def test_a_cause_not_named_says_so():
    """Going back without a word on the card."""
    rows = [entry("1", s, "A", f"2026-03-{d:02d}", 1.0) for s, d in (("solder", 3), ("tighten", 4), ("solder", 5))]
    assert table(rows)["cause"].tolist() == [NOT_NAMED]


def test_no_rework_no_rows():
    """A table without rows keeps its columns."""
    found = table(CARDS[:2])
    assert not len(found) and "delay_contribution" in found


def test_no_cards_no_rows():
    """A shop that keeps no labour."""
    assert not len(table([]))


def test_a_cutting_stage_without_scrap_tells_no_loss():
    """What was cut off is not known to be lost."""
    toml = TOML.replace('name = "roll"', 'name = "roll"\ncuts = true')
    rows = [entry("1", "roll", "A", "2026-03-03", 1.0, weight_in_g=50.0, weight_out_g=40.0)]
    assert np.isnan(lost_grams(history(shop_of(toml, orders=[order("1")], labour=rows), AS_OF))[0])
