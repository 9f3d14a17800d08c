"""The accuracy paragraph of the hiring report on the shop with thin demand."""

from __future__ import annotations

from pathlib import Path

import pytest

from . import hiring
from .case import Case

THIN = 4


def test_thin_demand_advises_no_hire(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Shop 4 could make almost twice what it is asked for: no bench is right, and nobody is to be hired."""
    monkeypatch.setattr(hiring, "LUCKS", (1,))  # the truth of the gain, which more lucks sharpen, is not asked for here
    rows = {row.what: row for row in hiring.measure(Case(THIN, 0, tmp_path))}
    assert rows["bench"].truth == rows["bench"].told and rows["advice"].told not in hiring.ADVISED
