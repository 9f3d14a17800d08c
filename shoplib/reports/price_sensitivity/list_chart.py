"""The list at another spot: one slider moves chart, message, reading and table together."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import Any

import pandas as pd

from ..answer import Answer
from ..blocks import Absent, Chart, Control, Table, Text
from ..charts import BAD, GOOD, GREY, Axis, Mark, Row, bars, stepped
from ..compose import Show, table_of
from ..sentences import cut

MOST_ROWS = 12

MOST_LINES = 25
"""Lines the page shows at each of the 17 steps; the workbook holds all."""


def _steps(answer: Answer) -> list[float]:
    return sorted(answer.table("spot_grid")["spot_change"].unique())


def _metal(answer: Answer) -> str:
    return str(answer.table("spot_grid")["metal"].iloc[0])


def _control(answer: Answer) -> Control:
    w, spot, steps = answer.writing, answer.figure("Spot").value or 0.0, _steps(answer)
    labels = tuple(f"{w.price_per_g(spot * (1 + step))} ({'today' if step == 0 else w.percent(step, 'both')})" for step in steps)
    start = steps.index(round(float(answer.parameters["spot_change_percent"]) / 100.0, 4))
    return Control("spot", f"{_metal(answer).capitalize()} at", labels, start, "slider", steps.index(0.0))


def _sets(answer: Answer) -> list[pd.DataFrame]:
    """Return the grid step by step, most money at stake first, with the present price and metal of each line."""
    listed = answer.table("price_list").sort_values(["money_at_stake", "line"], ascending=[False, True])
    grid = answer.table("spot_grid")
    extra = listed[["line", "price_now"]]
    return [extra.merge(grid[grid["spot_change"] == step], on="line", how="left", sort=False) for step in _steps(answer)]


def _untold(answer: Answer) -> bool:
    return answer.table("spot_grid")["making_charge_at_target"].notna().sum() == 0


def charge_left(answer: Answer) -> Chart | Absent:
    """Making charge left at the present price, bars, its target ○, by the slider."""
    if _untold(answer):
        return Absent(
            "charge_left", "Making charges are not shown.", "No line has a price and a metal price.", "A price list would settle it."
        )
    w, control = answer.writing, _control(answer)
    sets = [part.head(MOST_ROWS) for part in _sets(answer)]
    ends = [
        value for part in sets for name in ("making_charge_at_present_price", "making_charge_at_target") for value in part[name].dropna()
    ]
    axis = Axis.around(ends, f"making charge of the usual piece, {w.currency}", ",d", w.separators, zero=True)
    rows = [[_row(answer, one) for one in part.to_dict("records")] for part in sets]
    widest = [row.value for part in rows for row in part]
    drawings = [bars(part, axis, (Mark(0.0, "", False),), widest) for part in rows]
    messages = tuple(_message(answer, part) for part in _sets(answer))
    label = f"{messages[control.start]}. " + "; ".join(f"{row.name} {row.value}" for row in rows[control.start])
    measure = (
        f"Making charge left at present prices, {w.currency}; most money at stake first; ○ its target; blue: meets it, grey: short, rust: "
        "below what metal costs"
    )
    readings = tuple(_reading(answer, part) for part in _sets(answer))
    return Chart("charge_left", messages, measure, stepped(drawings, control.start, control.labels), label, readings, control=control)


def _row(answer: Answer, one: Mapping[Hashable, Any]) -> Row:
    left = one["making_charge_at_present_price"]
    tone = BAD if left < 0 else GREY if one["short"] else GOOD
    return Row(
        cut(str(one["line"]).replace(" · ", " ")), left, before=one["making_charge_at_target"], value=answer.writing.number(left), tone=tone
    )


def _message(answer: Answer, part: pd.DataFrame) -> str:
    short, n = int(part["short"].astype(bool).sum()), len(part)
    return f"At this spot {answer.writing.number(short)} of {answer.writing.number(n)} lines miss the target"


def _reading(answer: Answer, part: pd.DataFrame) -> str:
    w = answer.writing
    below = int((part["making_charge_at_present_price"] < 0).sum())
    change = float((part["price_to_target"] / part["price_now"] - 1.0).mean())
    sold = f"{w.number(below)} lines would be sold below their metal." if below else "No line would be sold below its metal."
    return f"{sold} To meet the target everywhere prices would move by {w.percent(change, 'both')} on average."


def repriced(answer: Answer) -> Table | Text:
    """Return the price list at the spot chosen."""
    if _untold(answer):
        return Text("price_list", ("No line can be priced.",))
    shows = [
        Show("line", "Line"), Show("price_now", "Price now", "money"),
        Show("making_charge_at_present_price", "Making charge", "money_change", narrow=False),
        Show("making_margin_at_present_price", "Margin left", "money_change", narrow=False),
        Show("price_to_target", "Price to target", "money"), Show("change", "Change", "share_change"),
        Show("floor_full", "Floor, full bench", "money", narrow=False),
    ]  # fmt: skip
    steps = [part.head(MOST_LINES).assign(change=part["price_to_target"] / part["price_now"] - 1.0) for part in _sets(answer)]
    count = len(_sets(answer)[0])
    left = f" {count - MOST_LINES} more lines are in the workbook." if count > MOST_LINES else ""
    note = f"Most money at stake first; below the floor a full bench should make something else.{left}"
    return table_of(answer, "price_list", "Price list at the spot chosen above", shows, control=_control(answer), steps=steps, note=note)
