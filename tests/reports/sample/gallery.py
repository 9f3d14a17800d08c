"""A report that shows every block and every chart form once, on a handful of made-up numbers."""

from __future__ import annotations

from datetime import date

import pandas as pd
from pydantic import Field

from shoplib.intake.shop import Shop
from shoplib.reports import answer as answers
from shoplib.reports.answer import Answer, Figure, Found, TableColumn, table
from shoplib.reports.blocks import Absent, Chart, Control, Details, Page, Table, Text
from shoplib.reports.charts import (
    BAD,
    GOOD,
    GREY,
    INK,
    METAL,
    Axis,
    Drawing,
    Mark,
    Part,
    Point,
    Row,
    Series,
    Window,
    bands,
    bars,
    bridge,
    columns,
    control,
    dumbbell,
    lines,
    panels,
    ranges,
    stacked,
    stepped,
    turns,
    windows,
)
from shoplib.reports.charts.rows import running
from shoplib.reports.charts.series import day_number, month_ticks
from shoplib.reports.compose import Show, compose, key_figure, page_of, table_of
from shoplib.reports.sentences import MONTHS, Writing, odds, short_day

QUESTION = "What can a page show?"
HOSTILE = "<img src=x onerror=alert(1)>"
OPTIONS = [
    ("Hire a solderer", 31_400.0, -3_600.0, 66_400.0, 0.83),
    ("Train a finisher to solder", 17_600.0, 7_600.0, 27_600.0, 0.96),
    ("Raise prices 4%", 12_400.0, -14_600.0, 39_400.0, 0.7),
    ("Overtime at soldering", 4_000.0, -2_200.0, 10_200.0, 0.8),
    (f"Send out {HOSTILE}", -5_900.0, -10_900.0, -900.0, 0.1),
    ("Hire a polisher </script><b>", -20_500.0, -31_500.0, -9_500.0, 0.04),
]
STAGES = ["Melting", "Drawing", "Winding", "Soldering", "Filing", "Polishing", "Setting clasps"]


class Parameters(answers.Parameters):
    """Parameters of the gallery."""

    horizon_years: int = Field(2, ge=1, le=3, description="years looked ahead")
    stages: tuple[str, ...] = Field((), description="stages shown first")
    target_share: float = Field(0.17, gt=0, lt=1, description="target margin, share of price")


def answer(shop: Shop, parameters: Parameters) -> Answer:
    """Return made-up options, months and orders; counts come from the shop's own orders."""
    scale = parameters.horizon_years / 2
    options = pd.DataFrame(OPTIONS, columns=["candidate", "npv", "npv_low", "npv_high", "payback_probability"])
    options[["npv", "npv_low", "npv_high"]] *= scale
    writing = Writing.of(shop.settings)
    best = options.iloc[0]
    headline = (
        f"Hire another solderer: over two years it is {odds(best.payback_probability)} to pay for itself and to leave "
        f"{writing.about(best.npv, best.npv_low, best.npv_high)}."
    )
    figures = [
        Figure(name="Gain over two years", value=best.npv, low=best.npv_low, high=best.npv_high, level=0.8, unit=writing.currency),
        Figure(name="Paid back after", value=14, low=9, high=27, level=0.8, unit="months"),
        Figure(name="Orders read", value=len(shop["orders"]), unit="orders"),
        Figure(name="Wait of a new order", value=11.6, low=9.0, high=15.0, level=0.8, unit="days"),
        Figure(name="On time", value=0.71, low=0.64, high=0.78, level=0.8, unit="share"),
    ]
    return compose(
        shop, "gallery", parameters, (date(2025, 4, 1), date(2026, 3, 31)), headline, figures,
        {"options": _options(options, writing.currency), "orders": _orders(), "months": _months()},
        [
            Found(level="warn", code="one_starter", text="The learning curve rests on one past starter; the range is wide for that reason."),
            Found(level="stop", code="no_quotes", text=f"Answer to price: 37 quotes with an outcome {HOSTILE}.", where="quotes.csv"),
            Found(level="note", code="repaired", text="14 cells with a decimal comma were repaired.", where="labour.csv"),
        ],
    )  # fmt: skip


def _options(frame: pd.DataFrame, currency: str) -> answers.Table:
    names = {"candidate": "", "npv": currency, "npv_low": currency, "npv_high": currency, "payback_probability": "share"}
    return table(frame, [TableColumn(name=name, unit=unit) for name, unit in names.items()])


def _orders() -> answers.Table:
    rows = [
        {"order_id": f"A{n}" if n != 3 else HOSTILE, "stage": STAGES[n % 7], "finish_p50": date(2026, 4, 3 + n), "days": 3 + n,
         "late": ((n * 37) % 100) / 100, "price": 900.0 + 137 * ((n * 7) % 11), "grams": 20.5 + n, "note": "=1+1" if n == 2 else "in hand"}
        for n in range(18)
    ]  # fmt: skip
    units = {"finish_p50": "day", "days": "days", "late": "share", "price": "EUR", "grams": "g fine"}
    frame = pd.DataFrame(rows)
    return table(frame, [TableColumn(name=name, unit=units.get(name, "")) for name in frame.columns])


def _months() -> answers.Table:
    values = [9.1, 11.0, 10.2, 12.9, 8.0, 6.1, 12.2, 13.0, 14.1, 9.9, 11.2, 12.4, 11.9, 12.6]
    rows = [
        {"month": date(2025 + (2 + n) // 12, (2 + n) % 12 + 1, 1), "margin": value * 1000, "forecast": n == 13}
        for n, value in enumerate(values)
    ]
    return table(pd.DataFrame(rows), [TableColumn(name="month"), TableColumn(name="margin", unit="EUR"), TableColumn(name="forecast")])


def page(answer: Answer) -> Page:
    """Return every block once."""
    figures = [
        key_figure(answer, "Gain over two years", "doing nothing: 0", "both"),
        key_figure(answer, "Paid back after", "policy: at most 24"),
        key_figure(answer, "Orders read"),
        key_figure(answer, "Wait of a new order", "now 18.8"),
        key_figure(answer, "On time", "last year 62%"),
    ]
    stake = "If it goes wrong, in the worst 1 in 10, the shop is EUR 3,600 or more down. Training a finisher gains half as much."
    blocks = [
        _gain(answer), _option_table(answer), _bars(answer), _price_table(answer), _dumbbell(), _bridge(answer), _turns(), _windows(answer),
        _order_table(answer), _stacked(), _columns(answer), _cash(), _lines(), _control(), _panels(),
        Absent("answer_to_price", "How customers answer to price is not shown.", "37 quotes have an outcome.", "About 150 would settle it."),
        Text("none_due", ("No filings are with the refiner.",)),
        Details("curve", "The shop on its curve", (_curve(),)),
    ]  # fmt: skip
    return page_of(answer, stake, figures, blocks)


def _gain(answer: Answer) -> Chart:
    w, frame = answer.writing, answer.table("options")
    axis = Axis.around(
        [*(frame.npv_low * 1.5 / 1000), *(frame.npv_high * 1.5 / 1000)], "thousand EUR, against doing nothing", ",d", w.separators
    )
    shown = [_options_rows(answer, factor) for factor in (0.5, 1.0, 1.5)]
    widest = [f"{row.value}  {row.more}" for rows in shown for row in rows]
    drawings = [ranges(rows, axis, [Mark(0.0, "doing nothing", False)], widest) for rows in shown]
    years = Control("horizon", "Judge the options over", ("1 year", "2 years", "3 years"), 1, "choice")
    return Chart(
        "gain", tuple(f"Over {label} a hire gains most, training is surer" for label in years.labels),
        "Gain of each option, thousand EUR; dot = middle, bar = 8 times in 10; blue: bar above zero, rust: below",
        stepped(drawings, 1, years.labels), "A hire gains most, about 31 thousand EUR, −4 to 66; training is surer, 18, 8 to 28.",
        tuple(f"Over {label} the hire's bar reaches below zero: there is a 1 in 10 chance of a loss." for label in years.labels),
        control=years,
    )  # fmt: skip


def _options_rows(answer: Answer, factor: float) -> list[Row]:
    w = answer.writing
    return [
        Row(one.candidate, factor * one.npv / 1000, factor * one.npv_low / 1000, factor * one.npv_high / 1000,
            value=w.number(factor * one.npv / 1000, 0, "both"),
            more=w.span(factor * one.npv_low / 1000, factor * one.npv_high / 1000, 0, "both"))
        for one in answer.table("options").itertuples()
    ]  # fmt: skip


def _option_table(answer: Answer) -> Table:
    shows = [
        Show("candidate", "Option"), Show("npv", "Gain, middle", "money_change"), Show("npv_low", "Low", "money_change", narrow=False),
        Show("npv_high", "High", "money_change", narrow=False), Show("payback_probability", "Odds it pays", "odds"),
    ]  # fmt: skip
    return table_of(answer, "options", "Every option against doing nothing", shows)


def _bars(answer: Answer) -> Chart:
    changes = [-0.20 + 0.025 * step for step in range(17)]
    spots = tuple(
        f"{answer.writing.number(71.86 * (1 + change), 2)} EUR/g ({answer.writing.percent(change, 'both')})" for change in changes
    )
    spot = Control("spot", "Fine gold at", spots, 8, "slider", 8)
    axis = Axis("making margin as a share of the price", -0.25, 0.5, ".0%", answer.writing.separators)
    base = [0.12, 0.16, 0.08, 0.15, 0.17, 0.14, 0.22, 0.25, 0.31, 0.26, 0.24, 0.25]
    lines_ = [f"Rope {n} mm 18k" for n in range(1, 12)] + [HOSTILE]
    sets = [[max(margin - 0.8 * change, -0.25) for margin in base] for change in changes]
    drawings = [
        bars([Row(name, value, before=0.2, value=answer.writing.percent(value), tone=BAD if value < 0 else GREY)
              for name, value in zip(lines_, values, strict=True)], axis, [Mark(0.0, "", False), Mark(0.17, "target 17%")], ["−25%"])
        for values in sets
    ]  # fmt: skip
    missing = [sum(value < 0.17 for value in values) for values in sets]
    return Chart(
        "spot", tuple(f"{count} of 12 lines would miss the target margin" for count in missing),
        "Making margin left at present list prices, % of price; ○ now; grey: short of the target, rust: a loss",
        stepped(drawings, 8, spots), f"{missing[8]} of 12 lines miss the target of 17%.",
        tuple(f"{sum(value < 0 for value in values)} lines would be sold below what metal and making cost." for values in sets), control=spot,
    )  # fmt: skip


def _price_table(answer: Answer) -> Table:
    frame = answer.table("options")
    shows = [Show("candidate", "Line"), Show("npv", "Price to target", "money")]
    steps = [frame.assign(npv=frame.npv * (1 + step / 40)) for step in range(17)]
    control = Control("spot", "", tuple(str(step) for step in range(17)), 8)
    return table_of(answer, "options", "Price list at the gold price chosen above", shows, control=control, steps=steps, block="prices")


def _dumbbell() -> Chart:
    now, then = [0.41, 0.58, 0.72, 0.97, 0.66, 0.84, 0.49], [0.46, 0.66, 0.81, 0.71, 0.75, 0.95, 0.55]
    rows = [
        Row(stage, b, before=a, value=f"{b:.0%}", more=f"from {a:.0%}", tone=BAD if stage == "Polishing" else INK)
        for stage, a, b in zip(STAGES, now, then, strict=True)
    ]
    drawing = dumbbell(rows, Axis("hours needed as a share of hours available", 0.3, 1.05, ".0%"), [Mark(1.0, "all hours used")])
    return Chart(
        "load",
        "After the hire the queue moves to polishing",
        "Load of each stage: ○ now, ● with another solderer",
        drawing,
        "Soldering falls from 97% to 71%, polishing rises to 95%.",
        "Polishing rises to 95%, so a third of the extra orders would wait there.",
    )


def _bridge(answer: Answer) -> Chart:
    amounts = [12_400.0, 900.0, -1_300.0, 2_100.0, -400.0, -150.0, -1_650.0, 11_900.0]
    names = ["February", "Volume", "Mix", "Price", "Metal lost", "Rework", "Hours an order", "March"]
    w = answer.writing
    rows = [
        Row(name, amount, value=w.number(amount, 0, "minus" if at in (0, 7) else "both"))
        for at, (name, amount) in enumerate(zip(names, amounts, strict=True))
    ]
    drawing = bridge(rows, Axis.around(running(amounts), "EUR", ",d", w.separators, zero=True))
    return Chart(
        "bridge",
        "Prices brought 2,100, longer hours took 1,650",
        "Making margin, EUR; ink: months, blue: more, rust: less",
        drawing,
        "February 12,400, March 11,900.",
        "The steps add up to the difference of EUR −500.",
        Table("bridge_numbers", "Steps", (), ()),
    )


def _turns() -> Chart:
    ends = [(-12, 53), (14, 41), (21, 42), (22, 41), (23, 38), (29, 33)]
    names = [
        "Orders: 20% fewer / more",
        "Full speed after 9 / 3 months",
        "On-costs 38 / 26%",
        "Prices 3% lower / higher",
        "Hours",
        "Spoilage",
    ]
    rows = [Row(name, 31.0, low, high, more=f"{low} to {high:+d}".replace("-", "−")) for name, (low, high) in zip(names, ends, strict=True)]
    axis = Axis.around([-12, 53], "gain over two years, thousand EUR", ",d")
    drawing = turns(rows, axis, 31.0, [Mark(0.0, "nothing gained", False)])
    return Chart(
        "turns",
        "Only a fall in orders of 15% or more turns the answer",
        "Gain when one assumption is worse or better, thousand EUR",
        drawing,
        "Orders 20% fewer: −12; more: 53.",
        "The break-even is 181 orders a year.",
    )


def _windows(answer: Answer) -> Chart:
    start = day_number(date(2026, 3, 31))
    rows = [
        Window(row.order_id, start + row.days, start + row.days + 4, start + row.days + 11, start + 9, short_day(date(2026, 4, 5)), "8 in 10",
               BAD if row.days > 8 else INK)
        for row in answer.table("orders").head(9).itertuples()
    ]  # fmt: skip
    ticks = [(start + 7 * week, short_day(date.fromordinal(date(2026, 3, 31).toordinal() + 7 * week))[:-5]) for week in range(4)]
    drawing = windows(rows, Axis("", start, start + 25), ticks, [Mark(start, "today")])
    return Chart(
        "finish",
        "3 of 9 open orders will miss their date",
        "Day of delivery; bar = 5 to 19 in 20, tick = 8 in 10, ◆ promised",
        drawing,
        "A8 is latest.",
        "A8 is done by 22 April 19 times in 20.",
    )


def _order_table(answer: Answer) -> Table:
    shows = [
        Show("order_id", "Order"), Show("stage", "Now at"), Show("finish_p50", "Done by", "day"), Show("days", "Wait", "number", "days", False),
        Show("late", "Late", "odds"), Show("price", "Price", "money", narrow=False), Show("grams", "Weight", "grams", "g fine", False),
        Show("note", "Note", narrow=False),
    ]  # fmt: skip
    return table_of(answer, "orders", "Open orders, most likely late first", shows)


def _stacked() -> Chart:
    parts = [
        Part("metal", (0.62, 0.55, 0.58), METAL), Part("labour", (0.18, 0.2, 0.25), GREY), Part("lost metal", (0.03, 0.03, 0.04), INK),
        Part("left", (0.17, 0.22, 0.13), GOOD),
    ]  # fmt: skip
    drawing = stacked(
        ["Rope", "Curb", "Anchor"], parts, Axis("share of the price", 0, 1, ".0%"), [("17%", "left"), ("22%", "left"), ("13%", "left")]
    )
    return Chart(
        "price_pays",
        "Metal takes three fifths of the price",
        "What the price pays for, % of price",
        drawing,
        "Rope 17% left.",
        "Most is metal.",
    )


def _columns(answer: Answer) -> Chart:
    points = []
    for row in answer.table("months").itertuples():
        month = date.fromisoformat(row.month)
        label = f"{MONTHS[month.month - 1][:3]}{f' {month.year % 100}' if month.month == 1 else ''}"
        spread = 2.4 if row.forecast else None
        value = row.margin / 1000
        points.append(
            Point(label, value, value - spread if spread else None, value + spread if spread else None, bool(row.forecast),
                  INK if row.month == "2026-03-01" else GREY, f"{value:.1f}" if row.month in ("2026-03-01", "2025-03-01") else "", f"{label}: {value:.1f}")
        )  # fmt: skip
    axis = Axis.around([0, 15.2], "thousand EUR", ",d", zero=True)
    return Chart(
        "months", "March was like the month before", "Making margin by month, thousand EUR; hatched: forecast, line: 8 times in 10", columns(points, axis),
        "March 11.9 thousand EUR.", "April is expected between 10 and 15 thousand.",
    )  # fmt: skip


def _cash() -> Chart:
    months = tuple(float(month) for month in range(0, 37, 3))
    middle = tuple(-9.0 - 5 * min(m, 6) / 3 + max(m - 6, 0) * 2.2 for m in months)
    series = Series("", months, middle, INK, tuple(v - m * 0.7 for v, m in zip(middle, months, strict=True)),
                    tuple(v + m * 0.7 for v, m in zip(middle, months, strict=True)))  # fmt: skip
    axis = Axis.around([*series.low, *series.high], "thousand EUR", ",d")
    drawing = bands(
        series, axis, [(m, str(int(m))) for m in months if m % 6 == 0], ("1 in 10 above", "1 in 10 below"),
        marks=[Mark(0.0, "", False)], title="months after the first day", notes=[(6.0, middle[2], "deepest: −19,000")],
    )  # fmt: skip
    return Chart("cash", "The hire needs EUR 19,000 before it gives back", "Money in minus money out, thousand EUR; band = 8 times in 10", drawing,
                 "Deepest −19 thousand EUR in month 6.", "The shop must be able to carry the deepest point.")  # fmt: skip


def _lines() -> Chart:
    days = tuple(day_number(date(2025, 4, 1)) + 7 * week for week in range(53))
    spot = tuple(60 + 0.25 * week + 2.0 * ((week * 7) % 5 - 2) / 2 for week in range(53))
    struck = (days[0], days[20], days[40], days[52])
    drawing = lines(
        [Series("spot", days, spot, METAL), Series("list struck at", struck, (60.0, 65.0, 70.0, 70.0), INK, dash="dot", steps=True)],
        Axis.around([55, 75], "EUR/g fine", ",d"), month_ticks(date(2025, 4, 1), date(2026, 3, 31)),
    )  # fmt: skip
    return Chart(
        "spot_line",
        "Gold stands above the price the list was struck at",
        "Spot, EUR/g fine",
        drawing,
        "Spot 74, list 70.",
        "Prices lag by 6%.",
    )


def _control_points(seed: int) -> list[Point]:
    values = [0.9 + 0.02 * ((n * 13 + seed) % 7 - 3) for n in range(13)]
    values[9] = 0.71 if seed == 1 else values[9]
    return [Point(MONTHS[(2 + n) % 12][:3], value, text=f"{value:.0%}", hover=f"{value:.0%}") for n, value in enumerate(values)]


def _control() -> Chart:
    drawing = control(_control_points(1), Axis("", 0.6, 1.0, ".0%"), 0.9, 0.8, None)
    return Chart("right", "December was unusual at soldering", "Right first time, %; dotted: limit; rust: outside", drawing, "December 71%.",
                 "Only December lies below the limit of 80%.")  # fmt: skip


def _panels() -> Chart:
    parts: dict[str, Drawing] = {
        stage: control(_control_points(n), Axis("", 0.6, 1.0, ".0%"), 0.9, 0.8, None) for n, stage in enumerate(STAGES[:4])
    }
    return Chart(
        "stages", "No other stage was unusual", "Right first time by stage, %", panels(parts), "All within limits.", "Limits are 80%."
    )


def _curve() -> Chart:
    wip = tuple(float(n) for n in range(1, 61))
    best = tuple(min(n / 3.0, 12.0) for n in wip)
    practical = tuple(12.0 * n / (n + 35.0) for n in wip)
    drawing = lines(
        [Series("best", wip, best, GREY), Series("practical worst", wip, practical, GREY, dash="dot"), Series("now", (42.0,), (7.4,), INK, marks=True)],
        Axis.around([0, 13], "orders a week", ",d", zero=True), [(float(n), str(n)) for n in range(0, 61, 10)], title="work in process, orders",
    )  # fmt: skip
    return Chart(
        "curve",
        "The shop stands near practical worst",
        "Output against work in process",
        drawing,
        "42 orders, 7.4 a week.",
        "Less work in process would cost little.",
    )
