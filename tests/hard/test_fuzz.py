"""A little of the long fuzz at every run; all of it: ``python -m tests.hard fuzz --cells 1000000 --folders 2000``."""

from __future__ import annotations

from .fuzz import fuzz_cells, fuzz_folders


def test_random_cells_give_a_value_or_a_reason() -> None:
    """2,000 of them."""
    assert fuzz_cells(2_000, seed=1) == []


def test_spoilt_folders_are_read_or_refused_with_a_message() -> None:
    """Ten of them."""
    assert fuzz_folders(10, seed=1) == []
