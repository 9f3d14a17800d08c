"""Spot, grams at our price, open fixed orders and how long a quote may stand."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from datetime import date
from typing import Any

from ..answer import Answer
from ..blocks import Absent, Chart, Table, Text
from ..charts import BAD, GOOD, INK, METAL, Axis, Mark, Row, Series, lines, ranges
from ..charts.series import day_number, month_ticks
from ..compose import Show, table_of
from ..sentences import cut, short_day

MOST_ROWS = 12
MOST_QUOTES = 25
METHODS = {
    "garch_t": "500 daily prices or more (GARCH-t)",
    "ewma": "recent daily prices (weighted mean of squares)",
    "constant": "few prices (one spread for all days)",
}
"""How the spread of a metal was told, in words."""


def _day(text: object) -> date:
    return date.fromisoformat(str(text))


def spot_line(answer: Answer) -> Chart | Absent:
    """Spot since the list was struck, the days of striking noted."""
    w, frame = answer.writing, answer.table("spot").dropna()
    if len(frame) < 2:
        return Absent("spot", "Spot since the list was struck is not shown.", "There are no prices.", "Daily prices in metal_prices would.")
    days = [_day(text) for text in frame["date"]]
    axis = Axis.around(frame["spot"], f"{w.currency} per g fine", ",.0f", w.separators)
    series = Series(w.number(frame["spot"].iloc[-1], 2), tuple(map(day_number, days)), tuple(frame["spot"]), METAL)
    struck = frame[frame["struck"].astype(bool)]
    notes = [
        (day_number(_day(one["date"])), float(one["spot"]), f"struck {w.number(one['spot'], 2)}") for _, one in struck.tail(2).iterrows()
    ]
    since = float(frame["spot"].iloc[-1] / struck["spot"].iloc[-1] - 1.0) if len(struck) else 0.0
    message = f"Spot stands {w.percent(abs(since))} {'above' if since >= 0 else 'below'} the last day prices were struck"
    ends = (f"{w.number(frame['spot'].iloc[at], 2)} on {short_day(days[at])}" for at in (0, -1))
    label = f"{message}: {', '.join(ends)}."
    drawing = lines([series], axis, month_ticks(days[0], days[-1]), notes=notes)
    measure = f"{_main(answer).capitalize()}, {w.currency} per g fine, every third day"
    return Chart("spot", message, measure, drawing, label, _what_moved(answer))


def _main(answer: Answer) -> str:
    """Return the metal with most money in the lines."""
    return str(answer.table("spot_grid")["metal"].iloc[0])


def _what_moved(answer: Answer) -> str:
    """Return how much of the move since prices were last struck was the metal's own and how much the currency's."""
    w, moved = answer.writing, answer.table("moves")
    row = moved[moved["metal"] == _main(answer)].sort_values("struck_on").iloc[-1]
    if row["currency"] == w.currency:
        return f"Its price is written in {w.currency}: all of the move is the metal's own."
    by_metal, by_currency = (w.percent(row[f"from_{cause}_share"], "both") for cause in ("metal", "currency"))
    return f"The metal itself moved {by_metal} in {row['currency']}, the {row['currency']} {by_currency} against the {w.currency}."


def moves_table(answer: Answer) -> Table | Text:
    """Return the moves of metal and currency apart."""
    if answer.table("moves").empty:
        return Text("moves", ("No price was struck yet.",))
    per_g = f"{answer.writing.currency}/g fine"
    shows = [
        Show("metal", "Metal"), Show("struck_on", "Struck", "day"), Show("spot_when_struck", "Spot then", "money2", per_g, narrow=False),
        Show("spot_now", "Spot now", "money2", per_g, narrow=False), Show("change_share", "Change", "share_change"),
        Show("from_metal_share", "By the metal", "share_change"), Show("from_currency_share", "By the currency", "share_change"),
    ]  # fmt: skip
    rows = answer.table("moves").sort_values(["struck_on", "metal"], ascending=[False, True])
    left = f"{len(rows) - MOST_ROWS} earlier ones are in the workbook." if len(rows) > MOST_ROWS else ""
    return table_of(answer, "moves", "What moved: the metal or the currency", shows, rows=rows.head(MOST_ROWS), note=left)


def need_against(answer: Answer) -> Chart | Absent:
    """Grams that orders take, week by week, against grams at our price."""
    w, weeks, held = answer.writing, answer.table("metal_to_buy"), answer.table("exposure")
    if weeks.empty:
        return Absent(
            "need",
            "Grams needed by week are not shown.",
            "The shop cannot be simulated.",
            "Stages, people and their hours would settle it.",
        )
    main = str(weeks.groupby("metal")["issued_g"].sum().idxmax())
    part, row = weeks[weeks["metal"] == main], held[held["metal"] == main].iloc[0]
    taken, there = part["issued_g"].cumsum(), float((row["safe_g"] or 0.0) + row["bought_forward_g"])
    x = tuple(day_number(_day(text)) + 6 for text in part["week"])
    axis = Axis.around([*taken, there, 0.0], "g fine", ",d", w.separators, zero=True)
    series = [Series("taken by orders", x, tuple(taken), INK), Series("at our price", x, (there,) * len(x), METAL)]
    enough = int((taken <= there).sum())
    message = f"What is at hand lasts {enough} of {len(part)} weeks"
    reading = f"To buy in eight weeks: {w.grams(part['fine_g'].sum())} for {w.money(part['money'].sum(), step=1000.0)}."
    label = f"{message}. Taken by then {w.grams(taken.iloc[-1])}, at hand {w.grams(there)}."
    ticks = [(at, short_day(_day(text))[:-5]) for at, text in zip(x[::2], part["week"][::2], strict=True)]
    drawing = lines(series, axis, ticks)
    return Chart(
        "need", message, f"{main.capitalize()}, g fine, added up by week; at hand: safe and bought forward", drawing, label, reading
    )


def exposure_table(answer: Answer) -> Table | Text:
    """Return grams in the house against grams at our price."""
    if answer.table("exposure").empty:
        return Text("exposure", ("No alloy of the shop holds a priced metal.",))
    shows = [
        Show("metal", "Metal"), Show("in_house_g", "In the house", "grams", "g fine", narrow=False),
        Show("ours_priced_g", "At our price", "grams", "g fine"), Show("needed_g", "Sold fixed", "grams", "g fine"),
        Show("bought_forward_g", "Forward", "grams", "g fine", narrow=False), Show("net_g", "Net", "grams_change", "g fine"),
        Show("money_per_percent", "1% on spot", "money_change"),
    ]  # fmt: skip
    note = "Net below zero: sold, not bought. Work billed at delivery is in it; borrowed and customers' metal are no cover."
    return table_of(answer, "exposure", "Grams in the house against grams at our price", shows, note=note)


def quotes_out(answer: Answer) -> Table | Text:
    """Return the quotes not answered yet, those that lost most making charge since they were given first."""
    w, frame = answer.writing, answer.table("open_quotes")
    if frame.empty:
        return Text("open_quotes", ("No quote waits for an answer.",))
    shows = [
        Show("quote_id", "Quote"), Show("quoted_on", "Given", "day", narrow=False), Show("what", "Piece", narrow=False),
        Show("price", "Price", "money"), Show("fine_g", "Would need", "grams", "g fine", narrow=False),
        Show("making_charge_when_quoted", "Making charge then", "money_change", narrow=False),
        Show("making_charge_now", "Making charge now", "money_change"), Show("stands_until", "Stands until", "day"),
    ]  # fmt: skip
    lost = frame["making_charge_when_quoted"] - frame["making_charge_now"]
    rows = frame.assign(lost=lost, what=frame["style"] + " · " + frame["alloy"]).sort_values(["lost", "quote_id"], ascending=[False, True])
    grams = ", ".join(f"{w.grams(value)} {metal}" for metal, value in frame.groupby("metal")["fine_g"].sum().items())
    stand = int(frame["stands"].astype(bool).sum())
    moved = f"{'taken' if lost.sum() >= 0 else 'added'} {w.money(abs(float(lost.sum())))} of making charge"
    note = (
        f"No exposure until they are taken: all {w.number(len(frame))} together would need {grams}. Since they were given spot has "
        f"{moved}. {w.number(stand)} still stand by the shop's own days."
    )
    return table_of(answer, "open_quotes", "Quotes given, not answered yet", shows, rows=rows.head(MOST_QUOTES), note=note)


def to_buy_table(answer: Answer) -> Table | Text:
    """Return metal to buy by week with the cash."""
    if answer.table("metal_to_buy").empty:
        return Text("metal_to_buy", ("Metal to buy is not shown, because the shop cannot be simulated.",))
    shows = [
        Show("week", "Week from", "day"), Show("metal", "Metal"), Show("issued_g", "Taken", "grams", "g fine", narrow=False),
        Show("fine_g", "To buy", "grams", "g fine"), Show("low_g", "Low", "grams", "g fine", narrow=False),
        Show("high_g", "High", "grams", "g fine", narrow=False), Show("money", "Cash it takes", "money"),
        Show("deposits_and_balances_due", "Due in the week", "money", narrow=False),
    ]  # fmt: skip
    note = "Due: deposits and balances of all orders, the same in each row of a week. What comes back from the refiner is left out."
    return table_of(answer, "metal_to_buy", "Metal to buy and the cash it takes", shows, note=note)


def breakeven(answer: Answer) -> Chart | Text:
    """Break-even spot of the open fixed orders that are not covered."""
    w, frame = answer.writing, answer.table("open_fixed")
    short = frame[frame["breakeven_spot"].notna()].sort_values("breakeven_spot")
    if short.empty:
        n = answer.writing.number(len(frame))
        return Text(
            "breakeven",
            (
                f"All {n} open orders at a fixed price are covered by metal at our price."
                if len(frame)
                else "No order at a fixed price is open.",
            ),
        )
    metal = str(short.groupby("metal")["fine_g_uncovered"].sum().idxmax())
    short = short[short["metal"] == metal].head(MOST_ROWS)
    spot = float(short["spot_now"].iloc[0])
    rows = [_breakeven_row(answer, one) for one in short.to_dict("records")]
    axis = Axis.around([*short["breakeven_spot"], spot], f"{metal}, {w.currency} per g fine", ",.0f", w.separators)
    lost = int((frame["breakeven_spot"] < frame["spot_now"]).sum())
    message = f"{w.number(lost)} open orders lose money if their metal is bought today"
    label = f"{message}. " + "; ".join(f"{row.name} {row.value}" for row in rows)
    reading = f"{rows[0].name} breaks even at {rows[0].value}; spot is {w.number(spot, 2)}."
    drawing = ranges(rows, axis, (Mark(spot, "today"),))
    measure = f"Spot at which an order earns nothing, {metal}, {w.currency} per g fine; grams not in hand; rust: below today"
    return Chart("breakeven", message, measure, drawing, label, reading)


def _breakeven_row(answer: Answer, one: Mapping[Hashable, Any]) -> Row:
    w, spot = answer.writing, one["breakeven_spot"]
    tone = BAD if spot < one["spot_now"] else GOOD
    return Row(str(one["order_id"]), spot, value=w.number(spot, 2), more=w.grams(one["fine_g_uncovered"]), tone=tone)


def open_table(answer: Answer) -> Table | Text:
    """Return the open fixed orders, least margin at today's spot first."""
    frame = answer.table("open_fixed")
    if frame.empty:
        return Text("open_fixed", ("No order at a fixed price is open.",))
    shows = [
        Show("order_id", "Order"), Show("price", "Price", "money"), Show("fine_g_needed", "Needs", "grams", "g fine", narrow=False),
        Show("fine_g_uncovered", "Not in hand", "grams", "g fine"), Show("breakeven_spot", "Breaks even at", "money2", narrow=False),
        Show("making_margin_at_spot", "Margin at spot", "money_change"),
        Show("deposit_that_covers", "Deposit that covers", "money", narrow=False),
    ]  # fmt: skip
    rows = frame.sort_values(["making_margin_at_spot", "order_id"]).head(25)
    note = "All metal at today's spot, the shop's own too; a covered order breaks even at no spot. 25 with least left; all in the workbook."
    return table_of(answer, "open_fixed", "Open orders at a fixed price", shows, rows=rows, note=note)


def chance_by_day(answer: Answer) -> Chart | Absent:
    """Chance of losing the share at risk on the usual line, by days a quote stands."""
    w, frame, stand = answer.writing, answer.table("chances"), answer.table("quote_days")
    if len(frame) < 2:
        return Absent(
            "chances", "Chances by day are not shown.", "There are too few metal prices.", "Three daily prices show a little, 500 enough."
        )
    share, risk = float(stand["margin_at_risk_share"].iloc[0]), float(stand["odds"].iloc[0])
    axis = Axis.around([*frame["odds"], risk], "chance", ".0%", w.separators, zero=True)
    x = tuple(frame["days"])
    series = Series("", x, tuple(frame["odds"]), INK)
    first = frame[frame["odds"] > risk]["days"]
    days = w.number(answer.figure("A quote may stand").value)
    message = f"A quote may stand {days} days; "
    message += f"by day {w.number(first.iloc[0], 1)} the chance passes 1 in {round(1 / risk)}" if len(first) else "the chance stays below"
    ticks = [(float(at), w.number(at)) for at in range(0, int(max(x)) + 1, max(1, int(max(x)) // 6 or 1))]
    label = f"{message}. After {w.number(x[-1], 1)} days {w.percent(frame['odds'].iloc[-1])}."
    measure = f"Chance that the metal takes {w.percent(share)} of the usual line's making charge; dotted: the chance allowed"
    drawing = lines([series], axis, ticks, (Mark(risk, "allowed"),), "days a quote stands")
    return Chart("chances", message, measure, drawing, label, "Which way the metal goes is not forecast; only how far it may go.")


def days_table(answer: Answer) -> Table | Text:
    """Return the quote days of each line."""
    if answer.table("quote_days").empty:
        return Text("quote_days", ("There is no line to quote.",))
    shows = [Show("line", "Line"), Show("days", "May stand", "number", "days"), Show("method", "Told by")]
    rows = answer.table("quote_days").sort_values(["days", "line"]).head(20)
    rows = rows.assign(line=[cut(str(name), 60) for name in rows["line"]], method=[METHODS.get(name, "") for name in rows["method"]])
    note = "Before the shop's own limit of days; all lines are in the workbook."
    return table_of(answer, "quote_days", "Days a quote may stand, shortest first", shows, rows=rows, note=note)
