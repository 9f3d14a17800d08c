"""How long things take when some are not finished: steps worked by hand, and shares of forecasts that held."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shoplib.forecast import calibrate
from shoplib.forecast.survival import chance_held, survival
from tests.forecast.test_backtest import history


def test_steps_by_hand():
    """Ends at 1 and 3, still going at 2: one of three ended at 1, the one left at 3, so 2/3 last longer, then none."""
    found = survival([1, 2, 3], [False, True, False])
    assert found.times.tolist() == [1, 3] and found.lasting.tolist() == pytest.approx([2 / 3, 0])


def test_at_a_tie_what_goes_on_lasts_longer():
    """One ended at 5, one goes on at 5: both were at risk, half lasts longer."""
    assert survival([5, 5], [False, True]).lasting.tolist() == [0.5]


def test_share_before_between_and_after():
    """Ends at 2 and 4: all last beyond 1, half beyond 2 and 3.9, none beyond 4."""
    assert survival([2, 4], [False, False]).at([1, 2, 3.9, 4]).tolist() == [1, 0.5, 0.5, 0]


@pytest.mark.parametrize(("level", "time"), [(0.25, 1), (0.5, 2), (0.51, 3), (1.0, 4)])
def test_quantile_is_the_first_time_by_which_that_share_ended(level, time):
    """Ends at 1, 2, 3, 4, each a quarter."""
    assert survival([1, 2, 3, 4], [False] * 4).quantile(level) == time


def test_a_level_never_reached_is_infinite():
    """Half go on for ever as far as is known: the 80 % point is not known to be finite."""
    assert survival([1, 9], [False, True]).quantile(0.8) == np.inf


def test_a_forecast_that_may_still_hold_counts_as_its_chance():
    """Said 10 days for all; two took 5 and 20, one is open after 8: what got beyond 8 took more than 10, so it has no chance."""
    assert chance_held([5, 20, 8], [10, 10, 10], [False, False, True]).tolist() == [1, 0, 0]


def test_a_forecast_half_of_whose_likes_held():
    """Open after 8 of 10 days; of the two that got as far one took 9 and one 20: its chance is one half."""
    assert chance_held([9, 20, 8], [10, 10, 10], [False, False, True]).tolist() == [1, 0, 0.5]


def test_an_order_open_beyond_its_date_has_missed_it():
    """Open after 12 days, said 10: it did not hold, whatever comes."""
    assert chance_held([5, 12], [10, 10], [False, True]).tolist() == [1, 0]


cases = st.lists(st.tuples(st.integers(1, 40), st.integers(1, 40), st.booleans()), min_size=1, max_size=30)


@settings(deadline=None)
@given(cases)
def test_mean_chance_is_the_product_limit_share(rows):
    """Whatever is open: the mean of the chances is 1 less the share that lasts longer than its forecast."""
    came, said, open_ = (np.array(column, dtype=float) for column in zip(*rows, strict=True))
    curve = survival(came / said, open_)
    assert chance_held(came, said, open_).mean() == pytest.approx(1 - curve.at(1.0), abs=1e-9)


@settings(deadline=None)
@given(cases)
def test_without_open_ones_it_is_plain_counting(rows):
    """Nothing open: the share that held."""
    came, said, _ = (np.array(column, dtype=float) for column in zip(*rows, strict=True))
    assert chance_held(came, said, np.zeros(len(rows), dtype=bool)).tolist() == (came <= said).tolist()


def test_open_orders_do_not_bend_a_correction():
    """Half of all orders cut off at a random day before they were done: the correction is that of the whole orders, within 0.1 of ln."""
    said = history(1.6, n_origins=24)
    draw = np.random.default_rng(5)
    cut = said["happened"].to_numpy() * draw.uniform(0, 2, len(said))
    open_ = cut < said["happened"]
    seen = said.assign(happened=np.minimum(cut, said["happened"]), censored=open_)
    assert open_.mean() > 0.4
    assert np.log(calibrate.factors(seen))[:2] == pytest.approx(np.log(calibrate.factors(said))[:2], abs=0.1)
