"""What limits the shop: what an hour more finishes, how full the benches are, and what to make first."""

from __future__ import annotations

import pandas as pd

from ...workshop.limits import DEMAND
from ..answer import Answer
from ..blocks import Absent, Chart, Table, Text
from ..charts import GREY, INK, Axis, Mark, Row, bars, ranges
from ..compose import Show, table_of
from ..sentences import cut, short_odds
from .headline import first_up

MOST_ROWS = 12
ROOM = 1.16
"""The axis of loads goes so far beyond the largest, that the line at 100% stands clear of the values written above it on a phone."""
FULL_LINE = Mark(1.0, "all hours booked")


def limiting_of(answer: Answer) -> str:
    """Return the limiting skill as the page names it; empty where demand limits or nothing is known."""
    table = answer.table("limits")
    known = table[table["limiting_probability"].notna()]
    if known.empty:
        return ""
    top = known.sort_values("limiting_probability", ascending=False, kind="stable").iloc[0]["skill"]
    return "" if top == DEMAND else str(top)


def _skills(answer: Answer) -> pd.DataFrame:
    table = answer.table("limits")
    return table[table["skill"] != DEMAND]


def extra_hour(answer: Answer) -> Chart | Absent:
    """Orders a year for one hour a week more, by bench, rows with their 80 % range."""
    w, table = answer.writing, _skills(answer)
    known = table[table["orders_per_extra_hour"].notna()].head(MOST_ROWS)
    if known.empty:
        return Absent(
            "extra_hour", "What an hour more is worth is not shown.", "The shop could not be simulated from these tables.",
            "Job cards with stage, person and hours over some months would.",
        )  # fmt: skip
    rows = [_hour_row(answer, one) for one in known.itertuples()]
    axis = Axis.around([*known["low"], *known["high"], 0.0], "orders a year for one hour a week more", ",d", w.separators)
    top, bench = known.iloc[0], limiting_of(answer)
    gain = w.number(top["orders_per_extra_hour"], 1)
    name = cut(str(top["skill"]), 20)
    found = f"An hour more at {name} finishes {gain} orders a year"
    message = found if bench else f"Even at {name} an hour more finishes only {gain} orders a year"
    label = f"{message}. " + "; ".join(f"{row.name} {row.value}" for row in rows)
    measure = "Orders delivered a year more for one hour a week more, simulated; bar = 8 times in 10; blue: surely above zero"
    return Chart("extra_hour", message, measure, ranges(rows, axis, [Mark(0.0, "", False)]), label, _hour_reading(answer, known))


def _hour_row(answer: Answer, one: tuple) -> Row:  # type: ignore[type-arg]
    w = answer.writing
    value, low, high = one.orders_per_extra_hour, one.low, one.high  # type: ignore[attr-defined]
    return Row(str(one.skill), value, low, high, value=w.number(value, 1), more=w.span(low, high, 1))  # type: ignore[attr-defined]


def _hour_reading(answer: Answer, known: pd.DataFrame) -> str:
    table = answer.table("limits").set_index("skill")["limiting_probability"]
    bench, demand = limiting_of(answer), table.get(DEMAND)
    if not bench:
        return f"Demand limits, and no bench, in {short_odds(demand)} simulated futures; an hour more then shortens the wait."
    rest = known.iloc[1:]["orders_per_extra_hour"]
    others = f" The other benches together would add {answer.writing.number(max(float(rest.sum()), 0.0), 1)}." if len(rest) else ""
    return f"{first_up(cut(bench))} is the bench worth most in {short_odds(table[bench])} simulated futures.{others}"


def load(answer: Answer) -> Chart | Absent:
    """How full each bench is: booked ÷ available hours, rows, line at all hours."""
    w, table = answer.writing, _skills(answer)
    known = table[table["load"].notna()].sort_values("load", ascending=False, kind="stable").head(MOST_ROWS)
    if known.empty:
        return Absent("load", "How full the benches are is not shown.", "No hours are booked by stage.", "Hours on the job cards would.")
    bench = limiting_of(answer)
    rows = [
        Row(str(one.skill), float(one.load), value=w.percent(one.load), tone=INK if one.skill == bench else GREY)  # type: ignore[arg-type]
        for one in known.itertuples()
    ]
    axis = Axis("booked ÷ available hours", 0.0, ROOM * max(float(known["load"].max()), 1.0), ".0%", w.separators)
    top = known.iloc[0]
    share = w.percent(top["load"])
    same = not bench or top["skill"] == bench
    name = first_up(cut(str(top["skill"]), 20))
    other = f"{name} is busiest ({share}), yet {cut(bench, 20)} limits"
    message = f"{name} is the busiest bench: {share} of its hours are booked" if same else other
    label = f"{message}. " + "; ".join(f"{row.name} {row.value}" for row in rows)
    measure = "Share of available hours booked, by skill, period as above; dark: the bench that limits"
    return Chart("load", message, measure, bars(rows, axis, [FULL_LINE]), label, _load_reading(answer, known))


def _load_reading(answer: Answer, known: pd.DataFrame) -> str:
    free = known.iloc[-1]
    w = answer.writing
    text = f"{first_up(cut(str(free['skill']), 20))} has most room: {w.percent(1 - free['load'])} of its hours are free."
    most, bench = known["skill"].iloc[int(known["hours_booked"].astype(float).to_numpy().argmax())], limiting_of(answer)
    text += f" {first_up(cut(str(most), 20))} books most hours, yet {bench} limits." if bench and most != bench else ""
    over = known[known["load"] > 1.0]
    return text + (f" {len(over)} above 100%: overtime, or hours lent by others." if len(over) else "")


def stages_table(answer: Answer) -> Table:
    """Return the benches as a table."""
    shows = [
        Show("stage", "Stage"), Show("hours_booked", "Booked", "number", "h", narrow=False), Show("load", "Load", "share"),
        Show("queue_hours_mean", "Wait before it", "hours", narrow=False),
        Show("longest_queue_share", "Longest queue", "share", "of weeks", narrow=False),
        Show("first_pass_yield", "Right first time", "share", narrow=False),
        Show("orders_per_extra_hour", "An hour more", "number1", "orders a year"), Show("limiting_probability", "Limits", "odds"),
    ]  # fmt: skip
    note = "Stages that share a skill show its load, its hour and its odds. Time on hold is in none of the waits."
    return table_of(answer, "stages", "The benches in the period", shows, note=note)


def make_first(answer: Answer) -> Chart | Absent | Text:
    """What an hour at the limiting bench brings by chain, rows: what to make first while it limits."""
    w, bench, table = answer.writing, limiting_of(answer), answer.table("make_first")
    if not bench:
        return Text("make_first", ("While no bench is known to limit, every order that brings more than its own costs is worth taking.",))
    ranked = table[table["rank"].notna() & table["contribution_per_limiting_hour"].notna()].sort_values("rank")
    if ranked.empty:
        return Absent("make_first", "What to make first is not shown.", "No style and alloy has 5 orders with hours at that bench.",
                      "Hours by stage on 5 orders of a style and alloy would.")  # fmt: skip
    shown = pd.concat([ranked.head(MOST_ROWS // 2), ranked.iloc[MOST_ROWS // 2 :].tail(MOST_ROWS // 2)])
    rows = [_chain_row(answer, one) for one in shown.itertuples()]
    usual = answer.figure("An hour there brings").value or 0.0
    axis = Axis.around([*shown["low"], *shown["high"], usual], f"{w.currency} an hour at {bench}", ",d", w.separators)
    message = (
        f"{first_up(cut(str(ranked.iloc[0]['group']), 24))} first, {cut(str(ranked.iloc[-1]['group']), 24)} last, while {bench} limits"
    )
    reading = (
        f"A usual order brings {w.money(usual, step=1.0)} an hour at {bench}. While orders wait, one that brings less pushes a better one "
        "out: ask more, make it later, or refuse it. With time at that bench refuse none."
    )
    label = f"{message}. " + "; ".join(f"{row.name} {row.value}" for row in rows)
    ends = "" if len(ranked) <= MOST_ROWS else f" the {MOST_ROWS // 2} best and the {MOST_ROWS // 2} last;"
    measure = f"Contribution before regular wages an hour at {bench}, {w.currency};{ends} bar = 8 times in 10; (orders)"
    drawing = ranges(rows, axis, [Mark(usual, "usual order")])
    return Chart("make_first", message, measure, drawing, label, reading, table=_make_table(answer))


def _chain_row(answer: Answer, one: tuple) -> Row:  # type: ignore[type-arg]
    w = answer.writing
    value, low, high = one.contribution_per_limiting_hour, one.low, one.high  # type: ignore[attr-defined]
    name = f"{cut(str(one.group), 22)} ({w.number(one.n)})"  # type: ignore[attr-defined]
    return Row(name, value, low, high, value=w.number(value), more=w.span(low, high), tone=INK)


def _make_table(answer: Answer) -> Table:
    shows = [
        Show("group", "Style and alloy"), Show("n", "Orders", "number"), Show("limiting_hours", "Hours there", "number", "h"),
        Show("contribution_per_limiting_hour", "An hour brings", "money"), Show("low", "Low", "money"), Show("high", "High", "money"),
    ]  # fmt: skip
    return table_of(answer, "make_first", "What an hour at the limiting bench brings", shows, block="make_first_numbers")
