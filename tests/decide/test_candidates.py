"""What the owner asked for that cannot be, and when somebody new can begin."""

from datetime import date
from types import SimpleNamespace

import numpy as np
import pytest
from pydantic import ValidationError

from shoplib.decide.candidates import Shopfloor, another_person, hourly_cost, mark_ups, overtime, part_time, skills_asked, start_of
from shoplib.errors import SettingsError
from shoplib.reports.hiring import Parameters
from shoplib.settings import Hire, Settings, ShopName, Worker
from tests.workshop.small import small_workshop

SETTINGS = SimpleNamespace(stages=(SimpleNamespace(name="solder", needs="solder"), SimpleNamespace(name="file", needs="bench")))
WORKSHOP = SimpleNamespace(skills=np.array(["solder", "bench"]))


def test_a_stage_that_does_not_exist_is_named_with_the_nearest():
    """A misspelt stage stops the report and says which one may be meant."""
    with pytest.raises(SettingsError, match="solder"):
        skills_asked(Hire(stages=("soldre",)), SETTINGS, WORKSHOP)


def test_stages_lead_to_their_skills():
    """Filing is done by whoever has the bench skill."""
    assert skills_asked(Hire(stages=("file", "solder")), SETTINGS, WORKSHOP) == ["bench", "solder"]


def test_a_start_in_the_past_is_moved_and_told():
    """Eight weeks of search from 1 June 2026 end on 27 July (worked by hand)."""
    day, notes = start_of(Hire(start_on=date(2020, 1, 1), search_weeks=8), date(2026, 6, 1))
    assert day == date(2026, 7, 27) and [one.code for one in notes] == ["start_moved"]


def test_a_start_that_leaves_time_is_kept():
    """A later day stands, without a finding."""
    assert start_of(Hire(start_on=date(2027, 1, 1)), date(2026, 6, 1)) == (date(2027, 1, 1), ())


def test_horizon_zero_is_refused():
    """A horizon has at least one month."""
    with pytest.raises(ValidationError, match="horizon_months"):
        Parameters(horizon_months=0)


def floor(hire: Hire | None = None, wage: float | None = 20.0, **changes) -> Shopfloor:
    """Return a shop of one person, P0, who has the one skill, paid `wage`."""
    settings = Settings(
        shop=ShopName(name="Invented", currency="EUR"),
        hire=hire or Hire(),
        workers=(Worker(code="P0", wage_per_hour=wage, on_costs_percent=50),),
    )
    return Shopfloor(settings, small_workshop(stages=1, people=1, **changes), {}, date(2026, 6, 30), date(2026, 9, 1))


def test_the_wage_of_the_settings_comes_first():
    """30 an hour and 20 % on-costs: 36, named; left out: P0's 20 and 50 %, 30, not named (worked by hand)."""
    assert hourly_cost(floor(Hire(wage_per_hour=30, on_costs_percent=20)), "skill 0") == (pytest.approx(36), True)
    assert hourly_cost(floor(), "skill 0") == (pytest.approx(30), False)


def test_pay_of_a_month_is_hours_times_wage():
    """40 paid hours a week at 36 for 365.25 ÷ 12 ÷ 7 = 4.348 weeks: 6,261 a month; 20 hours half of it (worked by hand)."""
    at = floor(Hire(wage_per_hour=30, on_costs_percent=20, part_time_hours_per_week=20))
    assert another_person(at, "skill 0").monthly == pytest.approx(6261.4, abs=0.1)
    assert part_time(at, "skill 0").monthly == pytest.approx(3130.7, abs=0.1)


@pytest.mark.parametrize("make", [another_person, part_time, overtime])
def test_without_any_wage_nobody_is_judged(make):
    """Work that costs nothing would always pay: refused with what to set."""
    assert "wage" in make(floor(wage=None), "skill 0").refused and not make(floor(), "skill 0").refused


def test_a_wage_of_nothing_is_a_wage():
    """The owner's own child works for nothing: [hire] wage_per_hour = 0 is taken at its word."""
    assert another_person(floor(Hire(wage_per_hour=0), wage=None), "skill 0").refused == ""


def quoted(spread: float) -> Shopfloor:
    """Return a shop of 200 quotes, half of each price metal, prices spread so far about the usual (ln)."""
    price = 1000 * np.exp(np.linspace(-spread, spread, 200))
    return floor(
        has_quotes=True, piece_price=price, piece_metal=np.full(200, 500.0), piece_style=np.zeros(200, np.int64),
        piece_alloy=np.zeros(200, np.int64), piece_weight_g=np.ones(200), piece_contribution=np.ones(200), piece_win_logit=np.zeros(200),
    )  # fmt: skip


@pytest.mark.parametrize(("spread", "refused"), [(0.2, [False] * 3), (0.045, [False, True, True]), (0.0, [True] * 3)])
def test_a_mark_up_beyond_the_past_is_refused(spread, refused):
    """Half the price is making: 5, 10, 15 % lift ln price by 0.025, 0.049, 0.072; nine in ten stood up to 0.8 × spread above their mean."""
    assert [bool(one.refused) for one in mark_ups(quoted(spread))] == refused


def test_without_quotes_no_mark_up_is_judged():
    """One row with the reason."""
    assert ["without quotes" in one.refused for one in mark_ups(floor())] == [True]
