"""The page of the metal balance: charts and tables drawn from the answer alone."""

from __future__ import annotations

import math
from datetime import date

import pandas as pd

from ..answer import Answer
from ..blocks import KeyFigure, Named, Page, Table, Text
from ..compose import Show, key_figure, page_of, table_of
from ..sentences import short_day
from . import benches, charts
from .headline import Told, stake
from .rows import balance_rows, between_rows, metals_of, rows_of

LAST_COUNTS, LAST_LOTS, LAST_MONTHS, MOST_ROWS = 13, 12, 13, 20


def page(answer: Answer) -> Page:
    """Return the page of the metal balance.

    Parameters
    ----------
    answer : Answer
        Of this report.
    """
    blocks: list[Named] = [
        charts.balance_bridge(answer), _balance(answer), charts.unexplained(answer), benches.loss_by_stage(answer), _stage_loss(answer),
        _finished(answer), benches.filings(answer), _filings(answer), _places(answer), _peak(answer), _customers(answer), _alloying(answer),
        _melt(answer),
    ]  # fmt: skip
    return page_of(answer, _stake(answer), _figures(answer), blocks)


def _figures(answer: Answer) -> list[KeyFigure]:
    if not answer.figures:
        return []
    w = answer.writing
    share, money = answer.figure("Recorded loss, share").value, answer.figure("Recorded loss, money").value
    told = ("" if share is None else f"{w.number(share, 1)}‰", "" if money is None else w.money(money, step=10.0))
    loss = " · ".join(part for part in told if part)
    names = metals_of(answer)
    row = charts.shown_balance(answer, names[0]) or {}
    customers = row.get("delivered_customers") or 0.0
    span = " to ".join(short_day(date.fromisoformat(day)) for day in answer.figure("Unexplained").period.split(" to "))
    return [
        key_figure(answer, "Came in", f"{names[0]}, {span}"),
        key_figure(answer, "Delivered", f"of it customers' {w.number(customers, 1)}" if customers else ""),
        key_figure(answer, "On the benches"),
        key_figure(answer, "Recorded loss", loss),
        key_figure(answer, "Missing" if any(one.name == "Missing" for one in answer.figures) else "Unexplained", sign="both"),
    ]


def _stake(answer: Answer) -> str:
    names = metals_of(answer)
    if not names:
        return "The report fills once orders are worked and the safe is counted."
    facts, frame = charts.metal_facts(answer, names[0]), balance_rows(answer, names[0])
    whole = rows_of(frame[frame["span"] == "over all"])
    known = whole[0] if whole and whole[0]["unexplained"] is not None else None
    lots = answer.table("filings")
    late = lots[(lots["metal"] == names[0]) & (lots["overdue_days"] > 0)]
    told = Told(
        names[0], facts["cannot_tell"] or "", bool(facts["alarm"]), spot=facts["spot"] if facts["spot"] is not None else math.nan,
        drift_g=known["unexplained_high"] - known["unexplained"] if known else math.nan,
        drift_months=_months(known["from"], known["to"]) if known else math.nan,
        tolerance_permille=facts["fineness_tolerance"], overdue_g=float(late["expected_g"].fillna(0.0).sum()),
    )  # fmt: skip
    return stake(told, answer.writing)


def _months(first: str, last: str) -> float:
    return (date.fromisoformat(last) - date.fromisoformat(first)).days / 30.4375


def _balance(answer: Answer) -> Table:
    shows = [
        Show("to", "Counted on", "day"), Show("delivered", "Delivered", "grams", "g fine"),
        Show("recorded_loss", "Lost", "grams", "g fine", narrow=False),
        Show("in_process", "On the benches", "grams", "g fine", narrow=False),
        Show("closing", "In the safe", "grams", "g fine", narrow=False), Show("unexplained", "Unexplained", "grams_change", "g fine"),
        Show("unexplained_low", "Low", "grams", "19 in 20", narrow=False), Show("unexplained_high", "High", "grams", "19 in 20"),
    ]  # fmt: skip
    names = metals_of(answer)
    note = f"Unexplained above zero: missing.{_over_all(answer)} Every column is in the workbook."
    if not names:
        return table_of(answer, "balance", "Balances", shows, note=note)
    steps = [_latest(answer, name) for name in names]
    control = charts.metal_control(answer)
    if control is None:
        return table_of(answer, "balance", "Balances between counts, newest last", shows, rows=steps[0], note=note)
    return table_of(answer, "balance", "Balances between counts, newest last", shows, note=note, control=control, steps=steps)


def _latest(answer: Answer, metal: str) -> pd.DataFrame:
    """Return the last balances of a metal between counts; without two counts what there is."""
    between = between_rows(answer, metal).tail(LAST_COUNTS)
    return between if len(between) else balance_rows(answer, metal)


def _over_all(answer: Answer) -> str:
    w, told = answer.writing, []
    for metal in metals_of(answer):
        frame = balance_rows(answer, metal)
        for row in rows_of(frame[(frame["span"] == "over all") & frame["unexplained"].notna()]):
            first, span = short_day(date.fromisoformat(row["from"])), w.span(row["unexplained_low"], row["unexplained_high"], 1)
            told.append(f"{metal} since {first}: {w.number(row['unexplained'], 1, 'both')} g ({span})")
    return f" Over all counts, {'; '.join(told)}." if told else ""


def _stage_loss(answer: Answer) -> Table:
    shows = [
        Show("stage", "Stage"), Show("alloy", "Alloy"), Show("fine_g_in", "Given", "grams", "g fine", narrow=False),
        Show("fine_g_lost", "Lost", "grams", "g fine"), Show("loss_per_mille", "Loss", "per_mille"),
        Show("low", "Low", "per_mille", narrow=False), Show("high", "High", "per_mille", narrow=False),
        Show("visits", "Visits weighed", "number", narrow=False),
    ]  # fmt: skip
    rows = answer.table("stage_loss").sort_values("fine_g_lost", ascending=False).head(MOST_ROWS)
    note = "Gross of recovery. Between the stages: lost where no single stage was weighed before and after. All in the workbook."
    return table_of(answer, "stage_loss", "Loss by stage and alloy, most grams first", shows, rows=rows, note=note)


def _finished(answer: Answer) -> Table:
    shows = [
        Show("alloy", "Alloy"), Show("mark", "Mark", "number", "‰"), Show("melted", "Melted", "per_mille"),
        Show("solder_share", "Solder", "share", narrow=False), Show("finished", "With solder", "per_mille"),
        Show("gross_g", "Delivered", "grams", "g gross", narrow=False), Show("given_away_g", "Above the mark", "grams", "g fine"),
        Show("given_away_money", "Worth", "money", narrow=False),
    ]  # fmt: skip
    note = "Whether solder counts, and whether a little below the mark is allowed, is local law: ask the assay office."
    return table_of(answer, "finished", "What the finished pieces hold", shows, note=note)


def _filings(answer: Answer) -> Table:
    shows = [
        Show("lot", "Lot"), Show("metal", "Metal"), Show("sent_on", "Sent", "day"),
        Show("expected_g", "Expected", "grams", "g fine"), Show("settled_on", "Settled", "day", narrow=False),
        Show("settled_g", "Came back", "grams", "g fine"), Show("recovered", "Of the loss", "number", "‰", narrow=False),
        Show("overdue_days", "Overdue", "number", "days"),
    ]  # fmt: skip
    rows = answer.table("filings")
    names = metals_of(answer)
    rows = rows[rows["metal"] == names[0]] if names else rows
    rows = rows.sort_values(["sent_on", "lot"], na_position="first").tail(LAST_LOTS)
    note = "Expected before the refiner's share; of a first lot, which holds filings of an unknown time, nothing is expected."
    return table_of(answer, "filings", "Lots at the refiner, newest last", shows, rows=rows, note=note)


def _places(answer: Answer) -> Table:
    shows = [
        Show("place", "Where"), Show("metal", "Metal", narrow=False), Show("owner", "Whose"), Show("fine_g", "Fine", "grams", "g fine"),
        Show("money", "At spot", "money"),
        Show("capital_cost", "Capital a year", "money", narrow=False), Show("basis", "Known by", narrow=False),
    ]  # fmt: skip
    rows = answer.table("places").sort_values("money", ascending=False)
    note = "Capital: the shop's own metal at its cost of capital. This table is as good as a key to the safe: keep it like one."
    return table_of(answer, "places", "Where the metal lies", shows, rows=rows, note=note)


def _peak(answer: Answer) -> Table:
    shows = [
        Show("month", "Month", "month"), Show("day", "Day", "day", narrow=False), Show("fine_g", "Most in the house", "grams", "g fine"),
        Show("money", "Worth", "money"), Show("insured", "Insured", "money"),
    ]  # fmt: skip
    rows = answer.table("peak").tail(LAST_MONTHS)
    return table_of(answer, "peak", "The most metal in the house, by month, all metals together", shows, rows=rows)


def _customers(answer: Answer) -> Table | Text:
    shows = [
        Show("order_id", "Order"), Show("received_g", "Brought", "grams", "g fine"), Show("piece_g", "In the piece", "grams", "g fine"),
        Show("allowance_g", "Allowance", "grams", "g fine", narrow=False),
        Show("loss_borne_g", "Loss borne", "grams", "g fine", narrow=False),
        Show("returned_g", "Given back", "grams", "g fine", narrow=False), Show("owed_g", "Still owed", "grams_change", "g fine"),
        Show("open", "Open", "yes_no"),
    ]  # fmt: skip
    rows = answer.table("customer_metal")
    if rows.empty:
        return Text("customer_metal", ("No order in the customer's own metal is open or was delivered in the period.",))
    rows = rows.reindex(rows["owed_g"].abs().sort_values(ascending=False, kind="stable").index).head(MOST_ROWS)
    note = "Owed = brought − in the piece − loss borne − given back; below zero the customer owes. Give and keep receipts."
    return table_of(answer, "customer_metal", "Customers' metal, most owed first", shows, rows=rows, note=note)


def _alloying(answer: Answer) -> Table:
    shows = [
        Show("from_alloy", "From 100 g of"), Show("to_alloy", "to"), Show("add_metal", "add"), Show("g_per_100g", "Grams", "number2", "g"),
        Show("total_g", "Makes", "number2", "g", narrow=False),
    ]  # fmt: skip
    note = "Fine metals as bought (999.9‰), the melt as shop.toml says. A sheet is no assay. Ventilate, wear eye protection."
    return table_of(answer, "alloying", "Alloying up and down", shows, note=note)


def _melt(answer: Answer) -> Table | Text:
    wanted, grams = answer.parameters.get("make_alloy"), answer.parameters.get("make_g")
    if not wanted:
        return Text("melt", ("Set metal_balance.make_alloy and make_g, and this place says what to take from the safe for a melt.",))
    if not answer.tables["melt"].rows:
        return Text("melt", (f"By the last count the safe cannot give {answer.writing.number(float(str(grams)))} g of {wanted}.",))
    shows = [Show("take", "Take"), Show("gross_g", "Grams", "number2", "g gross"), Show("fine_g", "Fine in it", "number2", "g fine")]
    return table_of(answer, "melt", f"{answer.writing.number(float(str(grams)))} g of {wanted} from the safe, scrap first", shows)
