"""Attendance: who owed, booked and could have worked on what, day by day."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from shoplib.flow.visits import history
from shoplib.workshop.attendance import attendance_of, employed_of, serving, with_booked_skills
from shoplib.workshop.axes import axes_of
from shoplib.workshop.cards import Cards, cards_of, waits_of
from shoplib.workshop.presence import Attendance
from tests.flow.shops import AS_OF, TOML, entry, order, shop_of


def seen(labour: list[Any], orders: list[Any] | None = None, toml: str = TOML, **tables: Any) -> tuple[Cards, Attendance]:
    shop = shop_of(toml, orders=orders or [order("A1"), order("A2"), order("A3")], labour=labour, **tables)
    cards = cards_of(history(shop, AS_OF), axes_of(shop))
    return cards, attendance_of(cards, waits_of(cards), employed_of(cards), serving(cards, with_booked_skills(cards)))


def test_booked_hours_stand_on_their_day() -> None:
    """Two entries of A on the first Monday, 3 h and 2 h: 5 of 8 h."""
    _, told = seen([entry("A1", "roll", "A", "2026-03-02", 3.0), entry("A2", "roll", "A", "2026-03-02", 2.0)])
    assert told.booked_h[0, 0] == 5.0 and told.own_h[0, 0] == 8.0


def test_overlapping_entries_count_once_as_presence() -> None:
    """Two cards run by the clock from 8 to 11 and from 9 to 12: four hours, not six."""
    _, told = seen([entry("A1", "roll", "A", "2026-03-02 08:00 11:00"), entry("A2", "roll", "A", "2026-03-02 09:00 12:00")])
    assert told.booked_h[0, 0] == pytest.approx(4.0)


def test_overtime_is_no_presence() -> None:
    """Ten hours booked on a day of eight count as eight."""
    _, told = seen([entry("A1", "roll", "A", "2026-03-02", 10.0)])
    assert told.booked_h[0, 0] == 8.0


def test_two_orders_that_wait_all_day_are_waiting_work() -> None:
    """Rolled on Monday, soldered on Friday: from Tuesday to Thursday work waited for A all day long; one order alone would not do."""
    rows = [entry(code, "roll", "A", "2026-03-02", 1.0) for code in ("A1", "A2", "A3")]
    rows += [entry(code, "solder", "A", "2026-03-06", 1.0) for code in ("A1", "A2")] + [entry("A3", "solder", "A", "2026-03-03", 1.0)]
    _, told = seen(rows)
    assert told.never_empty[0, :5].tolist() == [False, True, True, True, False]
    assert not told.never_empty[1, :4].any(), "B does not solder"


def test_a_visit_in_hand_is_waiting_work() -> None:
    """Soldering begun on Monday and gone on with on Wednesday: on Tuesday and Wednesday work lay on the bench."""
    _, told = seen([entry("A1", "solder", "A", "2026-03-02", 8.0), entry("A1", "solder", "A", "2026-03-04", 2.0)])
    assert told.waited[0, :3].tolist() == [False, True, True]


def test_a_skill_is_served_from_its_first_entry() -> None:
    """A solders from the 9th on: before, the solder queue did not wait for A."""
    cards, _ = seen([entry("A1", "roll", "A", "2026-03-02", 1.0), entry("A2", "solder", "A", "2026-03-09", 1.0)])
    told = serving(cards, with_booked_skills(cards))
    assert told[0, 1] == np.datetime64("2026-03-09", "D").astype(float) and np.isinf(told[1]).all()


def test_work_booked_without_the_skill_gives_the_skill() -> None:
    """B books solder for a tenth of the hours: taken to be able to."""
    cards, _ = seen([entry("A1", "polish", "B", "2026-03-02", 7.0), entry("A2", "solder", "B", "2026-03-03", 1.0)])
    assert with_booked_skills(cards)[1].tolist() == [False, True, True, True]


def test_who_begins_late_is_not_absent_before() -> None:
    """First entry of B after a hundred days: with the shop since then; A since ever."""
    orders = [order("A1", "2025-10-01"), order("A2", "2025-10-01"), order("A3", "2025-10-01")]
    days = [str(d) for d in np.arange(np.datetime64("2025-10-01"), np.datetime64("2026-03-27")) if np.is_busday(d)]
    rows = [entry("A1", "roll", "A", day, 1.0) for day in days] + [entry("A2", "polish", "B", day, 1.0) for day in days[-40:]]
    cards, told = seen(rows, orders)
    assert str(employed_of(cards).first[1]) == days[-40] and not told.own_h[1, :100].any() and told.own_h[0, :100].any()


def test_who_stopped_long_ago_is_taken_to_have_left_and_it_is_said() -> None:
    """No entry for three months: left on the day of the last."""
    orders = [order("A1", "2025-10-01"), order("A2", "2025-10-01")]
    rows = [entry("A2", "polish", "B", "2025-10-02", 1.0), *[entry("A1", "roll", "A", f"2026-{m:02d}-02", 1.0) for m in (1, 2, 3)]]
    told = employed_of(seen([entry("A1", "roll", "A", "2025-10-02", 1.0), *rows], orders)[0])
    assert str(told.last[1]) == "2025-10-02" and [finding.code for finding in told.findings] == ["left_assumed"]
