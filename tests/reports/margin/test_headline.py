"""The margin headline, branch by branch."""

import pandas as pd
import pytest

from shoplib.reports.margin.headline import Told, best_and_worst, headline, stake
from shoplib.reports.sentences import Writing

WRITING = Writing()


def styles(*rows):
    frame = pd.DataFrame(rows, columns=["group", "n", "contribution_per_limiting_hour", "low", "high"])
    return frame.assign(rank=frame["contribution_per_limiting_hour"].where(frame["n"] >= 5).rank(ascending=False))


APART = styles(("rope", 30, 90.0, 85.0, 95.0), ("curb", 40, 60.0, 55.0, 65.0))
CLOSE = styles(("rope", 30, 90.0, 60.0, 120.0), ("curb", 40, 80.0, 55.0, 105.0))


def told(**change):
    facts = {
        "orders": 70,
        "months": 12,
        "making_margin": 50_000.0,
        "making_charge": 100_000.0,
        "bench": "solder",
        "load": 0.95,
        "styles": APART,
    }
    return Told(**{**facts, **change})


def plain(text):
    return text.replace("\u00a0", " ")


def test_without_labour_the_sentence_says_so():
    """What was earned before labour is no share of the making charge that anyone kept."""
    assert "before labour, which nobody wrote down;" in plain(headline(told(paid=False), WRITING))


def test_best_and_worst_are_named_where_their_ranges_do_not_touch():
    """Full bench, ranges apart: money, share, period, best and worst by the hour."""
    assert plain(headline(told(), WRITING)) == (
        "In 12 months the benches earned EUR 50,000 before overheads and unbooked pay (50% of making charges); "
        "rope brings EUR 90 an hour at solder, curb EUR 60."
    )


def test_no_ranking_where_ranges_touch():
    """Ranges that overlap name no best style."""
    assert "no style clearly brings more than another an hour at solder" in headline(told(styles=CLOSE), WRITING)


def test_no_ranking_while_the_bench_has_time():
    """Under nine tenths of its hours an hour there is not scarce."""
    assert "no bench is full" in headline(told(load=0.8), WRITING)


def test_unknown_load_is_not_taken_for_full():
    """Without hours available there is no ranking by the hour."""
    assert "no bench is full" in headline(told(load=float("nan")), WRITING)


def test_no_bench_known():
    """Without stages the sentence still says what was earned."""
    assert "no bench can be ranked by" in headline(told(bench=""), WRITING)


def test_a_loss_is_called_a_loss():
    """A negative margin is written as lost, without a minus."""
    assert "the benches lost EUR 3,000" in plain(headline(told(making_margin=-3_000.0), WRITING))


def test_nothing_delivered():
    """No delivery: no margin, no number made up."""
    assert plain(headline(told(orders=0), WRITING)) == "No order was delivered in 12 months: there is no margin to show yet."


def test_small_groups_are_never_best():
    """A style of four orders is not named, whatever an hour brings."""
    rows = styles(("heart", 4, 500.0, 400.0, 600.0), ("rope", 30, 90.0, 85.0, 95.0), ("curb", 40, 60.0, 55.0, 65.0))
    assert [end["group"] for end in best_and_worst(rows)] == ["rope", "curb"]


@pytest.mark.parametrize(
    "change", [{}, {"styles": CLOSE}, {"load": 0.5}, {"bench": ""}, {"making_margin": -9.0}, {"orders": 0}, {"months": 1}]
)
def test_headline_is_short(change):
    """At most 30 words, one sentence, whatever the branch."""
    text = plain(headline(told(**change), WRITING))
    assert len(text.split()) <= 30 and ". " not in text


def test_stake_tells_the_result_and_the_worth_of_an_hour():
    """The worth of moving an hour is the difference of the two ends: 90 − 60."""
    assert plain(stake(told(), 12_000.0, WRITING)) == (
        "After overheads, unbooked pay and metal result EUR 12,000 was left. An hour at solder moved from curb to rope is worth EUR 30."
    )
