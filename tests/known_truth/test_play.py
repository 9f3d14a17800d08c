"""The shops with known truth are what they claim to be."""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from . import parameters as p
from .capacity import bench_hours_a_week, hours_per_order, orders_a_week
from .play import play
from .tables import write
from .things import Played

MONTHS = 36
PHANTOM = (0.8, 0.8, 0.8, 0.8, 0.8, 0.0, 0.0)


@pytest.fixture(scope="module")
def other() -> Played:
    """Return the shop where polishing limits though soldering books most hours."""
    return play(p.shop(1), MONTHS)


def helped(played: Played, skill: str) -> int:
    """Return orders delivered more when a phantom with one skill works four hours a week, all luck shared."""
    phantom = p.Person("phantom", (skill,), PHANTOM, bench_share=1.0, absence_chance=0.0, holiday_weeks=0, luck=99)
    more = play(played.truth, MONTHS, extra=(phantom,))
    return sum(o.delivered < more.n_days for o in more.orders) - sum(o.delivered < played.n_days for o in played.orders)


def test_the_same_shop_plays_the_same(other: Played) -> None:
    """Twice the same shop: the same deliveries and entries."""
    again = play(p.shop(1), MONTHS)
    assert [o.delivered for o in again.orders] == [o.delivered for o in other.orders] and len(again.entries) == len(other.entries)


def test_a_longer_play_begins_like_a_shorter_one(other: Played) -> None:
    """Six months less: the same orders and deliveries up to there."""
    short = play(p.shop(1), MONTHS - 6)
    ours, theirs = ({o.number: o.delivered for o in played.orders if o.delivered < short.n_days} for played in (other, short))
    assert ours == theirs


def test_another_luck_shares_the_past_and_not_the_future() -> None:
    """Luck 1 from day 400 on: deliveries before are the same, those after are not."""
    one, two = (play(p.shop(1), 24, luck=luck, luck_from=400) for luck in (0, 1))
    split = p.WARM_UP_DAYS + 400
    before, after = (
        [sorted((o.number, o.delivered) for o in played.orders if test(o.delivered)) for played in (one, two)]
        for test in (lambda day: day < split, lambda day: split < day < one.n_days)
    )
    assert before[0] == before[1] and after[0] != after[1]


def test_the_limiting_bench_is_not_the_busiest(other: Played) -> None:
    """Soldering books most hours; four hours more a week gain at polishing and next to nothing at soldering."""
    hours: dict[str, float] = defaultdict(float)
    for entry in other.entries:
        hours[other.truth.benches[entry.stage].skill] += entry.hours
    assert max(hours, key=lambda skill: hours[skill]) == "solder"
    assert helped(other, "polish") > 60 > 5 * abs(helped(other, "solder"))


def test_thin_demand_limits_itself() -> None:
    """Demand of 0.55 of what the benches can do: more hours at soldering gain next to nothing."""
    thin = play(p.shop(4), MONTHS)
    assert abs(helped(thin, "solder")) < 10


def test_one_person_is_busy_a_third_of_the_time() -> None:
    """K0 of shop 2 books between a quarter and two fifths of the paid hours."""
    rarely = play(p.shop(2), MONTHS)
    index = [person.code for person in rarely.people].index("K0")
    booked = sum(entry.hours for entry in rarely.entries if entry.person == index)
    assert 0.25 < booked / rarely.days[index].owed_h.sum() < 0.4


def test_a_hidden_season_wins_quotes() -> None:
    """Shop 3: quotes are won more often in the half-year in which the hidden wave is up."""
    hidden = play(p.shop(3), 60)
    wave = np.sin(2 * np.pi * (np.array([q.day for q in hidden.quotes]) - 60) / 365.25)
    won = np.array([q.won for q in hidden.quotes])
    assert won[wave > 0.3].mean() > won[wave < -0.3].mean() + 0.02


def test_nothing_is_lost(other: Played) -> None:
    """Booked bench hours of finished orders are those of their paths, to a millionth; nobody works on two orders at once."""
    hours: dict[int, float] = defaultdict(float)
    for entry in other.entries:
        hours[entry.order] += entry.hours
    for order in other.orders:
        if order.finished < np.inf:
            assert hours[order.number] == pytest.approx(sum(step.hours for step in order.path), abs=1e-6)
    for index in range(len(other.people)):
        spans = sorted((e.start, e.finish) for e in other.entries if e.person == index)
        assert all(a[1] <= b[0] + 1e-9 for a, b in zip(spans, spans[1:], strict=False))


def test_capacity_by_hand() -> None:
    """One person, one skill, 5 h an order: 38 h × share × weeks open ÷ 5."""
    person = p.Person("A", ("solder",), bench_share=0.8, absence_chance=0.0, holiday_weeks=2)
    alloy, style = p.Alloy("x", 1.0, 750.0), p.Style("y", 1.0)
    truth = p.Truth("t", "t", 1, (p.Bench("solder", "solder", 5.0, weight_power=0.0),), (person,), (style,), (alloy,), (), 1.0)
    weeks = (52.18 - 2) / 52.18
    assert bench_hours_a_week(person) == pytest.approx(38 * 0.8 * weeks)
    assert hours_per_order(truth) == {"solder": pytest.approx(5.0)}
    assert orders_a_week(truth)[0] == pytest.approx(38 * 0.8 * weeks / 5)


def test_the_records_hold_nothing_after_their_last_day(other: Played, tmp_path: Path) -> None:
    """Written up to a past day: no later date in any table."""
    until = p.WARM_UP_DAYS + 400
    write(other, tmp_path, until)
    end = pd.Timestamp("2024-01-01") + pd.Timedelta(days=400)
    for name, column in (
        ("orders", "ordered_on"),
        ("orders", "delivered_on"),
        ("labour", "start"),
        ("quotes", "quoted_on"),
        ("metal_prices", "date"),
    ):
        assert pd.to_datetime(pd.read_csv(tmp_path / f"{name}.csv")[column]).max() < end + pd.Timedelta(days=1)
