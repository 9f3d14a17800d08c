"""An order's whole path, drawn from its own luck: stages, bench hours, returns, hold."""

from __future__ import annotations

import math
import random

from . import parameters as p
from .things import Step

PATH_LUCK = 13


def stream(truth: p.Truth, what: int, number: int) -> random.Random:
    """Return the luck of one thing: what it is and its number."""
    return random.Random((truth.seed * 1009 + what) * 10_000_019 + number)


def path_of(truth: p.Truth, number: int, style: int, alloy: int, grams: float) -> tuple[list[Step], tuple[int, int] | None]:
    """Draw an order's whole path and its hold (place on the path, days) from its own luck."""
    own = stream(truth, PATH_LUCK, number)
    hold = (own.randrange(1, 4), own.randint(*p.HOLD_DAYS)) if own.random() < truth.hold_share else None
    route = [s for s, bench in enumerate(truth.benches) if bench.name not in truth.styles[style].skips]
    path: list[Step] = []
    seen: set[int] = set()
    ahead = list(reversed(route))
    while ahead:
        stage = ahead.pop()
        path.append(Step(stage, hours_of(truth, stage, style, alloy, grams, stage in seen, own), stage in seen))
        seen.add(stage)
        ahead.extend(_sent_back(truth, stage, alloy, route, own))
    return path, hold


def hours_of(truth: p.Truth, stage: int, style: int, alloy: int, grams: float, again: bool, own: random.Random) -> float:
    """Draw bench hours of one visit."""
    bench = truth.benches[stage]
    mean = mean_hours(truth, stage, style, alloy, grams, again)
    return float(mean * math.exp(own.gauss(0.0, bench.sd) - bench.sd**2 / 2))


def mean_hours(truth: p.Truth, stage: int, style: int, alloy: int, grams: float, again: bool = False) -> float:
    """Return mean bench hours of one visit."""
    bench = truth.benches[stage]
    factor = truth.styles[style].factors.get(bench.name, 1.0) * (truth.alloys[alloy].solder_factor if bench.name == "solder" else 1.0)
    return float(bench.hours * factor * (grams / p.USUAL_GRAMS) ** bench.weight_power * (p.REWORK_FACTOR if again else 1.0))


def return_chances(truth: p.Truth, stage: int, alloy: int) -> list[tuple[int, float]]:
    """Return where a visit at `stage` may send an order of `alloy`, with the chance of each."""
    names = [bench.name for bench in truth.benches]
    return [(names.index(r.back), r.chance * truth.alloys[alloy].return_factor) for r in truth.returns if r.found == names[stage]]


def _sent_back(truth: p.Truth, stage: int, alloy: int, route: list[int], own: random.Random) -> list[int]:
    draw = own.random()
    for back, chance in return_chances(truth, stage, alloy):
        if draw < chance:
            between = [s for s in route if back < s < stage and own.random() < p.REPASS_CHANCE]
            return [stage, *reversed(between), back]
        draw -= chance
    return []
