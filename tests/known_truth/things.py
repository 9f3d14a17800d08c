"""What a play is made of: orders and their paths, quotes, entries, picks, and all of it together."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from . import parameters as p
from .people import Days


@dataclass
class Step:
    """One visit on an order's path: stage, bench hours, whether the stage was passed before, what sent it back."""

    stage: int
    hours: float
    again: bool


@dataclass
class Order:
    """One order as it went."""

    number: int
    day: int
    style: int
    alloy: int
    grams: float
    price: float
    promised: int
    rush: bool
    path: list[Step]
    hold: tuple[int, int] | None
    quote: int = -1
    place: int = 0
    queued: float = 0.0
    left_h: float = 0.0
    finished: float = math.inf
    delivered: int = 10**9


@dataclass
class Quote:
    """One quote as given: `day` counts from the first day played."""

    number: int
    day: int
    style: int
    alloy: int
    grams: float
    price: float
    weeks: float
    won: bool


@dataclass
class Entry:
    """One stretch of bench work of one person on one day; times are clock hours from the first midnight played."""

    order: int
    place: int
    stage: int
    person: int
    start: float
    finish: float
    hours: float
    last: bool


@dataclass
class Pick:
    """One choice between orders: how many waited, whether the rule was followed."""

    waiting: int
    by_rule: bool


@dataclass
class Played:
    """What happened."""

    truth: p.Truth
    n_days: int
    people: tuple[p.Person, ...]
    days: list[Days]
    spot: np.ndarray
    orders: list[Order] = field(default_factory=list)
    quotes: list[Quote] = field(default_factory=list)
    entries: list[Entry] = field(default_factory=list)
    picks: list[Pick] = field(default_factory=list)
    holds: list[tuple[int, int, int]] = field(default_factory=list)
    """Order, first day, day on which it goes on."""
    in_hand: list[int] = field(default_factory=list)
    """At the end of the play: the order on each person's bench, −1 for none."""
