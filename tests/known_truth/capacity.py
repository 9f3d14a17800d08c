"""What the benches of a shop with known truth can do: a linear programme over people and skills, by hand of no simulation."""

from __future__ import annotations

import numpy as np
from scipy.optimize import linprog

from . import parameters as p

WEEKS_SHUT = 2
PUBLIC_AWAY_WEEKS = 2
_USUAL_RETURN_WORK = 1.02


def hours_per_order(truth: p.Truth) -> dict[str, float]:
    """Return mean bench hours an order asks of each skill, returns included."""
    need = dict.fromkeys([bench.skill for bench in truth.benches], 0.0)
    grams = np.exp(0.5 * (np.array([b.weight_power for b in truth.benches]) * p.GRAMS_SD_LN) ** 2)
    for style in truth.styles:
        for alloy in truth.alloys:
            for place, bench in enumerate(truth.benches):
                if bench.name in style.skips:
                    continue
                factor = style.factors.get(bench.name, 1.0) * (alloy.solder_factor if bench.name == "solder" else 1.0)
                visits = 1 + p.REWORK_FACTOR * _again(truth, bench.name, alloy)
                need[bench.skill] += style.share * alloy.share * bench.hours * factor * grams[place] * visits
    return need


def _again(truth: p.Truth, stage: str, alloy: p.Alloy) -> float:
    names = [bench.name for bench in truth.benches]
    total = 0.0
    for r in truth.returns:
        chance = r.chance * alloy.return_factor
        between = names.index(r.back) < names.index(stage) < names.index(r.found)
        total += chance * (1.0 if stage in (r.found, r.back) else p.REPASS_CHANCE if between else 0.0)
    return total * _USUAL_RETURN_WORK


def bench_hours_a_week(person: p.Person) -> float:
    """Return mean bench hours a week over the year: closures, holidays and absences taken off."""
    weeks = 52.18 - WEEKS_SHUT - max(0, person.holiday_weeks - PUBLIC_AWAY_WEEKS)
    away = person.absence_chance * person.absence_days / (1 + person.absence_chance * person.absence_days)
    return sum(person.week) * person.bench_share * (1 - away) * weeks / 52.18


def orders_a_week(truth: p.Truth) -> tuple[float, dict[str, float]]:
    """Return the most orders a week the benches can finish, and by how many an extra hour a week at each skill raises it."""
    need = hours_per_order(truth)
    skills = list(need)
    pairs = [(i, k) for i, person in enumerate(truth.people) for k, skill in enumerate(skills) if skill in person.skills]
    cost = np.zeros(len(pairs) + 1)
    cost[-1] = -1.0
    rows = np.zeros((len(skills) + len(truth.people), len(pairs) + 1))
    for column, (i, k) in enumerate(pairs):
        rows[k, column] = -1.0
        rows[len(skills) + i, column] = 1.0
    rows[: len(skills), -1] = list(need.values())
    limit = [0.0] * len(skills) + [bench_hours_a_week(person) for person in truth.people]
    found = linprog(cost, A_ub=rows, b_ub=limit, method="highs")
    return float(found.x[-1]), {skill: -float(found.ineqlin.marginals[k]) for k, skill in enumerate(skills)}
