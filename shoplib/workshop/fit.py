"""The fit: a shop's own past becomes a workshop that can be asked "what if".

`fit(shop, as_of)` returns the workshop; `fitted(shop, as_of)` also what it rests on and what had to be assumed.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from ..costing.cost import Costing
from ..flow.visits import History, history
from ..intake.as_of import until
from ..intake.shop import Finding, Shop
from ..settings import Settings
from .arrays import Days, Floats, Integers
from .assumed import HANDOVER_DAYS, assumed, hours_assumed
from .attendance import attendance_of, employed_of, serving, with_booked_skills
from .axes import axes_of
from .cards import Cards, cards_of, waits_of
from .costs import measured_share
from .crew import crew_of
from .delivery import DeliveryLag, deliveries, fit_delivery_lag
from .dispatch import Dispatch, fit_dispatch
from .enquiries import Enquiries, fit_enquiries
from .holds import fit_holds
from .model import Workshop
from .open_days import shut_days, working_weekdays
from .presence import Presence, fit_presence
from .quoting import Quoting, fit_quoting, quoted_weeks
from .returns import Returns, fit_returns
from .work_time import WorkTime, fit_work_time

DRAWS = 256
SEED = 20260101
RECENT_DAYS = 730
"""Orders of the last two years tell how many are rush."""
USUAL_GRAMS = 30.0


@dataclass(frozen=True)
class Parts:
    """The parts of the fit, each told from its own side of the past."""

    work_time: WorkTime
    returns: Returns
    presence: Presence
    dispatch: Dispatch
    quoting: Quoting
    delivery: DeliveryLag
    enquiries: Enquiries

    @property
    def fields(self) -> dict[str, Any]:
        """The fields of `Workshop` the parts fill."""
        return {name: value for part in vars(self).values() for name, value in part.fields.items()}

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What the parts had to assume."""
        return tuple(finding for part in vars(self).values() for finding in getattr(part, "findings", ()))


@dataclass(frozen=True)
class Fitted:
    """The workshop and what it rests on.

    Attributes
    ----------
    workshop : Workshop
        The fitted workshop.
    cards : Cards
        The job cards on its axes.
    people : Integers, shape (P,)
        Position of each of the workshop's people in `cards.axes.workers`.
    parts : Parts
        The parts it was put together from, with counts and ranges.
    findings : tuple of Finding
        Everything assumed.
    """

    workshop: Workshop
    cards: Cards
    people: Integers
    parts: Parts
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


def fitted(
    shop: Shop, as_of: date, seed: int = SEED, draws: int = DRAWS, past: History | None = None, costing: Costing | None = None
) -> Fitted:
    """Fit the workshop and say what it rests on.

    Parameters
    ----------
    shop, as_of, seed, draws
        As in `fit`.
    past : History, optional
        `flow.visits.history` of the same day, where it is at hand.
    costing : Costing, optional
        Costing of the same day: what orders cost beside their metal is then measured, not the policy's.

    Raises
    ------
    UsageError
        As `fit`.
    """
    seen = until(shop, as_of)
    axes = axes_of(seen)
    cards = cards_of(past or history(seen, as_of), axes)
    can, employed = with_booked_skills(cards), employed_of(cards)
    crew = crew_of(seen, axes, employed, can, as_of)
    waits, serves_from, luck = waits_of(cards), serving(cards, can), [np.random.default_rng([seed, part]) for part in range(6)]
    sizes, settings = (len(axes.stages), len(axes.styles), len(axes.alloys)), seen.settings
    shut = shut_days(settings, as_of)
    share = measured_share(costing, seen, axes) if costing else None
    parts = Parts(
        work_time=fit_work_time(cards.visit_hours(), *sizes, luck[0], draws, _standard(settings)),
        returns=fit_returns(cards.sequence(), sizes[0], sizes[2], luck[1], draws),
        presence=fit_presence(attendance_of(cards, waits, employed, serves_from).only(crew.place), axes.codes(crew.place), luck[2], draws),
        dispatch=fit_dispatch(waits, serves_from, cards.dates_only, settings.policy.work_order, luck[3], draws),
        quoting=fit_quoting(*quoted_weeks(seen, as_of), luck[4], draws),
        delivery=fit_delivery_lag(*deliveries(cards)),
        enquiries=fit_enquiries(seen, axes, np.datetime64(as_of, "D"), shut, luck[5], draws, share),
    )
    findings = (*assumed(cards, can), *hours_assumed(cards, parts.work_time), *employed.findings, *parts.findings)
    workshop = Workshop(
        **_axes_fields(cards),
        **crew.fields,
        **_calendar_fields(settings, shut),
        **parts.fields,
        **fit_holds(cards),
        rush_share=_rush_share(seen, as_of),
        handover_days=HANDOVER_DAYS,
        assumptions=np.array([finding.text for finding in findings], dtype=np.str_),
    )
    workshop.check()
    return Fitted(workshop, cards, crew.place, parts, findings)


def _standard(settings: Settings) -> Floats:
    """Return standard hours of a piece of the usual weight at each stage; 0 where not known."""
    return np.array([stage.fixed_hours + USUAL_GRAMS * stage.hours_per_g for stage in settings.stages])


def _axes_fields(cards: Cards) -> dict[str, Any]:
    axes = cards.axes
    return {
        "stages": np.array(axes.stages),
        "skills": np.array(axes.skills),
        "styles": np.array(axes.styles),
        "alloys": np.array(axes.alloys),
        "stage_skill": axes.stage_skill,
        "passes": cards.passes,
    }


def _calendar_fields(settings: Settings, shut: Days) -> dict[str, Any]:
    start, end = (t.hour + t.minute / 60.0 for t in (settings.calendar.day_start, settings.calendar.day_end))
    return {
        "working_days": working_weekdays(settings),
        "shut": shut,
        "day_start_h": start,
        "day_span": (end - start) / settings.calendar.hours_per_day,
    }


def _rush_share(shop: Shop, as_of: date) -> float:
    orders = shop["orders"]
    recent = orders["ordered_on"].to_numpy("datetime64[D]") > np.datetime64(as_of, "D") - RECENT_DAYS
    return float(orders["rush"].to_numpy(bool)[recent].mean()) if recent.any() else 0.0
