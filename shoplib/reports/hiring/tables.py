"""The tables of the hiring report."""

from __future__ import annotations

import numpy as np
import pandas as pd

from ...decide.compare import Comparison
from ...decide.evaluate import Judged
from ...workshop.baseline import Baseline
from ...workshop.outcome import Outcome

CANDIDATES = (
    ("rank", "", "from the highest value over the horizon"),
    ("candidate", "", "plan"),
    ("kind", "", "hire, train, overtime, outwork, part_time, price or nothing"),
    ("stage", "", "skill it works on"),
    ("orders_per_year", "orders a year", "orders delivered a year, from the start of the plan to the horizon"),
    ("orders_gain", "orders a year", "more than doing nothing"),
    ("orders_gain_low", "orders a year", "80 % range"),
    ("orders_gain_high", "orders a year", "80 % range"),
    ("backlog_orders", "orders a year", "of the gain: open orders delivered earlier, not new ones"),
    ("grams_gain", "g gross a year", "more grams delivered"),
    ("wait_days", "days", "from order to delivery, orders that come in the last half-year of the horizon"),
    ("wait_change_days", "days", "against doing nothing"),
    ("on_time_share", "share", "promises kept of those due over the horizon"),
    ("extra_contribution", "money", "throughput contribution more than doing nothing, over the horizon"),
    ("cost", "money", "equipment, pay, work sent out and spoiled metal, over the horizon"),
    ("npv", "money", "net present value over the horizon against doing nothing, mean"),
    ("npv_low", "money", "80 % range"),
    ("npv_high", "money", "80 % range"),
    ("payback_months", "months", "first month from which cumulative cash stays at or above zero"),
    ("payback_probability", "share", "paid back within the horizon"),
    ("breakeven_demand", "share", "enquiries ÷ forecast at which the value is zero; the best plan only"),
    ("next_limit", "", "where the longest queue stands with the plan"),
    ("refused", "", "why the plan cannot be taken"),
)
CASH = (
    ("candidate", "", "plan"),
    ("month", "months", "months after the decision"),
    ("low", "money", "cumulative cash against doing nothing, 80 % range"),
    ("middle", "money", "middle"),
    ("high", "money", "80 % range"),
)
STEPS = (
    ("candidate", "", "plan"),
    ("horizon_months", "months", "judged over"),
    ("demand_factor", "share", "enquiries ÷ forecast"),
    ("npv", "money", "mean"),
    ("npv_low", "money", "80 % range"),
    ("npv_high", "money", "80 % range"),
)
TURNS = (
    ("assumption", "", "what is uncertain"),
    ("low", "money", "value of the best plan with it at the lower end of its 80 % range"),
    ("high", "money", "at the upper end"),
)
LEARNING = (
    ("demand_factor", "share", "enquiries ÷ forecast"),
    ("learning_factor", "share", "pieces until standard time ÷ assumed"),
    ("npv", "money", "value of the best plan, mean"),
)
LOADS = (
    ("skill", "", "skill a bench asks for"),
    ("now", "share", "hours booked ÷ hours there, doing nothing, second year"),
    ("after", "share", "with the best plan"),
)
LEFT_OUT = (
    ("skill", "", "bench that does not limit"),
    ("orders_per_extra_hour", "orders a year", "orders a year per extra hour a week"),
)


DOES_NOT_LIMIT = "Not run: this bench does not limit; the gain is that of its extra hours, one by one."


def candidate_rows(found: Comparison, base: Baseline, months: int, weekly_hours: float) -> pd.DataFrame:
    """Return table ``candidates``, ranked; then refused plans, their numbers missing, then benches that do not limit.

    Parameters
    ----------
    found : Comparison
        The plans judged.
    base : Baseline
        Doing nothing.
    months : int
        Horizon.
    weekly_hours : float
        Paid hours a week of another person.
    """
    rows = [_row(one, base.nothing, months, found, base) for one in found.judged]
    rows += [{"candidate": one.name, "kind": one.kind, "stage": one.stage, "refused": one.refused} for one in found.refused]
    at_bench = weekly_hours * float(base.workshop.bench_share[0].mean()) if len(base.workshop.people) else 0.0
    rows += [_idle_bench(str(one["skill"]), at_bench * float(one["orders_per_extra_hour"])) for one in found.left_out.to_dict("records")]
    frame = pd.DataFrame(rows, columns=[name for name, _, _ in CANDIDATES])
    return frame.assign(rank=np.arange(1, len(frame) + 1))


def _idle_bench(skill: str, gain: float) -> dict[str, object]:
    """The row of another person at a bench that does not limit: orders a year by the extra hours' worth, no money."""
    return {
        "candidate": f"Another person to {skill}", "kind": "hire", "stage": skill, "orders_gain": gain, "refused": DOES_NOT_LIMIT,
    }  # fmt: skip


def _row(one: Judged, nothing: Outcome, months: int, found: Comparison, base: Baseline) -> dict[str, object]:
    first, plan, runs = one.candidate.from_month - 1, one.result, len(one.value)
    part, years = slice(first, months), (months - first) / 12.0
    extra = (plan.contribution - nothing.contribution[:runs])[:, :months].sum(axis=1)
    low, high = np.quantile(one.orders_gain, (0.1, 0.9))
    wait, before = (mean_known(late_wait(run, months)) for run in (plan, nothing))
    return {
        "candidate": one.candidate.name,
        "kind": one.candidate.kind,
        "stage": one.candidate.stage or None,
        "orders_per_year": float(plan.delivered[:, part].sum(axis=1).mean() / years),
        "orders_gain": float(one.orders_gain.mean()),
        "orders_gain_low": float(low),
        "orders_gain_high": float(high),
        "backlog_orders": one.backlog_orders,
        "grams_gain": float((plan.grams - nothing.grams[:runs])[:, part].sum(axis=1).mean() / years),
        "wait_days": wait,
        "wait_change_days": wait - before,
        "on_time_share": float(plan.kept[:, :months].sum() / max(plan.due[:, :months].sum(), 1)),
        "extra_contribution": float(extra.mean()),
        "cost": float(one.spent.mean()),
        "npv": float(one.value.mean()),
        "npv_low": one.value_range[0],
        "npv_high": one.value_range[1],
        "payback_months": one.payback,
        "payback_probability": one.payback_probability,
        "breakeven_demand": found.breakeven if found.best is one else None,
        "next_limit": _next_queue(plan, base),
        "refused": None,
    }


def late_wait(plan: Outcome, months: int) -> np.ndarray:
    """Return days from order to delivery of orders that come in the last half-year of the horizon, by replication; NaN without one."""
    days = plan.flow_days[:, max(months - 6, 0) : max(months - 2, 1)]
    known = np.isfinite(days)
    count = known.sum(axis=1)
    return np.where(count > 0, np.where(known, days, 0.0).sum(axis=1) / np.maximum(count, 1), np.nan)


def mean_known(values: np.ndarray) -> float:
    """Return the mean of what is known, NaN without any."""
    known = values[np.isfinite(values)]
    return float(known.mean()) if len(known) else float("nan")


def _next_queue(plan: Outcome, base: Baseline) -> str | None:
    """The skill before whose stages an order waits longest in all."""
    waits = np.nanmean(np.where(np.isnan(plan.queue_days), 0.0, plan.queue_days), axis=0)
    by_skill = np.bincount(base.workshop.stage_skill, weights=waits, minlength=len(base.workshop.skills))
    return str(base.workshop.skills[int(by_skill.argmax())]) if by_skill.any() else None


def cash_rows(found: Comparison) -> pd.DataFrame:
    """Return table ``cash``: cumulative cash of every plan by month, with its 80 % range."""
    parts = []
    for one in found.judged:
        low, middle, high = one.cash_bands()
        parts.append(pd.DataFrame({"candidate": one.candidate.name, "month": range(len(low)), "low": low, "middle": middle, "high": high}))
    return pd.concat(parts, ignore_index=True).sort_values(["candidate", "month"], kind="stable", ignore_index=True)


def load_rows(found: Comparison, base: Baseline) -> pd.DataFrame:
    """Return hours booked ÷ paid bench hours by skill in the second year, doing nothing and with the best plan."""
    best = found.best
    if best is None:
        return pd.DataFrame(columns=["skill", "now", "after"])
    now, after = (_skill_load(plan, base, best) for plan in (base.nothing, best.result))
    return pd.DataFrame({"skill": base.workshop.skills, "now": now, "after": after})


def _skill_load(plan: Outcome, base: Baseline, best: Judged) -> np.ndarray:
    w = base.workshop
    busy = plan.busy_h[:, 12:24].mean(axis=(0, 1))
    paid = w.own_hours.sum(axis=1) * w.bench_share[0] * 365.25 / 7.0 / 12.0
    extra = best.candidate.scenario.extra_people
    can = w.can
    if len(busy) > len(paid):
        person = extra[0]
        paid = np.append(paid, sum(person.own_hours) * float(w.bench_share[0].mean()) * 365.25 / 7.0 / 12.0)
        can = np.vstack([can, np.isin(np.arange(len(w.skills)), person.skills)])
    return np.array([busy[: len(paid)][can[:, k]].sum() / max(paid[can[:, k]].sum(), 1e-9) for k in range(len(w.skills))])
