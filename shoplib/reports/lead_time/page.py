"""The page of the lead-time report, drawn from the answer alone."""

from __future__ import annotations

from datetime import date

import pandas as pd

from ..answer import Answer
from ..blocks import Absent, Chart, Control, Page, Table, Text
from ..charts import BAD, GREY, INK, Axis, Mark, Point, Row, Series, Window, bands, columns, ranges, stepped, windows
from ..charts.series import day_number, month_ticks
from ..compose import Show, key_figure, page_of, table_of
from ..sentences import cut, odds_count, short_day, short_month
from .headline import METHODS, stake

LEVELS = {"80%": "promise_80", "85%": "promise_85", "90%": "promise_90", "95%": "promise_95"}
DAYS = {"80%": "days_p80", "85%": "days_85", "90%": "days_90", "95%": "days_p95"}
MOST = 12


def page(answer: Answer) -> Page:
    """Return the lead-time page.

    Parameters
    ----------
    answer : Answer
        Of this report.
    """
    names = [one.name for one in answer.figures]
    figures = [key_figure(answer, name, sign="both" if name == "Dates off by" else "minus") for name in names]
    blocks = [
        _calls(answer),
        _open_table(answer),
        _new(answer),
        _new_table(answer),
        _record(answer),
        _backtest(answer),
        _demand(answer),
        _outlook(answer),
        _care(answer),
    ]
    return page_of(answer, _stake(answer), figures, blocks)


def _stake(answer: Answer) -> str:
    used = next(one.text for one in answer.findings if one.code == "methods_used")
    by = {name: name in used.split(", of new")[0] for name in ("recent_by_load", "recent", "promised")}
    open_by = next(
        (name for name, said in by.items() if said), "model_recalibrated" if "corrected" in used.split(", of new")[0] else "model"
    )
    new_part = used.split(", of new ones by ")[1]
    new_by = next(
        (name for name in ("recent_by_load", "recent") if name in new_part), "model_recalibrated" if "corrected" in new_part else "model"
    )
    bias = answer.figure("Dates off by").value
    return stake(open_by, new_by, bias, answer.writing, all(one.code != "no_simulation" for one in answer.findings))


def _care(answer: Answer) -> Text:
    return Text("care", tuple(one.text for one in answer.findings if one.code in ("promise_care", "hours_limit")))


def _day(text: object) -> date:
    return date.fromisoformat(str(text))


def _calls(answer: Answer) -> Chart | Absent | Text:
    """Open orders most likely late on a date axis."""
    frame = answer.table("open_orders")
    if frame.empty:
        return (
            Text("calls", ("No order is open.",))
            if not _stopped(answer)
            else _cannot("calls", "Dates of open orders are not shown.", answer)
        )
    known = frame[frame["late_probability"].notna() & frame["finish_p95"].notna()]
    shown = known.sort_values(["late_probability", "call_rank", "order_id"], ascending=[False, True, True]).head(MOST)
    if shown.empty:
        return Absent("calls", "Whom to call is not shown.", "No open order has a promise.", "A promised date on each order would.")
    rows = [_window(one) for one in shown.to_dict("records")]
    first = min(min(row.low, row.promised or row.low) for row in rows)
    last = max(max(row.high, row.promised or row.high) for row in rows)
    ticks = month_ticks(_from(first), _from(last)) or [(first, short_day(_from(first)))]
    today = day_number(answer.as_of)
    over = answer.writing.number(known["late_probability"].sum())
    message = f"About {over} of {answer.writing.number(len(known))} promised orders will miss their date"
    label = f"{message}. " + "; ".join(f"{row.name}: {row.value}" for row in rows)
    axis = Axis("", min(first, today) - 2, last + 2)
    reading = f"{cut(rows[0].name)} is most likely late: {rows[0].value} to miss {_promise(shown.iloc[0])}."
    measure = "Day of delivery; bar from 5 in 10 to 19 in 20, tick at 8 in 10, ◆ promised; most likely late first"
    return Chart("calls", message, measure, windows(rows, axis, ticks, [Mark(today, "today", False)]), label, reading)


def _promise(one: pd.Series) -> str:
    return short_day(_day(one["promised_on"]))


def _from(number: float) -> date:
    return date.fromordinal(date(1970, 1, 1).toordinal() + int(number))


def _window(one: dict[object, object]) -> Window:
    low, tick, high = (day_number(_day(one[name])) for name in ("finish_p50", "finish_p80", "finish_p95"))
    tone = BAD if float(one["late_probability"]) >= 0.5 else INK  # type: ignore[arg-type]
    promised = day_number(_day(one["promised_on"]))
    return Window(str(one["order_id"]), low, tick, high, promised, odds_count(float(one["late_probability"])), "", tone)  # type: ignore[arg-type]


def _stopped(answer: Answer) -> bool:
    return any(one.code == "no_simulation" for one in answer.findings)


def _cannot(name: str, what: str, answer: Answer) -> Absent:
    why = next((one.text for one in answer.findings if one.code == "no_simulation"), "Nothing new was simulated.")
    return Absent(name, what, why, "Dates by stage on the job cards for three months would settle it.")


def _open_table(answer: Answer) -> Table | Text:
    frame = answer.table("open_orders")
    if frame.empty:
        return Text("open_orders", ("There is nothing to list.",))
    shows = [
        Show("order_id", "Order"), Show("stage_now", "Stands at", narrow=False), Show("promised_on", "Promised", "day", narrow=False),
        Show("finish_p50", "5 in 10 by", "day"), Show("finish_p80", "8 in 10 by", "day", narrow=False),
        Show("finish_p95", "19 in 20 by", "day", narrow=False),
        Show("late_probability", "Odds it is late", "odds"), Show("waits_at", "Waits longest at", narrow=False),
    ]  # fmt: skip
    rows = frame.assign(key=frame["call_rank"].fillna(1e9)).sort_values(["key", "order_id"])
    note = "In the order of whom to call first: days late to expect × price."
    return table_of(answer, "open_orders", "Open orders, whom to call first", shows, rows=rows, note=note)


def _service(answer: Answer) -> Control:
    asked = answer.parameters.get("service_level_percent") or 90
    labels = tuple(LEVELS)
    start = min(range(len(labels)), key=lambda at: abs(float(labels[at].rstrip("%")) - float(asked)))
    return Control("service", "Promises to be kept", labels, start, "slider")


def _new(answer: Answer) -> Chart | Absent:
    """Days of a new order by style and alloy; the slider moves the service level."""
    frame = answer.table("new_orders").dropna(subset=["days_p50", "days_p95"])
    if frame.empty:
        return _cannot("new", "What to promise is not shown.", answer)
    w, control = answer.writing, _service(answer)
    shown = frame.sort_values(["recent_orders", "style", "alloy"], ascending=[False, True, True]).head(MOST)
    axis = Axis.around([*shown["days_p50"], *shown["days_p95"]], "days from order to delivery", ",d", w.separators)
    sets = [[_kind(answer, one, column) for one in shown.to_dict("records")] for column in DAYS.values()]
    widest = [f"{row.value}  {row.more}" for rows in sets for row in rows]
    drawings = [ranges(rows, axis, (), widest) for rows in sets]
    messages = tuple(f"To keep {label}, promise {rows[0].value} on {cut(rows[0].name)}" for label, rows in zip(LEVELS, sets, strict=True))
    readings = tuple(_new_reading(rows) for rows in sets)
    label = f"{messages[control.start]}. " + "; ".join(f"{row.name} {row.value}" for row in sets[control.start])
    measure = "Calendar days from order to delivery, placed tomorrow; dot = days to promise, bar = from 5 in 10 to 19 in 20"
    return Chart("new", messages, measure, stepped(drawings, control.start, control.labels), label, readings, control=control)


def _kind(answer: Answer, one: dict[object, object], column: str) -> Row:
    w = answer.writing
    low, high = float(one["days_p50"]), float(one["days_p95"])  # type: ignore[arg-type]
    days = float(one[column])  # type: ignore[arg-type]
    return Row(cut(f"{one['style']}, {one['alloy']}"), days, low, high, value=w.unit(days, "days"), more=w.span(low, high), tone=INK)


def _new_reading(rows: list[Row]) -> str:
    longest = max(rows, key=lambda row: row.middle or 0.0)
    return f"{longest.name} asks for the longest promise, {longest.value}."


def _new_table(answer: Answer) -> Table | Text:
    frame = answer.table("new_orders")
    if frame.empty:
        return Text("new_orders", ("No new order could be simulated.",))
    shows = [
        Show("style", "Style"), Show("alloy", "Alloy"), Show("days_p50", "5 in 10", "number", "days", narrow=False),
        Show("promise_80", "Kept 8 in 10", "day", narrow=False), Show("promise_90", "Kept 9 in 10", "day"),
        Show("promise_95", "Kept 19 in 20", "day", narrow=False), Show("recent_orders", "Last year", "number", "orders", narrow=False),
    ]  # fmt: skip
    return table_of(answer, "new_orders", "What to promise on an order placed tomorrow", shows)


def _record(answer: Answer) -> Chart | Absent:
    """Stated against kept, open orders, with the three plain rules."""
    w, frame = answer.writing, answer.table("record")
    rows_ = frame[(frame["horizon"] == "open") & (frame["level"] == 0.8)]
    if rows_.empty:
        return Absent("record", "How right past dates were is not shown.", "The history is too short.", "A year of orders would show it.")
    shown = rows_.to_dict("records")
    rows = [
        Row(METHODS[str(one["method"])].removeprefix("the ").capitalize()[:28], one["kept"], one["low"], one["high"], before=0.8,
            value=w.percent(one["kept"]), more=w.number(one["n"]), tone=INK)
        for one in shown
    ]  # fmt: skip
    axis = Axis("share delivered by the 8-in-10 date", 0.0, 1.0, ".0%", w.separators)
    ours = shown[0]
    message = f"The workshop's 8-in-10 dates held {w.percent(ours['kept'])} of open orders"
    label = f"{message}. " + "; ".join(f"{row.name} {row.value}" for row in rows)
    measure = "Orders open on past days, %; ○ stated, ● happened, bar = 9 times in 10 by drawing whole days anew"
    reading = f"{w.number(ours['n'])} dates said on past days; orders of one day share their luck, so the bar is wide."
    return Chart("record", message, measure, ranges(rows, axis, [Mark(0.8, "stated 80%")]), label, reading)


def _backtest(answer: Answer) -> Table | Text:
    frame = answer.table("backtest")
    if frame.empty:
        return Text("backtest", ("No past day could be forecast.",))
    numbers = ["pinball_50", "pinball_80", "pinball_95", "coverage_50", "coverage_80", "coverage_95", "bias_days"]
    weighted = frame[numbers].mul(frame["n"], axis=0).assign(n=frame["n"], method=frame["method"], horizon=frame["horizon"])
    total = weighted.groupby(["horizon", "method"]).sum()
    pooled = total[numbers].div(total["n"], axis=0).assign(n=total["n"]).reset_index()
    words = {"open": "open then", "new": "new in 4 weeks"}
    pooled = pooled.assign(method=[METHODS[name] for name in pooled["method"]], horizon=[words[name] for name in pooled["horizon"]])
    shows = [
        Show("horizon", "Orders"), Show("method", "Told by"), Show("n", "Dates", "number", narrow=False),
        Show("pinball_50", "Loss, 5 in 10", "number2", "days"),
        Show("pinball_80", "Loss, 8 in 10", "number2", "days", narrow=False),
        Show("pinball_95", "Loss, 19 in 20", "number2", "days", narrow=False),
        Show("coverage_80", "Held 8 in 10", "share"), Show("bias_days", "Too late by", "change1", "days", narrow=False),
    ]  # fmt: skip
    note = "Every past day refitted on what was known then; less loss is better. Each day is in the workbook."
    return table_of(answer, "backtest", "Dates said on past days against what came", shows, rows=pooled, note=note)


def _demand(answer: Answer) -> Chart | Absent:
    past, ahead = answer.table("past"), answer.table("demand")
    if ahead.empty:
        why = next((one.text for one in answer.findings if one.code == "no_demand"), "No order was placed.")
        return Absent("demand", "Orders to come are not shown.", why, "Three whole months would start it.")
    w = answer.writing
    shown = past[~past["partial"].astype(bool)].tail(13)
    points = [
        Point(_label(one["month"]), one["orders"], tone=GREY, hover=f"{one['month']}: {one['orders']}") for one in shown.to_dict("records")
    ]
    points += [
        Point(
            _label(one["month"]),
            one["orders_p50"],
            one["orders_p10"],
            one["orders_p90"],
            True,
            hover=f"{one['month']}: {one['orders_p50']:.0f}",
        )
        for one in ahead.to_dict("records")
    ]
    axis = Axis.around([value for point in points for value in (point.value, point.high)], "orders a month", ",d", w.separators, zero=True)
    year, before = ahead["orders_p50"].sum(), past[~past["partial"].astype(bool)]["orders"].tail(12).sum()
    message = f"About {w.number(year)} orders in the next 12 months, {w.number(before)} in the last 12"
    reading = "Months with closures and holidays have fewer working days, and so fewer orders."
    label = f"{message}. " + "; ".join(f"{one['month']}: {w.number(one['orders_p50'])}" for one in ahead.to_dict("records"))
    measure = "Orders placed by month; solid: happened, hatched: forecast, whisker = 8 times in 10"
    return Chart("demand", message, measure, columns(points, axis), label, reading)


def _label(month: object) -> str:
    return short_month(date.fromisoformat(f"{str(month)[:7]}-01"))


def _outlook(answer: Answer) -> Chart | Absent:
    """What the wait does if demand goes on as forecast and promises are made as now."""
    w, frame = answer.writing, answer.table("outlook")
    if frame.empty:
        return _cannot("outlook", "Where the wait goes is not shown.", answer)
    days = [date.fromisoformat(f"{month}-15") for month in frame["month"]]
    x = tuple(day_number(day) for day in days)
    line = Series("", x, tuple(frame["wait_p50"]), INK, tuple(frame["wait_p10"]), tuple(frame["wait_p90"]))
    axis = Axis.around([*frame["wait_p10"], *frame["wait_p90"], 0.0], "days", ",d", w.separators)
    first, last = frame.iloc[0], frame.iloc[-1]
    message = f"Unchanged, a new order's wait goes from {w.number(first['wait_p50'])} to {w.number(last['wait_p50'])} days"
    kept = frame["on_time_share"].dropna()
    reading = f"Promises made as now would then be kept in {w.percent(kept.iloc[-1])} of cases." if len(kept) else "No promise falls due."
    seen = first["longest_seen"]
    if pd.notna(seen) and frame["wait_p50"].max() > seen:
        reading += f" Waits beyond {w.unit(seen, 'days')} are an extrapolation: no month so far had a longer middle wait."
    label = f"{message}. Last month {w.span(last['wait_p10'], last['wait_p90'])} days"
    measure = "Days from order to delivery of orders placed in the month; line = middle, band = 8 times in 10"
    return Chart(
        "outlook", message, measure, bands(line, axis, month_ticks(days[0], days[-1]), ("1 in 10 above", "1 in 10 below")), label, reading
    )
