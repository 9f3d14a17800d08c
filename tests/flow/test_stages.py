"""The benches over a period. Values worked by hand; no source."""

from datetime import date

import numpy as np
import pytest

from shoplib.flow.stages import skill_table, stage_table
from shoplib.flow.visits import history

from .shops import AS_OF, TOML, entry, order, shop_of

WEEK = (date(2026, 3, 2), date(2026, 3, 6))
"""Five working days of 8 h: 40 h a person."""
CARDS = [
    entry("1", "roll", "A", "2026-03-03", 4.0), entry("1", "solder", "A", "2026-03-04", 8.0), entry("1", "tighten", "B", "2026-03-05", 2.0),
    entry("1", "solder", "A", "2026-03-05", 1.0, rework=True), entry("1", "tighten", "B", "2026-03-06", 1.0),
    entry(None, None, "A", "2026-03-06", 3.0),
]  # fmt: skip


def past(labour=CARDS, toml=TOML, **tables):
    """Return the history of a small shop with one order."""
    return history(shop_of(toml, orders=[order("1")], labour=labour, **tables), AS_OF)


def stage(name, column, **shop):
    """Return one value of the stage table of the week."""
    return stage_table(past(**shop), *WEEK).set_index("stage").loc[name, column]


def test_hours_booked():
    """8 + 1 h of soldering."""
    assert stage("solder", "hours_booked") == 9.0


def test_hours_available_are_what_is_not_booked_elsewhere():
    """A's 40 h less 4 h of rolling and 3 h of cleaning."""
    assert stage("solder", "hours_available") == 33.0


def test_load():
    """9 of 33 h."""
    assert stage("solder", "load") == pytest.approx(9 / 33)


def test_stages_that_share_a_skill_show_the_same_load():
    """Rolling and soldering under one skill: 13 of 37 h, both rows."""
    toml = TOML.replace('name = "roll"', 'name = "roll"\nskill = "bench"').replace('name = "solder"', 'name = "solder"\nskill = "bench"')
    toml = toml.replace('skills = ["roll", "solder"]', 'skills = ["bench"]')
    assert stage_table(past(toml=toml), *WEEK)["load"].tolist()[:2] == pytest.approx([13 / 37, 13 / 37])


def test_a_shared_skill_counts_once():
    """Three skills for four stages."""
    toml = TOML.replace('name = "roll"', 'name = "roll"\nskill = "solder"')
    assert skill_table(past(toml=toml), *WEEK)["skill"].tolist() == ["solder", "tighten", "polish"]


def test_an_absence_takes_hours_away():
    """A is away on Monday."""
    away = [{"worker": "A", "from": "2026-03-02", "to": "2026-03-02"}]
    assert stage("solder", "hours_available", absences=away) == 25.0


def test_bench_share_scales_present_hours():
    """With 0.8 of 40 h at the bench, 32 less 7 h elsewhere."""
    found = skill_table(past(), *WEEK, bench_share={"A": 0.8}).set_index("skill")
    assert found.loc["solder", "hours_available"] == pytest.approx(25.0)


def test_help_from_one_without_the_skill_counts_as_booked_and_available():
    """B solders for 2 h: 11 h booked of 35."""
    rows = [*CARDS, entry("1", "solder", "B", "2026-03-06", 2.0)]
    found = skill_table(past(rows), *WEEK).set_index("skill")
    assert found.loc["solder", ["hours_booked", "hours_available"]].tolist() == [11.0, 35.0]


def test_a_skill_of_nobody_has_no_load():
    """Nothing available: unknown, not infinite."""
    toml = TOML.replace('skills = ["tighten", "polish"]', 'skills = ["tighten"]')
    assert np.isnan(stage("polish", "load", toml=toml))


def test_returns_are_found_at_the_stage_before():
    """Tightening found the fault of soldering."""
    assert stage_table(past(), *WEEK)["returns_found"].tolist() == [0, 0, 1, 0]


def test_rework_hours_include_stages_passed_again():
    """1 h of soldering and 1 h of tightening."""
    assert stage_table(past(), *WEEK)["rework_hours"].tolist() == [0.0, 1.0, 1.0, 0.0]


def test_mean_queue():
    """Tightening waited once from Wednesday 16:00 to Thursday's entry and once over the night."""
    visits = past().visits
    assert stage("tighten", "queue_hours_mean") == pytest.approx(visits.loc[visits["stage"] == "tighten", "queue_h"].mean())


def test_the_period_cuts_hours_by_day():
    """Only Thursday and Friday: the hour of rework."""
    found = stage_table(past(), date(2026, 3, 5), date(2026, 3, 6)).set_index("stage")
    assert found.loc["solder", "hours_booked"] == 1.0


def test_the_last_day_counts_whole():
    """An entry by the clock on the last day is inside."""
    found = stage_table(past([entry("1", "roll", "A", "2026-03-06 10:00 12:00")]), *WEEK).set_index("stage")
    assert (found.loc["roll", "hours_booked"], found.loc["roll", "visits"]) == (2.0, 1)


def test_stages_without_load_stay_in_the_table():
    """Polishing was never visited: its row stands, its queue is unknown."""
    assert stage("polish", "visits") == 0 and np.isnan(stage("polish", "queue_hours_mean"))


def test_a_shop_without_cards():
    """No labour: what was booked is unknown, not nought, and everything is available."""
    found = stage_table(past([]), *WEEK)
    assert found[["hours_booked", "load"]].isna().all(axis=None) and found["hours_available"].tolist() == [40.0] * 4


def test_cards_with_dates_only_tell_visits_and_no_load():
    """A move is no work: one visit, hours and load unknown."""
    found = stage_table(past([entry("1", "roll", "A", "2026-03-03")]), *WEEK).set_index("stage")
    assert found.loc["roll", "visits"] == 1 and np.isnan(found.loc["roll", "load"])
