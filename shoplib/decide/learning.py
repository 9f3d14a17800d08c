"""How a starter's time for a piece falls with practice.

Unit form of the learning curve (Crawford 1944): the time of the n-th piece is T1 · n^b with b = log2(rate). It is not the
cumulative-average form (Wright 1936), in which the *mean* of the first n pieces follows that law; the two differ from the
second piece on (rate 80 %: 0.80 against 0.60 of the first).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

SLOWEST = 3.0
"""A starter's piece never takes more than this many times the standard (common practice, no source)."""


def unit_times(n: ArrayLike, rate: float) -> NDArray[np.float64]:
    """Return the time of the n-th piece in units of the first.

    Parameters
    ----------
    n : array_like of float
        Number of the piece, from 1.
    rate : float
        Share to which the time falls when the count doubles, 0–1.
    """
    times: NDArray[np.float64] = np.asarray(n, dtype=np.float64) ** np.log2(rate)
    return times


def average_times(n: ArrayLike, rate: float) -> NDArray[np.float64]:
    """Return the time of the n-th piece when the mean of the first n follows the curve (Wright), in units of the first."""
    count = np.asarray(n, dtype=np.float64)
    power = 1.0 + np.log2(rate)
    times: NDArray[np.float64] = count**power - np.where(count > 1, count - 1, 0.0) ** power
    return times


def starter_factor(n: ArrayLike, pieces_to_standard: float, rate: float) -> NDArray[np.float64]:
    """Return a starter's time for piece `n` in units of the standard: max(1, (n ÷ N)^log2 rate), at most three times.

    Parameters
    ----------
    n : array_like of float
        Number of the starter's piece, from 1.
    pieces_to_standard : float
        N: pieces done at full speed within the ramp-up; 0 or less: standard from day one.
    rate : float
        Share to which the time falls when the count doubles, 0–1; 1: no learning.
    """
    if pieces_to_standard <= 0 or rate >= 1:
        return np.ones_like(np.asarray(n, dtype=np.float64))
    return np.clip(unit_times(np.asarray(n, dtype=np.float64) / pieces_to_standard, rate), 1.0, SLOWEST)
