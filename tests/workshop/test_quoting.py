"""Quoting rule: a line in the orders open, rounded as in the past, bounded where quotes pile up."""

from __future__ import annotations

import numpy as np
import pytest

from shoplib.workshop.quoting import fit_quoting, open_orders_on, quoted_weeks, rounding_step
from tests.flow.shops import AS_OF, order, shop_of


def quotes(n: int = 400, step: float = 1.0) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(2)
    load = rng.uniform(20, 80, n)
    weeks = 1.5 + 0.1 * load + rng.normal(0, 0.5, n)
    return (np.round(weeks / step) * step if step else weeks), load


def test_line_residual_and_rounding_are_found() -> None:
    """weeks = 1.5 + 0.1 × open ± 0.5, rounded to whole weeks: each number within three standard errors, the step exactly."""
    told = fit_quoting(*quotes(), np.random.default_rng(0), 200)
    for value, truth in ((told.a, 1.5), (told.b, 0.1), (told.sd, 0.5)):
        assert abs(value[0] - truth) < 3 * value[1:].std()
    assert told.step == 1.0


@pytest.mark.parametrize("step", [1.0, 0.5, 0.0])
def test_rounding_step(step: float) -> None:
    """Whole weeks, half weeks, and no rounding are told apart."""
    assert rounding_step(quotes(step=step)[0]) == step


def test_a_bound_is_where_quotes_pile_up() -> None:
    """ "Never under 5 nor over 8 weeks": a third of the quotes would lie beyond, so that both bind."""
    weeks, load = quotes()
    told = fit_quoting(np.clip(weeks, 5, 8), load, np.random.default_rng(0), 10)
    assert (told.low, told.high) == (5.0, 8.0)


def test_a_queue_that_was_never_shorter_is_no_bound() -> None:
    """Four to nine weeks so far, nothing piled up: with a shorter queue one step may be quoted, with a longer one two years."""
    weeks, load = quotes()
    told = fit_quoting(weeks, load, np.random.default_rng(0), 10)
    assert (told.low, told.high) == (1.0, 104.0)


def test_few_quotes_give_a_constant_and_a_finding() -> None:
    """Three quotes of 4, 5 and 6 weeks: five weeks whatever waits, said."""
    told = fit_quoting(np.array([4.0, 5.0, 6.0]), np.array([10.0, 20.0, 30.0]), np.random.default_rng(0), 10)
    assert (told.a[0], told.b[0], told.findings[0].code) == (5.0, 0.0, "quoting_assumed")


def test_one_load_for_all_quotes_is_no_error() -> None:
    """The queue never changed: the slope is unknown, the level is not."""
    told = fit_quoting(np.full(50, 4.0), np.full(50, 30.0), np.random.default_rng(0), 50)
    assert told.a[0] + 30 * told.b[0] == pytest.approx(4.0) and np.isfinite(told.b).all()


def test_open_orders_count_at_the_begin_of_the_day() -> None:
    """Ordered on the 2nd and delivered on the 10th: open from the begin of the 3rd to the begin of the 10th."""
    shop = shop_of(orders=[order("A", "2026-03-02", delivered_on="2026-03-10", finished_weight_g=40.0)])
    days = np.array(["2026-03-02", "2026-03-03", "2026-03-10", "2026-03-11"], dtype="datetime64[D]")
    assert open_orders_on(shop, days).tolist() == [0, 1, 1, 0]


def test_promises_stand_in_for_quotes() -> None:
    """Without lead_weeks, 21 days from order to first promise are three weeks."""
    weeks, _ = quoted_weeks(shop_of(orders=[order("A", "2026-03-02", first_promised_on="2026-03-23")]), AS_OF)
    assert weeks.tolist() == [3.0]
