"""The throughput headline, branch by branch."""

import pandas as pd
import pytest

from shoplib.reports.sentences import Writing
from shoplib.reports.throughput.headline import Bench, Told, headline, ranked, stake
from shoplib.workshop.limits import DEMAND

WRITING = Writing()
SOLDER = Bench("solder", 9.1, 8.9, 9.3, 0.8)
POLISH = Bench("polish", 4.0, 2.0, 6.0, 0.1)


def told(**change):
    facts = {"benches": (SOLDER, POLISH), "demand": 0.1, "reason": "", "orders_a_week": 19.7, "orders": 1000, "months": 12, "worth": 740.0}
    return Told(**{**facts, **change})


def chances(solder, polish):
    return (Bench("solder", 9.1, 8.9, 9.3, solder), Bench("polish", 4.0, 2.0, 6.0, polish))


def plain(text):
    return text.replace("\u00a0", " ")


def test_one_bench_limits():
    """Bench, odds, and what an hour a week more finishes a year."""
    assert plain(headline(told(), WRITING)) == (
        "It is likely (about 8 in 10) that solder limits output: while orders are waiting, one more hour a week there finishes 9.1 more a year."
    )


def test_demand_limits():
    """Demand is an answer, with its odds and the most an hour could finish."""
    assert plain(headline(told(benches=chances(0.05, 0.0), demand=0.95), WRITING)) == (
        "It is very likely (about 19 in 20) that demand, not a bench, limits output: one more hour a week finishes at most 9.1 orders more a year."
    )


def test_two_benches_too_close():
    """No bench reaches likely: both are named with their odds."""
    text = plain(headline(told(benches=chances(0.5, 0.4)), WRITING))
    assert text.startswith("Too close to call whether solder (5 in 10) or polish (4 in 10) limits output")


def test_demand_and_a_bench_too_close():
    """Demand and a bench compete on equal terms."""
    text = plain(headline(told(benches=chances(0.4, 0.0), demand=0.6), WRITING))
    assert text.startswith("Too close to call whether demand (6 in 10) or solder (4 in 10) limits output")


def test_not_simulated():
    """Without a simulation only what was counted is said."""
    text = plain(headline(told(benches=(), demand=float("nan"), reason="no stage is known"), WRITING))
    assert text == "What limits the workshop cannot be told from these tables; 19.7 orders a week were delivered in 12 months."


def test_nothing_delivered():
    """No delivery: nothing is named."""
    assert plain(headline(told(orders=0, months=1), WRITING)) == (
        "No order was delivered in the last month: what limits the workshop cannot be told yet."
    )


def test_few_orders_name_no_bench():
    """Nineteen orders are too few, whatever the simulation says."""
    assert plain(headline(told(orders=19), WRITING)) == (
        "Too little to tell what limits the workshop: 19 orders delivered in 12 months, 20 are needed."
    )


BRANCHES = [
    {}, {"benches": chances(0.05, 0.0), "demand": 0.95}, {"benches": chances(0.5, 0.4)}, {"benches": chances(0.4, 0.0), "demand": 0.6},
    {"benches": ()}, {"orders": 0}, {"orders": 3}, {"benches": (Bench("solder", 9.1, 8.9, 9.3, 0.99),)},
]  # fmt: skip


@pytest.mark.parametrize("change", BRANCHES)
def test_headline_is_one_short_sentence(change):
    """At most 30 words, one sentence, whatever the branch."""
    text = plain(headline(told(**change), WRITING))
    assert len(text.split()) <= 30 and ". " not in text and text.endswith(".")


@pytest.mark.parametrize("change", BRANCHES)
def test_there_is_always_a_stake(change):
    """Every branch says what follows."""
    assert stake(told(**change), WRITING).strip().endswith(".")


def test_stake_tells_money_and_next_bench():
    """9.1 orders × EUR 740 = EUR 6,734, written to two digits; the next best bench by what its hour finishes."""
    assert plain(stake(told(), WRITING)) == (
        "That hour is worth about EUR 6,700 a year, at EUR 740 an order before regular wages. "
        "The next bench is polish: 4.0 orders a year for the same hour."
    )


def test_ranked_reads_a_table_of_limits():
    """The likeliest bench first; the chance of demand apart."""
    table = pd.DataFrame(
        [["polish", 1.0, 0.5, 1.5, 0.25], ["solder", 9.0, 8.0, 10.0, 0.5], [DEMAND, None, None, None, 0.25]],
        columns=["skill", "orders_per_extra_hour", "low", "high", "limiting_probability"],
    )
    demand, benches = ranked(table)
    assert demand == 0.25 and [bench.skill for bench in benches] == ["solder", "polish"]
