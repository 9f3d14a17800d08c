"""The plans compared: another person, training, overtime, sending a stage out, part-time, a mark-up, doing nothing.

To add a plan: one function here that returns a `Candidate`, and its call in `candidates`.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from ..errors import SettingsError, nearest
from ..intake.shop import Finding
from ..settings import WEEKDAYS, Hire, Settings, Worker
from ..workshop.model import Workshop
from ..workshop.scenario import ExtraPerson, Hours, Outwork, Scenario, Training

Floats = NDArray[np.float64]
WEEKS_A_MONTH = 365.25 / 12.0 / 7.0
OUTWORK_DAYS = 7.0
"""Calendar days until an order sent out is back (assumption, said)."""
MARK_UPS = (0.05, 0.10, 0.15)
RAMP_WEEKS = {True: 26.0, False: 78.0}
LEARNING_SPREAD = 0.54
"""Standard deviation of ln N: half to twice the pieces in 80 of 100."""
NO_WAGE = "Refused: no wage is known, so what it costs cannot be told. Set [hire] wage_per_hour."
USUAL_SHARE = 0.9
"""Share of pieces asked for below whose price a raised price must stay, on average: beyond, the answer is drawn on, not seen."""
KINDS = ("hire", "train", "overtime", "outwork", "part_time", "price", "nothing")


@dataclass(frozen=True)
class Candidate:
    """One plan.

    Attributes
    ----------
    name : str
        As the owner reads it.
    kind : str
        One of `KINDS`.
    stage : str
        Skill it works on; empty for prices and doing nothing.
    scenario : Scenario
        What the simulator is asked.
    equipment : float
        Money at month 0.
    monthly : float
        Pay a month while it lasts, money.
    from_month : int
        First month (1: the month after the decision) in which pay falls due.
    per_order : float
        Money for each order delivered from that month on (work sent out).
    spoilage_months : int
        Months, from the start, in which a starter spoils metal; 0: none.
    refused : str
        Why the plan cannot be taken; empty otherwise.
    """

    name: str
    kind: str
    stage: str = ""
    scenario: Scenario = field(default_factory=Scenario)
    equipment: float = 0.0
    monthly: float = 0.0
    from_month: int = 1
    per_order: float = 0.0
    spoilage_months: int = 0
    refused: str = ""


@dataclass(frozen=True)
class Shopfloor:
    """What the plans are made from.

    Attributes
    ----------
    settings : Settings
        shop.toml, with the parameters of the report laid over its [hire].
    workshop : Workshop
        The fitted shop.
    loads : dict of str to float
        Load by skill.
    as_of, start_on : date
        Day of the decision, and when somebody new begins.
    """

    settings: Settings
    workshop: Workshop
    loads: dict[str, float]
    as_of: date
    start_on: date

    @property
    def hire(self) -> Hire:
        """The settings of a hire."""
        return self.settings.hire

    def place(self, skill: str) -> int:
        """Return the position of a skill in the workshop."""
        return int(np.flatnonzero(self.workshop.skills == skill)[0])

    def people_with(self, skill: str) -> list[int]:
        """Return the positions of those who have a skill."""
        return [int(p) for p in np.flatnonzero(self.workshop.can[:, self.place(skill)])]

    def from_month(self) -> int:
        """Return the first month in which somebody who starts on `start_on` is paid."""
        return max(1, (self.start_on.year - self.as_of.year) * 12 + self.start_on.month - self.as_of.month)


def start_of(hire: Hire, as_of: date) -> tuple[date, tuple[Finding, ...]]:
    """Return the day somebody new begins: start_on of the settings, not before the search is over; a past date is told."""
    earliest = as_of + timedelta(days=round(7 * hire.search_weeks))
    if hire.start_on is None or hire.start_on >= earliest:
        return hire.start_on or earliest, ()
    text = (
        f"start_on {hire.start_on} leaves no {hire.search_weeks:g} weeks to find somebody; {earliest} is taken. "
        "Set [hire] start_on or search_weeks."
    )
    return earliest, (Finding("warn", "start_moved", text, "shop.toml, hire.start_on"),)


def skills_asked(hire: Hire, settings: Settings, workshop: Workshop) -> list[str]:
    """Return the skills of the stages named in [hire].

    Raises
    ------
    SettingsError
        A stage is not known.
    """
    needs = {stage.name: stage.needs for stage in settings.stages}
    for name in hire.stages:
        if name not in needs:
            hint = nearest(name, list(needs))
            to_do = f"did you mean {hint}?" if hint else "name a stage of [[stages]]"
            raise SettingsError("no such stage", where="shop.toml, hire.stages", found=name, allowed=", ".join(needs), to_do=to_do)
    return [skill for skill in dict.fromkeys(needs[name] for name in hire.stages) if skill in workshop.skills]


def candidates(floor: Shopfloor, skills: list[str]) -> list[Candidate]:
    """Return the plans for `skills`, those first in [hire], then prices and doing nothing."""
    plans: list[Candidate] = []
    for skill in skills:
        plans += [another_person(floor, skill), part_time(floor, skill), *train_somebody(floor, skill), overtime(floor, skill)]
        plans += send_out(floor, skill)
    return [*plans, *mark_ups(floor), Candidate("Doing nothing", "nothing")]


def hourly_cost(floor: Shopfloor, skill: str) -> tuple[float, bool]:
    """Return what an hour of somebody new costs, and whether the settings name it; else the mean wage with that skill stands in."""
    hire = floor.hire
    if hire.wage_per_hour is not None:
        return hire.wage_per_hour * (1.0 + hire.on_costs_percent / 100.0), True
    codes = {str(floor.workshop.people[p]) for p in floor.people_with(skill)}
    paid = [_cost(one) for one in floor.settings.workers if one.code in codes and one.wage_per_hour is not None]
    return (float(np.mean(paid)) if paid else 0.0), False


def _cost(worker: Worker) -> float:
    return (worker.wage_per_hour or 0.0) * (1.0 + worker.on_costs_percent / 100.0)


def full_week(settings: Settings) -> tuple[float, ...]:
    """Return the paid hours of a full week, Monday first."""
    calendar = settings.calendar
    return tuple(calendar.hours_per_day if day in calendar.working_days else 0.0 for day in WEEKDAYS)


def learning_pieces(floor: Shopfloor, skill: str, weekly_hours: float) -> float:
    """Return N: pieces done at full speed within the ramp-up; 0 where there is no ramp."""
    hire, w = floor.hire, floor.workshop
    weeks = RAMP_WEEKS[hire.skilled] if hire.ramp_up_weeks is None else hire.ramp_up_weeks
    stages = np.flatnonzero(w.stage_skill == floor.place(skill))
    hours = w.expected_hours(w.piece_style, w.piece_alloy, w.piece_weight_g)[:, stages].sum(axis=1).mean()
    share = float(w.bench_share[0].mean())
    return float(weeks * weekly_hours * share / hours) if hours > 0 and hire.learning_rate_percent < 100 else 0.0


def _starter(floor: Shopfloor, skill: str, week: tuple[float, ...]) -> ExtraPerson:
    hire = floor.hire
    return ExtraPerson(
        (floor.place(skill),), week, np.datetime64(floor.start_on, "D"), learning_rate=hire.learning_rate_percent / 100.0,
        learning_pieces=learning_pieces(floor, skill, sum(week)), learning_spread=LEARNING_SPREAD,
        leaves_first_year=hire.leaves_first_year_percent / 100.0,
    )  # fmt: skip


def _ramp_months(floor: Shopfloor) -> int:
    hire = floor.hire
    weeks = RAMP_WEEKS[hire.skilled] if hire.ramp_up_weeks is None else hire.ramp_up_weeks
    return int(np.ceil(weeks / WEEKS_A_MONTH))


def _teaching(floor: Shopfloor, skill: str) -> tuple[Hours, ...]:
    """The teacher's lost hours while the ramp lasts: whoever has the skill and the longest week."""
    people, months = floor.people_with(skill), _ramp_months(floor)
    if not people or not floor.hire.teacher_hours_per_week or not months:
        return ()
    teacher = max(people, key=lambda p: float(floor.workshop.own_hours[p].sum()))
    first = np.datetime64(floor.start_on, "D")
    return (Hours(teacher, -floor.hire.teacher_hours_per_week, first, first + np.timedelta64(round(months * 30.44), "D")),)


def another_person(floor: Shopfloor, skill: str, name: str = "", week: tuple[float, ...] = ()) -> Candidate:
    """Another person at a bench, full time unless `week` says otherwise; learns, is taught, may leave, spoils while learning."""
    hours = week or full_week(floor.settings)
    plan = Scenario(extra_people=(_starter(floor, skill, hours),), hours=_teaching(floor, skill))
    hourly, named = hourly_cost(floor, skill)
    title, monthly = name or f"Another person to {skill}", hourly * sum(hours) * WEEKS_A_MONTH
    return Candidate(
        title, "hire", skill, plan, floor.hire.equipment, monthly, floor.from_month(), spoilage_months=_ramp_months(floor),
        refused="" if hourly or named else NO_WAGE,
    )  # fmt: skip


def part_time(floor: Shopfloor, skill: str) -> Candidate:
    """Somebody part-time at a bench; hours a week in the name."""
    full, asked = full_week(floor.settings), floor.hire.part_time_hours_per_week
    week = tuple(hours * asked / max(sum(full), 1e-9) for hours in full)
    title = f"Part-time to {skill}, {asked:g} h"
    return replace(another_person(floor, skill, title, week), kind="part_time")


def train_somebody(floor: Shopfloor, skill: str) -> list[Candidate]:
    """Whoever lacks the skill and works at the emptiest benches learns it; no new pay, the teacher's hours are lost."""
    w, place = floor.workshop, floor.place(skill)
    loads = np.array([floor.loads.get(str(name), 0.0) for name in w.skills])
    others = [p for p in range(len(w.people)) if not w.can[p, place] and w.can[p].any() and np.isnat(w.left_on[p])]
    if not others:
        return []
    person = min(others, key=lambda p: float(np.nan_to_num(loads[w.can[p]]).mean()))
    first = np.datetime64(floor.start_on, "D")
    pieces = learning_pieces(floor, skill, float(w.own_hours[person].sum()) / 2.0)
    lesson = Training(person, place, first, floor.hire.learning_rate_percent / 100.0, pieces, LEARNING_SPREAD)
    plan = Scenario(trained=(lesson,), hours=_teaching(floor, skill))
    name = f"Teach {w.people[person]} to {skill}"
    return [Candidate(name, "train", skill, plan, from_month=floor.from_month(), spoilage_months=_ramp_months(floor))]


def overtime(floor: Shopfloor, skill: str) -> Candidate:
    """Everybody with the skill works the policy's overtime; refused where the policy allows none."""
    policy, people = floor.settings.policy, floor.people_with(skill)
    name = f"Overtime to {skill}, {policy.overtime_hours_per_week:g} h each"
    if policy.overtime_hours_per_week <= 0 or not people:
        why = "the policy allows no overtime" if people else "nobody has the skill"
        return Candidate(name, "overtime", skill, refused=f"Refused: {why}.")
    cost = {one.code: _cost(one) for one in floor.settings.workers if one.wage_per_hour is not None}
    codes = [str(floor.workshop.people[p]) for p in people]
    if any(code not in cost for code in codes):
        return Candidate(name, "overtime", skill, refused="Refused: a wage is missing. Set wage_per_hour of each of [[workers]].")
    plan, hourly = (
        Scenario(hours=tuple(Hours(person, policy.overtime_hours_per_week) for person in people)),
        sum(cost[code] for code in codes),
    )
    return Candidate(
        name, "overtime", skill, plan, monthly=hourly * policy.overtime_multiple * policy.overtime_hours_per_week * WEEKS_A_MONTH
    )  # fmt: skip


def send_out(floor: Shopfloor, skill: str) -> list[Candidate]:
    """Each stage of the skill that has an outwork price is sent out."""
    w, prices = floor.workshop, floor.hire.outwork_price_per_order
    stages = [s for s in np.flatnonzero(w.stage_skill == floor.place(skill)) if str(w.stages[s]) in prices]
    plans = []
    for s in stages:
        name = str(w.stages[s])
        plan = Scenario(outwork=(Outwork(int(s), OUTWORK_DAYS),))
        plans.append(Candidate(f"Send out to {name}", "outwork", skill, plan, per_order=prices[name]))
    return plans


def mark_ups(floor: Shopfloor) -> list[Candidate]:
    """Add shares to the making part of every price; who still comes is told by the answer to price and wait, where there is one.

    Without quotes nobody knows who would still come; and a share that lifts price ÷ metal further above what is usual for a style and
    alloy than nine in ten pieces asked for is beyond what the answer was told from: both are refused.
    """
    w = floor.workshop
    if not w.has_quotes:
        return [Candidate("Raise making prices", "price", refused="Refused: without quotes nobody knows who would still come.")]
    usual = _above_usual(w)
    plans = [mark_up(share) for share in MARK_UPS]
    lifts = [float(np.log1p(share * making_share(w)).mean()) for share in MARK_UPS]
    text = "Refused: hardly anything was quoted so far above its usual price, so nobody knows who would still come."
    return [plan if lift <= usual else replace(plan, refused=text) for plan, lift in zip(plans, lifts, strict=True)]


def mark_up(share: float) -> Candidate:
    """Add a share to the making part of every price."""
    return Candidate(f"Raise making prices by {100 * share:.0f}%", "price", "", Scenario(mark_up=share))


def making_share(w: Workshop) -> Floats:
    """Return the making part of each piece's price, 0–1."""
    return np.asarray(np.maximum(w.piece_price - w.piece_metal, 0.0) / np.maximum(w.piece_price, 1e-9))


def _above_usual(w: Workshop) -> float:
    """Return how far, in ln (price ÷ metal), `USUAL_SHARE` of the pieces asked for stand at most above the mean of style and alloy."""
    known = (w.piece_price > 0) & (w.piece_metal > 0)
    kind = (w.piece_style * len(w.alloys) + w.piece_alloy)[known]
    ratio = np.log(w.piece_price[known] / w.piece_metal[known])
    mean = np.bincount(kind, ratio) / np.maximum(np.bincount(kind), 1)
    return float(np.quantile(ratio - mean[kind], USUAL_SHARE)) if len(ratio) else 0.0
