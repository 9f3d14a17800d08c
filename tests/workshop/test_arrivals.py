"""Enquiries a working day: level, fading growth, wave of the year."""

from __future__ import annotations

import numpy as np
import pytest

from shoplib.workshop.arrivals import monthly_rate

AS_OF = np.datetime64("2026-06-30")
OPEN = (lambda days: days[np.is_busday(days)])(np.arange(np.datetime64("2023-07-01"), AS_OF + 1))


def rate(per_day: np.ndarray, seed: int = 0) -> tuple[np.datetime64, np.ndarray, np.ndarray]:
    days = np.repeat(OPEN, np.random.default_rng(seed).poisson(per_day))
    return monthly_rate(days, AS_OF, OPEN, np.random.default_rng(1), 300)


def test_a_constant_rate_is_found() -> None:
    """Four a working day: every month ahead within three of its own standard deviations, from July on."""
    first, told, _ = rate(np.full(len(OPEN), 4.0))
    assert str(first) == "2026-07" and told.shape == (301, 12)
    assert (np.abs(told[0] - 4.0) < 3 * told[1:].std(axis=0)).all()


def test_growth_goes_on_and_fades() -> None:
    """From 3 to 6 a day over three years: the next month is about 6, the year to come higher, its end growing less."""
    _, told, _ = rate(np.linspace(3.0, 6.0, len(OPEN)))
    level = told[0].mean()
    assert 5.5 < told[0, 0] < 7.5 and 5.8 < level < 8.0


def test_a_season_is_found() -> None:
    """A wave of 40 % with its top in November: November above May by about 0.8 of the mean."""
    month = OPEN.astype("datetime64[M]").astype(int) % 12
    _, told, _ = rate(8.0 * (1 + 0.4 * np.cos(2 * np.pi * (month - 10) / 12)))
    assert (told[0, 4] - told[0, 10]) / told[0].mean() == pytest.approx(0.8, abs=0.25)


def test_counts_more_uneven_than_chance_widen_the_range() -> None:
    """Months that swing by themselves: a dispersion above 0, wider draws than of even counts."""
    swing = np.random.default_rng(4).gamma(4, 1 / 4, 40)[OPEN.astype("datetime64[M]").astype(int) % 40]
    even, uneven = rate(np.full(len(OPEN), 6.0)), rate(6.0 * swing)
    assert uneven[2][0] > 0.02 and uneven[1][1:, 0].std() > 1.3 * even[1][1:, 0].std()


@pytest.mark.parametrize("n", [0, 1])
def test_hardly_any_enquiry_is_modelled(n: int) -> None:
    """None or one in all the past: a small rate, finite."""
    _, told, dispersion = monthly_rate(np.full(n, AS_OF - 40), AS_OF, OPEN, np.random.default_rng(1), 20)
    assert np.isfinite(told).all() and (told[0] < 1).all() and np.isfinite(dispersion).all()
