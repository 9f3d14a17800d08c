"""Loads of skills, standard hours and open orders. Values worked by hand; no source."""

from datetime import date

import pandas as pd
import pytest

from shoplib.costing import busiest_skill, cost, skill_loads
from tests.flow.shops import TOML, entry, order, shop_of

WEEK = date(2026, 3, 2), date(2026, 3, 8)
STANDARD = TOML.replace('name = "solder"', 'name = "solder"\nfixed_hours = 1\nhours_per_g = 0.1').replace('name = "roll"', 'name = "roll"\nfixed_hours = 2')
PRICES = [{"date": "2026-01-01", "metal": "gold", "price": 100.0, "per": "g", "currency": "EUR"}]
DONE = {"delivered_on": "2026-03-06", "finished_weight_g": 40.0}


def loads(*labour, toml=TOML, absences=()):
    shop = shop_of(toml, orders=[order("x", **DONE)], labour=labour, absences=absences)
    return skill_loads(shop, *WEEK).set_index("skill")


def test_load_is_booked_by_available():
    """A can roll and solder, 40 h: 10 of rolling leave 30 for soldering, of which 15 are booked."""
    table = loads(entry("x", "roll", "A", "2026-03-02", 10.0), entry("x", "solder", "A", "2026-03-03", 15.0))
    assert table.loc["solder", ["booked_h", "available_h", "load"]].tolist() == [15.0, 30.0, 0.5]


def test_hours_without_a_stage_are_elsewhere():
    """Eight hours of cleaning are not available for soldering."""
    assert loads(entry(None, None, "A", "2026-03-02", 8.0)).loc["solder", "available_h"] == 32.0


def test_absence_is_not_available():
    """A day away leaves 32 hours."""
    assert loads(absences=[{"worker": "A", "from": "2026-03-04", "to": "2026-03-04"}]).loc["solder", "available_h"] == 32.0


def test_entries_outside_the_stretch_do_not_count():
    """Work of the Sunday before is left out."""
    assert loads(entry("x", "solder", "A", "2026-03-01", 9.0)).loc["solder", "booked_h"] == 0


def test_stages_that_share_a_skill_share_its_load():
    """Two stages of one skill are one row."""
    toml = TOML.replace('name = "solder"', 'name = "solder"\nskill = "torch"').replace('name = "roll"', 'name = "roll"\nskill = "torch"')
    toml = toml.replace('skills = ["roll", "solder"]', 'skills = ["torch"]')
    table = loads(entry("x", "roll", "A", "2026-03-02", 10.0), entry("x", "solder", "A", "2026-03-03", 10.0), toml=toml)
    assert table.loc["torch", ["booked_h", "available_h", "load"]].tolist() == [20.0, 40.0, 0.5]


def test_a_person_without_skills_written_has_those_booked():
    """B's skills are told by what B did."""
    toml = TOML.replace('skills = ["tighten", "polish"]', "")
    assert loads(entry("x", "polish", "B", "2026-03-02", 10.0), toml=toml).loc["polish", "available_h"] == 40.0


def test_the_busiest_skill_has_the_highest_load():
    """Polishing 30 of 40, soldering 10 of 40."""
    shop = shop_of(orders=[order("x")], labour=[entry("x", "polish", "B", "2026-03-02", 30.0), entry("x", "solder", "A", "2026-03-02", 10.0)])
    assert busiest_skill(shop, *WEEK) == "polish"


def test_of_equal_loads_the_earlier_in_the_route_is_named():
    """Both skills 10 of 40."""
    shop = shop_of(orders=[order("x")], labour=[entry("x", "polish", "B", "2026-03-02", 10.0), entry("x", "solder", "A", "2026-03-02", 10.0)])
    assert busiest_skill(shop, *WEEK) == "solder"


def test_without_cards_standard_hours_of_what_was_delivered_tell():
    """2 hours of rolling, 1 + 0.1 × 40 = 5 of soldering."""
    assert loads(toml=STANDARD)["booked_h"].to_dict() == {"roll": 2.0, "solder": 5.0, "tighten": 0.0, "polish": 0.0}


def test_without_any_hours_no_skill_is_the_busiest():
    """No card and no standard: nothing is named."""
    assert busiest_skill(shop_of(orders=[order("x", **DONE)]), *WEEK) is None


def costing_of(orders, labour=(), toml=STANDARD, as_of=date(2026, 3, 31), **tables):
    return cost(shop_of(toml, orders=orders, labour=labour, metal_prices=PRICES, **tables), as_of, "solder")


def test_an_order_without_hours_takes_standard_hours_and_says_so():
    """7 standard hours at A's 20; marked standard, and a finding."""
    costing = costing_of([order("x", **DONE)])
    told = costing.orders[["hours", "labour", "hours_basis", "limiting_hours"]].iloc[0].tolist()
    assert told == [7.0, 140.0, "standard", 5.0]
    assert "standard_hours" in {found.code for found in costing.findings}


def test_an_order_with_a_card_keeps_its_own_hours():
    """One hour booked is what it took."""
    costing = costing_of([order("x", **DONE)], [entry("x", "roll", "A", "2026-03-03", 1.0)])
    assert costing.orders[["hours", "hours_basis"]].iloc[0].tolist() == [1.0, "booked"]


def test_moves_alone_are_no_hours():
    """Dates without hours leave the standard."""
    assert costing_of([order("x", **DONE)], [entry("x", "roll", "A", "2026-03-03")]).orders["hours"].tolist() == [7.0]


def test_a_repair_has_no_standard():
    """No hour on a repair's card: its labour is not told, which a finding says."""
    costing = costing_of([order("x", kind="repair", alloy=None, quoted_weight_g=None, delivered_on="2026-03-06")])
    assert (costing.orders["hours"].tolist(), "no_hours" in {found.code for found in costing.findings}) == ([0.0], True)


def test_standard_hours_count_as_booked_pay():
    """The wages of the standard hours are in the order, not again in unbooked pay: 22 days × 16 h × 20 − 140."""
    months = costing_of([order("x", **DONE)]).months
    assert months["unbooked_pay"].sum() == pytest.approx(7040.0 - 140.0)


def open_order(labour, orders=(), **cells):
    costing = costing_of([order("x", **cells), *orders], labour)
    return costing.open_orders.set_index("order_id").loc["x"]


def test_an_order_not_begun_is_expected_to_take_the_standard():
    """7 hours to come at 20, and loss by policy: 30 g fine × 3 ÷ 97 × (1 − 0.92 × 0.985) × 100."""
    found = open_order([])
    lost = 30 * 3 / 97 * (1 - 0.92 * 0.985) * 100
    assert found[["cost_so_far", "hours_to_finish", "expected_cost"]].tolist() == pytest.approx([0.0, 7.0, 140.0 + lost])


def test_stages_behind_an_order_are_not_to_come():
    """Rolled in 3 hours and soldered for 1 of 5: 4 are to come."""
    cards = [entry("x", "roll", "A", "2026-03-03", 3.0), entry("x", "solder", "A", "2026-03-04", 1.0)]
    assert open_order(cards)[["hours_so_far", "hours_to_finish"]].tolist() == pytest.approx([4.0, 4.0])


def test_more_hours_than_usual_at_its_stage_leave_none_to_come():
    """Soldered for 9 of 5 hours: 4 over, nothing to come; 11 h × 20 of 7 × 20 planned."""
    cards = [entry("x", "roll", "A", "2026-03-03", 2.0), entry("x", "solder", "A", "2026-03-04", 9.0)]
    found = open_order(cards)
    assert found["hours_to_finish"] == 0
    assert found["over_share"] == pytest.approx((found["planned_cost"] + 80.0) / found["planned_cost"] - 1.0)


def test_what_orders_of_the_style_took_lately_is_usual():
    """Five curbs soldered in 10 hours instead of 5: an open one is expected to take 10."""
    done = [order(f"d{n}", **DONE) for n in range(5)]
    cards = [entry(f"d{n}", "solder", "A", "2026-03-03", 10.0) for n in range(5)]
    assert open_order(cards, done)["hours_to_finish"] == pytest.approx(10.0)


def test_the_expected_margin_takes_metal_at_the_price_struck():
    """1,000 − 30 g × 100 − expected cost."""
    found = open_order([])
    assert found["expected_margin"] == pytest.approx(1000.0 - 3000.0 - found["expected_cost"])


def test_delivered_orders_are_not_open():
    """Only the open one stands in the table."""
    assert costing_of([order("x"), order("y", **DONE)]).open_orders["order_id"].tolist() == ["x"]


def repairs(many):
    """Return the open repair of a shop that did `many` repairs of 2 hours of soldering lately."""
    piece = {"kind": "repair", "alloy": None, "quoted_weight_g": None}
    done = [order(f"r{n}", delivered_on="2026-03-06", **piece) for n in range(many)]
    return open_order([entry(f"r{n}", "solder", "A", "2026-03-03", 2.0) for n in range(many)], done, **piece)


def test_a_repair_is_expected_to_take_what_repairs_take():
    """Five repairs of 2 hours: an open one is expected to take 2."""
    assert repairs(5)[["hours_to_finish", "expected_cost"]].tolist() == pytest.approx([2.0, 40.0])


def test_with_few_repairs_nothing_is_usual():
    """Four tell nothing: no share over is named."""
    assert pd.isna(repairs(4)["over_share"])
