"""The sentence at the top of the monthly review."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from ..sentences import Writing, month


@dataclass(frozen=True)
class Told:
    """What the headline needs: the month, its result and that of the month before (None: unknown), and the first decision.

    ``pay`` and ``overheads`` tell whether wages and overheads are written at all.
    """

    month: date
    result: float | None
    before: float | None
    first: str
    pay: bool = True
    overheads: bool = True


def headline(told: Told, writing: Writing) -> str:
    """Return what the month left, against the month before, and what to decide first."""
    return f"{_left(told, writing)}; {f'decide: {_small(told.first)}' if told.first else 'nothing is to be decided'}."


def _left(told: Told, writing: Writing) -> str:
    name = month(told.month)
    if told.result is None:
        return f"{name} has no delivered order, so no result"
    verb = "left" if told.result >= 0 else "lost"
    text = f"{name} {verb} {writing.money(abs(told.result), step=100.0)} {_after(told)}"
    if told.before is None:
        return text
    change = told.result - told.before
    return f"{text}, {writing.money(abs(change), step=100.0)} {'more' if change >= 0 else 'less'} than the month before"


def _after(told: Told) -> str:
    """What has been taken off; what is not written anywhere is not claimed to be."""
    if told.pay and told.overheads:
        return "after all pay and overheads"
    if told.pay:
        return "after all pay, before overheads, which are not written"
    if told.overheads:
        return "after overheads, before wages, which are not written"
    return "before wages and overheads, which are not written"


def _small(text: str) -> str:
    first = text.split(" ")[0]
    return text[:1].lower() + text[1:] if first in WORDS else text


WORDS = ("Another", "Teach", "Raise", "Buy", "Call", "Ask", "Check", "Not", "None", "Overtime", "Send", "Somebody")


def stake(scored: int, right: int, decisions: int, writing: Writing) -> str:
    """Return how many decisions wait, and how many of last time's forecasts came true."""
    verb = "decision waits" if decisions == 1 else "decisions wait"
    waiting = f"{writing.number(decisions)} {verb} below, with odds and money where there are any."
    if not scored:
        return f"{waiting} Nothing said earlier has come due yet."
    return f"{waiting} Of the last forecasts {writing.number(right)} of {writing.number(scored)} came true; 8 in 10 should."
