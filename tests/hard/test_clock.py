"""A clock that was set back or forward changes nothing. All reports: ``python -m tests.hard bits``."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.reports.runs import kernels_find_samples, small_shop

from .bits import YEAR, differ, shift_times
from .kills import SAMPLE, begin, contents


@pytest.mark.parametrize("shift", [YEAR, -YEAR], ids=["back", "forward"])
def test_earlier_files_of_another_time_give_the_same_bytes(tmp_path: Path, shared_cache: Path, shift: int) -> None:
    """Reports, the lock and what is kept carry a date a year off, as after the clock was set by a year."""
    shop, out, cache = small_shop(tmp_path / "shop"), tmp_path / "out", tmp_path / "cache"
    with kernels_find_samples(cache):
        first = begin(SAMPLE, shop, out)
        said = first.communicate()[1]
        assert first.returncode == 0, said
        whole = contents(out)
        shift_times((shop, out, cache), shift)
        run = begin(SAMPLE, shop, out)
        said = run.communicate()[1]
    assert whole and (run.returncode, differ(out, whole)) == (0, []), said
