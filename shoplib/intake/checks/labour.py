"""Doubts about the job cards: people, clocks, weights, and what they say about orders."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...settings import Settings, Stage
from ..findings import Flag
from .base import Book, Mask, flag

MOST_HOURS_A_DAY = 16.0
CLOCK_SLACK_HOURS = 0.02
FEW_WEIGHED = 10
FEW_DROP_SHARE = 0.1
"""With fewer than `FEW_WEIGHED` weighed entries at a cutting stage, a drop over this share of the weight is unusual."""

SPREADS, LEAST_DROP_SHARE = 5.0, 0.02
"""A drop is unusual from this many robust spreads above the median, and from this share of the weight at least."""

DAYS_BEFORE_ORDER = 31
_TELLING = 4
"""Columns by which rows that could be the same are found before they are compared in all: those with the most values."""

_MIXER = np.uint64(0x9E3779B97F4A7C15)


def labour_doubts(labour: Book, orders: Book, place: NDArray[np.intp], settings: Settings) -> list[Flag]:
    """Return the doubts about labour, unknown orders and unknown people aside; `place` is what `places` says of its orders."""
    place = labour.words("order_id").spread(place)
    return [
        *_hours(labour),
        *_overlaps(labour),
        *_weights(labour, orders, place, settings.policy.scale_readability_g),
        flag(
            labour.frame,
            unusual_drops(labour.frame, settings.stages),
            "weight_out_g",
            "drop_without_scrap",
            "much lighter after a stage that cuts, and no scrap noted",
            "note the clean cut-offs, or correct the weight; it is left out of the loss",
        ),
        *_against_orders(labour, orders, place),
        _repeated(labour),
        *_employment(labour, settings),
    ]


def _hours(labour: Book) -> list[Flag]:
    hours, frame = labour.numbers("hours"), labour.frame
    workers, (day, _) = labour.words("worker"), pd.factorize(labour.days("date"), use_na_sentinel=False)
    code = day * len(workers.values) + workers.codes
    if code.max(initial=0) > len(code):
        code = pd.factorize(code)[0]
    total = np.bincount(code, np.nan_to_num(hours))
    with np.errstate(invalid="ignore"):
        span = (frame["finish"].to_numpy("datetime64[s]") - frame["start"].to_numpy("datetime64[s]")).astype(np.float64) / 3600.0
        timed = frame["start"].notna().to_numpy() & frame["finish"].notna().to_numpy()
        over = timed & (hours > span + CLOCK_SLACK_HOURS)
    over_a_day = (
        (total > MOST_HOURS_A_DAY)[code] & (hours > 0) if (total > MOST_HOURS_A_DAY).any() else np.zeros(len(frame), dtype=np.bool_)
    )
    return [
        flag(
            frame,
            over_a_day,
            "hours",
            "hours_over_16",
            "one person has more than 16 hours on this day",
            "correct the hours, the date or the worker",
        ),
        flag(frame, over, "hours", "hours_over_clock", "more hours than lie between start and finish", "correct the hours or the clock"),
    ]


def _overlaps(labour: Book) -> list[Flag]:
    """Find entries of one person that begin before an earlier one has ended."""
    frame = labour.frame
    start, finish = (frame[name].to_numpy("datetime64[s]").astype(np.int64) for name in ("start", "finish"))
    timed = np.flatnonzero(frame["start"].notna().to_numpy() & frame["finish"].notna().to_numpy())
    person = labour.words("worker").codes[timed].astype(np.int64) << 40
    begins = person + start[timed]
    order = np.argsort(begins, kind="stable")
    begins, ends = begins.take(order), (person + finish[timed]).take(order)
    busy_until = np.maximum.accumulate(ends[:-1])
    inside = np.flatnonzero(begins[1:] < busy_until)
    inside = inside[begins[inside + 1] >> 40 == busy_until[inside] >> 40] + 1
    at = np.sort(timed[order[inside]])
    what = "overlaps another entry of the same person; costed as booked, counted once as presence"
    return [flag(frame, at, "start", "overlap", what, "correct start or finish")]


def _weights(labour: Book, orders: Book, place: NDArray[np.intp], readability_g: float) -> list[Flag]:
    """Find entries after which the piece is heavier than solder and findings explain."""
    gained = labour.numbers("weight_out_g") - labour.numbers("weight_in_g") - np.nan_to_num(labour.numbers("solder_g"))
    with np.errstate(invalid="ignore"):
        maybe = np.flatnonzero(gained > 2 * readability_g + 1e-9)
    added = orders.numbers("findings_g") + orders.numbers("not_metal_g")
    explained = np.where(place[maybe] >= 0, added[place[maybe]], 0.0) if len(added) else np.zeros(len(maybe))
    at = maybe[gained[maybe] > explained + 2 * readability_g + 1e-9]
    return [
        flag(
            labour.frame,
            at,
            "weight_out_g",
            "gained_without_solder",
            "heavier after the stage than solder and findings explain",
            "note the solder, or weigh again",
        )
    ]


def unusual_drops(labour: pd.DataFrame, stages: Sequence[Stage]) -> Mask:
    """Tell which entries at a cutting stage lost unusually much weight with no scrap noted.

    Parameters
    ----------
    labour : DataFrame
        Table ``labour``.
    stages : sequence of Stage
        Those with ``cuts``; when none has it, the stages at which at least a tenth of the weighed entries note scrap.

    Returns
    -------
    ndarray of bool, shape (rows,)
        Unusual: from five robust spreads (1.4826 × median absolute deviation) above the stage's median drop net of
        scrap, and 2 % of the weight at least; with fewer than ten weighed entries, 10 %.
    """
    weight_in = labour["weight_in_g"].to_numpy(np.float64)
    scrap = np.nan_to_num(labour["scrap_back_g"].to_numpy(np.float64))
    net = weight_in + np.nan_to_num(labour["solder_g"].to_numpy(np.float64)) - labour["weight_out_g"].to_numpy(np.float64) - scrap
    weighed = np.flatnonzero(~np.isnan(net))
    share, stage = net[weighed] / weight_in[weighed], labour["stage"].to_numpy(object)[weighed]
    odd = np.zeros(len(labour), dtype=np.bool_)
    for name in _cutting(stage, scrap[weighed], stages):
        here = np.flatnonzero(stage == name)
        odd[weighed[here]] = (share[here] > _usual_share(share[here])) & (scrap[weighed[here]] == 0)
    return odd


def _cutting(stage: NDArray[np.object_], scrap: NDArray[np.float64], stages: Sequence[Stage]) -> list[str]:
    named = [one.name for one in stages if one.cuts]
    if named or not len(stage):
        return named
    noted = pd.DataFrame({"stage": stage, "noted": scrap > 0}).dropna().groupby("stage")["noted"].mean()
    return [str(name) for name in noted.index[noted >= 0.1]]


def _usual_share(share: NDArray[np.float64]) -> float:
    if len(share) < FEW_WEIGHED:
        return FEW_DROP_SHARE
    middle = float(np.median(share))
    return max(middle + SPREADS * 1.4826 * float(np.median(np.abs(share - middle))), LEAST_DROP_SHARE)


def _against_orders(labour: Book, orders: Book, place: NDArray[np.intp]) -> list[Flag]:
    """Find work on an order after it was delivered, or long before it was placed."""
    frame = labour.frame
    if not len(orders.frame):
        return []
    day = labour.days("date").astype(np.int64)
    none = np.iinfo(np.int64).max
    guarantee = (orders.frame["kind"] == "guarantee").to_numpy()
    delivered = np.where(np.isnat(orders.days("delivered_on")) | guarantee, none, orders.days("delivered_on").astype(np.int64))
    ordered = orders.days("ordered_on").astype(np.int64) - DAYS_BEFORE_ORDER
    return [
        flag(
            frame,
            (day > np.append(delivered, none)[place]),
            "date",
            "work_after_delivery",
            "work on an order after its delivery",
            "correct the date or the order; a guarantee is an order of its own",
        ),
        flag(
            frame,
            (day < np.append(ordered, -none)[place]),
            "date",
            "work_before_order",
            "work on an order a month and more before it was placed",
            "correct the date or the order",
        ),
    ]


def _repeated(labour: Book) -> Flag:
    """Find rows that repeat an earlier one in every column; they are kept."""
    total = np.zeros(len(labour.frame), dtype=np.uint64)
    telling = sorted(labour.coded.values(), key=lambda column: -len(column.values))[:_TELLING]
    for column in telling:
        total *= _MIXER
        total += column.codes.view(np.uint32) if column.codes.dtype == np.int32 else column.codes.astype(np.uint64)
    at = _shared(total)
    again = labour.frame.iloc[at].drop(columns="row").duplicated().to_numpy() if len(at) else np.zeros(0, dtype=np.bool_)
    what = "the same as an earlier row in every column; kept"
    return flag(labour.frame, at[again], "order_id", "repeated_row", what, "delete it if it was entered twice")


def _shared(numbers: NDArray[np.uint64]) -> NDArray[np.intp]:
    """Return the places of the numbers that stand more than once.

    They are sorted by their leading bits into four times as many boxes as there are numbers; most are alone in theirs.
    """
    box = (numbers >> np.uint64(62 - len(numbers).bit_length())).astype(np.intp)
    crowded = np.flatnonzero(np.bincount(box).take(box) > 1)
    return crowded[pd.Series(numbers[crowded]).duplicated(keep=False).to_numpy()]


def _employment(labour: Book, settings: Settings) -> list[Flag]:
    """Find entries of a person before the first or after the last day in shop.toml."""
    words = labour.words("worker")
    known = {worker.code: worker for worker in settings.workers}
    people = [known.get(str(code)) for code in words.values]
    if not any(one and (one.started_on or one.left_on) for one in people):
        return []
    first = np.array([one.started_on if one and one.started_on else "1900-01-01" for one in people], dtype="datetime64[D]")
    last = np.array([one.left_on if one and one.left_on else "9999-01-01" for one in people], dtype="datetime64[D]")
    day = labour.days("date")
    outside = (day < words.spread(first)) | (day > words.spread(last))
    return [
        flag(
            labour.frame,
            outside,
            "worker",
            "not_employed",
            "this person was not employed on that day by shop.toml",
            "correct the date, or the worker in shop.toml",
        )
    ]


def unknown_words(book: Book, thing: str, known: frozenset[str]) -> list[Flag]:
    """Return the rows whose stage or worker shop.toml does not know, when it names any at all."""
    if not known:
        return []
    words = book.words(thing)
    strange = np.array([value is not None and value not in known for value in words.values.tolist()], dtype=np.bool_)
    if not strange.any():
        return []
    what = f"this {thing} is unknown to shop.toml; taken up from the table"
    return [flag(book.frame, words.spread(strange), thing, f"unknown_{thing}", what, f"correct it, or add the {thing} to shop.toml")]
