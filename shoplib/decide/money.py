"""Cash by month and what it is worth today.

Flows stand at the end of their month; equipment is bought at month 0 (today). numpy-financial's NPV leaves the first flow
undiscounted, a spreadsheet's discounts it once: here the flow of month 0 is undiscounted and that of month t divided by
(1 + r)^(t/12).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


def monthly_rate(yearly: float) -> float:
    """Return the rate a month that compounds to `yearly` a year: (1 + r)^(1/12) − 1."""
    return float((1.0 + yearly) ** (1.0 / 12.0) - 1.0)


def npv(flows: ArrayLike, yearly: float) -> Floats | np.float64:
    """Return the net present value of monthly flows.

    Parameters
    ----------
    flows : array_like of float, shape (..., months + 1)
        Flow of month 0, then at the end of each month; leading axes are scenarios or replications.
    yearly : float
        Rate a year, 0–1.
    """
    cash = np.asarray(flows, dtype=np.float64)
    discount = (1.0 + yearly) ** (-np.arange(cash.shape[-1]) / 12.0)
    return np.asarray(cash @ discount)[()]


def irr(flows: ArrayLike) -> float:
    """Return the internal rate a period of a row of flows; NaN when there is none."""
    import numpy_financial

    return float(numpy_financial.irr(np.asarray(flows, dtype=np.float64)))


def cumulative(flows: ArrayLike) -> Floats:
    """Return cash so far at the end of each month, same shape as `flows`."""
    return np.cumsum(np.asarray(flows, dtype=np.float64), axis=-1)


def payback_month(flows: ArrayLike) -> int | None:
    """Return the first month from which cumulative cash is at or above zero and stays so; None when it never does."""
    below = np.flatnonzero(cumulative(flows) < -1e-9)
    months = np.asarray(flows).shape[-1]
    if below.size == 0:
        return 0
    return int(below[-1]) + 1 if below[-1] + 1 < months else None


def payback_within_period(flows: ArrayLike) -> float:
    """Return the payback in periods with the last one counted in part, as textbooks print it; infinity when there is none."""
    month = payback_month(flows)
    if month is None:
        return float("inf")
    if month == 0:
        return 0.0
    so_far, flow = cumulative(flows), np.asarray(flows, dtype=np.float64)
    return float(month - 1 - so_far[month - 1] / flow[month])


def deepest(flows: ArrayLike) -> float:
    """Return the lowest cumulative cash, zero when it never falls below zero."""
    return float(min(cumulative(flows).min(), 0.0))
