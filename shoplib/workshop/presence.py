"""Presence: what share of paid hours people spend at the bench, and how often they are away.

Both are told only from days on which work waited for the person: a bench without work is idle, not away. A working day without
any entry is an absence if work waited for that person when it began, or if more than three such days follow each other; else
the person was idle. Table `absences` overrides that from its first row on.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..intake.shop import Finding
from .arrays import Flags, Floats, Integers

LONGEST_IDLE_DAYS = 3
FEW_DAYS = 40
"""Days with work waiting below which a person's share leans visibly on the others'; said."""
PRIOR_DAYS = 10.0
"""Weight, in days, of the others' share in a person's own."""
PRIOR_ABSENCE_DAYS = 250.0
"""Weight, in days present, of the others' chance that an absence begins in a person's own: a year."""
PRIOR_SHARE = 0.75
PRIOR_SHARE_SD = 0.1
"""Share of paid hours at the bench where no day can tell; common practice, no source."""
PRIOR_CHANCE = 0.01
SHARE_SD_BETWEEN = 0.08
"""Standard deviation of the share between people, for a person of whom no day can tell."""


@dataclass(frozen=True)
class Attendance:
    """What each person did on each day. P people, N days.

    Attributes
    ----------
    own_h : Floats, shape (P, N)
        Paid hours by weekday on open days, employed or not there 0.
    booked_h : Floats, shape (P, N)
        Hours booked at the benches of the route.
    entered : Flags, shape (P, N)
        Any entry, of whatever work.
    waited : Flags, shape (P, N)
        Work the person could do waited when the day began.
    never_empty : Flags, shape (P, N)
        Work the person could do waited all day long.
    listed : Flags, shape (P, N)
        Absent by table `absences`.
    listed_from : int
        First day on which that table speaks; N when never.
    """

    own_h: Floats
    booked_h: Floats
    entered: Flags
    waited: Flags
    never_empty: Flags
    listed: Flags
    listed_from: int


@dataclass(frozen=True)
class Presence:
    """The fit; `bench_share` and `absence_chance` shape (draws + 1, P), `days` lengths of past absences in working days.

    `share_days`: days each share rests on; `absent`: the days counted as absence, shape (P, N).
    """

    bench_share: Floats
    absence_chance: Floats
    days: Integers
    share_days: Integers
    absent: Flags
    findings: tuple[Finding, ...]


def fit_presence(seen: Attendance, codes: tuple[str, ...], rng: np.random.Generator, draws: int) -> Presence:
    """Fit presence and absences.

    Parameters
    ----------
    seen : Attendance
        What each person did on each day.
    codes : tuple of str
        Codes of the people, for the findings.
    rng : Generator
        Of the draws.
    draws : int
        Number of draws beside the estimate.
    """
    spells = _spells(seen)
    absent = np.zeros_like(seen.entered)
    for person, days in spells:
        absent[person, days] = True
    share, n_days = _bench_share(seen, absent, rng, draws)
    chance = _absence_chance(seen, absent, spells, rng, draws)
    lengths = np.array(sorted(len(days) for _, days in spells), dtype=np.int64)
    return Presence(share, chance, lengths, n_days, absent, _findings(seen, codes, n_days, lengths))


def _spells(seen: Attendance) -> list[tuple[int, Integers]]:
    """Return each absence: the person and its working days."""
    found = []
    for person, own in enumerate(seen.own_h):
        working = np.flatnonzero(own > 0)
        speaks = working >= seen.listed_from
        away = np.where(speaks, seen.listed[person, working], ~seen.entered[person, working])
        away &= ~seen.entered[person, working]
        for first, last in _runs(away):
            days = working[first:last]
            told = bool(speaks[first])
            if told or seen.waited[person, days[0]] or len(days) > LONGEST_IDLE_DAYS:
                found.append((person, days))
    return found


def _runs(flags: Flags) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[False], flags, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _bench_share(seen: Attendance, absent: Flags, rng: np.random.Generator, draws: int) -> tuple[Floats, Integers]:
    """Return booked ÷ paid hours on days present on which work waited all day, and the number of those days.

    The range comes from the spread of a day's share (standard error of a ratio of means).
    """
    use = seen.never_empty & (seen.own_h > 0) & ~absent
    n_days = use.sum(axis=1)
    paid, booked = (np.where(use, hours, 0.0).sum(axis=1) for hours in (seen.own_h, seen.booked_h))
    shop, between = _shop_share(paid, booked, n_days)
    own = np.divide(booked, paid, out=np.full(len(paid), shop), where=paid > 0)
    off = np.where(use, seen.booked_h - own[:, None] * seen.own_h, 0.0)
    error = np.sqrt((off**2).sum(axis=1)) / np.maximum(paid, 1e-9) * np.sqrt(n_days / np.maximum(n_days - 1, 1))
    trust = np.where(n_days > 1, n_days / (n_days + PRIOR_DAYS), 0.0)
    mean = trust * own + (1 - trust) * np.maximum(shop, _load(seen, absent))
    sd = np.sqrt((trust * np.minimum(error, 1.0)) ** 2 + ((1 - trust) * between) ** 2)
    drawn = mean + sd * rng.standard_normal((draws, len(mean)))
    return np.clip(np.vstack([mean, drawn]), 0.02, 1.0), n_days.astype(np.int64)


def _load(seen: Attendance, absent: Flags) -> Floats:
    """Return booked ÷ paid hours of all days present: a share of bench work cannot be less."""
    there = (seen.own_h > 0) & ~absent
    paid, booked = (np.where(there, hours, 0.0).sum(axis=1) for hours in (seen.own_h, seen.booked_h))
    return np.divide(booked, paid, out=np.zeros(len(paid)), where=paid > 0)


def _shop_share(paid: Floats, booked: Floats, n_days: Integers) -> tuple[float, float]:
    if paid.sum() <= 0:
        return PRIOR_SHARE, PRIOR_SHARE_SD
    trust = n_days.sum() / (n_days.sum() + PRIOR_DAYS)
    return float(trust * booked.sum() / paid.sum() + (1 - trust) * PRIOR_SHARE), SHARE_SD_BETWEEN


def _absence_chance(
    seen: Attendance, absent: Flags, spells: list[tuple[int, Integers]], rng: np.random.Generator, draws: int
) -> Floats:
    """Return the chance, each working day present, that an absence begins, shape (draws + 1, P).

    Where the table does not speak, only days count on which work waited when they began.
    """
    people, n_days = seen.own_h.shape
    tells = seen.waited | (np.arange(n_days) >= seen.listed_from)[None, :]
    begins = np.zeros((people, n_days), dtype=bool)
    for person, days in spells:
        begins[person, days[0]] = True
    at_risk = tells & (seen.own_h > 0) & (~absent | begins)
    n, k = at_risk.sum(axis=1), (begins & at_risk).sum(axis=1)
    shop = (k.sum() + 1.0) / (n.sum() + 1.0 / PRIOR_CHANCE)
    a, b = k + PRIOR_ABSENCE_DAYS * shop, n - k + PRIOR_ABSENCE_DAYS * (1 - shop)
    return np.vstack([a / (a + b), rng.beta(a, b, (draws, people))])


def _findings(seen: Attendance, codes: tuple[str, ...], n_days: Integers, lengths: Integers) -> tuple[Finding, ...]:
    found = []
    thin = [f"{code} ({n})" for code, n in zip(codes, n_days, strict=True) if n < FEW_DAYS]
    if thin:
        text = (f"Work waited all day for these people on few days, so their share of bench work leans on the others': {', '.join(thin)}. "
                "Nothing needs doing; it matters only if they are to take on more.")
        found.append(Finding("note", "presence_assumed", text, "labour"))
    if seen.listed_from >= seen.own_h.shape[1] and len(lengths):
        text = (f"Table absences is empty: {len(lengths)} absences were told from working days without an entry while work waited. "
                "Fill absences (worker, from, to) to be surer; never write a reason.")
        found.append(Finding("note", "absences_inferred", text, "absences"))
    return tuple(found)
