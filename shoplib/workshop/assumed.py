"""What the fit had to assume about route, skills and cards, in words for the owner."""

from __future__ import annotations

import numpy as np

from ..intake.shop import Finding
from .arrays import Flags
from .cards import Cards
from .work_time import WorkTime

HANDOVER_DAYS = 3.0
"""An absence of more working days puts the work in hand back into the queue; common practice, no source."""


def assumed(cards: Cards, can: Flags) -> tuple[Finding, ...]:
    """Return a finding for each stage left out, each skill taken from bookings, cards without clock times, and the handover."""
    axes, found = cards.axes, []
    if cards.left_out:
        names = ", ".join(axes.stages[s] for s in cards.left_out)
        found.append(
            Finding(
                "note",
                "stage_not_per_order",
                f"Most orders have no entry at {names}: left out of the route, its hours count as "
                "time away from the bench. Book it on every order if it is part of the route.",
                "labour.stage",
            )
        )
    idle = [s for s in cards.never if axes.redoes[s] == s]
    if idle:
        names = ", ".join(axes.stages[s] for s in idle)
        found.append(
            Finding(
                "note",
                "stage_never_visited",
                f"No order was ever booked at {names}: left out of the route. Book work there, or take the stage out of shop.toml.",
                "shop.toml, [[stages]]",
            )
        )
    for worker, skill in zip(*np.nonzero(can & ~axes.can), strict=True):
        skill_name = axes.skills[skill]
        text = f"{axes.workers[worker]} books {skill_name} work and is taken to have that skill. Add {skill_name} to skills in shop.toml."
        found.append(Finding("note", "skill_assumed", text, "shop.toml, [[workers]]"))
    if cards.dates_only:
        found.append(Finding("note", "dates_only", "Most cards name no clock times: waits are known to the day only.", "labour.start"))
    text = f"An absence of more than {HANDOVER_DAYS:.0f} working days is taken to put the work in hand back into the queue."
    return (*found, Finding("note", "handover_assumed", text, ""))


def hours_assumed(cards: Cards, work_time: WorkTime) -> tuple[Finding, ...]:
    """Return a finding where orders pass stages at which no hours were ever booked: how long a visit is taken to last there."""
    unseen = [s for s in range(len(work_time.visits)) if work_time.visits[s] == 0 and cards.passes[:, :, s].any()]
    if not unseen:
        return ()
    said = ", ".join(f"{cards.axes.stages[s]} ({np.exp(work_time.intercept[0, s]):.1f} h)" for s in unseen)
    text = (
        f"No hours were ever booked at these stages, and a visit is taken to last: {said}. Book hours on the cards, "
        "or fill fixed_hours or hours_per_g of the stage."
    )
    return (Finding("note", "hours_assumed", text, "shop.toml, [[stages]]"),)
