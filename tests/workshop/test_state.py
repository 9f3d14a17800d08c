"""The state of open orders on a day, on the workshop's axes."""

from __future__ import annotations

from datetime import date
from typing import Any

import numpy as np
import pytest

from shoplib.intake.shop import Shop
from shoplib.workshop import fit, state
from shoplib.workshop.model import DONE, ENDED, HELD, RUNNING, WAITING, State
from tests.flow.shops import AS_OF, entry, order, shop_of

PAST = [order(f"P{i}", "2026-02-02", delivered_on="2026-02-20", finished_weight_g=40.0) for i in range(8)]
WORK = [entry(f"P{i}", stage, worker, f"2026-02-{day:02d}", 2.0) for i in range(8) for stage, worker, day in
        (("roll", "A", 3), ("solder", "A", 4), ("tighten", "B", 5), ("polish", "B", 6))]


def shop(orders: list[Any], labour: list[Any], **tables: Any) -> Shop:
    return shop_of(orders=[*PAST, *orders], labour=[*WORK, *labour], **tables)


def told(orders: list[Any], labour: list[Any], **tables: Any) -> State:
    whole = shop(orders, labour, **tables)
    return state(whole, fit(whole, AS_OF, draws=8), AS_OF)


def test_an_order_without_work_waits_before_its_first_stage() -> None:
    """Ordered, no entry: before roll."""
    found = told([order("X")], [])
    assert found.status.tolist() == [WAITING] and found.stage.tolist() == [0] and not found.visits.any()


def test_the_last_visit_begun_runs_on_its_person() -> None:
    """A soldered last on X for two hours: X runs at solder on A with two hours spent."""
    found = told([order("X")], [entry("X", "roll", "A", "2026-03-25", 1.0), entry("X", "solder", "A", "2026-03-26", 2.0)])
    assert found.status.tolist() == [RUNNING] and found.stage.tolist() == [1] and found.spent_h.tolist() == [2.0]
    assert found.person.tolist() == [fit_people(found, "A")]
    assert found.visits.tolist() == [[1, 1, 0, 0]] and found.hours_done.tolist() == [3.0]


def fit_people(found: State, code: str) -> int:
    del found
    return ["A", "B"].index(code)


def test_a_visit_is_over_once_its_person_began_another() -> None:
    """A went on to Y: X's visit at solder has ended, what follows is left to the draw."""
    rows = [entry("X", "roll", "A", "2026-03-24", 1.0), entry("X", "solder", "A", "2026-03-25", 2.0), entry("Y", "roll", "A", "2026-03-26", 2.0)]
    found = told([order("X"), order("Y")], rows)
    assert found.status.tolist() == [ENDED, RUNNING] and found.stage.tolist() == [1, 0]


def test_a_visit_nobody_touches_lies_aside() -> None:
    """Begun in the first week of March and never booked on since: still running, on nobody's bench."""
    found = told([order("X")], [entry("X", "roll", "A", "2026-03-03", 1.0)])
    assert found.status.tolist() == [RUNNING] and found.person.tolist() == [-1]


def test_an_order_on_its_way_back_remembers_who_sent_it() -> None:
    """Tightened, back to solder, its visit there over: under way to tighten."""
    rows = [entry("X", "roll", "A", "2026-03-20", 1.0), entry("X", "solder", "A", "2026-03-23", 1.0), entry("X", "tighten", "B", "2026-03-24", 1.0),
            entry("X", "solder", "A", "2026-03-25", 1.0, rework=True), entry("Y", "roll", "A", "2026-03-26", 1.0)]
    found = told([order("X"), order("Y")], rows)
    assert found.repair_until.tolist() == [2, -1] and found.visits[0].tolist() == [1, 2, 1, 0]


def test_an_order_finished_a_week_ago_awaits_delivery() -> None:
    """Polished on the 16th, not delivered: done. Polished yesterday: it may still come back."""
    rows = [entry("X", stage, worker, f"2026-03-{day}", 1.0) for stage, worker, day in
            (("roll", "A", 11), ("solder", "A", 12), ("tighten", "B", 13), ("polish", "B", 16))]
    rows += [entry("Y", stage, worker, f"2026-03-{day}", 1.0) for stage, worker, day in
             (("roll", "A", 23), ("solder", "A", 24), ("tighten", "B", 25), ("polish", "B", 26))]
    found = told([order("X"), order("Y"), order("Z")], [*rows, entry("Z", "polish", "B", "2026-03-27", 1.0)])
    assert found.status[:2].tolist() == [DONE, ENDED]


def test_an_order_on_hold_is_held_before_its_next_stage() -> None:
    """Rolled, then waiting for a part: held before solder."""
    rows = [entry("X", "roll", "A", "2026-03-23", 1.0), entry("Y", "roll", "A", "2026-03-24", 1.0)]
    found = told([order("X"), order("Y")], rows, holds=[{"order_id": "X", "from": "2026-03-25", "why": "part"}])
    assert found.status[0] == HELD and found.stage[0] == 1 and np.isnat(found.until[0])


def test_orders_stand_by_order_date() -> None:
    """Position is the last tie-break: the earlier order first, whatever the table says."""
    assert told([order("X", "2026-03-10"), order("Y", "2026-03-03")], []).order_id.tolist() == ["Y", "X"]


def test_a_past_day_sees_nothing_of_what_came_later() -> None:
    """Taking away every row after the 4th of February leaves the state of that day as it was."""
    day = date(2026, 2, 4)
    whole = shop([order("X")], [entry("X", "roll", "A", "2026-03-23", 1.0)])
    cut = shop_of(orders=[{**row, "delivered_on": None, "finished_weight_g": None} for row in PAST],
                  labour=[row for row in WORK if row["date"] <= "2026-02-04"])
    workshop = fit(whole, AS_OF, draws=8)
    ours, theirs = (state(one, workshop, day) for one in (whole, cut))
    for name in ("order_id", "status", "stage", "person", "spent_h", "visits"):
        assert np.array_equal(getattr(ours, name), getattr(theirs, name))


def test_no_open_order_is_an_empty_state() -> None:
    """Everything delivered."""
    assert len(told([], []).order_id) == 0


def test_an_order_stuck_for_two_years_stands_in_the_state() -> None:
    """Begun in 2024 and left: one open order among others, its visit on nobody's bench."""
    found = told([order("OLD", "2024-03-01")], [entry("OLD", "roll", "A", "2024-03-04", 1.0)])
    assert found.order_id.tolist() == ["OLD"] and found.person.tolist() == [-1]


@pytest.mark.parametrize("weight", [None, 25.0])
def test_open_orders_have_a_weight(weight: float | None) -> None:
    """As quoted, else the usual one of the style."""
    found = told([order("X", quoted_weight_g=weight)], [])
    assert found.weight_g[0] == pytest.approx(weight or 40.0)
