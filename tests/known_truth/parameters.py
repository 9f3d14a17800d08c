"""Every parameter, every noise and every seed of the shops with known truth. Nothing here is taken from the program under test.

A shop is made from a `Design` (what kind of shop it is) and a seed, which moves every number a little. All numbers are
invented; their orders of magnitude are common practice in a small goldsmith's workshop, no source.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date

FIRST_SEED = 700
"""Shop number i of a table with seed s is drawn from seed FIRST_SEED · (s + 1) + i."""
FIRST_DAY = date(2024, 1, 1)
"""A Monday: first day of the records."""
WARM_UP_DAYS = 300
"""Days played before the records begin, so that the shop is as full as it usually is."""
HISTORY_MONTHS = 30
MOST_MONTHS = 84
"""Longest play; days are drawn for all of it, so that a longer play begins like a shorter one."""
DAYS_PER_MONTH = 365.25 / 12
DAY_START_H = 8.0
DAY_CLOCK_H = 8.5
"""Clock hours from start to end of a day of eight paid hours."""
HANDOVER_DAYS = 3
"""An absence longer than this many working days puts the work in hand back into the queue."""

ROUNDING_H = 0.25
"""Hours on a card are quarter hours."""
CLOCK_ROUNDING_MIN = 5
FORGOTTEN_SHARE = 0.01
"""Entries that nobody wrote down."""
DAY_SHARE_SPREAD = 0.07
"""Standard deviation of one day's share of bench work about the person's own."""
SPOT_DAILY_SD = 0.009
SPOT_START = 58.0
"""Money per fine gram on the first day played."""


@dataclass(frozen=True)
class Bench:
    """One stage: mean hours of a piece of USUAL_GRAMS, power of weight, standard deviation of ln hours, skill."""

    name: str
    skill: str
    hours: float
    weight_power: float = 0.5
    sd: float = 0.35


@dataclass(frozen=True)
class Person:
    """One person: skills, paid hours Monday to Sunday, share of paid hours at the bench when there is work."""

    code: str
    skills: tuple[str, ...]
    week: tuple[float, ...] = (8.0, 8.0, 8.0, 8.0, 6.0, 0.0, 0.0)
    bench_share: float = 0.78
    absence_chance: float = 0.009
    absence_days: float = 3.0
    holiday_weeks: int = 4
    from_day: int = -(10**6)
    luck: int | None = None


@dataclass(frozen=True)
class Style:
    """One style: share of enquiries, factor on the hours of stages, stages it skips."""

    name: str
    share: float
    factors: dict[str, float] = field(default_factory=dict)
    skips: tuple[str, ...] = ()


@dataclass(frozen=True)
class Alloy:
    """One alloy: share of enquiries, fineness per mille, factor on hours at the solder bench."""

    code: str
    share: float
    fineness: float
    solder_factor: float = 1.0
    return_factor: float = 1.0


@dataclass(frozen=True)
class Returns:
    """What is found at one stage, where the order goes back to, chance per ended visit."""

    found: str
    back: str
    chance: float


@dataclass(frozen=True)
class Truth:
    """One shop whose every parameter is known."""

    name: str
    kind: str
    seed: int
    benches: tuple[Bench, ...]
    people: tuple[Person, ...]
    styles: tuple[Style, ...]
    alloys: tuple[Alloy, ...]
    returns: tuple[Returns, ...]
    demand: float
    """Orders wanted at `usual_weeks`, as a multiple of what the benches can do."""
    rule: str = "promise"
    strength: float = 0.9
    quote_a: float = 1.0
    quote_b: float = 0.14
    quote_sd: float = 0.5
    usual_weeks: float = 6.0
    win_usual: float = 0.5
    win_wait: float = -0.15
    win_price: float = -2.5
    season: float = 0.12
    """Half the swing of enquiries over a year."""
    hidden_season: float = 0.0
    """Half the swing over a year of the log odds that a quote is won; nothing in the records shows it."""
    rush_share: float = 0.04
    hold_share: float = 0.03
    clock: bool = False
    """Cards with clock times instead of a date and hours."""
    weighed: bool = False
    tables: tuple[str, ...] = ("quotes", "absences", "holds")
    limiting: str = ""
    """The skill that limits by design; empty where demand limits."""


USUAL_GRAMS = 30.0
REWORK_FACTOR = 0.65
"""Hours of a visit after the first, as a share of a first one."""
REPASS_CHANCE = 0.5
"""Chance that an order sent back passes a stage in between again."""
DELIVERY_LAG_DAYS = (0, 0, 1, 1, 1, 2, 3, 5)
"""Days from the end of the last visit to delivery, each as likely; a shut day moves it on."""
HOLD_DAYS = (5, 25)
"""Shortest and longest hold, calendar days."""
ANSWER_DAYS = 6
"""A customer who takes a quote orders within so many days."""
WEIGHT_GAIN_SD = 0.03
"""Standard deviation of ln (finished ÷ quoted weight)."""
GRAMS_SD_LN = 0.45
MAKING_PER_G = 26.0
"""Making charge a gross gram of the usual piece."""
PRICE_SD_LN = 0.12
SUMMER_CLOSURE_WEEK = 32
"""ISO week in which the shop shuts for a fortnight."""

ROUTE = (
    Bench("ingot", "mill", 0.8, 0.3, 0.25),
    Bench("mill", "mill", 1.4, 0.5, 0.3),
    Bench("wind", "wind", 1.3, 0.4, 0.3),
    Bench("saw", "wind", 1.0, 0.4, 0.3),
    Bench("link", "link", 3.0, 0.6, 0.35),
    Bench("solder", "solder", 5.0, 0.6, 0.4),
    Bench("shape", "shape", 1.6, 0.4, 0.35),
    Bench("polish", "polish", 2.2, 0.5, 0.35),
    Bench("clasp", "clasp", 1.2, 0.1, 0.4),
)
_SHORT_WEEK = (6.0, 6.0, 6.0, 6.0, 0.0, 0.0, 0.0)
PEOPLE = (
    Person("A1", ("solder",)),
    Person("B2", ("solder", "clasp")),
    Person("C3", ("link", "wind")),
    Person("D4", ("polish",)),
    Person("E5", ("polish", "shape"), week=_SHORT_WEEK),
    Person("F6", ("mill",)),
    Person("G7", ("clasp", "shape")),
    Person("H8", ("link",), week=_SHORT_WEEK),
    Person("W9", ("wind",), week=_SHORT_WEEK),
)
STYLES = (
    Style("trace", 0.4, {"link": 0.85, "solder": 0.9}),
    Style("rope", 0.3, {"link": 1.2, "solder": 1.15, "shape": 0.8}),
    Style("figaro", 0.2, {"saw": 1.2, "polish": 1.15}),
    Style("cable", 0.1, {"wind": 0.9}, skips=("shape",)),
)
ALLOYS = (
    Alloy("18k yellow", 0.5, 750.0),
    Alloy("14k yellow", 0.3, 585.0, 0.95, 0.9),
    Alloy("18k white", 0.2, 750.0, 1.2, 1.5),
)
RETURNS = (Returns("shape", "solder", 0.08), Returns("polish", "solder", 0.05), Returns("clasp", "polish", 0.04))


@dataclass(frozen=True)
class Design:
    """A kind of shop: what differs from the usual one."""

    kind: str
    hours: dict[str, float] = field(default_factory=dict)
    """Factor on the hours of a stage."""
    people: tuple[Person, ...] = PEOPLE
    changes: Mapping[str, object] = field(default_factory=dict)


_POLISHER_ALONE = (
    Person("A1", ("solder",)),
    Person("B2", ("solder",)),
    Person("C3", ("link", "wind")),
    Person("D4", ("polish",)),
    Person("F6", ("mill",)),
    Person("G7", ("clasp", "shape")),
    Person("H8", ("link", "solder"), week=_SHORT_WEEK),
    Person("W9", ("wind",), week=_SHORT_WEEK),
)
_LINKER_ALONE = (
    Person("A1", ("solder",)),
    Person("B2", ("solder",)),
    Person("C3", ("link",)),
    Person("D4", ("polish",)),
    Person("E5", ("polish", "shape")),
    Person("F6", ("mill",)),
    Person("G7", ("clasp", "shape", "solder")),
    Person("W9", ("wind",)),
)
_RARELY_BUSY = (
    *(replace(p, skills=p.skills[:1]) if p.code in ("B2", "E5") else p for p in PEOPLE if p.code != "G7"),
    Person("G7", ("shape",)),
    Person("K0", ("clasp",)),
)
_SOLDER_LIMITS = {"limiting": "solder"}
_POLISH_LIMITS = {"limiting": "polish"}
_LINK_LIMITS = {"limiting": "link"}
_HARD_TO_SOLDER = {"solder": 1.4}
_HARD_TO_POLISH = {"polish": 1.5, "solder": 1.15, "link": 0.9}
_HARD_TO_LINK = {"link": 1.2, "solder": 1.15}
_OTHER = "another bench limits, soldering books most hours"

DESIGNS = (
    Design("solder limits", _HARD_TO_SOLDER, changes=_SOLDER_LIMITS),
    Design(_OTHER, _HARD_TO_POLISH, _POLISHER_ALONE, {**_POLISH_LIMITS, "clock": True, "weighed": True}),
    Design("a person busy a third of the time", {**_HARD_TO_SOLDER, "clasp": 1.55}, _RARELY_BUSY, {**_SOLDER_LIMITS, "tables": ("quotes", "holds")}),
    Design("a hidden season wins quotes", _HARD_TO_SOLDER, changes={**_SOLDER_LIMITS, "hidden_season": 0.6, "season": 0.05}),
    Design("thin demand", changes={"demand": 0.55, "tables": ("quotes", "absences")}),
    Design("solder limits", _HARD_TO_SOLDER, changes={**_SOLDER_LIMITS, "rule": "order_date", "clock": True, "tables": ("quotes",)}),
    Design(_OTHER, _HARD_TO_LINK, _LINKER_ALONE, {**_LINK_LIMITS, "rule": "queue", "tables": ("quotes", "holds")}),
    Design("solder limits", _HARD_TO_SOLDER, changes={**_SOLDER_LIMITS, "rule": "queue", "clock": True, "tables": ("quotes", "absences")}),
    Design(_OTHER, _HARD_TO_POLISH, _POLISHER_ALONE, {**_POLISH_LIMITS, "strength": 0.8}),
    Design(
        "a hidden season wins quotes",
        _HARD_TO_LINK,
        _LINKER_ALONE,
        {**_LINK_LIMITS, "hidden_season": 0.45, "season": 0.15, "tables": ("quotes",)},
    ),
)


def shop(number: int, seed: int = 0) -> Truth:
    """Return shop `number` of the table with `seed`: its design in turn, every number moved a little by its own luck."""
    own_seed = FIRST_SEED * (seed + 1) + number
    luck, design = random.Random(own_seed), DESIGNS[number % len(DESIGNS)]
    benches = tuple(
        replace(b, hours=b.hours * design.hours.get(b.name, 1.0) * luck.uniform(0.96, 1.04), sd=b.sd * luck.uniform(0.85, 1.15))
        for b in ROUTE
    )
    people = tuple(replace(p, bench_share=luck.uniform(0.66, 0.88), absence_chance=luck.uniform(0.005, 0.013)) for p in design.people)
    styles = tuple(replace(s, factors={k: v * luck.uniform(0.95, 1.05) for k, v in s.factors.items()}) for s in STYLES)
    returns = tuple(replace(r, chance=r.chance * luck.uniform(0.6, 1.4)) for r in RETURNS)
    usual = {
        "demand": luck.uniform(1.1, 1.3),
        "strength": luck.uniform(0.85, 0.95),
        "win_wait": luck.uniform(-0.22, -0.1),
        "win_price": luck.uniform(-3.0, -1.8),
        "quote_b": luck.uniform(0.12, 0.15),
        "win_usual": luck.uniform(0.4, 0.6),
    }
    return Truth(f"Invented shop {number}", design.kind, own_seed, benches, people, styles, ALLOYS, returns, **{**usual, **design.changes})  # type: ignore[arg-type]
