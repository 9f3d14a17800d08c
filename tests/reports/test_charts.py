"""Chart forms: plotly takes them, their colours are the palette's, bars start at zero, steps change what they should."""

from __future__ import annotations

import json
import re
from datetime import date
from typing import Any

import plotly.graph_objects as go
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shoplib.intake import load
from shoplib.reports.blocks import Chart, Details
from shoplib.reports.charts import (
    Axis,
    Mark,
    Part,
    Point,
    Row,
    Series,
    bars,
    bridge,
    columns,
    control,
    lines,
    money_scale,
    ranges,
    stacked,
    stepped,
    tone_of,
    turns,
)
from shoplib.reports.charts.frame import fitted, folded, text_px
from shoplib.reports.charts.rows import running
from shoplib.reports.charts.series import month_ticks
from shoplib.reports.drawing import BAD, DARK, GOOD, INK, TEMPLATE, Drawing

from .runs import small_shop
from .sample import gallery

AXIS = Axis("EUR", -10, 10)


@pytest.fixture(scope="module")
def drawings(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Drawing]:
    """Every drawing of the gallery."""
    answer = gallery.answer(load(small_shop(tmp_path_factory.mktemp("shop"))), gallery.Parameters())
    blocks = [part for block in gallery.page(answer).blocks.values() for part in (block.blocks if isinstance(block, Details) else [block])]
    return {block.name: block.drawing for block in blocks if isinstance(block, Chart)}


def test_plotly_takes_every_form_as_it_is(drawings: dict[str, Drawing]) -> None:
    """Each trace and layout passes plotly's own validation."""
    assert all(_valid(drawing) for drawing in drawings.values())


def _valid(drawing: Drawing) -> bool:
    figure = drawing.for_lab()
    return bool(go.Figure(data=figure["data"], layout=figure["layout"]).to_plotly_json())


def test_plotly_takes_every_form_in_a_narrow_column(drawings: dict[str, Drawing]) -> None:
    """What a phone changes is valid as well."""
    for drawing in drawings.values():
        figure = go.Figure(data=list(drawing.data), layout=drawing.layout)
        figure.update_layout(drawing.narrow)
        for number, change in drawing.narrow_traces.items():
            figure.data[int(number)].update(change)
        assert figure.layout.height == drawing.narrow["height"]


def test_every_colour_has_a_dark_one(drawings: dict[str, Drawing]) -> None:
    """A page in the dark swaps them all."""
    used = {colour for drawing in drawings.values() for colour in re.findall(r"#[0-9a-f]{6}", drawing.for_page() + json.dumps(TEMPLATE))}
    assert used <= set(DARK)


def test_no_form_holds_more_than_500_points_a_trace(drawings: dict[str, Drawing]) -> None:
    """Pages stay small."""
    assert max(len(trace.get("x", ())) for drawing in drawings.values() for trace in drawing.data) <= 500


def test_text_from_data_is_escaped_in_a_figure(drawings: dict[str, Drawing]) -> None:
    """plotly reads tags; none of ours but bold comes through."""
    tags = set(re.findall(r"<[^>]*>", json.dumps(json.loads(drawings["gain"].for_page()), ensure_ascii=False)))
    assert tags <= {"<b>", "</b>"}


def test_the_figure_in_the_page_cannot_close_its_script(drawings: dict[str, Drawing]) -> None:
    """No < stands in it."""
    assert not [name for name, drawing in drawings.items() if "<" in drawing.for_page()]


@given(st.lists(st.integers(-10_000, 10_000), min_size=1, max_size=8), st.integers(0, 50_000))
def test_a_bridge_ends_where_its_steps_lead(steps: list[int], opening: int) -> None:
    """The running total before the closing bar is the closing total."""
    amounts = [float(opening), *map(float, steps), float(opening + sum(steps))]
    assert running(amounts)[-2] == running(amounts)[-1]


def test_a_step_of_a_bridge_is_good_upward_and_bad_downward() -> None:
    """Totals are ink."""
    rows = [Row("Feb", 5.0), Row("price", 2.0), Row("loss", -1.0), Row("Mar", 6.0)]
    assert bridge(rows, AXIS).data[0]["marker"]["color"] == [INK, GOOD, BAD, INK]


def test_bars_start_at_zero() -> None:
    """Their base is 0."""
    assert bars([Row("a", 3.0), Row("b", -2.0)], AXIS).data[0]["base"] == [0.0, 0.0]


def test_columns_start_at_zero_when_the_axis_is_asked_to() -> None:
    """The axis of a flow holds zero at its edge."""
    assert (Axis.around([5.0, 9.0], zero=True).low, Axis.around([-5.0, -9.0], zero=True).high) == (0.0, 0.0)


@pytest.mark.parametrize(("low", "high", "tone"), [(1.0, 2.0, GOOD), (-2.0, -1.0, BAD), (-1.0, 1.0, INK), (None, None, INK)])
def test_the_tone_of_a_range_is_where_it_lies(low: float | None, high: float | None, tone: str) -> None:
    """Blue wholly above zero, rust wholly below, ink between."""
    assert tone_of(low, high) == tone


def test_a_turn_reaches_from_its_worse_end_to_its_better_one() -> None:
    """Worse is left of the base, better right of it."""
    worse, better = [trace for trace in turns([Row("orders", 31.0, -12.0, 53.0)], AXIS, 31.0).data if trace["type"] == "bar"]
    assert (worse["x"], better["x"], worse["base"], better["base"]) == ([-43.0], [22.0], [31.0], [31.0])


def test_the_right_margin_fits_the_widest_text_of_all_steps() -> None:
    """Nothing jumps when a control moves."""
    rows = [Row("a", 1.0, value="1")]
    narrow, wide = ranges(rows, AXIS), ranges(rows, AXIS, widest=["−100,000 to +200,000"])
    assert wide.layout["margin"]["r"] > narrow.layout["margin"]["r"] + 60


def test_parts_below_zero_are_stacked_to_the_left() -> None:
    """What is lost lies left of zero, the parts above zero are not moved by it."""
    drawing = stacked(
        ["rope"], [Part("metal", (0.7,), INK), Part("left", (-0.1,), BAD), Part("labour", (0.4,), GOOD)], Axis("", -0.2, 1.2), [("", "")]
    )
    assert [trace["base"] for trace in drawing.data if trace["type"] == "bar"] == [[0.0], [0.0], [0.7]]


def test_a_forecast_is_hatched_and_what_happened_is_solid() -> None:
    """Fill says it, not colour alone."""
    drawing = columns([Point("Mar", 1.0), Point("Apr", 2.0, 1.0, 3.0, forecast=True)], AXIS)
    assert drawing.data[0]["marker"]["pattern"]["shape"] == ["", "/"]


def test_a_whisker_stands_only_where_there_is_a_range() -> None:
    """A month that happened has none."""
    drawing = columns([Point("Mar", 1.0), Point("Apr", 2.0, 1.0, 3.5, forecast=True)], AXIS)
    assert (drawing.data[1]["x"], drawing.data[1]["error_y"]["array"], drawing.data[1]["error_y"]["arrayminus"]) == ([1], [1.5], [1.0])


def test_only_points_outside_the_limits_are_singled_out() -> None:
    """Grey within, rust outside, also at the upper limit."""
    points = [Point(str(at), value) for at, value in enumerate([0.9, 0.7, 0.99])]
    dots = control(points, AXIS, 0.9, 0.8, 0.95).data[-1]
    assert [colour == BAD for colour in dots["marker"]["color"]] == [False, True, True]


def test_labels_of_lines_that_end_together_are_moved_apart() -> None:
    """No two stand on each other."""
    drawing = lines([Series("one", (0, 1), (1.0, 5.0)), Series("two", (0, 1), (1.0, 5.0))], AXIS, [])
    places = sorted(note["y"] for note in drawing.layout["annotations"] if note["text"] in ("one", "two"))
    assert places[1] - places[0] > 0.5


def test_a_line_breaks_where_a_value_is_missing() -> None:
    """A gap is not bridged."""
    assert lines([Series("", (0, 1, 2), (1.0, None, 2.0))], AXIS, []).data[0]["connectgaps"] is False


def test_month_ticks_are_first_days_thinned() -> None:
    """At most seven, from the first month inside."""
    ticks = month_ticks(date(2025, 3, 15), date(2026, 3, 15))
    assert (len(ticks) <= 7, ticks[0][1]) == (True, "Apr\u00a025")


@pytest.mark.parametrize(("values", "unit"), [([9_999.0], "EUR"), ([-10_000.0, None], "thousand EUR")])
def test_money_is_in_thousands_from_10_000_on(values: list[float | None], unit: str) -> None:
    """The axis says so."""
    assert money_scale(values, "EUR").unit == unit


def test_a_step_changes_what_differs_and_nothing_else() -> None:
    """Values and written texts move, colours that stay do not."""
    one, two = (ranges([Row("a", value, value - 1, value + 1, value=str(value))], AXIS) for value in (5.0, 6.0))
    steps = stepped([one, two], 0, ["now", "then"]).steps
    assert (sorted(steps[1].restyle), sorted(steps[1].relayout)) == (["base", "text", "x"], ["yaxis2.ticktext"])


def test_applying_a_step_gives_the_drawing_of_that_step(drawings: dict[str, Drawing]) -> None:
    """Any step after any other is the whole truth of its own."""
    one, two = (ranges([Row("a", v, v - 1, v + 1, value=str(v)), Row("b", -v, tone=BAD)], AXIS, [Mark(0.0, "", False)]) for v in (5.0, 6.0))
    joined = stepped([one, two], 0, ["now", "then"])
    assert _applied(joined, 1) == ([dict(trace) for trace in two.data], dict(two.layout))


def _applied(drawing: Drawing, number: int) -> tuple[list[dict[str, Any]], dict[str, Any]]:
    data, layout = json.loads(json.dumps(drawing.data)), json.loads(json.dumps(drawing.layout))
    step = drawing.steps[number]
    for path, values in step.restyle.items():
        for at, value in zip(step.traces, values, strict=True):
            _set(data[at], path, value)
    for path, value in step.relayout.items():
        _set(layout, path, value)
    return data, layout


def _set(tree: dict[str, Any], path: str, value: Any) -> None:
    *way, last = path.split(".")
    for part in way:
        tree = tree.setdefault(part, {})
    if value is None:
        tree.pop(last, None)
    else:
        tree[last] = value


@given(st.text(alphabet="abc MW.i", max_size=40), st.floats(0, 300))
def test_a_name_above_a_row_is_cut_until_it_fits(text: str, room: float) -> None:
    """Ten signs at least are left."""
    shown = fitted(text, room)
    assert len(shown) <= 10 or text_px(shown) <= room


def test_a_long_axis_title_is_folded_on_a_phone() -> None:
    """Near its middle; a short one is not."""
    assert (folded("thousand EUR after all costs, against doing nothing"), folded("EUR")) == (
        "thousand EUR after all\ncosts, against doing nothing",
        "EUR",
    )


def test_a_word_at_a_point_close_to_the_top_stands_below_it() -> None:
    """It would meet the axis title."""
    note = lines([Series("", (0, 1), (0.0, 9.9))], AXIS, [], notes=[(1.0, 9.9, "now")]).layout["annotations"][-1]
    assert note["ay"] > 0
