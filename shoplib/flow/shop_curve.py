"""Where the shop stands on its curve of work in process against output."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np

from .curves import Line
from .months import LittlesLaw, littles_law, touch_hours
from .stages import delivered_in, skill_table
from .visits import History

_WEEK_DAYS = 7.0


@dataclass(frozen=True)
class ShopCurve:
    """The shop as a line of benches, and the stretch measured.

    Attributes
    ----------
    line : Line
        rate: orders a week at the busiest skill if it were always booked; raw_time: weeks an order takes without waiting.
    output_per_week : float
        Orders delivered a week.
    law : LittlesLaw
        Work in process and flow of the stretch.
    """

    line: Line
    output_per_week: float
    law: LittlesLaw


def shop_curve(history: History, first: date, last: date, bench_share: Mapping[str, float] | None = None) -> ShopCurve | None:
    """Return where the shop stood from `first` to `last`; None when nothing was delivered or no hours are booked.

    The rate is output ÷ load of the busiest skill, so it holds at the mix of orders of the stretch.
    """
    law = littles_law(history, first, last)
    load = skill_table(history, first, last, bench_share)["load"].max()
    hours = touch_hours(history)[delivered_in(history, first, last).to_numpy()]
    weeks = ((last - first).days + 1) / _WEEK_DAYS
    edges = np.array([first, last], "datetime64[D]") + np.array([0, 1])
    week_h = float(np.diff(history.clock.hours_at(edges.astype("datetime64[s]")))[0]) / weeks
    if not law.out_per_day or not np.isfinite(hours).any() or not load > 0 or not week_h > 0:
        return None
    output = law.out_per_day * _WEEK_DAYS
    return ShopCurve(Line(output / float(load), float(np.nanmean(hours)) / week_h), output, law)
