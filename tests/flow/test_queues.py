"""Queues over time. Values worked by hand; no source."""

from datetime import date

import numpy as np
import pandas as pd
import pytest

from shoplib.flow.queues import (
    hours_of_visits,
    longest_queue_share,
    mean_hours,
    queues,
    usual_next,
    waiting_stretches,
    weekly_queue_hours,
)
from shoplib.flow.visits import history

from .shops import AS_OF, TOML, entry, order, shop_of

TWO = [
    entry("1", "roll", "A", "2026-03-03 08:00 10:00"), entry("1", "solder", "A", "2026-03-03 14:00 16:00"),
    entry("2", "roll", "A", "2026-03-03 10:00 12:00"), entry("2", "solder", "A", "2026-03-04 08:00 12:00"),
]  # fmt: skip
"""Rolled until 10 and 12, soldered from 14 and from 8 the next day: the queue at soldering is 1, 2, 1, 0."""
BOTH = [order("1"), order("2")]


def past(labour, orders=BOTH, as_of=AS_OF, toml=TOML, **tables):
    """Return the history of a small shop."""
    return history(shop_of(toml, orders=orders, labour=labour, **tables), as_of)


def at_stage(found, stage):
    """Return rows of one stage."""
    return found[found["stage_no"] == stage].reset_index(drop=True)


def test_the_queue_counts_those_who_wait():
    """One from 10, two from 12, one from 14, none from 8 the next day."""
    found = at_stage(queues(past(TWO)), 1)
    assert found["waiting"].tolist() == [1, 2, 1, 0]


def test_the_queue_knows_the_work_that_waits():
    """2 h, 6 h, 4 h, nothing."""
    assert at_stage(queues(past(TWO)), 1)["work_h"].tolist() == [2.0, 6.0, 4.0, 0.0]


def test_an_order_on_hold_is_in_no_queue():
    """A hold from Wednesday to Thursday takes the order out for two days."""
    hold = {"order_id": "1", "from": "2026-03-04", "to": "2026-03-05"}
    rows = [entry("1", "roll", "A", "2026-03-03 08:00 10:00"), entry("1", "solder", "A", "2026-03-06 08:00 10:00")]
    found = at_stage(queues(past(rows, [order("1")], holds=[hold])), 1)
    assert found["waiting"].tolist() == [1, 0, 1, 0]


def test_open_orders_wait_where_orders_usually_go():
    """Order 2 was rolled; order 1 went on to soldering, so 2 waits there still."""
    found = waiting_stretches(past(TWO[:3], [order("1", delivered_on="2026-03-04"), order("2")]))
    assert found.loc[found["open"], "stage_no"].tolist() == [1]


def test_an_order_not_begun_waits_at_the_first_stage():
    """Order 2 has no entry yet."""
    found = waiting_stretches(past(TWO[:2]))
    assert found.loc[found["open"], ["order", "stage_no"]].to_numpy().tolist() == [[1, 0]]


def test_usual_next_counts_what_followed():
    """From rolling two went to soldering; from soldering one was delivered."""
    found = usual_next(past(TWO, [order("1", delivered_on="2026-03-05"), order("2")]))
    assert (found[0], found[1], found[-1]) == (1, -1, 0)


def test_hours_of_a_running_visit_are_at_least_the_usual():
    """Order 2 has run for 1 h where soldering takes 2 h."""
    rows = [*TWO[:2], entry("2", "solder", "A", "2026-03-27 08:00 09:00")]
    assert hours_of_visits(past(rows)).tolist() == [2.0, 2.0, 2.0]


def test_standard_hours_stand_in_where_none_are_booked():
    """Moves without hours: fixed_hours and 40 g × hours_per_g of the settings, else one hour."""
    toml = TOML.replace('name = "roll"', 'name = "roll"\nfixed_hours = 0.5\nhours_per_g = 0.01')
    assert mean_hours(past([entry("1", "roll", "A", "2026-03-03")], [order("1")], toml=toml))[:2].tolist() == pytest.approx([0.9, 1.0])


def test_weekly_queue_is_the_mean_over_working_time():
    """2 h from 10 to 12, 6 h to 14, 4 h to 16: (4 + 12 + 8) ÷ 40 h of the week at soldering."""
    found = weekly_queue_hours(past(TWO), date(2026, 3, 2), date(2026, 3, 8))
    assert found["solder"].tolist() == pytest.approx([24.0 / 40.0])


def test_weeks_without_work_are_left_out():
    """A closed week has no row."""
    toml = TOML.replace('day_end = "16:00"', 'day_end = "16:00"\nclosures = [["2026-03-09", "2026-03-13"]]')
    found = weekly_queue_hours(past(TWO, toml=toml), date(2026, 3, 2), date(2026, 3, 20))
    assert found["week"].dt.day.tolist() == [2, 16]


def test_stages_that_share_a_skill_are_one_queue():
    """Rolling and soldering under one skill make one column."""
    toml = TOML.replace('name = "roll"', 'name = "roll"\nskill = "bench"').replace('name = "solder"', 'name = "solder"\nskill = "bench"')
    assert list(weekly_queue_hours(past(TWO, toml=toml), date(2026, 3, 2), date(2026, 3, 8)).columns) == ["week", "bench", "tighten", "polish"]


def weeks(**hours):
    """Return a weekly table of the hours given."""
    return pd.DataFrame({"week": range(len(next(iter(hours.values())))), **hours})


def test_longest_queue_share_counts_weeks():
    """Longest in three weeks of four."""
    found = longest_queue_share(weeks(solder=[5.0, 4.0, 1.0, 9.0], polish=[1.0, 2.0, 3.0, 0.0])).set_index("skill")
    assert found["share"].to_dict() == {"solder": 0.75, "polish": 0.25}


def test_an_empty_week_belongs_to_no_skill():
    """Nothing waited in one of two weeks."""
    assert longest_queue_share(weeks(solder=[5.0, 0.0], polish=[1.0, 0.0]))["share"].sum() == 0.5


def test_no_weeks_no_share():
    """Without a week there is no share to tell."""
    assert longest_queue_share(weeks(solder=[], polish=[]))["share"].isna().all()


def test_the_range_holds_the_share():
    """In 60 weeks at random the 80 % range lies around the share."""
    luck = np.random.default_rng(1)
    found = longest_queue_share(weeks(solder=luck.random(60), polish=luck.random(60)))
    assert (found["low"] <= found["share"]).all() and (found["share"] <= found["high"]).all() and (found["high"] > found["low"]).all()


def test_the_same_seed_gives_the_same_range():
    """The bootstrap is keyed."""
    luck = np.random.default_rng(1)
    table = weeks(solder=luck.random(30), polish=luck.random(30))
    pd.testing.assert_frame_equal(longest_queue_share(table, 5), longest_queue_share(table, 5))


@pytest.mark.parametrize("seed", range(6))
def test_queues_never_fall_below_zero(seed):
    """Whoever leaves a queue has joined it; in the end only open orders wait."""
    from .test_visits import random_shop

    found = queues(history(random_shop(seed), AS_OF))
    assert (found["waiting"] >= 0).all() and (found["work_h"] >= 0).all()


@pytest.mark.parametrize("seed", range(6))
def test_the_week_is_the_integral_of_the_events(seed):
    """Weekly means agree with a walk over the queue event by event."""
    from .test_visits import random_shop

    seen = history(random_shop(seed), AS_OF)
    first, last = date(2026, 3, 9), date(2026, 3, 15)
    found = weekly_queue_hours(seen, first, last)
    begin, end = (seen.clock.hours_at(np.array([day], "datetime64[s]"))[0] for day in ("2026-03-09", "2026-03-16"))
    events = queues(seen)
    for skill, column in enumerate(("roll", "solder", "tighten", "polish")):
        rows = at_stage(events, skill)
        edges = np.clip(np.append(seen.clock.hours_at(rows["at"].to_numpy("datetime64[s]")), end), begin, end)
        assert (rows["work_h"] * np.diff(edges)).sum() / (end - begin) == pytest.approx(found[column][0], abs=1e-9)
