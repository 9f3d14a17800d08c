"""What happens to grams on the bench: issue, loss, clean scrap, solder, and the scale that weighs them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from random import Random

from .catalogue import ALLOYS
from .order import Order, Visit
from .parameters import CUT, MELT, SOLDER, World
from .people import DAYS_BEYOND

LOSS_OF_A_RETURN = 0.35
"""A visit done again loses this share of what a first one loses."""
LEAST_SCRAP = 0.004


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a finished visit shows on the card: weight out, clean scrap and solder, grams as the scale has them."""

    weight_out: float
    scrap: float
    solder: float


class Flows:
    """Grams that move, by alloy and day (true weights): issued, scrap back, solder used, lost."""

    def __init__(self, world: World) -> None:
        self.world = world
        self.luck = Random(f"{world.seed} metal")
        self.issued, self.scrap, self.solder, self.lost = ([[0.0] * (world.days + DAYS_BEYOND + 40) for _ in ALLOYS] for _ in range(4))

    def plan(self, order: Order) -> None:
        """Start a visit of `order`: whether it will be weighed."""
        share = self.world.stages[order.stage].weighed_share
        order.visit = Visit(weighed=order.of_metal and self.luck.random() < share)

    def begin(self, order: Order, day: int) -> None:
        """Weigh in; at the melt the metal leaves the safe."""
        assert order.visit is not None
        if order.of_metal and order.stage == MELT:
            self._issue(order, day)
        order.visit.begun = True
        order.visit.weight_in = self.shown(order.metal_g) if order.of_metal else math.nan

    def _issue(self, order: Order, day: int) -> None:
        metal = self.world.metal
        order.metal_g = order.piece.metal_g * metal.issue_over_quote * self.luck.gauss(1.0, 0.004)
        order.needed_g = order.piece.metal_g * math.exp(self.luck.gauss(metal.weight_over_quote, metal.weight_spread))
        self.issued[order.piece.alloy][day] += order.metal_g

    def end(self, orders: Sequence[Order], day: int) -> Outcome:
        """Finish a visit: lose, give back scrap, take up solder; return what the scale shows for all `orders` together."""
        scraps = solders = 0.0
        for order in orders:
            if order.of_metal:
                scrap, solder = self._change(order, day)
                scraps, solders = scraps + scrap, solders + solder
        weight_out = self.shown(sum(order.metal_g for order in orders))
        return Outcome(weight_out, self.shown(scraps) if scraps else 0.0, self.shown(solders) if solders else 0.0)

    def _change(self, order: Order, day: int) -> tuple[float, float]:
        alloy, stage = order.piece.alloy, order.stage
        loss = order.metal_g * self._share_lost(order)
        scrap = self._scrap(order, order.metal_g - loss) if stage == CUT else 0.0
        solder = self._solder(order) if stage == SOLDER else 0.0
        order.metal_g += solder - loss - scrap
        self.lost[alloy][day] += loss
        self.scrap[alloy][day] += scrap
        self.solder[alloy][day] += solder
        return scrap, solder

    def mean_loss(self, stage: int, alloy: int) -> float:
        """Mean share of its weight that a piece loses at a first visit."""
        return self.world.stages[stage].loss_permille / 1000 * ALLOYS[alloy].loss_factor

    def _share_lost(self, order: Order) -> float:
        spread = self.world.metal.loss_spread
        share = self.mean_loss(order.stage, order.piece.alloy) * math.exp(self.luck.gauss(0.0, spread) - spread**2 / 2)
        return share * (LOSS_OF_A_RETURN if order.again else 1.0)

    def _solder(self, order: Order) -> float:
        share = self.world.metal.solder_share_again if order.again else self.world.metal.solder_share
        return order.metal_g * share * math.exp(self.luck.gauss(0.0, 0.15))

    def _scrap(self, order: Order, left: float) -> float:
        """Cut off what the finished piece will not need, as far as can be foreseen."""
        kept = math.prod(1 - self.mean_loss(stage, order.piece.alloy) for stage in range(CUT + 1, len(self.world.stages)))
        kept *= 1 + self.world.metal.solder_share
        return max(LEAST_SCRAP * left, left - order.needed_g / kept)

    def put_back(self, order: Order, day: int) -> None:
        """The metal of an order called off goes back to stock."""
        self.scrap[order.piece.alloy][day] += order.metal_g

    def shown(self, grams: float) -> float:
        """Return a weight as the scale shows it."""
        return round(grams + self.luck.gauss(0.0, 0.25 * self.world.metal.readability_g), self.world.digits)
