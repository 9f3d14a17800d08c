"""The answers file: strict JSON, its head read without its tables, a schema that holds."""

from __future__ import annotations

import json
import math
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shoplib.reports.answer import Answer, Figure, Found, Period, Table, TableColumn, head_of, plain
from shoplib.reports.sentences import Writing


def an_answer(text: str = "h", rows: tuple[tuple[object, ...], ...] = ((1, "a"),)) -> Answer:
    return Answer(
        report="gallery", shop=text, as_of=date(2026, 3, 31), period=Period(from_=date(2025, 4, 1), to=date(2026, 3, 31)), shoplib="1.0.0",
        seed=1, inputs={text: "0"}, parameters={"a": text}, headline=text, figures=(Figure(name=text, value=1 / 3),),
        tables={"t": Table(columns=(TableColumn(name="a"), TableColumn(name="b")), rows=rows), "empty": Table(columns=())},
        findings=(Found(level="note", code="c", text=text),), writing=Writing("CHF"),
    )  # fmt: skip


@given(st.text())
def test_the_head_is_read_without_the_tables_whatever_the_text(text: str) -> None:
    """No text of the data looks like the line that opens the tables."""
    whole = json.loads(an_answer(text).to_json())
    whole.pop("tables")
    assert head_of(an_answer(text).to_json()) == whole


@given(st.text())
def test_an_answer_read_back_is_the_answer(text: str) -> None:
    """Nothing is lost but how numbers are written."""
    answer = an_answer(text, ((1, text), (2.5, None), (True, "x")))
    assert Answer.model_validate_json(answer.to_json()) == answer.model_copy(update={"writing": Writing()})


@pytest.mark.parametrize(("value", "expected"), [(math.nan, None), (math.inf, None), (-0.0, 0.0), (1 / 3, 0.3333333333)])
def test_a_figure_holds_plain_numbers_to_ten_digits(value: float, expected: float | None) -> None:
    """NaN and infinity never reach the file."""
    assert Figure(name="f", value=value).value == expected


def test_an_unknown_key_is_refused() -> None:
    """A misspelt figure does not pass in silence."""
    with pytest.raises(ValueError, match="extra"):
        Figure(name="f", value=1.0, lower=0.0)  # type: ignore[call-arg]


def test_the_schema_leaves_out_how_numbers_are_written() -> None:
    """Other programs see what is in the file."""
    assert "writing" not in Answer.model_json_schema(by_alias=True)["properties"]


def test_dates_are_iso_text() -> None:
    """One form for every program."""
    assert plain(date(2026, 3, 1)) == "2026-03-01"
