"""Blocks as HTML: text from data stays text, alternatives of a step are hidden, tables carry what they sort by."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shoplib.reports.answer import Found
from shoplib.reports.blocks import (
    Absent,
    Block,
    Chart,
    Column,
    Control,
    Details,
    Findings,
    Footer,
    Headline,
    KeyFigure,
    KeyFigures,
    Notes,
    Shown,
    Table,
    Text,
)
from shoplib.reports.charts import Axis, Row, ranges, stepped
from shoplib.reports.markup import PLOTLY_MIME, bundles, markup

DRAWING = ranges([Row("a", 1.0)], Axis("", 0, 2))
CONTROL = Control("spot", "Gold at", ("low", "now", "high"), 1, "slider", 1)
TWO = (Column("Name"), Column("Price", "EUR", True, False))


def a_table(rows: int = 2, **more: object) -> Table:
    return Table("t", "Prices", TWO, tuple((Shown(f"n{at}", f"n{at}"), Shown(f"{at},000", at * 1000)) for at in range(rows)), **more)  # type: ignore[arg-type]


def every_block(text: str) -> list[Block]:
    """Return a block of each kind with `text` wherever data can stand."""
    found = (Found(level="warn", code="c", text=text, where=text),)
    control = Control("c", text, (text, text), 0)
    table = Table("t", text, (Column(text, text),), ((Shown(text, text),),), text)
    chart = Chart("x", text, text, ranges([Row(text, 1.0, value=text)], Axis(text, 0, 2)), text, text, table, control)
    return [
        Headline(text, text, text, 1), KeyFigures((KeyFigure(text, text, text, text, text),), text), Findings(found, 2), table, chart,
        Absent("a", text, text, text), Text("p", (text,)), Notes(found, table), Details("d", text, (chart,)),
        Footer(((text, text),), ((text, text),), 1, text, True),
    ]  # fmt: skip


@given(st.text(alphabet="<>&\"'/ab=`{}\\\u2028", min_size=1, max_size=12))
def test_no_text_from_data_becomes_markup(text: str) -> None:
    """With any text each block has the tags it has with a plain one."""
    tags = re.compile(r"</?[a-zA-Z][a-zA-Z0-9]*")
    for hostile, plain in zip(every_block(text), every_block("plain"), strict=True):
        assert tags.findall(markup(hostile)) == tags.findall(markup(plain))


@given(st.text(alphabet="\"'<> =", min_size=1, max_size=8))
def test_no_text_from_data_leaves_its_attribute(text: str) -> None:
    """Attributes of any block are those it has with a plain text."""
    names = re.compile(r'\s([a-z-]+)="[^"]*"')
    for hostile, plain in zip(every_block(text), every_block("plain"), strict=True):
        assert names.findall(markup(hostile)) == names.findall(markup(plain))


def test_a_chart_is_three_outputs() -> None:
    """Message, figure with plotly's own type for JupyterLab, reading."""
    kinds = [sorted(bundle) for bundle in bundles(Chart("x", "m", "n", DRAWING, "l", "r"))]
    assert kinds == [["text/html"], [PLOTLY_MIME, "text/html"], ["text/html"]]


def test_the_slider_sits_with_the_figure_so_that_lab_shows_one_that_works() -> None:
    """JupyterLab shows plotly's slider and drops the page's."""
    drawing = stepped([DRAWING, DRAWING, DRAWING], 1, CONTROL.labels)
    lab = bundles(Chart("x", "m", "n", drawing, "l", "r", control=CONTROL))[1]
    assert (len(lab[PLOTLY_MIME]["layout"]["sliders"][0]["steps"]), "range" in lab["text/html"]) == (3, True)


def test_a_figure_is_named_and_described() -> None:
    """A reader who cannot see it is told its label and its reading."""
    text = markup(Chart("cash", "m", "n", DRAWING, "Deepest in month 6", "r"))
    assert 'role="img" aria-label="Deepest in month 6" aria-describedby="fig-cash-r"' in text and 'id="fig-cash-r"' in text


def test_only_the_starting_step_of_a_text_is_shown() -> None:
    """The others wait, hidden."""
    drawing = stepped([DRAWING, DRAWING, DRAWING], 1, CONTROL.labels)
    text = markup(Chart("x", ("a", "b", "c"), "n", drawing, "l", "r", control=CONTROL))
    assert re.findall(r'<h3 data-for="spot" data-step="(\d)"( hidden)?>', text) == [("0", " hidden"), ("1", ""), ("2", " hidden")]


def test_a_table_with_steps_has_a_body_for_each() -> None:
    """The starting one is shown."""
    rows = a_table().rows
    text = markup(Table("t", "c", TWO, rows, control=CONTROL, steps=(rows, rows, rows)))
    assert re.findall(r"<tbody[^>]*?( hidden)?>", text) == [" hidden", "", " hidden"]


def test_a_cell_carries_the_raw_value_it_sorts_by() -> None:
    """1,000 sorts as 1000."""
    assert 'data-v="1000">1,000<' in markup(a_table())


def test_a_total_row_is_a_foot() -> None:
    """Sorting leaves it last."""
    text = markup(a_table(3, total=True))
    assert (text.count("<tr>"), "<tfoot><tr>" in text) == (4, True)


@pytest.mark.parametrize(("rows", "there"), [(14, False), (15, True)])
def test_a_table_has_a_filter_from_15_rows(rows: int, there: bool) -> None:
    """Fewer are seen at a glance."""
    assert ('type="search"' in markup(a_table(rows))) is there


def test_columns_left_out_on_a_phone_can_be_tapped_in() -> None:
    """A button shows all."""
    assert "All 2 columns" in markup(a_table())


def test_cautions_that_are_not_shown_are_counted() -> None:
    """shoplib check lists them."""
    assert "and 2\u00a0others: <code>shoplib check</code>" in markup(Findings((Found(level="warn", code="c", text="t"),), 2))


def test_no_cautions_leave_no_trace() -> None:
    """An empty block is empty."""
    assert markup(Findings(())) == ""


def test_a_slider_says_its_value_in_words() -> None:
    """aria-valuetext is the label, not the number of the step."""
    drawing = stepped([DRAWING, DRAWING, DRAWING], 1, CONTROL.labels)
    assert 'aria-valuetext="now"' in markup(Chart("x", "m", "n", drawing, "l", "r", control=CONTROL))
