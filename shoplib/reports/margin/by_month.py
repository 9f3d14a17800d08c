"""Why one month differs from another, and each month from margin down to result."""

from __future__ import annotations

from datetime import date

import pandas as pd

from ..answer import Answer
from ..blocks import Absent, Chart, Control, Table
from ..charts import (
    BAD,
    GREY,
    Axis,
    Drawing,
    Point,
    Row,
    bridge,
    columns,
    money_scale,
    panels,
    stepped,
)
from ..charts.rows import running
from ..compose import Show, table_of
from ..sentences import MINUS, short_month
from ..sentences import month as in_words

CAUSES = {
    "volume": "Number of orders",
    "mix": "Mix of chains",
    "price": "Price over metal",
    "metal_loss": "Grams lost",
    "labour_rate": "Cost of an hour",
    "labour_efficiency": "Hours an order",
    "rework": "Rework",
    "other": "Other",
}


def _last_months(answer: Answer, count: int) -> pd.DataFrame:
    months = answer.table("months")
    return months[~months["partial"].astype(bool)].tail(count)


def month_bridge(answer: Answer) -> Chart | Absent:
    """What made the last whole month differ from the month before and from the same month a year ago."""
    frame, months = answer.table("bridge"), answer.table("months").set_index("month")["making_margin"]
    last = frame["month"].max() if len(frame) else None
    bases = [base for base in dict.fromkeys(frame.loc[frame["month"] == last, "compared_with"]) if base in months.index]
    bases = sorted(bases, reverse=True)
    if last is None or not bases:
        return Absent("bridge", "Why the month differs is not shown.", "Two whole months are needed.", "The next month will show it.")
    rows = [
        _bridge_rows(answer, frame[(frame["month"] == last) & (frame["compared_with"] == base)], months, str(last), base) for base in bases
    ]
    scale = money_scale([value for part in rows for value in running([row.middle or 0.0 for row in part])], answer.writing.currency)
    scaled = [[_scaled(row, scale.divisor) for row in part] for part in rows]
    axis = Axis.around(
        [end for part in scaled for end in running([row.middle or 0.0 for row in part])], scale.unit, ",", answer.writing.separators, True
    )
    widest = [row.value for part in scaled for row in part]
    choice = Control("compare", "Compare with", tuple(in_words(_day(base)) for base in bases), 0, "choice")
    messages = tuple(_bridge_message(answer, part, str(last), base) for part, base in zip(rows, bases, strict=True))
    readings = tuple(_bridge_reading(answer, part) for part in rows)
    label = messages[0] + ". " + "; ".join(f"{row.name} {row.value}" for row in rows[0])
    measure = f"Making margin by month, {answer.writing.currency}; dark: the two months, blue: more, rust: less; steps add up exactly"
    drawing = stepped([bridge(part, axis, (), widest) for part in scaled], 0, choice.labels)
    return Chart("bridge", messages, measure, drawing, label, readings, control=choice if len(bases) > 1 else None)


def _day(month: str) -> date:
    return date.fromisoformat(f"{month}-01")


def _bridge_rows(answer: Answer, steps: pd.DataFrame, months: pd.Series, last: str, base: str) -> list[Row]:
    w = answer.writing
    named = [Row(CAUSES[one.cause], one.amount, value=w.number(one.amount, 0, "both")) for one in steps.itertuples()]  # type: ignore[index, arg-type]
    ends = [Row(short_month(_day(name)), float(months[name]), value=w.number(float(months[name]))) for name in (base, last)]
    return [ends[0], *named, ends[1]]


def _scaled(row: Row, divisor: float) -> Row:
    return Row(row.name, (row.middle or 0.0) / divisor, value=row.value)


def _bridge_message(answer: Answer, rows: list[Row], last: str, base: str) -> str:
    change = (rows[-1].middle or 0.0) - (rows[0].middle or 0.0)
    most = max(rows[1:-1], key=lambda row: abs(row.middle or 0.0))
    word = "more" if change >= 0 else "less"
    return (
        f"{in_words(_day(last))} earned {answer.writing.money(abs(change))} {word} than {in_words(_day(base))}: most by {most.name.lower()}"
    )


def _bridge_reading(answer: Answer, rows: list[Row]) -> str:
    most = max(rows[1:-1], key=lambda row: abs(row.middle or 0.0))
    return f"{most.name} alone: {answer.writing.currency}\u00a0{most.value}; one month is mostly noise."


def margin_and_metal(answer: Answer) -> Chart | Absent:
    """Making margin above metal result by month, two panels on one scale."""
    w, months = answer.writing, _last_months(answer, 13)
    if months.empty:
        return Absent("by_month", "Margin by month is not shown.", "No month is complete.", "The first whole month will show it.")
    names = ["making_margin", "metal_result"]
    scale = money_scale([*months["making_margin"], *months["metal_result"]], w.currency)
    axis = Axis.around([value / scale.divisor for name in names for value in months[name]], scale.unit, ",", w.separators, zero=True)
    drawings: dict[str, Drawing] = {
        title: columns([_column(answer, one.month, float(getattr(one, name)), scale.divisor) for one in months.itertuples()], axis)  # type: ignore[arg-type]
        for name, title in zip(names, ("Making margin", "Metal result"), strict=True)
    }
    lowest, highest = (getattr(months[names], end)() for end in ("min", "max"))
    spans = [w.span(lowest[name], highest[name], step=1000.0) for name in names]
    message = f"A month's making margin ran from {spans[0]}, metal result from {spans[1]} {w.currency}"
    reading = "Metal result is spot moving between buying and fixing, mostly paper: spend it only if the grams are not replaced."
    told = zip(months["month"], months["making_margin"], months["metal_result"], strict=True)
    label = f"{message}. " + "; ".join(f"{month}: {w.number(margin)}, metal {w.number(metal)}" for month, margin, metal in told)
    measure = f"{w.currency} a month, the last {len(months)} whole months; rust: below zero; both panels on one scale"
    return Chart("by_month", message, measure, panels(drawings), label, reading)


def _column(answer: Answer, month: str, value: float, divisor: float) -> Point:
    words = short_month(_day(month))
    return Point(words, value / divisor, tone=BAD if value < 0 else GREY, hover=f"{words}: {answer.writing.money(value)}")


def months_table(answer: Answer) -> Table:
    """Return the months from margin down to result, 13 of them."""
    shows = [
        Show("month", "Month", "month"), Show("orders", "Orders", "number"), Show("making_margin", "Making margin", "money"),
        Show("metal_result", "Metal result", "money_change", narrow=False),
        Show("corrections", "Corrections", "money_change", narrow=False),
        Show("unbooked_pay", "Unbooked pay", "money", narrow=False), Show("overheads", "Overheads", "money", narrow=False),
        Show("result", "Result", "money_change"),
    ]  # fmt: skip
    note = "Result = making margin + metal result + corrections + called-off orders " + MINUS + " unbooked pay " + MINUS + " overheads."
    return table_of(answer, "months", "From margin down to result", shows, rows=answer.table("months").tail(13), note=note)
