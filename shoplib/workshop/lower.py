"""A workshop, a state and a scenario lowered to the arrays the kernel reads."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..errors import UsageError
from .arrays import Days, Floats, Integers
from .kernel import (
    DAY,
    DRAW,
    FAR,
    LEARNING,
    LOGNORMAL,
    OPEN,
    PERSON,
    PERSON_DRAW,
    PIECE_TYPE,
    SHOP,
    SKILL,
    STAGE,
    STAGE_DRAW,
    Plan,
)
from .model import ENDED, MOST_PEOPLE, RULES, RUNNING, WAITING, State, Workshop
from .scenario import ExtraPerson, Scenario

WIDE = 8
"""Stages are padded to a multiple of this, so that first visits are drawn in whole vectors."""
USUAL_DAY_H = 8.0
"""Hours over which enquiries come where nobody has hours; else the longest day of anybody."""


def lower(workshop: Workshop, state: State, scenario: Scenario, horizon_days: int, *, until_open_done: bool = False,
          law: int = LOGNORMAL) -> Plan:
    """Return the arrays of one plan.

    Parameters
    ----------
    workshop, state, scenario : Workshop, State, Scenario
        What is simulated; both are checked first.
    horizon_days : int
        Calendar days from the day after the as-of date.
    until_open_done : bool
        Stop a replication as soon as every order of the state is delivered.
    law : int
        Law of hours; all but checks use the log-normal.

    Returns
    -------
    Plan
        Fresh arrays: the kernel writes to some of them.

    Raises
    ------
    UsageError, DataError
        As `Workshop.check` and `State.check`, and when the scenario names nobody or nothing the workshop has.
    """
    workshop.check()
    state.check(workshop)
    _check_scenario(workshop, scenario, horizon_days)
    rows = workshop.draws + 1
    dates = state.as_of.astype("datetime64[D]") + np.arange(1, horizon_days + 1)
    classes, piece_class, open_class = _classes(workshop, state)
    paid = paid_hours(workshop, scenario, dates)
    return Plan(
        _shop(workshop, scenario, horizon_days, until_open_done, law), _draws(workshop, scenario, rows), _stage_draws(workshop, rows),
        _person_draws(workshop, scenario, rows), _mean(workshop, classes, rows), _back(workshop, scenario, rows),
        np.cumsum(workshop.return_to, axis=1), np.ascontiguousarray(workshop.passes[classes[:, 0], classes[:, 1]]),
        _stages(workshop, scenario, dates), _people(workshop, scenario, dates), _skills(workshop, scenario), _learning(workshop, scenario),
        paid, _days(workshop, dates), _rates(workshop, dates, rows), workshop.absence_days.astype(np.int64),
        workshop.hold_days.astype(float), workshop.delivery_lag_days.astype(np.int64), workshop.delivery_lag_from.astype(np.int64),
        _pieces(workshop, scenario, piece_class), _opened(workshop, state, open_class), _opened_visits(state))


def paid_hours(workshop: Workshop, scenario: Scenario, dates: Days) -> Floats:
    """Return paid hours of everybody on each of `dates`, people of the scenario last.

    Parameters
    ----------
    dates : Days, shape (H,)
        Consecutive days.

    Returns
    -------
    Floats, shape (P, H)
        0 on free days and while away; −1 on the first day of an absence longer than `handover_days`, and of the time after leaving.
    """
    extra = scenario.extra_people
    weekday = weekday_of(dates)
    own = np.vstack([workshop.own_hours, *[np.asarray(person.own_hours, float)[None] for person in extra]])
    paid = own[:, weekday] * ~np.isin(dates, workshop.shut.astype("datetime64[D]"))
    for change in scenario.hours:
        inside = _inside(dates, change.first_on, change.last_on)
        week = own[change.person].sum()
        factor = max(0.0, 1.0 + change.hours_per_week / week) if week > 0 else 0.0
        paid[change.person, inside] *= factor
    most = (24.0 - workshop.day_start_h) / workshop.day_span
    paid = np.asarray(np.minimum(paid, most))
    started = [*workshop.started_on, *[_day(person.starts_on) for person in extra]]
    left = [*workshop.left_on, *[_day(person.leaves_on) for person in extra]]
    away = list(zip(workshop.away_person, workshop.away_from, workshop.away_to, strict=True))
    away += [(absence.person, absence.first_on, _day(absence.last_on)) for absence in scenario.away]
    for person, (first, last) in enumerate(zip(started, left, strict=True)):
        if not np.isnat(first):
            paid[person, dates < first] = 0.0
        if not np.isnat(last):
            _take_away(paid[person], dates > last, 0.0)
    for person, first, last in away:
        _take_away(paid[person], _inside(dates, first, last), workshop.handover_days)
    return np.asarray(paid)


def _take_away(paid: Floats, gone: Any, handover_days: float) -> None:
    """Set `paid` to 0 where `gone`, its first day to −1 when more working days are lost than are bridged."""
    lost = int((paid[gone] != 0).sum())
    paid[gone] = 0.0
    if lost > handover_days:
        paid[int(np.argmax(gone))] = -1.0


def _inside(dates: Days, first: Any, last: Any) -> Any:
    first, last = _day(first), _day(last)
    return (np.isnat(first) | (dates >= first)) & (np.isnat(last) | (dates <= last))


def _day(value: Any) -> np.datetime64:
    return np.datetime64("NaT", "D") if value is None else value.astype("datetime64[D]")


def weekday_of(dates: Days) -> Integers:
    """Return weekdays, Monday 0. Day 0 of datetime64 was a Thursday."""
    return np.asarray((dates.astype("datetime64[D]").astype(np.int64) + 3) % 7)


def _check_scenario(workshop: Workshop, scenario: Scenario, horizon_days: int) -> None:
    if horizon_days < 1:
        raise UsageError("the horizon is too short", found=horizon_days, allowed="at least 1 day")
    people, skills, stages = len(workshop.people) + len(scenario.extra_people), len(workshop.skills), len(workshop.stages)
    if people > MOST_PEOPLE:
        raise UsageError("the simulator cannot run this number of people", found=people, allowed=f"1 to {MOST_PEOPLE}",
                         to_do="leave people who do no bench work out of shop.toml")
    people_named = [x.person for x in scenario.trained] + [x.person for x in scenario.hours] + [x.person for x in scenario.away]
    named = [("person", people_named, people),
             ("skill", [k for x in scenario.extra_people for k in x.skills] + [x.skill for x in scenario.trained]
              + [k for k, _ in scenario.helping_hours], skills),
             ("stage", [x.stage for x in scenario.outwork] + [s for s, _ in scenario.return_factor], stages)]
    for what, positions, most in named:
        for position in positions:
            if not 0 <= position < most:
                raise UsageError(f"the plan names a {what} the workshop does not have", found=position, allowed=f"0 to {most - 1}")


def _rows(value: Floats, rows: int) -> Floats:
    """Return `value` with `rows` rows: what is certain stands in each."""
    return np.asarray(np.broadcast_to(value, (rows, *value.shape[1:])) if len(value) == 1 else value)


def _shop(workshop: Workshop, scenario: Scenario, horizon_days: int, until_open_done: bool, law: int) -> Any:
    shop, longest_h = np.zeros(1, SHOP), float(workshop.own_hours.max(initial=0.0)) or USUAL_DAY_H
    values = {
        "law": law, "rule": RULES.index(workshop.dispatch_rule), "until_open_done": until_open_done, "horizon": horizon_days,
        "day_start": workshop.day_start_h / 24.0, "span": workshop.day_span / 24.0, "handover": workshop.handover_days,
        "day_hours": min(longest_h, (24.0 - workshop.day_start_h) / workshop.day_span), "quote_step": workshop.quote_step,
        "quote_low": workshop.quote_low, "quote_high": workshop.quote_high, "win_weeks": workshop.win_weeks,
        "win_scale": workshop.win_scale, "rush_share": workshop.rush_share,
        "demand_factor": scenario.demand_factor if len(workshop.piece_style) else 0.0}
    for name, value in values.items():
        shop[name] = value
    return shop


def _draws(workshop: Workshop, scenario: Scenario, rows: int) -> Any:
    table = np.zeros(rows, DRAW)
    fields = {"strength": workshop.dispatch_strength, "quote_a": workshop.quote_a, "quote_b": workshop.quote_b,
              "quote_sd": workshop.quote_sd, "dispersion": workshop.demand_dispersion, "win_shift": workshop.win_shift,
              "win_wait": workshop.win_wait * scenario.patience_factor, "win_price": workshop.win_price}
    for name, value in fields.items():
        table[name] = _rows(value, rows)
    return table


def _stage_draws(workshop: Workshop, rows: int) -> Any:
    n_stages = len(workshop.stages)
    table = np.zeros((rows, -(-n_stages // WIDE) * WIDE), STAGE_DRAW)
    for name, value in (("slope", workshop.work_slope), ("rework", workshop.work_rework), ("sd", workshop.work_sd)):
        table[name][:, :n_stages] = _rows(value, rows)
    return table


def _person_draws(workshop: Workshop, scenario: Scenario, rows: int) -> Any:
    table = np.zeros((rows, len(workshop.people) + len(scenario.extra_people)), PERSON_DRAW)
    for name, value in (("bench_share", workshop.bench_share), ("absence_chance", workshop.absence_chance)):
        known = _rows(value, rows)
        given = [getattr(person, name) for person in scenario.extra_people]
        more = [known.mean(axis=1) if share is None else np.full(rows, share) for share in given]
        table[name] = np.column_stack([known, *more])
    if not len(workshop.absence_days):
        table["absence_chance"] = 0.0
    table["bench_share"] = np.maximum(table["bench_share"], 1e-3)
    return table


def _classes(workshop: Workshop, state: State) -> tuple[Integers, Integers, Integers]:
    """Return the style and alloy of each class that occurs, and the class of each piece and open order."""
    pairs = np.column_stack([np.concatenate([workshop.piece_style, state.style]), np.concatenate([workshop.piece_alloy, state.alloy])])
    if not len(pairs):
        return np.zeros((1, 2), np.int64), np.zeros(0, np.int64), np.zeros(0, np.int64)
    classes, place = np.unique(pairs.astype(np.int64), axis=0, return_inverse=True)
    place = place.ravel()
    return classes, place[: len(workshop.piece_style)], place[len(workshop.piece_style):]


def _mean(workshop: Workshop, classes: Integers, rows: int) -> Floats:
    n_stages = len(workshop.stages)
    mean = np.zeros((rows, len(classes), -(-n_stages // WIDE) * WIDE))
    mean[:, :, :n_stages] = (_rows(workshop.work_intercept, rows)[:, None, :]
                             + _rows(workshop.work_style, rows)[:, :, classes[:, 0]].transpose(0, 2, 1)
                             + _rows(workshop.work_alloy, rows)[:, :, classes[:, 1]].transpose(0, 2, 1))
    return mean


def _back(workshop: Workshop, scenario: Scenario, rows: int) -> Floats:
    factor = np.ones(len(workshop.stages))
    for stage, value in scenario.return_factor:
        factor[stage] = value
    return np.ascontiguousarray(np.minimum(_rows(workshop.return_chance, rows) * factor[:, None], 1.0))


def _bits(flags: Any) -> Any:
    """Return each row of flags as the bits of one word."""
    return np.array([sum(1 << int(i) for i in np.flatnonzero(row)) for row in flags], np.uint64)


def _abilities(workshop: Workshop, scenario: Scenario) -> tuple[Any, Any]:
    """Return who has which skill from the beginning, and who gains which later, person × skill."""
    extra = [np.isin(np.arange(len(workshop.skills)), person.skills) for person in scenario.extra_people]
    now = np.vstack([workshop.can, *[row[None] for row in extra]])
    later = np.zeros_like(now)
    for course in scenario.trained:
        later[course.person, course.skill] = not now[course.person, course.skill]
    return now, later


def _stages(workshop: Workshop, scenario: Scenario, dates: Days) -> Any:
    now, later = _abilities(workshop, scenario)
    stages = np.zeros(len(workshop.stages) + 1, STAGE)
    known = stages[:-1]
    known["people"] = _bits((now | later)[:, workshop.stage_skill].T)
    known["skill"] = workshop.stage_skill
    known["hold_chance"] = workshop.hold_chance if len(workshop.hold_days) else 0.0
    known["repass"] = workshop.repass
    for out in scenario.outwork:
        stage = stages[out.stage]
        stage["out_share"], stage["out_days"], stage["out_from"] = out.share, out.days, _from(out.starts_on, dates)
    return stages


def _from(day: Any, dates: Days) -> float:
    return 0.0 if day is None else float((_day(day) - dates[0]).astype(np.int64))


def _people(workshop: Workshop, scenario: Scenario, dates: Days) -> Any:
    now, later = _abilities(workshop, scenario)
    people = np.zeros(len(now), PERSON)
    people["stages"], people["later_stages"] = _bits(now[:, workshop.stage_skill]), _bits(later[:, workshop.stage_skill])
    people["later_from"], people["leave_after"] = FAR, FAR
    for course in scenario.trained:
        people["later_from"][course.person] = _from(course.starts_on, dates)
    for place, person in enumerate(scenario.extra_people, len(workshop.people)):
        people["leave_chance"][place], people["leave_after"][place] = person.leaves_first_year, max(0.0, _from(person.starts_on, dates))
    return people


def _skills(workshop: Workshop, scenario: Scenario) -> Any:
    skills = np.zeros(len(workshop.skills), SKILL)
    skills["stages"] = _bits(workshop.stage_skill == np.arange(len(workshop.skills))[:, None])
    shop_days = max(int(workshop.working_days.sum()), 1)
    for skill, hours in scenario.helping_hours:
        skills["help_per_day"][skill], skills["help_most"][skill] = hours / shop_days, hours
    return skills


def _learning(workshop: Workshop, scenario: Scenario) -> Any:
    people, n_skills = len(workshop.people), len(workshop.skills)
    learning = np.zeros((people + len(scenario.extra_people), n_skills), LEARNING)
    learning["rate"] = 1.0
    learning["rate"][:people] = workshop.learning_rate[:, None]
    learning["pieces"][:people], learning["done"][:people] = workshop.learning_pieces, workshop.pieces_done
    courses: list[tuple[int, int, Any]] = [(course.person, course.skill, course) for course in scenario.trained]
    extra: list[tuple[int, ExtraPerson]] = list(enumerate(scenario.extra_people, people))
    courses += [(place, skill, person) for place, person in extra for skill in person.skills]
    for place, skill, course in courses:
        learning[place, skill] = (course.learning_rate, course.learning_pieces, course.learning_spread, 0.0, 0.0)
    return learning


def _days(workshop: Workshop, dates: Days) -> Any:
    days = np.zeros(len(dates), DAY)
    days["weekday"] = weekday_of(dates)
    months = dates.astype("datetime64[M]")
    days["month"] = (months - months[0]).astype(np.int64)
    days["shop_open"] = workshop.working_days[days["weekday"]] & ~np.isin(dates, workshop.shut.astype("datetime64[D]"))
    days["shop_days"] = np.cumsum(days["shop_open"])
    return days


def _rates(workshop: Workshop, dates: Days, rows: int) -> Floats:
    """Return enquiries a shop day by month of the run; outside the months fitted the year's pattern repeats."""
    first, last = dates[[0, -1]].astype("datetime64[M]")
    given = workshop.enquiries_per_day.shape[1]
    month = np.arange((first - workshop.demand_from.astype("datetime64[M]")).astype(int),
                      (last - workshop.demand_from.astype("datetime64[M]")).astype(int) + 1)
    year = min(12, given)
    place = np.where(month < 0, month % year, np.where(month < given, month, given - year + (month - given) % year))
    return np.ascontiguousarray(_rows(workshop.enquiries_per_day, rows)[:, place])


def _pieces(workshop: Workshop, scenario: Scenario, piece_class: Integers) -> Any:
    pieces = np.zeros(len(workshop.piece_style), PIECE_TYPE)
    pieces["cls"], pieces["alloy"] = piece_class, workshop.piece_alloy
    pieces["ln_w"] = np.log(np.maximum(workshop.piece_weight_g, 1e-3)) - workshop.ln_weight_centre
    pieces["win_logit"] = workshop.piece_win_logit
    price = np.maximum(workshop.piece_price, 1e-9)
    making = np.clip((price - workshop.piece_metal) / price, 0.0, 1.0)
    pieces["ln_price"] = np.log1p(scenario.mark_up * making)
    return pieces


def _opened(workshop: Workshop, state: State, open_class: Integers) -> Any:
    start = state.as_of.astype("datetime64[D]") + 1
    opened = np.zeros(len(state.order_id), OPEN)
    since = (state.ordered_on.astype("datetime64[D]") - start).astype(np.int64)
    usual = float(np.clip(workshop.quote_a[0] + workshop.quote_b[0] * len(opened), workshop.quote_low, workshop.quote_high))
    values: dict[str, Any] = {
        "cls": open_class, "alloy": state.alloy, "rush": state.rush, "status": state.status, "stage": state.stage, "person": state.person,
        "repair": state.repair_until, "ln_w": np.log(np.maximum(state.weight_g, 1e-3)) - workshop.ln_weight_centre, "ordered": since,
        "promised": _days_from(state.promised_on, start, since + np.round(7.0 * usual)), "spent_h": state.spent_h,
        "until": np.maximum(_days_from(state.until, start, np.full(len(opened), np.nan)), 0.0)}
    for name, value in values.items():
        opened[name] = value
    first = np.lexsort((np.arange(len(opened)), np.where(np.isin(state.status, (WAITING, ENDED)), -state.queued_days, 0.0)))
    opened["rank"][first] = np.arange(len(opened))
    return opened


def _days_from(days: Days, start: np.datetime64, missing: Floats) -> Floats:
    return np.where(np.isnat(days), missing, (days.astype("datetime64[D]") - start).astype(float))


def _opened_visits(state: State) -> Integers:
    visits = np.maximum(state.visits, 0).astype(np.int64)
    running = np.flatnonzero(state.status == RUNNING)
    visits[running, state.stage[running]] = np.maximum(visits[running, state.stage[running]], 1)
    return visits
