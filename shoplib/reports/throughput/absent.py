"""What one person away costs, by skill: no person is named."""

from __future__ import annotations

import pandas as pd

from ...workshop.without_one import FOR_GOOD, FOUR_WEEKS
from ..answer import Answer
from ..blocks import Absent, Chart, Control, Table, Text
from ..charts import BAD, INK, Axis, Mark, Row, money_scale, ranges, stepped
from ..compose import Show, table_of
from ..sentences import cut, step_of
from .benches import limiting_of

MOST_ROWS = 12
STEPS = (FOUR_WEEKS, FOR_GOOD)


def one_away(answer: Answer) -> Chart | Absent:
    """Contribution lost in a year when one who has the skill is away, rows with their 80 % range."""
    w, table = answer.writing, answer.table("without_one")
    if table.empty:
        return Absent("one_away", "What one person away costs is not shown.", "The shop could not be simulated from these tables.",
                      "Job cards with stage, person and hours over some months would.")  # fmt: skip
    sets = [_sorted(table, away) for away in STEPS]
    scale = money_scale([value for part in sets for name in ("low", "high") for value in part[f"contribution_lost_{name}"]], w.currency)
    drawn = [[_row(answer, one, scale.divisor) for one in part.itertuples()] for part in sets]
    widest = [f"{row.value}  {row.more}" for rows in drawn for row in rows]
    drawings = [ranges(rows, _axis(answer, rows, scale.unit), [Mark(0.0, "", False)], widest) for rows in drawn]
    choice = _away()
    messages = tuple(_message(answer, part, away) for part, away in zip(sets, STEPS, strict=True))
    readings = tuple(_reading(answer, part) for part in sets)
    label = f"{messages[0]}. " + "; ".join(f"{row.name} {row.value}" for row in drawn[0])
    measure = f"Contribution lost within a year, {w.currency}; bar = 8 times in 10; rust: surely lost; by the skill of the one away"
    return Chart("one_away", messages, measure, stepped(drawings, 0, choice.labels), label, readings, control=choice)


def _away() -> Control:
    return Control("away", "Away for", STEPS, 0, "choice")


def _named(answer: Answer, part: pd.DataFrame) -> pd.Series:
    """The row a message names: the limiting bench where nothing costs clearly more, since one person may have several skills."""
    top, bench = part.iloc[0], part[part["skill"] == limiting_of(answer)]
    return bench.iloc[0] if len(bench) and bench.iloc[0]["contribution_lost_high"] >= top["contribution_lost"] else top


def _sorted(table: pd.DataFrame, away: str) -> pd.DataFrame:
    part = table[table["away"] == away]
    return part.sort_values("contribution_lost", ascending=False, kind="stable").head(MOST_ROWS)


def _row(answer: Answer, one: tuple, divisor: float) -> Row:  # type: ignore[type-arg]
    w = answer.writing
    value, low, high = one.contribution_lost, one.contribution_lost_low, one.contribution_lost_high  # type: ignore[attr-defined]
    step = step_of(low, high)
    tone = BAD if low > 0 else INK
    return Row(str(one.skill), value / divisor, low / divisor, high / divisor, value=w.number(value, 0, step=step),  # type: ignore[attr-defined]
               more=w.span(low, high, 0, step=step), tone=tone)  # fmt: skip


def _axis(answer: Answer, rows: list[Row], unit: str) -> Axis:
    return Axis.around([*(row.low for row in rows), *(row.high for row in rows), 0.0], unit, ",", answer.writing.separators)


def _message(answer: Answer, part: pd.DataFrame, away: str) -> str:
    w, top = answer.writing, _named(answer, part)
    words = "for four weeks" if away == FOUR_WEEKS else "for good"
    if top["contribution_lost_low"] <= 0:
        return f"No one person away {words} surely costs contribution"
    return f"One person of {cut(str(top['skill']), 16)} away {words} costs {w.about(top['contribution_lost'])}"


def _reading(answer: Answer, part: pd.DataFrame) -> str:
    w, top = answer.writing, _named(answer, part)
    wait = top["wait_days_change"]
    text = f"With one person of {cut(str(top['skill']), 16)} away {_missed(answer, top)} within a year"
    if pd.isna(wait):
        return f"{text}; nobody else has the skill, so its orders stand still."
    longer = w.unit(abs(float(wait)), "days")
    return f"{text}; orders of the next half-year take {longer} {'longer' if wait >= 0 else 'less'}. Pay saved is not taken off."


def _missed(answer: Answer, top: pd.Series) -> str:
    """``12 to 49 promises more are missed``; a range with both signs names both."""
    w, low, high = answer.writing, float(top["orders_late_low"]), float(top["orders_late_high"])
    if low < 0 < high:
        return f"from {w.number(-low)} promises fewer to {w.number(high)} more are missed"
    return f"{w.span(low, high)} promises more are missed"


def without_one_table(answer: Answer) -> Table | Text:
    """Return what one away costs as a table."""
    if answer.table("without_one").empty:
        return Text("without_one", ("Without a simulation nothing can be said of an absence.",))
    shows = [
        Show("skill", "Skill of the one away"), Show("others", "Others with it", "number", narrow=False),
        Show("orders_late", "More orders late", "change", narrow=False), Show("wait_days_change", "Days in the shop", "change", "days"),
        Show("contribution_lost", "Lost", "money"), Show("contribution_lost_low", "Low", "money", narrow=False),
        Show("contribution_lost_high", "High", "money", narrow=False),
    ]  # fmt: skip
    note = "The one who books most hours at the skill is away; who can do several things is missed at all of them."
    steps = [_sorted(answer.table("without_one"), away) for away in STEPS]
    return table_of(answer, "without_one", "One person away, from tomorrow on", shows, note=note, control=_away(), steps=steps)
