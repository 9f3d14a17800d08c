"""Presence: what share of paid hours people spend at the bench, and how often they are away.

Both are told only from days on which work waited for the person: a bench without work is idle, not away. A working day without
any entry is an absence if work waited for that person when it began, or if more than three such days follow each other; else
the person was idle. For a person who often idles, days without an entry in which no work ever waited must be more than idling
brings about once in the whole past. Table `absences` overrides that from its first row on.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ..intake.shop import Finding
from .arrays import Flags, Floats, Integers

LONGEST_IDLE_DAYS = 3
MOST_IDLE = 0.95
BUSY_DAYS = 20.0
"""Weight, in days without work waiting, of never idling in a person's own chance to idle on such a day."""
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
MOST_LENGTHS = 2000
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

    def only(self, people: Integers) -> Attendance:
        """Return the attendance of some people."""
        grids = ("own_h", "booked_h", "entered", "waited", "never_empty", "listed")
        return replace(self, **{name: getattr(self, name)[people] for name in grids})


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

    @property
    def fields(self) -> dict[str, Any]:
        """The fields of `Workshop` this part fills."""
        return {"bench_share": self.bench_share, "absence_chance": self.absence_chance, "absence_days": self.days}


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
    chance, lengths = _absence_chance(seen, spells, absent, rng, draws)
    return Presence(share, chance, lengths, n_days, absent, _findings(seen, codes, n_days, len(spells)))


def _spells(seen: Attendance) -> list[tuple[int, Integers]]:
    """Return each absence: the person and its working days."""
    found, longest = [], _longest_idle(seen)
    for person, own in enumerate(seen.own_h):
        working = np.flatnonzero(own > 0)
        speaks = working >= seen.listed_from
        away = np.where(speaks, seen.listed[person, working], ~seen.entered[person, working])
        away &= ~seen.entered[person, working]
        for first, last in _runs(away):
            days = working[first:last]
            waited = seen.waited[person, days]
            if speaks[first] or len(days) > (LONGEST_IDLE_DAYS if waited.any() else longest[person]):
                found.append((person, days))
            elif waited.any():
                found.append((person, days[int(waited.argmax()) :]))
    return found


def _longest_idle(seen: Attendance) -> Floats:
    """Return the most days in a row each person may idle: that many begin less than once in the past, and at least three.

    Where idling on a day without work has the chance q, a run of L days begins on n days n · q^L times.
    """
    without = (seen.own_h > 0) & ~seen.waited & ~seen.listed
    n = without.sum(axis=1)
    q = (without & ~seen.entered).sum(axis=1) / (n + BUSY_DAYS)
    run = np.log(np.maximum(n, 2.0)) / -np.log(np.clip(q, 1e-3, MOST_IDLE))
    return np.asarray(np.maximum(run, LONGEST_IDLE_DAYS))


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
    return np.asarray(np.divide(booked, paid, out=np.zeros(len(paid)), where=paid > 0))


def _shop_share(paid: Floats, booked: Floats, n_days: Integers) -> tuple[float, float]:
    if paid.sum() <= 0:
        return PRIOR_SHARE, PRIOR_SHARE_SD
    trust = n_days.sum() / (n_days.sum() + PRIOR_DAYS)
    return float(trust * booked.sum() / paid.sum() + (1 - trust) * PRIOR_SHARE), SHARE_SD_BETWEEN


def _absence_chance(
    seen: Attendance, spells: list[tuple[int, Integers]], absent: Flags, rng: np.random.Generator, draws: int
) -> tuple[Floats, Integers]:
    """Return the chance, each working day present, that an absence begins, shape (draws + 1, P), and lengths to draw from.

    Long absences show on any day. Short ones show only where work waited when they began (or the table speaks), so that they are
    counted over those days, and weigh more among the lengths.
    """
    days_there = (seen.own_h > 0) & ~absent
    tells = seen.waited | (np.arange(seen.own_h.shape[1]) >= seen.listed_from)[None, :]
    long = [(person, days) for person, days in spells if len(days) > LONGEST_IDLE_DAYS]
    short = [(person, days) for person, days in spells if len(days) <= LONGEST_IDLE_DAYS]
    n_long, n_short = days_there.sum(axis=1), (days_there & tells).sum(axis=1)
    chance = _begins(long, n_long, PRIOR_CHANCE, rng, draws) + _begins(short, n_short, PRIOR_CHANCE, rng, draws)
    unseen = n_long.sum() / max(n_short.sum(), 1) if short else 1.0
    return np.minimum(chance, 1.0), _lengths([len(d) for _, d in long], [len(d) for _, d in short], float(unseen))


def _begins(spells: list[tuple[int, Integers]], n_days: Integers, prior: float, rng: np.random.Generator, draws: int) -> Floats:
    """Return the chance a day that such an absence begins: each person's own, leaning on the shop's."""
    begun = np.bincount([person for person, _ in spells], minlength=len(n_days)).astype(float)
    n = np.maximum(n_days, begun) + begun
    shop = (begun.sum() + 0.5) / (n.sum() + 0.5 / prior)
    a, b = begun + PRIOR_ABSENCE_DAYS * shop, n - begun + PRIOR_ABSENCE_DAYS * (1 - shop)
    return np.vstack([a / (a + b), rng.beta(a, b, (draws, len(n)))])


def _lengths(long: list[int], short: list[int], times: float) -> Integers:
    """Return lengths of past absences, each short one `times` as often as it was seen."""
    wanted = min(round(len(short) * times), MOST_LENGTHS)
    place = ((np.arange(wanted) + 0.5) / max(wanted, 1) * len(short)).astype(np.int64)
    picked = np.sort(np.array(short, dtype=np.int64))[place]
    return np.sort(np.concatenate([np.array(long, dtype=np.int64), picked]))


def _findings(seen: Attendance, codes: tuple[str, ...], n_days: Integers, n_spells: int) -> tuple[Finding, ...]:
    found = []
    thin = int((n_days < FEW_DAYS).sum())
    if thin:
        text = (
            f"Work waited all day on few days for {thin} of {len(codes)} people, so their share of bench work leans on the others'. "
            "Nothing needs doing; it matters only if they are to take on more."
        )
        found.append(Finding("note", "presence_assumed", text, "labour"))
    if seen.listed_from >= seen.own_h.shape[1] and n_spells:
        text = (
            f"Table absences is empty: {n_spells} absences were told from working days without an entry while work waited. "
            "Fill absences (worker, from, to) to be surer; never write a reason."
        )
        found.append(Finding("note", "absences_inferred", text, "absences"))
    return tuple(found)
