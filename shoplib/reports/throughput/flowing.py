"""How orders move: days in the shop, months, holds, Little's law, the shop on its curve."""

from __future__ import annotations

from datetime import date

import pandas as pd

from ..answer import Answer
from ..blocks import Absent, Chart, Details, Table, Text
from ..charts import GREY, INK, Axis, Series, lines
from ..charts.series import day_number, month_ticks
from ..compose import Show, table_of
from ..sentences import month as in_words
from ..sentences import short_month


def _whole(answer: Answer) -> pd.DataFrame:
    months = answer.table("months")
    return months[~months["partial"].astype(bool)]


def _day(month: str) -> date:
    return date.fromisoformat(str(month))


def days_by_month(answer: Answer) -> Chart | Absent:
    """Days from order to delivery by month: half of the orders, and 8 in 10."""
    w, months = answer.writing, _whole(answer)
    known = months[months["flow_days_p50"].notna()]
    if len(known) < 2:
        why = "Fewer than two whole months have deliveries."
        return Absent("days", "Days in the shop by month are not shown.", why, "The next month will settle it.")
    days = [_day(month) for month in months["month"]]
    x = tuple(map(day_number, days))
    series = [
        Series(label, x, _values(months, name), colour, hover=_hover(answer, months, name))
        for name, label, colour in (("flow_days_p50", "half", INK), ("flow_days_p80", "8 in 10", GREY))
    ]
    axis = Axis.around([*months["flow_days_p80"].dropna(), 0.0], "days", ",d", w.separators, zero=True)
    first, last = known.iloc[0], known.iloc[-1]
    ends = [w.number(one["flow_days_p50"]) for one in (last, first)]
    message = f"Half the orders of {in_words(_day(last['month']))} took over {ends[0]} days, of {in_words(_day(first['month']))} {ends[1]}"
    told = zip(months["month"], months["flow_days_p50"], months["flow_days_p80"], strict=True)
    label = f"{message}. " + "; ".join(f"{short_month(_day(month))}: {w.number(half)} and {w.number(most)}" for month, half, most in told)
    measure = "Calendar days from order to delivery, by month of delivery; dark: half the orders took no longer; grey: 8 in 10"
    return Chart("days", message, measure, lines(series, axis, month_ticks(days[0], days[-1])), label, _bench_reading(answer))


def _values(months: pd.DataFrame, name: str) -> tuple[float | None, ...]:
    return tuple(None if pd.isna(value) else float(value) for value in months[name])


def _hover(answer: Answer, months: pd.DataFrame, name: str) -> tuple[str, ...]:
    told = zip(months["month"], months[name], strict=True)
    return tuple(f"{short_month(_day(month))}: {answer.writing.unit(value, 'days')}" for month, value in told)


def _bench_reading(answer: Answer) -> str:
    share = answer.figure("On a bench").value
    if share is None:
        return "Hours on the cards would tell how much of that time an order lies on a bench."
    return f"Of the shop's working hours in that time an order lies on a bench {answer.writing.percent(share)}; the rest it waits."


def months_table(answer: Answer) -> Table:
    """Return the months."""
    shows = [
        Show("month", "Month", "month"), Show("orders_in", "Taken", "number"), Show("orders_out", "Delivered", "number"),
        Show("wip_orders", "In process", "number", narrow=False), 
        Show("flow_days_mean", "Days in the shop", "number1", "mean", narrow=False),
        Show("touch_hours_mean", "On a bench", "hours", narrow=False), Show("on_time_share", "On time", "share", "first promise"),
        Show("on_time_last_share", "On time", "share", "last promise", narrow=False),
    ]  # fmt: skip
    partial = answer.table("months")["partial"].astype(bool)
    note = "The last month is still running and is compared with nothing." if partial.any() else ""
    return table_of(answer, "months", "Month by month", shows, note=note)


def holds_table(answer: Answer) -> Table | Text:
    """Return the time orders waited for something else than a bench."""
    frame = answer.table("holds")
    if frame.empty:
        return Text("holds", ("No order was on hold in the period. Holds are waits of their own, not queues at a bench.",))
    shows = [
        Show("why", "Waited for"), Show("holds", "Holds", "number"), Show("orders", "Orders", "number"), Show("days", "Days", "number"),
        Show("open", "Still held", "number"),
    ]  # fmt: skip
    return table_of(answer, "holds", "Waits that no bench causes", shows, note="These days are in no bench's queue.")


def little(answer: Answer) -> Text:
    """Little's law in words: what work in process and output say of the days in the shop."""
    w, row = answer.writing, answer.table("little").iloc[0]
    if pd.isna(row["gap_days"]):
        return Text("little", ("Little's law says nothing here: no order was delivered in the period.",))
    wip, out = w.number(row["wip_mean"], 0), w.number(row["out_per_day"] * 7.0, 1)
    law, mean = (w.unit(row[name], "days", 1) for name in ("flow_by_law_days", "flow_mean_days"))
    gap = float(row["gap_days"])
    means = "the two agree" if abs(gap) < 1.0 else "the shop fills up, or old orders are still inside" if gap > 0 else "the shop empties"
    text = f"On a mean day {wip} orders were inside and {out} a week went out: by Little's law {law} each."
    return Text("little", (f"{text} Those delivered took {mean}: {means}.",))


def curve(answer: Answer) -> Details | Absent:
    """The shop on its curve, in closed details."""
    w, frame, point = answer.writing, answer.table("curve"), answer.table("curve_point")
    if frame.empty or point.empty:
        return Absent(
            "curve", "The shop on its curve is not shown.", "It needs deliveries and booked hours.", "Hours on the job cards would."
        )
    here = point.iloc[0]
    x = tuple(map(float, frame["wip"]))
    names = (("best", "best", INK, "solid"), ("practical_worst", "practical worst", GREY, "solid"), ("worst", "worst", GREY, "dot"))
    series = [Series(label, x, tuple(map(float, frame[name])), colour, dash=dash) for name, label, colour, dash in names]
    shop = Series("", (float(here["wip"]),), (float(here["output"]),), INK, marks=True)
    axis = Axis.around([*frame["best"], here["output"], 0.0], "orders a week", ",d", w.separators, zero=True)
    ticks = [(at, w.number(at)) for at in _ticks(x[-1])]
    note = (float(here["wip"]), float(here["output"]), "this shop")
    drawing = lines([*series, shop], axis, ticks, title="orders in process", notes=[note])
    message = _curve_message(answer, here)
    reading = (
        f"{w.number(here['critical_wip'], 0)} orders inside would do if nothing varied; the worst case is all orders moving as one batch. "
        "The rate holds at the period's mix of orders."
    )
    label = f"{message}. The busiest bench would carry {w.number(here['rate'], 1)} a week."
    measure = "Output, orders a week, against orders in process; lines: best, practical worst and worst case; dot: this shop in the period"
    chart = Chart("curve_chart", message, measure, drawing, label, reading)
    return Details("curve", "The shop on its curve of work in process and output", (chart,))


def _curve_message(answer: Answer, here: pd.Series) -> str:
    w = answer.writing
    side = "above" if here["output"] >= here["practical_worst"] else "below"
    return f"{w.number(here['wip'], 0)} orders inside give {w.number(here['output'], 1)} a week, {side} the practical worst case"


def _ticks(most: float) -> list[float]:
    step = next(step for step in (1, 2, 5, 10, 20, 25, 50, 100, 200, 250, 500, 1000, 2000, 5000, 10**9) if most / step <= 6)
    return [float(at) for at in range(0, int(most) + 1, step)]
