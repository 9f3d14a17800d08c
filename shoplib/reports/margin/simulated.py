"""The limiting bench of the margin report: the one told, else the one the simulator finds, else the busiest.

It is computed before the notebook and kept, so that the report takes it from where the throughput report does. Which way it was
found depends on the shop alone, never on what the cache holds.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from ...intake import as_of
from ...intake.shop import Shop
from ..answer import Found
from ..answer import Parameters as CommonParameters
from ..sentences import odds
from ..shared import limits_or_none


@dataclass(frozen=True)
class Bench:
    """The skill whose hours rank what to make (None: the busiest), whether it limits as simulated, and how it was found."""

    skill: str | None
    scarce: bool
    found: Found


def limiting_bench(shop: Shop, last: date, parameters: CommonParameters) -> Bench:
    """Return the limiting bench.

    Parameters
    ----------
    shop : Shop
        The cleaned tables.
    last : date
        Last day that counts.
    parameters : Parameters
        Those of the margin report: `limiting_bench`, when the owner tells it, and the seed of the simulation.
    """
    told: str | None = getattr(parameters, "limiting_bench", None)
    if told:
        return Bench(told, False, _note(f"{told} is taken for the limiting bench, as asked."))
    limits, reason = limits_or_none(shop, last, parameters.seed)
    if limits is None:
        return Bench(None, False, _note(f"The busiest bench stands for the limiting one, because the shop cannot be simulated: {reason}"))
    if limits.limiting is None:
        return Bench(None, False, _note("As simulated, demand limits the shop and no bench does; the busiest stands for the limiting one."))
    chance = odds(limits.probability(limits.limiting))
    text = f"As simulated, {limits.limiting} limits output: {chance}. The throughput report tells more."
    return Bench(limits.limiting, True, _note(text))


def _note(text: str) -> Found:
    return Found(level="note", code="limiting_bench", text=text, where="labour")


def prepare(shop: Shop, parameters: CommonParameters, progress: Callable[[str, float], None]) -> None:
    """Fit the shop and find its limiting bench before the notebook starts."""
    if getattr(parameters, "limiting_bench", None):
        return
    progress("what limits the shop", 0.0)
    limits_or_none(shop, parameters.as_of or as_of(shop), parameters.seed)
    progress("what limits the shop", 1.0)
