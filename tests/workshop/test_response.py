"""Customers' answer to price and wait: two fits, their hull, and the prior where quotes are few."""

from __future__ import annotations

import numpy as np
import pytest

from shoplib.workshop.response import QuotesGiven, Response, fit_response

PRICE, WAIT = -2.5, -0.15
PRIORS = ((-4.0, -1.0), (-0.4, 0.0))


def quotes(n: int, seed: int = 0, season: float = 0.0) -> QuotesGiven:
    """Return quotes over 900 days; `season` wins quotes and lengthens the wait alike, seen by nobody."""
    rng = np.random.default_rng(seed)
    day = np.sort(rng.uniform(0, 900, n))
    wave = np.sin(2 * np.pi * day / 365.25)
    weeks = np.round(7 + 2.5 * wave * (season > 0) + rng.normal(0, 1.5, n))
    ratio, ln_weight = rng.normal(0.5, 0.15, n), rng.normal(3.4, 0.4, n)
    logit = PRICE * (ratio - 0.5) + WAIT * (weeks - 7) + season * wave
    won = (rng.random(n) < 1 / (1 + np.exp(-logit))).astype(float)
    return QuotesGiven(won, ratio, weeks, ln_weight, rng.integers(0, 3, n), day, (day // 30.4).astype(np.int64))


def fit(seen: QuotesGiven, priors: tuple[tuple[float, float], tuple[float, float]] = PRIORS) -> Response:
    return fit_response(seen, (seen.day > 535).astype(float), 3, *priors, np.random.default_rng(0), 400)


def test_many_quotes_find_both_answers() -> None:
    """12,000 quotes: both coefficients within three of their standard deviations and close."""
    told = fit(quotes(12_000))
    assert told.price.estimate == pytest.approx(PRICE, abs=0.5)
    assert told.wait.estimate == pytest.approx(WAIT, abs=0.05)


def test_the_range_is_the_hull_of_both_fits() -> None:
    """low and high are the outer ends of the two 80 % ranges, worked by hand from estimate and standard deviation."""
    told = fit(quotes(2000, season=0.8))
    ends = [mean + sign * 1.2816 * sd for mean, sd in (told.smooth[1], told.monthly[1]) for sign in (-1, 1)]
    assert (told.wait.low, told.wait.high) == pytest.approx((min(ends), max(ends)), abs=1e-3)


def test_draws_come_from_both_fits() -> None:
    """Half the draws from each: their mean is the mean of the two estimates."""
    told = fit(quotes(2000, season=0.8))
    assert told.wait.draws[1:].mean() == pytest.approx(told.wait.estimate, abs=4 * told.wait.draws[1:].std() / 20)


def test_the_hull_holds_the_truth_under_a_hidden_season() -> None:
    """A season nobody wrote down wins quotes while the wait is long: in at least seven of ten shops the hull holds the truth."""
    inside = [(told := fit(quotes(2500, seed, 0.6))).wait.low <= WAIT <= told.wait.high for seed in range(10)]
    assert sum(inside) >= 7


def test_few_quotes_lean_on_the_prior() -> None:
    """Twenty quotes: the range is about the stated prior's; another prior, another answer."""
    told, other = fit(quotes(20)), fit(quotes(20), (PRIORS[0], (-1.0, -0.6)))
    assert abs(told.wait.estimate + 0.2) < 0.15
    assert other.wait.estimate < told.wait.estimate - 0.3


def test_log_odds_stand_at_mean_weeks() -> None:
    """The chances at mean weeks, own price and today's level agree with the share won lately, to two points."""
    seen = quotes(6000)
    told = fit(seen)
    recent = seen.day > 535
    chance = 1 / (1 + np.exp(-(told.logit + told.wait.estimate * (seen.weeks - told.mean_weeks))))
    assert chance[recent].mean() == pytest.approx(seen.won[recent].mean(), abs=0.02)


def test_missing_weeks_count_as_the_mean() -> None:
    """Quotes without weeks are kept and tell of price."""
    seen = quotes(3000)
    bare = QuotesGiven(seen.won, seen.ln_ratio, np.full(3000, np.nan), seen.ln_weight, seen.style, seen.day, seen.month)
    told = fit(bare)
    assert told.price.estimate == pytest.approx(PRICE, abs=0.8)
    assert told.wait.estimate == pytest.approx(-0.2, abs=1e-3), "nothing known of the wait: the prior's middle"


def test_a_shop_of_any_size_is_fitted_on_a_part() -> None:
    """40,000 quotes: log odds of each, both answers found, in a second."""
    told = fit(quotes(40_000))
    assert len(told.logit) == 40_000 and told.n == 40_000
    assert told.wait.estimate == pytest.approx(WAIT, abs=0.05)


def test_all_won_stays_finite() -> None:
    """A shop that wins every quote: priors hold the coefficients."""
    seen = quotes(200)
    told = fit(QuotesGiven(np.ones(200), seen.ln_ratio, seen.weeks, seen.ln_weight, seen.style, seen.day, seen.month))
    assert np.isfinite(told.logit).all() and told.logit.mean() > 2


def queue_that_answers(seed: int, days: int = 900) -> QuotesGiven:
    """Return quotes of a shop that finishes two orders a day: each quote won lengthens the wait of those after it; no season."""
    rng = np.random.default_rng(seed)
    waiting, rows = 45.0, []
    for day in range(days):
        for _ in range(rng.poisson(4.0)):
            weeks, ratio = np.round(1 + 0.13 * waiting + rng.normal(0, 0.5)), rng.normal(0.5, 0.15)
            won = rng.random() < 1 / (1 + np.exp(-PRICE * (ratio - 0.5) - WAIT * (weeks - 7)))
            waiting += won
            rows.append((won, ratio, weeks, day))
        waiting = max(0.0, waiting - 2.0)
    won, ratio, weeks, day = np.array(rows, dtype=float).T
    n = len(won)
    return QuotesGiven(won, ratio, weeks, rng.normal(3.4, 0.4, n), rng.integers(0, 3, n), day, (day // 30.4).astype(np.int64))


def test_a_queue_lengthened_by_orders_won_misleads_little() -> None:
    """Fifteen shops without a season, whose queue answers: the mean answer is within a quarter of the truth, and nine ranges hold it."""
    told = [fit(queue_that_answers(seed)).wait for seed in range(15)]
    assert abs(np.mean([one.estimate for one in told]) - WAIT) < 0.25 * abs(WAIT)
    assert sum(one.low <= WAIT <= one.high for one in told) >= 9
