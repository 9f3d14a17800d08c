"""The hiring headline, branch by branch."""

import pytest

from shoplib.reports.hiring.headline import Plan, Told, branch, headline, stake
from shoplib.reports.sentences import Writing

W = Writing()


def plan(name="Another person to solder", kind="hire", value=31_000.0, low=-3_600.0, high=66_000.0, chance=0.8, gain=58.0):
    return Plan(name, kind, value, low, high, chance, gain, 270.0)


TEACH = plan("Teach SO to solder", "train", 40_000.0, 20_000.0, 60_000.0, 0.98)


def plain(text):
    return text.replace("\u00a0", " ")


CASES = {
    "do": Told(plan(), None, 24),
    "instead": Told(plan(), TEACH, 24),
    "do_not": Told(plan(value=-20_000.0, low=-32_000.0, high=-10_000.0, chance=0.02), None, 24),
    "no_difference": Told(plan(value=-60_000.0, low=-61_000.0, high=-59_000.0, chance=0.0, gain=0.5), None, 24),
    "too_close": Told(plan(value=1_000.0, low=-9_000.0, high=14_000.0, chance=0.5), None, 24),
    "none_limits": Told(None, None, 24, idle=True),
    "cannot_tell": Told(None, None, 24, reason="no stage has hours"),
}


@pytest.mark.parametrize("name", list(CASES))
def test_branch(name):
    """Each case leads to its own answer."""
    assert branch(CASES[name]) == name


@pytest.mark.parametrize("name", list(CASES))
def test_headline_is_short(name):
    """At most 30 words whatever the branch."""
    assert len(plain(headline(CASES[name], W)).split()) <= 30


def test_do():
    """Act, bench, horizon, odds in words and counts, money, condition."""
    assert plain(headline(CASES["do"], W)) == (
        "Hire another person to solder: over 2 years likely (about 8 in 10) to pay off and leave about EUR 31,000, if enquiries go on as forecast."
    )


def test_instead():
    """A plan without anybody new that is surely better is named first."""
    assert plain(headline(CASES["instead"], W)).startswith("Teach SO to solder, hire nobody: over 2 years very likely")


def test_without_quotes_the_gain_is_at_least():
    """Lost customers are unknown: the gain is "at least"."""
    assert "at least EUR 31,000" in plain(headline(Told(plan(), None, 24, quotes=False), W))


def test_patience_decides():
    """Where the answer to the wait is that uncertain the sentence says so."""
    assert plain(headline(Told(plan(), None, 24, patience=True), W)).endswith("customers' patience decides it.")


def test_too_close_names_both_ends():
    """Too close to call gives the range."""
    assert "EUR −9,000 to 14,000" in plain(headline(CASES["too_close"], W))


def test_demand_is_short():
    """Where hands are not short the sentence says orders are."""
    assert "orders, not hands, are short" in plain(headline(CASES["no_difference"], W))


def test_horizon_in_months():
    """A horizon that is no whole year is written in months."""
    assert "over 18 months" in plain(headline(Told(plan(), None, 18), W))


PART = plan("Part-time to polish, 20 h", "part_time", -26_000.0, -49_000.0, 1_000.0, 0.1, gain=19.0)
"""The best of the hires is half a person: the sentences must not speak of a whole one."""


def test_do_not_speaks_of_the_plan_judged():
    """Even the cheaper half would not pay."""
    assert plain(headline(Told(PART, None, 24), W)) == (
        "Do not hire: over 2 years even somebody part-time to polish would cost about EUR 26,000, and pays off in 1 in 10, "
        "if enquiries go on as forecast."
    )


def test_take_on_part_time():
    """Where half a person is the best hire, half a person is advised."""
    good = Plan(PART.name, PART.kind, 9_000.0, 2_000.0, 20_000.0, 0.9, 30.0, 270.0)
    assert plain(headline(Told(good, None, 24), W)).startswith("Take on somebody part-time to polish: over 2 years")


def test_too_close_and_short_orders_speak_of_part_time():
    """The same in the two other sentences."""
    close = Plan(PART.name, PART.kind, 1_000.0, -9_000.0, 14_000.0, 0.5, 30.0, 270.0)
    short = Plan(PART.name, PART.kind, -48_000.0, -61_000.0, -17_000.0, 0.0, 1.0, 380.0)
    for told in (close, short):
        assert "somebody part-time" in plain(headline(Told(told, None, 24), W))


def test_cannot_tell_says_why():
    """The reason stands in the sentence."""
    assert plain(headline(CASES["cannot_tell"], W)) == "The history cannot tell whether another person pays: no stage has hours."


def test_the_price_of_being_wrong_is_that_of_the_hire():
    """The hire is advised: its worst 1 in 10, then what else would do."""
    assert (
        plain(stake(Told(plan(), None, 24), None, W))
        == "In the worst 1 in 10 the hire ends EUR 3,600 down. Nothing else that was tried pays."
    )


def test_stake_tells_the_worst_and_the_next_best():
    """Price of being wrong, then what else would do."""
    price = plan("Raise making prices by 10%", "price", 12_000.0, 8_000.0, 16_000.0, 1.0)
    assert plain(stake(Told(plan(), TEACH, 24), price, W)) == (
        "Even in the worst 1 in 10 teaching ends EUR 20,000 up. Another person would leave about EUR 31,000; "
        "raising making prices by 10% would leave about EUR 12,000."
    )
