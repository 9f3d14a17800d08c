"""Delivery lag by the weekday on which the last visit ended."""

from __future__ import annotations

import numpy as np

from shoplib.workshop.delivery import LONGEST_DAYS, fit_delivery_lag

MONDAY = np.datetime64("2026-03-02")


def test_each_weekday_keeps_its_own_lags() -> None:
    """Mondays go out next day, Fridays after the weekend."""
    ends = np.array([MONDAY + 7 * k for k in range(12)] + [MONDAY + 4 + 7 * k for k in range(12)])
    told = fit_delivery_lag(ends, np.concatenate([ends[:12] + 1, ends[12:] + 3]))
    assert set(told.days[told.from_[0] : told.from_[1]].tolist()) == {1}
    assert set(told.days[told.from_[4] : told.from_[5]].tolist()) == {3}


def test_a_weekday_seldom_seen_borrows_from_all() -> None:
    """No Sunday in the past: Sundays own the lags of every weekday."""
    ends = np.array([MONDAY + 7 * k for k in range(12)])
    told = fit_delivery_lag(ends, ends + 2)
    assert told.from_[7] - told.from_[6] == 12


def test_odd_lags_are_bounded() -> None:
    """Delivered before its work ended: same day; fetched after two years: the longest that counts."""
    told = fit_delivery_lag(np.array([MONDAY, MONDAY]), np.array([MONDAY - 3, MONDAY + 730]))
    assert set(told.days.tolist()) == {0, LONGEST_DAYS}


def test_nothing_delivered_is_said() -> None:
    """Without a delivered order they go out the same day, with a finding."""
    none = np.zeros(0, "datetime64[D]")
    told = fit_delivery_lag(none, none)
    assert not told.from_.any() and told.findings[0].code == "delivery_lag_assumed"
