"""Crashes the fuzz has found, each mended."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.intake.shops import adds_up, labour, shop


@pytest.mark.parametrize("entry", ["A1,{long},EV,2026-01-07,2", "A1,melt,{long},2026-01-07,2"])
def test_a_long_stage_or_worker_in_the_tables_is_taken_up(tmp_path: Path, entry: str) -> None:
    """A cell may hold 200 signs; shop.toml took 60, and the shop could not be opened."""
    assert adds_up(shop(tmp_path, labour=labour(entry.format(long="x" * 150))))
