"""The sentence at the top of the hiring report: do, do something else, do not, no difference, too close, cannot tell."""

from __future__ import annotations

from dataclasses import dataclass

from ..sentences import Writing, odds, odds_count

LIKELY, UNLIKELY = 0.66, 0.33
NO_ORDERS = 0.02
"""A plan that moves yearly orders by less than this share makes no difference."""


@dataclass(frozen=True)
class Plan:
    """A plan as the sentence needs it: name, kind, value (mean, low, high, money), odds that it is paid back within the horizon,
    orders a year gained and made."""

    name: str
    kind: str
    value: float
    low: float
    high: float
    chance: float
    orders_gain: float
    orders_a_year: float


@dataclass(frozen=True)
class Told:
    """What the headline needs.

    Attributes
    ----------
    hire : Plan or None
        Another person at the bench that gains most by it; None when none could be run.
    rival : Plan or None
        The best plan that brings nobody new (teaching, overtime, work sent out).
    months : int
        Horizon.
    quotes : bool
        Whether lost customers are known; without, the gain is "at least".
    patience : bool
        Whether the ends of the answer to the wait differ threefold.
    reason : str
        Why nothing can be told; empty otherwise.
    idle : bool
        No bench limits, so that no hire was worth playing.
    """

    hire: Plan | None
    rival: Plan | None
    months: int
    quotes: bool = True
    patience: bool = False
    reason: str = ""
    idle: bool = False


def horizon(months: int) -> str:
    """Return a horizon in words: ``2 years``, ``18 months``."""
    years, rest = divmod(months, 12)
    return f"{years}\u00a0{'year' if years == 1 else 'years'}" if not rest else f"{months}\u00a0months"


def branch(told: Told) -> str:
    """Return which answer it is: none_limits, cannot_tell, no_difference, do, instead, do_not or too_close."""
    hire, rival = told.hire, told.rival
    if hire is None:
        return "none_limits" if told.idle else "cannot_tell"
    if hire.orders_gain < NO_ORDERS * max(hire.orders_a_year, 1.0) and hire.value <= 0:
        return "no_difference"
    if rival is not None and rival.value > hire.value and rival.chance > LIKELY and rival.low > 0:
        return "instead"
    if hire.chance >= LIKELY and hire.value > 0:
        return "do"
    return "do_not" if hire.chance <= UNLIKELY else "too_close"


def chosen(told: Told) -> Plan | None:
    """Return the plan the sentence, the key figures and the cash chart speak of."""
    return told.rival if branch(told) == "instead" else told.hire


def headline(told: Told, writing: Writing) -> str:
    """Return the answer with odds, money and horizon."""
    return SENTENCES[branch(told)](told, writing)


def _ending(told: Told) -> str:
    return "customers' patience decides it" if told.patience else "if enquiries go on as forecast"


def _leave(told: Told, plan: Plan, writing: Writing) -> str:
    about = writing.about(plan.value, plan.low, plan.high)
    return about if told.quotes else about.replace("about", "at least", 1)


def _do(told: Told, writing: Writing) -> str:
    hire = _plan(told.hire)
    act = "Take on somebody part-time" if hire.kind == "part_time" else "Hire another person"
    text = f"{act} to {_bench(hire)}: over {horizon(told.months)} {odds(hire.chance)} to pay off and leave {_leave(told, hire, writing)}"
    return f"{text}{'; ' if told.patience else ', '}{_ending(told)}."


def _instead(told: Told, writing: Writing) -> str:
    rival = _plan(told.rival)
    what, pays = rival.name.partition(", ")[0], odds(rival.chance)
    text = f"{what}, hire nobody: over {horizon(told.months)} {pays} to pay off and leave {_leave(told, rival, writing)}"
    return f"{text}{'; ' if told.patience else ', '}{_ending(told)}."


def _do_not(told: Told, writing: Writing) -> str:
    hire = _plan(told.hire)
    loss, chance = writing.about(abs(hire.value), hire.low, hire.high), odds_count(hire.chance)
    who = f"even somebody part-time to {_bench(hire)}" if hire.kind == "part_time" else f"another person to {_bench(hire)}"
    text = f"Do not hire: over {horizon(told.months)} {who} would cost {loss}, and pays off in {chance}"
    return f"{text}{'; ' if told.patience else ', '}{_ending(told)}."


def _no_difference(told: Told, writing: Writing) -> str:
    hire = _plan(told.hire)
    cost = writing.about(abs(hire.value), hire.low, hire.high)
    who = "even somebody part-time" if hire.kind == "part_time" else "another person"
    return (
        f"Do not hire: orders, not hands, are short; over {horizon(told.months)} {who} would finish hardly more "
        f"and cost {cost}, if enquiries go on as forecast."
    )


def _too_close(told: Told, writing: Writing) -> str:
    hire = _plan(told.hire)
    span, who = writing.money_span(hire.low, hire.high), "somebody part-time" if hire.kind == "part_time" else "another person"
    text = f"Too close to call: over {horizon(told.months)} {who} to {_bench(hire)} brings {span}, {odds_count(hire.chance)} to pay off"
    return f"{text}{'; ' if told.patience else ', '}{_ending(told)}."


def _cannot_tell(told: Told, writing: Writing) -> str:
    return f"The history cannot tell whether another person pays: {told.reason or 'no bench could be simulated'}."


def _none_limits(told: Told, writing: Writing) -> str:
    return "Do not hire: orders, not hands, are short; no bench limits output now, or while enquiries go on as forecast."


def _plan(plan: Plan | None) -> Plan:
    assert plan is not None
    return plan


def _bench(plan: Plan) -> str:
    return plan.name.removeprefix("Another person to ").removeprefix("Part-time to ").partition(", ")[0]


SENTENCES = {
    "do": _do,
    "instead": _instead,
    "do_not": _do_not,
    "no_difference": _no_difference,
    "too_close": _too_close,
    "none_limits": _none_limits,
    "cannot_tell": _cannot_tell,
}
"""One sentence a branch."""


def stake(told: Told, price: Plan | None, writing: Writing) -> str:
    """Return what being wrong costs and the next best way."""
    plan, hire = chosen(told), told.hire
    if plan is None or hire is None:
        return "Hours by stage on the job cards for half a year, promises or quotes, and a wage would settle it."
    start, way = ("In", "down") if plan.low < 0 else ("Even in", "up")
    worst = f"{start} the worst 1 in 10 {_it(plan)} ends {writing.money(abs(plan.low), step=100.0)} {way}."
    others = [other for other in (told.rival if plan is hire else hire, price) if other is not None and other.value > 0]
    if not others:
        return f"{worst} Nothing else that was tried pays."
    words = [f"{_spoken(other)} would leave {writing.about(other.value, other.low, other.high)}" for other in others]
    return f"{worst} {_capital('; '.join(words))}."


def _it(plan: Plan) -> str:
    """Return a plan as the subject of a sentence."""
    return {"hire": "the hire", "part_time": "the part-time hire", "train": "teaching"}.get(plan.kind, "it")


def _spoken(plan: Plan) -> str:
    kinds = {"hire": "another person", "part_time": "somebody part-time", "price": plan.name.replace("Raise", "raising", 1)}
    gerunds = (("Teach ", "teaching "), ("Overtime", "overtime"), ("Send out to ", "sending out to "))
    text = kinds.get(plan.kind, plan.name)
    for start, other in gerunds:
        text = other + text.removeprefix(start) if text.startswith(start) else text
    return text


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
