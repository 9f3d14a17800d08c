"""The true parameters of the invented workshop: what no table shows and every fit may be held against.

All persons, prices and orders are invented. Times are hours, weights grams, money EUR before tax. A shop with more
orders than nine people can make at full size (about 87 a month) gets smaller pieces: weights and hours an order shrink
by the same `shrink`, so that load, grams a week and money a month stay.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

USUAL_ORDERS = 2600
USUAL_MONTHS = 30
SEED = 15
LAST_DAY = date(2026, 10, 31)


@dataclass(frozen=True)
class StageTruth:
    """One stage of the route.

    Attributes
    ----------
    name : str
    fixed_h, per_g_h : float
        Mean hours of a first visit: fixed_h + per_g_h × quoted weight, times style and alloy.
    sigma : float
        Standard deviation of the logarithm of hours; the mean is kept.
    loss_permille : float
        Mean gross loss of a first visit, per mille of the weight going in.
    weighed_share : float
        Share of visits whose two weighings are written down.
    by_style, by_alloy : bool
        Whether hours depend on the style, on the alloy.
    """

    name: str
    fixed_h: float
    per_g_h: float
    sigma: float
    loss_permille: float
    weighed_share: float
    by_style: bool = False
    by_alloy: bool = False


STAGES = (
    StageTruth("melt", 0.26, 0.0013, 0.25, 3.0, 1.00),
    StageTruth("roll", 0.25, 0.0040, 0.25, 1.0, 0.60),
    StageTruth("draw", 0.36, 0.0068, 0.25, 2.0, 0.70),
    StageTruth("coil", 0.20, 0.0025, 0.25, 0.4, 0.50, by_style=True),
    StageTruth("cut", 0.20, 0.0027, 0.25, 4.0, 0.95, by_style=True),
    StageTruth("assemble", 0.46, 0.0086, 0.30, 0.3, 0.60, by_style=True),
    StageTruth("solder", 1.28, 0.0345, 0.30, 0.6, 0.95, by_style=True, by_alloy=True),
    StageTruth("tighten", 0.24, 0.0038, 0.25, 0.5, 0.60, by_style=True),
    StageTruth("file", 0.32, 0.0058, 0.28, 8.0, 0.95),
    StageTruth("polish", 0.34, 0.0067, 0.28, 6.0, 0.95),
    StageTruth("finish", 0.28, 0.0019, 0.25, 0.8, 0.95),
)
MELT, CUT, ASSEMBLE, SOLDER, TIGHTEN, FILE, POLISH, FINISH = 0, 4, 5, 6, 7, 8, 9, 10


@dataclass(frozen=True)
class Market:
    """Enquiries, their answer to price and wait, and how promises are made.

    Attributes
    ----------
    enquiries_a_month : float
        Mean over the history, before season.
    growth_a_year, late_rise, season : float
        Growth of enquiries; a further rise spread over the seventh to the tenth month before the end, when word got
        round; amplitude of their yearly wave, highest in November.
    intercept, answer_to_price, answer_to_wait, season_won : float
        Logit of an enquiry won: intercept + answer_to_price × ln(price ÷ gold in it at spot) + answer_to_wait × weeks
        quoted + season_won × the same wave.
    weeks_fixed, weeks_per_open_order, weeks_noise, weeks_step, weeks_range
        Weeks quoted = fixed + per open order × orders open + noise, rounded to the step and clipped.
    """

    enquiries_a_month: float = 174.0
    growth_a_year: float = 0.10
    late_rise: float = 0.24
    season: float = 0.10
    intercept: float = 0.52
    answer_to_price: float = -2.4
    answer_to_wait: float = -0.11
    season_won: float = 0.08
    price_noise: float = 0.17
    weeks_fixed: float = 0.8
    weeks_per_open_order: float = 0.050
    weeks_noise: float = 0.4
    weeks_step: float = 0.5
    weeks_range: tuple[float, float] = (1.5, 12.0)
    walk_ins_a_month: float = 3.0
    customer_metal_a_month: float = 4.0
    stock_a_month: float = 2.0
    repairs_a_month: float = 4.0
    guarantees_a_month: float = 0.35
    at_delivery_share: float = 0.18
    by_weight_share: float = 0.15
    cancelled_share: float = 0.03
    rush_share: float = 0.03
    held_share: float = 0.035


@dataclass(frozen=True)
class MetalTruth:
    """What happens to grams: losses, recovery, counts, scale."""

    issue_over_quote: float = 1.078
    weight_over_quote: float = 0.004
    weight_spread: float = 0.013
    solder_share: float = 0.010
    solder_share_again: float = 0.0009
    loss_spread: float = 0.25
    recovery: float = 0.92
    recovery_spread: float = 0.015
    refiner_keeps: float = 0.015
    lot_days: int = 42
    settled_after_days: tuple[int, int] = (24, 44)
    count_error_g: float = 0.03
    readability_g: float = 0.01
    premium_over_spot: float = 0.004
    customer_allowance: float = 0.03


@dataclass(frozen=True)
class Bench:
    """How work is chosen, handed on and done again."""

    dispatch: str = "first promise"
    dispatch_strength: float = 0.86
    again_hours: tuple[tuple[int, float], ...] = ((SOLDER, 0.24), (TIGHTEN, 0.50), (FILE, 0.40), (POLISH, 0.50))
    return_again_factor: float = 0.5
    most_returns: int = 3
    shared_melt_share: float = 0.45
    day_share_spread: float = 0.03
    learning_rate: float = 0.85
    learning_pieces: int = 60
    overtime_h_a_day: float = 1.25
    clock_share: float = 0.93


@dataclass(frozen=True)
class World:
    """The workshop at one size.

    Attributes
    ----------
    orders, months, seed : int
    shrink : float
        Weights and hours of an order ÷ those of a full-size one; 1 unless more orders are asked for than nine people make.
    busier : float
        Enquiries and orders ÷ those of the usual shop.
    """

    orders: int
    months: int
    seed: int
    shrink: float
    busier: float
    stages: tuple[StageTruth, ...]
    market: Market
    metal: MetalTruth
    bench: Bench

    @property
    def last_day(self) -> date:
        """Last day of the history."""
        return LAST_DAY

    @property
    def first_day(self) -> date:
        """First day of the history, the first of a month."""
        back = LAST_DAY.year * 12 + LAST_DAY.month - self.months
        return date(back // 12, back % 12 + 1, 1)

    @property
    def days(self) -> int:
        """Days of the history."""
        return (self.last_day - self.first_day).days + 1

    def day(self, index: int) -> date:
        """Return the date of day `index`, counted from the first day."""
        return self.first_day + timedelta(days=index)

    def index(self, day: date) -> int:
        """Return the index of `day`, counted from the first day; it may lie outside the history."""
        return (day - self.first_day).days

    @property
    def digits(self) -> int:
        """Decimals of the scale."""
        return 2 if self.shrink > 0.3 else 3


def make_world(orders: int = USUAL_ORDERS, months: int = USUAL_MONTHS, seed: int = SEED) -> World:
    """Return the workshop sized for about `orders` order lines in `months` months (both at least 1)."""
    busier = orders / (USUAL_ORDERS * months / USUAL_MONTHS)
    shrink = min(1.0, 1.0 / busier)
    stages = tuple(
        StageTruth(s.name, s.fixed_h * shrink, s.per_g_h, s.sigma, s.loss_permille, s.weighed_share, s.by_style, s.by_alloy) for s in STAGES
    )
    usual = Market()
    market = Market(weeks_per_open_order=usual.weeks_per_open_order * shrink)
    readability = 0.01 if shrink > 0.3 else 0.001
    return World(orders, months, seed, shrink, busier, stages, market, MetalTruth(readability_g=readability), Bench())
