"""The page of the monthly review, drawn from the answer alone."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import Any

import pandas as pd

from ..answer import Answer
from ..blocks import Absent, Chart, Page, Table, Text
from ..charts import BAD, GREY, INK, Axis, Mark, Point, Row, columns, money_scale, ranges
from ..compose import Show, key_figure, page_of, table_of
from ..margin.by_month import month_bridge
from ..periods import month_start
from ..sentences import cut, short_month
from ..sentences import month as in_words
from .headline import stake


def page(answer: Answer) -> Page:
    """Return the review's page.

    Parameters
    ----------
    answer : Answer
        Of this report.
    """
    figures = [
        key_figure(answer, "Result", _against(answer, "result"), sign="both"),
        key_figure(answer, "Making margin", _against(answer, "making_margin")),
        key_figure(answer, "Orders finished", _against(answer, "orders")),
        key_figure(answer, "On time", _against(answer, "on_time_share")),
        key_figure(answer, "Forecasts right", _score(answer.table("record"))),
    ]
    last_time = answer.table("last_time")
    words = stake(len(last_time), _right(last_time), len(answer.table("decisions")), answer.writing)
    blocks = [_decisions(answer), _by_month(answer), month_bridge(answer), _months(answer), _last_time(answer), _last_table(answer),
              _ahead(answer), _headlines(answer), _care(answer)]  # fmt: skip
    return page_of(answer, words, figures, blocks)


def _score(frame: pd.DataFrame) -> str:
    return f"{_right(frame)} of {len(frame)} so far" if len(frame) else "none has come due"


def _right(frame: pd.DataFrame) -> int:
    return int(frame["inside"].astype(bool).sum()) if len(frame) else 0


def _against(answer: Answer, column: str) -> str:
    """The month before, and the same month a year ago."""
    months = answer.table("months").set_index("month")
    first = answer.period.from_
    w = answer.writing
    parts = []
    for back in (1, 12):
        day = month_start(first, back)
        name = f"{day:%Y-%m}"
        value = months[column].astype(float).get(name, float("nan"))
        if pd.notna(value):
            parts.append(f"{short_month(day)}: {w.percent(value) if column.endswith('share') else w.number(value)}")
    return ", ".join(parts)


def _decisions(answer: Answer) -> Table | Text:
    if answer.table("decisions").empty:
        return Text("decisions", ("Nothing is to be decided this month.",))
    shows = [
        Show("question", "Question"), Show("answer", "What the figures say"), Show("odds", "Odds", "odds", narrow=False),
        Show("money", "At stake", "money"), Show("because", "Because", narrow=False), Show("report", "More in", "report", narrow=False),
    ]  # fmt: skip
    return table_of(answer, "decisions", "What is to be decided: most to gain first, then metal to buy, then what has no amount", shows)


def _by_month(answer: Answer) -> Chart | Absent:
    w = answer.writing
    months = answer.table("months")
    whole = months[~months["partial"].astype(bool)].tail(13)
    if whole.empty:
        return Absent("by_month", "The months are not shown.", "No month is complete.", "The first whole month will show it.")
    ahead = answer.table("ahead")
    scale = money_scale([*whole["making_margin"], *ahead["high"]], w.currency)
    points = [Point(_label(one["month"]), one["making_margin"] / scale.divisor, tone=BAD if one["making_margin"] < 0 else GREY)
              for one in whole.to_dict("records")]  # fmt: skip
    points += [
        _ahead_point(one, scale.divisor)
        for one in ahead.to_dict("records")
    ]  # fmt: skip
    axis = Axis.around(
        [value for point in points for value in (point.value, point.low, point.high)], scale.unit, ",", w.separators, zero=True
    )
    here = float(whole["making_margin"].iloc[-1])
    usual = float(whole["making_margin"].iloc[:-1].median()) if len(whole) > 1 else here
    side = "above" if here >= usual else "below"
    name, money = in_words(_month(whole["month"].iloc[-1])), w.money(here, step=100.0)
    message = f"{name} earned {money} at the benches, {side} the usual {w.money(usual, step=100.0)}"
    label = f"{message}. " + "; ".join(f"{one['month']}: {w.number(one['making_margin'])}" for one in whole.to_dict("records"))
    reading = _next(answer, ahead)
    measure = f"Making margin by month, {scale.unit}; solid: happened, hatched: next month, whisker = 8 times in 10"
    return Chart("by_month", message, measure, columns(points, axis), label, reading)


def _ahead_point(one: Mapping[Any, Any], divisor: float) -> Point:
    low, middle, high = (float(one[name]) / divisor for name in ("low", "mid", "high"))
    return Point(short_month(date.fromisoformat(str(one["due_on"]))), middle, low, high, True)


def _next(answer: Answer, ahead: pd.DataFrame) -> str:
    if ahead.empty:
        return "Next month is not forecast: the history cannot be simulated."
    one = ahead.iloc[0]
    return f"Next month's making margin should be {answer.writing.money_span(float(one['low']), float(one['high']))}, 8 times in 10."


def _month(month: object) -> date:
    return date.fromisoformat(f"{str(month)[:7]}-01")


def _label(month: object) -> str:
    return short_month(_month(month))


def _months(answer: Answer) -> Table:
    shows = [
        Show("month", "Month", "month"), Show("orders", "Orders", "number", narrow=False), Show("making_margin", "Making margin", "money"),
        Show("metal_result", "Metal result", "money_change", narrow=False), Show("unbooked_pay", "Unbooked pay", "money", narrow=False),
        Show("overheads", "Overheads", "money", narrow=False), Show("result", "Result", "money_change"),
        Show("on_time_share", "On time", "share", narrow=False),
    ]  # fmt: skip
    return table_of(answer, "months", "Down to what the bank sees", shows, rows=answer.table("months").tail(13))


def _place(one: dict[Any, Any]) -> float:
    width = float(one["forecast_high"]) - float(one["forecast_low"])
    return (float(one["happened"]) - float(one["forecast_low"])) / width if width > 0 else 0.5


def _last_time(answer: Answer) -> Chart | Absent:
    """Where what happened fell inside each forecast's range: 0 low, 1 high."""
    frame, w = answer.table("last_time"), answer.writing
    if frame.empty:
        return Absent(
            "last",
            "Last time's forecasts are not shown.",
            "Nothing said earlier has come due.",
            "The next review in this folder will show it.",
        )
    rows = [
        Row(cut(str(one["what"]).capitalize()), min(max(_place(one), -0.5), 1.5), 0.0, 1.0, value=w.number(one["happened"]),
            more=f"said {w.span(one['forecast_low'], one['forecast_high'])}", tone=INK if one["inside"] else BAD)
        for one in frame.to_dict("records")
    ]  # fmt: skip
    right = _right(frame)
    message = f"{w.number(right)} of {w.number(len(frame))} forecasts came true"
    label = f"{message}. " + "; ".join(f"{row.name}: {row.value}, {row.more}" for row in rows)
    axis = Axis("place in the range said: 0 = its low end, 1 = its high end", -0.55, 1.55, ".1f", w.separators)
    reading = "8 in 10 should fall inside; a single month proves little, the running record more."
    measure = "What happened inside the range said; bar = range said (8 times in 10), dot = what came; rust: outside"
    return Chart("last", message, measure, ranges(rows, axis, [Mark(0.0, "low"), Mark(1.0, "high")]), label, reading)


def _last_table(answer: Answer) -> Table | Text:
    frame = answer.table("record")
    if frame.empty:
        return Text("record", ("The running record begins with the next review.",))
    shows = [
        Show("due_on", "Due", "day"), Show("what", "What"), Show("forecast_low", "Low", "number", narrow=False),
        Show("forecast_high", "High", "number", narrow=False), Show("happened", "Came", "number"), Show("inside", "Inside", "yes_no"),
    ]  # fmt: skip
    return table_of(answer, "record", "Every forecast so far", shows, rows=frame.tail(40))


def _ahead(answer: Answer) -> Table | Text:
    if answer.table("forecasts").empty:
        return Text("forecasts", ("Nothing is forecast: the history cannot be simulated.",))
    shows = [
        Show("what", "What"), Show("due_on", "By", "day"), Show("low", "1 in 10 below", "number"),
        Show("mid", "Middle", "number", narrow=False),
        Show("high", "1 in 10 above", "number"), Show("unit", "Unit", narrow=False),
    ]  # fmt: skip
    return table_of(answer, "forecasts", "Said today, to be scored next time", shows)


def _headlines(answer: Answer) -> Table | Text:
    if answer.table("headlines").empty:
        return Text("headlines", ("No other report was made.",))
    return table_of(answer, "headlines", "What the other reports say", [Show("report", "Report", "report"), Show("headline", "Headline")])


def _care(answer: Answer) -> Text:
    return Text("care", tuple(one.text for one in answer.findings if one.code in ("noise", "safe", "not_advice")))
