"""The workshop and the state: one file each, and what they refuse."""

from dataclasses import fields, replace

import numpy as np
import pytest

from shoplib.errors import DataError, UsageError
from shoplib.workshop.model import RUNNING, State, Workshop
from tests.workshop.small import AS_OF, open_orders, small_workshop


@pytest.mark.parametrize("thing", [small_workshop(3, 2), open_orders(4, 3), State.empty(AS_OF, 3)])
def test_what_is_saved_is_read_back(thing, tmp_path):
    """Every field comes back with its values and kind."""
    thing.save(tmp_path / "stored.npz")
    back = type(thing).load(tmp_path / "stored.npz")
    for field in fields(thing):
        was, now = np.asarray(getattr(thing, field.name)), np.asarray(getattr(back, field.name))
        assert was.dtype.kind == now.dtype.kind and np.array_equal(was, now, equal_nan=was.dtype.kind in "fM"), field.name


def test_a_damaged_file_is_refused(tmp_path):
    """A file that holds no workshop is named, with what to do."""
    (tmp_path / "stored.npz").write_bytes(b"no workshop")
    with pytest.raises(DataError, match="stored.npz.*delete it and run again|stored.npz.*Delete it and run again"):
        Workshop.load(tmp_path / "stored.npz")


def test_a_good_workshop_passes():
    """The small workshop and its state are taken: nothing is raised."""
    workshop = small_workshop(3, 2)
    assert (workshop.check(), open_orders(4, 3).check(workshop)) == (None, None)


def test_draws_are_counted():
    """Three rows of hours: two draws beside the estimate; the estimate alone has none."""
    workshop = small_workshop(1, 1, work_intercept=np.zeros((3, 1)))
    assert (workshop.draws, workshop.estimate().draws) == (2, 0)


def test_expected_hours_of_a_log_normal():
    """Mean of the law: exp (mean + sd² ÷ 2); the small workshop is built to have 2 h a visit."""
    assert small_workshop(2, 1).expected_hours(np.zeros(3, int), np.zeros(3, int), np.ones(3)) == pytest.approx(np.full((3, 2), 2.0))


@pytest.mark.parametrize("people", [0, 65])
def test_number_of_people(people):
    """Nobody and sixty-five are refused with the number found."""
    with pytest.raises(UsageError, match=f'number of people .found "{people}"; allowed: 1 to 64'):
        small_workshop(1, people).check()


def test_unknown_rule():
    """A dispatch rule that does not exist is refused with those that do."""
    with pytest.raises(UsageError, match="promise, order_date, queue"):
        small_workshop(dispatch_rule="loudest").check()


@pytest.mark.parametrize("field, value", [
    ("work_sd", np.zeros((1, 5))), ("can", np.ones((3, 2), bool)), ("own_hours", np.ones((2, 5))), ("quote_a", np.zeros(0)),
])
def test_shapes_that_do_not_fit(field, value):
    """An array of another shape is refused by name."""
    with pytest.raises(DataError, match=f"field {field} does not fit"):
        small_workshop(**{field: value}).check()


def test_rows_of_draws_must_agree():
    """Three rows here and five there are refused."""
    with pytest.raises(DataError, match="does not fit"):
        small_workshop(work_intercept=np.zeros((3, 2)), quote_a=np.zeros(5)).check()


@pytest.mark.parametrize("field, value", [
    ("bench_share", np.full((1, 2), 1.2)), ("work_sd", np.full((1, 2), -0.1)), ("return_chance", np.full((1, 2, 1), np.nan)),
])
def test_numbers_out_of_range(field, value):
    """Shares over one, negative spreads and missing numbers are refused by name, with what is allowed."""
    with pytest.raises(DataError, match=f"{field} is outside"):
        small_workshop(**{field: value}).check()


def test_two_running_orders_on_one_bench():
    """Nobody works on two orders at once."""
    state = open_orders(2, 1, status=np.full(2, RUNNING), person=np.zeros(2, int))
    with pytest.raises(DataError, match="one person's bench"):
        state.check(small_workshop(1, 1))


def test_an_unknown_stage():
    """An order at stage 5 of two is refused."""
    with pytest.raises(DataError, match="stage the workshop does not know"):
        replace(open_orders(1), stage=np.array([5])).check(small_workshop())
