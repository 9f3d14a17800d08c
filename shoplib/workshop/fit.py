"""The fit: a shop's own past becomes a workshop that can be asked "what if".

`fit(shop, as_of)` returns the workshop; `fitted(shop, as_of)` also what it rests on and what had to be assumed.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np

from ..costing.calendar import closed_on, holidays_of, weekday_of
from ..flow.holds import hold_stretches
from ..flow.visits import History, history
from ..intake.as_of import until
from ..intake.shop import Finding, Shop
from ..settings import WEEKDAYS, Settings
from .arrays import Days, Flags, Floats, Integers
from .attendance import Employed, attendance_of, employed_of, select, serving, with_booked_skills
from .axes import Axes, axes_of, check_people
from .cards import Cards, cards_of, waits_of
from .delivery import DeliveryLag, fit_delivery_lag
from .dispatch import Dispatch, fit_dispatch
from .enquiries import Enquiries, fit_enquiries
from .model import Workshop
from .presence import Presence, fit_presence
from .quoting import Quoting, fit_quoting
from .returns import Returns, fit_returns
from .work_time import WorkTime, fit_work_time

DRAWS = 256
SEED = 20260101
YEARS_AHEAD = 7
"""Holidays and closures are looked up so far."""
HANDOVER_DAYS = 3.0
RECENT_DAYS = 730
"""Promises, quotes and deliveries of the last two years tell of today's habits."""
USUAL_GRAMS = 30.0


@dataclass(frozen=True)
class Fitted:
    """The workshop and the parts it was put together from."""

    workshop: Workshop
    cards: Cards
    people: Integers
    work_time: WorkTime
    returns: Returns
    presence: Presence
    dispatch: Dispatch
    quoting: Quoting
    enquiries: Enquiries
    findings: tuple[Finding, ...]


def fit(shop: Shop, as_of: date, seed: int = SEED, draws: int = DRAWS) -> Workshop:
    """Fit the workshop on what was known on a day.

    Parameters
    ----------
    shop : Shop
        Whole; rows dated later are left out.
    as_of : date
        Last day seen.
    seed : int
        Seed of the parameter draws.
    draws : int
        Number of parameter draws.

    Raises
    ------
    UsageError
        No stage or person, or more than the simulator runs.
    """
    return fitted(shop, as_of, seed, draws).workshop


def fitted(shop: Shop, as_of: date, seed: int = SEED, draws: int = DRAWS, past: History | None = None) -> Fitted:
    """Fit the workshop and say what it rests on; parameters as in `fit`, `past` spares reading the cards again."""
    seen = until(shop, as_of)
    axes = axes_of(seen)
    cards = cards_of(past or history(seen, as_of), axes)
    employed = employed_of(cards)
    people = _people(axes, employed, as_of)
    check_people(len(people))
    luck = [np.random.default_rng([seed, part]) for part in range(7)]
    can = with_booked_skills(cards)
    waits = waits_of(cards)
    work = fit_work_time(cards.visit_hours(), len(axes.stages), len(axes.styles), len(axes.alloys), luck[0], draws, _standard(seen.settings))
    returns = fit_returns(cards.sequence(), len(axes.stages), len(axes.alloys), luck[1], draws)
    serves_from = serving(cards, can)
    everyone = attendance_of(cards, waits, employed, serves_from)
    presence = fit_presence(select(everyone, people), tuple(axes.workers[p] for p in people), luck[2], draws)
    dispatch = fit_dispatch(waits, serves_from, cards.dates_only, seen.settings.policy.work_order, luck[3], draws)
    quoting = fit_quoting(*_quoted(seen, as_of), luck[4], draws)
    lag = fit_delivery_lag(*_delivered(cards))
    shut = _shut(seen.settings, as_of)
    enquiries = _enquiries(seen, axes, as_of, shut, luck[5], draws)
    findings = (*_assumed(cards, can), *employed.findings, *presence.findings, *dispatch.findings, *quoting.findings, *lag.findings,
                *enquiries.findings)
    workshop = _workshop(seen, cards, people, can, employed, shut, work, returns, presence, dispatch, quoting, lag, enquiries, findings)
    workshop.check()
    return Fitted(workshop, cards, people, work, returns, presence, dispatch, quoting, enquiries, findings)


def _people(axes: Axes, employed: Employed, as_of: date) -> Integers:
    """Return those with the shop on the day or later, fewest skills first."""
    there = ~(employed.last <= np.datetime64(as_of, "D")) | np.isnat(employed.last)
    place = np.flatnonzero(there)
    return place[np.argsort(axes.can[place].sum(axis=1), kind="stable")]


def _standard(settings: Settings) -> Floats:
    return np.array([stage.fixed_hours + USUAL_GRAMS * stage.hours_per_g for stage in settings.stages])


def _quoted(shop: Shop, as_of: date) -> tuple[Floats, Floats]:
    """Return weeks quoted and orders open at that moment: from quotes, else from first promises, of the last two years."""
    orders, quotes = shop["orders"], shop["quotes"]
    day, weeks = quotes["quoted_on"].to_numpy("datetime64[D]"), quotes["lead_weeks"].to_numpy(float)
    if not np.isfinite(weeks).any():
        day = orders["ordered_on"].to_numpy("datetime64[D]")
        promise = orders["first_promised_on"].fillna(orders["promised_on"]).to_numpy("datetime64[D]")
        weeks = np.where(np.isnat(promise), np.nan, (promise - day).astype(np.int64) / 7.0)
    recent = (np.datetime64(as_of, "D") - day).astype(np.int64) < RECENT_DAYS
    return weeks[recent], open_orders_on(shop, day[recent])


def open_orders_on(shop: Shop, days: Days) -> Floats:
    """Return how many orders were open at the begin of each day."""
    orders = shop["orders"]
    closed = orders["delivered_on"].fillna(orders["cancelled_on"]).to_numpy("datetime64[D]")
    begun, ended = np.sort(orders["ordered_on"].to_numpy("datetime64[D]")), np.sort(closed[~np.isnat(closed)])
    return (np.searchsorted(begun, days) - np.searchsorted(ended, days)).astype(float)


def _delivered(cards: Cards) -> tuple[Days, Days]:
    orders, table = cards.past.shop["orders"], cards.table
    last = table.drop_duplicates("order", keep="last")
    place = last["order"].to_numpy(np.int64)
    delivered = orders["delivered_on"].to_numpy("datetime64[D]")[place]
    recent = ~np.isnat(delivered) & ((np.datetime64(cards.past.as_of, "D") - delivered).astype(np.int64) < RECENT_DAYS)
    return last["last_at"].to_numpy("datetime64[D]")[recent], delivered[recent]


def _shut(settings: Settings, as_of: date) -> Days:
    """Return holidays and closures from two years back to `YEARS_AHEAD` years ahead."""
    end = np.datetime64(as_of, "D")
    days = np.arange(end - 366 * 3, end + 366 * YEARS_AHEAD)
    return days[holidays_of(settings.calendar.holidays, days)[0] | closed_on(settings.calendar, days)]


def _working_days(settings: Settings) -> Flags:
    return np.array([name in settings.calendar.working_days for name in WEEKDAYS])


def _enquiries(shop: Shop, axes: Axes, as_of: date, shut: Days, rng: np.random.Generator, draws: int) -> Enquiries:
    end = np.datetime64(as_of, "D")
    first = end - 366 * 3
    days = np.arange(first, end + 400)
    is_open = _working_days(shop.settings)[weekday_of(days)] & ~np.isin(days, shut)
    return fit_enquiries(shop, axes, end, is_open, first, rng, draws)


def _assumed(cards: Cards, can: Flags) -> tuple[Finding, ...]:
    axes, found = cards.axes, []
    if cards.left_out:
        names = ", ".join(axes.stages[s] for s in cards.left_out)
        found.append(Finding("note", "stage_not_per_order", f"Most orders have no entry at {names}: left out of the route, its hours count as "
                             "time away from the bench. Book it on every order if it is part of the route.", "labour.stage"))
    idle = [s for s in cards.never if axes.redoes[s] == s]
    if idle:
        names = ", ".join(axes.stages[s] for s in idle)
        found.append(Finding("note", "stage_never_visited", f"No order was ever booked at {names}: left out of the route. "
                             "Book work there, or take the stage out of shop.toml.", "shop.toml, [[stages]]"))
    for worker, skill in zip(*np.nonzero(can & ~axes.can), strict=True):
        text = f"{axes.workers[worker]} books work that asks for {axes.skills[skill]} and is taken to have that skill. Add it to skills in shop.toml."
        found.append(Finding("note", "skill_assumed", text, "shop.toml, [[workers]]"))
    if cards.dates_only:
        found.append(Finding("note", "dates_only", "Most cards name no clock times: waits are known to the day only.", "labour.start"))
    text = f"An absence of more than {HANDOVER_DAYS:.0f} working days is taken to put the work in hand back into the queue."
    return (*found, Finding("note", "handover_assumed", text, ""))


def _holds(cards: Cards) -> tuple[Floats, Floats]:
    """Return the share of first visits at each stage before which the order was on hold, and the lengths of past holds, days."""
    first = cards.table[~cards.table["again"].to_numpy(bool)]
    stage, held = first["stage"].to_numpy(np.int64), np.nan_to_num(first["held_days"].to_numpy(float)) > 0
    n_stages = len(cards.axes.stages)
    count, total = (np.bincount(stage[use], minlength=n_stages) for use in (held, np.ones(len(stage), bool)))
    stretches = hold_stretches(cards.past.shop["holds"], cards.past.shop["orders"], cards.past.as_of)
    ended = stretches[stretches["end"].to_numpy("datetime64[s]") < cards.past.now]
    days = (ended["end"] - ended["begin"]).dt.total_seconds().to_numpy() / 86400.0
    return (count / np.maximum(total, 1)) * bool(len(days)), np.sort(days)


def _away(shop: Shop, cards: Cards, people: Integers, as_of: date) -> tuple[Integers, Days, Days]:
    """Return planned absences that reach beyond the as-of date, by position in `people`."""
    table = shop["absences"]
    worker = cards.axes.worker_at(table["worker"])
    first, last = (table[name].to_numpy("datetime64[D]") for name in ("from", "to"))
    place = np.full(len(cards.axes.workers) + 1, -1, dtype=np.int64)
    place[people] = np.arange(len(people))
    person = place[worker]
    ahead = (person >= 0) & table["planned"].to_numpy(bool) & (last > np.datetime64(as_of, "D"))
    return person[ahead], first[ahead], last[ahead]


def _workshop(
    shop: Shop, cards: Cards, people: Integers, can: Flags, employed: Employed, shut: Days, work: WorkTime, returns: Returns,
    presence: Presence, dispatch: Dispatch, quoting: Quoting, lag: DeliveryLag, enquiries: Enquiries, findings: tuple[Finding, ...],
) -> Workshop:
    axes, settings, n, k = cards.axes, shop.settings, len(people), len(cards.axes.skills)
    hold_chance, hold_days = _holds(cards)
    away_person, away_from, away_to = _away(shop, cards, people, cards.past.as_of)
    rows = [settings.workers[p] for p in people]
    usual = dict.fromkeys(settings.calendar.working_days, settings.calendar.hours_per_day)
    start, end = (60 * t.hour + t.minute for t in (settings.calendar.day_start, settings.calendar.day_end))
    recent = shop["orders"]["ordered_on"].to_numpy("datetime64[D]") > np.datetime64(cards.past.as_of, "D") - RECENT_DAYS
    return Workshop(
        stages=np.array(axes.stages), skills=np.array(axes.skills), people=np.array([w.code for w in rows]), styles=np.array(axes.styles),
        alloys=np.array(axes.alloys), stage_skill=axes.stage_skill, passes=cards.passes,
        work_intercept=work.intercept, work_slope=work.slope, ln_weight_centre=work.centre, work_style=work.style, work_alloy=work.alloy,
        work_rework=work.rework, work_sd=work.sd,
        return_chance=returns.chance, return_to=returns.to, repass=returns.repass,
        can=can[people], own_hours=np.array([[(w.hours or usual).get(day, 0.0) for day in WEEKDAYS] for w in rows]).reshape(n, 7),
        bench_share=presence.bench_share, absence_chance=presence.absence_chance, absence_days=presence.days,
        away_person=away_person, away_from=away_from, away_to=away_to, started_on=employed.first[people], left_on=employed.last[people],
        learning_rate=np.ones(n), learning_pieces=np.zeros((n, k)), pieces_done=np.zeros((n, k)),
        working_days=_working_days(settings), shut=shut, day_start_h=start / 60.0,
        day_span=(end - start) / 60.0 / settings.calendar.hours_per_day,
        dispatch_rule=dispatch.rule, dispatch_strength=dispatch.strength,
        quote_a=quoting.a, quote_b=quoting.b, quote_sd=quoting.sd, quote_step=quoting.step, quote_low=quoting.low, quote_high=quoting.high,
        demand_from=enquiries.first_month, enquiries_per_day=enquiries.per_day, demand_dispersion=enquiries.dispersion,
        has_quotes=enquiries.has_quotes, piece_style=enquiries.pieces.style, piece_alloy=enquiries.pieces.alloy,
        piece_weight_g=enquiries.pieces.weight_g, piece_price=enquiries.pieces.price, piece_metal=enquiries.pieces.metal,
        piece_contribution=enquiries.pieces.contribution, piece_win_logit=enquiries.pieces.win_logit, win_weeks=enquiries.win_weeks,
        win_shift=enquiries.win_shift, win_wait=enquiries.win_wait, win_price=enquiries.win_price, win_scale=enquiries.win_scale,
        rush_share=float(shop["orders"]["rush"].to_numpy(bool)[recent].mean()) if recent.any() else 0.0,
        hold_chance=hold_chance, hold_days=hold_days, delivery_lag_days=lag.days, delivery_lag_from=lag.from_, handover_days=HANDOVER_DAYS,
        assumptions=np.array([finding.text for finding in findings], dtype=np.str_))
