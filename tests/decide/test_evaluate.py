"""Judging a plan on hand-made outcomes."""

import numpy as np
import pytest

from shoplib.decide.candidates import Candidate
from shoplib.decide.evaluate import Terms, breakeven_demand, employed, judge
from shoplib.workshop.outcome import Outcome
from shoplib.workshop.scenario import ExtraPerson, Scenario

TERMS = Terms(12, 0.0, 0.0, 0.0, 0.0, {"solder": 0.1})


def result(contribution, delivered=10, arrived=None, busy=None, credit=0.0):
    """Two replications of 12 months, the same every month."""
    grid = np.ones((2, 12))
    zero = np.zeros((2, 12))
    return Outcome(
        np.arange("2026-01", "2027-01", dtype="datetime64[M]"), grid * delivered, grid * (delivered if arrived is None else arrived), zero,
        grid * contribution, zero, zero, zero, zero, zero, np.ones((2, 12, 1)) if busy is None else busy, np.zeros((2, 3)), np.array([365]),
        grid[:, :1] * 12 * delivered, grid[:, :1] * credit, 0,
    )  # fmt: skip


def test_cash_is_contribution_less_pay_and_equipment():
    """100 more a month, 60 pay from month 3, 200 equipment: 12 × 100 − 10 × 60 − 200 = 400 (worked by hand, no discount)."""
    plan = Candidate("x", "train", "solder", equipment=200.0, monthly=60.0, from_month=3)
    judged = judge(plan, result(1100.0), result(1000.0), TERMS)
    assert judged.value.tolist() == pytest.approx([400.0, 400.0]) and judged.spent.tolist() == pytest.approx([800.0, 800.0])


def test_equipment_is_month_zero():
    """Equipment stands at the decision, undiscounted; the first pay at the end of its month."""
    plan = Candidate("x", "train", "solder", equipment=200.0, monthly=60.0, from_month=3)
    assert judge(plan, result(1000.0), result(1000.0), TERMS).flows[0, :4].tolist() == [-200.0, 0.0, 0.0, -60.0]


def test_orders_in_process_are_credited_at_the_horizon():
    """A plan that only leaves 500 more in process is worth 500 at the end, discounted a year at 10 %."""
    terms = Terms(12, 0.10, 0.0, 0.0, 0.0, {})
    judged = judge(Candidate("x", "train"), result(1000.0, credit=500.0), result(1000.0), terms)
    assert judged.value.mean() == pytest.approx(500 / 1.1)


def test_backlog_is_told_apart():
    """Two more delivered a month but one more taken: 12 a year of the 24 gained are merely earlier."""
    judged = judge(Candidate("x", "train"), result(1.0, 12, 11), result(1.0, 10, 10), TERMS)
    assert (judged.orders_gain.mean(), judged.backlog_orders) == (pytest.approx(24), pytest.approx(12))


def test_pay_ends_when_the_person_has_left():
    """Nothing booked from month 6 on: paid for months 2 to 5 only."""
    busy = np.ones((2, 12, 2))
    busy[:, 5:, 1] = 0.0
    plan = Candidate("x", "hire", "solder", Scenario(extra_people=(ExtraPerson((0,)),)), monthly=10.0, from_month=2)
    assert judge(plan, result(1.0, busy=busy), result(1.0), TERMS).spent.tolist() == [40.0, 40.0]


def test_a_quiet_month_is_still_paid():
    """A month without work between two with work is paid."""
    busy = np.ones((1, 4, 1))
    busy[:, 1] = 0.0
    plan = result(1.0, busy=np.repeat(np.pad(busy, ((0, 0), (0, 8), (0, 0))), 2, axis=0))
    assert employed(plan, 1)[0, :5].tolist() == [1, 1, 1, 1, 0]


def test_payback_probability_counts_replications():
    """One of two replications never pays back: one half."""
    good = result(1100.0)
    good.contribution[1] = 900.0
    judged = judge(Candidate("x", "train", equipment=50.0), good, result(1000.0), TERMS)
    assert judged.payback_probability == 0.5


@pytest.mark.parametrize(("values", "zero"), [([-10.0, 10.0, 30.0], 0.95), ([10.0, 20.0, 30.0], 0.8), ([5.0, 5.0, 5.0], None)])
def test_breakeven_demand(values, zero):
    """Crossing between two levels, straight beyond them, and none (worked by hand)."""
    found = breakeven_demand(np.array([0.9, 1.0, 1.1]), np.array(values))
    assert found == (None if zero is None else pytest.approx(zero))
