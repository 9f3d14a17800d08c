"""Returns: chances shrunk by stage and alloy, where orders go back to, what they pass again."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shoplib.workshop.returns import Sequence, fit_returns, shrink_weight


def sequence(*orders: tuple[str, bool]) -> Sequence:
    """Return visits from strings of stage digits, one string an order, with whether it is closed."""
    order = np.concatenate([np.full(len(path), i) for i, (path, _) in enumerate(orders)])
    stage = np.array([int(sign) for path, _ in orders for sign in path])
    closed = np.concatenate([np.full(len(path), is_closed) for path, is_closed in orders])
    return Sequence(order, stage, np.zeros(len(stage), np.int64), closed)


def fit(seen: Sequence, stages: int = 4, alloys: int = 1):
    return fit_returns(seen, stages, alloys, np.random.default_rng(0), 200)


def test_a_visit_before_an_earlier_stage_was_sent_back() -> None:
    """0 1 2 1 2 3: the first visit at 2 is sent back to 1, nothing else is."""
    seen = sequence(("012123", True))
    assert seen.sent_back.tolist() == [False, False, True, False, False, False]
    assert fit(seen).to[2].tolist() == [0.0, 1.0, 0.0, 0.0]


def test_what_follows_the_last_visit_of_an_open_order_is_not_known() -> None:
    """The last visit counts once the order is closed."""
    assert sequence(("01", False)).decided.tolist() == [True, False]
    assert sequence(("01", True)).decided.tolist() == [True, True]


def test_stages_passed_again_are_counted() -> None:
    """Sent back from 3 to 0: one order passes 1 again and not 2, the other both: (1 + 2) ÷ (2 + 2) and (1 + 1) ÷ (2 + 2)."""
    told = fit(sequence(("0123013", True), ("01230123", True)))
    assert told.repass[1] == pytest.approx(3 / 4)
    assert told.repass[2] == pytest.approx(2 / 4)


def test_an_order_still_on_its_way_back_says_nothing_about_passing_again() -> None:
    """Sent back to 0 and no further: the prior stands."""
    assert fit(sequence(("01230", False))).repass[1] == pytest.approx(0.5)


def test_a_stage_that_never_sent_back_never_does() -> None:
    """No return seen: chance 0 in every draw, and no way back."""
    told = fit(sequence(*[("0123", True)] * 50))
    assert not told.chance.any() and not told.to.any()


def test_alloys_lean_on_their_stage() -> None:
    """Two alloys alike with 10 of 100 and one with 0 of 4: the third leans on the stage's tenth, and its range is wider."""
    orders = [("01", "a")] * 180 + [("0101", "a")] * 20
    alloy = np.concatenate([np.full(len(path), i % 2) for i, (path, _) in enumerate(orders)] + [np.full(8, 2)])
    seen = sequence(*[(path, True) for path, _ in orders], *[("01", True)] * 4)
    told = fit(Sequence(seen.order, seen.stage, alloy, seen.closed), 2, 3)
    assert 0.05 < told.chance[0, 1, 2] < 0.12
    assert told.chance[1:, 1, 2].std() > told.chance[1:, 1, 0].std()


def test_an_order_without_an_alloy_tells_about_the_stage() -> None:
    """Repairs name no alloy: they count for the stage, split by the alloys' visits."""
    seen = sequence(*[("01", True)] * 9, ("0101", True))
    told = fit(Sequence(seen.order, seen.stage, np.where(seen.order < 5, -1, 0), seen.closed), 2)
    assert told.visits[1].sum() == pytest.approx(11)


@given(st.integers(20, 400), st.floats(0.02, 0.3), st.integers(0, 10_000))
def test_the_weight_is_large_where_groups_are_alike(n: int, chance: float, seed: int) -> None:
    """Groups drawn from one chance: the weight of the common chance is at least a few visits, and finite."""
    k = np.random.default_rng(seed).binomial(n, chance, (1, 6)).astype(float)
    assert 1.0 <= shrink_weight(np.full((1, 6), float(n)), k) <= 1000.0


def test_groups_apart_keep_their_own() -> None:
    """Chances of 0.05 and 0.5 in a thousand visits each: the common chance weighs less than ten visits."""
    assert shrink_weight(np.full((1, 2), 1000.0), np.array([[50.0, 500.0]])) < 10
