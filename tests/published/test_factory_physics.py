"""Laws of work in process against Hopp & Spearman, Factory Physics, chapter 7, and its lecture slides."""

from datetime import date

import pytest

from shoplib.flow.curves import Line
from shoplib.flow.shop_curve import shop_curve
from shoplib.flow.visits import history
from tests.flow.shops import TOML, entry, order, shop_of

PENNY_FAB_ONE = Line(rate=0.5, raw_time=8.0)
"""Four machines of 2 h each. Formulas from the book; numbers computed from them by hand."""


def test_critical_work_in_process():
    """0.5 an hour × 8 h = 4."""
    assert PENNY_FAB_ONE.critical_wip == 4.0


def test_penny_fab_two():
    """1 × 2 h, 2 × 5 h, 6 × 10 h, 2 × 3 h: 0.4 an hour and 20 h make 8. Source: slides of the chapter."""
    rate = min(1 / 2, 2 / 5, 6 / 10, 2 / 3)
    assert Line(rate, 2 + 5 + 10 + 3).critical_wip == pytest.approx(8.0)


PENNY_FAB_TWO = {"one": (1, 2.0), "two": (2, 5.0), "three": (6, 10.0), "four": (2, 3.0)}
"""Machines and hours a job of each station: slides of the chapter."""


@pytest.fixture(scope="module")
def penny_fab_two():
    """The same line as a shop of eleven people: eight orders in two weeks of 40 hours, every job on its card."""
    people = [(station, f"{station} {k}") for station, (many, _) in PENNY_FAB_TWO.items() for k in range(many)]
    toml = TOML.split("[[stages]]")[0] + "".join(f'[[stages]]\nname = "{station}"\n' for station in PENNY_FAB_TWO)
    toml += "".join(f'[[workers]]\ncode = "{code}"\nskills = ["{station}"]\nwage_per_hour = 20\n' for station, code in people)
    orders = [order(str(n), "2026-03-02", delivered_on="2026-03-13") for n in range(8)]
    cards = [entry(str(n), station, f"{station} {n % many}", f"2026-03-{3 + n // 2 + place:02d}", hours)
             for n in range(8) for place, (station, (many, hours)) in enumerate(PENNY_FAB_TWO.items())]  # fmt: skip
    fortnight = date(2026, 3, 2), date(2026, 3, 15)
    return shop_curve(history(shop_of(toml, orders=orders, labour=cards), fortnight[1]), *fortnight).line


def test_penny_fab_two_as_a_shop(penny_fab_two):
    """0.4 an hour are 16 a week of 40 hours, 20 h are half a week, 8 in process. Source: slides of the chapter."""
    found = penny_fab_two.rate, penny_fab_two.raw_time, penny_fab_two.critical_wip
    assert found == pytest.approx((0.4 * 40, 20 / 40, 8.0))


def test_best_case_output():
    """1 to 5 in process: .125 .25 .375 .5 .5 an hour."""
    assert PENNY_FAB_ONE.best_output([1, 2, 3, 4, 5]) == pytest.approx([0.125, 0.25, 0.375, 0.5, 0.5])


def test_best_case_flow():
    """1 to 5 in process: 8 8 8 8 10 h."""
    assert PENNY_FAB_ONE.best_flow([1, 2, 3, 4, 5]) == pytest.approx([8, 8, 8, 8, 10])


def test_worst_case_output():
    """.125 an hour whatever is in process."""
    assert PENNY_FAB_ONE.worst_output([1, 5]) == pytest.approx([0.125, 0.125])


def test_worst_case_flow():
    """8 h an order in process."""
    assert PENNY_FAB_ONE.worst_flow([1, 5]) == pytest.approx([8, 40])


def test_practical_worst_case_output():
    """1 to 5 in process: .125 .2 .25 .2857 .3125 an hour."""
    assert PENNY_FAB_ONE.practical_worst_output([1, 2, 3, 4, 5]) == pytest.approx([0.125, 0.2, 0.25, 0.2857, 0.3125], abs=5e-5)


def test_practical_worst_case_flow():
    """1 to 5 in process: 8 10 12 14 16 h."""
    assert PENNY_FAB_ONE.practical_worst_flow([1, 2, 3, 4, 5]) == pytest.approx([8, 10, 12, 14, 16])


def test_twenty_seven_in_process_reach_nine_tenths():
    """27 ÷ 30 of the rate; the slides print 95 %, which the book's own formula reaches at 57."""
    assert PENNY_FAB_ONE.practical_worst_output([27, 57]) / 0.5 == pytest.approx([0.90, 0.95])


@pytest.mark.parametrize("wip", [1.0, 4.0, 17.0])
def test_littles_law_holds_on_each_curve(wip):
    """Output × flow is what is in process."""
    line = PENNY_FAB_ONE
    pairs = ((line.best_output, line.best_flow), (line.worst_output, line.worst_flow), (line.practical_worst_output, line.practical_worst_flow))
    assert [float(output(wip) * flow(wip)) for output, flow in pairs] == pytest.approx([wip] * 3)
