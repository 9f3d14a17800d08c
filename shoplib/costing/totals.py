"""Sums by row number: the one way in which entries become totals of orders, months or stages."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def total_by(index: NDArray[np.int64], values: NDArray[np.float64], size: int) -> NDArray[np.float64]:
    """Return the sum of `values` for each index 0 … size − 1; rows with an index of −1 are left out.

    Parameters
    ----------
    index : ndarray(int)
        Where each value belongs.
    values : ndarray(float)
        As many as `index`; a NaN counts as 0.
    size : int
        Number of sums.
    """
    here = index >= 0
    sums = np.bincount(index[here], np.nan_to_num(values[here]), size)
    return np.asarray(sums, dtype=np.float64)


def ratio(over: NDArray[np.float64], under: NDArray[np.float64], without: float = 0.0) -> NDArray[np.float64]:
    """Return over ÷ under, and `without` where the divisor is 0."""
    share: NDArray[np.float64] = np.divide(over, under, out=np.full(np.shape(under), without), where=under != 0)
    return share
