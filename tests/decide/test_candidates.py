"""What the owner asked for that cannot be, and when somebody new can begin."""

from datetime import date
from types import SimpleNamespace

import numpy as np
import pytest
from pydantic import ValidationError

from shoplib.decide.candidates import skills_asked, start_of
from shoplib.errors import SettingsError
from shoplib.reports.hiring import Parameters
from shoplib.settings import Hire

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
