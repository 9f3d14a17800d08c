"""The balance as a bridge, and what every count left unexplained, drawn from the answer's tables."""

from __future__ import annotations

from datetime import date
from typing import Any

import pandas as pd

from ..answer import Answer
from ..blocks import Absent, Chart, Control
from ..charts import BAD, GREY, INK, Axis, Row, Series, bridge, lines, stepped
from ..charts.rows import running
from ..charts.series import day_number, month_ticks
from ..sentences import day, short_day
from .rows import between_rows, metals_of, rows_of

STEPS = (
    ("bought", "Bought", 1), ("customer_in", "Brought by customers", 1), ("borrowed", "Borrowed", 1),
    ("refined_back", "Back from the refiner", 1), ("sold", "Sold", -1), ("delivered", "Delivered", -1),
    ("customer_out", "Back to customers", -1), ("returned", "Loan given back", -1), ("refining_sent", "Scrap to the refiner", -1),
    ("recorded_loss", "Lost on the benches", -1), ("in_process", "On the benches now", -1), ("closing", "Counted in the safe", -1),
)  # fmt: skip


MOST_NOTES = 3
"""Counts outside the band that are written out, the latest."""


def metal_control(answer: Answer) -> Control | None:
    """Return the choice of the metal, None with one metal only."""
    names = metals_of(answer)
    return Control("metal", "Metal", tuple(name.capitalize() for name in names), 0, "choice") if len(names) > 1 else None


def balance_bridge(answer: Answer) -> Chart | Absent:
    """From all that was there and came in, over all that went out and is there, to what is left unexplained."""
    w, names, control = answer.writing, metals_of(answer), metal_control(answer)
    told = [(name, row) for name in names if (row := shown_balance(answer, name)) is not None]
    if not told:
        return Absent(
            "bridge", "The balance is not shown.", "There are not two counts of the safe.", "A count of the safe once a month would."
        )
    parts = [_bridge_rows(answer, row) for _, row in told]
    widest = [row.value for part in parts for row in part]
    drawings = []
    for part in parts:
        ends = running([row.middle or 0.0 for row in part])
        drawings.append(bridge(part, Axis.around(ends, "g fine", ",d", w.separators, True), (), widest))
    messages = tuple(_bridge_message(answer, name, row) for name, row in told)
    readings = tuple(_bridge_reading(answer, row) for _, row in told)
    label = messages[0] + ". " + "; ".join(f"{row.name} {row.value}" for row in parts[0])
    first = told[0][1]
    when = f"{short_day(_date(first['from']))} to {short_day(_date(first['to']))}"
    measure = f"g fine, {when}; dark: start and what is left, blue: came in, rust: went out or is there"
    steps = stepped(drawings, 0, control.labels) if control and len(drawings) == len(control.labels) else drawings[0]
    choice = control if steps is not drawings[0] else None
    return Chart("bridge", messages if choice else messages[0], measure, steps, label, readings if choice else readings[0], control=choice)


def shown_balance(answer: Answer, metal: str) -> dict[str, Any] | None:
    """Return the balance the bridge shows: the one metal went in, else the last between two counts; None without two counts."""
    rows = between_rows(answer, metal)
    tested = answer.table("test")
    alarm = tested[(tested["metal"] == metal) & tested["alarm"].astype(bool)]
    at_once = bool(metal_facts(answer, metal)["at_once"])
    named = rows[rows["to"].isin(alarm["to"])] if at_once else rows.iloc[:0]
    chosen = named if len(named) else rows.tail(1)
    return rows_of(chosen)[0] if len(chosen) else None


def metal_facts(answer: Answer, metal: str) -> dict[str, Any]:
    """Return the row of one metal in the table `metals`."""
    frame = answer.table("metals")
    return rows_of(frame[frame["metal"] == metal])[0]


def _date(text: str) -> date:
    return date.fromisoformat(text)


def _bridge_rows(answer: Answer, row: dict[str, Any]) -> list[Row]:
    w = answer.writing
    start = row["opening"] + row["in_process_opening"]
    steps = [(name, sign * row[column]) for column, name, sign in STEPS if abs(row[column] or 0.0) >= 0.05]
    named = [Row(name, amount, value=w.number(amount, 1, "both")) for name, amount in steps]
    left = row["unexplained"]
    return [Row("There at the start", start, value=w.number(start, 1)), *named, Row("Unexplained", left, value=w.number(left, 1, "both"))]


def _bridge_message(answer: Answer, metal: str, row: dict[str, Any]) -> str:
    w = answer.writing
    inside = row["unexplained_low"] <= 0 <= row["unexplained_high"]
    word = "within what weighing can hide" if inside else "more than weighing can hide"
    return f"{w.unit(row['unexplained'], f'g of {metal}', 1)} is left unexplained, {word}"


def _bridge_reading(answer: Answer, row: dict[str, Any]) -> str:
    w = answer.writing
    facts = metal_facts(answer, row["metal"])
    if facts["alarm"] and facts["at_once"]:
        drift = row["unexplained"] - facts["missing_g"]
        return f"{w.grams(facts['missing_g'])} of it is missing; the other {w.unit(drift, 'g', 1)} is melts off the stated fineness."
    share = 1000.0 * row["recorded_loss"] / (row["recorded_loss"] + row["delivered"]) if row["delivered"] else None
    loss = f", {w.number(share, 1)}‰ of what was worked" if share is not None else ""
    theirs = row["delivered_customers"]
    customers = f" Of the metal delivered {w.grams(theirs)} was the customers' own." if theirs else ""
    return f"The benches lost {w.grams(row['recorded_loss'])} by the job cards{loss}; most of it lies in filings and sweeps.{customers}"


def unexplained(answer: Answer) -> Chart | Absent:
    """What every count left unexplained, against what weighing can hide."""
    w, names = answer.writing, metals_of(answer)
    sets = {name: between_rows(answer, name) for name in names}
    if not names or not all(len(rows) for rows in sets.values()):
        named = next((name for name in names if len(sets[name])), "")
        if not named:
            return Absent(
                "unexplained", "What the counts leave unexplained is not shown.", "There are not two counts of the safe.",
                "A count of the safe once a month would; five of them let a leak be told.",
            )  # fmt: skip
        sets = {named: sets[named]}
    drawings = [_counts_drawing(answer, rows) for rows in sets.values()]
    control = metal_control(answer) if len(sets) == len(names) else None
    messages = tuple(_counts_message(answer, name, rows) for name, rows in sets.items())
    readings = tuple(_counts_reading(answer, name) for name in sets)
    last = next(iter(sets.values())).tail(6)
    told = "; ".join(f"{short_day(_date(row['to']))} {w.number(row['unexplained'], 1, 'both')}" for row in rows_of(last))
    measure = "g fine unexplained from count to count, above zero missing; band: what weighing and fineness can hide; rust: outside it"
    drawing = stepped(drawings, 0, control.labels) if control else drawings[0]
    return Chart(
        "unexplained", messages if control else messages[0], measure, drawing, f"{messages[0]}. The last counts: {told}",
        readings if control else readings[0], follows="metal" if control else "",
    )  # fmt: skip


def _counts_drawing(answer: Answer, frame: pd.DataFrame) -> Any:
    rows = rows_of(frame)
    x = tuple(day_number(_date(row["to"])) for row in rows)
    half = tuple((row["unexplained_high"] - row["unexplained_low"]) / 2 for row in rows)
    left = tuple(row["unexplained"] for row in rows)
    hover = tuple(f"{day(_date(row['to']))}: {answer.writing.grams(row['unexplained'], sign='both')}" for row in rows)
    axis = Axis.around([*left, *half, *(-value for value in half)], "g fine", "", answer.writing.separators, True)
    zero = Series("", x, tuple(0.0 for _ in x), GREY, tuple(-value for value in half), half)
    out = [k for k, row in enumerate(rows) if row["unexplained_low"] > 0 or row["unexplained_high"] < 0]
    inside = Series("", x, tuple(None if k in out else grams for k, grams in enumerate(left)), INK, marks=True, hover=hover)
    outside = Series("", x, tuple(left[k] if k in out else None for k in range(len(left))), BAD, marks=True, hover=hover)
    first, last = _date(rows[0]["to"]), _date(rows[-1]["to"])
    notes = [(x[k], left[k], answer.writing.number(left[k], 1, "both")) for k in out[-MOST_NOTES:]]
    return lines([zero, inside, outside], axis, month_ticks(first, last) or [(x[-1], short_day(last))], notes=notes)


def _counts_message(answer: Answer, metal: str, frame: pd.DataFrame) -> str:
    facts, out = metal_facts(answer, metal), int(((frame["unexplained_low"] > 0) | (frame["unexplained_high"] < 0)).sum())
    if facts["alarm"]:
        return f"{answer.writing.unit(facts['missing_g'], f'g of {metal}', 1)} unexplained, more than weighing hides"
    if out:
        return f"{out} of {len(frame)} counts of {metal} lie outside what weighing can hide"
    return f"All {len(frame)} counts of {metal} lie inside what weighing can hide"


def _counts_reading(answer: Answer, metal: str) -> str:
    facts, w = metal_facts(answer, metal), answer.writing
    if facts["cannot_tell"]:
        return "Too few balances to tell a leak from weighing: nothing is called missing from them."
    seen = w.grams(facts["seen_at_once_g"])
    return (
        f"The test adds the counts up: {seen} gone between two counts would be seen 9 times in 10; "
        "2 shops in 100 without a leak get an alarm."
    )
