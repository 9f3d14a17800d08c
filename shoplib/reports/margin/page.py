"""The page of the margin report: charts and tables drawn from the answer alone."""

from __future__ import annotations

from ..answer import Answer
from ..blocks import Page
from ..compose import key_figure, page_of
from .bench import bench_of, limiting
from .by_month import margin_and_metal, month_bridge, months_table
from .chains import groups_table, per_hour, price_pays_for
from .headline import Told, stake
from .worth_a_look import open_table, unlike_table


def page(answer: Answer) -> Page:
    """Return the margin page.

    Parameters
    ----------
    answer : Answer
        Of this report.
    """
    figures = [
        key_figure(answer, "Making margin", _before(answer, "Making margin")),
        key_figure(answer, "Metal result", _before(answer, "Metal result"), sign="both"),
        key_figure(answer, "Contribution an hour", f"at {bench_of(answer)}"),
        key_figure(answer, "Weight above quote"),
        key_figure(answer, "Result after all", _before(answer, "Result after all")),
    ]
    blocks = [
        per_hour(answer),
        groups_table(answer),
        price_pays_for(answer),
        month_bridge(answer),
        margin_and_metal(answer),
        months_table(answer),
        open_table(answer),
        unlike_table(answer),
    ]
    return page_of(answer, _stake(answer), figures, blocks)


def _stake(answer: Answer) -> str:
    groups, margin = answer.table("groups"), answer.figure("Making margin")
    bench, load, scarce = limiting(answer)
    told = Told(margin.n or 0, 0, margin.value or 0.0, 0.0, bench, load, groups[groups["by"] == "style"], scarce)
    return stake(told, answer.figure("Result after all").value or 0.0, answer.writing)


def _before(answer: Answer, name: str) -> str:
    """The comparison of a key figure with the same months before, where they are whole."""
    old = [one for one in answer.figures if one.name.startswith(f"{name}, ")]
    return f"{answer.parameters['period_months']} months before: {answer.writing.amount(old[0].value)}" if old else ""
