"""Dispatch: which rule picks follow, and how strictly."""

from __future__ import annotations

import numpy as np
import pytest

from shoplib.workshop.dispatch import Dispatch, Waits, fit_dispatch, ranks
from shoplib.workshop.model import RULES

EVERYBODY = np.zeros((1, 1))


def waits(joined: list[float], begun: list[float], promise: list[float], order: list[int] | None = None, rush: list[bool] | None = None) -> Waits:
    """Return waits of one stage and person, sorted by begin."""
    n, sort = len(joined), np.argsort(begun, kind="stable")
    rank = np.arange(n) if order is None else np.array(order)
    key = np.vstack([promise, rank.astype(float), joined])
    person = np.where(np.isfinite(begun), 0, -1)
    flags = np.zeros(n, bool) if rush is None else np.array(rush)
    zero = np.zeros(n, np.int64)
    return Waits(zero, person[sort], np.array(joined)[sort], np.array(begun)[sort], key[:, sort], flags[sort], rank[sort], np.ones(n, bool))


def play(rule: int, strength: float, n: int = 600, seed: int = 0) -> Waits:
    """Return waits of a bench that always has six orders waiting and picks by a rule of RULES with `strength`."""
    rng = np.random.default_rng(seed)
    promise, joined = rng.uniform(0, 50, n) + np.arange(n), np.sort(rng.uniform(-6, n - 6, n))
    order = np.argsort(np.argsort(joined + rng.normal(0, 20, n)))
    key = np.vstack([promise, order, joined])
    begun, here = np.full(n, np.inf), []
    waiting = list(np.argsort(joined)[::-1])
    for now in range(n):
        while waiting and (len(here) < 6 or joined[waiting[-1]] <= now):
            here.append(waiting.pop())
        here = [i for i in here if np.isinf(begun[i])]
        ready = [i for i in here if joined[i] <= now]
        if ready:
            first = min(ready, key=lambda i: key[rule, i])
            begun[first if rng.random() < strength else rng.choice(ready)] = now
    return waits(joined.tolist(), begun.tolist(), promise.tolist(), order.tolist())


def fit(seen: Waits, wanted: str = "auto") -> Dispatch:
    return fit_dispatch(seen, EVERYBODY, False, wanted, np.random.default_rng(0), 100)


def test_rank_counts_who_waited_and_stood_before() -> None:
    """At 5.0 the order promised for day 30 is taken while one for day 10 waits and one for day 20 has not joined: one ahead of one."""
    seen = waits([0, 0, 7], [5, 9, 10], [30, 10, 20])
    ahead, n, _ = ranks(seen, EVERYBODY, False)
    assert n.tolist() == [1, 1] and ahead[RULES.index("promise")].tolist() == [1, 0]


def test_dates_only_compare_orders_that_waited_the_day_before_and_after() -> None:
    """Begun on the same day, or joined on it: which came first is not known, so neither counts."""
    seen = waits([0, 0, 5, 0], [5, 5, 9, 6], [30, 10, 20, 15])
    _, n, _ = ranks(seen, EVERYBODY, True)
    assert n.tolist() == [1, 1, 1], "at 5 twice with the one begun on day 6, at 6 with the one that joined on day 5"


def test_rush_goes_first_under_every_rule() -> None:
    """A rush order with a late promise stands before all others."""
    ahead, _, _ = ranks(waits([0, 0], [5, 9], [30, 10], rush=[True, False]), EVERYBODY, False)
    assert ahead[:, 0].tolist() == [0, 0, 0]


def test_a_skill_not_yet_learnt_offers_no_choice() -> None:
    """The person serves the stage from day 8 on: the pick of day 5 compares with nothing."""
    _, n, _ = ranks(waits([0, 0, 0], [5, 9, 12], [1, 2, 3]), np.full((1, 1), 8.0), False)
    assert n.tolist() == [1]


@pytest.mark.parametrize("rule", range(3))
@pytest.mark.parametrize("strength", [0.7, 0.95])
def test_rule_and_strength_are_found(rule: int, strength: float) -> None:
    """600 picks by a known rule: it is named, its strength within 0.08."""
    told = fit(play(rule, strength))
    assert told.rule == RULES[rule]
    assert told.strength[0] == pytest.approx(strength, abs=0.08)


def test_few_picks_fall_back_and_say_so() -> None:
    """Under 200 choices: earliest promise where promises exist, order date where not, with a finding."""
    few = play(2, 0.9, n=60)
    assert (fit(few).rule, fit(few).findings[0].code) == ("promise", "dispatch_assumed")
    bare = Waits(few.stage, few.person, few.joined, few.begun, np.vstack([np.full(60, np.inf), few.key[1:]]), few.rush, few.order, few.sure)
    assert fit(bare).rule == "order_date"


def test_the_owner_may_set_the_rule() -> None:
    """policy.work_order = queue stands whatever the past says."""
    assert fit(play(0, 0.9), "queue").rule == "queue"


def test_no_pick_at_all_is_modelled() -> None:
    """An empty past: a rule and a strength with a wide range."""
    told = fit(waits([], [], []))
    assert told.picks == 0 and 0 < told.strength[0] < 1
