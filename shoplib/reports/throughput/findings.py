"""What the throughput report cannot say and what it assumed, beside the cautions it always carries."""

from __future__ import annotations

import math

from ...flow.watch import LEAST_MONTHS
from ...flow.yields import LEAST_ORDERS
from ...workshop.limits import DEMAND
from ..answer import Found
from ..sentences import listed
from .facts import Facts, Stretch

CAUTIONS = (
    ("no_people", "No table of people: hours by worker are personal data, and a bench is slow for many reasons."),
    ("busy_bench", "A busy bench is not by itself the limiting one: what an hour more there finishes decides."),
    ("benches_hurt", "Time pressure at torch, pickle, mill and polishing motor hurts eyes, skin, fingers and lungs. Add hours, not haste."),
)
CARRIED = ("holidays_unknown",)
"""Findings of the costing that this report rests on as well."""

OF_PEOPLE = ("presence_assumed",)
"""Findings of the fit that list people by what they book: of use to who hires, not here."""


def findings(facts: Facts, now: Stretch) -> list[Found]:
    """Return the findings of the report, the gravest first; a missing number is named with what would settle it."""
    found = [*_simulation(facts), *_calendar(facts), *_hours(facts), *_promises(now), *_yields(facts), *_short(facts), *_dates(facts)]
    own = [*found, *_limiter(facts), *(_note(code, text) for code, text in CAUTIONS)]
    return sorted(own, key=lambda one: ("stop", "warn", "note").index(one.level))


def _note(code: str, text: str, where: str = "") -> Found:
    return Found(level="note", code=code, text=text, where=where)


def _warn(code: str, text: str, where: str = "") -> Found:
    return Found(level="warn", code=code, text=text, where=where)


def _simulation(facts: Facts) -> list[Found]:
    if facts.base is None:
        text = f"What an hour more is worth, what delay costs and what an absence costs cannot be told: {facts.reason}"
        return [Found(level="stop", code="no_simulation", text=text, where="labour")]
    stuck = facts.without_one[(facts.without_one["others"] == 0)]["skill"].unique().tolist()
    text = f"Only one person has the skill of {listed(list(map(str, stuck)), 5)}: with that person gone such orders stand still."
    shown = [one for one in facts.base.findings if one.code not in OF_PEOPLE]
    told = [Found(level=one.level, code=one.code, text=one.text, where=one.where) for one in shown]
    return told + ([_note("one_alone", text)] if stuck else [])


def _calendar(facts: Facts) -> list[Found]:
    return [Found(level=one.level, code=one.code, text=one.text, where=one.where) for one in facts.costing.findings if one.code in CARRIED]


def _hours(facts: Facts) -> list[Found]:
    rows = facts.stages[facts.stages["stage"] != DEMAND]
    if not len(rows):
        text = "No stage is known: loads, queues and yields are left blank. Book hours by stage, or list [[stages]]."
        return [_warn("no_stages", text, "labour.stage")]
    unknown = rows[rows["load"].isna() | ~(rows["hours_booked"].astype(float) > 0)]["stage"].tolist()
    if not unknown:
        return []
    text = f"No load can be told for {listed(list(map(str, unknown)), 5)}: no hours booked there in the period, or nobody has the skill."
    return [_warn("no_load", text + " Book hours by stage and give workers their skills.", "labour.hours; shop.toml, [[workers]]")]


def _promises(now: Stretch) -> list[Found]:
    if now.due or not math.isnan(now.on_time):
        return []
    text = "No promise fell due in the period: the on-time share is blank. Write down promised_on."
    return [_warn("no_promises", text, "orders.promised_on")]


def _yields(facts: Facts) -> list[Found]:
    rows = facts.stages[facts.stages["stage"] != DEMAND]
    few = rows[rows["first_pass_yield"].isna()]["stage"].tolist()
    if not few:
        return []
    names = listed(list(map(str, few)), 5)
    text = f"Right first time is blank for {names}: fewer than {LEAST_ORDERS} orders delivered in the period passed there."
    return [_note("few_orders", text, "labour")]


def _short(facts: Facts) -> list[Found]:
    whole = int((~facts.months["partial"].astype(bool)).sum())
    if whole >= LEAST_MONTHS:
        return []
    text = (
        f"Whole months known: {whole}. From {LEAST_MONTHS} on a month can be called unusual; the period is compared with the one before it."
    )
    return [_note("short_history", text)]


def _dates(facts: Facts) -> list[Found]:
    table = facts.past.visits
    told = facts.base is not None and any(one.code == "dates_only" for one in facts.base.findings)
    if told or not len(table) or bool(table["timed"].any()):
        return []
    text = "The cards carry dates without clock times: waits are told to the day, and work of one day is put in route order."
    return [_note("dates_only", text, "labour.start, labour.finish")]


def _limiter(facts: Facts) -> list[Found]:
    """Say so where another bench than the limiting one is the fullest or books most hours."""
    skill, table = facts.limiting, facts.limits[facts.limits["load"].notna()]
    if skill is None or not len(table):
        return []
    fullest = str(table["skill"].iloc[int(table["load"].astype(float).to_numpy().argmax())])
    most = str(table["skill"].iloc[int(table["hours_booked"].astype(float).to_numpy().argmax())])
    if skill != fullest:
        return [_note("not_the_busiest", f"The largest share of hours is booked at {fullest}, yet an hour more is worth most at {skill}.")]
    text = f"Most hours are booked at {most}, yet an hour more is worth most at {skill}."
    return [_note("not_the_busiest", text)] if most != skill else []
