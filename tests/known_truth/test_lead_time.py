"""The accuracy paragraph of the lead-time report on two shops with known truth: soldering limits; a person is busy a third of the time.

The shop's own record of past dates, and so any correction by it, is left out here: it is most of the time the long table takes.
"""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from shoplib.forecast import backtest
from shoplib.forecast.promises import Record
from shoplib.intake import Shop
from shoplib.reports import lead_time as report

from . import lead_time
from . import parameters as p
from .case import Case, Measured, Verdict

SHOPS, LUCKS = (0, 2), (0, 1)


@pytest.fixture(scope="module")
def rows(tmp_path_factory: pytest.TempPathFactory) -> list[Measured]:
    """Return every number of one report of each shop, with what came under two lucks."""
    cases = [Case(number, 0, tmp_path_factory.mktemp(f"shop{number}")) for number in SHOPS]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(report, "track_record_of", _no_record)
        return [row for case in cases for row in lead_time.measure_at(case, p.HISTORY_MONTHS, LUCKS)]


def _no_record(shop: Shop, last: date, seed: int) -> Record:
    return Record(backtest.forecasts(shop["orders"], [], {}, np.datetime64(last)))


@pytest.fixture(scope="module")
def verdicts(rows: list[Measured]) -> list[Verdict]:
    """Return the sentences of the paragraph over both shops."""
    return lead_time.judge(rows)


def test_enough_dates_are_judged(rows: list[Measured]) -> None:
    """More than a hundred open orders, twelve months a shop and luck."""
    assert sum(float(row.truth) for row in rows if row.what == "orders") > 100
    assert sum(row.what == "month" for row in rows) == 12 * len(SHOPS) * len(LUCKS)


@pytest.mark.parametrize("place", range(9))
def test_each_sentence_holds(verdicts: list[Verdict], place: int) -> None:
    """As in the table of ten shops: losses, coverage, odds, new orders, demand."""
    assert verdicts[place].holds, f"{verdicts[place].asked}: {verdicts[place].found}"


def test_a_worse_forecast_would_fail(rows: list[Measured]) -> None:
    """The same rows with half as much loss again, and with a quarter of the dates that held taken away, break their sentences."""
    worse = [
        Measured(row.shop, row.what, row.part, row.truth, float(row.told) * {"loss model": 1.5, "held q80": 0.75}.get(row.what, 1.0))
        if row.what != "month"
        else row
        for row in rows
    ]
    assert [verdict.holds for verdict in lead_time.judge(worse)][0:5:3] == [False, False]
