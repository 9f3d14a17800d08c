"""The program's own model given the true parameters and the true state: the least error that luck allows.

Where the program simulates from `true_workshop` and `true_state`, what is left between its answer and what happened is luck, and
whatever the model leaves out.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from shoplib.workshop.model import DONE, HELD, RUNNING, WAITING, State, Workshop

from . import parameters as p
from .paths import mean_hours, return_chances
from .people import first_played
from .play import enquiries_a_day
from .tables import order_code
from .things import Order, Played


def true_workshop(fitted: Workshop, truth: p.Truth) -> Workshop:
    """Return `fitted` with every parameter the truth knows put in its place, without parameter draws."""
    w = fitted.estimate()
    return replace(w, **_times(w, truth), **_returns(w, truth), **_people(w, truth), **_customers(w, truth))


def _places(w: Workshop, truth: p.Truth) -> tuple[list[int], list[int], list[int]]:
    """Return the position of each bench, style and alloy of the truth in the workshop."""
    names = [[str(x) for x in part] for part in (w.stages, w.styles, w.alloys)]
    wanted = [[bench.name for bench in truth.benches], [s.name for s in truth.styles], [a.code for a in truth.alloys]]
    stages, styles, alloys = ([known.index(name) for name in want] for known, want in zip(names, wanted, strict=True))
    return stages, styles, alloys


def _times(w: Workshop, truth: p.Truth) -> dict[str, np.ndarray]:
    stages, styles, alloys = _places(w, truth)
    intercept, slope, sd, rework = (np.zeros((1, len(w.stages))) for _ in range(4))
    style, alloy = np.zeros((1, len(w.stages), len(w.styles))), np.zeros((1, len(w.stages), len(w.alloys)))
    passes = np.zeros_like(w.passes)
    for place, bench in enumerate(truth.benches):
        k = stages[place]
        usual = mean_hours(truth, place, 0, 0, p.USUAL_GRAMS)
        slope[0, k], sd[0, k], rework[0, k] = bench.weight_power, bench.sd, np.log(p.REWORK_FACTOR)
        intercept[0, k] = np.log(usual) - bench.sd**2 / 2 + bench.weight_power * (w.ln_weight_centre - np.log(p.USUAL_GRAMS))
        for s, y in enumerate(styles):
            style[0, k, y] = np.log(mean_hours(truth, place, s, 0, p.USUAL_GRAMS) / usual)
            passes[y, :, k] = bench.name not in truth.styles[s].skips
        for a, z in enumerate(alloys):
            alloy[0, k, z] = np.log(mean_hours(truth, place, 0, a, p.USUAL_GRAMS) / usual)
    return {
        "work_intercept": intercept,
        "work_slope": slope,
        "work_sd": sd,
        "work_rework": rework,
        "work_style": style,
        "work_alloy": alloy,
        "passes": passes,
    }


def _returns(w: Workshop, truth: p.Truth) -> dict[str, np.ndarray]:
    stages, _, alloys = _places(w, truth)
    chance, to = np.zeros((1, len(w.stages), len(w.alloys))), np.zeros((len(w.stages), len(w.stages)))
    for place in range(len(truth.benches)):
        for a, z in enumerate(alloys):
            ways = return_chances(truth, place, a)
            chance[0, stages[place], z] = sum(c for _, c in ways)
            for back, c in ways:
                to[stages[place], stages[back]] += c
    total = to.sum(axis=1, keepdims=True)
    return {
        "return_chance": chance,
        "return_to": np.divide(to, total, out=np.zeros_like(to), where=total > 0),
        "repass": np.full(len(w.stages), p.REPASS_CHANCE),
    }


def _people(w: Workshop, truth: p.Truth) -> dict[str, np.ndarray]:
    """Return presence and absences; holidays (weeks of five days) are drawn like absences, as the program draws them."""
    by_code = {person.code: person for person in truth.people}
    crew = [by_code[str(code)] for code in w.people]
    holidays = np.array([max(0, person.holiday_weeks - 2) / 230 for person in crew])
    chance = np.array([person.absence_chance for person in crew]) + holidays
    geometric = np.random.default_rng(1).geometric(1 / crew[0].absence_days, 2000)
    weeks = np.full(round(2000 * float(holidays.mean() / max(chance.mean() - holidays.mean(), 1e-9))), 5)
    return {
        "bench_share": np.array([[person.bench_share for person in crew]]),
        "absence_chance": chance[None],
        "absence_days": np.concatenate([geometric, weeks]).astype(np.int64),
        "dispatch_strength": np.array([truth.strength]),
    }


def _customers(w: Workshop, truth: p.Truth) -> dict[str, object]:
    rate = enquiries_a_day(truth)
    months = w.demand_from.astype("datetime64[M]") + np.arange(w.enquiries_per_day.shape[1])
    middle = (months.astype("datetime64[D]") + 15 - np.datetime64(first_played())).astype(float)
    per_day = rate * (1 + truth.season * np.sin(2 * np.pi * (middle - 60) / 365.25))
    told: dict[str, object] = {
        "dispatch_rule": truth.rule,
        "quote_a": np.array([truth.quote_a]),
        "quote_b": np.array([truth.quote_b]),
        "quote_sd": np.array([truth.quote_sd]),
    }
    if not w.has_quotes:
        return told
    usual = np.log(1 + p.MAKING_PER_G / (p.SPOT_START * truth.alloys[0].fineness / 1000))
    logit = np.log(truth.win_usual / (1 - truth.win_usual)) + truth.win_price * (np.log(w.piece_price / w.piece_metal) - usual)
    return told | {
        "win_wait": np.array([truth.win_wait]),
        "win_price": np.array([truth.win_price]),
        "win_shift": np.zeros(1),
        "win_scale": 1.0,
        "win_weeks": truth.usual_weeks,
        "piece_win_logit": logit,
        "enquiries_per_day": per_day[None],
    }


def true_state(w: Workshop, played: Played) -> State:
    """Return where each open order really stood at the end of the play, on the axes of `w`."""
    stages, styles, alloys = _places(w, played.truth)
    orders = sorted((o for o in played.orders if o.delivered >= played.n_days), key=lambda o: (o.day, o.number))
    hands = {number: played.people[i].code for i, number in enumerate(played.in_hand) if number >= 0}
    codes = [str(code) for code in w.people]
    held = {number: until for number, _, until in played.holds if until >= played.n_days}
    day = lambda value: np.datetime64(first_played()) + value  # noqa: E731
    base = np.array([o.day for o in orders], dtype=np.int64)
    visits = np.zeros((len(orders), len(w.stages)), dtype=np.int64)
    for row, o in enumerate(orders):
        for step in o.path[: o.place + (o.number in hands or o.left_h > 0)]:
            visits[row, stages[step.stage]] += 1
    status = np.array([_status(o, hands, held) for o in orders], dtype=np.int64)
    return State(
        as_of=np.datetime64(first_played()) + (played.n_days - 1),
        order_id=np.array([order_code(o.number) for o in orders], dtype=np.str_),
        style=np.array([styles[o.style] for o in orders], dtype=np.int64),
        alloy=np.array([alloys[o.alloy] for o in orders], dtype=np.int64),
        weight_g=np.array([o.grams for o in orders]),
        ordered_on=day(base),
        promised_on=day(np.array([o.promised for o in orders], dtype=np.int64)),
        rush=np.array([o.rush for o in orders], dtype=bool),
        status=status,
        stage=np.array([stages[o.path[min(o.place, len(o.path) - 1)].stage] for o in orders], dtype=np.int64),
        person=np.array([codes.index(hands[o.number]) if o.number in hands else -1 for o in orders], dtype=np.int64),
        spent_h=np.array([o.path[o.place].hours - o.left_h if s == RUNNING else 0.0 for o, s in zip(orders, status, strict=True)]),
        visits=visits,
        repair_until=np.array([_under_way(o, stages) for o in orders], dtype=np.int64),
        queued_days=np.array(
            [max(0.0, played.n_days - o.queued / 24) if s == WAITING else 0.0 for o, s in zip(orders, status, strict=True)]
        ),
        until=np.array(
            [day(held[o.number]) if s == HELD else np.datetime64("NaT") for o, s in zip(orders, status, strict=True)], "datetime64[D]"
        ),
        contribution=np.zeros(len(orders)),
        hours_done=np.array([sum(step.hours for step in o.path[: o.place]) for o in orders]),
    )


def _status(o: Order, hands: dict[int, str], held: dict[int, int]) -> int:
    if o.place >= len(o.path):
        return DONE
    if o.number in hands or o.left_h > 0:
        return RUNNING
    return HELD if o.number in held else WAITING


def _under_way(o: Order, stages: list[int]) -> int:
    """Return the stage that sent the order back and that it has not begun again, −1 when none."""
    goal = -1
    for before, step in zip([None, *o.path], o.path[: o.place + 1], strict=False):
        if before is not None and before.stage >= step.stage:
            goal = max(goal, stages[before.stage])
        if goal >= 0 and stages[step.stage] >= goal:
            goal = -1
    return goal
