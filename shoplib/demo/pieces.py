"""What customers ask for, what it is quoted at, and whether they say yes."""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass
from datetime import date
from itertools import accumulate
from random import Random

from .catalogue import ALLOYS, LENGTHS, STYLES
from .parameters import World
from .prices import Spot

PRICE_RISE_A_YEAR = 0.03
"""The making charge goes up by this share each January."""
METAL_ALLOWED_FOR_LOSS = 0.012
PALLADIUM_UPLIFT = 1.06
CLASP_UPLIFT = 1.4


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece somebody asks for: indices of style, alloy and width, length (cm), grams gross and bought-in parts."""

    style: int
    alloy: int
    width: int
    length_cm: float
    weight_g: float
    findings_g: float
    findings_cost: float
    stones_g: float
    stones_cost: float
    outwork_cost: float

    @property
    def metal_g(self) -> float:
        """Grams of the shop's own alloy in the piece."""
        return self.weight_g - self.findings_g - self.stones_g


@dataclass(frozen=True, slots=True)
class Offer:
    """A price for a piece: the making charge with parts, the metal in it, and the ratio the customer weighs."""

    making: float
    metal: float
    price: float
    over_gold: float


def _cumulated(shares: list[float]) -> list[float]:
    total = sum(shares)
    return [share / total for share in accumulate(shares)]


_STYLE = _cumulated([s.share for s in STYLES])
_ALLOY = _cumulated([a.share for a in ALLOYS])
_LENGTH = _cumulated([share for _, share in LENGTHS])
_WIDTH = [0.35, 0.80, 1.0]


def draw_piece(world: World, luck: Random) -> Piece:
    """Draw a piece as enquiries bring them."""
    style, alloy = bisect_right(_STYLE, luck.random()), bisect_right(_ALLOY, luck.random())
    width = bisect_right(_WIDTH, luck.random())
    length = LENGTHS[bisect_right(_LENGTH, luck.random())][0]
    grams = length * grams_per_cm(style, alloy, width) * math.exp(luck.gauss(0.0, 0.03)) * world.shrink
    clasp = luck.random() < 0.45
    findings_g = luck.uniform(1.2, 3.4) * world.shrink if clasp else 0.0
    stone = luck.random() < 0.02
    return Piece(
        style,
        alloy,
        width,
        length,
        round(grams + findings_g, 1 if world.digits == 2 else 2),
        round(findings_g, world.digits),
        round(findings_g * (62.0 + 14.0 * luck.random()), 2),
        round(luck.uniform(0.2, 0.9) * world.shrink, world.digits) if stone else 0.0,
        round(luck.uniform(60, 340) * world.shrink, 2) if stone else 0.0,
        round(luck.uniform(25, 55) * world.shrink, 2) if luck.random() < 0.05 else 0.0,
    )


def grams_per_cm(style: int, alloy: int, width: int) -> float:
    """Gross grams of a centimetre of chain at full size."""
    return STYLES[style].g_per_cm[width] * ALLOYS[alloy].density / 15.5


def list_making(world: World, style: int, alloy: int, weight_g: float, day: date) -> float:
    """The shop's making charge (EUR) for a piece of `weight_g` on `day`, before any haggling."""
    years = day.year - world.last_day.year
    per_piece = 95.0 * world.shrink
    per_g = STYLES[style].making_per_g - 0.95
    return float((per_piece + per_g * weight_g) * ALLOYS[alloy].making_factor * (1 + PRICE_RISE_A_YEAR) ** years)


def metal_value(piece: Piece, spot: Spot, day: date) -> float:
    """What the metal of a piece is quoted at: gold at spot with an allowance for loss, palladium dearer."""
    alloy = ALLOYS[piece.alloy]
    gold = piece.metal_g * alloy.fineness / 1000 * spot.on(day) * (1 + METAL_ALLOWED_FOR_LOSS)
    return gold + piece.metal_g * alloy.palladium / 1000 * spot.on(day, "palladium") * PALLADIUM_UPLIFT


def make_offer(world: World, piece: Piece, spot: Spot, day: date, luck: Random) -> Offer:
    """Quote a piece: metal, making charge with the owner's feeling of the day, parts; rounded as he rounds."""
    making = list_making(world, piece.style, piece.alloy, piece.weight_g, day) * math.exp(luck.gauss(0.0, world.market.price_noise))
    parts = CLASP_UPLIFT * piece.findings_cost + 1.2 * (piece.stones_cost + piece.outwork_cost)
    metal = metal_value(piece, spot, day)
    step = 5.0 if world.shrink > 0.3 else 1.0
    price = max(step, round((metal + making + parts) / step) * step)
    gold = piece.weight_g * ALLOYS[piece.alloy].fineness / 1000 * spot.on(day)
    return Offer(round(max(step, price - metal), 0 if world.shrink > 0.3 else 2), metal, price, price / gold)


def wave(day: date) -> float:
    """The yearly wave of demand, 1 in mid November, −1 in mid May."""
    return math.cos(2 * math.pi * (day.timetuple().tm_yday - 319) / 365.25)


def odds_of_order(world: World, offer: Offer, weeks: float, day: date) -> float:
    """Chance that the customer says yes."""
    market = world.market
    score = (
        market.intercept
        + market.answer_to_price * math.log(offer.over_gold)
        + market.answer_to_wait * weeks
        + market.season_won * wave(day)
    )
    return 1.0 / (1.0 + math.exp(-score))


def weeks_quoted(world: World, open_orders: int, luck: Random) -> float:
    """Weeks the owner names, by the number of open orders he sees on the board."""
    market = world.market
    weeks = market.weeks_fixed + market.weeks_per_open_order * open_orders + luck.gauss(0.0, market.weeks_noise)
    low, high = market.weeks_range
    return min(high, max(low, round(weeks / market.weeks_step) * market.weeks_step))
