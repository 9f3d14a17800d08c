"""The best mark-up and its range over the draws of how customers answer."""

import numpy as np
import pytest

from shoplib.pricing.mark_up import MarkUps

LEVELS = np.array([0.0, 0.1, 0.2])
GAIN = np.array([[0.0, 5.0, 3.0], [0.0, 4.0, 9.0], [0.0, 6.0, -2.0], [0.0, 5.0, 1.0]])


def marks(gain=GAIN):
    flat = np.full(gain.shape, 100.0)
    return MarkUps(LEVELS, gain, flat, np.where(gain < 0, np.nan, 40.0))


def test_the_level_that_earns_most_on_average():
    """Means 0, 5.00 and 2.75 (worked by hand)."""
    assert marks().best == 0.1


def test_its_range_is_that_of_the_best_level_draw_by_draw():
    """Best in the four draws: 0.1, 0.2, 0.1, 0.1; one in ten lies at or below 0.1, nine in ten at or below 0.2 (worked by hand)."""
    assert marks().best_range == (0.1, 0.2)


def test_the_share_of_draws_each_level_wins():
    """0, 3 and 1 of four (worked by hand)."""
    assert marks().table()["best_odds"].to_list() == [0.0, 0.75, 0.25]


def test_no_mark_up_may_be_best():
    """Where every rise loses, none is advised."""
    one = marks(-np.abs(GAIN))
    assert one.best == 0.0 and one.best_range == (0.0, 0.0)


def test_days_of_draws_without_an_order_are_left_out():
    """The mean of the known days, not NaN."""
    assert marks().table()["days_in_shop"].to_list() == pytest.approx([40.0] * 3)
