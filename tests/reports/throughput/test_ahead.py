"""What is asked of the simulator: causes grouped, delay split, absences in rows."""

from datetime import date
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from shoplib.reports.throughput.ahead import Ahead, absence_rows, delay_by_row, returns_by_cause
from shoplib.workshop.without_one import Absence

FIRST, LAST = date(2026, 1, 1), date(2026, 6, 30)


def returns(*found):
    """Return a history of returns: (seen at, cause) each, begun inside the period."""
    table = pd.DataFrame(found, columns=["returned_from", "cause"]).assign(started=pd.Timestamp(2026, 2, 1), is_return=True)
    return SimpleNamespace(visits=table)


WORKSHOP = SimpleNamespace(stages=np.array(["solder", "tighten", "polish"]))


def test_shares_of_a_stage_s_returns():
    """Three of four returns found at tighten are open links; the one found at polish is a pit."""
    past = returns(("tighten", "open"), ("tighten", "open"), ("tighten", "open"), ("tighten", "gap"), ("polish", "pit"))
    causes, shares = returns_by_cause(past, WORKSHOP, FIRST, LAST)
    assert causes == (("gap",), ("open",), ("pit",))
    assert shares.tolist() == [[0.0, 0.25, 0.0], [0.0, 0.75, 0.0], [0.0, 0.0, 1.0]]


def test_rare_causes_are_switched_off_together():
    """Two causes of one return each among 42 form one group."""
    past = returns(*[("tighten", "open")] * 40, ("polish", "pit"), ("tighten", None))
    causes, shares = returns_by_cause(past, WORKSHOP, FIRST, LAST)
    assert causes == (("open",), ("not named", "pit")) and shares[1].tolist() == pytest.approx([0.0, 1 / 41, 1.0])


def test_no_returns_no_causes():
    """A period without rework has no cause to switch off."""
    causes, shares = returns_by_cause(returns(), WORKSHOP, FIRST, LAST)
    assert causes == () and shares.shape == (0, 3)


ROWS = pd.DataFrame({"cause": ["open", "open", "pit"], "hours": [3.0, 1.0, 5.0]})


def test_delay_is_split_by_hours():
    """EUR 800 a year over half a year, 3 : 1 by hours."""
    told = delay_by_row(ROWS, Ahead((("open",),), np.full((1, 4), 800.0), ()), 0.5)
    assert told["delay_contribution"].tolist() == [300.0, 100.0, 0.0]


def test_delay_that_chance_could_bring_about_is_none():
    """Mean 1 with a standard error of 58: the range reaches zero, so none is counted, and the range stays."""
    told = delay_by_row(ROWS, Ahead((("open",),), np.array([[-99.0, 101.0, -99.0, 101.0]]), ()), 1.0)
    assert told["delay_contribution"].tolist() == [0.0, 0.0, 0.0] and told["delay_low"].iloc[0] < 0 < told["delay_high"].iloc[0]


def test_absences_in_rows():
    """Means with P10 and P90; a wait that cannot be told stays blank."""
    lost = np.arange(11.0)
    table = absence_rows((Absence("solder", "for good", 0, lost, np.full(11, np.nan), lost * 100.0),))
    row = table.iloc[0]
    assert (row["orders_late"], row["contribution_lost_low"], row["contribution_lost_high"]) == (5.0, 100.0, 900.0)
    assert np.isnan(row["wait_days_change"])
