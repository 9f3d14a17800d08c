"""The fitted workshop and the state of its open orders: plain arrays that can be written to one file and read back.

A `Workshop` says how the shop works (people, benches, times, returns, demand); a `State` says where each open order stands
on one day; together they are all the simulator needs. Uncertain parameters carry a leading axis ``draws``: row 0 is the
estimate, rows 1 … D are draws from its distribution; replication r uses row 1 + r mod D, or row 0 where there is no other.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np

from ..errors import DataError, UsageError
from .arrays import Arrays, Days, Flags, Floats, Integers, Texts, check_range, check_shapes

MOST_PEOPLE = 64
"""Idle people are the bits of one 64-bit word."""
MOST_STAGES = 64
"""Waiting stages are the bits of one 64-bit word."""
RULES = ("promise", "order_date", "queue")
"""Dispatch rules: earliest promise, earliest order, longest in the queue. Ties: order date, then order."""
WAITING, RUNNING, ENDED, HELD, DONE = range(5)
"""Where an open order stands: before a stage, on a bench, between a visit that has ended and the next, held, awaiting delivery."""


@dataclass(frozen=True)
class Workshop(Arrays):
    """The fitted workshop. S stages, K skills, P people, Y styles, A alloys, N pieces, D draws, M months.

    Attributes
    ----------
    stages : Texts, shape (S,)
        Names in route order.
    skills : Texts, shape (K,)
        Names.
    people : Texts, shape (P,)
        Codes, in the order in which they are asked when several are idle (fewest skills first). At most 64.
    styles, alloys : Texts, shape (Y,), (A,)
        Spelling of the settings.
    stage_skill : Integers, shape (S,)
        The skill each stage asks for.
    passes : Floats, shape (Y, A, S)
        Chance that an order of the style and alloy goes through the stage (its route); 1 or 0 for most.
    work_intercept, work_slope : Floats, shape (D + 1, S)
        ln hours of a first visit = intercept + slope · (ln g gross − `ln_weight_centre`) + style + alloy (+ rework) + sd · z.
    ln_weight_centre : float
        Weight at which the intercept stands, ln g.
    work_style : Floats, shape (D + 1, S, Y)
        Added to ln hours.
    work_alloy : Floats, shape (D + 1, S, A)
        Added to ln hours.
    work_rework : Floats, shape (D + 1, S)
        Added to ln hours of every visit after the first.
    work_sd : Floats, shape (D + 1, S)
        Standard deviation of ln hours, ≥ 0.
    return_chance : Floats, shape (D + 1, S, A)
        Chance that an ended visit at the stage sends the order back.
    return_to : Floats, shape (S, S)
        Row s: where an order sent back by s goes, shares over earlier stages (or s itself); rows of zeros never return.
    repass : Floats, shape (S,)
        Chance that an order sent back passes the stage again on its way to the one that sent it (which it always passes).
    can : Flags, shape (P, K)
        Who has which skill.
    own_hours : Floats, shape (P, 7)
        Paid hours, Monday first.
    bench_share : Floats, shape (D + 1, P)
        Booked ÷ paid hours on days present with work waiting, 0–1.
    absence_chance : Floats, shape (D + 1, P)
        Chance, each own working day on which the person is there, that an unplanned absence begins.
    absence_days : Integers, shape (any,)
        Lengths of past unplanned absences in working days, drawn from as they are; may be empty.
    away_person : Integers, shape (any,)
        Planned absences: the person …
    away_from, away_to : Days, shape (any,)
        … and their first and last day.
    started_on, left_on : Days, shape (P,)
        First and last day with the shop; NaT where open.
    learning_rate : Floats, shape (P,)
        Time falls to this share when the count of pieces doubles (unit form, Crawford); 1 for a trained person.
    learning_pieces : Floats, shape (P, K)
        Count N at which standard time is reached; a visit is standard × max(1, (n ÷ N)^log2 rate), at most 3 × standard; 0: trained.
    pieces_done : Floats, shape (P, K)
        Pieces each has done with each skill; counts on inside the run.
    working_days : Flags, shape (7,)
        Weekdays on which enquiries come, Monday first.
    shut : Days, shape (any,)
        Holidays and closures, past and to come.
    day_start_h, day_span : float
        Clock hour at which people start; clock hours for one paid hour (8.5 h from start to end for 8 paid: 1.0625).
    dispatch_rule : str
        One of RULES. Rush orders go first under each.
    dispatch_strength : Floats, shape (D + 1,)
        Share of picks that follow the rule; the others are drawn evenly from what waits.
    quote_a, quote_b : Floats, shape (D + 1,)
        Weeks quoted = a + b · open orders + residual.
    quote_sd : Floats, shape (D + 1,)
        Standard deviation of the residual, weeks.
    quote_step, quote_low, quote_high : float
        Weeks are rounded to a multiple of the step (0: not) and clipped to low … high.
    demand_from : np.datetime64
        First month of `enquiries_per_day` (datetime64[M]).
    enquiries_per_day : Floats, shape (D + 1, M)
        Expected enquiries (without quotes: orders) a working day, by month; beyond M its last twelve months repeat.
    demand_dispersion : Floats, shape (D + 1,)
        Variance of a month's factor on that rate (mean 1); 0: counts are Poisson.
    has_quotes : bool
        Whether enquiries are quotes (true) or already orders, each of which is taken (false).
    piece_style, piece_alloy : Integers, shape (N,)
        What is asked for: each enquiry is one of these N pieces drawn evenly.
    piece_weight_g : Floats, shape (N,)
        Gross grams.
    piece_price, piece_metal, piece_contribution : Floats, shape (N,)
        Price, metal in it at the quote's spot (M_fix) and throughput contribution if made, money.
    piece_win_logit : Floats, shape (N,)
        Log odds that the enquiry is won at its price when `win_weeks` are quoted; +inf without quotes.
    win_weeks : float
        Weeks quoted at which `piece_win_logit` stands.
    win_shift, win_wait, win_price : Floats, shape (D + 1,)
        Added to the log odds; per week quoted above `win_weeks`; per unit of ln (price ÷ metal) above the piece's own.
    win_scale : float
        Orders ÷ won quotes of the last 12 months; multiplies the chance to win, which stays ≤ 1.
    rush_share : float
        Share of new orders marked rush.
    hold_chance : Floats, shape (S,)
        Chance that an order is held before it joins the queue of a first visit at the stage.
    hold_days : Floats, shape (any,)
        Lengths of past holds, calendar days; may be empty.
    delivery_lag_days : Integers, shape (any,)
        Calendar days from the end of the last visit to delivery, sorted by weekday of that end …
    delivery_lag_from : Integers, shape (8,)
        … weekday w (Monday 0) owns positions from[w] … from[w + 1] − 1; an empty weekday delivers the same day.
    handover_days : float
        An absence longer than this many working days puts the visit in hand back in the queue with the work left.
    assumptions : Texts, shape (any,)
        What the fit had to assume, one sentence each.
    """

    stages: Texts
    skills: Texts
    people: Texts
    styles: Texts
    alloys: Texts
    stage_skill: Integers
    passes: Floats
    work_intercept: Floats
    work_slope: Floats
    ln_weight_centre: float
    work_style: Floats
    work_alloy: Floats
    work_rework: Floats
    work_sd: Floats
    return_chance: Floats
    return_to: Floats
    repass: Floats
    can: Flags
    own_hours: Floats
    bench_share: Floats
    absence_chance: Floats
    absence_days: Integers
    away_person: Integers
    away_from: Days
    away_to: Days
    started_on: Days
    left_on: Days
    learning_rate: Floats
    learning_pieces: Floats
    pieces_done: Floats
    working_days: Flags
    shut: Days
    day_start_h: float
    day_span: float
    dispatch_rule: str
    dispatch_strength: Floats
    quote_a: Floats
    quote_b: Floats
    quote_sd: Floats
    quote_step: float
    quote_low: float
    quote_high: float
    demand_from: np.datetime64
    enquiries_per_day: Floats
    demand_dispersion: Floats
    has_quotes: bool
    piece_style: Integers
    piece_alloy: Integers
    piece_weight_g: Floats
    piece_price: Floats
    piece_metal: Floats
    piece_contribution: Floats
    piece_win_logit: Floats
    win_weeks: float
    win_shift: Floats
    win_wait: Floats
    win_price: Floats
    win_scale: float
    rush_share: float
    hold_chance: Floats
    hold_days: Floats
    delivery_lag_days: Integers
    delivery_lag_from: Integers
    handover_days: float
    assumptions: Texts

    @property
    def draws(self) -> int:
        """Number of parameter draws D beside the estimate."""
        return max(len(getattr(self, name)) for name in DRAWN) - 1

    def estimate(self) -> Workshop:
        """Return the same workshop with row 0 of every uncertain parameter only: no parameter uncertainty."""
        return replace(self, **{name: getattr(self, name)[:1] for name in DRAWN})

    def expected_hours(self, style: Integers, alloy: Integers, weight_g: Floats) -> Floats:
        """Return mean hours of a first visit at every stage the orders pass, returns left out.

        Parameters
        ----------
        style, alloy : Integers, shape (n,)
            Positions in `styles` and `alloys`.
        weight_g : Floats, shape (n,)
            Gross grams.

        Returns
        -------
        Floats, shape (n, S)
            Hours at the estimate: exp(mean + sd² ÷ 2), the mean of a log-normal law, times the chance to pass.
        """
        grams = np.log(np.maximum(weight_g, 1e-3))[:, None] - self.ln_weight_centre
        mean = self.work_intercept[0] + self.work_slope[0] * grams + self.work_style[0].T[style] + self.work_alloy[0].T[alloy]
        return np.asarray(np.exp(mean + self.work_sd[0] ** 2 / 2) * self.passes[style, alloy])

    def check(self) -> None:
        """Refuse what the simulator cannot run.

        Raises
        ------
        UsageError
            More than 64 people or stages, or none; an unknown dispatch rule.
        DataError
            A field whose shape does not fit the others, or a number outside what it may be.
        """
        for what, count, most in (("people", len(self.people), MOST_PEOPLE), ("stages", len(self.stages), MOST_STAGES)):
            if not 1 <= count <= most:
                raise UsageError(f"the simulator cannot run this number of {what}", found=count, allowed=f"1 to {most}",
                                 to_do=f"name only the {what} that bench work needs in shop.toml")
        if self.dispatch_rule not in RULES:
            raise UsageError("unknown dispatch rule", found=self.dispatch_rule, allowed=", ".join(RULES))
        check_shapes(self, self._sizes(), SHAPES)
        check_range(self, SHARES, 0.0, 1.0)
        check_range(self, POSITIVE, 0.0, np.inf)

    def _sizes(self) -> dict[str, int]:
        return {"S": len(self.stages), "K": len(self.skills), "P": len(self.people), "Y": len(self.styles), "A": len(self.alloys),
                "N": len(self.piece_style), "M": self.enquiries_per_day.shape[-1], "7": 7, "8": 8}


DRAWN = ("work_intercept", "work_slope", "work_style", "work_alloy", "work_rework", "work_sd", "return_chance", "bench_share",
         "absence_chance", "dispatch_strength", "quote_a", "quote_b", "quote_sd", "enquiries_per_day", "demand_dispersion",
         "win_shift", "win_wait", "win_price")
"""Fields with a leading axis of draws; each may have 1 row (certain) or D + 1."""
SHAPES = {
    "stage_skill": "S", "passes": "Y A S", "work_intercept": "D S", "work_slope": "D S", "work_style": "D S Y", "work_alloy": "D S A",
    "work_rework": "D S", "work_sd": "D S", "return_chance": "D S A", "return_to": "S S", "repass": "S", "can": "P K", "own_hours": "P 7",
    "bench_share": "D P", "absence_chance": "D P", "started_on": "P", "left_on": "P", "learning_rate": "P", "learning_pieces": "P K",
    "pieces_done": "P K", "working_days": "7", "dispatch_strength": "D", "quote_a": "D", "quote_b": "D", "quote_sd": "D",
    "enquiries_per_day": "D M", "demand_dispersion": "D", "piece_style": "N", "piece_alloy": "N", "piece_weight_g": "N",
    "piece_price": "N", "piece_metal": "N", "piece_contribution": "N", "piece_win_logit": "N", "win_shift": "D", "win_wait": "D",
    "win_price": "D", "hold_chance": "S", "delivery_lag_from": "8",
}
"""Axes of each array; D stands for 1 or the common number of rows."""
SHARES = ("passes", "return_chance", "return_to", "repass", "bench_share", "absence_chance", "dispatch_strength", "rush_share",
          "hold_chance")
POSITIVE = ("work_sd", "own_hours", "learning_pieces", "pieces_done", "quote_sd", "quote_step", "enquiries_per_day", "demand_dispersion",
            "win_scale", "hold_days", "absence_days", "delivery_lag_days", "day_span")


@dataclass(frozen=True)
class State(Arrays):
    """Where each of n open orders stands at the end of one day. Running time begins at the next midnight.

    Attributes
    ----------
    as_of : np.datetime64
        The day (datetime64[D]) after whose work the state holds.
    order_id : Texts, shape (n,)
        Sorted by order date, then as in the table: position is the last tie-break of every dispatch rule.
    style, alloy : Integers, shape (n,)
        Positions in the workshop's `styles` and `alloys`.
    weight_g : Floats, shape (n,)
        Gross grams expected.
    ordered_on, promised_on : Days, shape (n,)
        promised_on is NaT where nothing was promised.
    rush : Flags, shape (n,)
        Goes first.
    status : Integers, shape (n,)
        WAITING before `stage`; RUNNING at `stage`; ENDED: the visit at `stage` is over and what follows is drawn (back, or
        the next of the route); HELD before `stage` until `until`; DONE: awaits delivery on `until`.
    stage : Integers, shape (n,)
        Position in the workshop's `stages`.
    person : Integers, shape (n,)
        RUNNING: whose bench, or −1 when laid aside (it waits in the queue with the work left). One running order a person.
    spent_h : Floats, shape (n,)
        RUNNING: hours already booked on this visit; the work left is drawn given that the whole exceeds them.
    visits : Integers, shape (n, S)
        Visits begun at each stage, a running one included: keys the next draw and tells rework.
    repair_until : Integers, shape (n,)
        Stage that sent the order back and that it is under way to, or −1.
    queued_days : Floats, shape (n,)
        WAITING, ENDED: days it has stood in this queue, or since the visit ended (rule ``queue``).
    until : Days, shape (n,)
        HELD, DONE: the day it goes on or is delivered; NaT: drawn.
    contribution : Floats, shape (n,)
        Throughput contribution still to be earned at delivery, money.
    hours_done : Floats, shape (n,)
        Hours booked so far, all stages.
    """

    as_of: np.datetime64
    order_id: Texts
    style: Integers
    alloy: Integers
    weight_g: Floats
    ordered_on: Days
    promised_on: Days
    rush: Flags
    status: Integers
    stage: Integers
    person: Integers
    spent_h: Floats
    visits: Integers
    repair_until: Integers
    queued_days: Floats
    until: Days
    contribution: Floats
    hours_done: Floats

    @classmethod
    def empty(cls, as_of: np.datetime64, n_stages: int) -> State:
        """Return a state without open orders."""
        zero, none, days = np.zeros(0), np.zeros(0, np.int64), np.zeros(0, "datetime64[D]")
        return cls(as_of.astype("datetime64[D]"), np.zeros(0, "U1"), none, none, zero, days, days, np.zeros(0, bool), none, none, none,
                   zero, np.zeros((0, n_stages), np.int64), none, zero, days, zero, zero)

    def check(self, workshop: Workshop) -> None:
        """Refuse a state that does not fit `workshop`.

        Raises
        ------
        DataError
            When shapes, positions or two running orders on one person contradict each other.
        """
        n = len(self.order_id)
        shapes = {field.name: "n S" if field.name == "visits" else "n" for field in fields(self) if field.name != "as_of"}
        check_shapes(self, {"n": n, "S": len(workshop.stages)}, shapes)
        for name, most in (("style", len(workshop.styles)), ("alloy", len(workshop.alloys)), ("stage", len(workshop.stages))):
            value = getattr(self, name)
            if n and not (value.min() >= 0 and value.max() < most):
                raise DataError(f"an open order has a {name} the workshop does not know", found=value.max(), allowed=f"0 to {most - 1}")
        on_bench = self.person[(self.status == RUNNING) & (self.person >= 0)]
        if len(np.unique(on_bench)) < len(on_bench) or (on_bench >= len(workshop.people)).any():
            raise DataError("two running orders lie on one person's bench, or the person is unknown", where="state of the open orders")
