"""From the margins of a month down to its result, and overheads. Values worked by hand; no source."""

from datetime import date

import numpy as np
import pytest

from shoplib.costing import cost
from shoplib.costing.months import overheads_by_month
from tests.flow.shops import TOML, entry, order, shop_of, table_of

MARCH = {"delivered_on": "2026-03-20", "finished_weight_g": 30.0, "quoted_weight_g": 30.0}
AS_OF = date(2026, 3, 31)


def months_of(orders=None, labour=(), toml=TOML, as_of=AS_OF, **tables):
    """Return the months, by name, of a shop that opens on Monday 2 March 2026 and delivers one order unless told otherwise."""
    prices = [{"date": "2026-01-01", "metal": "gold", "price": 100.0, "per": "g", "currency": "EUR"}]
    shop = shop_of(toml, orders=orders or [order("x", **MARCH)], labour=labour, metal_prices=prices, **tables)
    return cost(shop, as_of, "solder").months.set_index("month")


def test_unbooked_pay_is_paid_hours_less_booked_labour():
    """22 working days of 8 h, two people at 20: 7,040; 10 hours booked leave 6,840."""
    assert months_of(labour=[entry("x", "solder", "A", "2026-03-03", 10.0)]).loc["2026-03", "unbooked_pay"] == pytest.approx(6840.0)


def test_unpaid_absence_is_not_paid():
    """B is away without pay for a week of 40 h: 800 less."""
    away = [{"worker": "B", "from": "2026-03-09", "to": "2026-03-15", "paid": False}]
    assert months_of(absences=away).loc["2026-03", "unbooked_pay"] == pytest.approx(7040.0 - 800.0)


def test_overtime_is_paid_and_booked():
    """A books 44 hours in a week, all on an order: 4 hours more are paid, 44 are booked; the premium is in the order."""
    days = [entry("x", "solder", "A", f"2026-03-0{day}", 8.8) for day in range(2, 7)]
    assert months_of(labour=days).loc["2026-03", "unbooked_pay"] == pytest.approx(7040.0 + 80.0 - 880.0)


def test_the_owners_wage_is_shown_apart_and_not_in_unbooked_pay():
    """A is the owner: only B's 3,520 are paid; 10 hours at a stand-in's 20 are in the margin."""
    toml = TOML.replace('code = "A"', 'code = "A"\nowner = true')
    march = months_of(labour=[entry("x", "solder", "A", "2026-03-03", 10.0)], toml=toml).loc["2026-03"]
    assert march[["unbooked_pay", "owner_labour"]].tolist() == pytest.approx([3520.0, 200.0])


def test_people_are_paid_up_to_the_last_day_that_counts():
    """To Friday 13 March: 10 days of 8 h, two people at 20."""
    assert months_of(as_of=date(2026, 3, 13)).loc["2026-03", ["unbooked_pay", "partial"]].tolist() == [3200.0, True]


def test_a_whole_month_is_not_partial():
    """The last day of March closes it."""
    assert not months_of().loc["2026-03", "partial"]


def test_a_month_without_deliveries_has_a_row():
    """Ordered in March, delivered in May: April stands with no order."""
    late = order("x", delivered_on="2026-05-04", finished_weight_g=30.0)
    assert months_of([late], as_of=date(2026, 5, 31)).loc["2026-04", "orders"] == 0


def test_result_takes_everything():
    """Price 1,000 − metal 2,250 − lost 2,250 ÷ 97 × 3 × (1 − 0.92 × 0.985), wages 7,040 and rent 500, with no hour booked."""
    rent = [{"month": "2026-03-01", "item": "rent", "amount": 500.0}]
    lost = 2250 * 3 / 97 * (1 - 0.92 * 0.985)
    assert months_of(overheads=rent).loc["2026-03", "result"] == pytest.approx(1000 - 2250 - lost - 7040 - 500)


OVERHEADS = [
    {"month": "2026-02-01", "item": "repair", "amount": 70.0},
    {"month_from": "2025-12-01", "month_to": "2026-02-28", "item": "rent", "amount": 100.0},
    {"month_from": "2026-03-01", "month_to": "2026-12-31", "item": "rent", "amount": 110.0},
    {"month": "2025-06-01", "item": "long ago", "amount": 999.0},
]


def test_overheads_that_recur_stand_in_each_of_their_months():
    """January 100, February 170, March 110; what lies before the first month is left out."""
    found = overheads_by_month(table_of("overheads", OVERHEADS), np.datetime64("2026-01-15"), 3)
    assert found.tolist() == pytest.approx([100.0, 170.0, 110.0])


def test_overheads_are_absorbed_by_limiting_hours_over_normal_hours():
    """A alone can solder: 176 present hours in March and 500 of rent; an order with 11 hours of soldering absorbs a sixteenth."""
    rent = [{"month": "2026-03-01", "item": "rent", "amount": 500.0}]
    march = months_of(labour=[entry("x", "solder", "A", "2026-03-03", 11.0)], overheads=rent).loc["2026-03"]
    assert march["overheads_absorbed"] == pytest.approx(500 * 11 / 176)


def test_overheads_may_be_absorbed_by_all_hours():
    """Two people have 352 hours; 11 of soldering and 11 of polishing absorb a sixteenth."""
    rent = [{"month": "2026-03-01", "item": "rent", "amount": 500.0}]
    cards = [entry("x", "solder", "A", "2026-03-03", 11.0), entry("x", "polish", "B", "2026-03-04", 11.0)]
    march = months_of(labour=cards, toml=TOML + '[policy]\noverheads_by = "labour_hours"', overheads=rent).loc["2026-03"]
    assert march["overheads_absorbed"] == pytest.approx(500 / 16)


def test_an_order_called_off_costs_its_month():
    """Two hours at 20, no deposit: −40 in March, and no order delivered."""
    off = order("x", cancelled_on="2026-03-20", quoted_weight_g=None, kind="repair", alloy=None)
    march = months_of([off], labour=[entry("x", "solder", "A", "2026-03-03", 2.0)]).loc["2026-03"]
    assert march[["cancelled", "orders"]].tolist() == [-40.0, 0.0]


def test_fine_grams_count_customers_metal_too():
    """What leaves the bench is 22.5 g fine, whoever owns it."""
    theirs = order("x", metal_terms="customer_metal", **MARCH)
    assert months_of([theirs]).loc["2026-03", "fine_g"] == pytest.approx(22.5)
