"""Work in process against output and flow time: best, practical worst and worst case.

Hopp & Spearman (2011), Factory Physics, 3rd ed., chapter 7, section 7.3: `rate` is that of the bench that limits (orders a
week), `raw_time` the time an order takes when it never waits (weeks), and rate × raw_time the critical work in process, at
which a line without any variation would just reach its rate.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from .working_time import Hours


@dataclass(frozen=True)
class Line:
    """A line of benches.

    Attributes
    ----------
    rate : float
        Orders a unit of time at the bench that limits.
    raw_time : float
        Time an order takes without waiting, in the same unit.
    """

    rate: float
    raw_time: float

    @property
    def critical_wip(self) -> float:
        """Orders in process at which a line without variation just reaches its rate."""
        return self.rate * self.raw_time

    def best_output(self, wip: ArrayLike) -> Hours:
        """Return output with `wip` orders in process when nothing varies."""
        return np.minimum(np.asarray(wip, dtype=float) / self.raw_time, self.rate)

    def best_flow(self, wip: ArrayLike) -> Hours:
        """Return flow time with `wip` orders in process when nothing varies."""
        return np.maximum(self.raw_time, np.asarray(wip, dtype=float) / self.rate)

    def worst_output(self, wip: ArrayLike) -> Hours:
        """Return output when all orders move as one batch."""
        return np.full(np.shape(np.asarray(wip, dtype=float)), 1.0 / self.raw_time)

    def worst_flow(self, wip: ArrayLike) -> Hours:
        """Return flow time when all orders move as one batch."""
        flow: Hours = np.asarray(wip, dtype=float) * self.raw_time
        return flow

    def practical_worst_output(self, wip: ArrayLike) -> Hours:
        """Return output when every spread of the orders over the benches is as likely (balanced line, exponential times)."""
        orders = np.asarray(wip, dtype=float)
        output: Hours = orders / (self.critical_wip + orders - 1.0) * self.rate
        return output

    def practical_worst_flow(self, wip: ArrayLike) -> Hours:
        """Return flow time when every spread of the orders over the benches is as likely."""
        flow: Hours = self.raw_time + (np.asarray(wip, dtype=float) - 1.0) / self.rate
        return flow

    def curve(self, most: float, points: int = 60) -> pd.DataFrame:
        """Return wip, best, practical_worst and worst output from 1 to `most` orders in process."""
        wip = np.unique(np.round(np.linspace(1.0, max(most, 2.0), points)))
        outputs = {"best": self.best_output(wip), "practical_worst": self.practical_worst_output(wip), "worst": self.worst_output(wip)}
        return pd.DataFrame({"wip": wip, **outputs})
