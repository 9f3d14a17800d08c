"""Which chains use the scarce hour best, and what their price pays for."""

from __future__ import annotations

import pandas as pd

from ..answer import Answer
from ..blocks import Absent, Chart, Control, Table
from ..charts import (
    BAD,
    GOOD,
    GREY,
    INK,
    METAL,
    Axis,
    Part,
    Row,
    ranges,
    stacked,
    stepped,
)
from ..compose import Show, table_of
from ..drawing import SOFT
from ..sentences import cut
from .bench import bench_of, first_up
from .headline import best_and_worst

BY = {"style": "style", "alloy": "alloy", "customer_type": "customer", "metal_terms": "metal terms"}
TERMS = {"fixed": "metal fixed at order", "at_delivery": "metal as at delivery", "customer_metal": "customer's own metal"}
"""What the page says for the metal terms as tables write them."""
MOST_ROWS = 12


def _groups(answer: Answer, by: str) -> pd.DataFrame:
    """Return the groups of one kind, in words a page can say."""
    groups = answer.table("groups")
    chosen = groups[groups["by"] == by]
    return chosen.assign(group=chosen["group"].replace(TERMS)) if by == "metal_terms" else chosen


def _grouping(answer: Answer) -> Control:
    choices = list(BY)
    return Control("group", "Group by", tuple(BY.values()), choices.index(str(answer.parameters["group_by"])), "choice")


def _ranked(answer: Answer, by: str) -> pd.DataFrame:
    groups = _groups(answer, by)
    return groups[groups["rank"].notna() & groups["contribution_per_limiting_hour"].notna()].sort_values("rank")


def per_hour(answer: Answer) -> Chart | Absent:
    """Contribution per limiting-bench hour by group, rows with their 80 % range."""
    w, control, bench = answer.writing, _grouping(answer), bench_of(answer)
    sets = [_ranked(answer, by) for by in BY]
    if all(frame.empty for frame in sets):
        why = "No group has 5 orders with hours at that bench."
        return Absent("per_hour", f"What an hour at {bench} brings is not shown.", why, "Hours by stage on 5 orders of a style would.")
    ends = [value for frame in sets for name in ("low", "high") for value in frame[name].dropna()]
    axis = Axis.around(ends, f"{w.currency} an hour at {bench}", ",d", w.separators)
    rows = [[_hour_row(answer, one) for one in frame.head(MOST_ROWS).itertuples()] for frame in sets]
    widest = [f"{row.value}  {row.more}" for part in rows for row in part]
    drawings = [ranges(part, axis, (), widest) for part in rows]
    messages = tuple(_hour_message(answer, frame) for frame in sets)
    spare = tuple(_hour_reading(answer, by, frame) for by, frame in zip(BY, sets, strict=True))
    measure = f"Contribution an hour at {bench}, {w.currency}; dot = the period's orders together, bar = 8 times in 10; (orders)"
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
        return f"No group clearly brings more an hour at {bench_of(answer)}"
    return f"{first_up(cut(ends[0]['group']))} brings most an hour at {bench_of(answer)}, {cut(ends[1]['group'])} least"


def _hour_reading(answer: Answer, by: str, frame: pd.DataFrame) -> str:
    few = int(_groups(answer, by)["rank"].isna().sum())
    left = f" {answer.writing.number(few)} groups under 5 orders are in the table only." if few else ""
    if frame.empty:
        return "No group has 5 orders." + left
    top = frame.iloc[0]
    money = answer.writing.money(top["contribution"], step=100.0)
    return f"{first_up(cut(top['group']))} left {money} before regular wages; the ranking counts only while that bench is full.{left}"


def groups_table(answer: Answer) -> Table:
    """Return the groups as a table that follows the grouping."""
    shows = [
        Show("group", "Group"), Show("n", "Orders", "number"), Show("making_charge", "Making charge", "money", narrow=False),
        Show("making_margin", "Making margin", "money"), Show("contribution_per_limiting_hour", "An hour brings", "money"),
        Show("low", "Low", "money", narrow=False), Show("high", "High", "money", narrow=False),
    ]  # fmt: skip
    control, steps = _grouping(answer), [_groups(answer, by) for by in BY]
    return table_of(answer, "groups", "Groups of orders delivered in the period", shows, control=control, steps=steps)


def price_pays_for(answer: Answer) -> Chart | Absent:
    """What the price pays for, stacked shares by style."""
    w, frame = answer.writing, answer.table("price_parts").sort_values("left", ascending=False).head(MOST_ROWS)
    if frame.empty:
        return Absent(
            "price_parts", "What the price pays for is not shown.", "No order was delivered.", "Delivered orders with a price would."
        )
    parts = [
        Part(label, tuple(frame[name]), colour)
        for name, label, colour in (
            ("metal", "metal", METAL), ("labour", "labour", SOFT), ("metal_lost", "lost metal", BAD),
            ("other", "other", GREY), ("left", "left", GOOD),
        )
    ]  # fmt: skip
    low = min(0.0, float(frame["left"].min()))
    axis = Axis("share of the price", low, 1.0 - low, ".0%", w.separators)
    values = [(w.percent(left), "left") for left in frame["left"]]
    top, bottom = frame.iloc[0], frame.iloc[-1]
    message = (
        f"{first_up(cut(top['style']))} keeps {w.percent(top['left'])} of its price, {cut(bottom['style'])} {w.percent(bottom['left'])}"
    )
    reading = f"Metal is {w.percent(frame['metal'].mean())} of a price on average: a percent on spot weighs more than a percent on wages."
    shares = zip(frame["style"], frame["metal"], frame["labour"], strict=True)
    label = f"{message}. " + "; ".join(f"{style}: metal {w.percent(metal)}, labour {w.percent(labour)}" for style, metal, labour in shares)
    names = [cut(str(style)) for style in frame["style"]]
    return Chart(
        "price_parts",
        message,
        "Shares of price and metal billed by style, period as above",
        stacked(names, parts, axis, values),
        label,
        reading,
    )
