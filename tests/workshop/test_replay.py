"""Replay: past months from the state at their start against what happened."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import pytest

from shoplib.workshop.replay import WHAT, origins, replay, what_happened
from tests.flow.shops import AS_OF, order, shop_of
from tests.workshop.test_fit import busy_shop

MARCH = np.datetime64("2026-03", "M")


def test_what_happened_is_counted_by_hand() -> None:
    """In March: two delivered after 20 and 10 days, two taken, one open at the end."""
    rows = [order("A", "2026-02-18", delivered_on="2026-03-10", finished_weight_g=40.0), order("B", "2026-03-02", delivered_on="2026-03-12", finished_weight_g=40.0),
            order("C", "2026-03-20")]
    assert what_happened(shop_of(orders=rows), MARCH, np.datetime64("2026-03-31")).tolist() == [2.0, 2.0, 1.0, 15.0]


def test_an_origin_needs_half_a_year_of_records() -> None:
    """Cards from December on: by the end of March no month has half a year before it."""
    assert origins(busy_shop(), AS_OF, 12) == []


def test_a_short_history_gives_an_empty_table() -> None:
    """Columns stand, no rows."""
    table = replay(busy_shop(), AS_OF, replications=4)
    assert list(table.columns) == ["month", "what", "happened", "low", "middle", "high", "inside"] and not len(table)


@pytest.fixture(scope="module")
def steady() -> pd.DataFrame:
    """Return the replay of three months of a shop with one order each Monday for a year."""
    from tests.flow.shops import entry
    from tests.workshop.test_fit import ROUTE

    mondays = np.datetime64("2025-04-07") + 7 * np.arange(52)
    orders = [order(f"N{i}", str(day), delivered_on=str(day + 7), finished_weight_g=40.0) for i, day in enumerate(mondays)]
    labour = [entry(f"N{i}", stage, who, str(day + after), hours) for i, day in enumerate(mondays) for stage, who, after, hours in ROUTE]
    return replay(shop_of(orders=orders, labour=labour), date(2026, 3, 31), months=3, replications=16)


def test_months_and_measures_stand_in_order(steady: pd.DataFrame) -> None:
    """January to March, four measures each."""
    assert steady["month"].dt.month.tolist() == [1] * 4 + [2] * 4 + [3] * 4 and steady["what"].tolist() == list(WHAT) * 3


def test_a_steady_shop_is_told_well(steady: pd.DataFrame) -> None:
    """Orders delivered and open orders of each month lie within what the model tells."""
    told = steady[steady["what"].isin(["orders_out", "wip_end"])]
    assert told["inside"].mean() >= 5 / 6
