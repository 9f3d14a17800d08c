"""The fit of the invented workshop, whole and as a backtest repeats it at an earlier origin."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

from shoplib.flow.visits import history
from shoplib.intake import as_of, load, until
from shoplib.workshop import fit, fitted

from .measure import Measure, interleaved, median

ROUNDS = 7
BACK_DAYS = 91
DEMO = Path(__file__).parents[2] / "data_demo"


def fits() -> list[Measure]:
    """Time the whole fit, and the refit at an origin three months back whose job cards are read already."""
    shop = load(DEMO)
    day = as_of(shop)
    origin = day - timedelta(days=BACK_DAYS)
    known = until(shop, origin)
    past = history(known, origin)
    whole, again = interleaved([lambda: fit(shop, day), lambda: fitted(known, origin, past=past)], ROUNDS)
    return [
        median("fit_seconds", whole, "s", "the whole fit of the invented workshop, job cards read from the tables"),
        median("refit_seconds", again, "s", "what a backtest refits at one origin, job cards at hand"),
    ]


BENCHES = {"fit_seconds": fits, "refit_seconds": fits}
