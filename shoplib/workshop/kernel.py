"""The compiled part of the simulator: draws, an open network of benches, and the workshop itself.

Everything compiled stands in this one file, since numba's cache does not see an edited callee in another. The plain Python
functions run as they are with NUMBA_DISABLE_JIT=1 and then give the same answers, slowly.

Terms. A *stage* is a bench the order passes; a *visit* is one stay at it; the *queue* of a stage holds the orders that wait
for somebody with its skill. The next event is found by a scan over people and a few further slots: up to 64 people that is
quicker than a heap of events, and idle people, skills and waiting stages are then bits of one word.

Draws. A draw is the splitmix64 finaliser (Steele, Lea & Flood 2014, "Fast splittable pseudorandom number generators",
figure 17) of stream + counter · golden ratio, where the stream comes from (seed, replication) and the counter from (purpose,
order, stage, visit). No draw depends on how many were made before it, so plans compared with one another share their luck.
Normal deviates: algorithm AS 241 (Wichura 1988, Applied Statistics 37, 477–484), routine PPND16.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np
from llvmlite import ir  # type: ignore[import-untyped]
from numba import config, njit, types
from numba.extending import intrinsic

from .compiling import COMPILER, quick_to_compile

U = np.uint64
ZERO, ONE, SIX, LOW_SIX = U(0), U(1), U(6), U(63)
NEVER = U(0xFFFFFFFFFFFFFFFF)
SLOT_BITS = U(127)
"""The low bits of an event's key hold its slot, so that one integer minimum finds time and slot together."""
GOLDEN = U(0x9E3779B97F4A7C15)
LOGNORMAL, WEIBULL = 0, 1
"""Laws of hours: exp (mean + sd · z) with z normal; or with z = ln (−ln u), which for sd 1 is the exponential law."""
(HOURS, BACK, WHERE, PASS, HOLD, HOLD_DAYS, REPASS, OUT, PICK, PIECE, QUOTE, WIN, LAG, GAP, ABSENT, LENGTH, MONTH, RUSH, LEAVES,
 LEAVING, LEARNS, LEFT) = (U(purpose) for purpose in range(22))
"""Purposes of a draw."""
NONE = np.int64(0)
"""Zero that numba does not take for a literal, of which it would compile every function once more."""
MOST_VISITS = 60
"""Visits of an order at one stage after which it goes on whatever the draw says; the counter has room for 64."""

FAST = {"contract", "nsz"}
"""Multiply-add may be fused and the sign of zero ignored; nothing else is relaxed."""


OPTIONS = {"pipeline_class": COMPILER, "nogil": True, "error_model": "numpy", "fastmath": FAST, "_nrt": False, "no_cfunc_wrapper": True}
"""Without the interpreter's lock, dividing as numpy does; nothing is allocated inside, so nothing is counted."""


def compiled(function: Any) -> Any:
    """Compile a function that Python calls; it is kept on disk with everything it calls."""
    return njit(cache=True, **OPTIONS)(function)


def inner(function: Any) -> Any:
    """Compile what only compiled functions call: without the wrapper that makes it callable from outside."""
    return njit(no_cpython_wrapper=True, **OPTIONS)(function)


def inlined(function: Any) -> Any:
    """Compile a function that LLVM puts in place: a small one in a loop, so that the loop can be vectorised; one with a single caller."""
    return njit(no_cpython_wrapper=True, forceinline=True, **OPTIONS)(function)


def _bits_of_float(context: Any, value: Any) -> Any:
    return types.uint64(types.float64), lambda c, builder, s, args: builder.bitcast(args[0], ir.IntType(64))


def _float_of_bits(context: Any, word: Any) -> Any:
    return types.float64(types.uint64), lambda c, builder, s, args: builder.bitcast(args[0], ir.DoubleType())


def _trailing_zeros(context: Any, word: Any) -> Any:
    return word(word), lambda c, builder, s, args: builder.cttz(args[0], ir.Constant(ir.IntType(1), 1))


bits: Any = intrinsic(_bits_of_float)
"""The 64 bits of a float."""
real: Any = intrinsic(_float_of_bits)
"""The float of 64 bits."""
lowest: Any = intrinsic(_trailing_zeros)
"""The position of the lowest bit set of a word, signed or not, that is not zero."""
if config.DISABLE_JIT:
    bits = lambda value: np.float64(value).view(np.uint64)  # noqa: E731
    real = lambda word: np.uint64(word).view(np.float64)  # noqa: E731
    lowest = lambda word: type(word)((int(word) & -int(word)).bit_length() - 1)  # noqa: E731


# ---------------------------------------------------------------------------------------------------------------- draws


@inlined
def mix(word: Any) -> Any:
    """Return the splitmix64 finaliser of a 64-bit word."""
    word = (word ^ (word >> U(30))) * U(0xBF58476D1CE4E5B9)
    word = (word ^ (word >> U(27))) * U(0x94D049BB133111EB)
    return word ^ (word >> U(31))


def streams(seed: int, first: int, past: int) -> Any:
    """Return the streams of replications `first` to before `past`."""
    finalise = getattr(mix, "py_func", mix)
    with np.errstate(over="ignore"):
        start = finalise(np.array([seed % 2**64], U) * GOLDEN + ONE)
        return finalise(start + np.arange(first, past, dtype=U) * GOLDEN)


@inlined
def counter(purpose: Any, order: Any, stage: Any, visit: Any) -> Any:
    """Return the place of a draw in its stream; room for 32 purposes, 64 stages, 64 visits and 2^47 orders."""
    return (((U(order) << U(5)) | purpose) << U(12)) | (U(stage) << SIX) | U(visit)


@inlined
def unit(word: Any) -> Any:
    """Return a number in (0, 1), never 0 or 1, from the upper 53 bits."""
    return (np.int64(word >> U(11)) + 0.5) * 1.1102230246251565e-16


@inlined
def uniform(stream: Any, purpose: Any, order: Any, stage: Any, visit: Any) -> Any:
    """Return an even draw in (0, 1)."""
    return unit(mix(stream + counter(purpose, order, stage, visit) * GOLDEN))


def evens(stream: Any, purpose: Any, order: Any, stage: Any, visit: Any) -> Any:
    """Return `uniform` of whole arrays of integers, outside what is compiled."""
    finalise, place, scale = (getattr(one, "py_func", one) for one in (mix, counter, unit))
    with np.errstate(over="ignore"):
        return scale(finalise(stream + place(purpose, order, stage, visit) * GOLDEN))


@inlined
def exponential(x: Any) -> Any:
    """Return e^x for |x| < 700 without a branch: Taylor to the twelfth power on |r| ≤ ln 2 ÷ 2, relative error 3e-16."""
    shifted = x * 1.4426950408889634 + 6755399441055744.0
    k = shifted - 6755399441055744.0
    r = (x - k * 6.93147180369123816490e-01) - k * 1.90821492927058770002e-10
    p = 1 / 479001600.0
    p = p * r + 1 / 39916800.0
    p = p * r + 1 / 3628800.0
    p = p * r + 1 / 362880.0
    p = p * r + 1 / 40320.0
    p = p * r + 1 / 5040.0
    p = p * r + 1 / 720.0
    p = p * r + 1 / 120.0
    p = p * r + 1 / 24.0
    p = p * r + 1 / 6.0
    p = (p * r + 0.5) * r + 1.0
    return (p * r + 1.0) * real((bits(shifted) + U(1023)) << U(52))


@inlined
def logarithm(x: Any) -> Any:
    """Return ln x for normal x > 0 without a branch: x = m · 2^e, ln m from the odd series of f ÷ (2 + f) (minimax, degree 14)."""
    word = bits(x) - U(0x3FE6A09E667F3BCD)
    e = np.float64(np.int64(word) >> 52)
    f = real((word & U(0x000FFFFFFFFFFFFF)) + U(0x3FE6A09E667F3BCD)) - 1.0
    s = f / (2.0 + f)
    z = s * s
    p = z * 1.479819860511658591e-01 + 1.531383769920937332e-01
    p = p * z + 1.818357216161805012e-01
    p = p * z + 2.222219843214978396e-01
    p = p * z + 2.857142874366239149e-01
    p = p * z + 3.999999999940941908e-01
    p = p * z + 6.666666666666735130e-01
    half = 0.5 * f * f
    return e * 6.93147180369123816490e-01 - ((half - (s * (half + p * z) + e * 1.90821492927058770002e-10)) - f)


CENTRE_ABOVE = (3.3871328727963666080e0, 1.3314166789178437745e2, 1.9715909503065514427e3, 1.3731693765509461125e4,
                4.5921953931549871457e4, 6.7265770927008700853e4, 3.3430575583588128105e4, 2.5090809287301226727e3)
CENTRE_BELOW = (1.0, 4.2313330701600911252e1, 6.8718700749205790830e2, 5.3941960214247511077e3, 2.1213794301586595867e4,
                3.9307895800092710610e4, 2.8729085735721942674e4, 5.2264952788528545610e3)
TAIL_ABOVE = (1.42343711074968357734e0, 4.63033784615654529590e0, 5.76949722146069140550e0, 3.64784832476320460504e0,
              1.27045825245236838258e0, 2.41780725177450611770e-1, 2.27238449892691845833e-2, 7.74545014278341407640e-4)
TAIL_BELOW = (1.0, 2.05319162663775882187e0, 1.67638483018380384940e0, 6.89767334985100004550e-1, 1.48103976427480074590e-1,
              1.51986665636164571966e-2, 5.47593808499534494600e-4, 1.05075007164441684324e-9)
FAR_ABOVE = (6.65790464350110377720e0, 5.46378491116411436990e0, 1.78482653991729133580e0, 2.96560571828504891230e-1,
             2.65321895265761230930e-2, 1.24266094738807843860e-3, 2.71155556874348757815e-5, 2.01033439929228813265e-7)
FAR_BELOW = (1.0, 5.99832206555887937690e-1, 1.36929880922735805310e-1, 1.48753612908506148525e-2, 7.86869131145613259100e-4,
             1.84631831751005468180e-5, 1.42151175831644588870e-7, 2.04426310338993978564e-15)
FAR_WORD = U(256204778)
"""Upper limit of a word (of 2^64) beyond which AS 241 changes to its outermost formula: e^−25 · 2^64 is 2.56e8."""


@inlined
def _poly(c: Any, x: Any) -> Any:
    return ((((((c[7] * x + c[6]) * x + c[5]) * x + c[4]) * x + c[3]) * x + c[2]) * x + c[1]) * x + c[0]


@inlined
def near_normal(u: Any) -> Any:
    """Return the normal deviate with P(Z ≤ z) = u for e^−25 < u < 1 − e^−25, both formulas computed, one chosen, no branch."""
    q = u - 0.5
    r = 0.180625 - q * q
    t = math.sqrt(-logarithm(u if q < 0.0 else 1.0 - u)) - 1.6
    tail_above = math.copysign(_poly(TAIL_ABOVE, t), q)
    tail_below = _poly(TAIL_BELOW, t)
    above = q * _poly(CENTRE_ABOVE, r)
    below = _poly(CENTRE_BELOW, r)
    central = r >= 0.0
    return (above if central else tail_above) / (below if central else tail_below)


@inner
def normal(u: Any) -> Any:
    """Return the normal deviate with P(Z ≤ z) = u for u in (0, 1), relative error about 1e-16 (AS 241, PPND16)."""
    tail = u if u < 0.5 else 1.0 - u
    if tail > 1.3887943864964021e-11:
        return near_normal(u)
    t = math.sqrt(-math.log(tail)) - 5.0
    return math.copysign(_poly(FAR_ABOVE, t) / _poly(FAR_BELOW, t), u - 0.5)


@inlined
def gumbel(u: Any) -> Any:
    """Return ln (−ln u)."""
    return logarithm(-logarithm(u))


@inner
def hours_of(law: Any, mean: Any, sd: Any, u: Any) -> Any:
    """Return hours whose logarithm has location `mean` and scale `sd` under one of the two laws."""
    return exponential(mean + sd * (normal(u) if law == LOGNORMAL else gumbel(u)))


@inner
def fill_hours(law: Any, start: Any, steps: Any, mean: Any, sd: Any, hours: Any) -> None:
    """Draw many first visits at once, eight wide where the machine can.

    Parameters
    ----------
    law : int
        LOGNORMAL or WEIBULL.
    start : uint64
        Stream plus the counter of the first draw, golden ratio included.
    steps : ndarray(uint64, ndim=1)
        Distance of each draw from the first, golden ratio included.
    mean, sd : ndarray(float64, ndim=1)
        Location and scale of ln hours.
    hours : ndarray(float64, ndim=1)
        Filled.
    """
    n, nearest = len(hours), NEVER
    for i in range(n):
        word = mix(start + steps[i])
        far = word + FAR_WORD
        nearest = far if far < nearest else nearest
        hours[i] = exponential(mean[i] + sd[i] * near_normal(unit(word)))
    if nearest < FAR_WORD + FAR_WORD or law != LOGNORMAL:
        for i in range(n):
            hours[i] = hours_of(law, mean[i], sd[i], unit(mix(start + steps[i])))


@inlined
def key_of(time: Any, slot: Any) -> Any:
    """Return time (≥ 0) and slot as one integer that sorts by time, then slot; time loses its last seven of 52 bits."""
    return (bits(time) & ~SLOT_BITS) | slot


@inlined
def soonest(keys: Any) -> Any:
    """Return the smallest key; 16 keys are scanned without a loop, else a multiple of eight."""
    best = keys[0]
    if len(keys) == 16:
        for i in range(1, 16):
            best = keys[i] if keys[i] < best else best
    else:
        for i in range(1, len(keys)):
            best = keys[i] if keys[i] < best else best
    return best


# ------------------------------------------------------------------------------------------------ an open network of benches

BLOCK = 64
"""Orders whose first visits are drawn together."""


def run_network(seed: int, first: int, gap: float, law: int, mean: Any, sd: Any, usual: Any, usual_word: Any, onward: Any, people_of: Any,
                stages_of: Any, counted: tuple[int, int], arrival: Any, finish: Any, totals: Any, events: Any) -> None:
    """Run an open network of benches and people who are always there: the workshop's common part, for checks and timing.

    Orders arrive one by one with exponential gaps. A person who becomes free takes the earliest order among the queues of
    own skills; an order that joins a queue is taken by the idle person with the skill who is asked first. Work is not interrupted.

    Parameters
    ----------
    seed, first : int
        Seed; number of the first replication.
    gap : float
        Mean time between orders.
    law : int
        LOGNORMAL or WEIBULL, see `hours_of`.
    mean, sd : ndarray(float64, ndim=1)
        Per stage, location and scale of ln time.
    usual : ndarray(uint64, ndim=1)
        Where orders usually go: element 0 on arrival, element s + 1 after stage s; the number of stages means out.
    usual_word : ndarray(uint64, ndim=1)
        Chance of that, of 2^64; NEVER: always, without a draw.
    onward : ndarray(float64, ndim=2)
        Row as `usual`, columns stages and out: cumulative chances, used when the draw is not below `usual_word`.
    people_of, stages_of : ndarray(uint64, ndim=1)
        Bits of the people who can serve a stage, of the stages a person can serve.
    counted : tuple of int
        First and one past the last order that enters `totals`.
    arrival, finish : ndarray(float64, ndim=2)
        Filled, replication × order: times.
    totals : ndarray(float64, ndim=3)
        Filled, replication × stage × (visits, time at the bench, time in the queue).
    events : ndarray(int64, ndim=1)
        Filled, per replication: arrivals and ended visits.
    """
    n, n_stages, n_people = arrival.shape[1], len(mean), len(stages_of)
    block = min(BLOCK, n)
    places = np.arange(block, dtype=U)[:, None] << U(17) | np.arange(n_stages, dtype=U) << SIX
    work, entered, words = np.empty(n * n_stages), np.empty(n), np.zeros((n_stages, n // 64 + 2), U)
    head, count, keys = np.empty(n_stages, U), np.zeros(n_stages, np.int64), np.empty((n_people + 8) // 8 * 8, U)
    end, doing, at = np.empty(n_people), np.empty(n_people, U), np.empty(n_people, U)
    steps, means, sds = (places * GOLDEN).ravel(), np.tile(mean, block), np.tile(sd, block)
    for r, stream in enumerate(streams(seed, first, first + len(arrival))):
        head[:], keys[:] = n, NEVER
        with quick_to_compile(_play_network):
            events[r] = _play_network(
                stream, gap, law, mean, sd, usual, usual_word, onward, people_of, stages_of, *counted, arrival[r], finish[r], totals[r],
                steps, means, sds, work, words, head, count, entered, keys, end, doing, at)


@inlined
def draw_orders(stream: Any, gap: Any, law: Any, steps: Any, means: Any, sds: Any, work: Any, came: Any, drawn: Any, m: Any,
                n_stages: Any) -> None:
    """Draw times and first visits of the next `m` orders."""
    start = stream + counter(HOURS, drawn, NONE, NONE) * GOLDEN
    fill_hours(law, start, steps[: m * n_stages], means, sds, work[drawn * n_stages : (drawn + m) * n_stages])
    for i in range(drawn, drawn + m):
        came[i] = -gap * logarithm(uniform(stream, GAP, i, NONE, NONE))
    last = came[drawn - 1] if drawn else 0.0
    for i in range(drawn, drawn + m):
        last += came[i]
        came[i] = last


@inlined
def way_on(stream: Any, usual: Any, usual_word: Any, onward: Any, s: Any, place: Any) -> Any:
    """Return where an order goes after row `s` of the ways; `place` is that of the draw."""
    t = usual[s]
    if usual_word[s] != NEVER:
        word = mix(stream + place * GOLDEN)
        if word >= usual_word[s]:
            u, t = unit(word), ZERO
            while onward[s, t] < u:
                t += ONE
    return t


@inlined
def hours_at(stream: Any, law: Any, mean: Any, sd: Any, work: Any, i: Any, o: Any, s: Any) -> Any:
    """Return the hours of the visit of order `o` at stage `s` that begins, and count it at place `i` of `work`."""
    hours = work[i]
    if hours < 0.0:
        work[i] = hours - 1.0
        return hours_of(law, mean[s], sd[s], uniform(stream, HOURS, np.int64(o), np.int64(s), np.int64(-hours)))
    work[i] = -1.0
    return hours


@inlined
def earliest(head: Any, mine: Any, many: Any) -> Any:
    """Return the earliest order at the head of the queues in `mine`, and its stage; `many`: none."""
    take, stage = many, ZERO
    while mine != ZERO:
        k = lowest(mine)
        mine &= mine - ONE
        if head[k] < take:
            take, stage = head[k], k
    return take, stage


@inlined
def leave_queue(words: Any, head: Any, count: Any, s: Any, o: Any, many: Any) -> Any:
    """Take order `o` out of the queue of stage `s`; return whether others are left."""
    w = o >> SIX
    words[s, w] &= ~(ONE << (o & LOW_SIX))
    count[s] -= 1
    if count[s] == 0:
        head[s] = many
        return False
    while words[s, w] == ZERO:
        w += ONE
    head[s] = (w << SIX) | lowest(words[s, w])
    return True


@inlined
def seat(stream: Any, law: Any, mean: Any, sd: Any, work: Any, totals: Any, keys: Any, end: Any, doing: Any, at: Any, who: Any, o: Any,
         s: Any, now: Any, waited: Any, counts: Any, n_stages: Any) -> None:
    """Put order `o` on the bench of person `who` at stage `s`."""
    hours = hours_at(stream, law, mean, sd, work, o * n_stages + s, o, s)
    end[who] = now + hours
    keys[who] = key_of(end[who], who)
    doing[who], at[who] = o, s
    if counts:
        totals[s, 0] += 1.0
        totals[s, 1] += hours
        totals[s, 2] += waited


@inlined
def join_queue(words: Any, head: Any, count: Any, s: Any, o: Any) -> None:
    """Let order `o` wait before stage `s`."""
    words[s, o >> SIX] |= ONE << (o & LOW_SIX)
    count[s] += 1
    head[s] = o if o < head[s] else head[s]


@compiled
def _play_network(stream: Any, gap: Any, law: Any, mean: Any, sd: Any, usual: Any, usual_word: Any, onward: Any, people_of: Any,
                  stages_of: Any, counted_from: Any, counted_to: Any, came: Any, done: Any, totals: Any, steps: Any, means: Any, sds: Any,
                  work: Any, words: Any, head: Any, count: Any, entered: Any, keys: Any, end: Any, doing: Any, at: Any) -> Any:
    """Play one replication of the network; return its events."""
    n, n_stages, n_people = len(came), len(people_of), U(len(stages_of))
    many, out, from_, to = U(n), U(n_stages), U(counted_from), U(counted_to)
    idle, waiting, drawn, coming, events = (ONE << n_people) - ONE if n_people < U(64) else NEVER, ZERO, NONE, ZERO, 0
    while True:
        if np.int64(coming) == drawn and drawn < n:
            m = BLOCK if n - drawn > BLOCK else n - drawn
            draw_orders(stream, gap, law, steps, means, sds, work, came, drawn, m, n_stages)
            drawn += m
            keys[n_people] = key_of(came[coming], n_people)
        best = soonest(keys)
        if best == NEVER:
            return events
        events += 1
        p = best & SLOT_BITS
        if p == n_people:
            o, s, place = coming, ZERO, counter(WHERE, np.int64(coming), np.int64(63), NONE)
            now = came[o]
            coming += ONE
            keys[p] = key_of(came[coming], p) if np.int64(coming) < drawn else NEVER
        else:
            now, o, s = end[p], doing[p], at[p] + ONE
            place = counter(WHERE, np.int64(o), np.int64(at[p]), np.int64(-work[o * out + at[p]]))
        t = way_on(stream, usual, usual_word, onward, s, place)
        entered[o] = now
        # who was idle before is asked first, then the person who has just become free
        placed, q = t == out, n_people
        if placed:
            done[o] = now
        elif idle & people_of[t] != ZERO:
            q, placed = lowest(idle & people_of[t]), True
            idle &= ~(ONE << q)
        take, stage, who, again = o, t, q, p != n_people
        while True:
            if who != n_people:
                seat(stream, law, mean, sd, work, totals, keys, end, doing, at, who, take, stage, now, now - entered[take],
                     from_ <= take < to, out)
            if not again:
                break
            again, who = False, p
            take, stage = earliest(head, waiting & stages_of[p], many)
            if not placed and (stages_of[p] >> t) & ONE == ONE and o < take:
                take, stage, placed = o, t, True
            elif take != many:
                if not leave_queue(words, head, count, stage, take, many):
                    waiting &= ~(ONE << stage)
            else:
                idle |= ONE << p
                keys[p], who = NEVER, n_people
        if not placed:
            join_queue(words, head, count, t, o)
            waiting |= ONE << t


# ------------------------------------------------------------------------------------------------------- the workshop itself

MISSING = float("nan")
NO_EVENT = 0x7FFFFFFFFFFFFFFF
"""Later than any event."""
ORDER_BITS = 0xFFFFFFFF
"""The low half of a key in a queue is the order itself."""
FAR = 1e9
"""A day that never comes."""
TICK = 1.0 / 1048576.0
"""Days, a twelfth of a second: what brings an order back (a hold, work sent out, delivery) is kept in whole ticks, rounded up."""
BY_PROMISE, BY_ORDER, BY_QUEUE = range(3)
"""Dispatch rules."""
NOTHING, BEGINS, ONWARD, FINISHES, ARRIVES, PASSES, LINES_UP, STARTS = range(8)
"""What becomes of an order: nothing; it is new; a visit is over; all are; it comes to a stage; no hold; it queues; it is on a bench."""
ON_HOLD, SENT_OUT, DELIVERING = range(3)
"""Why an order is away."""
CUT_BY_EVENTS, CUT_BY_ROOM = 1, 2
"""Flags of a replication: the bound on events was reached; the room for orders was too small."""


def _record(integers: str, numbers: str, words: str = "") -> Any:
    kinds = ((words, "u8"), (integers, "i8"), (numbers, "f8"))
    return np.dtype([(name, kind) for names, kind in kinds for name in names.split()])


DRAW = _record("", "strength quote_a quote_b quote_sd win_shift win_wait win_price dispersion")
"""One row a parameter draw: what concerns the shop …"""
STAGE_DRAW = _record("", "slope rework sd")
"""… a stage …"""
PERSON_DRAW = _record("", "bench_share absence_chance")
"""… and a person."""
SHOP = _record(
    "law rule most_events until_open_done open seq next day undelivered idle waiting",
    "day_start span day_hours handover quote_step quote_low quote_high win_weeks win_scale rush_share demand_factor horizon frac "
    + " ".join(DRAW.names or ()), "stream")
"""One record: what holds for the whole shop and plan, the draws of this replication, and where the run stands."""
STAGE = _record("people skill size", "hold_chance repass out_share out_days out_from slope rework sd")
"""A stage and the length of its queue; one row more than stages, for the orders that are away."""
PERSON = _record("stages later_stages doing at busy", "later_from leave_chance leave_after bench_share absence_chance end closes")
SKILL = _record("stages", "help_per_day help_most bank bank_from")
LEARNING = _record("", "rate pieces spread done count")
PIECE_TYPE = _record("cls alloy", "ln_w win_logit ln_price")
OPEN = _record("cls alloy rush status stage person repair rank", "ln_w ordered promised spent_h left_h until")
DAY = _record("weekday month", "shop_open shop_days")
ORDER = np.dtype([(name, "f8") for name in ("arrival", "first_start", "finish")]
                 + [(name, "f4") for name in ("promise", "weeks_quoted", "delivered", "touch_h", "wait_days")]
                 + [("piece", "i4"), ("number", "i4"), ("visits", "i2"), ("rush", "i1"), ("lost", "i1")])
"""What is told of an order or enquiry. Times in days from the midnight after the as-of day, NaN while they have not come; whole days and
sums of hours are kept in half the width."""
CARD = _record("cls alloy route why stage repair passed", "ln_w entered left_h")
"""What only the run itself must know of it."""


class Plan(NamedTuple):
    """One workshop, state and scenario as the kernel reads them: R rows of draws, S stages padded to W, C classes of order, P people, K
    skills, H days, M months, n open orders.

    Attributes
    ----------
    shop : SHOP (1,)
    draws, stage_draws, person_draws : DRAW (R,), STAGE_DRAW (R, W), PERSON_DRAW (R, P)
    mean : float64 (R, C, W), location of ln hours of a first visit at the centre of weights
    back, back_to : float64 (R, S, A), (S, S), chance to be sent back; where to, cumulative
    passes : float64 (C, S)
    stages, people, skills, learning : STAGE (S + 1,), PERSON (P,), SKILL (K,), LEARNING (P, K)
    paid : float64 (P, H), paid hours; −1 on the first day of an absence that hands work over
    days : DAY (H,)
    rates : float64 (R, M), enquiries a shop day
    absence_days, hold_days, lag_days, lag_from : int64, float64, int64, int64 (8,), what is drawn from
    pieces, opened, opened_visits : PIECE_TYPE, OPEN (n,), int64 (n, S)
    """

    shop: Any
    draws: Any
    stage_draws: Any
    person_draws: Any
    mean: Any
    back: Any
    back_to: Any
    passes: Any
    stages: Any
    people: Any
    skills: Any
    learning: Any
    paid: Any
    days: Any
    rates: Any
    absence_days: Any
    hold_days: Any
    lag_days: Any
    lag_from: Any
    pieces: Any
    opened: Any
    opened_visits: Any


@inlined
def moment(time: Any, slot: Any) -> Any:
    """Return `key_of` as a signed integer; neither time nor slot is negative."""
    return (np.int64(bits(time)) & -128) | slot


@inlined
def push(queue: Any, stages: Any, s: Any, key: Any) -> None:
    """Add a key to the heap of row `s`, smallest first."""
    row = stages[s]
    i = row["size"]
    row["size"] = i + 1
    while i > 0:
        above = queue[s, (i - 1) >> 1]
        if above <= key:
            break
        queue[s, i] = above
        i = (i - 1) >> 1
    queue[s, i] = key


@inlined
def pop(queue: Any, stages: Any, s: Any, i: Any) -> Any:
    """Take the key at place `i` out of the heap of row `s` and return its order; place 0 holds the smallest."""
    row, taken = stages[s], queue[s, i]
    n = row["size"] - 1
    row["size"] = n
    last = queue[s, n]
    while i > 0 and queue[s, (i - 1) >> 1] > last:
        queue[s, i] = queue[s, (i - 1) >> 1]
        i = (i - 1) >> 1
    while 2 * i + 1 < n:
        j = 2 * i + 1
        j += 1 if j + 1 < n and queue[s, j + 1] < queue[s, j] else 0
        if queue[s, j] >= last:
            break
        queue[s, i] = queue[s, j]
        i = j
    queue[s, i] = last
    return taken & ORDER_BITS


@inner
def draw_days(g: Any, people: Any, paid: Any, lengths: Any, today: Any, keys: Any) -> None:
    """Fill `today`, person × day: paid hours, 0 when away, −1 on the first day of an absence that hands work over; set who comes when."""
    stream, start = g["stream"], g["day_start"]
    for p in range(len(people)):
        person = people[p]
        chance, gone, missing, there, first = person["absence_chance"], FAR, 0, True, FAR
        if person["leave_chance"] > 0.0 and uniform(stream, LEAVES, p, NONE, NONE) < person["leave_chance"]:
            gone = person["leave_after"] + 365.0 * uniform(stream, LEAVING, p, NONE, NONE)
        for day in range(paid.shape[1]):
            hours = paid[p, day]
            if day >= gone or hours < 0.0:
                hours = -1.0 if there else 0.0
            elif hours > 0.0 and (missing > 0 or chance > 0.0):
                if missing == 0 and uniform(stream, ABSENT, day, p, NONE) < chance:
                    missing = lengths[np.int64(uniform(stream, LENGTH, day, p, NONE) * len(lengths))]
                    if missing > g["handover"]:
                        hours = -1.0
                elif missing > 0:
                    hours = 0.0
                if missing > 0:
                    hours = hours if hours < 0.0 else 0.0
                    missing -= 1
            today[p, day] = hours
            there = hours > 0.0 or (hours == 0.0 and there)
            if hours > 0.0 and first == FAR:
                first = day + start
        person["end"] = first
        keys[p] = moment(first, p)


@inlined
def bench_end(g: Any, today: Any, p: Any, share: Any, time: Any, hours: Any) -> Any:
    """Return when `hours` of bench work of person `p` from `time` on end, and the hours left where an absence cuts them off."""
    start, span, last = g["day_start"], g["span"], time
    for day in range(np.int64(time), today.shape[1]):
        paid = today[p, day]
        if paid < 0.0:
            return last, hours
        if paid > 0.0:
            begins, closes = day + start, day + start + paid * span
            begins = time if time > begins else begins
            if begins < closes:
                can = (closes - begins) / span * share
                if hours <= can:
                    return begins + hours / share * span, 0.0
                hours -= can
                last = closes
    return FAR, hours


@inlined
def visit_hours(g: Any, stage: Any, skill: Any, course: Any, mean: Any, card: Any, work: Any, p: Any, o: Any, s: Any, worked: Any) -> Any:
    """Return the hours of the visit of order `o` at stage `s` that person `p` now begins, and count it."""
    hours = work[o, s]
    if hours < 0.0:
        location = mean[card["cls"], s] + stage["slope"] * card["ln_w"] + stage["rework"]
        u = uniform(g["stream"], HOURS, o, s, np.int64(-hours))
        work[o, s] = hours - 1.0
        hours = hours_of(g["law"], location, stage["sd"], u)
    else:
        work[o, s] = -1.0
    pieces = course["pieces"]
    if pieces > 0.0:
        course["count"] += 1.0
        if course["spread"] > 0.0:
            pieces *= math.exp(course["spread"] * normal(uniform(g["stream"], LEARNS, p, stage["skill"], NONE)))
        slower = (course["count"] / pieces) ** (math.log(course["rate"]) / 0.6931471805599453)
        hours *= 3.0 if slower > 3.0 else slower if slower > 1.0 else 1.0
    if skill["help_per_day"] > 0.0:
        bank, lent = skill["bank"] + skill["help_per_day"] * (worked - skill["bank_from"]), 0.0
        bank = skill["help_most"] if bank > skill["help_most"] else bank
        if g["waiting"] & skill["stages"] != 0:
            lent = bank if bank < 0.5 * hours else 0.5 * hours
        skill["bank"], skill["bank_from"] = bank - lent, worked
        hours -= lent
    return hours


@inlined
def next_stage(g: Any, stages: Any, back: Any, back_to: Any, card: Any, work: Any, o: Any, s: Any) -> Any:
    """Return where order `o` goes after a visit to stage `s` (−1: at its beginning): back, on, or out (the number of stages)."""
    repair, n_stages, stream = card["repair"], len(stages) - 1, g["stream"]
    if s >= 0:
        visit = np.int64(-work[o, s] - 1.0) if work[o, s] < 0.0 else 0
        chance = back[s, card["alloy"]]
        repair = -1 if repair == s else repair
        card["repair"] = repair
        if chance > 0.0 and visit < MOST_VISITS and uniform(stream, BACK, o, s, visit) < chance:
            card["repair"] = s if s > repair else repair
            u, t = uniform(stream, WHERE, o, s, visit), 0
            while t < s and back_to[s, t] < u:
                t += 1
            return t
    for t in range(s + 1, n_stages):
        if t == repair:
            return t
        if (card["route"] >> t) & 1 == 1:
            visits = np.int64(-work[o, t]) if work[o, t] < 0.0 else 0
            again = stages[t]["repass"]
            if t > repair or visits == 0 or again >= 1.0 or uniform(stream, REPASS, o, t, visits & 63) < again:
                return t
    return n_stages


@inner
def nothing_happened(order: Any) -> None:
    """Set all that a record tells of what was done; memory it was written into is not blank."""
    order["first_start"], order["finish"], order["delivered"] = MISSING, MISSING, MISSING
    order["touch_h"], order["wait_days"], order["visits"] = 0.0, 0.0, 0


@inlined
def next_enquiry(g: Any, days: Any, factor: Any, rates: Any, keys: Any, slot: Any, o: Any) -> None:
    """Set the time of the next enquiry: an exponential draw spent along the expected enquiries of the days to come."""
    need, at, frac = -math.log(uniform(g["stream"], GAP, o, NONE, NONE)), g["day"], g["frac"]
    keys[slot] = NO_EVENT
    while at < len(days):
        day = days[at]
        month = day["month"]
        rate = day["shop_open"] * rates[month] * factor[month] * g["demand_factor"]
        rest = rate * (1.0 - frac)
        if need < rest:
            frac += need / rate
            keys[slot] = moment(at + g["day_start"] + frac * g["day_hours"] * g["span"], slot)
            break
        need -= rest
        at += 1
        frac = 0.0
    g["day"], g["frac"] = at, frac


@inlined
def enquire(g: Any, pieces: Any, order: Any, card: Any, o: Any, time: Any) -> Any:
    """Quote enquiry `o`; return whether it is won, and so an order with a promise; lost, it stays a record."""
    stream = g["stream"]
    which = np.int64(uniform(stream, PIECE, o, NONE, NONE) * len(pieces))
    piece, weeks, step = pieces[which], g["quote_a"] + g["quote_b"] * g["open"], g["quote_step"]
    if g["quote_sd"] > 0.0:
        weeks += g["quote_sd"] * normal(uniform(stream, QUOTE, o, NONE, NONE))
    if step > 0.0:
        weeks = math.floor(weeks / step + 0.5) * step
    weeks = g["quote_low"] if weeks < g["quote_low"] else weeks
    weeks = g["quote_high"] if weeks > g["quote_high"] else weeks
    logit = piece["win_logit"] + g["win_shift"] + g["win_wait"] * (weeks - g["win_weeks"]) + g["win_price"] * piece["ln_price"]
    won = uniform(stream, WIN, o, NONE, NONE) < g["win_scale"] / (1.0 + math.exp(-logit))
    order["arrival"], order["weeks_quoted"] = time, weeks
    order["piece"], order["number"], order["lost"] = which, o, 0 if won else 1
    order["promise"] = math.floor(time) + math.floor(7.0 * weeks + 0.5)
    order["rush"] = 1 if g["rush_share"] > 0.0 and uniform(stream, RUSH, o, NONE, NONE) < g["rush_share"] else 0
    card["cls"], card["alloy"], card["ln_w"] = piece["cls"], piece["alloy"], piece["ln_w"]
    if won:
        g["open"] += 1
    else:
        nothing_happened(order)
    return won


@inner
def place(g: Any, start: Any, visits: Any, order: Any, card: Any, work: Any, o: Any) -> Any:
    """Put open order `o` where it stands at the beginning; return what becomes of it, and when it comes back (FAR: it is not away)."""
    status, until = start["status"], start["until"]
    card["stage"], card["repair"] = start["stage"], start["repair"]
    order["arrival"], order["promise"], order["rush"] = start["ordered"], start["promised"], start["rush"]
    g["seq"] = start["rank"]
    order["weeks_quoted"], order["piece"] = MISSING, -1
    order["number"], order["lost"] = o, 0
    for t in range(visits.shape[1]):
        if visits[o, t] > 0:
            work[o, t] = -float(visits[o, t])
    if status == 4:
        order["finish"] = 0.0
        if until != until:
            return FINISHES, FAR
        order["delivered"], card["why"] = until, DELIVERING
        return NOTHING, until
    if status == 3:
        return NOTHING, until
    if status == 1:
        card["left_h"], order["first_start"] = start["left_h"], 0.0
        return STARTS if start["person"] >= 0 else LINES_UP, FAR
    return ONWARD if status == 2 else LINES_UP, FAR


@inlined
def wake(g: Any, people: Any, opened: Any, orders: Any, cards: Any, stages: Any, queue: Any, pieces: Any, slot: Any, o: Any,
         time: Any) -> Any:
    """Return what the event of a slot brings: its order, that order's stage, the person set free (−1: none), what becomes of the order."""
    n_people, n_open = len(people), len(opened)
    if slot < n_people:
        person = people[slot]
        if person["busy"] == 0:
            return -1, -1, slot, NOTHING
        o = person["doing"]
        return o, person["at"], slot, LINES_UP if cards[o]["left_h"] > 0.0 else ONWARD
    if slot == n_people:
        g["next"] += 1
        return o, -1, -1, BEGINS if enquire(g, pieces, orders[o], cards[o], o, time) else NOTHING
    o = pop(queue, stages, len(stages) - 1, NONE)
    card = cards[o]
    why = card["why"]
    if why == DELIVERING:
        g["open"] -= 1
        g["undelivered"] -= 1 if o < n_open else 0
        return o, -1, -1, NOTHING
    return o, card["stage"], -1, PASSES if why == ON_HOLD else ONWARD


@inlined
def finish(g: Any, day: Any, weekday: Any, lag_days: Any, lag_from: Any, order: Any, card: Any, o: Any, n_open: Any, time: Any) -> Any:
    """End the last visit of order `o`; return the day of its delivery, FAR when it has been delivered at once."""
    n, lag = lag_from[weekday + 1] - lag_from[weekday], 0
    if n > 0:
        lag = lag_days[lag_from[weekday] + np.int64(uniform(g["stream"], LAG, o, NONE, NONE) * n)]
    order["finish"], order["delivered"], card["why"] = time, day + lag, DELIVERING
    if lag > 0:
        return float(day + lag)
    g["open"] -= 1
    g["undelivered"] -= 1 if o < n_open else 0
    return FAR


@inlined
def stop_before(g: Any, bench: Any, hold_days: Any, order: Any, card: Any, work: Any, o: Any, s: Any, does: Any, time: Any) -> Any:
    """Hold order `o` before stage `s`, or send it out; return when it comes back, FAR when it may queue at once."""
    stream, hours = g["stream"], work[o, s]
    if does == ARRIVES and bench["hold_chance"] > 0.0 and hours >= 0.0 and uniform(stream, HOLD, o, s, NONE) < bench["hold_chance"]:
        card["why"], card["stage"] = ON_HOLD, s
        return time + hold_days[np.int64(uniform(stream, HOLD_DAYS, o, s, NONE) * len(hold_days))]
    visits = -hours if hours < 0.0 else 0.0
    if bench["out_share"] > 0.0 and time >= bench["out_from"] and uniform(stream, OUT, o, s, np.int64(visits) & 63) < bench["out_share"]:
        card["why"], card["stage"], work[o, s] = SENT_OUT, s, -1.0 - visits
        if order["first_start"] != order["first_start"]:
            order["first_start"] = time
        return time + bench["out_days"]
    return FAR


@inlined
def key_in_queue(g: Any, order: Any, o: Any) -> Any:
    """Return the key under which order `o` waits: rush first, then the rule, then the order itself."""
    key = (1 - np.int64(order["rush"])) << 62 | o
    if g["rule"] == BY_PROMISE:
        return key | np.int64(order["promise"] + 524288.0) << 32
    if g["rule"] == BY_QUEUE:
        g["seq"] += 1
        return key | (g["seq"] - 1) << 32
    return key


@inlined
def is_away(g: Any, person: Any, today: Any, keys: Any, p: Any, day: Any, time: Any) -> Any:
    """Return whether the day of person `p` is over or has not begun; set when it next begins."""
    if time < person["closes"] - 1e-9:
        return False
    opens = day + g["day_start"]
    closes = opens + today[p, day] * g["span"]
    person["closes"] = closes
    if opens <= time < closes - 1e-9:
        return False
    next_day = day + 1 if time >= opens else day
    while next_day < today.shape[1] and today[p, next_day] <= 0.0:
        next_day += 1
    end = next_day + g["day_start"] if next_day < today.shape[1] else FAR
    person["end"] = end
    keys[p] = moment(end, p)
    return True


@inlined
def find_work(g: Any, person: Any, stages: Any, cards: Any, queue: Any, keys: Any, p: Any, time: Any) -> Any:
    """Take the next order of person `p` out of its queue; return order and stage, −1 where the person now stands idle.

    That is the first of all in the queues of own stages; now and then, and only where none is rush, it is any of them.
    """
    mine = g["waiting"] & (person["stages"] | (person["later_stages"] if time >= person["later_from"] else 0))
    if mine == 0:
        g["idle"] |= 1 << p
        keys[p] = NO_EVENT
        if time < person["later_from"] < FAR:
            person["end"] = person["later_from"] + g["day_start"]
            keys[p] = moment(person["end"], p)
        return -1, -1
    best, s, rest = NO_EVENT, 0, mine
    at, n = NONE, 0
    while rest != 0:
        k = lowest(rest)
        rest &= rest - 1
        n += stages[k]["size"]
        if queue[k, 0] < best:
            best, s = queue[k, 0], k
    if g["strength"] < 1.0 and n > 1 and best >> 62 == 1:
        first = best & ORDER_BITS
        passed = cards[first]["passed"]
        if uniform(g["stream"], PICK, first, s, passed) >= g["strength"]:
            cards[first]["passed"] = (passed + 1) & 31
            at, rest = np.int64(uniform(g["stream"], PICK, first, s, 32 + passed) * n), mine
            s = lowest(rest)
            while at >= stages[s]["size"]:
                at -= stages[s]["size"]
                rest &= rest - 1
                s = lowest(rest)
    o = pop(queue, stages, s, at)
    if stages[s]["size"] == 0:
        g["waiting"] &= ~(1 << s)
    return o, s


@inlined
def begin(g: Any, person: Any, stages: Any, skills: Any, learning: Any, mean: Any, order: Any, card: Any, work: Any, today: Any,
          totals: Any, keys: Any, p: Any, o: Any, s: Any, worked: Any, time: Any) -> Any:
    """Put order `o` on the bench of person `p`: a visit to stage `s`, or what an absence left of one; return hours booked, days waited."""
    wait, hours = time - card["entered"], card["left_h"]
    if hours <= 0.0:
        stage = stages[s]
        k = stage["skill"]
        hours = visit_hours(g, stage, skills[k], learning[p, k], mean, card, work, p, o, s, worked)
        order["visits"] += 1
        totals[s, 0] += 1.0
        if order["first_start"] != order["first_start"]:
            order["first_start"] = time
    end, left = bench_end(g, today, p, person["bench_share"], time, hours)
    hours -= left
    card["left_h"] = left
    order["wait_days"] += wait
    order["touch_h"] += hours
    totals[s, 1] += hours
    totals[s, 2] += wait
    person["end"], person["doing"] = end, o
    person["at"], person["busy"] = s, 1
    keys[p] = moment(end, p)
    return hours, wait


@inlined
def hand_out(g: Any, people: Any, stages: Any, skills: Any, learning: Any, mean: Any, orders: Any, cards: Any, work: Any, today: Any,
             totals: Any, busy: Any, open_waits: Any, queue: Any, keys: Any, asked: Any, bench: Any, free: Any, starts: Any, o: Any, s: Any,
             day: Any, worked: Any, time: Any, n_open: Any) -> None:
    """Let those among `asked` who stand idle look for work while `bench` has a queue, then person `free` (−1: nobody).

    Where an order `starts` it lies on the bench of person `free` already: order `o` at stage `s`.
    """
    while True:
        if asked != 0 and bench["size"] > 0:
            p = lowest(asked)
            asked &= asked - 1
        elif free >= 0:
            p, free, asked = free, -1, 0
        else:
            return
        person = people[p]
        person["busy"] = 0
        g["idle"] &= ~(1 << p)
        if not starts:
            if is_away(g, person, today, keys, p, day, time):
                continue
            o, s = find_work(g, person, stages, cards, queue, keys, p, time)
            if o < 0:
                continue
        hours, wait = begin(g, person, stages, skills, learning, mean, orders[o], cards[o], work, today, totals, keys, p, o, s, worked,
                            time)
        busy[p] += hours
        if o < n_open:
            open_waits[o, s] += wait


@inlined
def take_in(g: Any, stages: Any, opened: Any, opened_visits: Any, passes: Any, mean: Any, order: Any, card: Any, work: Any, steps: Any,
            row_mean: Any, row_sd: Any, o: Any) -> Any:
    """Draw route and first visits of a new order, or of an open one and put it where it stands; return what becomes of it, and when."""
    if o < len(opened):
        card["cls"], card["alloy"], card["ln_w"] = opened[o]["cls"], opened[o]["alloy"], opened[o]["ln_w"]
    nothing_happened(order)
    card["left_h"], card["entered"] = 0.0, 0.0
    card["repair"], card["why"], card["passed"] = -1, ON_HOLD, 0
    cls, ln_w, stream = card["cls"], card["ln_w"], g["stream"]
    route = 0
    for s in range(len(stages) - 1):
        chance = passes[cls, s]
        if chance >= 1.0 or (chance > 0.0 and uniform(stream, PASS, o, s, NONE) < chance):
            route |= 1 << s
        row_mean[s] = mean[cls, s] + stages[s]["slope"] * ln_w
    card["route"] = route
    fill_hours(g["law"], stream + counter(HOURS, o, NONE, NONE) * GOLDEN, steps, row_mean, row_sd, work[o])
    if o < len(opened):
        return place(g, opened[o], opened_visits, order, card, work, o)
    return ONWARD, FAR


@compiled
def run_once(shop: Any, mean: Any, back: Any, back_to: Any, passes: Any, stages: Any, people: Any, skills: Any, learning: Any, paid: Any,
             days: Any, rates: Any, absence_days: Any, hold_days: Any, lag_days: Any, lag_from: Any, pieces: Any, opened: Any,
             opened_visits: Any, today: Any, factor: Any, keys: Any, queue: Any, work: Any, steps: Any, row_mean: Any, row_sd: Any,
             cards: Any, stream: Any, orders: Any, totals: Any, busy: Any, open_waits: Any, lost: Any) -> Any:
    """Run one replication event by event; return its flag and the number of events."""
    g = shop[0]
    g["stream"] = stream
    n_people, n_stages, n_open = len(people), len(stages) - 1, len(opened)
    draw_days(g, people, paid, absence_days, today, keys)
    next_enquiry(g, days, factor, rates, keys, n_people, n_open)
    events, time, placed = 0, 0.0, 0
    o: Any = NONE
    while True:
        if placed < n_open:
            o, s, free, does = NONE + placed, opened[placed]["stage"], -1, BEGINS
            placed += 1
        else:
            if placed == n_open:
                placed, g["seq"] = n_open + 1, n_open
            best = soonest(keys)
            slot = best & 127
            if best == NO_EVENT:
                return 0, events
            time = people[slot]["end"] if slot < n_people else real(U(best & -128))
            if time >= g["horizon"] or (g["until_open_done"] == 1 and g["undelivered"] == 0):
                return 0, events
            if events >= g["most_events"]:
                return CUT_BY_EVENTS, events
            if slot == n_people and n_open + g["next"] >= len(orders):
                return CUT_BY_ROOM, events
            events += 1
            o, s, free, does = wake(g, people, opened, orders, cards, stages, queue, pieces, slot, n_open + g["next"], time)
            if slot == n_people:
                lost[np.int64(time)] += 0 if does == BEGINS else 1
                next_enquiry(g, days, factor, rates, keys, n_people, o + 1)
        order, card, comes_back, day = orders[o], cards[o], FAR, np.int64(time)
        today_is = days[day]
        month = totals[today_is["month"]]
        if does == BEGINS:
            does, comes_back = take_in(g, stages, opened, opened_visits, passes, mean, order, card, work, steps, row_mean, row_sd, o)
        if does == ONWARD:
            t = next_stage(g, stages, back, back_to, card, work, o, s)
            does = ARRIVES if t < n_stages else FINISHES
            if t <= s:
                month[s, 3] += 1.0
            s = t
        if does == FINISHES:
            comes_back = finish(g, day, today_is["weekday"], lag_days, lag_from, order, card, o, n_open, time)
        bench = stages[s]
        if ARRIVES <= does <= PASSES:
            comes_back = stop_before(g, bench, hold_days, order, card, work, o, s, does, time)
            does = LINES_UP if comes_back == FAR else NOTHING
        asked = 0
        if does == LINES_UP:
            card["entered"] = time
            push(queue, stages, s, key_in_queue(g, order, o))
            g["waiting"] |= 1 << s
            asked = g["idle"] & bench["people"]
        elif comes_back < FAR:
            push(queue, stages, n_stages, math.ceil(comes_back / TICK) << 32 | o)
        elif does == STARTS:
            free = opened[o]["person"]
        hand_out(g, people, stages, skills, learning, mean, orders, cards, work, today, month, busy[today_is["month"]], open_waits, queue,
                 keys, asked, bench, free, does == STARTS, o, s, day, today_is["shop_days"], time, n_open)
        keys[n_people + 1] = moment((queue[n_stages, 0] >> 32) * TICK, n_people + 1) if stages[n_stages]["size"] > 0 else NO_EVENT
