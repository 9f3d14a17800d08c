"""What the benches lose by stage and alloy, and what the refiner's lots brought back, drawn from the answer's tables."""

from __future__ import annotations

from typing import Any

import pandas as pd

from ..answer import Answer
from ..blocks import Absent, Chart
from ..charts import BAD, INK, METAL, Axis, Row, dumbbell, ranges, stepped
from ..charts.rows import MOST_ROWS
from ..sentences import cut
from .charts import metal_control
from .rows import metals_of, rows_of


def loss_by_stage(answer: Answer) -> Chart | Absent:
    """Loss per mille of the stages and alloys that lose most grams."""
    w, frame = answer.writing, answer.table("stage_loss")
    known = frame[frame["loss_per_mille"].notna()].sort_values("fine_g_lost", ascending=False)
    if known.empty:
        return Absent(
            "loss_by_stage",
            "Loss by stage is not shown.",
            "No visit was weighed before and after.",
            "Weights in and out on the job card would.",
        )
    rows = [_stage_row(answer, row) for row in rows_of(known.head(MOST_ROWS))]
    rows.sort(key=lambda row: -(row.middle or 0.0))
    axis = Axis.around([end for row in rows for end in (0.0, row.middle, row.low, row.high)], "‰ of grams given", "", w.separators, True)
    top = known.iloc[0]
    share = float(top["fine_g_lost"]) / float(frame["fine_g_lost"].sum())
    message = f"{str(top['stage']).capitalize()} of {top['alloy']} loses most grams, {w.percent(share)} of all loss"
    others = f" {len(known) - MOST_ROWS} others are in the table." if len(known) > MOST_ROWS else ""
    reading = f"A stage's loss is gross: filings and sweeps bring most of it back.{others}"
    label = f"{message}. " + "; ".join(f"{row.name} {row.value}‰" for row in rows)
    measure = "Loss, ‰ of grams given, visits weighed before and after; dot = all together, bar = 8 times in 10"
    return Chart("loss_by_stage", message, measure, ranges(rows, axis), label, reading)


def _stage_row(answer: Answer, row: dict[str, Any]) -> Row:
    w, rate = answer.writing, row["loss_per_mille"]
    span = "" if row["low"] is None else w.span(row["low"], row["high"], 1)
    return Row(f"{row['stage']} · {cut(row['alloy'], 16)}", rate, row["low"], row["high"], value=w.number(rate, 1), more=span, tone=INK)


def filings(answer: Answer) -> Chart | Absent:
    """What each lot of filings should bring and what came back."""
    w, control = answer.writing, metal_control(answer)
    sets = {name: _lots(answer, name) for name in metals_of(answer)}
    full = {name: frame for name, frame in sets.items() if len(frame)}
    if not full:
        return Absent(
            "filings_chart", "Filings and sweeps are not shown.", "No lot with something to expect is in the ledger.",
            "Rows filings_sent and refined_back with the lot's number would.",
        )  # fmt: skip
    choice = control if len(full) == len(sets) else None
    shown = full if choice else dict([next(iter(full.items()))])
    rows = {name: [_lot_row(answer, row) for row in rows_of(frame)] for name, frame in shown.items()}
    widest = [f"{row.value}  {row.more}" for part in rows.values() for row in part]
    drawings = []
    for part in rows.values():
        values = [end for row in part for end in (row.middle, row.before)]
        drawings.append(dumbbell(part, Axis.around(values, "g fine", ",d", w.separators), (), widest))
    messages = tuple(_lots_message(answer, name) for name in shown)
    readings = tuple(_lots_reading(answer, name) for name in shown)
    label = f"{messages[0]}. " + "; ".join(f"{row.name} {row.value} {row.more}" for row in next(iter(rows.values())))
    measure = "g fine a lot; ○ expected from the recorded loss, ● came back; the last lots"
    drawing = stepped(drawings, 0, choice.labels) if choice else drawings[0]
    return Chart(
        "filings_chart", messages if choice else messages[0], measure, drawing, label, readings if choice else readings[0],
        follows="metal" if choice else "",
    )  # fmt: skip


def _lots(answer: Answer, metal: str) -> pd.DataFrame:
    frame = answer.table("filings")
    known = frame[(frame["metal"] == metal) & (frame["sent"] == "filings") & frame["expected_g"].notna()]
    return known.sort_values(["sent_on", "lot"]).tail(MOST_ROWS)


def _lot_row(answer: Answer, row: dict[str, Any]) -> Row:
    w = answer.writing
    late = row["settled_on"] is None and (row["overdue_days"] or 0) > 0
    out = f"{w.number(row['overdue_days'])} days late" if late else "still out"
    value = out if row["settled_on"] is None else w.number(row["settled_g"], 1)
    more = f"of {w.number(row['expected_g'], 1)}"
    return Row(cut(str(row["lot"]), 20), row["settled_g"], before=row["expected_g"], value=value, more=more, tone=BAD if late else METAL)


def _lots_message(answer: Answer, metal: str) -> str:
    frame = answer.table("filings")
    frame = frame[frame["metal"] == metal]
    late = frame[frame["overdue_days"] > 0]
    if len(late):
        days = answer.writing.number(float(late["overdue_days"].iloc[0]))
        return f"{cut(str(late['lot'].iloc[0]), 20)} is {days} days overdue at the refiner"
    out = int(frame["settled_on"].isna().sum())
    return f"{out} lots of {metal} are at the refiner, none overdue" if out else f"Every lot of {metal} is settled"


def _lots_reading(answer: Answer, metal: str) -> str:
    w, frame = answer.writing, answer.table("recovery")
    rows = rows_of(frame[frame["metal"] == metal])
    if not rows:
        return "No settled lot tells yet how much of the loss comes back."
    row = rows[0]
    span = "" if row["low"] is None else f" ({w.span(row['low'], row['high'], 0)})"
    return (
        f"{w.number(row['lots'])} settled lots brought back {w.number(row['recovered'])}‰{span} of the recorded loss; "
        f"shop.toml expects {w.number(row['expected'])}‰ after the refiner's share."
    )
