"""All plans side by side, on runs made by hand instead of simulated."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from shoplib.decide import compare as side_by_side
from shoplib.decide.candidates import Candidate
from shoplib.decide.compare import best_of, compare, skills_compared
from shoplib.decide.evaluate import Judged, Terms
from shoplib.workshop.outcome import Outcome
from shoplib.workshop.scenario import Hours, Scenario

TERMS = Terms(36, 0.0, 0.0, 0.0, 0.0, {})
MONTHS = 36


def result(contribution: float, runs: int) -> Outcome:
    """Return `runs` replications of three years, `contribution` a month, replication r with r more."""
    grid, zero = np.ones((runs, MONTHS)), np.zeros((runs, MONTHS))
    money = grid * contribution + np.arange(runs)[:, None]
    return Outcome(
        np.arange("2026-01", "2029-01", dtype="datetime64[M]"), grid, grid, zero, money, zero, zero, zero, zero, zero,
        np.ones((runs, MONTHS, 1)), np.zeros((runs, 1)), np.array([365, 730, 1095]), np.zeros((runs, 3)), np.zeros((runs, 3)), 0,
    )  # fmt: skip


def run(scenario: Scenario, replications: int) -> Outcome:
    """Contribution 1,000 a month as things are; an hour more brings 10, 10 % of enquiries 20, a mark-up of 100 % brings 1,000."""
    hours = sum(one.hours_per_week for one in scenario.hours)
    return result(1000 + 10 * hours + 200 * (scenario.demand_factor - 1) * (1 if hours else 0) + 1000 * scenario.mark_up, replications)


def plan(name: str, hours: float = 0.0, kind: str = "train", **more) -> Candidate:
    return Candidate(name, kind, scenario=Scenario(hours=(Hours(0, hours),)), **more)


@pytest.fixture
def base(monkeypatch):
    """Doing nothing, without parameter draws to regress on."""
    monkeypatch.setattr(side_by_side, "_turns", lambda *_: pd.DataFrame(columns=["assumption", "low", "high"]))
    return SimpleNamespace(nothing=run(Scenario(), side_by_side.FINAL))


def compared(base, *plans):
    return compare(base, [*plans, Candidate("Doing nothing", "nothing")], pd.DataFrame(), TERMS, run)


def test_plans_stand_from_the_best_down(base):
    """2 hours bring 20 a month, 1 hour 10, a loss ends below doing nothing: 720, 360, 0, −360 over 36 months (worked by hand)."""
    found = compared(base, plan("one", 1), plan("two", 2), plan("none", 0, monthly=10.0))
    assert [(one.candidate.name, one.value.mean()) for one in found.judged] == [
        ("two", pytest.approx(720)), ("one", pytest.approx(360)), ("Doing nothing", 0), ("none", pytest.approx(-360)),
    ]  # fmt: skip


def test_the_best_two_are_run_to_the_end(base):
    """128 replications for the best two, 32 for the third."""
    found = compared(base, plan("one", 1), plan("two", 2), plan("three", 3))
    assert {one.candidate.name: len(one.value) for one in found.judged if one.candidate.name != "Doing nothing"} == {
        "three": side_by_side.FINAL, "two": side_by_side.FINAL, "one": side_by_side.SCREEN,
    }  # fmt: skip


def test_one_mark_up_is_kept(base):
    """Of three shares the one that earns most."""
    marks = [Candidate(f"{share}", "price", scenario=Scenario(mark_up=share)) for share in (0.05, 0.15, 0.10)]
    assert [one.candidate.name for one in compared(base, *marks).judged] == ["0.15", "Doing nothing"]


def test_refused_plans_are_not_run(base):
    """A plan with a reason stands apart."""
    found = compared(base, plan("one", 1), plan("no", 9, refused="Refused: policy."))
    assert [one.name for one in found.refused] == ["no"] and "no" not in {one.candidate.name for one in found.judged}


def test_another_demand_moves_the_whole_range(base):
    """10 % more enquiries bring 20 a month more: 720 over three years on mean, low and high alike, though on fewer runs."""
    steps = compared(base, plan("one", 1)).steps.set_index(["horizon_months", "demand_factor"])[["npv", "npv_low", "npv_high"]]
    assert (steps.loc[36, 1.1] - steps.loc[36, 1.0]).tolist() == pytest.approx([720.0] * 3)


def test_break_even_lies_where_the_lines_meet_zero(base):
    """One hour brings 360 over three years, 10 % of enquiries 720: zero at 95 % of the forecast (worked by hand)."""
    assert compared(base, plan("one", 1)).breakeven == pytest.approx(0.95)


def test_a_plan_with_people_comes_before_a_mark_up():
    """The mark-up earns more; the answer speaks of hands."""
    first, second = (Judged(Candidate(kind, kind), *[np.zeros((1, 1))] * 3, 0.0, np.zeros(1), None) for kind in ("price", "hire"))
    assert best_of([first, second]) is second and best_of([first]) is first and best_of([]) is None


def test_benches_that_hardly_limit_are_left_out():
    """Solder limits 9 times in 10, polish never: polish is run only where it is asked for."""
    table = pd.DataFrame({"skill": ["polish", "solder"], "limiting_probability": [0.0, 0.9], "orders_per_extra_hour": [0.1, 2.0]})
    base = SimpleNamespace(limits=SimpleNamespace(table=lambda: table), workshop=SimpleNamespace(skills=np.array(["polish", "solder"])))
    chosen, left_out = skills_compared(base, [])
    assert chosen == ["solder"] and left_out["skill"].tolist() == ["polish"]
    assert skills_compared(base, ["polish"])[0] == ["polish", "solder"]
