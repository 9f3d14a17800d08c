"""What the usual piece costs beside its metal."""

import numpy as np
import pandas as pd
import pytest

from shoplib.costing import cost
from shoplib.pricing.costs import gross_loss_by_alloy, making_costs, net_loss_by_alloy
from shoplib.pricing.lines import Lines
from tests.flow.shops import entry

from .shops import AS_OF, TOML, tiny

POLICY = "loss_percent = 2\nfilings_recovery_percent = 90\nrefining_charge_percent = 5\nconsumables_per_hour = 1.5\n"


def shop(hours=6.0, grams=40.0):
    orders = [
        {"order_id": f"N{k}", "ordered_on": "2026-02-02", "style": "curb", "alloy": "18k", "price": 3000.0, "quoted_weight_g": grams,
         "delivered_on": "2026-03-02", "finished_weight_g": grams, "findings_cost": 12.0}
        for k in range(6)
    ]  # fmt: skip
    return tiny(toml=TOML + POLICY, orders=orders, labour=[entry(f"N{k}", "bench", "A", "2026-02-16", hours) for k in range(6)])


def lines(weight=40.0, style="curb"):
    table = pd.DataFrame({"line": ["one"], "style": [style], "alloy": ["18k"], "weight_g": [weight]})
    return Lines(table, np.array([[30.0, 0.0, 0.0]]), np.array([0]), False, ())


def costs(weight=40.0, style="curb", limiting="bench"):
    here = shop()
    return making_costs(cost(here, AS_OF, limiting), lines(weight, style), here.settings)


def test_without_weighings_the_loss_is_the_policys():
    """2 % of what goes in is 2 ÷ 98 of what is left (worked by hand)."""
    here = shop()
    assert gross_loss_by_alloy(cost(here, AS_OF), here.settings)["18k"] == pytest.approx(2 / 98)


def test_what_comes_back_is_not_lost():
    """90 % comes back and the refiner keeps 5 % of it: 2 ÷ 98 × (1 − 0.9 × 0.95) (worked by hand)."""
    here = shop()
    assert net_loss_by_alloy(cost(here, AS_OF), here.settings)["18k"] == pytest.approx(2 / 98 * 0.145)


def test_an_alloy_never_sold_loses_as_all_do():
    """White gold borrows the loss of what was sold."""
    here = shop()
    told = net_loss_by_alloy(cost(here, AS_OF), here.settings)
    assert told["18k white"] == told["18k"]


def test_a_piece_of_the_usual_weight_takes_the_usual_hours():
    """Six orders of 40 g took 6 h each, at 20 an hour: 120 (worked by hand)."""
    one = costs()
    assert (one.hours[0], one.labour[0]) == (pytest.approx(6.0), pytest.approx(120.0))


def test_findings_and_consumables_are_in():
    """12 of findings and 6 h × 1.50 = 21 (worked by hand)."""
    assert costs().other[0] == pytest.approx(21.0)


def test_hours_at_the_bench_that_limits():
    """All six of them are at the only bench; none where another one limits."""
    assert [costs(limiting=bench).limiting_hours[0] for bench in ("bench", "elsewhere")] == pytest.approx([6.0, 0.0])


def test_a_heavier_piece_takes_no_fewer_hours():
    """80 g against 40 g."""
    assert costs(80.0).hours[0] >= costs(40.0).hours[0]
