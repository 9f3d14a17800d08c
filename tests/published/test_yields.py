"""Yields against published examples."""

import pytest

from shoplib.flow.yields import first_pass_yield, rolled_yield


def test_yields_of_three_steps():
    """1000 → 950 → 800 → 700 units: .95, .842, .875. Source: a statistics vendor's help page on throughput yield."""
    assert first_pass_yield([1000, 950, 800], [50, 150, 100]) == pytest.approx([0.95, 0.842, 0.875], abs=5e-4)


def test_rolled_yield_of_three_steps():
    """The same three steps: .70."""
    assert rolled_yield(first_pass_yield([1000, 950, 800], [50, 150, 100])) == pytest.approx(0.70)


def test_hidden_factory():
    """100 in, 10 scrapped and 5 done again: .85 right first time, where output ÷ input says .90. Source: isssp.org."""
    assert first_pass_yield(100, 10 + 5) == pytest.approx(0.85)


def test_rolled_yield_of_four_steps():
    """.98, .97, .99, .96 give .9035. Source: example page of a calculator for rolled throughput yield."""
    assert rolled_yield([0.98, 0.97, 0.99, 0.96]) == pytest.approx(0.9035, abs=5e-5)
