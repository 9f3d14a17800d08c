"""All plans side by side: screened, run under common luck, the best refined, and what would turn the answer."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..workshop.baseline import HORIZON_DAYS, REPLICATIONS, Baseline
from ..workshop.outcome import Outcome, outcome
from ..workshop.replicate import simulate
from ..workshop.scenario import Scenario
from .candidates import Candidate
from .evaluate import Judged, Terms, breakeven_demand, first_runs, judge

Floats = NDArray[np.float64]
SCREEN, FINAL, STEP = 32, REPLICATIONS, 16
"""Replications: of every plan, of the best two, and of each at other demand or learning, where only the change of the mean is asked."""
DEMAND_FACTORS = (0.9, 1.0, 1.1)
LEARNING_FACTORS = (0.5, 1.0, 2.0)
LEAST_PROBABILITY = 0.05
HORIZON_YEARS = (1, 2, 3)
Run = Callable[[Scenario, int], Outcome]


@dataclass(frozen=True)
class Comparison:
    """What the plans come to.

    Attributes
    ----------
    judged : tuple of Judged
        From the best value down; doing nothing among them.
    refused : tuple of Candidate
        Plans that cannot be taken, with their reason.
    left_out : DataFrame
        skill, orders_per_extra_hour: benches that do not limit.
    steps : DataFrame
        candidate, horizon_months, demand_factor, npv, npv_low, npv_high: each plan judged over 1, 2, 3 years and at demand as
        forecast, 10 % less and 10 % more (the run as forecast, moved by the change of the mean under common luck).
    turns : DataFrame
        assumption, low, high: the best plan's value when one assumption is at the 10 % and 90 % end of its draws, others as they are.
    learning : DataFrame
        demand_factor, learning_factor, npv of the best plan; no rows where it does not learn.
    breakeven : float or None
        Demand ÷ forecast at which the best plan's mean value is zero.
    """

    judged: tuple[Judged, ...]
    refused: tuple[Candidate, ...]
    left_out: pd.DataFrame
    steps: pd.DataFrame
    turns: pd.DataFrame
    learning: pd.DataFrame
    breakeven: float | None

    @property
    def best(self) -> Judged | None:
        """The plan with people of the highest value, a mark-up where there is no other; None without any."""
        return best_of(self.judged)


def best_of(judged: Iterable[Judged]) -> Judged | None:
    """Return the first of `judged` that puts people or work to it, else the first mark-up, else None; `judged` from the best down."""
    able = [one for one in judged if one.candidate.kind != "nothing"]
    return next((one for one in able if one.candidate.kind != "price"), able[0] if able else None)


def skills_compared(base: Baseline, asked: list[str]) -> tuple[list[str], pd.DataFrame]:
    """Return the skills worth running, those asked for first, and the table of the others."""
    table = base.limits.table()
    table = table[table["skill"].isin(base.workshop.skills)]
    limiting = table[table["limiting_probability"] >= LEAST_PROBABILITY].sort_values("limiting_probability", ascending=False)
    chosen = list(dict.fromkeys([*asked, *limiting["skill"]]))
    return chosen, table[~table["skill"].isin(chosen)][["skill", "orders_per_extra_hour"]].reset_index(drop=True)


def runner(base: Baseline, threads: int = 2, cluster: str | None = None) -> Run:
    """Return a function that runs a plan from the baseline's state under its luck."""

    def run(scenario: Scenario, replications: int) -> Outcome:
        records = simulate(
            base.workshop, base.state, horizon_days=HORIZON_DAYS, seed=base.seed, replications=replications, scenario=scenario,
            threads=threads, cluster=cluster,
        )  # fmt: skip
        return outcome(records)

    return run


def compare(base: Baseline, plans: list[Candidate], left_out: pd.DataFrame, terms: Terms, run: Run) -> Comparison:
    """Run and judge all plans.

    Parameters
    ----------
    base : Baseline
        Doing nothing.
    plans : list of Candidate
        Doing nothing among them.
    left_out : DataFrame
        From `skills_compared`.
    terms : Terms
        Horizon and money.
    run : callable
        From `runner`.
    """
    able = [plan for plan in plans if not plan.refused and plan.kind != "nothing"]
    results = {plan.name: run(plan.scenario, SCREEN) for plan in able}
    judged = {plan.name: judge(plan, results[plan.name], base.nothing, terms) for plan in able}
    kept = _one_price(judged)
    for name in sorted(kept, key=lambda name: -kept[name].value.mean())[:2]:
        results[name] = run(kept[name].candidate.scenario, FINAL)
        kept[name] = judge(kept[name].candidate, results[name], base.nothing, terms)
    nothing = judge(Candidate("Doing nothing", "nothing"), base.nothing, base.nothing, terms)
    order = sorted([*kept.values(), nothing], key=lambda one: -float(one.value.mean()))
    best = best_of(order)
    grid = _at_demands([one for one in order if one.candidate.kind != "nothing"], results, run) if best else {}
    nothings = {factor: run(Scenario(demand_factor=factor), STEP) if factor != 1.0 else base.nothing for factor in DEMAND_FACTORS if best}
    steps = _steps([one for one in order if one.candidate.kind != "nothing"], grid, nothings, terms)
    return Comparison(
        tuple(order), tuple(plan for plan in plans if plan.refused), left_out, steps, _turns(base, best),
        _learning(best, grid, nothings, terms, run), _breakeven(steps, best, terms),
    )  # fmt: skip


def _breakeven(steps: pd.DataFrame, best: Judged | None, terms: Terms) -> float | None:
    """The demand at which the best plan is worth nothing, over the horizon of the steps nearest to that asked for."""
    if best is None:
        return None
    years = HORIZON_YEARS[int(np.argmin([abs(12 * year - terms.horizon_months) for year in HORIZON_YEARS]))]
    rows = steps[(steps["candidate"] == best.candidate.name) & (steps["horizon_months"] == 12 * years)].sort_values("demand_factor")
    return breakeven_demand(rows["demand_factor"].to_numpy(float), rows["npv"].to_numpy(float))


def _one_price(judged: dict[str, Judged]) -> dict[str, Judged]:
    """Keep the mark-up that earns most; the other plans as they are."""
    prices = [name for name, one in judged.items() if one.candidate.kind == "price"]
    best = max(prices, key=lambda name: judged[name].value.mean(), default="")
    return {name: one for name, one in judged.items() if name == best or name not in prices}


def at_demand(scenario: Scenario, factor: float) -> Scenario:
    """Return the plan with enquiries multiplied by `factor`."""
    return replace(scenario, demand_factor=factor)


Grid = dict[tuple[str, float], Outcome]


def _at_demands(order: list[Judged], results: dict[str, Outcome], run: Run) -> Grid:
    """Return every plan's outcome by name and demand; at demand as forecast the run already there."""
    return {
        (one.candidate.name, factor): results[one.candidate.name] if factor == 1.0 else run(at_demand(one.candidate.scenario, factor), STEP)
        for one in order
        for factor in DEMAND_FACTORS
    }


def _steps(order: list[Judged], grid: Grid, nothings: dict[float, Outcome], terms: Terms) -> pd.DataFrame:
    """Judge each plan over three horizons and at three levels of demand."""
    rows = []
    for one in order:
        for factor in DEMAND_FACTORS:
            for years in HORIZON_YEARS:
                over = replace(terms, horizon_months=12 * years)
                value = one_moved(one.candidate, grid, factor, nothings, over)
                low, high = np.quantile(value, (0.1, 0.9))
                rows.append((one.candidate.name, 12 * years, factor, float(value.mean()), float(low), float(high)))
    return pd.DataFrame(rows, columns=["candidate", "horizon_months", "demand_factor", "npv", "npv_low", "npv_high"])


def one_moved(plan: Candidate, grid: Grid, factor: float, nothings: dict[float, Outcome], terms: Terms) -> Floats:
    """Return a plan's values at another demand: those as forecast, moved by the change of the mean of the runs both have."""
    values = judge(plan, grid[plan.name, 1.0], nothings[1.0], terms).value
    if factor == 1.0:
        return values
    other = judge(plan, grid[plan.name, factor], nothings[factor], terms).value
    return np.asarray(values + (other.mean() - values[: len(other)].mean()))


def _learning(best: Judged | None, grid: Grid, nothings: dict[float, Outcome], terms: Terms, run: Run) -> pd.DataFrame:
    """The best plan's value at three levels of demand and three lengths of learning: the value of all its runs, moved by the change of
    the mean of the few."""
    columns = ["demand_factor", "learning_factor", "npv"]
    if best is None or not learns(best.candidate):
        return pd.DataFrame(columns=columns)
    rows, plan, middle = [], best.candidate, best.value.mean() - best.value[:STEP].mean()
    for demand in DEMAND_FACTORS:
        for factor in LEARNING_FACTORS:
            result = grid[plan.name, demand] if factor == 1.0 else run(_slower(at_demand(plan.scenario, demand), factor), STEP)
            value = judge(plan, first_runs(result, STEP), nothings[demand], terms).value
            rows.append((demand, factor, float(middle + value.mean())))
    return pd.DataFrame(rows, columns=columns)


def learns(plan: Candidate) -> bool:
    """Return whether somebody in a plan works below standard at first."""
    new, taught = plan.scenario.extra_people, plan.scenario.trained
    return any(one.learning_pieces > 0 for one in new) or any(one.learning_pieces > 0 for one in taught)


def _slower(scenario: Scenario, factor: float) -> Scenario:
    people = tuple(replace(one, learning_pieces=one.learning_pieces * factor) for one in scenario.extra_people)
    return replace(
        scenario, extra_people=people, trained=tuple(replace(one, learning_pieces=one.learning_pieces * factor) for one in scenario.trained)
    )


def _turns(base: Baseline, best: Judged | None) -> pd.DataFrame:
    """Regress the best plan's value on the parameter draws of its own replications: no runs of its own."""
    columns = ["assumption", "low", "high"]
    if best is None or len(best.value) < 16:
        return pd.DataFrame(columns=columns)
    draws = _assumptions(base, best)
    used = {name: values for name, values in draws.items() if values.std() > 1e-9}
    if not used:
        return pd.DataFrame(columns=columns)
    x = np.column_stack([(values - values.mean()) / values.std() for values in used.values()])
    slope = np.linalg.lstsq(np.column_stack([np.ones(len(x)), x]), best.value, rcond=None)[0][1:]
    middle = float(best.value.mean())
    rows = [
        (name, middle + b * np.quantile(x[:, k], 0.1), middle + b * np.quantile(x[:, k], 0.9))
        for k, (name, b) in enumerate(zip(used, slope, strict=True))
    ]
    return pd.DataFrame(rows, columns=columns).sort_values("assumption", ignore_index=True)


def _assumptions(base: Baseline, best: Judged) -> dict[str, Floats]:
    """The uncertain things a plan rests on, one value a replication."""
    w, runs = base.workshop, len(best.value)
    row = 1 + np.arange(runs) % max(w.draws, 1) if w.draws else np.zeros(runs, dtype=np.int64)
    bench = np.flatnonzero(w.skills == best.candidate.stage)
    stages = np.flatnonzero(np.isin(w.stage_skill, bench)) if len(bench) else np.arange(len(w.stages))
    people = w.can[:, bench[0]] if len(bench) else np.ones(len(w.people), dtype=bool)

    def drawn(values: Floats) -> Floats:
        return np.asarray(values[row % len(values)], dtype=np.float64)

    return {
        "Enquiries": drawn(w.enquiries_per_day.mean(axis=1)),
        "Patience": drawn(w.win_wait),
        "Hours an order": drawn(w.work_intercept[:, stages].mean(axis=1)),
        "Links sent back": drawn(w.return_chance.mean(axis=(1, 2))),
        "Hours present": drawn(w.bench_share[:, people].mean(axis=1)),
    }
