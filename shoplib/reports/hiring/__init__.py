"""Hiring: should another person join the benches, or what else?"""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
from pydantic import Field

from ...costing import skill_loads
from ...decide.candidates import NO_WAGE, Shopfloor, candidates, full_week, hourly_cost, skills_asked, start_of
from ...decide.compare import Comparison, compare, runner, skills_compared
from ...decide.evaluate import Judged, Terms
from ...intake import as_of, spot_on, until
from ...intake.shop import Finding, Shop
from ...settings import Settings
from ...workshop.baseline import HORIZON_DAYS, Baseline
from .. import answer as answers
from ..answer import Answer, Figure, Found, Table, rounded
from ..compose import compose
from ..margin.tables import made
from ..periods import whole_months
from ..sentences import Writing
from ..shared import baseline_or_none
from . import tables
from .headline import Plan, Told, chosen, headline
from .page import page

__all__ = ["QUESTION", "Parameters", "answer", "page"]

QUESTION = "Should another person join the benches?"
NO_WAGE_KNOWN = "no wage is known; set [hire] wage_per_hour in shop.toml"
LONGEST = HORIZON_DAYS // 365 * 12
CAUTIONS = (
    ("employment_law", "These figures do not replace employment law, working time and overtime rules; ask before you promise hours."),
    ("benches_hurt", "Time pressure at torch, pickle, mill and polishing motor hurts people; a starter needs a teacher, not a target."),
    ("starter", "A starter is a person: the ramp-up is a range, and one in the shop knows the candidate better than this page."),
)


class Parameters(answers.Parameters):
    """Parameters of the hiring report; what is left out comes from [hire] and [policy] of shop.toml."""

    horizon_months: int | None = Field(None, ge=1, le=LONGEST, description="months judged")
    stages: tuple[str, ...] | None = Field(None, description="stages compared first")
    start_on: date | None = Field(None, description="first day of somebody new")
    wage_per_hour: float | None = Field(None, ge=0, description="money an hour, before on-costs")
    equipment: float | None = Field(None, ge=0, description="money at the decision")
    ramp_up_weeks: float | None = Field(None, ge=0, le=520, description="weeks until standard hours are reached")
    learning_rate_percent: float | None = Field(None, gt=50, le=100, description="percent to which time falls when the count doubles")
    part_time_hours_per_week: float | None = Field(None, gt=0, le=60, description="hours a week of somebody part-time")
    overtime_hours_per_week: float | None = Field(None, ge=0, le=60, description="hours a week a person, above own hours")


def answer(shop: Shop, parameters: Parameters) -> Answer:
    """Return the plans side by side against doing nothing.

    Parameters
    ----------
    shop : Shop
        The cleaned tables.
    parameters : Parameters
        What to lay over [hire] and [policy].

    Raises
    ------
    SettingsError
        A stage of [hire] is not known.
    """
    last = parameters.as_of or as_of(shop)
    settings = _laid_over(shop.settings, parameters)
    base, reason = baseline_or_none(shop, last, parameters.seed)
    writing, period = Writing.of(settings), whole_months(last, parameters.period_months)
    months = min(settings.hire.horizon_months, LONGEST)
    if base is None:
        told = Told(None, None, months, reason=reason.rstrip("."))
        stop = Found(level="stop", code="no_simulation", text=f"No plan could be simulated: {reason}")
        return compose(shop, "hiring", parameters, period, headline(told, writing), [], _empty(settings), [stop], last)
    found, notes = _compared(shop, settings, base, months, last)
    told = told_of(found, base, months)
    notes = (*notes, *_cut_horizon(settings.hire.horizon_months), *_without_figures(found, told))
    findings = [*(_found(one) for one in (*notes, *base.findings)), *(Found(level="note", code=code, text=text) for code, text in CAUTIONS)]
    figures, shown = _figures(found, chosen(told), months, writing), _tables(found, base, months, settings)
    return compose(shop, "hiring", parameters, period, headline(told, writing), figures, shown, findings, last)


def _cut_horizon(asked: int) -> tuple[Finding, ...]:
    if asked <= LONGEST:
        return ()
    text = f"horizon_months {asked} is longer than plans are run: {LONGEST} months are judged. Set [hire] horizon_months to 1 … {LONGEST}."
    return (Finding("warn", "horizon_cut", text, "shop.toml, hire.horizon_months"),)


def _without_figures(found: Comparison, told: Told) -> tuple[Finding, ...]:
    """Say why numbers are missing: plans never paid back, and hires that could not be run."""
    notes = []
    if any(one.payback is None for one in found.judged):
        text = f"Plans without payback_months do not earn back what they cost within {told.months} months, taking the mean of all futures."
        notes.append(Finding("note", "never_paid_back", text, "candidates.payback_months"))
    if found.refused or len(found.left_out):
        text = "Plans with a reason in column refused were not run, or not as a plan of their own; their other columns are empty."
        notes.append(Finding("note", "not_run", text, "candidates.refused"))
    return tuple(notes)


def _found(one: Finding) -> Found:
    return Found(level=one.level, code=one.code, text=one.text, where=one.where)


def _laid_over(settings: Settings, parameters: Parameters) -> Settings:
    """Return the settings with the report's parameters in place of those of [hire] and [policy]."""
    given = {name: value for name, value in parameters.model_dump().items() if value is not None}
    hire = settings.hire.model_copy(update={name: value for name, value in given.items() if name in type(settings.hire).model_fields})
    policy = settings.policy.model_copy(update={name: value for name, value in given.items() if name in type(settings.policy).model_fields})
    return settings.model_copy(update={"hire": hire, "policy": policy})


def _compared(shop: Shop, settings: Settings, base: Baseline, months: int, last: date) -> tuple[Comparison, tuple[Finding, ...]]:
    start, notes = start_of(settings.hire, last)
    first = whole_months(last, 12)[0]
    table = skill_loads(shop, first, last).fillna({"load": 0.0})
    loads = dict(zip(table["skill"].astype(str), table["load"].astype(float), strict=True))
    floor = Shopfloor(settings, base.workshop, loads, last, start)
    skills, left_out = skills_compared(base, skills_asked(settings.hire, settings, base.workshop))
    told = [*notes, *(_wage_note(floor, skill) for skill in skills if not hourly_cost(floor, skill)[1])]
    found = compare(base, candidates(floor, skills), left_out, _terms(shop, settings, base, months, last), runner(base))
    return found, tuple(told)


def _wage_note(floor: Shopfloor, skill: str) -> Finding:
    cost = hourly_cost(floor, skill)[0]
    if not cost:
        text = f"No wage is known for somebody to {skill}, so no hire there is judged. Set [hire] wage_per_hour."
        return Finding("warn", "no_wage", text, "shop.toml, hire.wage_per_hour")
    text = f"[hire] wage_per_hour is left out; {cost:.2f} an hour, the mean of those who {skill}, on-costs included, stands in."
    return Finding("note", "wage_assumed", text, "shop.toml, hire.wage_per_hour")


def _terms(shop: Shop, settings: Settings, base: Baseline, months: int, last: date) -> Terms:
    w = base.workshop
    per_g = {alloy.code: alloy.phi_melted * _spot(shop, alloy.metal, last) for alloy in settings.alloys}
    worth = np.array([per_g.get(str(code), np.nan) for code in w.alloys])[w.piece_alloy]
    metal = float(np.nanmean(worth)) if np.isfinite(worth).any() else 0.0
    hours = w.expected_hours(w.piece_style, w.piece_alloy, w.piece_weight_g).mean(axis=0)
    grams = max(float(w.piece_weight_g.mean()), 1e-9) if len(w.piece_weight_g) else 1.0
    by_skill = np.bincount(w.stage_skill, weights=hours, minlength=len(w.skills)) / grams
    policy = settings.policy
    recovered = policy.filings_recovery_percent / 100.0 * (1.0 - policy.refining_charge_percent / 100.0)
    return Terms(
        months,
        policy.cost_of_capital_percent / 100.0,
        metal * _financed(shop, metal, last),
        metal * (1.0 - recovered),
        settings.hire.spoilage_percent / 100.0,
        {str(name): float(per_g) for name, per_g in zip(w.skills, by_skill, strict=True)},
    )


def _financed(shop: Shop, metal_per_g: float, last: date) -> float:
    """Return the share of metal in process that the shop's own money pays for: own metal less deposits, orders of the last year."""
    orders = until(shop, last)["orders"]
    recent = orders[orders["ordered_on"] > pd.Timestamp(last) - pd.Timedelta(days=365)]
    worth = recent["quoted_weight_g"].fillna(recent["finished_weight_g"]).fillna(0.0) * metal_per_g
    own = (worth - recent["deposit"]).clip(lower=0.0).where(recent["metal_terms"] != "customer_metal", 0.0)
    return float(own.sum() / worth.sum()) if worth.sum() > 0 else 1.0


def _spot(shop: Shop, metal: str, day: date) -> float:
    return float(spot_on(shop, metal, np.array([day], dtype="datetime64[D]"))[0])


def plan_of(one: Judged | None) -> Plan | None:
    """Return a judged plan as the headline needs it."""
    if one is None:
        return None
    low, high = one.value_range
    a_year = float(one.result.delivered.sum(axis=1).mean()) / max(len(one.result.months) / 12.0, 1e-9)
    gain = float(one.orders_gain.mean())
    return Plan(one.candidate.name, one.candidate.kind, float(one.value.mean()), low, high, one.payback_probability, gain, a_year)


def told_of(found: Comparison, base: Baseline, months: int) -> Told:
    """Return what the headline needs of a comparison."""
    hire = next((one for one in found.judged if one.candidate.kind in ("hire", "part_time")), None)
    rival = next((one for one in found.judged if one.candidate.kind in ("train", "overtime", "outwork")), None)
    ends = np.quantile(base.workshop.win_wait, (0.1, 0.9))
    apart = bool(base.workshop.has_quotes and (ends[1] >= 0 > ends[0] or (ends[1] < 0 and ends[0] < 3.0 * ends[1])))
    reason = "" if hire else next((NO_WAGE_KNOWN for one in found.refused if one.refused == NO_WAGE), "")
    idle = hire is None and all(one.kind not in ("hire", "part_time") for one in found.refused)
    return Told(plan_of(hire), plan_of(rival), months, base.workshop.has_quotes, apart, reason, idle)


def _figures(found: Comparison, plan: Plan | None, months: int, writing: Writing) -> list[Figure]:
    best = next((one for one in found.judged if plan is not None and one.candidate.name == plan.name), found.best)
    if best is None:
        return []
    low, high = best.value_range
    paybacks = [first for first in (_payback(row) for row in best.flows) if first is not None] if best.payback is not None else []
    orders = best.result.delivered[:, :12].sum(axis=1) if months <= 12 else best.result.delivered[:, 12:24].sum(axis=1)
    wait = tables.late_wait(best.result, months)
    deep = np.minimum(np.cumsum(best.flows, axis=1).min(axis=1), 0.0)
    period = f"{months} months from the decision, {best.candidate.name}"
    ranged = [
        ("Gain over the horizon", float(best.value.mean()), low, high, writing.currency),
        ("Paid back after", best.payback, *_ends(np.array(paybacks, dtype=float)), "months"),
        ("Orders a year", float(orders.mean()), *_ends(orders), "orders"),
        ("Wait of a new order", tables.mean_known(wait), *_ends(wait), "days"),
        ("Deepest cash", float(deep.mean()), *_ends(deep), writing.currency),
    ]
    shared = {"level": 0.8, "period": period, "n": len(best.value), "basis": "simulated"}
    return [
        Figure(name=name, value=_round(value), low=_round(one), high=_round(other), unit=unit, **shared)
        for name, value, one, other, unit in ranged
    ]


def _payback(row: np.ndarray) -> int | None:
    from ...decide.money import payback_month

    return payback_month(row)


def _ends(values: np.ndarray) -> tuple[float, float]:
    low, high = np.nanquantile(values, (0.1, 0.9)) if np.isfinite(values).any() else (np.nan, np.nan)
    return float(low), float(high)


def _round(value: float | None) -> float | None:
    return None if value is None else rounded(float(value))


def _tables(found: Comparison, base: Baseline, months: int, settings: Settings) -> dict[str, Table]:
    frames: dict[str, tuple[pd.DataFrame, tuple[tuple[str, str, str], ...]]] = {
        "candidates": (tables.candidate_rows(found, base, months, sum(full_week(settings))), tables.CANDIDATES),
        "cash": (tables.cash_rows(found), tables.CASH),
        "steps": (found.steps, tables.STEPS),
        "turns": (found.turns, tables.TURNS),
        "learning": (found.learning, tables.LEARNING),
        "loads": (tables.load_rows(found, base), tables.LOADS),
        "left_out": (found.left_out, tables.LEFT_OUT),
    }
    return {name: made(frame, columns, settings.shop.currency) for name, (frame, columns) in frames.items()}


def _empty(settings: Settings) -> dict[str, Table]:
    shapes = {
        "candidates": tables.CANDIDATES, "cash": tables.CASH, "steps": tables.STEPS, "turns": tables.TURNS, "learning": tables.LEARNING,
        "loads": tables.LOADS, "left_out": tables.LEFT_OUT,
    }  # fmt: skip
    return {name: made(pd.DataFrame(columns=[one[0] for one in shape]), shape, settings.shop.currency) for name, shape in shapes.items()}
