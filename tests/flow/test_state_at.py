"""Where open orders stood on a past day. Values worked by hand; no source."""

from datetime import date

import pandas as pd
import pytest

from shoplib.flow.state_at import state_at

from .shops import AS_OF, entry, order, shop_of
from .test_visits import random_shop

CARDS = [entry("1", "roll", "A", "2026-03-03 08:00 10:00"), entry("1", "solder", "A", "2026-03-04 08:00 12:00"), entry("1", "solder", "A", "2026-03-05 08:00 09:00"), entry("1", "tighten", "B", "2026-03-06 08:00 09:00")]  # fmt: skip


ONE = [order("1")]


def on(day, labour=CARDS, orders=ONE, **tables):
    """Return the state of a small shop in the evening of a day of March 2026."""
    return state_at(shop_of(orders=orders, labour=labour, **tables), date(2026, 3, day))


def test_a_running_visit_knows_the_hours_spent():
    """On the evening of the first day of soldering four hours are done."""
    assert on(4).loc[0, ["stage", "running", "hours"]].tolist() == ["solder", True, 4.0]


def test_a_running_visit_has_its_worker():
    """A has it on the bench."""
    assert on(4)["worker"][0] == "A"


def test_an_order_before_its_first_stage_waits_since_the_order_day():
    """Ordered on Monday, noon by convention."""
    assert on(2)["waiting_since"][0] == pd.Timestamp("2026-03-02 12:00")


def test_an_order_whose_visit_was_weighed_out_waits():
    """Rolled and weighed at ten."""
    found = on(3, [{**CARDS[0], "weight_out_g": 40.0}])
    assert found.loc[0, ["running", "waiting_since", "waiting_h"]].tolist() == [False, pd.Timestamp("2026-03-03 10:00"), 6.0]


def test_an_order_on_hold_says_since_when_and_why():
    """Held from Thursday on, no end known."""
    found = on(6, holds=[{"order_id": "1", "from": "2026-03-05", "why": "assay"}])
    assert found.loc[0, ["held", "held_since", "held_why"]].tolist() == [True, pd.Timestamp("2026-03-05"), "assay"]


def test_the_end_of_a_hold_is_not_known_before():
    """On the evening of 5 March a hold that ended on the 6th still lasts."""
    assert on(5, holds=[{"order_id": "1", "from": "2026-03-05", "to": "2026-03-06"}])["held"][0]


def test_a_hold_that_is_over_holds_no_more():
    """Held until Wednesday, seen on Thursday."""
    assert not on(5, holds=[{"order_id": "1", "from": "2026-03-04", "to": "2026-03-04"}])["held"][0]


def test_delivered_orders_are_not_open():
    """Delivered on Friday: open on Thursday, gone on Friday."""
    orders = [order("1", delivered_on="2026-03-06")]
    assert [len(on(day, orders=orders)) for day in (5, 6)] == [1, 0]


def test_cancelled_orders_are_not_open():
    """Called off on Friday."""
    assert len(on(6, orders=[order("1", cancelled_on="2026-03-06")])) == 0


def test_orders_to_come_are_not_known():
    """An order of the 9th is not there on the 6th."""
    assert on(6, orders=[order("1"), order("2", "2026-03-09")])["order_id"].tolist() == ["1"]


def test_hours_so_far_are_all_hours_on_the_order():
    """2 h rolled and 4 h soldered."""
    assert on(4)["hours_so_far"][0] == 6.0


@pytest.mark.parametrize("seed", range(6))
def test_every_open_order_stands_once(seed):
    """As many rows as orders that are open."""
    shop = random_shop(seed)
    found = state_at(shop, AS_OF)
    assert found["order_id"].tolist() == shop["orders"]["order_id"].tolist()


@pytest.mark.parametrize("seed", range(6))
def test_an_order_runs_or_waits(seed):
    """Whatever is on no bench waits since some moment not after now."""
    found = state_at(random_shop(seed), AS_OF)
    assert (found["running"] == found["waiting_since"].isna()).all() and (found["waiting_h"].dropna() >= 0).all()
