"""The page of the margin report: charts and tables drawn from the answer alone."""

from __future__ import annotations

from datetime import date

import pandas as pd

from ..answer import Answer
from ..blocks import Absent, Chart, Control, Page, Table, Text
from ..charts import (
    BAD,
    GOOD,
    GREY,
    INK,
    METAL,
    Axis,
    Drawing,
    Mark,
    Part,
    Point,
    Row,
    bridge,
    columns,
    money_scale,
    panels,
    ranges,
    stacked,
)
from ..charts import stepped
from ..charts.rows import running
from ..compose import Show, key_figure, page_of, table_of
from ..drawing import SOFT
from ..sentences import MINUS, cut, short_month
from ..sentences import month as in_words
from .headline import FULL, Told, best_and_worst, stake

BY = {"style": "style", "alloy": "alloy", "customer_type": "customer", "metal_terms": "metal terms"}
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
MOST_ROWS = 12
OUTLIERS = 60


def page(answer: Answer) -> Page:
    """Return the margin page.

    Parameters
    ----------
    answer : Answer
        Of this report.
    """
    figures = [
        key_figure(answer, "Making margin"),
        key_figure(answer, "Metal result", sign="both"),
        key_figure(answer, "Contribution an hour"),
        key_figure(answer, "Weight above quote"),
        key_figure(answer, "Result after all"),
    ]
    blocks = [
        _per_hour(answer),
        _groups(answer),
        _price(answer),
        _bridge(answer),
        _by_month(answer),
        _months(answer),
        _open(answer),
        _orders(answer),
    ]
    return page_of(answer, _stake(answer), figures, blocks)


def _stake(answer: Answer) -> str:
    groups = answer.table("groups")
    margin, hour = answer.figure("Making margin"), answer.figure("Contribution an hour")
    bench = hour.unit.partition(" at ")[2]
    full = "at " + bench in answer.headline and "no bench is full" not in answer.headline
    told = Told(margin.n or 0, 0, margin.value or 0.0, 0.0, bench, 1.0 if full else 0.0, groups[groups["by"] == "style"])
    return stake(told, answer.figure("Result after all").value or 0.0, answer.writing)


def _bench(answer: Answer) -> str:
    return answer.figure("Contribution an hour").unit.partition(" at ")[2] or "the limiting bench"


def _grouping(answer: Answer) -> Control:
    choices = list(BY)
    return Control("group", "Group by", tuple(BY.values()), choices.index(str(answer.parameters["group_by"])), "choice")


def _ranked(answer: Answer, by: str) -> pd.DataFrame:
    groups = answer.table("groups")
    known = groups[(groups["by"] == by) & groups["rank"].notna() & groups["contribution_per_limiting_hour"].notna()]
    return known.sort_values("rank")


def _per_hour(answer: Answer) -> Chart | Absent:
    """Contribution per limiting-bench hour by group, rows with their 80 % range."""
    w, control, bench = answer.writing, _grouping(answer), _bench(answer)
    sets = [_ranked(answer, by) for by in BY]
    if all(frame.empty for frame in sets):
        why = "No group has 5 orders with hours at that bench."
        return Absent("per_hour", f"What an hour at {bench} brings is not shown.", why, "Hours by stage on 5 orders of a style would.")
    ends = [value for frame in sets for name in ("low", "high") for value in frame[name].dropna()]
    axis = Axis.around(ends, f"{w.currency} an hour at {bench}", ",d", w.separators, zero=True)
    rows = [[_hour_row(answer, one) for one in frame.head(MOST_ROWS).itertuples()] for frame in sets]
    widest = [f"{row.value}  {row.more}" for part in rows for row in part]
    drawings = [ranges(part, axis, (), widest) for part in rows]
    messages = tuple(_hour_message(answer, frame) for frame in sets)
    spare = tuple(_hour_reading(answer, by, frame) for by, frame in zip(BY, sets, strict=True))
    measure = f"Contribution an hour at {bench}, {w.currency}; dot = all orders of the period, bar = 8 times in 10; number of orders beside the name"
    label = f"{messages[control.start]}. " + "; ".join(f"{row.name} {row.value}" for row in rows[control.start])
    return Chart("per_hour", messages, measure, stepped(drawings, control.start, control.labels), label, spare, control=control)


def _hour_row(answer: Answer, one: tuple) -> Row:  # type: ignore[type-arg]
    w = answer.writing
    value, low, high = one.contribution_per_limiting_hour, one.low, one.high  # type: ignore[attr-defined]
    name = f"{cut(str(one.group), 20)} ({w.number(one.n)})"  # type: ignore[attr-defined]
    return Row(name, value, low, high, value=w.number(value), more=w.span(low, high), tone=INK)


def _hour_message(answer: Answer, frame: pd.DataFrame) -> str:
    ends = best_and_worst(frame)
    if ends is None:
        return f"No group clearly brings more an hour at {_bench(answer)}"
    return f"{cut(ends[0]['group'])} brings most an hour at {_bench(answer)}, {cut(ends[1]['group'])} least"


def _hour_reading(answer: Answer, by: str, frame: pd.DataFrame) -> str:
    groups = answer.table("groups")
    few = int(((groups["by"] == by) & groups["rank"].isna()).sum())
    left = f" {answer.writing.number(few)} groups under 5 orders are in the table only." if few else ""
    if frame.empty:
        return "No group has 5 orders." + left
    top = frame.iloc[0]
    return f"Contribution is what an order leaves before regular wages: {cut(top['group'])} left {answer.writing.money(top['contribution'])} in all.{left}"


def _groups(answer: Answer) -> Table:
    shows = [
        Show("group", "Group"), Show("n", "Orders", "number"), Show("making_charge", "Making charge", "money", narrow=False),
        Show("making_margin", "Making margin", "money"), Show("contribution_per_limiting_hour", "An hour brings", "money"),
        Show("low", "Low", "money", narrow=False), Show("high", "High", "money", narrow=False),
    ]  # fmt: skip
    groups, control = answer.table("groups"), _grouping(answer)
    steps = [groups[groups["by"] == by] for by in BY]
    return table_of(answer, "groups", "Groups of orders delivered in the period", shows, control=control, steps=steps)


def _price(answer: Answer) -> Chart | Absent:
    """What the price pays for, stacked shares by style."""
    w, frame = answer.writing, answer.table("price_parts").sort_values("left", ascending=False).head(MOST_ROWS)
    if frame.empty:
        return Absent(
            "price_parts", "What the price pays for is not shown.", "No order was delivered.", "Delivered orders with a price would."
        )
    parts = [
        Part(label, tuple(frame[name]), colour)
        for name, label, colour in (
            ("metal", "metal", METAL), ("labour", "labour", SOFT), ("metal_lost", "lost metal", BAD), ("other", "other", GREY), ("left", "left", GOOD),
        )
    ]  # fmt: skip
    low = min(0.0, float(frame["left"].min()))
    axis = Axis("share of the price", low, 1.0 - low, ".0%", w.separators)
    values = [(w.percent(left), "left") for left in frame["left"]]
    top, bottom = frame.iloc[0], frame.iloc[-1]
    message = f"{cut(top['style'])} keeps {w.percent(top['left'])} of its price, {cut(bottom['style'])} {w.percent(bottom['left'])}"
    reading = f"Metal is {w.percent(frame['metal'].mean())} of a price on average: a percent on spot weighs more than a percent on wages."
    label = (
        message
        + ". "
        + "; ".join(f"{one.style}: metal {w.percent(one.metal)}, labour {w.percent(one.labour)}" for one in frame.itertuples())
    )
    names = [cut(str(style)) for style in frame["style"]]
    return Chart(
        "price_parts",
        message,
        "Shares of price and metal billed by style, period as above",
        stacked(names, parts, axis, values),
        label,
        reading,
    )


def _last_months(answer: Answer, count: int) -> pd.DataFrame:
    months = answer.table("months")
    return months[~months["partial"].astype(bool)].tail(count)


def _bridge(answer: Answer) -> Chart | Absent:
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
    return f"{most.name} alone moved {most.value} {answer.writing.currency}; one month is mostly noise."


def _by_month(answer: Answer) -> Chart | Absent:
    """Making margin above metal result by month, two panels on one scale."""
    w, months = answer.writing, _last_months(answer, 13)
    if months.empty:
        return Absent("by_month", "Margin by month is not shown.", "No month is complete.", "The first whole month will show it.")
    names = ("making_margin", "metal_result")
    scale = money_scale([*months["making_margin"], *months["metal_result"]], w.currency)
    axis = Axis.around([value / scale.divisor for name in names for value in months[name]], scale.unit, ",", w.separators, zero=True)
    drawings: dict[str, Drawing] = {
        title: columns([_column(answer, one.month, float(getattr(one, name)), scale.divisor) for one in months.itertuples()], axis)  # type: ignore[arg-type]
        for name, title in zip(names, ("Making margin", "Metal result"), strict=True)
    }
    margin, metal = months["making_margin"].sum(), months["metal_result"].sum()
    message = f"The benches made {w.money(margin, step=100.0)}, metal moving {w.money(metal, 'both', 100.0)}"
    reading = "Metal result is what spot did between buying and fixing: it comes back as dearer metal unless the grams are not replaced."
    label = (
        message
        + ". "
        + "; ".join(f"{one.month}: {w.number(one.making_margin)}, metal {w.number(one.metal_result)}" for one in months.itertuples())
    )  # type: ignore[arg-type]
    measure = f"{w.currency} a month, the last {len(months)} whole months; rust: below zero; both panels on one scale"
    return Chart("by_month", message, measure, panels(drawings), label, reading)


def _column(answer: Answer, month: str, value: float, divisor: float) -> Point:
    words = short_month(_day(month))
    return Point(words, value / divisor, tone=BAD if value < 0 else GREY, hover=f"{words}: {answer.writing.money(value)}")


def _months(answer: Answer) -> Table:
    shows = [
        Show("month", "Month", "month"), Show("orders", "Orders", "number"), Show("making_margin", "Making margin", "money"),
        Show("metal_result", "Metal result", "money_change", narrow=False), Show("corrections", "Corrections", "money_change", narrow=False),
        Show("unbooked_pay", "Unbooked pay", "money", narrow=False), Show("overheads", "Overheads", "money", narrow=False),
        Show("result", "Result", "money_change"),
    ]  # fmt: skip
    note = "Result = making margin + metal result + corrections + called-off orders " + MINUS + " unbooked pay " + MINUS + " overheads."
    return table_of(answer, "months", "From margin down to result", shows, rows=answer.table("months").tail(13), note=note)


def _open(answer: Answer) -> Table | Text:
    frame = answer.table("open_orders")
    if frame.empty:
        return Text("open_orders", ("No order is open.",))
    shows = [
        Show("order_id", "Order"), Show("style", "Style"), Show("alloy", "Alloy", narrow=False),
        Show("cost_so_far", "Cost so far", "money", narrow=False), Show("loss_so_far_g", "Lost so far", "grams", "g gross", narrow=False),
        Show("expected_cost", "Expected cost", "money", narrow=False), Show("expected_margin", "Expected margin", "money"),
        Show("over_share", "Over plan", "share_change"),
    ]  # fmt: skip
    over = frame.assign(key=frame["over_share"].fillna(-9.0)).sort_values(["key", "order_id"], ascending=[False, True]).head(25)
    late = int((frame["over_share"] > 0.2).sum())
    note = f"{answer.writing.number(late)} of {answer.writing.number(len(frame))} open orders cost over 20% more than planned; the 25 furthest over are shown."
    return table_of(answer, "open_orders", "Open orders, furthest over plan first", shows, rows=over, note=note)


def _orders(answer: Answer) -> Table | Text:
    frame = answer.table("orders")
    sold = frame[frame["delivered_on"].notna() & (frame["making_charge"] > 0)]
    if sold.empty:
        return Text("orders", ("No order was delivered in the period.",))
    share = sold["making_margin"] / sold["making_charge"]
    away = (share - share.groupby(sold["style"]).transform("median")).abs()
    shown = sold.assign(away=away).sort_values(["away", "order_id"], ascending=[False, True]).head(OUTLIERS)
    shows = [
        Show("order_id", "Order"), Show("style", "Style"), Show("alloy", "Alloy", narrow=False), Show("delivered_on", "Delivered", "day", narrow=False),
        Show("making_charge", "Making charge", "money"), Show("labour", "Labour", "money", narrow=False),
        Show("rework_labour", "Rework", "money", narrow=False), Show("making_margin", "Making margin", "money"),
    ]  # fmt: skip
    note = f"The {len(shown)} orders furthest from their style's usual margin; all {answer.writing.number(len(frame))} are in the workbook."
    return table_of(answer, "orders", "Orders unlike their style", shows, rows=shown, note=note)
