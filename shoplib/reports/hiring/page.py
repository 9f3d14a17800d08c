"""The page of the hiring report, drawn from the answer alone."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import Any

import pandas as pd

from ..answer import Answer
from ..blocks import Absent, Chart, Control, KeyFigure, Page, Table, Text
from ..charts import INK, Axis, Mark, Row, Series, bands, dumbbell, money_scale, ranges, stepped, turns
from ..compose import Show, key_figure, page_of, table_of
from ..sentences import cut, step_of
from .headline import Plan, Told, chosen, horizon, stake
from .tables import DOES_NOT_LIMIT

HORIZONS, DEMANDS = (12, 24, 36), (0.9, 1.0, 1.1)
DEMAND_WORDS = {0.9: "10% fewer orders", 1.0: "as forecast", 1.1: "10% more orders"}


def page(answer: Answer) -> Page:
    """Return the hiring page.

    Parameters
    ----------
    answer : Answer
        Of this report.
    """
    plans = answer.table("candidates")
    if plans.empty:
        absent = Absent(
            "options", "No plan is shown.", answer.findings[0].text, "Hours by stage on the job cards for half a year would settle it."
        )
        return page_of(answer, "", [], [absent, *_not_shown("left_out"), _law(answer)])
    nothing = plans[plans["kind"] == "nothing"].iloc[0]
    w = answer.writing
    if not answer.figures:
        absent = Absent(
            "options", "No plan is compared.", "No plan could be run.", "The reasons stand under the notes: set what is missing there."
        )
        return page_of(answer, "", [], [absent, *_not_shown(), _left_out(answer), _law(answer)])
    figures = [
        key_figure(answer, "Gain over the horizon", "doing nothing: 0", "both"),
        _paid_back(answer),
        key_figure(answer, "Orders a year", f"doing nothing: {w.number(nothing['orders_per_year'])}"),
        key_figure(answer, "Wait of a new order", f"doing nothing: {w.number(nothing['wait_days'])}"),
        key_figure(answer, "Deepest cash", sign="both"),
    ]
    blocks: list[Chart | Table | Absent | Text] = [
        _options(answer),
        _option_table(answer),
        _cash(answer),
        _turns(answer),
        _learning(answer),
        _loads(answer),
        _left_out(answer),
        _law(answer),
    ]
    return page_of(answer, _stake(answer, plans), figures, blocks)


def _not_shown(*more: str) -> list[Text]:
    """The blocks that need plans, where there are none."""
    return [Text(name, ("Not shown, for the reason given above.",)) for name in ("candidates", "cash", "turns", "learning", "loads", *more)]


def _paid_back(answer: Answer) -> KeyFigure:
    """Whole months, "at once" for none, "never" for not within the horizon."""
    name, figure, w = "Paid back after", answer.figure("Paid back after"), answer.writing
    if figure.value is None:
        return KeyFigure(name, "never", "", f"not within {horizon(_horizon(answer))}")
    words = ["at once" if end < 1 else w.number(end) for end in (figure.low, figure.high) if end is not None]
    span = " to ".join(dict.fromkeys(words))
    return KeyFigure(name, w.number(figure.value), "months", span) if figure.value >= 1 else KeyFigure(name, "at once", "", span)


def _law(answer: Answer) -> Text:
    kept = ("employment_law", "benches_hurt", "starter")
    return Text("law", tuple(one.text for one in answer.findings if one.code in kept))


def _stake(answer: Answer, plans: pd.DataFrame) -> str:
    return stake(_told(plans), _first(plans, ("price",)), answer.writing)


def _told(plans: pd.DataFrame) -> Told:
    return Told(_first(plans, ("hire", "part_time")), _first(plans, ("train", "overtime", "outwork")), 0)


def _first_of(plans: pd.DataFrame) -> pd.Series | None:
    """The row of the plan whose assumptions and queues are shown: the best with people or work in it, else a mark-up."""
    able = plans[(plans["kind"] != "nothing") & plans["npv"].notna()]
    if able.empty:
        return None
    own = able[able["kind"] != "price"]
    return (able if own.empty else own).iloc[0]


def _first(plans: pd.DataFrame, kinds: tuple[str, ...]) -> Plan | None:
    rows = plans[plans["kind"].isin(kinds) & plans["npv"].notna()]
    if rows.empty:
        return None
    one = rows.iloc[0]
    gain, year = float(one["orders_gain"]), float(one["orders_per_year"])
    low, high = float(one["npv_low"]), float(one["npv_high"])
    return Plan(str(one["candidate"]), str(one["kind"]), float(one["npv"]), low, high, float(one["payback_probability"]), gain, year)


def _steps(answer: Answer) -> tuple[Control, list[pd.DataFrame]]:
    """The nine steps of the control: horizon × demand, and the plans at each."""
    frame = answer.table("steps")
    pairs = [(months, factor) for months in HORIZONS for factor in DEMANDS]
    labels = tuple(f"{months // 12}\u00a0{'year' if months == 12 else 'years'}, {DEMAND_WORDS[factor]}" for months, factor in pairs)
    asked = _horizon(answer)
    start = pairs.index((asked if asked in HORIZONS else 24, 1.0))
    parts = [frame[(frame["horizon_months"] == months) & (frame["demand_factor"] == factor)] for months, factor in pairs]
    return Control("judge", "Judge over", labels, start, "choice"), [
        part.sort_values(["npv", "candidate"], ascending=[False, True]) for part in parts
    ]


def _horizon(answer: Answer) -> int:
    return int(answer.figure("Gain over the horizon").period.split(" ")[0])


def _options(answer: Answer) -> Chart:
    w = answer.writing
    control, parts = _steps(answer)
    scale = money_scale([value for part in parts for name in ("npv_low", "npv_high") for value in part[name]], w.currency)
    ends = [value / scale.divisor for part in parts for name in ("npv_low", "npv_high") for value in part[name]]
    axis = Axis.around([*ends, 0.0], f"{scale.unit} after all costs, against doing nothing", ",", w.separators)
    rows = [[_row(answer, one, scale.divisor) for one in part.to_dict("records")] for part in parts]
    widest = [f"{row.value}  {row.more}" for part in rows for row in part]
    drawings = [ranges(part, axis, [Mark(0.0, "doing nothing", False)], widest) for part in rows]
    names = [[str(name) for name in part["candidate"]] for part in parts]
    messages = tuple(f"{cut(name[0], 44)} gains most: {part[0].value} {scale.unit}" for name, part in zip(names, rows, strict=True))
    told = zip(names[control.start], rows[control.start], strict=True)
    label = f"{messages[control.start]}. " + "; ".join(f"{name} {row.value}, {row.more}" for name, row in told)
    readings = tuple(_reading(name, part) for name, part in zip(names, rows, strict=True))
    measure = f"Gain of each plan, {scale.unit}; dot = mean, bar = 8 times in 10; blue: bar above zero, rust: below"
    return Chart("options", messages, measure, stepped(drawings, control.start, control.labels), label, readings, control=control)


def _row(answer: Answer, one: Mapping[Hashable, Any], divisor: float) -> Row:
    w = answer.writing
    middle, low, high = (float(one[name]) / divisor for name in ("npv", "npv_low", "npv_high"))
    return Row(short(str(one["candidate"])), middle, low, high, value=w.number(middle, 0, "both"), more=w.span(low, high, 0, "both"))


SHORTER = (
    ("Another person to ", "Hire: "),
    ("Part-time to ", "Part-time: "),
    ("Overtime to ", "Overtime: "),
    ("Send out to ", "Send out: "),
)


def short(name: str) -> str:
    """Return a plan's name for a row of a chart: ``Hire: solder``, ``Teach SO: solder``, ``Prices +15%``."""
    for long, other in SHORTER:
        if name.startswith(long):
            return other + name.removeprefix(long).partition(", ")[0]
    if name.startswith("Raise making prices by "):
        return f"Prices +{name.removeprefix('Raise making prices by ')}"
    return name.replace(" to ", ": ", 1) if name.startswith("Teach ") else name


def _reading(names: list[str], rows: list[Row]) -> str:
    pairs = zip(names, rows, strict=True)
    crossing = [name for name, row in pairs if row.low is not None and row.high is not None and row.low < 0 < row.high]
    if not crossing:
        return "No bar crosses zero: the sign of each plan is not in doubt while enquiries go as assumed."
    return f"The bar of {cut(crossing[0], 44)} crosses zero: it may end below doing nothing."


def _option_table(answer: Answer) -> Table:
    shows = [
        Show("candidate", "Plan"), Show("orders_gain", "Orders", "change", "a year"), Show("wait_change_days", "Wait", "change", "days"),
        Show("npv", "Gain", "money_change"), Show("npv_low", "Low", "money_change", narrow=False),
        Show("npv_high", "High", "money_change", narrow=False),
        Show("payback_months", "Pays back in", "number", "months", narrow=False),
        Show("payback_probability", "Odds it pays", "odds", narrow=False),
    ]  # fmt: skip
    frame = answer.table("candidates")
    refused = frame[frame["refused"].notna()]
    refused = refused[refused["refused"] != DOES_NOT_LIMIT]
    note = " ".join(f"{one.candidate}: {one.refused}" for one in refused.itertuples())
    rows = frame[frame["refused"].isna()]
    pays = ["payback_months", "payback_probability"]
    rows = rows.assign(**{name: rows[name].where(rows["kind"] != "nothing") for name in pays})
    return table_of(answer, "candidates", "Every plan against doing nothing", shows, rows=rows, note=note)


def _cash(answer: Answer) -> Chart | Absent:
    """Cumulative cash of the plan in the headline, with deepest point and payback."""
    w, plans = answer.writing, answer.table("candidates")
    plan = chosen(_told(plans))
    if plan is None:
        return Absent("cash", "Cash by month is not shown.", "No hire could be simulated.", "A bench with a history would.")
    name = plan.name
    cash = answer.table("cash")
    rows = cash[cash["candidate"] == name]
    scale = money_scale([*rows["low"], *rows["high"]], w.currency)
    x = tuple(float(month) for month in rows["month"])
    low, middle, high = (tuple(value / scale.divisor for value in rows[column]) for column in ("low", "middle", "high"))
    axis = Axis.around([*low, *high, 0.0], scale.unit, ",", w.separators)
    ticks = [(month, str(int(month))) for month in x if month % 6 == 0]
    line = Series("", x, middle, INK, low, high)
    drawing = bands(line, axis, ticks, ("1 in 10 above", "1 in 10 below"), marks=[Mark(0.0, "", False)], title="months after the decision")
    deep = min(range(len(middle)), key=lambda at: middle[at])
    payback = plans.loc[plans["candidate"] == name, "payback_months"].iloc[0]
    paid = "not paid back within the horizon" if pd.isna(payback) else f"paid back after {w.number(payback)} months"
    step = step_of(low[-1] * scale.divisor, high[-1] * scale.divisor)
    if middle[deep] < 0:
        message = f"Cash is deepest in month {int(x[deep])}; {paid}"
        reading = f"At the deepest the middle line stands {w.money(middle[deep] * scale.divisor, 'both', step)} against doing nothing."
    else:
        message = "The middle line of cash never falls below doing nothing"
        reading = (
            f"Nothing is laid out first; in the worst 1 in 10 month {int(x[-1])} ends {w.money(low[-1] * scale.divisor, 'both', step)}."
        )
    label = f"{message}. Month {int(x[-1])}: {w.number(middle[-1], 0, 'both')} {scale.unit}, {w.span(low[-1], high[-1], 0, 'both')}"
    measure = f"Cumulative cash of \u201c{name}\u201d against doing nothing, {scale.unit}; line = middle, band = 8 times in 10"
    return Chart("cash", message, measure, drawing, label, reading)


def _turns(answer: Answer) -> Chart | Absent:
    w, frame = answer.writing, answer.table("turns")
    plans = answer.table("candidates")
    best = _first_of(plans)
    if frame.empty or best is None:
        return Absent(
            "turns", "What would turn the answer is not shown.", "Nothing uncertain was drawn.", "A longer history would show it."
        )
    base, name = float(best["npv"]), str(best["candidate"])
    frame = frame.assign(width=(frame["high"] - frame["low"]).abs()).sort_values("width", ascending=False)
    scale = money_scale([*frame["low"], *frame["high"], base], w.currency)
    rows = [_turn(answer, str(one["assumption"]), float(one["low"]), float(one["high"]), scale.divisor) for one in frame.to_dict("records")]
    axis = Axis.around([value for row in rows for value in (row.low, row.high)] + [0.0], scale.unit, ",", w.separators)
    message = f"The gain hangs most on {TURNS_WORDS.get(rows[0].name, rows[0].name)}: {rows[0].value} {scale.unit}"
    share = answer.table("candidates")["breakeven_demand"].dropna()
    even = (
        f"It breaks even at {w.percent(float(share.iloc[0]))} of the enquiries forecast."
        if len(share)
        else "No level of demand between half and one and a half turns it."
    )
    label = f"{message}. " + "; ".join(f"{row.name} {row.value}" for row in rows)
    measure = f"Gain of \u201c{name}\u201d with one thing at the ends of its 8-in-10 range, the rest as it is, {scale.unit}; dotted: middle"
    return Chart("turns", message, measure, turns(rows, axis, base / scale.divisor, [Mark(0.0, "nothing gained", False)]), label, even)


def _turn(answer: Answer, name: str, one: float, other: float, divisor: float) -> Row:
    low, high = sorted((one / divisor, other / divisor))
    return Row(name, None, low, high, value=answer.writing.span(low, high, 0, "both", step_of(low, high) if divisor == 1 else None))


TURNS_WORDS = {
    "Enquiries": "how many enquiries come", "Patience": "customers' patience", "Hours an order": "the hours an order takes",
    "Links sent back": "how often links are sent back", "Hours present": "the hours people are at the bench",
}  # fmt: skip


LEARNING_DEMANDS = {0.9: "With 10% fewer enquiries", 1.0: "With enquiries as forecast", 1.1: "With 10% more enquiries"}
LEARNING_WORDS = {0.5: "half as many", 1.0: "as assumed", 2.0: "twice as many"}


def _learning(answer: Answer) -> Text:
    """The best plan's gain at three levels of demand and three lengths of learning, in words."""
    w, frame, best = answer.writing, answer.table("learning"), _first_of(answer.table("candidates"))
    if frame.empty or best is None:
        return Text("learning", ("Nobody learns in the best plan: it does not rest on a ramp-up.",))
    lines = []
    for factor, words in LEARNING_DEMANDS.items():
        cells = [
            f"{LEARNING_WORDS[float(one['learning_factor'])]}: {w.money(one['npv'], 'both', 1000.0)}"
            for one in frame[frame["demand_factor"] == factor].to_dict("records")
        ]
        lines.append(f"{words}: {'; '.join(cells)}.")
    about = f"Gain of \u201c{best['candidate']}\u201d by the number of pieces until standard time (a starter's ramp-up) and by enquiries."
    return Text("learning", (about, *lines))


def _loads(answer: Answer) -> Chart | Absent:
    w, frame = answer.writing, answer.table("loads")
    best = _first_of(answer.table("candidates"))
    if frame.empty or best is None:
        return Absent("loads", "Where the queue moves next is not shown.", "No plan was simulated.", "A plan would show it.")
    shown = frame.sort_values("after", ascending=False).head(12)
    rows = [
        Row(
            str(one["skill"]), one["after"], before=one["now"], value=w.percent(one["after"]), more=f"now {w.percent(one['now'])}", tone=INK
        )
        for one in shown.to_dict("records")
    ]
    axis = Axis("share of the bench hours there", 0.0, max(1.05, *shown["after"], *shown["now"]), ".0%", w.separators)
    message = f"With the best plan the longest queue stands before {best['next_limit']}"
    label = f"{message}. " + "; ".join(f"{row.name} {row.value}, {row.more}" for row in rows)
    measure = f"Hours booked of bench hours by skill, second year, %; ○ doing nothing, ● with \u201c{best['candidate']}\u201d"
    reading = "People with several skills count at each of them, so that shares do not add up."
    return Chart("loads", message, measure, dumbbell(rows, axis, [Mark(1.0, "all hours used")]), label, reading)


def _left_out(answer: Answer) -> Text:
    frame = answer.table("left_out")
    if frame.empty:
        return Text("left_out", ("Every bench was compared.",))
    names = ", ".join(f"{one['skill']} ({answer.writing.number(one['orders_per_extra_hour'], 1)})" for one in frame.to_dict("records"))
    text = f"These benches do not limit and were not run: {names}; in brackets the orders a year one extra hour a week there would finish."
    return Text("left_out", (text,))
