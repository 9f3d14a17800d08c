"""Costed labour on cards of a few lines. Values worked by hand; no source."""

from datetime import date

import numpy as np
import pandas as pd
import pytest

from shoplib.costing.calendar import working_calendar
from shoplib.costing.labour import costed, entries, mark_rework, pay_of, visits
from shoplib.costing.order_labour import labour_of, shared_work
from tests.flow.shops import TOML, entry, order, shop_of

EARLIER = """
[[workers]]
code = "C"
wage_per_hour = 30
on_costs_percent = 20
pay = [{ from = 2026-01-01, wage_per_hour = 28 }, { from = 2026-03-04, wage_per_hour = 30 }]
[[workers]]
code = "O"
wage_per_hour = 50
owner = true
"""
ORDERS = [order("x", finished_weight_g=30.0, delivered_on="2026-03-20"), order("y", finished_weight_g=10.0, delivered_on="2026-03-20")]


def costed_entries(*labour, toml=TOML + EARLIER, absences=(), first=date(2026, 3, 2), last=date(2026, 3, 29)):
    """Return the entries costed, with their order's id."""
    shop = shop_of(toml, orders=ORDERS, labour=labour, absences=absences)
    frame = entries(shop["labour"], shop["orders"], shop.settings)
    calendar = working_calendar(shop.settings, shop["absences"], first, last)
    return costed(frame, calendar, pay_of(shop.settings, calendar))


def test_an_hour_costs_the_pay_of_its_day_with_on_costs():
    """28 × 1.2 before 4 March, 30 × 1.2 from that day."""
    table = costed_entries(entry("x", "roll", "C", "2026-03-03", 2.0), entry("x", "solder", "C", "2026-03-04", 2.0))
    assert table["cost"].tolist() == pytest.approx([67.2, 72.0])


def test_a_worker_unknown_to_the_settings_costs_the_mean_of_those_employed():
    """A 20, B 20, C 36, O 50: the mean is 31.50."""
    assert costed_entries(entry("x", "roll", "Z", "2026-03-04", 1.0))["cost"].tolist() == pytest.approx([31.5])


def test_hours_of_a_clock_are_taken_where_no_hours_are_written():
    """From 8:00 to 11:30 are 3.5 hours."""
    assert costed_entries(entry("x", "roll", "A", "2026-03-03 08:00 11:30"))["hours"].tolist() == [3.5]


def test_hours_written_win_over_the_clock():
    """2 hours written between 8:00 and 11:30 are 2 hours of work."""
    assert costed_entries(entry("x", "roll", "A", "2026-03-03 08:00 11:30", 2.0))["hours"].tolist() == [2.0]


def test_a_move_costs_nothing():
    """A date without hours is flow, not cost."""
    assert costed_entries(entry("x", "roll", "A", "2026-03-03"))["cost"].tolist() == [0.0]


def test_hours_of_a_melt_are_split_by_weight():
    """30 g and 10 g share 2 hours as 1.5 and 0.5."""
    table = costed_entries(entry("x; y", "roll", "A", "2026-03-03", 2.0))
    assert table.sort_values("order")["hours"].tolist() == pytest.approx([1.5, 0.5])


def test_overtime_is_what_exceeds_the_own_hours_of_the_week():
    """43 hours in a week of 40 are 3 of overtime, spread by hours."""
    table = costed_entries(*(entry("x", "roll", "A", f"2026-03-0{day}", 8.6) for day in range(2, 7)))
    assert table["overtime_h"].tolist() == pytest.approx([0.6] * 5)


def test_long_days_in_a_short_week_are_no_overtime():
    """Two days of 12 hours and none on the others stay under 40."""
    table = costed_entries(entry("x", "roll", "A", "2026-03-02", 12.0), entry("x", "roll", "A", "2026-03-03", 12.0))
    assert table["overtime_h"].sum() == 0


def test_a_paid_holiday_counts_as_worked():
    """Easter Monday 2026 (6 April) with 36 hours on the other four days: 8 + 36 − 40 = 4 of overtime."""
    toml = TOML.replace("[calendar]", '[calendar]\nholidays = "AT"')
    days = [entry("x", "roll", "A", f"2026-04-{day:02}", 9.0) for day in range(7, 11)]
    assert costed_entries(*days, toml=toml, last=date(2026, 4, 12))["overtime_h"].sum() == pytest.approx(4.0)


def test_an_absence_counts_as_worked():
    """A day away and 9 hours on the other four: 8 + 36 − 40 = 4 of overtime."""
    days = [entry("x", "roll", "A", f"2026-03-0{day}", 9.0) for day in range(3, 7)]
    away = [{"worker": "A", "from": "2026-03-02", "to": "2026-03-02"}]
    assert costed_entries(*days, absences=away)["overtime_h"].sum() == pytest.approx(4.0)


def test_hours_booked_on_a_day_of_absence_fill_it_up():
    """Half a day away: 4 hours booked on it and 8 on the others are a full week, not overtime."""
    days = [entry("x", "roll", "A", f"2026-03-0{day}", 8.0 if day > 2 else 4.0) for day in range(2, 7)]
    away = [{"worker": "A", "from": "2026-03-02", "to": "2026-03-02"}]
    assert costed_entries(*days, absences=away)["overtime_h"].sum() == 0


def test_the_premium_is_the_multiple_less_one():
    """3 hours above the week at 20 an hour and 1.5 times: 30 of premium."""
    table = costed_entries(*(entry("x", "roll", "A", f"2026-03-0{day}", 8.6) for day in range(2, 7)))
    assert table["premium"].sum() == pytest.approx(30.0)


def test_an_owner_earns_no_premium():
    """A stand-in's wage is a cost of the hours, the owner's long week is not paid extra."""
    table = costed_entries(*(entry("x", "roll", "O", f"2026-03-0{day}", 12.0) for day in range(2, 7)))
    assert (table["premium"].sum(), table["cost"].sum()) == (0.0, 3000.0)


def labour_table(*labour, grams=(32.0, 12.0), limiting=("solder",)):
    frame = costed_entries(*labour)
    shared, unborne = shared_work(frame, np.array(grams), np.datetime64("2026-03"), 1)
    at = np.array([stage in limiting for stage in ("roll", "solder", "tighten", "polish")] + [False])
    return labour_of(frame, shared, at), unborne


def test_shared_work_goes_by_grams_worked():
    """100 of cleaning over 32 g and 12 g worked this month."""
    table, _ = labour_table(
        entry(None, None, "A", "2026-03-03", 5.0), entry("x", "roll", "A", "2026-03-03", 1.0), entry("y", "roll", "A", "2026-03-03", 1.0)
    )
    assert table["shared_labour"].tolist() == pytest.approx([100 * 32 / 44, 100 * 12 / 44])


def test_shared_work_of_a_month_without_orders_is_borne_by_none():
    """100 of cleaning and no work on any order: nothing is shared out, all is told."""
    table, unborne = labour_table(entry(None, None, "A", "2026-03-03", 5.0))
    assert (table["labour"].sum(), unborne.tolist()) == (0.0, [100.0])


def test_rework_stands_apart_and_its_premium_in_labour():
    """44 hours in a week, 4 of them rework: 40 × 20 + 40 of premium, and 80 of rework."""
    days = [entry("x", "roll", "A", f"2026-03-0{day}", 10.0) for day in range(2, 6)]
    table, _ = labour_table(*days, entry("x", "solder", "A", "2026-03-06", 4.0, rework=True))
    assert table.loc[0, ["labour", "rework_labour", "overtime_premium"]].tolist() == pytest.approx([840.0, 80.0, 40.0])


def test_limiting_hours_hold_rework_at_the_limiting_stage():
    """3 hours of soldering and 1 of soldering again are 4 limiting hours; rolling is none."""
    table, _ = labour_table(
        entry("x", "roll", "A", "2026-03-02", 2.0),
        entry("x", "solder", "A", "2026-03-03", 3.0),
        entry("x", "solder", "A", "2026-03-04", 1.0, rework=True),
    )
    assert table.loc[0, ["hours", "first_hours", "limiting_hours"]].tolist() == [6.0, 5.0, 4.0]


def rework_of(*labour, toml=TOML):
    shop = shop_of(toml, orders=ORDERS, labour=labour)
    frame = entries(shop["labour"], shop["orders"], shop.settings)
    frame, basis = mark_rework(frame, visits(frame), shop.settings)
    return frame["rework"].tolist(), basis


BACK = [entry("x", stage, "A", f"2026-03-0{day}", 1.0) for day, stage in enumerate(["solder", "tighten", "solder", "tighten"], 2)]


def test_work_back_at_a_stage_is_rework_where_none_is_marked():
    """Soldered, tightened, soldered and tightened again: both second visits are rework."""
    assert rework_of(*BACK) == ([False, False, True, True], "inferred")


def test_a_mark_anywhere_means_that_rework_is_marked():
    """With one entry marked, the others are first work."""
    marked = [*BACK[:2], BACK[2] | {"rework": True}, BACK[3]]
    assert rework_of(*marked) == ([False, False, True, False], "flag")


def test_links_redone_on_a_second_visit_are_rework():
    """Broken links counted on the second soldering mark it, and only it."""
    counted = [*BACK[:2], BACK[2] | {"links_redone": 2}, BACK[3]]
    assert rework_of(*counted) == ([False, False, True, False], "links_redone")


def test_expected_visits_are_no_rework():
    """Soldering that usually takes two visits is not rework on the second."""
    toml = TOML.replace('name = "solder"', 'name = "solder"\nexpected_visits = 2').replace('name = "tighten"', 'name = "tighten"\nexpected_visits = 2')
    assert rework_of(*BACK, toml=toml) == ([False] * 4, "none")


def test_a_stage_that_only_means_work_done_again_is_rework():
    """rework_of names the stage whose work is repeated."""
    toml = TOML + '[[stages]]\nname = "mend"\nrework_of = "solder"\n'
    assert rework_of(entry("x", "mend", "A", "2026-03-02", 1.0), toml=toml) == ([True], "flag")


def test_a_missing_wage_takes_the_mean_of_the_others():
    """A 20 and B 20: D without a wage costs 20."""
    table = costed_entries(entry("x", "roll", "D", "2026-03-03", 1.0), toml=TOML + '[[workers]]\ncode = "D"\n')
    assert table["cost"].tolist() == [20.0]


def test_a_shop_without_wages_costs_nothing():
    """No wage anywhere: cost 0, which a finding tells."""
    toml = TOML.replace("wage_per_hour = 20", "")
    assert costed_entries(entry("x", "roll", "A", "2026-03-03", 1.0), toml=toml)["cost"].tolist() == [0.0]


def test_an_empty_card_gives_an_empty_table():
    """No entry: no row, all columns."""
    table = costed_entries()
    assert (len(table), {"cost", "premium", "overtime_h", "rate"} <= set(table)) == (0, True)


def test_days_are_those_of_the_finish():
    """Work over midnight exists from the day on which it ended."""
    row = {"order_id": "x", "stage": "roll", "worker": "A", "start": "2026-03-03 22:00", "finish": "2026-03-04 01:00"}
    assert costed_entries(row)["day"].tolist() == [pd.Timestamp("2026-03-04")]
