"""Job cards as grams: issued, lost, cut back, soldered in, delivered, event by event."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shoplib.costing import cost
from shoplib.intake import until
from shoplib.metal.balance import in_process_g
from shoplib.metal.fine import flows
from shoplib.metal.whole import bench_of
from tests.costing import random_shops
from tests.flow.shops import order

from .shops import AS_OF, TOML, piece, shop, weighed

CARD = [
    weighed("one", "melt", "2026-01-05", 50.0, 49.8),
    weighed("one", "cut", "2026-01-06", 49.8, 46.7, scrap_back_g=3.0),
    weighed("one", "polish", "2026-01-08", 46.6, 46.2, solder="hard", solder_g=0.4),
]


def bench(orders, labour, toml=TOML):
    found = shop(orders, labour, toml=toml)
    return bench_of(found, cost(found, AS_OF)), found.settings


def one(orders=(), labour=CARD, toml=TOML):
    """The grams of one delivered order that weighs 46.0 g."""
    found, options = bench(list(orders) or [piece("one", 46.0, "2026-01-09")], labour, toml)
    return found, flows(found, "gold", options)


def test_losses_stand_at_their_stages():
    """0.2 melt, 0.1 cut, 0.1 between, 0.8 polish (46.6 + 0.4 − 46.2), 0.2 before delivery (worked by hand)."""
    found, _ = one()
    told = found.events.groupby("stage")["drop_g"].sum().round(9).to_dict()
    assert told == {-1: pytest.approx(0.3), 0: pytest.approx(0.2), 1: pytest.approx(0.1), 2: pytest.approx(0.8)}


def test_what_was_issued_is_what_became_of_it():
    """37.500 g fine issued = 34.200 + 0.280 delivered + 1.050 lost + 2.250 scrap − 0.280 solder (worked by hand)."""
    _, fine = one()
    assert (fine.issued_g[0], fine.end_g[0]) == (pytest.approx(37.5), pytest.approx(0.75 * 45.6 + 0.28))
    assert (fine.lost_g.sum(), fine.scrap_g.sum()) == (pytest.approx(1.05), pytest.approx(2.25))


def test_in_process_falls_with_every_weighing():
    """Evenings of the 4th to the 9th: 0, 37.35, 35.025, 35.025, 34.63, 0 g fine (worked by hand)."""
    found, fine = one()
    days = np.arange("2026-01-04", "2026-01-10", dtype="datetime64[D]")
    assert in_process_g(found, fine, days) == pytest.approx([0, 37.35, 35.025, 35.025, 34.63, 0], abs=1e-9)


def test_base_metal_that_burns_off_is_no_gold_lost():
    """Half of the 0.2 g lost at the melt is base metal: 0.075 g fine lost there, not 0.150."""
    toml = TOML.replace("takes_metal = true", "takes_metal = true\nloss_fine_share_percent = 50")
    found, fine = one(toml=toml)
    assert fine.lost_g[(found.events["stage"] == 0).to_numpy()].sum() == pytest.approx(0.075)


def test_a_gain_from_findings_is_no_negative_loss():
    """A clasp of 2 g set in at the polish: the loss there stays 0.4 g."""
    labour = [*CARD[:2], weighed("one", "polish", "2026-01-08", 46.7, 48.3)]
    found, _ = one([piece("one", 48.3, "2026-01-09", findings_g=2.0)], labour)
    assert found.events["drop_g"].sum() == pytest.approx(0.2 + 0.1 + 0.4)


def test_an_order_called_off_gives_its_metal_back():
    """After 0.2 g lost at the melt the other 49.8 g go back to the safe on the day it is called off."""
    found, fine = one([order("one", "2026-01-05", cancelled_on="2026-01-20")], CARD[:1])
    assert (fine.scrap_g.sum(), fine.end_g[0], fine.lost_g.sum()) == (pytest.approx(0.75 * 49.8), 0.0, pytest.approx(0.15))


def test_an_open_order_holds_what_it_last_weighed():
    """46.7 g after the cut are 35.025 g fine on the bench."""
    found, fine = one([piece("one", None)], CARD[:2])
    assert (bool(found.on_bench[0]), fine.end_g[0]) == (True, pytest.approx(35.025))


def test_an_order_not_weighed_loses_by_policy_when_it_is_delivered():
    """3 % of what was issued: 46 × 3 ÷ 97 g, all on the day of delivery."""
    found, _ = one(labour=[weighed("one", "melt", "2026-01-05")])
    assert found.events["drop_g"].tolist() == [pytest.approx(46 * 3 / 97)]
    assert not found.weighed[0]


def test_an_unusual_drop_at_the_cut_is_scrap_nobody_noted():
    """Ten cuts lose 0.1 g, the eleventh 6 g without scrap noted: 6 g stand as scrap, not as loss."""
    orders = [piece(f"o{n}", 46.0 if n else 40.0, "2026-02-20") for n in range(11)]
    labour = [card for n in range(11) for card in (
        weighed(f"o{n}", "melt", "2026-02-02", 46.2, 46.1), weighed(f"o{n}", "cut", "2026-02-03", 46.1, 46.0 if n else 40.0))]  # fmt: skip
    found, _ = bench(orders, labour)
    mine = found.events[found.events["order"] == 0]
    assert (mine["scrap_g"].sum(), mine["drop_g"].sum()) == (pytest.approx(6.1), pytest.approx(0.1))


def test_a_repair_takes_only_its_solder():
    """0.5 g of solder at 700 ‰ go out with the customer's own chain: 0.35 g fine."""
    orders = [order("fix", "2026-01-05", kind="repair", alloy=None, quoted_weight_g=None, delivered_on="2026-01-09")]
    found, options = bench(orders, [weighed("fix", "polish", "2026-01-06", solder="hard", solder_g=0.5)])
    assert flows(found, "gold", options).end_g[0] == pytest.approx(0.35)


def test_work_after_delivery_moves_no_metal_later():
    """An entry booked after delivery stands on the day of delivery at the latest."""
    found, _ = one(labour=[*CARD, weighed("one", "polish", "2026-02-02", 46.0, 45.9)])
    assert found.events["day"].max() == np.datetime64("2026-01-09")


@given(st.integers(0, 400))
@settings(max_examples=8, deadline=None)
def test_nothing_is_made_and_nothing_vanishes(seed):
    """In any shop what is in process in the end is what its open orders hold, and before the first issue nothing is."""
    found = until(random_shops.random_shop(seed), random_shops.AS_OF)
    made = bench_of(found, cost(found, random_shops.AS_OF))
    ends = np.array(["2025-12-31", random_shops.AS_OF], dtype="datetime64[D]")
    for metal in ("gold", "silver", "palladium"):
        fine = flows(made, metal, found.settings)
        assert in_process_g(made, fine, ends) == pytest.approx([0.0, fine.end_g[made.on_bench].sum()], abs=1e-6)
        assert made.events["day"].notna().all() or not len(made.events)
