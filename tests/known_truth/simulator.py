"""The workshop simulator's accuracy paragraph: presence, absences, returns, stage hours, dispatch rule, answer to the wait."""

from __future__ import annotations

import numpy as np

from . import parameters as p
from .case import Case, Measured, Verdict
from .paths import mean_hours, return_chances

TITLE = "The workshop simulator"
ENOUGH_DAYS = 60
"""Days on which work waited from morning to evening from which a person has enough waiting work."""


def measure(case: Case) -> list[Measured]:
    """Return every number of the paragraph for one shop, with its truth."""
    return [*_presence(case), _absent(case), *_returns(case), *_hours(case), _dispatch(case), *_wait(case)]


def judge(rows: list[Measured]) -> list[Verdict]:
    """Return the sentences of the paragraph."""
    return [
        _worst(rows, "presence", 0.05, "presence within 0.05 of the true share per person with enough waiting work"),
        _worst(rows, "absent", 0.02, "absences' share within 2 points"),
        _coverage(rows, "returns", "returns inside their 80 % ranges in 70–90 % of cases"),
        _coverage(rows, "hours", "stage hours inside their 80 % ranges in 70–90 % of cases"),
        _all_right(rows),
        _hull(rows),
    ]


def _presence(case: Case) -> list[Measured]:
    """Booked ÷ paid hours; entries nobody wrote down are missing in both, hours and presence."""
    fit, shares = case.fitted, {person.code: person.bench_share for person in case.truth.people}
    return [
        Measured(case.number, "presence", str(code), shares[str(code)] * (1 - p.FORGOTTEN_SHARE), float(told))
        for code, told, days in zip(fit.workshop.people, fit.workshop.bench_share[0], fit.parts.presence.share_days, strict=True)
        if days >= ENOUGH_DAYS
    ]


def _absent(case: Case) -> Measured:
    first = p.WARM_UP_DAYS
    owed = [days.owed_h[first:] > 0 for days in case.played.days]
    away = [(days.planned | days.unplanned)[first:] & o for days, o in zip(case.played.days, owed, strict=True)]
    truth = sum(int(a.sum()) for a in away) / sum(int(o.sum()) for o in owed)
    workshop = case.fitted.workshop
    lost = workshop.absence_chance[0] * (workshop.absence_days.mean() if len(workshop.absence_days) else 0.0)
    return Measured(case.number, "absent", "shop", truth, float(np.mean(lost / (1 + lost))))


def _returns(case: Case) -> list[Measured]:
    workshop, truth = case.fitted.workshop, case.truth
    stages = [str(name) for name in workshop.stages]
    rows = []
    for place, bench in enumerate(truth.benches):
        for a, alloy in enumerate(truth.alloys):
            chance = sum(c for _, c in return_chances(truth, place, a))
            if chance > 0:
                told = workshop.return_chance[:, stages.index(bench.name), [str(x) for x in workshop.alloys].index(alloy.code)]
                rows.append(Measured(case.number, "returns", f"{bench.name} {alloy.code}", chance, float(told[0]), *_range(told)))
    return rows


def _hours(case: Case) -> list[Measured]:
    w, truth, rows = case.fitted.workshop, case.truth, []
    grams = np.log(p.USUAL_GRAMS) - w.ln_weight_centre
    alloy = [str(x) for x in w.alloys].index(truth.alloys[0].code)
    for s, style in enumerate(truth.styles):
        y = [str(x) for x in w.styles].index(style.name)
        for place, bench in enumerate(truth.benches):
            if bench.name in style.skips:
                continue
            k = [str(x) for x in w.stages].index(bench.name)
            ln = (
                w.work_intercept[:, k]
                + w.work_slope[:, k] * grams
                + w.work_style[:, k, y]
                + w.work_alloy[:, k, alloy]
                + w.work_sd[:, k] ** 2 / 2
            )
            told, true = np.exp(ln), mean_hours(truth, place, s, 0, p.USUAL_GRAMS)
            rows.append(Measured(case.number, "hours", f"{bench.name} {style.name}", true, float(told[0]), *_range(told)))
    return rows


def _range(rows: np.ndarray) -> tuple[float, float]:
    low, high = np.quantile(rows[1:], [0.1, 0.9])
    return float(low), float(high)


def _dispatch(case: Case) -> Measured:
    return Measured(case.number, "dispatch", "rule", case.truth.rule, case.fitted.parts.dispatch.rule)


def _wait(case: Case) -> list[Measured]:
    response = case.fitted.parts.enquiries.response
    if response is None:
        return []
    wait, price = response.wait, response.price
    return [
        Measured(case.number, "wait", "a week", case.truth.win_wait, wait.estimate, wait.low, wait.high),
        Measured(case.number, "price", "ln price ÷ metal", case.truth.win_price, price.estimate, price.low, price.high),
    ]


def _worst(rows: list[Measured], what: str, allowed: float, asked: str) -> Verdict:
    off = [abs(row.off) for row in rows if row.what == what]
    worst, mean = max(off, default=0.0), float(np.mean(off)) if off else 0.0
    return Verdict(
        asked, f"{sum(o <= allowed for o in off)} of {len(off)}; worst {worst:.3f}, mean {mean:.3f}", bool(off) and worst <= allowed
    )


def _coverage(rows: list[Measured], what: str, asked: str) -> Verdict:
    inside = [row.inside for row in rows if row.what == what]
    share = float(np.mean(inside)) if inside else float("nan")
    return Verdict(asked, f"{100 * share:.0f} % of {len(inside)}", 0.7 <= share <= 0.9)


def _all_right(rows: list[Measured]) -> Verdict:
    right = [row.truth == row.told for row in rows if row.what == "dispatch"]
    return Verdict("the dispatch rule named right in all", f"{sum(right)} of {len(right)}", all(right))


def _hull(rows: list[Measured]) -> Verdict:
    inside = [row.inside for row in rows if row.what == "wait"]
    return Verdict(
        "answer to the wait: hull holds the truth in at least 7 of 10", f"{sum(inside)} of {len(inside)}", sum(inside) >= int(0.7 * len(inside))
    )
