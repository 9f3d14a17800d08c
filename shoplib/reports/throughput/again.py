"""Work done again: what it costs by cause, and whether a month was unusual."""

from __future__ import annotations

from datetime import date

import pandas as pd

from ..answer import Answer
from ..blocks import Absent, Chart, Control, Table, Text
from ..charts import BAD, METAL, Axis, Drawing, Part, Point, control, money_scale, panels, stacked, stepped
from ..compose import Show, table_of
from ..drawing import SOFT
from ..sentences import cut, listed, short_month
from ..sentences import month as in_words
from .headline import first_up

MOST_CAUSES = 12
MOST_ROWS = 14
MOST_STAGES = 9
"""Choices side by side."""
PARTS = (("labour", "labour", SOFT), ("metal", "metal", METAL), ("delay_contribution", "delay of others", BAD))
WATCHED = {"first_pass": "Right first time", "loss_permille": "Loss, ‰ of the weight in"}


def rework_cost(answer: Answer) -> Chart | Absent | Text:
    """Full cost of rework by cause: labour, metal, delay of other orders, stacked rows."""
    w, frame = answer.writing, answer.table("rework")
    if frame.empty:
        return Text("rework_cost", ("No work was done again in the period, or no card says so: mark it on the card to see its cost.",))
    columns = ["labour", "metal", "delay_contribution", "cost", "returns"]
    sums = frame.fillna({"delay_contribution": 0.0}).groupby("cause", sort=True)[columns].sum()
    sums = sums.sort_values("cost", ascending=False, kind="stable").head(MOST_CAUSES)
    scale = money_scale(sums["cost"], w.currency)
    parts = [Part(label, tuple(sums[name] / scale.divisor), colour) for name, label, colour in PARTS if sums[name].any()]
    axis = Axis.around([*(sums["cost"] / scale.divisor), 0.0], scale.unit, ",", w.separators, zero=True)
    values = [(w.number(float(cost)), f"({w.number(float(n))})") for cost, n in zip(sums["cost"], sums["returns"], strict=True)]
    total = answer.figure("Rework").value or 0.0
    message = f"Rework cost {w.money(total, step=100.0)}, most of it by {cut(str(sums.index[0]), 20)}"
    label = f"{message}. " + "; ".join(f"{cut(str(name))}: {value}" for name, (value, _) in zip(sums.index, values, strict=True))
    measure = f"{w.currency} in the period by cause: labour, lost metal, and what others lose by waiting, simulated; (orders sent back)"
    drawing = stacked([cut(str(name), 24) for name in sums.index], parts, axis, values)
    return Chart("rework_cost", message, measure, drawing, label, _rework_reading(answer, sums, total))


def _rework_reading(answer: Answer, sums: pd.DataFrame, total: float) -> str:
    w, delay = answer.writing, float(sums["delay_contribution"].sum())
    if answer.table("rework")["delay_contribution"].isna().all():
        return "What the delay costs is not in it: the shop could not be simulated."
    if delay <= 0:
        return "Other orders lose nothing by waiting that could be told from chance."
    return (
        f"{w.percent(delay / total)} of it is not on any card: orders that wait meanwhile at the limiting bench go out later or are lost."
    )


def rework_table(answer: Answer) -> Table | Text:
    """Return the cost of rework by cause, stage and alloy."""
    frame = answer.table("rework").sort_values("cost", ascending=False, kind="stable")
    if frame.empty:
        return Text("rework", ("The table of causes is empty.",))
    shows = [
        Show("cause", "Cause"), Show("stage", "Sent back to", narrow=False), Show("alloy", "Alloy", narrow=False),
        Show("returns", "Orders", "number"), Show("labour", "Labour", "money", narrow=False), Show("metal", "Metal", "money", narrow=False),
        Show("delay_contribution", "Delay", "money", narrow=False), Show("cost", "Cost", "money"),
    ]  # fmt: skip
    more = f" {len(frame) - MOST_ROWS} smaller rows are in the workbook." if len(frame) > MOST_ROWS else ""
    note = "Delay is split within a cause by hours; one that chance alone could bring about counts as 0." + more
    return table_of(answer, "rework", "Work done again in the period, dearest first", shows, rows=frame.head(MOST_ROWS), note=note)


def control_charts(answer: Answer) -> Chart | Absent:
    """Right first time and loss by month on their control charts, one stage at a time."""
    table = answer.table("control")
    table = table[table["measure"].isin(WATCHED)]
    stages = watched_stages(answer, table)
    if not stages:
        return Absent(
            "control", "Control charts are not shown.", "No stage has 8 months with 3 pieces each.", "Eight months of job cards would."
        )
    asked = answer.parameters.get("stage")
    start = stages.index(asked) if asked in stages else 0
    drawings = [panels({title: _chart(answer, table, measure, stage) for measure, title in WATCHED.items()}) for stage in stages]
    choice = Control("stage", "Stage", tuple(stages), start, "choice")
    messages = tuple(_message(table, stage) for stage in stages)
    readings = tuple(_reading(answer, table, stage) for stage in stages)
    measure = "Share of orders never sent back to the stage; weight lost there; by month; dotted: limits; only points outside are unusual"
    label = f"{messages[start]}. {readings[start]}"
    moved = choice if len(stages) > 1 else None
    drawing = stepped(drawings, start, choice.labels) if moved else drawings[0]
    return Chart("control", messages if moved else messages[0], measure, drawing, label, readings if moved else readings[0], control=moved)


def watched_stages(answer: Answer, table: pd.DataFrame) -> list[str]:
    """Return the stages worth watching, in route order: judged in both or either chart, those with most to see first chosen."""
    judged = table[table["upper"].notna()]
    seen = judged.groupby("item").agg(unusual=("unusual", "sum"), lowest=("value", "min"), many=("measure", "nunique"))
    back = judged[(judged["measure"] == "first_pass") & (judged["value"].astype(float) < 1.0)]["item"].value_counts()
    seen = seen.assign(back=back.reindex(seen.index).fillna(0)).sort_values(["many", "back", "unusual"], ascending=False, kind="stable")
    chosen = set(seen.head(MOST_STAGES).index)
    route = [stage for stage in answer.table("stages")["stage"] if stage in chosen]
    first = [str(seen.index[0])] if len(seen) else []
    return first + [str(stage) for stage in route if str(stage) not in first]


def _part(table: pd.DataFrame, measure: str, stage: str) -> pd.DataFrame:
    return table[(table["measure"] == measure) & (table["item"] == stage)]


def _chart(answer: Answer, table: pd.DataFrame, measure: str, stage: str) -> Drawing:
    """One control chart; empty where the measure is not known for the stage."""
    w, part = answer.writing, _part(table, measure, stage).tail(30)
    share = measure == "first_pass"
    points = [_point(answer, one, share) for one in part.itertuples()] or [Point("", None)]
    lower, upper = (_limit(part, name) for name in ("lower", "upper"))
    centre = float(part["centre"].iloc[0]) if len(part) else 0.0
    ends = [*part["value"].dropna(), *(end for end in (lower, upper) if end is not None), centre]
    axis = Axis.around(ends, "", ".0%" if share else "", w.separators)
    if share:
        axis = Axis("", max(axis.low, 0.0), min(axis.high, 1.02), ".0%", w.separators)
    return control(points, axis, centre, lower, upper)


def _limit(part: pd.DataFrame, name: str) -> float | None:
    """The limit of the last month judged; limits of a share move a little with the number of orders."""
    known = part[name].dropna()
    return float(known.iloc[-1]) if len(known) else None


def _point(answer: Answer, one: tuple, share: bool) -> Point:  # type: ignore[type-arg]
    w, words = answer.writing, short_month(date.fromisoformat(str(one.month)))  # type: ignore[attr-defined]
    value: float | None = None if pd.isna(one.value) else float(one.value)  # type: ignore[attr-defined]
    text = w.percent(value) if share else w.number(value, 1)
    return Point(words, value, text=words if one.unusual else "", hover=f"{words}: {text}")  # type: ignore[attr-defined]


def _unusual(table: pd.DataFrame, stage: str) -> list[str]:
    part = table[(table["item"] == stage) & table["unusual"].astype(bool)]
    return [in_words(date.fromisoformat(str(month))) for month in sorted(set(part["month"]))]


def _message(table: pd.DataFrame, stage: str) -> str:
    months = _unusual(table, stage)
    name = first_up(cut(stage, 20))
    return f"{name} was unusual in {listed(months, 2)}" if months else f"No month was unusual at {cut(stage, 20)}"


def _reading(answer: Answer, table: pd.DataFrame, stage: str) -> str:
    w, texts = answer.writing, []
    right, lost = (_part(table, measure, stage) for measure in WATCHED)
    if len(right):
        texts.append(f"{w.percent(float(right['centre'].iloc[0]))} of orders pass {cut(stage, 20)} right first time")
    if len(lost):
        texts.append(f"{w.number(float(lost['centre'].iloc[0]), 1)}‰ of the weight is lost there in a usual month")
    return first_up("; ".join(texts)) + "."
