"""What customers do at new prices: assumed answers, the shop's own quotes, and the best mark-up with full benches."""

from __future__ import annotations

from ..answer import Answer
from ..blocks import Absent, Chart
from ..charts import INK, Axis, Mark, Row, money_scale, ranges
from ..sentences import count


def if_answered(answer: Answer) -> Chart | Absent:
    """What the new prices bring a year under several answers of customers."""
    w, frame = answer.writing, answer.table("if_customers_answer")
    if not len(answer.table("price_list")):
        return Absent("answers", "Customers' answers are not shown.", "There is no line to price.", "A price list would settle it.")
    scale = money_scale(frame["contribution_change"], w.currency)
    rows = []
    for one in frame.to_dict("records"):
        name = f"{w.number(one['elasticity'], 1)}% ({'assumed' if one['basis'] == 'assumed' else 'your quotes'})"
        low, high = (None if one[end] != one[end] or one[end] is None else one[end] / scale.divisor for end in ("low", "high"))
        value = w.number(one["contribution_change"], 0, "both", 1000.0)
        rows.append(Row(name, one["contribution_change"] / scale.divisor, low, high, value=value, tone=INK))
    axis = Axis.around([end for row in rows for end in (row.middle, row.low, row.high, 0.0)], scale.unit, ",d", w.separators)
    least, most = (end(rows, key=lambda row: row.middle or 0.0).value for end in (min, max))
    message = f"New prices bring from {least} to {most} {w.currency} a year"
    reading = "What dearer gold does to demand cannot be told from one shop: choose the row that fits your customers."
    label = f"{message}. " + "; ".join(f"{row.name} {row.value}" for row in rows)
    measure = (
        f"A year's contribution against leaving prices as they are, {w.currency}, by how many % fewer pieces are sold for 1% on the price; "
        "bar = 8 times in 10"
    )
    return Chart("answers", message, measure, ranges(rows, axis, (Mark(0.0, "", False),)), label, reading)


def mark_ups(answer: Answer) -> Chart | Absent:
    """What mark-ups on the making part bring, the wait taken into account."""
    w, frame = answer.writing, answer.table("mark_up")
    if frame.empty:
        n = count(int(answer.figure("Quotes with an outcome").value or 0), "quote", writing=w)
        told = (
            "The shop cannot be simulated."
            if len(answer.table("response"))
            else f"Of {n} with an outcome too few, or all alike, can be used."
        )
        return Absent(
            "mark_up", "The answer to price and the best mark-up are not shown.", told,
            "About 150 quotes, won and lost, with their price and weeks, would settle it.",
        )  # fmt: skip
    shown = frame[frame["mark_up_share"] > 0]
    scale = money_scale([*shown["low"], *shown["high"]], w.currency)
    rows = [
        Row(f"+{w.percent(one['mark_up_share'])}", one["contribution_change"] / scale.divisor, one["low"] / scale.divisor,
            one["high"] / scale.divisor, value=w.number(one["contribution_change"], 0, "both", 1000.0),
            more=f"{w.number(one['orders_a_year'])} orders")
        for one in shown.to_dict("records")
    ]  # fmt: skip
    axis = Axis.around([end for row in rows for end in (row.low, row.high, 0.0)], scale.unit, ",d", w.separators)
    message, reading = _best(answer), _how_sure(answer)
    label = f"{message}. " + "; ".join(f"{row.name} {row.value}" for row in rows)
    measure = (
        f"Contribution a year by how much making charges rise, {w.currency}; simulated over two years; bar = 8 times in 10; orders "
        "delivered a year"
    )
    return Chart("mark_up", message, measure, ranges(rows, axis, (Mark(0.0, "", False),)), label, reading)


def _best(answer: Answer) -> str:
    w, best, most = answer.writing, answer.figure("Best mark-up"), answer.table("mark_up")["mark_up_share"].max()
    if not best.value:
        return "With the wait answered, no mark-up tried earns more than none"
    return f"With the wait answered, making charges {w.percent(best.value)}{' or more' if best.value == most else ''} higher earn most"


def _how_sure(answer: Answer) -> str:
    """Return the range of the best mark-up, and what it rests on."""
    w, best, most = answer.writing, answer.figure("Best mark-up"), answer.table("mark_up")["mark_up_share"].max()
    low, high = best.low or 0.0, best.high or 0.0
    ends = f"at {w.percent(low)}" if low == high else f"between {w.percent(low)} and {w.percent(high)}"
    edge = f" Above {w.percent(most)} nothing was tried: raise step by step and watch the quotes." if high == most else ""
    price, wait = (_told(answer, what, digits) for what, digits in (("answer_to_price", 1), ("answer_to_wait", 2)))
    n = w.number(float(answer.table("response")["n"].iloc[0]))
    return (
        f"8 times in 10 the best of those tried lies {ends}.{edge} Log odds of winning a quote: {price} for ln (price ÷ metal), {wait} "
        f"for a week quoted; from {n} quotes."
    )


def _told(answer: Answer, what: str, digits: int) -> str:
    w, frame = answer.writing, answer.table("response")
    estimate, low, high = (float(frame.loc[frame["what"] == what, name].iloc[0]) for name in ("estimate", "low", "high"))
    return f"{w.number(estimate, digits)} ({w.span(low, high, digits)})"
