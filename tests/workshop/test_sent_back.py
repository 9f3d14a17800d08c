"""Where an order whose last visit is over most likely stands, by how long it has stood there."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from shoplib.flow.visits import history
from shoplib.workshop import fit, state
from shoplib.workshop.axes import axes_like
from shoplib.workshop.model import ENDED, HELD, WAITING, State
from shoplib.workshop.sent_back import moves
from tests.flow.shops import AS_OF, entry, order, shop_of

STEPS = (("roll", "A"), ("solder", "A"), ("tighten", "B"), ("polish", "B"))
USUAL = [("roll", 2), ("solder", 3), ("tighten", 4), ("polish", 5)]
SENT_BACK = [("roll", 2), ("solder", 3), ("tighten", 4), ("solder", 26), ("tighten", 27), ("polish", 28)]


def cards(order_id: str, days: list[tuple[str, int]], month: str = "2026-01") -> list[Any]:
    """An hour at each stage on its day; the second visit of a stage is rework."""
    names = [stage for stage, _ in days]
    return [
        entry(order_id, stage, dict(STEPS)[stage], f"{month}-{day:02d}", 1.0, rework=stage in names[:place])
        for place, (stage, day) in enumerate(days)
    ]


def past() -> tuple[list[Any], list[Any]]:
    """Forty orders of January that went straight on, a day at each stage; twelve that stood 22 days before they were soldered again."""
    plain, back = [f"P{i:02d}" for i in range(40)], [f"R{i:02d}" for i in range(12)]
    orders = [order(name, "2026-01-01", delivered_on="2026-01-06", finished_weight_g=40.0) for name in plain]
    orders += [order(name, "2026-01-01", delivered_on="2026-01-29", finished_weight_g=40.0) for name in back]
    return orders, [row for name in plain for row in cards(name, USUAL)] + [row for name in back for row in cards(name, SENT_BACK)]


def told(open_days: list[tuple[str, int]], **tables: Any) -> State:
    """The state in the evening of 27 March with one open order X, worked on in March; both have begun something else since."""
    orders, labour = past()
    labour = [
        *labour,
        *cards("X", open_days, "2026-03"),
        entry("Y", "roll", "A", "2026-03-26", 1.0),
        entry("Y", "tighten", "B", "2026-03-27", 1.0),
    ]
    whole = shop_of(orders=[*orders, order("X"), order("Y", "2026-03-20")], labour=labour, **tables)
    return state(whole, fit(whole, AS_OF, draws=8), AS_OF)


def test_moves_are_counted_in_days() -> None:
    """Twelve orders sent back to solder from Sunday the 4th to the 26th, 15 working days; 52 delivered."""
    orders, labour = past()
    whole = shop_of(orders=orders, labour=labour)
    told_then, workshop = history(whole, AS_OF), fit(whole, AS_OF, draws=8)
    found = moves(told_then, axes_like(workshop, whole.settings), np.ones(4, dtype=bool))
    back = found[found["back"]]
    assert back["to"].tolist() == [1] * 12 and back["days"].between(14.5, 16).all() and (found["to"] == 4).sum() == 52


def test_an_order_that_stands_too_long_was_sent_back() -> None:
    """Tightened on the 10th, polished nobody knows when: all others were polished the next day, those sent back stood for three weeks."""
    found = told([("roll", 3), ("solder", 4), ("tighten", 10)])
    assert (found.status[0], found.stage[0], found.repair_until[0]) == (WAITING, 1, 2)


def test_an_order_that_has_hardly_waited_goes_on_as_the_draw_says() -> None:
    """Tightened the evening before: what follows is left to the draw."""
    found = told([("roll", 3), ("solder", 4), ("tighten", 26)])
    assert (found.status[0], found.stage[0], found.repair_until[0]) == (ENDED, 2, -1)


def test_a_stage_that_never_sends_back_keeps_its_order() -> None:
    """Soldered on the 4th and left: nothing was ever sent back from solder."""
    found = told([("roll", 3), ("solder", 4)])
    assert found.status[0] == ENDED and found.stage[0] == 1


def test_an_order_on_hold_is_not_taken_for_one_sent_back() -> None:
    """Its wait has a reason on record."""
    found = told([("roll", 3), ("solder", 4), ("tighten", 10)], holds=[{"order_id": "X", "from": "2026-03-11", "why": "part"}])
    assert found.status[0] == HELD


@pytest.mark.parametrize("day", [4, 16])
def test_longer_than_anybody_ever_waited_tells_nothing(day: int) -> None:
    """Where those sent back waited no longer than a day either, weeks of waiting have another reason."""
    orders, labour = past()
    quick = [("roll", 2), ("solder", 3), ("tighten", 4), ("solder", 5), ("tighten", 6), ("polish", 7)]
    labour = [row for row in labour if row["order_id"].startswith("P")] + [row for i in range(12) for row in cards(f"R{i:02d}", quick)]
    labour += [*cards("X", [("roll", 2), ("solder", 3), ("tighten", day)], "2026-03"), entry("Y", "tighten", "B", "2026-03-27", 1.0)]
    whole = shop_of(orders=[*orders, order("X"), order("Y", "2026-03-20")], labour=labour)
    assert state(whole, fit(whole, AS_OF, draws=8), AS_OF).status[0] == ENDED
