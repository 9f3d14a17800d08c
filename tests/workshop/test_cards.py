"""The job cards on the workshop's axes: route, weights, waits."""

from __future__ import annotations

import numpy as np
import pytest

from shoplib.flow.visits import history
from shoplib.intake.shop import Shop
from shoplib.workshop.axes import axes_of
from shoplib.workshop.cards import Cards, cards_of, waits_of
from tests.flow.shops import AS_OF, TOML, entry, order, shop_of

ROUTE = ("roll", "solder", "tighten", "polish")


def cards(shop: Shop) -> Cards:
    return cards_of(history(shop, AS_OF), axes_of(shop))


def whole(code: str, skip: str = "", start: int = 2, **cells: object) -> tuple[dict, list[dict]]:
    """Return an order delivered on the 20th with an entry a day at each stage but `skip`."""
    row = order(code, "2026-03-02", delivered_on="2026-03-20", finished_weight_g=40.0, **cells)
    days = [f"2026-03-{start + i:02d}" for i in range(4)]
    rows = [entry(code, stage, "A" if stage in ("roll", "solder") else "B", day, 2.0) for stage, day in zip(ROUTE, days, strict=True) if stage != skip]
    return row, rows


def shop(*orders: tuple[dict, list[dict]], toml: str = TOML) -> Shop:
    return shop_of(toml, orders=[row for row, _ in orders], labour=[one for _, rows in orders for one in rows])


def test_a_style_that_skips_a_stage_has_its_own_route() -> None:
    """Ten curbs pass every stage, ten ropes skip tighten: near 1 and near 0, leaning a little on the shop's half."""
    told = cards(shop(*[whole(f"C{i}") for i in range(10)], *[whole(f"R{i}", "tighten", style="rope") for i in range(10)]))
    curb, rope = (told.passes[told.axes.styles.index(name), 0, 2] for name in ("curb", "rope"))
    assert curb > 0.9 and rope < 0.1 and told.passes[:, :, 1].min() > 0.99


def test_a_stage_most_orders_lack_is_left_out() -> None:
    """Only one of ten orders books polish: out of the route, and its hours are not bench hours of the model."""
    told = cards(shop(whole("A0"), *[whole(f"A{i}", "polish") for i in range(1, 10)]))
    assert told.left_out == (3,) and not told.passes[:, :, 3].any()
    assert 3 not in told.table["stage"].tolist()


def test_a_stage_never_visited_is_out_of_the_route() -> None:
    """Nobody ever books polish."""
    told = cards(shop(*[whole(f"A{i}", "polish") for i in range(6)]))
    assert told.never == (3,) and not told.passes[:, :, 3].any()


def test_work_at_a_rework_stage_counts_at_the_stage_it_redoes() -> None:
    """Stage `again` redoes solder: its visit is a second one at solder."""
    toml = TOML.replace('[[workers]]\ncode = "A"', '[[stages]]\nname = "again"\nrework_of = "solder"\n[[workers]]\ncode = "A"', 1)
    row, rows = whole("A1")
    told = cards(shop((row, [*rows, entry("A1", "again", "A", "2026-03-10", 1.0)]), toml=toml))
    assert told.table["stage"].tolist() == [0, 1, 2, 3, 1] and told.table["again"].tolist() == [False] * 4 + [True]


def test_weights_fall_back_to_the_style_then_the_shop() -> None:
    """As quoted, else finished, else the median of the style, else of the shop: 40, 20, 40, 30 g."""
    rows = [order("A"), order("B", style="rope", quoted_weight_g=None, finished_weight_g=20.0, delivered_on="2026-03-20"),
            order("C", quoted_weight_g=None), order("D", style="wheat", quoted_weight_g=None)]
    told = cards(shop_of(orders=rows))
    assert np.exp(told.ln_weight) == pytest.approx([40.0, 20.0, 40.0, np.sqrt(40 * 20)])


def test_waits_run_from_the_visit_before_to_the_start() -> None:
    """Date-only cards: ready on the day of the visit before, begun on its own day; open orders wait without end."""
    row, rows = whole("A1")
    waits = waits_of(cards(shop((row, rows), (order("A2"), [entry("A2", "roll", "A", "2026-03-23", 2.0), entry("A1", "roll", "A", "2026-03-24")]))))
    solder = waits.stage == 1
    days = np.array(["2026-03-02", "2026-03-03", "2026-03-23"], dtype="datetime64[D]").astype(float)
    assert waits.joined[solder].tolist() == [days[0], days[2]]
    assert waits.begun[solder].tolist() == [days[1], np.inf]


def test_a_wait_with_a_stage_passed_over_tells_nothing() -> None:
    """One of ten orders has no entry at tighten: whether it waited for polish all that time is not known."""
    told = waits_of(cards(shop(whole("A0", "tighten"), *[whole(f"A{i}") for i in range(1, 10)])))
    polish = told.stage == 3
    assert polish.sum() == 10 and (~told.sure[polish]).sum() == 1
