"""The lead-time report's accuracy paragraph: dates of open and new orders, odds to be late, demand.

The report is made on past days of each shop's records, with its own record of past dates, correction and choice of method, as its
owner would have seen it then. What came is the generator's own play, on from that day under several lucks. The least error that luck
allows is that of the program's simulator given the true parameters and the true place of each order.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd

from shoplib.forecast.lead_time import quantiles
from shoplib.forecast.plain_rules import LEVELS, QUANTILES, RULES
from shoplib.forecast.scores import pinball
from shoplib.intake import until
from shoplib.reports import lead_time
from shoplib.reports.answer import Answer
from shoplib.workshop.fit import fitted
from shoplib.workshop.replicate import simulate

from . import parameters as p
from .case import Case, Measured, Verdict
from .people import first_played
from .play import play
from .tables import day_text, order_code
from .things import Played
from .true_model import true_state, true_workshop

TITLE = "Lead times and promises"
MONTHS = (24.0, 27.0, 30.0)
"""The report is made so many months after the records began."""
LUCKS = (0, 1, 2)
AHEAD_MONTHS = 13.0
NEW_DAYS = 28
SEED = 20260101
REPLICATIONS = 128
HORIZON_DAYS = 400
ORACLE = "true model"
ALLOWED_POINTS = {"q50": 0.20, "q80": 0.15, "q95": 0.08}


def measure(case: Case) -> list[Measured]:
    """Return every number of the paragraph for one shop, with its truth."""
    return [row for months in MONTHS for row in measure_at(case, months)]


def measure_at(case: Case, months: float, lucks: tuple[int, ...] = LUCKS) -> list[Measured]:
    """Return the numbers of a report made `months` after the records began, against what came under each luck."""
    then = case.played if months == p.HISTORY_MONTHS else play(case.truth, months)
    last = date.fromisoformat(day_text(then.n_days - 1))
    told = lead_time.answer(case.shop, lead_time.Parameters(as_of=last))
    least = _least(case, then, last)
    rows = []
    for luck in lucks:
        came = play(case.truth, months + AHEAD_MONTHS, luck=luck, luck_from=then.n_days - p.WARM_UP_DAYS)
        part = f"{last} luck {luck}"
        rows += [*_open(case, told, last, least, came, part), *_new(case, told, then, came, part), *_demand(case, told, came, part)]
    return rows


@dataclass(frozen=True)
class Least:
    """What the model given the truth says of the open orders: `days` until delivery, shape (replications, orders); `due` days left."""

    order_id: np.ndarray
    due: np.ndarray
    days: np.ndarray


def _least(case: Case, then: Played, last: date) -> Least:
    """Run the true model on from the true state.

    Work is handed over at the start of a long absence, which a play that ends within it cannot know to be long: the few orders that
    are out by then in the records, played for longer, are left out.
    """
    workshop = true_workshop(fitted(case.shop, last, SEED).workshop, case.truth)
    here = true_state(workshop, then)
    records = simulate(workshop, here, horizon_days=HORIZON_DAYS, seed=SEED, replications=REPLICATIONS, threads=2)
    orders = until(case.shop, last)["orders"]
    use = ~np.isin(here.order_id, orders.loc[orders["delivered_on"].notna(), "order_id"].astype(str))
    due = (here.promised_on - here.as_of).astype(float)
    return Least(here.order_id[use], due[use], 1.0 + np.floor(records.open_finish()[:, use]))


def judge(rows: list[Measured]) -> list[Verdict]:
    """Return the sentences of the paragraph."""
    return [
        _against_luck(rows),
        _against_rules(rows),
        *(_coverage(rows, q) for q in QUANTILES),
        _brier(rows),
        _median(rows),
        *_orders(rows),
    ]


def _open(case: Case, told: Answer, last: date, least: Least, came: Played, part: str) -> list[Measured]:
    """Sums over the open orders: losses, dates that held, squared errors of the odds to be late."""
    ended = {order_code(o.number): min(o.delivered, came.n_days) for o in came.orders}
    origin = np.datetime64(last)
    first = (origin - np.datetime64(first_played())).astype(int)
    happened = np.array([ended[str(name)] - first for name in least.order_id], dtype=float)
    told_rows = told.table("open_orders").set_index("order_id").reindex(least.order_id)
    said = {"model": _days(told_rows, last), ORACLE: np.where(np.isfinite(q := quantiles(least.days)), q, float(HORIZON_DAYS))}
    known = until(case.shop, last)["orders"]
    asked = known.set_index("order_id").reindex(least.order_id).reset_index()
    said |= {name: rule(known, origin, asked)[list(QUANTILES)].to_numpy(dtype=float) for name, rule in RULES.items()}
    loss = {name: _loss(happened, days) for name, days in said.items()}
    rows = [Measured(case.number, "orders", part, float(len(happened)), float(len(happened)))]
    rows += [Measured(case.number, f"loss {name}", part, loss[ORACLE], loss[name]) for name in ("model", *RULES)]
    for k, q in enumerate(QUANTILES):
        held = {name: float((happened <= said[name][:, k]).sum()) for name in ("model", ORACLE)}
        rows.append(Measured(case.number, f"held {q}", part, held[ORACLE], held["model"]))
    return rows + _late(case, told_rows, least, happened, part)


def _days(rows: pd.DataFrame, last: date) -> np.ndarray:
    """Days after `last` of the dates told; one that lies beyond the horizon counts as the horizon."""
    dates = rows[["finish_p50", "finish_p80", "finish_p95"]].apply(pd.to_datetime)
    return np.column_stack([(dates[name] - pd.Timestamp(last)).dt.days.fillna(HORIZON_DAYS).to_numpy(dtype=float) for name in dates])


def _loss(happened: np.ndarray, days: np.ndarray) -> float:
    return float(np.mean([pinball(happened, days[:, k], level).sum() for k, level in enumerate(LEVELS)]))


def _late(case: Case, rows: pd.DataFrame, least: Least, happened: np.ndarray, part: str) -> list[Measured]:
    """Squared errors of the odds; orders overdue already are left out: nothing is left to be told of them."""
    open_ = least.due > 0
    late = (happened > least.due)[open_]
    told = rows["late_probability"].to_numpy(dtype=float)[open_]
    best = (least.days > least.due).mean(axis=0)[open_]
    errors = [float(np.square(odds - late).sum()) for odds in (best, told)]
    return [
        Measured(case.number, "brier", part, *errors),
        Measured(case.number, "due", part, float(open_.sum()), float(open_.sum())),
        Measured(case.number, "late", part, float(late.sum()), float(told.sum())),
    ]


def _new(case: Case, told: Answer, then: Played, came: Played, part: str) -> list[Measured]:
    new = [o for o in came.orders if then.n_days <= o.day < then.n_days + NEW_DAYS]
    days = told.table("new_orders").set_index(["style", "alloy"])["days_p50"]
    kinds = [(case.truth.styles[o.style].name, case.truth.alloys[o.alloy].code) for o in new]
    flows = [min(o.delivered, came.n_days) - o.day for o in new]
    said = [float(days[kind]) for kind in kinds if kind in days.index]
    return [Measured(case.number, "new", part, float(np.median(flows)), float(np.median(said)))] if new else []


def _demand(case: Case, told: Answer, came: Played, part: str) -> list[Measured]:
    ordered = pd.Series([day_text(o.day)[:7] for o in came.orders]).value_counts()
    table = told.table("demand").head(12)
    rows = [
        Measured(
            case.number, "month", f"{one['month']} {part}", float(ordered.get(one["month"], 0)),
            *(float(one[name]) for name in ("orders_p50", "orders_p10", "orders_p90")),
        )
        for one in table.to_dict("records")
    ]  # fmt: skip
    return [*rows, Measured(case.number, "total", part, sum(float(row.truth) for row in rows), sum(float(row.told) for row in rows))]


def _sums(rows: list[Measured], what: str) -> tuple[float, float]:
    """Sum of the truths and of what is told."""
    part = [row for row in rows if row.what == what]
    return sum(float(row.truth) for row in part), sum(float(row.told) for row in part)


def _against_luck(rows: list[Measured]) -> Verdict:
    (n, _), (least, ours) = _sums(rows, "orders"), _sums(rows, "loss model")
    found = f"{ours / n:.2f} days against {least / n:.2f}, {ours / least:.2f} times; {n:,.0f} dates"
    return Verdict("mean pinball loss at P50, P80, P95 over open orders at most 1.25 times the true model's", found, ours <= 1.25 * least)


def _against_rules(rows: list[Measured]) -> Verdict:
    (n, _), (_, ours) = _sums(rows, "orders"), _sums(rows, "loss model")
    rules = {name: _sums(rows, f"loss {name}")[1] for name in RULES}
    best = min(rules.values())
    each = ", ".join(f"{name} {loss / n:.2f}" for name, loss in rules.items())
    return Verdict(
        "and at most 0.75 times the best plain rule's", f"{ours / n:.2f} days, {ours / best:.2f} times; {each}", ours <= 0.75 * best
    )


def _coverage(rows: list[Measured], quantile: str) -> Verdict:
    (n, _), (least, ours) = _sums(rows, "orders"), _sums(rows, f"held {quantile}")
    allowed = ALLOWED_POINTS[quantile]
    return Verdict(
        f"coverage of the P{quantile[1:]} within {100 * allowed:.0f} points of the true model's",
        f"{100 * ours / n:.0f} % against {100 * least / n:.0f} %", abs(ours - least) / n <= allowed,
    )  # fmt: skip


def _brier(rows: list[Measured]) -> Verdict:
    (n, _), (least, ours), (late, told) = (_sums(rows, what) for what in ("due", "brier", "late"))
    found = f"{ours / n:.3f} against {least / n:.3f}; {told:,.0f} late told, {late:,.0f} were, of {n:,.0f} not yet due"
    return Verdict("late-chance Brier score within 0.08 of it", found, ours / n <= least / n + 0.08)


def _median(rows: list[Measured]) -> Verdict:
    """Shop by shop, over its days and lucks."""
    shops = sorted({row.shop for row in rows})
    ratio = {shop: _ratio([row for row in rows if row.shop == shop], "new") for shop in shops}
    found = f"{_ratio(rows, 'new'):.2f} pooled; shop by shop {', '.join(f'{one:.2f}' for one in ratio.values())}"
    return Verdict("median days of new orders within 0.7 to 1.4 of the truth", found, all(0.7 <= one <= 1.4 for one in ratio.values()))


def _ratio(rows: list[Measured], what: str) -> float:
    truth, told = _sums(rows, what)
    return told / truth


def _orders(rows: list[Measured]) -> list[Verdict]:
    inside = [row.inside for row in rows if row.what == "month"]
    shops = sorted({row.shop for row in rows})
    each = {shop: _ratio([row for row in rows if row.shop == shop], "total") for shop in shops}
    pooled = _ratio(rows, "total")
    words = ", ".join(f"{one:.2f}" for one in each.values())
    return [
        Verdict(
            "demand: the 80 % range holds at least half of the next twelve months",
            f"{sum(inside)} of {len(inside)}",
            np.mean(inside) >= 0.5,
        ),
        Verdict("demand: their total within 15 %", f"{pooled:.2f} of what came; shop by shop {words}", abs(pooled - 1) <= 0.15),
    ]
