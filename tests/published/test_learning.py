"""Learning curves against published tables."""

import numpy as np
import pytest

from shoplib.decide.learning import average_times, starter_factor, unit_times

UNIT_80 = {2: 0.8000, 3: 0.7021, 4: 0.6400, 5: 0.5956, 8: 0.5120, 10: 0.4765, 20: 0.3812, 50: 0.2838, 100: 0.2271}
CUMULATIVE_80 = {2: 1.8000, 4: 3.1421, 5: 3.7377, 8: 5.3459, 10: 6.3154, 18: 9.7162, 20: 10.4849, 50: 20.1217, 100: 32.6508}


@pytest.mark.parametrize(("n", "time"), UNIT_80.items())
def test_unit_table(n, time):
    """Unit coefficients of the 80 % curve (Stevenson, Heizer and Render; attribution from memory, values recomputed)."""
    assert unit_times(n, 0.8) == pytest.approx(time, abs=5e-5)


@pytest.mark.parametrize(("n", "total"), CUMULATIVE_80.items())
def test_cumulative_table(n, total):
    """Cumulative coefficients of the 80 % curve (same tables)."""
    assert unit_times(np.arange(1, n + 1), 0.8).sum() == pytest.approx(total, abs=5e-5)


@pytest.mark.parametrize(("n", "mean"), [(10, 0.6315), (100, 0.3265)])
def test_mean_of_the_units(n, mean):
    """Cumulative average of the unit curve at 80 % (same tables)."""
    assert unit_times(np.arange(1, n + 1), 0.8).mean() == pytest.approx(mean, abs=5e-5)


def test_three_hundred_hours_at_80_percent():
    """Operations-management exercise: first unit 300 h, 80 %: fifth unit 178.7 h, five units 1,121.4 h (table rounding), eighteen 2,914.8 h."""
    times = 300 * unit_times(np.arange(1, 19), 0.8)
    assert (times[4], times[:5].sum(), times.sum()) == (
        pytest.approx(178.7, abs=0.1),
        pytest.approx(1121.4, abs=0.1),
        pytest.approx(2914.8, abs=0.1),
    )


def test_five_units_without_the_rounding_of_the_table():
    """The same exercise: the exact sum of five is 1,121.32 h, where the book's coefficient of three decimals gives 1,121.4 (recomputed)."""
    assert 300 * unit_times(np.arange(1, 6), 0.8).sum() == pytest.approx(1121.32, abs=5e-3)


def test_averages_and_steps_of_the_cumulative_average_form():
    """CIMA P1 study text, ch. 15: averages 100, 80, 64, 51.2, 40.96, steps 60, 96, 153.6, 245.76 as the number doubles from 1 to 16."""
    totals = np.cumsum(100 * average_times(np.arange(1, 17), 0.8))[[0, 1, 3, 7, 15]]
    assert totals / [1, 2, 4, 8, 16] == pytest.approx([100, 80, 64, 51.2, 40.96])
    assert np.diff(totals) == pytest.approx([60, 96, 153.6, 245.76])


def test_cumulative_average_form_is_another_curve():
    """CIMA P1 study text, ch. 15: totals 100, 160, 256, 409.6, 655.36 at 80 % (its print of 254.76 for the last step is a misprint of 245.76)."""
    totals = np.cumsum(100 * average_times(np.arange(1, 17), 0.8))[[0, 1, 3, 7, 15]]
    assert totals == pytest.approx([100, 160, 256, 409.6, 655.36])


def test_the_second_unit_tells_the_forms_apart():
    """At 80 % the second unit takes 0.80 of the first in the unit form and 0.60 in the cumulative-average form (worked by hand)."""
    assert (unit_times(2, 0.8), average_times(2, 0.8)) == (pytest.approx(0.8), pytest.approx(0.6))


def test_a_starter_reaches_the_standard_and_stays():
    """Worked by hand at 85 %, N = 100: piece 100 and later take the standard; piece 50 takes 1/0.85; the first is held at three times."""
    assert starter_factor([1, 50, 100, 400], 100, 0.85) == pytest.approx([min(3, 100 ** -np.log2(0.85)), 1 / 0.85, 1, 1])


@pytest.mark.parametrize(("pieces", "rate"), [(0, 0.85), (100, 1.0)])
def test_no_ramp_means_standard_from_day_one(pieces, rate):
    """Ramp 0 or rate 100 %: standard from the first piece (METHODS, hire)."""
    assert (starter_factor([1, 2, 3], pieces, rate) == 1).all()
