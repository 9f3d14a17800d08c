"""The sequence of the work on a job card. Values worked by hand; no source."""

import numpy as np
import pandas as pd
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from shoplib.costing.sequence import work_sequence

ROLL, SOLDER, TIGHTEN, FILE, POLISH = range(5)


def sequence(*cards):
    """Return the stages in sequence, rework with a star, of entries (day, stage, minute or None, rework)."""
    frame = pd.DataFrame(cards, columns=["day", "stage", "minute", "rework"]).astype({"day": "int64", "stage": "int64", "rework": bool})
    day = np.datetime64("2026-03-01", "D") + frame["day"].to_numpy().astype("timedelta64[D]")
    minutes = frame["minute"].astype(float)
    start = day.astype("datetime64[s]") + minutes.fillna(0).to_numpy().astype("timedelta64[m]")
    start = np.where(minutes.isna(), np.datetime64("NaT"), start)
    frame = frame.assign(day=day.astype("datetime64[s]"), start=start, order=0, row=range(len(frame)))
    done = frame.iloc[work_sequence(frame)]
    names = np.array(["roll", "solder", "tighten", "file", "polish"])[done["stage"].to_numpy()]
    return " ".join(name + "*" * again for name, again in zip(names, done["rework"], strict=True))


def test_the_clock_decides_where_there_is_one():
    """Tightened at nine, rolled at ten."""
    assert sequence((1, ROLL, 600, False), (1, TIGHTEN, 540, False)) == "tighten roll"


def test_dates_only_go_in_route_order():
    """Three stages of a day, written backwards."""
    assert sequence((1, TIGHTEN, None, False), (1, SOLDER, None, False), (1, ROLL, None, False)) == "roll solder tighten"


def test_rework_comes_after_the_first_work():
    """Soldering again follows the tightening of the same day."""
    assert sequence((1, SOLDER, None, True), (1, SOLDER, None, False), (1, TIGHTEN, None, False)) == "solder tighten solder*"


def test_stages_after_the_finder_follow_the_rework():
    """What passes tightening again goes on to filing and polishing."""
    cards = [(1, stage, None, False) for stage in (TIGHTEN, FILE, POLISH)] + [(1, stage, None, True) for stage in (SOLDER, TIGHTEN)]
    assert sequence(*cards) == "tighten solder* tighten* file polish"


def test_a_round_of_two_days_is_read_as_one():
    """Soldered again today and tightened again tomorrow: tightening found the fault, filing came later."""
    cards = [(1, TIGHTEN, None, False), (1, SOLDER, None, True), (2, FILE, None, False), (2, TIGHTEN, None, True)]
    assert sequence(*cards) == "tighten solder* tighten* file"


def test_an_entry_without_clock_stands_behind_earlier_stages_by_the_clock():
    """Polishing without a clock follows filing at eleven, not the rolling at twelve of another round."""
    assert sequence((1, POLISH, None, False), (1, FILE, 660, False), (1, TIGHTEN, 540, False)) == "tighten file polish"


def test_rework_without_clock_goes_before_later_stages_by_the_clock():
    """The second soldering of a day stands before the tightening again at noon and the filing after it."""
    cards = [(1, FILE, 860, False), (1, TIGHTEN, 767, True), (1, SOLDER, None, True)]
    assert sequence(*cards) == "solder* tighten* file"


def test_days_go_before_all():
    """Yesterday's polishing comes before today's rolling."""
    assert sequence((2, ROLL, None, False), (1, POLISH, None, False)) == "polish roll"


def test_no_entries():
    """An empty card has an empty sequence."""
    assert sequence() == ""


CARD = st.tuples(st.integers(1, 4), st.integers(0, 4), st.one_of(st.none(), st.integers(480, 960)), st.booleans())


@settings(deadline=None)
@given(st.lists(CARD, max_size=12))
def test_every_entry_keeps_one_place(cards):
    """A sequence is the same entries, each once."""
    assert len(sequence(*cards).split()) == len(cards)


@settings(deadline=None)
@given(st.lists(CARD, max_size=12, unique_by=lambda card: (card[0], card[1], card[3])), st.randoms(use_true_random=False))
def test_the_row_of_the_sheet_does_not_matter(cards, luck):
    """Entries that differ in day, stage or rework stand alike however the rows are shuffled."""
    minutes = [(card[0], card[2]) for card in cards if card[2] is not None]
    assume(len(set(minutes)) == len(minutes))
    shuffled = luck.sample(cards, len(cards))
    assert sequence(*shuffled) == sequence(*cards)
