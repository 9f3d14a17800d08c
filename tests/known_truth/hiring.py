"""The hiring report's accuracy paragraph: the right bench, the orders gained there, what is claimed elsewhere, the sign of the value.

The truth of another person is the generator's own: each shop is played on for two years from the last day of its records, with and
without that person, under several lucks that both share. Gold keeps its last price: the report assumes it, and nobody could foresee
another. The person works at standard from the first day, in both worlds: how a starter learns, is taught, spoils metal or leaves is
assumed by the settings, not fitted, and has tests of its own.
"""

from __future__ import annotations

from datetime import timedelta

import numpy as np

from shoplib.decide import evaluate
from shoplib.decide.candidates import Shopfloor, another_person, full_week
from shoplib.decide.compare import SCREEN, runner, skills_compared
from shoplib.decide.evaluate import Judged, Terms
from shoplib.decide.money import npv
from shoplib.flow.stages import skill_table
from shoplib.flow.visits import history
from shoplib.reports.hiring import plan_of
from shoplib.reports.hiring.headline import Told, branch
from shoplib.reports.periods import whole_months
from shoplib.settings import Settings
from shoplib.workshop.baseline import Baseline, baseline
from shoplib.workshop.limits import DEMAND

from . import parameters as p
from .case import Case, Measured, Verdict
from .play import play
from .things import Order, Played

TITLE = "Another pair of hands"
LUCKS = tuple(range(1, 9))
AHEAD_MONTHS = 24
SEED = 20260101
LEAST_WAGE, WAGES_BETWEEN = 12.0, 3
"""Money an hour paid to somebody new: cheap in the first shop of three, then dearer, so that hires of both signs are among them."""
WAGE_STEP = 10.0
CAPITAL_RATE = 0.06
ADVISED = ("do", "instead")


def measure(case: Case) -> list[Measured]:
    """Return every number of the paragraph for one shop, with its truth."""
    base = baseline(case.shop, case.as_of, SEED)
    hires = {skill: _told(case, base, skill) for skill in _asked(case, base)}
    best = max(hires.values(), key=lambda one: float(one.orders_gain.mean()))
    name, found = case.number, best.candidate.stage
    truth = case.truth.limiting or DEMAND
    advice = branch(Told(plan_of(max(hires.values(), key=lambda one: float(one.value.mean()))), None, AHEAD_MONTHS))
    rows = [Measured(name, "bench", "shop", truth, found if base.limits.limiting else DEMAND), Measured(name, "advice", "shop", truth, advice)]
    at = case.truth.limiting or found
    gain, worth = played_on(case, at)
    rows += [Measured(name, "gain", at, gain, *_spread(hires[at].orders_gain)), Measured(name, "value", at, worth, *_spread(hires[at].value))]
    busiest = busiest_bench(case)
    if busiest != case.truth.limiting:
        share = float(hires[busiest].orders_gain.mean() / max(best.orders_gain.mean(), 1e-9))
        rows.append(Measured(name, "elsewhere", busiest, truth, share))
    return rows


def judge(rows: list[Measured]) -> list[Verdict]:
    """Return the sentences of the paragraph."""
    return [_bench(rows), _gain(rows), _covered(rows), _elsewhere(rows), _thin(rows), _sign(rows)]


def wage(case: Case) -> float:
    """Return money an hour of somebody new, before on-costs."""
    return LEAST_WAGE + WAGE_STEP * (case.number % WAGES_BETWEEN)


def busiest_bench(case: Case) -> str:
    """Return the skill with most hours booked in the last year."""
    first, last = whole_months(case.as_of, 12)
    return str(skill_table(history(case.shop, case.as_of), first, last).set_index("skill")["hours_booked"].idxmax())


def settings_of(case: Case) -> Settings:
    """Return the shop's settings with somebody new who begins the next day, is paid `wage` and works at standard at once."""
    changes = {
        "wage_per_hour": wage(case), "ramp_up_weeks": 0.0, "learning_rate_percent": 100.0, "teacher_hours_per_week": 0.0,
        "leaves_first_year_percent": 0.0, "spoilage_percent": 0.0, "search_weeks": 0.0, "horizon_months": AHEAD_MONTHS,
    }  # fmt: skip
    return case.shop.settings.model_copy(update={"hire": case.shop.settings.hire.model_copy(update=changes)})


def _asked(case: Case, base: Baseline) -> list[str]:
    named = [busiest_bench(case)] + [case.truth.limiting] * bool(case.truth.limiting)
    return skills_compared(base, named)[0]


def _told(case: Case, base: Baseline, skill: str) -> Judged:
    settings = settings_of(case)
    floor = Shopfloor(settings, base.workshop, {}, case.as_of, case.as_of + timedelta(days=1))
    plan = another_person(floor, skill)
    terms = Terms(AHEAD_MONTHS, CAPITAL_RATE, 0.0, 0.0, 0.0, {})
    return evaluate.judge(plan, runner(base)(plan.scenario, SCREEN), base.nothing, terms)


def _spread(values: np.ndarray) -> tuple[float, float, float]:
    low, high = np.quantile(values, (0.1, 0.9))
    return float(values.mean()), float(low), float(high)


def played_on(case: Case, skill: str) -> tuple[float, float]:
    """Return orders a year gained by somebody at `skill`, and what that is worth, played; metal in process is left out of both worlds."""
    truth, from_day = case.truth, round(p.HISTORY_MONTHS * p.DAYS_PER_MONTH)
    week = full_week(settings_of(case))
    share, away = (float(np.mean([getattr(one, name) for one in truth.people])) for name in ("bench_share", "absence_chance"))
    hand = p.Person("extra", (skill,), week, share, away, from_day=from_day, luck=50)
    gains, worth, months = [], [], p.HISTORY_MONTHS + AHEAD_MONTHS
    hire = settings_of(case).hire
    pay = wage(case) * (1 + hire.on_costs_percent / 100) * sum(week) * 365.25 / 12 / 7
    for luck in LUCKS:
        alone, helped = (play(truth, months, extra, luck, from_day, gold_still_from=from_day) for extra in ((), (hand,)))
        orders, money, left = (b - a for a, b in zip(_ledger(alone, from_day), _ledger(helped, from_day), strict=True))
        gains.append(float(orders) / (AHEAD_MONTHS / 12))
        flows = np.concatenate([[-hire.equipment], money - pay])
        worth.append(float(npv(flows, CAPITAL_RATE)) + float(left) / (1 + CAPITAL_RATE) ** (AHEAD_MONTHS / 12))
    return float(np.mean(gains)), float(np.mean(worth))


def _ledger(played: Played, from_day: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return orders delivered from the day on, what they leave after metal month by month, and that of open orders × share of hours done."""
    first = p.WARM_UP_DAYS + from_day
    done = [o for o in played.orders if first <= o.delivered < played.n_days]
    month = [min(int((o.delivered - first) / p.DAYS_PER_MONTH), AHEAD_MONTHS - 1) for o in done]
    money = np.bincount(month, [_left(played, o) for o in done], AHEAD_MONTHS)
    credit = sum(_left(played, o) * _done_share(o) for o in played.orders if o.delivered >= played.n_days)
    return np.array(len(done)), money, np.array(credit)


def _left(played: Played, order: Order) -> float:
    fineness = played.truth.alloys[order.alloy].fineness / 1000
    return float(order.price - order.grams * fineness * played.spot[order.day])


def _done_share(order: Order) -> float:
    done = sum(step.hours for step in order.path[: order.place])
    if order.left_h > 0:
        done += order.path[order.place].hours - order.left_h
    return done / sum(step.hours for step in order.path)


def _bench(rows: list[Measured]) -> Verdict:
    right = [row.truth == row.told for row in rows if row.what == "bench"]
    return Verdict("the right bench in every shop", f"{sum(right)} of {len(right)}", bool(right) and all(right))


def _gain(rows: list[Measured]) -> Verdict:
    pairs = np.array([(float(row.told), float(row.truth)) for row in _full(rows, "gain")]).reshape(-1, 2)
    ratio = float(pairs[:, 0].sum() / pairs[:, 1].sum()) if len(pairs) else float("nan")
    each = ", ".join(f"{told:.1f} against {true:.1f}" for told, true in pairs)
    return Verdict("orders gained there within 0.8 to 1.2 of the truth on average", f"{ratio:.2f}; shop by shop {each}", 0.8 <= ratio <= 1.2)


def _covered(rows: list[Measured]) -> Verdict:
    inside = [row.inside for row in rows if row.what == "gain"]
    return Verdict("the 80 % range holds the truth in at least 6 of 10", f"{sum(inside)} of {len(inside)}", sum(inside) >= 0.6 * len(inside))


def _elsewhere(rows: list[Measured]) -> Verdict:
    shares = [float(row.told) for row in rows if row.what == "elsewhere" and row.truth != DEMAND]
    return Verdict(
        "gain claimed at the busiest but not limiting bench at most 0.3 of the best",
        ", ".join(f"{share:.2f}" for share in shares) or "no such shop", max(shares, default=0.0) <= 0.3,
    )  # fmt: skip


def _thin(rows: list[Measured]) -> Verdict:
    told = [str(row.told) for row in rows if row.what == "advice" and row.truth == DEMAND]
    return Verdict("with thin demand no hire is advised", ", ".join(told) or "no such shop", not set(told) & set(ADVISED))


def _sign(rows: list[Measured]) -> Verdict:
    pairs = [(float(row.told), float(row.truth)) for row in rows if row.what == "value"]
    right = sum((told > 0) == (true > 0) for told, true in pairs)
    each = ", ".join(f"{told:,.0f} against {true:,.0f}" for told, true in pairs)
    return Verdict("sign of the value right in at least 9 of 10", f"{right} of {len(pairs)}; {each}", right >= 0.9 * len(pairs))


def _full(rows: list[Measured], what: str) -> list[Measured]:
    limited = {row.shop for row in rows if row.what == "bench" and row.truth != DEMAND}
    return [row for row in rows if row.what == what and row.shop in limited]
