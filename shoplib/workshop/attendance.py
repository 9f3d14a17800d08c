"""Attendance: what each person owed, booked and could have worked on, day by day. Overtime is left out: it is not paid hours."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from ..costing.calendar import WorkingCalendar, working_calendar
from ..costing.labour import labour_days
from ..intake.shop import Finding
from .arrays import Days, Flags, Floats, Integers
from .cards import Cards
from .dispatch import Waits
from .presence import Attendance

SHORT_ABSENCE_DAYS = 60
"""A stretch without entries at either end of the records that is longer than this means not (or no longer) with the shop."""
SECONDS_AN_HOUR = 3600.0
SURE_WAITS = 2
"""Orders that must wait for work to have waited: one alone may be a card on which an entry was forgotten."""


@dataclass(frozen=True)
class Employed:
    """First and last day of each worker with the shop (NaT: open), told by shop.toml or by the entries."""

    first: Days
    last: Days
    findings: tuple[Finding, ...]


def attendance_of(cards: Cards, waits: Waits, employed: Employed, serves_from: Floats) -> Attendance:
    """Return the attendance of all workers from the first entry to the as-of date.

    Parameters
    ----------
    cards : Cards
        The job cards.
    waits : Waits
        Waits in queues.
    employed : Employed
        Who was with the shop.
    serves_from : Floats, shape (W, S)
        From `serving`.
    """
    calendar = _calendar(cards)
    days, n_days = calendar.days, len(calendar.days)
    present = (days[None, :] >= _open(employed.first, days[0])[:, None]) & (days[None, :] <= _open(employed.last, days[-1])[:, None])
    waited, never_empty = _waiting(waits, days, serves_from)
    waited |= _in_hand(cards, calendar)
    absences = cards.past.shop["absences"]["from"].to_numpy("datetime64[D]")
    listed_from = int(np.clip((absences.min() - days[0]).astype(np.int64), 0, n_days)) if len(absences) else n_days
    own = calendar.own_h * present
    return Attendance(
        own, np.minimum(_booked(cards, calendar), own), _entered(cards, calendar), waited, never_empty, calendar.absent, listed_from
    )


def _calendar(cards: Cards) -> WorkingCalendar:
    shop = cards.past.shop
    days = labour_days(shop["labour"])
    known = days[~np.isnat(days)]
    first = known.min() if len(known) else np.datetime64(cards.past.as_of, "D")
    return working_calendar(shop.settings, shop["absences"], first.astype(object), cards.past.as_of)


def _open(ends: Days, default: np.datetime64) -> Days:
    return np.where(np.isnat(ends), default, ends)


def employed_of(cards: Cards) -> Employed:
    """Tell who was with the shop from when to when: by shop.toml, else by the entries."""
    shop, calendar = cards.past.shop, _calendar(cards)
    workers = shop.settings.workers
    none = np.datetime64("NaT", "D")
    first = np.array([np.datetime64(w.started_on, "D") if w.started_on else none for w in workers], dtype="datetime64[D]")
    last = np.array([np.datetime64(w.left_on, "D") if w.left_on else none for w in workers], dtype="datetime64[D]")
    entered = _entered(cards, calendar) | calendar.absent
    seen_first, seen_last = _ends(entered, calendar.days)
    late = np.isnat(first) & (seen_first - calendar.days[0] > np.timedelta64(SHORT_ABSENCE_DAYS, "D"))
    gone = np.isnat(last) & (calendar.days[-1] - seen_last > np.timedelta64(SHORT_ABSENCE_DAYS, "D"))
    text = (
        "{}: no entry for more than "
        + f"{SHORT_ABSENCE_DAYS} days up to the last day, taken to have left. Set left_on in shop.toml, or book work."
    )
    said = tuple(
        Finding("note", "left_assumed", text.format(w.code), "labour.worker") for w, is_gone in zip(workers, gone, strict=True) if is_gone
    )
    return Employed(np.where(late, seen_first, first), np.where(gone, seen_last, last), said)


def _ends(flags: Flags, days: Days) -> tuple[Days, Days]:
    any_day = flags.any(axis=1)
    first, last = flags.argmax(axis=1), flags.shape[1] - 1 - flags[:, ::-1].argmax(axis=1)
    none = np.datetime64("NaT", "D")
    return np.where(any_day, days[first], none), np.where(any_day, days[last], none)


def _entered(cards: Cards, calendar: WorkingCalendar) -> Flags:
    labour = cards.past.shop["labour"]
    entered = np.zeros(calendar.contract_h.shape, dtype=bool)
    person, day = calendar.worker_index(labour["worker"]), calendar.day_index(labour_days(labour))
    known = (person >= 0) & (day >= 0)
    entered[person[known], day[known]] = True
    return entered


def _booked(cards: Cards, calendar: WorkingCalendar) -> Floats:
    """Return hours booked at the stages of the route; where a day's entries overlap by the clock, no more than the clock."""
    frame = cards.past.entries
    stage = cards.axes.redoes[frame["stage"].to_numpy(np.int64)] if len(frame) else np.zeros(0, np.int64)
    person, day = frame["worker"].to_numpy(np.int64), calendar.day_index(frame["day"].to_numpy("datetime64[D]"))
    counts = (person >= 0) & (day >= 0) & ~np.isin(stage, cards.left_out)
    booked, clock = np.zeros(calendar.contract_h.shape), np.full(calendar.contract_h.shape, np.inf)
    np.add.at(booked, (person[counts], day[counts]), frame["hours"].fillna(0.0).to_numpy()[counts])
    known = (person >= 0) & (day >= 0)
    _overlapping(clock, frame[known], person[known], day[known])
    return np.asarray(np.minimum(booked, clock))


def _overlapping(clock: Floats, frame: pd.DataFrame, person: Integers, day: Integers) -> None:
    """Set the hours by the clock of each person and day of whose entries two overlap, all with clock times."""
    if not len(frame):
        return
    start, finish = (frame[name].to_numpy("datetime64[s]").astype(np.int64) for name in ("started", "finished"))
    group = person * clock.shape[1] + day
    sort = np.lexsort((finish, start, group))
    group, start, finish = group[sort], start[sort], finish[sort]
    first = np.diff(group, prepend=-1) != 0
    reach = pd.Series(finish).groupby(group).cummax().to_numpy()
    before = np.where(first, start, np.concatenate([[0], reach[:-1]]))
    added = np.maximum(finish - np.maximum(start, before), 0)
    overlaps = pd.DataFrame({"group": group, "added": added, "over": start < before, "timed": frame["timed"].to_numpy(bool)[sort]})
    days = overlaps.groupby("group").agg(added=("added", "sum"), over=("over", "any"), timed=("timed", "all"))
    days = days[(days["over"] & days["timed"]).to_numpy()]
    clock.ravel()[days.index.to_numpy()] = days["added"].to_numpy() / SECONDS_AN_HOUR


def _waiting(waits: Waits, days: Days, serves_from: Floats) -> tuple[Flags, Flags]:
    """Return whether work each person serves surely waited when the day began, and all day long, both shape (W, N)."""
    n_days, (n_workers, n_stages) = len(days), serves_from.shape
    zero = days[0].astype(np.int64)
    joined = np.clip(np.floor(waits.joined[waits.sure]) - zero, -1, n_days).astype(np.int64)
    begun = np.clip(np.floor(waits.begun[waits.sure]) - zero, -1, n_days).astype(np.int64)
    stage = waits.stage[waits.sure]
    counts = (_count(stage, joined + 1, begun + 1, n_stages, n_days), _count(stage, joined + 1, begun, n_stages, n_days))
    day = zero + np.arange(n_days)
    found = np.zeros((2, n_workers, n_days), dtype=bool)
    for worker in range(n_workers):
        serves = day[None, :] >= serves_from[worker][:, None]
        for which, count in enumerate(counts):
            found[which, worker] = (count * serves).sum(axis=0) >= SURE_WAITS
    return found[0], found[1]


def _count(stage: Integers, first: Integers, after: Integers, n_stages: int, n_days: int) -> Integers:
    """Return how many waits reach over each day from `first` up to before `after`."""
    steps = np.zeros((n_stages, n_days + 2), dtype=np.int64)
    use = after > first
    np.add.at(steps, (stage[use], first[use]), 1)
    np.add.at(steps, (stage[use], np.minimum(after[use], n_days + 1)), -1)
    return np.cumsum(steps, axis=1)[:, :n_days]


def _in_hand(cards: Cards, calendar: WorkingCalendar) -> Flags:
    """Return the days that began with a visit of the person under way: work waited on the bench."""
    frame, n_days = cards.past.entries, len(calendar.days)
    person, day = frame["worker"].to_numpy(np.int64), calendar.day_index(frame["day"].to_numpy("datetime64[D]"))
    spans = pd.DataFrame({"visit": frame["visit"].to_numpy(), "person": person, "day": day})[(person >= 0) & (day >= 0)]
    spans = spans.groupby(["visit", "person"])["day"].agg(["min", "max"]).reset_index()
    running = cards.past.visits["running"].to_numpy(bool)[spans["visit"].to_numpy()] if len(spans) else np.zeros(0, bool)
    last = np.where(running, n_days - 1, spans["max"].to_numpy())
    held = _count(
        spans["person"].to_numpy(np.int64), spans["min"].to_numpy(np.int64) + 1, last.astype(np.int64) + 1, len(calendar.workers), n_days
    )
    return np.asarray(held > 0)


def with_booked_skills(cards: Cards, least_share: float = 0.05) -> Flags:
    """Return who has which skill: by shop.toml, and where at least `least_share` of a person's hours were booked."""
    hours = _skill_hours(cards)
    total = hours.sum(axis=1, keepdims=True)
    return np.asarray(cards.axes.can | ((hours >= least_share * total) & (hours > 0)))


def _skill_hours(cards: Cards) -> Floats:
    frame, axes = cards.past.entries, cards.axes
    hours = np.zeros((len(axes.workers) + 1, len(axes.skills)))
    stage = axes.redoes[frame["stage"].to_numpy(np.int64)]
    np.add.at(hours, (frame["worker"].to_numpy(np.int64), axes.stage_skill[stage]), frame["hours"].fillna(0.0).to_numpy())
    return hours[:-1]


def serving(cards: Cards, can: Flags) -> Floats:
    """Return from when on each worker is seen to serve each stage: days since 1970 of the first entry that asks for the skill.

    A skill nobody has seen a person use is no reason to think that its queue waited for that person: +inf, as without the skill.
    """
    frame, axes = cards.past.entries, cards.axes
    first = np.full((len(axes.workers) + 1, len(axes.skills)), np.inf)
    stage = axes.redoes[frame["stage"].to_numpy(np.int64)]
    days = frame["day"].to_numpy("datetime64[D]").astype(np.int64).astype(float)
    np.minimum.at(first, (frame["worker"].to_numpy(np.int64), axes.stage_skill[stage]), days)
    return np.where(can, first[:-1], np.inf)[:, axes.stage_skill]
