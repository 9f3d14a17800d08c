"""Where the shop stands on its curve. Values worked by hand; no source."""

from datetime import date

import pytest

from shoplib.flow.curves import Line
from shoplib.flow.shop_curve import shop_curve
from shoplib.flow.visits import history

from .shops import entry, order, shop_of

FORTNIGHT = (date(2026, 3, 2), date(2026, 3, 15))


def curve(orders, labour):
    """Return where a small shop stood over two weeks."""
    return shop_curve(history(shop_of(orders=orders, labour=labour), FORTNIGHT[1]), *FORTNIGHT)


ORDERS = [order(str(n), "2026-03-02", delivered_on="2026-03-12") for n in range(4)]
CARDS = [entry(str(n), "solder", "A", f"2026-03-{3 + n:02d}", 8.0) for n in range(4)]


def test_rate_is_output_at_full_load():
    """2 a week at a load of 32 ÷ 80: 5 a week."""
    assert curve(ORDERS, CARDS).line.rate == pytest.approx(5.0)


def test_raw_time_is_hours_in_weeks():
    """8 of 40 h."""
    assert curve(ORDERS, CARDS).line.raw_time == pytest.approx(0.2)


def test_without_delivery_there_is_no_curve():
    """Nothing went out."""
    assert curve([order("1")], CARDS[1:2]) is None


def test_without_hours_there_is_no_curve():
    """No card, no load."""
    assert curve(ORDERS, []) is None


def test_the_curve_lies_between_worst_and_best():
    """Practical worst case is never above best, never below worst."""
    table = Line(5.0, 0.4).curve(40)
    assert ((table["worst"] <= table["practical_worst"] + 1e-12) & (table["practical_worst"] <= table["best"] + 1e-12)).all()
