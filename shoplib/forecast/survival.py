"""How long things take when some are not finished yet: the product-limit estimate, and what it says of forecasts made of them.

An order still open is neither dropped nor taken for delivered today: what is known of it is that it took longer than so far.

References
----------
E. L. Kaplan and P. Meier, "Nonparametric estimation from incomplete observations", JASA 53 (1958), 457–481.
B. Efron, "The two sample problem with censored data", Proc. Fifth Berkeley Symposium 4 (1967), 831–853 (an open case counts as
its chance to have ended; the mean of these counts is the product-limit estimate).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Survival:
    """A step function: the share that lasts longer than each of `times`.

    Attributes
    ----------
    times : ndarray(float), shape (k,)
        When something ended, ascending, each once.
    lasting : ndarray(float), shape (k,)
        Share that lasts longer.
    """

    times: Floats
    lasting: Floats

    def at(self, time: ArrayLike) -> Floats:
        """Return the share that lasts longer than `time`; 1 before the first end."""
        steps = np.concatenate([[1.0], self.lasting])
        return np.asarray(steps[np.searchsorted(self.times, np.asarray(time, dtype=np.float64), "right")])

    def quantile(self, level: float) -> float:
        """Return the first time by which at least `level` (0–1) have ended; +inf where that many never did."""
        place = int(np.searchsorted(-self.lasting, level - 1.0 - 1e-12))
        return float(self.times[place]) if place < len(self.times) else float("inf")


def survival(times: ArrayLike, censored: ArrayLike) -> Survival:
    """Return the product-limit (Kaplan–Meier) estimate.

    Parameters
    ----------
    times : array_like of float, shape (n,)
        How long each took, or has taken so far.
    censored : array_like of bool, shape (n,)
        True where it has not ended yet; at a tie it lasts longer than what ended then.
    """
    taken, ended = np.asarray(times, dtype=np.float64), ~np.asarray(censored, dtype=bool)
    steps, deaths = np.unique(taken[ended], return_counts=True)
    at_risk = len(taken) - np.searchsorted(np.sort(taken), steps, "left")
    return Survival(steps, np.cumprod(1.0 - deaths / at_risk, dtype=np.float64))


def chance_held(happened: ArrayLike, forecast: ArrayLike, censored: ArrayLike) -> Floats:
    """Return for each forecast whether it held: 1 or 0, or the chance that it will where the order is still open.

    The chance is that of orders whose time ÷ forecast got as far. The mean is the product-limit estimate of the share that held.

    Parameters
    ----------
    happened, forecast : array_like of float, shape (n,)
        Days it took, or has taken so far, and days forecast.
    censored : array_like of bool, shape (n,)
        Still open.
    """
    came, said, open_ = (np.asarray(values) for values in (happened, forecast, censored))
    held = (came <= said).astype(np.float64)
    unsure = open_.astype(bool) & (came <= said)
    if unsure.any():
        ratio = came / said
        curve = survival(ratio, open_)
        held[unsure] = 1.0 - curve.at(1.0) / curve.at(ratio[unsure])
    return held
