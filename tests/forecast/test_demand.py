"""Demand to come: candidates, choice and ranges."""

import numpy as np
import pandas as pd
import pytest

from shoplib.errors import DataError
from shoplib.forecast.demand import CANDIDATES, _choose, _History, forecast_demand


def months(n, start="2022-01"):
    return pd.DatetimeIndex(np.arange(np.datetime64(start, "M"), np.datetime64(start, "M") + n).astype("datetime64[s]"))


def made(n, ahead, rate=lambda t: 1.0, seed=1):
    """Poisson counts at `rate(t)` a working day of 20 days a month, and the days of `ahead` months more."""
    days = pd.Series(20.0, index=months(n + ahead))
    counts = np.random.default_rng(seed).poisson([20 * rate(t) for t in range(n)])
    return pd.Series(counts.astype(float), index=months(n)), days


def test_a_month_without_working_days_brings_no_orders():
    """Counts are per working day: a shut month is forecast at zero."""
    counts, days = made(30, 3)
    days.iloc[31] = 0.0
    assert forecast_demand(counts, days, 1).count_paths[:, 1].max() == 0


def test_half_the_working_days_halve_the_month():
    """The same rate over half the days is half the orders (worked by hand)."""
    counts, days = made(36, 2)
    days.iloc[37] = 10.0
    mean = forecast_demand(counts, days, 1).mean
    assert mean[1] / mean[0] == pytest.approx(0.5, abs=0.05)


def test_steady_demand_is_forecast_at_its_rate():
    """Twenty orders a month for four years: the twelve months ahead are expected within 10 % of 20 each on average."""
    counts, days = made(48, 12)
    assert forecast_demand(counts, days, 1).mean.mean() == pytest.approx(20, rel=0.1)


def test_range_holds_what_comes():
    """Over 20 made histories the 80 % range holds 80 % of the months, within four binomial standard errors (dependent months: 1/3 of n)."""
    inside = []
    for seed in range(20):
        counts, days = made(42, 0, seed=seed)
        table = forecast_demand(counts.iloc[:30], days, 1).table()
        inside += list(
            counts.iloc[30:].between(table["orders_p10"].set_axis(counts.index[30:]), table["orders_p90"].set_axis(counts.index[30:]))
        )
    assert abs(np.mean(inside) - 0.85) < 4 * np.sqrt(0.8 * 0.2 / (len(inside) / 3))


def test_same_seed_same_draws():
    """No global random state: two calls agree to the bit."""
    counts, days = made(30, 6)
    assert (forecast_demand(counts, days, 7).count_paths == forecast_demand(counts, days, 7).count_paths).all()


@pytest.mark.parametrize("n", [3, 5, 11, 12, 13, 23, 24, 25])
def test_short_histories_are_forecast(n):
    """From three whole months on there is a finite forecast."""
    counts, days = made(n, 12)
    assert np.isfinite(forecast_demand(counts, days, 1).count_paths).all()


def test_two_months_are_too_few():
    """Under three whole months the refusal names the number found."""
    counts, days = made(2, 12)
    with pytest.raises(DataError, match='found "2"'):
        forecast_demand(counts, days, 1)


def test_months_without_an_order():
    """A history of zeros is forecast near zero, not refused."""
    counts, days = made(24, 6, rate=lambda t: 0.0)
    assert forecast_demand(counts, days, 1).mean.max() < 2


def test_the_mean_is_kept_unless_clearly_beaten():
    """A candidate better at every origin by the same amount is taken; one better only on average by luck is not."""
    origins = range(12)
    rows = (
        [("mean", o, 12, 2.0) for o in origins]
        + [("damped", o, 12, 1.5 + 0.01 * o) for o in origins]
        + [("count_trend", o, 12, 1.9 + (-1) ** o) for o in origins]
    )
    scores = pd.DataFrame(rows, columns=["method", "origin", "months", "loss"])
    assert (_choose(scores), _choose(scores[scores["method"] != "damped"])) == ("damped", "mean")


@pytest.mark.parametrize("name", list(CANDIDATES))
def test_candidates_see_only_the_past(name):
    """What is drawn from a shortened history does not depend on what came after it."""
    counts, days = made(40, 0)
    history = _History(counts.to_numpy(), days.to_numpy(), days.to_numpy()[:0])
    changed = _History(np.append(counts.to_numpy()[:30], [999.0] * 10), days.to_numpy(), days.to_numpy()[:0])
    assert (CANDIDATES[name](history.until(30, 6), 1) == CANDIDATES[name](changed.until(30, 6), 1)).all()
