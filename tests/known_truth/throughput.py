"""The throughput report's accuracy paragraph: the bench that limits, months' orders, orders per extra hour.

The truth of an extra hour is the generator's own: each shop is played on for two years from the last day of its records, with and
without somebody who has the limiting skill for four hours a week, under several lucks that both share.
"""

from __future__ import annotations

import numpy as np

from shoplib.flow.months import month_table
from shoplib.flow.stages import skill_table
from shoplib.flow.visits import history
from shoplib.reports.periods import whole_months
from shoplib.workshop.limits import DEMAND, Limits, find_limits
from shoplib.workshop.state import state

from . import parameters as p
from .case import Case, Measured, Verdict
from .play import play
from .tables import day_text
from .things import Played

TITLE = "Throughput: what limits it"
LUCKS = (1, 2, 3, 4)
AHEAD_MONTHS = 24
HOURS_A_WEEK = 4.0
SEED = 20260101


def measure(case: Case) -> list[Measured]:
    """Return every number of the paragraph for one shop, with its truth."""
    limits = limits_of(case)
    return [*limiting(case, limits), *months(case), *_extra_hour(case, limits)]


def judge(rows: list[Measured]) -> list[Verdict]:
    """Return the sentences of the paragraph."""
    return [_named(rows), _not_busiest(rows), _demand(rows), _exact(rows), _hour(rows)]


def limits_of(case: Case) -> Limits:
    """Return what an hour more is worth at each bench of the shop as fitted."""
    workshop = case.fitted.workshop
    return find_limits(workshop, state(case.shop, workshop, case.as_of), SEED, threads=2)


def limiting(case: Case, limits: Limits) -> list[Measured]:
    """Return the bench that limits, and the one with most hours booked, beside the truth."""
    first, last = whole_months(case.as_of, 12)
    booked = skill_table(history(case.shop, case.as_of), first, last).set_index("skill")["hours_booked"]
    truth, told = case.truth.limiting or DEMAND, limits.limiting or DEMAND
    return [Measured(case.number, "limiting", "shop", truth, told), Measured(case.number, "busiest", "shop", truth, str(booked.idxmax()))]


def months(case: Case) -> list[Measured]:
    """Return the orders taken and delivered in each month of the records."""
    table = month_table(history(case.shop, case.as_of), p.HISTORY_MONTHS)
    rows = []
    for what, day in (("orders_in", "day"), ("orders_out", "delivered")):
        days = [day_text(getattr(order, day))[:7] for order in case.played.orders if getattr(order, day) < case.played.n_days]
        for month, told in zip(table["month"].dt.strftime("%Y-%m"), table[what], strict=True):
            rows.append(Measured(case.number, what, month, float(days.count(month)), float(told)))
    return rows


def _extra_hour(case: Case, limits: Limits) -> list[Measured]:
    if not case.truth.limiting:
        return []
    told = limits.table().set_index("skill").loc[case.truth.limiting]
    truth = extra_hour(case.truth, case.truth.limiting)
    return [Measured(case.number, "extra hour", case.truth.limiting, truth, *told[["orders_per_extra_hour", "low", "high"]].astype(float))]


def extra_hour(truth: p.Truth, skill: str) -> float:
    """Return the orders a year that one hour a week more at `skill` brings, played."""
    from_day = round(p.HISTORY_MONTHS * p.DAYS_PER_MONTH)
    hour = HOURS_A_WEEK / 4.0
    hand = p.Person("extra", (skill,), (hour, hour, hour, hour, 0.0, 0.0, 0.0), 1.0, 0.0, 1.0, 0, from_day, 50)
    gains = []
    for luck in LUCKS:
        length = p.HISTORY_MONTHS + AHEAD_MONTHS
        alone, helped = (play(truth, length, extra, luck, from_day) for extra in ((), (hand,)))
        gains.append(_delivered(helped, from_day) - _delivered(alone, from_day))
    return float(np.mean(gains)) / (AHEAD_MONTHS / 12.0) / HOURS_A_WEEK


def _delivered(played: Played, from_day: int) -> int:
    return sum(p.WARM_UP_DAYS + from_day <= order.delivered < played.n_days for order in played.orders)


def _named(rows: list[Measured]) -> Verdict:
    right = [row.truth == row.told for row in rows if row.what == "limiting"]
    return Verdict("the limiting bench named in every shop", f"{sum(right)} of {len(right)}", all(right))


def _not_busiest(rows: list[Measured]) -> Verdict:
    other = {row.shop for row in rows if row.what == "busiest" and row.truth not in (row.told, DEMAND)}
    right = [row.truth == row.told for row in rows if row.what == "limiting" and row.shop in other]
    return Verdict("also where the bench with most hours is not it", f"{sum(right)} of {len(right)}", all(right))


def _demand(rows: list[Measured]) -> Verdict:
    right = [row.told == DEMAND for row in rows if row.what == "limiting" and row.truth == DEMAND]
    return Verdict("a shop limited by demand says so", f"{sum(right)} of {len(right)}", all(right))


def _exact(rows: list[Measured]) -> Verdict:
    right = [row.truth == row.told for row in rows if row.what in ("orders_in", "orders_out")]
    return Verdict("months' orders in and out exact", f"{sum(right)} of {len(right)} months", bool(right) and all(right))


def _hour(rows: list[Measured]) -> Verdict:
    """Shops together: one whose customers drift away with the price of gold in the two years to come is not foreseen by anybody."""
    pairs = np.array([(float(row.told), float(row.truth)) for row in rows if row.what == "extra hour"]).reshape(-1, 2)
    told, truth = pairs.mean(axis=0) if len(pairs) else (float("nan"), float("nan"))
    each = ", ".join(f"{one:.1f} against {other:.1f}" for one, other in pairs)
    found = f"{told:.1f} told against {truth:.1f} played, {told / truth:.2f}; shop by shop {each}"
    return Verdict("orders per extra hour within 0.7 to 1.3 of the truth on average", found, 0.7 <= told / truth <= 1.3)
