"""The sequential test: alarms, their rate without a leak, the change, the slope taken out first."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shoplib.metal.missing import change, cusum, fineness_drift, look_for_missing, miscounts, spread, threshold


def _history(n=24, sd=0.5, seed=0):
    """Unexplained from count to count when only the count errs, sd g at each end."""
    errors = np.random.default_rng(seed).normal(0, sd, n + 1)
    return np.diff(errors)


def _look(left, grams=8700.0, tolerance=1.0):
    return look_for_missing(left, np.full(len(left), 0.05), np.full((len(left), 1), grams), tolerance)


def test_the_sum_rises_by_what_passes_the_reference():
    """Scores 1, 2, −3, 1 with a reference of one half: 0.5, 2, 0, 0.5 (worked by hand)."""
    assert cusum(np.array([1.0, 2.0, -3.0, 1.0])).tolist() == [0.5, 2.0, 0.0, 0.5]


def _run_passes(limit, n, states=400):
    """Chance that a sum of n normal scores passes `limit` once: Markov chain of Brook and Evans, Biometrika 59 (1972)."""
    width = limit / (states - 0.5)
    normal = np.vectorize(lambda x: 0.5 * math.erfc(-x / math.sqrt(2)))
    j, i = np.arange(states), np.arange(states)[:, None]
    upper = normal((j - i + 0.5) * width + 0.5)
    moves = np.where(j == 0, upper, upper - normal((j - i - 0.5) * width + 0.5))
    level = np.zeros(states)
    level[0] = 1.0
    for _ in range(n):
        level = level @ moves
    return 1.0 - level.sum()


@pytest.mark.parametrize(("limit", "n"), [(2.8, 6), (4.3, 24), (5.5, 60)])
def test_normal_scores_pass_as_often_as_the_chain_says(limit, n):
    """The share of 20,000 histories that pass a limit is Brook and Evans' within three standard errors."""
    share = (cusum(np.random.default_rng(8).standard_normal((20_000, n))).max(axis=1) > limit).mean()
    expected = _run_passes(limit, n)
    assert share == pytest.approx(expected, abs=3 * math.sqrt(expected / 20_000))


@pytest.mark.parametrize(("n", "alloys"), [(12, 3), (24, 1)])
def test_two_histories_in_100_alarm_without_a_leak(n, alloys):
    """With other luck and a fineness anywhere in its tolerance at most 2 % of 150 histories alarm, plus three standard errors."""
    rng = np.random.default_rng(9)
    grams = rng.uniform(500, 3000, (n, alloys))
    histories = rng.normal(0, 0.5, (150, n)) + rng.uniform(-1e-3, 1e-3, (150, alloys)) @ grams.T
    limit = threshold(np.full(n, 0.05), np.full(n, 0.5), grams, 1.0, False)
    drift = fineness_drift(histories, np.full(n, 0.05), grams, 1.0)
    left = histories - drift.grams
    share = (cusum(left / spread(left, np.full(n, 0.05))).max(axis=1) > limit).mean()
    assert share <= 0.02 + 3 * math.sqrt(0.02 * 0.98 / 150)


def test_brook_and_evans_chain_has_the_published_run_length():
    """Average run length 168 for two one-sided sums at reference 0.5 and threshold 4 (from memory: Montgomery, table 9.3)."""
    still = [1.0 - _run_passes(4.0, n) for n in (500, 1000)]
    decay = (still[1] / still[0]) ** (1 / 500)
    assert 1 / (1 - decay) / 2 == pytest.approx(168, rel=0.03)


def test_no_leak_hardly_ever_alarms():
    """Of 20 histories with independent noise at most 2 in 100, plus three standard errors, alarm."""
    rng = np.random.default_rng(3)
    alarms = sum(_look(rng.normal(0, 0.8, 24)).alarm for _ in range(20))
    assert alarms <= 20 * (0.02 + 3 * math.sqrt(0.02 * 0.98 / 20))


def test_a_drift_of_fineness_is_not_called_missing():
    """0.7 per mille rich on 8.7 kg a month is 6 g a month: a slope, not a leak."""
    grams = np.full(24, 8700.0) * np.random.default_rng(1).uniform(0.7, 1.3, 24)
    found = look_for_missing(_history() + grams * 0.7e-3, np.full(24, 0.05), grams[:, None], 1.0)
    assert not found.alarm
    assert found.drift.permille[0] == pytest.approx(0.7, abs=3 * found.drift.u_permille[0])


@pytest.mark.parametrize("when", [0, 7, 23])
def test_thirty_grams_in_one_go_are_found(when):
    """The alarm names the balance and the grams, within their range."""
    left = _history(seed=5)
    left[when] += 30.0
    found = _look(left)
    assert (found.alarm, found.first, found.at_once) == (True, when, True)
    assert found.low <= 30.0 <= found.high


def test_a_lasting_leak_is_dated_to_its_start():
    """4 g from every balance after the tenth: since the eleventh, give or take one."""
    left = _history(seed=2)
    left[10:] += 4.0
    found = _look(left, grams=500.0)
    assert found.alarm and not found.at_once
    assert abs(found.first - 10) <= 1


def test_metal_found_is_no_alarm():
    """30 g more than the books hold is not missing."""
    left = _history(seed=4)
    left[9] -= 30.0
    assert not _look(left).alarm


def test_a_wrong_count_is_told_apart():
    """30 g short in one count and back in the next: a miscount, no alarm."""
    left = _history(seed=6)
    left[9] += 30.0
    left[10] -= 30.0
    found = _look(left)
    assert (found.alarm, found.miscounted) == (False, (9,))


def test_three_balances_are_too_few_to_call_anything_missing():
    """Below four balances nothing is tested."""
    found = _look(np.array([0.1, 30.0, -0.2]))
    assert (found.tested, found.alarm) == (False, False)


@pytest.mark.parametrize("n", [0, 1])
def test_none_or_one_balance_is_taken(n):
    """Edge lengths come back untested, without a crash."""
    assert not _look(np.full(n, 1.0)).tested


def test_spread_never_falls_below_weighing():
    """Balances that agree better than the scale can weigh keep the scale's spread."""
    assert spread(np.zeros(12), np.full(12, 0.3)).tolist() == [0.3] * 12


def test_one_bad_month_does_not_bend_the_slope():
    """30 g in one of 24 months moves the drift by less than 0.02 per mille."""
    left, grams = _history(), np.full((24, 1), 8700.0)
    bad = left.copy()
    bad[5] += 30.0
    drifts = [fineness_drift(series, np.full(24, 0.05), grams, 1.0).permille[0] for series in (left, bad)]
    assert drifts[1] - drifts[0] == pytest.approx(0, abs=0.02)


@given(st.floats(-20, 20))
@settings(max_examples=25, deadline=None)
def test_the_slope_stays_within_the_tolerance(level):
    """What the tolerance of the fineness does not cover is never explained by it."""
    drift = fineness_drift(np.full(12, level), np.full(12, 0.1), np.full((12, 1), 2000.0), 1.0)
    assert abs(drift.permille[0]) <= 1.0


def test_the_first_of_a_lasting_shift_is_named():
    """Scores 0, 0, 2, 2, 2: since the third, not at once (worked by hand)."""
    assert change(np.array([0.0, 0, 2, 2, 2]), np.ones(5)) == (2, False)


def test_a_miscount_needs_both_halves():
    """An excess that stays is no miscount."""
    assert miscounts(np.array([0.0, 20.0, 0.5]), 4.0) == ()
