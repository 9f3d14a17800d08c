"""The page of the throughput report: charts and tables drawn from the answer alone."""

from __future__ import annotations

import math

from ..answer import Answer
from ..blocks import Page
from ..compose import key_figure, page_of
from ..sentences import MISSING
from .absent import one_away, without_one_table
from .again import control_charts, rework_cost, rework_table
from .benches import extra_hour, load, make_first, stages_table
from .flowing import curve, days_by_month, holds_table, little, months_table
from .headline import Told, ranked, stake


def page(answer: Answer) -> Page:
    """Return the throughput page.

    Parameters
    ----------
    answer : Answer
        Of this report.
    """
    figures = [
        key_figure(answer, "Orders a week", _before(answer, "Orders a week")),
        key_figure(answer, "Work in process", _metal(answer)),
        key_figure(answer, "Days in the shop", _on_bench(answer)),
        key_figure(answer, "Right first time", _before(answer, "Right first time")),
        key_figure(answer, "On time", _last_promise(answer)),
    ]
    blocks = [
        extra_hour(answer), load(answer), stages_table(answer), make_first(answer), days_by_month(answer), months_table(answer),
        little(answer), holds_table(answer), curve(answer), rework_cost(answer), rework_table(answer), control_charts(answer),
        one_away(answer), without_one_table(answer),
    ]  # fmt: skip
    return page_of(answer, stake(_told(answer), answer.writing), figures, blocks)


def _told(answer: Answer) -> Told:
    """What the stake needs, read back from the answer's own tables and figures."""
    table = answer.table("limits")
    known = table[table["limiting_probability"].notna()]
    orders = answer.figure("Orders a week").n or 0
    if known.empty:
        return Told((), math.nan, "", math.nan, orders, 0, math.nan)
    demand, benches = ranked(known)
    hour, gain = answer.figure("Worth of that hour").value, answer.figure("One more hour a week").value
    worth = hour / gain if hour is not None and gain else math.nan
    return Told(benches, demand, "", math.nan, orders, 0, worth)


def _before(answer: Answer, name: str) -> str:
    """The comparison of a key figure with as many months before, where they are whole."""
    old = [one for one in answer.figures if one.name == f"{name}, before"]
    if not old or old[0].value is None:
        return ""
    w, value = answer.writing, old[0].value
    text = w.percent(value) if old[0].unit == "share" else w.number(value, 1)
    months = answer.parameters["period_months"]
    return f"{'month' if months == 1 else f'{months} months'} before: {text}"


def _metal(answer: Answer) -> str:
    grams = answer.figure("Metal in process").value
    return "" if grams is None else f"{answer.writing.number(grams, 0)} g fine as quoted"


def _on_bench(answer: Answer) -> str:
    share = answer.writing.percent(answer.figure("On a bench").value)
    return "" if share == MISSING else f"{share} of it on a bench"


def _last_promise(answer: Answer) -> str:
    share = answer.writing.percent(answer.figure("On time by last promise").value)
    return "" if share == MISSING else f"{share} by the last promise"
