"""Visits from job cards. Small shops written by hand, values worked by hand; no source."""

from dataclasses import replace
from datetime import date

import numpy as np
import pandas as pd
import pytest

from shoplib.flow.visits import history, visits

from .shops import AS_OF, entry, order, shop_of


def of(labour, orders=None, as_of=AS_OF, **tables):
    """Return the visits of a small shop with order 1 unless others are named."""
    return visits(shop_of(orders=orders or [order("1")], labour=labour, **tables), as_of)


def test_entries_of_several_days_are_one_visit():
    """Three days at a stage with no other stage between are one visit of their hours together."""
    found = of([entry("1", "solder", "A", f"2026-03-0{day}", 4.0) for day in (3, 4, 5)])
    assert found["hours"].tolist() == [12.0]


def test_another_stage_between_parts_visits():
    """Solder, tighten, solder are three visits."""
    found = of([entry("1", s, "A", f"2026-03-0{day}", 2.0) for day, s in ((3, "solder"), (4, "tighten"), (5, "solder"))])
    assert found["stage"].tolist() == ["solder", "tighten", "solder"]


def test_rework_starts_a_visit_of_its_own():
    """Work done again at the same stage is a new visit."""
    found = of([entry("1", "solder", "A", "2026-03-03", 4.0), entry("1", "solder", "A", "2026-03-04", 1.0, rework=True)])
    assert found["number"].tolist() == [1, 2]


def test_rework_of_two_days_is_one_visit():
    """A second day of the same rework goes on with it."""
    again = [entry("1", "solder", "A", f"2026-03-0{day}", 1.0, rework=True) for day in (4, 5)]
    assert of([entry("1", "solder", "A", "2026-03-03", 4.0), *again])["hours"].tolist() == [4.0, 2.0]


def test_a_blank_stage_is_passed_over():
    """An entry without a stage neither parts a visit nor adds to it."""
    found = of([entry("1", "solder", "A", "2026-03-03", 4.0), entry("1", None, "A", "2026-03-04", 1.0), entry("1", "solder", "A", "2026-03-05", 2.0)])
    assert found["hours"].tolist() == [6.0]


def test_shared_work_is_no_visit():
    """Cleaning, booked to no order, leaves no visit."""
    assert not len(of([entry(None, "solder", "A", "2026-03-03", 4.0)]))


def test_dates_only_go_in_route_order():
    """Rows of one day without a clock stand in route order however they were written."""
    found = of([entry("1", s, "A", "2026-03-03", 2.0) for s in ("tighten", "roll", "solder")])
    assert found["stage"].tolist() == ["roll", "solder", "tighten"]


def test_dates_only_put_rework_after():
    """The soldering done again comes after the tightening that found the fault."""
    rows = [entry("1", "solder", "A", "2026-03-03", 1.0, rework=True), entry("1", "solder", "A", "2026-03-03", 3.0), entry("1", "tighten", "B", "2026-03-03", 1.0)]
    assert of(rows)["stage"].tolist() == ["solder", "tighten", "solder"]


def test_the_clock_goes_before_the_route():
    """With clock times the sequence is theirs."""
    rows = [entry("1", "solder", "A", "2026-03-03 13:00 14:00"), entry("1", "tighten", "B", "2026-03-03 09:00 10:00")]
    assert of(rows)["stage"].tolist() == ["tighten", "solder"]


def test_hours_are_the_work_where_clock_and_hours_both_stand():
    """The clock only orders the visits: 3 h booked between 9 and 15 are 3 h."""
    assert of([entry("1", "roll", "A", "2026-03-03 09:00 15:00", 3.0)])["hours"].tolist() == [3.0]


def test_hours_come_from_the_clock_where_none_stand():
    """9:00 to 11:30 is 2.5 h."""
    assert of([entry("1", "roll", "A", "2026-03-03 09:00 11:30")])["hours"].tolist() == [2.5]


def test_a_move_has_no_hours():
    """A date without hours tells when the order was there, not how long it took."""
    assert np.isnan(of([entry("1", "roll", "A", "2026-03-03")])["hours"][0])


def test_a_shared_melt_is_split_by_weight():
    """Orders of 30 and 90 g share four hours one to three."""
    orders = [order("1", quoted_weight_g=30.0), order("2", quoted_weight_g=90.0)]
    assert of([entry("1; 2", "roll", "A", "2026-03-03", 4.0)], orders)["hours"].tolist() == [1.0, 3.0]


def test_the_wait_of_a_first_visit_counts_from_the_order_day():
    """Ordered on Monday (noon), begun on Tuesday at ten: four hours and two."""
    assert of([entry("1", "roll", "A", "2026-03-03 10:00 11:00")])["queue_h"].tolist() == pytest.approx([6.0])


def test_the_wait_counts_from_the_end_of_the_visit_before():
    """Rolled until eleven, soldered from one: two hours in the queue."""
    found = of([entry("1", "roll", "A", "2026-03-03 10:00 11:00"), entry("1", "solder", "A", "2026-03-03 13:00 15:00")])
    assert found["queue_h"][1] == pytest.approx(2.0)


def test_holds_are_no_queue():
    """Of a wait from Monday noon to Thursday noon, a Tuesday and Wednesday on hold leave one day."""
    hold = {"order_id": "1", "from": "2026-03-03", "to": "2026-03-04"}
    found = of([entry("1", "roll", "A", "2026-03-05 12:00 13:00")], holds=[hold])
    assert (found["queue_h"][0], found["held_days"][0]) == pytest.approx((8.0, 2.0))


def test_holds_that_overlap_count_once():
    """Two holds over the same Tuesday take one day from the wait."""
    holds = [{"order_id": "1", "from": "2026-03-03", "to": "2026-03-03", "why": why} for why in ("part", "customer")]
    assert of([entry("1", "roll", "A", "2026-03-04 12:00 13:00")], holds=holds)["queue_h"][0] == pytest.approx(8.0)


def test_dates_only_wait_right_on_average():
    """Two 4 h visits a day apart, laid in the middle of their days (10:00 to 14:00), are two hours and two apart."""
    found = of([entry("1", "roll", "A", "2026-03-03", 4.0), entry("1", "solder", "A", "2026-03-04", 4.0)])
    assert found["queue_h"][1] == pytest.approx(4.0)


def test_the_last_visit_of_an_open_order_runs():
    """Nothing says that the work at hand has ended."""
    assert of([entry("1", "roll", "A", "2026-03-27", 4.0)])["running"].tolist() == [True]


def test_a_weight_out_ends_a_visit():
    """Weighed after the stage: over."""
    assert not of([entry("1", "roll", "A", "2026-03-27", 4.0, weight_out_g=39.5)])["running"][0]


def test_a_delivery_ends_a_visit():
    """What was delivered is on no bench."""
    assert not of([entry("1", "roll", "A", "2026-03-26", 4.0)], [order("1", delivered_on="2026-03-27")])["running"][0]


def test_a_worker_who_begins_another_has_ended_the_one_before():
    """A works on order 2 the day after order 1: order 1 is over, order 2 runs."""
    rows = [entry("1", "roll", "A", "2026-03-26", 4.0), entry("2", "roll", "A", "2026-03-27", 4.0)]
    assert of(rows, [order("1"), order("2")])["running"].tolist() == [False, True]


def test_another_worker_ends_nothing():
    """B begins order 2; order 1 is still on A's bench."""
    rows = [entry("1", "roll", "A", "2026-03-26", 4.0), entry("2", "tighten", "B", "2026-03-27", 4.0)]
    assert of(rows, [order("1"), order("2")])["running"].tolist() == [True, True]


def test_what_was_in_hand_is_done_before_what_begins_that_day():
    """Without a clock, order 2 in hand since yesterday ends before order 1 begins today."""
    rows = [entry("2", "roll", "A", "2026-03-26", 4.0), entry("1", "roll", "A", "2026-03-27", 4.0), entry("2", "roll", "A", "2026-03-27", 4.0)]
    assert of(rows, [order("1"), order("2")])["running"].tolist() == [True, False]


def test_orders_of_one_melt_do_not_end_each_other():
    """Both orders of a shared melt are in hand until it ends."""
    assert of([entry("1; 2", "roll", "A", "2026-03-27", 4.0)], [order("1"), order("2")])["running"].tolist() == [True, True]


def test_rows_of_the_future_are_not_seen():
    """On 3 March only what was written by then exists, and the visit of that day runs."""
    rows = [entry("1", "roll", "A", "2026-03-03", 4.0), entry("1", "roll", "A", "2026-03-04", 4.0), entry("1", "solder", "A", "2026-03-05", 1.0)]
    found = of(rows, [order("1", delivered_on="2026-03-06")], date(2026, 3, 3))
    assert (found["hours"].tolist(), found["running"].tolist()) == ([4.0], [True])


def test_work_after_delivery_has_waited_for_no_bench():
    """A chain that comes back from its owner was in no queue."""
    rows = [entry("1", "solder", "A", "2026-03-03", 4.0), entry("1", "solder", "A", "2026-03-20", 1.0)]
    found = of(rows, [order("1", delivered_on="2026-03-05")])
    assert found["later"].tolist() == [False, True] and np.isnan(found["queue_h"][1])


def test_the_worker_of_a_visit_is_the_one_who_worked_most():
    """One hour of A and three of B: B, and two people."""
    found = of([entry("1", "roll", "A", "2026-03-03", 1.0), entry("1", "roll", "B", "2026-03-04", 3.0)])
    assert (found["worker"][0], found["workers"][0]) == ("B", 2)


def test_weights_are_the_first_in_and_the_last_out():
    """Given out at 41 g, back at 39 g."""
    rows = [entry("1", "roll", "A", "2026-03-03", 1.0, weight_in_g=41.0), entry("1", "roll", "A", "2026-03-04", 3.0, weight_in_g=40.0, weight_out_g=39.0)]
    assert of(rows)[["weight_in_g", "weight_out_g"]].iloc[0].tolist() == [41.0, 39.0]


def test_an_empty_shop_has_no_visits():
    """Orders without a job card leave an empty table with every column."""
    found = of([])
    assert not len(found) and "queue_h" in found


def test_the_rest_of_the_table_keeps_its_place():
    """`order` is the row of the orders known by then: order 2, taken earlier, stays the second row."""
    shop = shop_of(orders=[order("1", "2026-03-20"), order("2")], labour=[entry("2", "roll", "A", "2026-03-03", 1.0)])
    seen = history(shop, date(2026, 3, 10))
    assert seen.shop["orders"]["order_id"][seen.visits["order"][0]] == "2"


def random_shop(seed):
    """Return a shop of six orders and forty entries at random, half of them by the clock."""
    luck = np.random.default_rng(seed)
    orders = [order(str(n), f"2026-03-{luck.integers(1, 10):02d}") for n in range(6)]
    rows = []
    for _ in range(40):
        day, stage = f"2026-03-{luck.integers(10, 28):02d}", luck.choice(["roll", "solder", "tighten", "polish"])
        clock = f" {luck.integers(8, 12):02d}:00 {luck.integers(12, 16):02d}:00" if luck.random() < 0.5 else ""
        rows.append(entry(str(luck.integers(0, 6)), stage, luck.choice(["A", "B"]), day + clock, float(luck.integers(1, 4)), rework=bool(luck.random() < 0.2)))
    return shop_of(orders=orders, labour=rows)


@pytest.mark.parametrize("seed", range(8))
def test_no_hour_is_lost_or_made(seed):
    """The hours of all visits are those of all entries."""
    shop = random_shop(seed)
    assert visits(shop, AS_OF)["hours"].sum() == pytest.approx(shop["labour"]["hours"].sum())


@pytest.mark.parametrize("seed", range(8))
def test_each_open_order_has_one_running_visit_at_most(seed):
    """Only the last visit of an order can be running."""
    found = visits(random_shop(seed), AS_OF)
    last = found.groupby("order")["visit"].transform("max") == found["visit"]
    assert not (found["running"] & ~last).any()


@pytest.mark.parametrize("seed", range(8))
def test_each_person_runs_one_visit_at_most(seed):
    """A pair of hands is at one piece."""
    found = history(random_shop(seed), AS_OF)
    last = found.entries.drop_duplicates("visit", keep="last")["worker"].to_numpy()[found.visits["running"].to_numpy()]
    assert len(set(last)) == len(last)


@pytest.mark.parametrize("seed", range(8))
def test_the_past_does_not_move(seed):
    """Rows dated later change no visit seen on an earlier day."""
    shop, day = random_shop(seed), date(2026, 3, 18)
    early = shop["labour"]["date"] <= pd.Timestamp(day)
    cut = replace(shop, tables={**shop.tables, "labour": shop["labour"][early].reset_index(drop=True)})
    pd.testing.assert_frame_equal(visits(shop, day), visits(cut, day))
