"""The page of the price report: charts and tables drawn from the answer alone."""

from __future__ import annotations

from dataclasses import replace

from .. import sentences
from ..answer import Answer
from ..blocks import KeyFigure, Named, Page, Table, Text
from ..compose import Show, key_figure, page_of, table_of
from ..sentences import cut
from . import cover, customers
from .headline import Told, stake
from .list_chart import charge_left, repriced


def page(answer: Answer) -> Page:
    """Return the price page.

    Parameters
    ----------
    answer : Answer
        Of this report.
    """
    blocks: list[Named] = [
        quotes(answer), *one_quote(answer), charge_left(answer), repriced(answer), cover.spot_line(answer), new_list_table(answer),
        cover.moves_table(answer), cover.need_against(answer), cover.exposure_table(answer), cover.quotes_out(answer),
        cover.to_buy_table(answer),
        cover.breakeven(answer), cover.open_table(answer), cover.chance_by_day(answer), cover.days_table(answer),
        customers.if_answered(answer), customers.mark_ups(answer),
    ]  # fmt: skip
    return page_of(answer, _stake(answer), _figures(answer), blocks)


def _figures(answer: Answer) -> list[KeyFigure]:
    w, lines = answer.writing, answer.figure("Lines under target")
    percent, spot, stands = (answer.figure(name) for name in ("Net metal, 1% on spot", "Spot", "A quote may stand"))
    return [
        replace(key_figure(answer, "Spot"), value=w.number(spot.value, 2)),
        key_figure(answer, "Lines under target", f"of {lines.n}"),
        key_figure(answer, "A year of new prices", sign="both"),
        key_figure(answer, "Sold, not bought", "" if percent.value is None else f"1% on spot: {w.money(percent.value, 'both')}"),
        replace(key_figure(answer, "A quote may stand"), value=w.number(stands.value)),
    ]


def _stake(answer: Answer) -> str:
    figures = {one.name: one.value for one in answer.figures}
    days, lines = figures["A quote may stand"], answer.figure("Lines under target").n or 0
    known = float("nan") if not lines or figures["Spot"] is None else 0.0
    money = figures["A year of new prices"] or 0.0
    return stake(Told("", lines, 0, (), known, money, float("nan") if days is None else days), answer.writing)


_QUOTE = [
    Show("line", "Line"), Show("g_per_cm", "A cm", "number2", "g gross", paper=True),
    Show("length_cm", "Length", "number", "cm", paper=True), Show("weight_g", "Weight", "grams", "g gross", narrow=False),
    Show("metal", "Metal", "money", narrow=False), Show("hours", "Bench", "hours", paper=True),
    Show("making_charge", "Making charge", "money", narrow=False), Show("price", "Price", "money"),
    Show("promise_on", "Promise from", "day", narrow=False), Show("valid_days", "Stands", "number", "days"),
    Show("deposit", "Deposit", "money", narrow=False),
]  # fmt: skip


def quotes(answer: Answer) -> Table | Text:
    """Return the sheet to quote from."""
    if answer.table("quote_sheet").empty:
        return Text("quote_sheet", ("There is no line to quote.",))
    note = (
        "Usual piece of each line at the target, rounded up; metal with its net loss and the supplier's premium. Promise from: kept at the "
        "service level if ordered today. 0 days: it holds on the day it is given."
    )
    return table_of(answer, "quote_sheet", f"What to quote on {_today(answer)}", _QUOTE, note=note, sheet=True)


def _today(answer: Answer) -> str:
    """Return the day and the metal prices of a sheet that is printed on its own."""
    held = answer.table("exposure").dropna(subset=["spot"])
    spots = [f"{row['metal']} {answer.writing.price_per_g(row['spot'])}" for row in held.to_dict("records")]
    return ": ".join([sentences.day(answer.as_of), *filter(None, [", ".join(spots)])])


def one_quote(answer: Answer) -> list[Table | Text]:
    """Return the quote for one line and length, where one is asked for."""
    name = str(answer.parameters["quote_line"])
    if not name:
        return [Text("quote", ())]
    if answer.table("quote").empty:
        return [Text("quote", (f"There is no line {cut(name, 60)}; lines are named as in the sheet above.",))]
    length = answer.writing.number(float(answer.parameters["quote_length_cm"]), 1)
    return [table_of(answer, "quote", f"The quote asked for, {length} cm", _QUOTE)]


def new_list_table(answer: Answer) -> Table | Text:
    """Return the new price list to print, old and new side by side."""
    if answer.table("new_list").empty:
        return Text("new_list", ("There is no line to price.",))
    shows = [
        Show("line", "Line"), Show("per", "For a"), Show("g_per_cm", "A cm", "number2", "g gross", paper=True),
        Show("old_price", "Old", "money2"), Show("new_price", "New", "money2"),
        Show("change_share", "Change", "share_change"), Show("usual_old", "Usual piece, old", "money", narrow=False),
        Show("usual_new", "Usual piece, new", "money", narrow=False),
    ]  # fmt: skip
    note = "By the centimetre or the gram gross, as the list is kept. New prices are a proposal: yours to strike."
    return table_of(answer, "new_list", f"The new price list on {_today(answer)}", shows, note=note, sheet=True)
