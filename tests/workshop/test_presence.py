"""Presence and absences: only days on which work waited tell."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from shoplib.workshop.presence import Attendance, Presence, fit_presence

DAYS = 400


def attendance(booked: np.ndarray, waiting: np.ndarray, own: float = 8.0) -> Attendance:
    """Return the attendance of people with `booked` hours on days with work `waiting`, both shape (P, N)."""
    entered = booked > 0
    return Attendance(np.full(booked.shape, own), booked, entered, waiting, waiting & entered, np.zeros_like(entered), booked.shape[1])


def fit(seen: Attendance) -> Presence:
    return fit_presence(seen, tuple(f"P{i}" for i in range(len(seen.own_h))), np.random.default_rng(0), 200)


def test_a_person_busy_a_third_of_the_time_is_not_taken_for_away() -> None:
    """Works 6 of 8 h on every third day, the only ones with work: share 0.75 and not 0.25, and no absence."""
    busy = np.arange(DAYS) % 3 == 0
    booked = np.where(busy, 6.0, 0.0)[None]
    told = fit(attendance(booked, busy[None]))
    assert told.bench_share[0, 0] == pytest.approx(0.75, abs=0.02)
    assert not told.absent.any()


def test_days_without_an_entry_while_work_waited_are_absences() -> None:
    """Two days off in every twenty while work waited: a tenth of days, one beginning in eighteen days present and its own."""
    off = np.arange(DAYS) % 20 < 2
    told = fit(attendance(np.where(off, 0.0, 6.0)[None], np.ones((1, DAYS), bool)))
    assert told.absent.sum() == off.sum()
    assert set(told.days.tolist()) == {2}
    lost = told.absence_chance[0, 0] * 2
    assert lost / (1 + lost) == pytest.approx(0.1, abs=0.02)


def test_a_long_stretch_without_an_entry_is_an_absence_though_nothing_waited() -> None:
    """Five days in a row, no work waiting: away; three: idle."""
    booked = np.full((1, DAYS), 6.0)
    booked[0, 100:105] = booked[0, 200:203] = 0.0
    waiting = booked > 0
    assert np.flatnonzero(fit(attendance(booked, waiting)).absent[0]).tolist() == list(range(100, 105))


def test_who_often_idles_may_idle_longer() -> None:
    """Half the days idle at random: a run of five is no absence, one of twenty-five is."""
    booked = np.where(np.random.default_rng(3).random((1, DAYS)) < 0.5, 6.0, 0.0)
    booked[0, 300:325] = 0.0
    told = fit(attendance(booked, np.zeros((1, DAYS), bool)))
    assert told.absent[0, 300:325].all()
    assert told.absent.sum() < 40


def test_the_table_overrides() -> None:
    """Listed days are absences, days off that are not listed are not, from the table's first row on."""
    booked = np.full((1, DAYS), 6.0)
    booked[0, 50:52] = booked[0, 150:152] = 0.0
    seen = attendance(booked, np.ones((1, DAYS), bool))
    listed = np.zeros((1, DAYS), bool)
    listed[0, 50:52] = True
    told = fit(replace(seen, listed=listed, listed_from=50))
    assert np.flatnonzero(told.absent[0]).tolist() == [50, 51]


def test_somebody_without_waiting_work_leans_on_the_others() -> None:
    """Person 1 never has work waiting: the others' share with a wide range, never below what was booked."""
    booked = np.vstack([np.full(DAYS, 6.0), np.full(DAYS, 2.0), np.full(DAYS, 7.2)])
    waiting = np.vstack([np.ones(DAYS, bool), np.zeros((2, DAYS), bool)])
    told = fit(attendance(booked, waiting))
    assert told.bench_share[0, 1] == pytest.approx(0.75, abs=0.02)
    assert told.bench_share[1:, 1].std() > 5 * told.bench_share[1:, 0].std()
    assert told.bench_share[0, 2] == pytest.approx(0.9, abs=0.02), "booked 7.2 of 8 h on all days: cannot be less"


def test_nobody_ever_waited_for_is_modelled_with_a_finding() -> None:
    """No day tells: a stated prior, and the reader is told."""
    told = fit(attendance(np.zeros((2, 5)), np.zeros((2, 5), bool)))
    assert ((told.bench_share[0] > 0.5) & (told.bench_share[0] < 1.0)).all()
    assert "presence_assumed" in [finding.code for finding in told.findings]


def test_short_absences_weigh_as_often_as_they_would_be_seen() -> None:
    """One-day absences show only on the half of days with work waiting: each counts double among the lengths."""
    booked = np.full((1, DAYS), 6.0)
    booked[0, ::20] = 0.0
    waiting = np.ones((1, DAYS), bool)
    waiting[0, DAYS // 2 :] = False
    told = fit(attendance(booked, waiting))
    assert told.absent.sum() == 10 and len(told.days) == pytest.approx(20, abs=2)


def test_people_without_hours_stay_countable() -> None:
    """Own hours 0: no day to judge, a share all the same, no division by zero."""
    seen = attendance(np.vstack([np.full(DAYS, 6.0), np.zeros(DAYS)]), np.ones((2, DAYS), bool))
    own = seen.own_h.copy()
    own[1] = 0.0
    told = fit(replace(seen, own_h=own))
    assert np.isfinite(told.bench_share).all() and told.share_days[1] == 0
