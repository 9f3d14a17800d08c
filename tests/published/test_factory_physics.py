"""Laws of work in process against Hopp & Spearman, Factory Physics, chapter 7, and its lecture slides."""

import pytest

from shoplib.flow.curves import Line

PENNY_FAB_ONE = Line(rate=0.5, raw_time=8.0)
"""Four machines of 2 h each. Formulas from the book; numbers computed from them by hand."""


def test_critical_work_in_process():
    """0.5 an hour × 8 h = 4."""
    assert PENNY_FAB_ONE.critical_wip == 4.0


def test_penny_fab_two():
    """1 × 2 h, 2 × 5 h, 6 × 10 h, 2 × 3 h: 0.4 an hour and 20 h make 8. Source: slides of the chapter."""
    rate = min(1 / 2, 2 / 5, 6 / 10, 2 / 3)
    assert Line(rate, 2 + 5 + 10 + 3).critical_wip == pytest.approx(8.0)


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
