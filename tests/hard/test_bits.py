"""Comparing runs. All of them: ``python -m tests.hard bits``, ``bits --python OTHER`` and ``lowest``."""

from __future__ import annotations

from pathlib import Path

from .bits import apart, differ
from .lowest import lowest_pins


def test_a_number_off_by_more_than_a_millionth_is_told() -> None:
    """And one nearer is not."""
    one = {"rows": [[1.0, "a", None], [1000.0, "b", True]]}
    assert list(apart("x", one, {"rows": [[1.0, "a", None], [1000.002, "b", True]]})) == ["x.rows.1.0: 1000.0 and 1000.002"]
    assert list(apart("x", one, {"rows": [[1.0, "a", None], [1000.0002, "b", True]]})) == []


def test_other_words_and_other_shapes_are_told() -> None:
    """Whatever the numbers."""
    assert [len(list(apart("x", [1, "a"], other))) for other in ([1, "b"], [1], {"a": 1}, [True, "a"])] == [1, 1, 1, 1]


def test_a_missing_and_a_changed_file_are_told(tmp_path: Path) -> None:
    """Each once."""
    (tmp_path / "a.json").write_bytes(b"1")
    assert len(differ(tmp_path, {"a.json": b"2", "b.json": b"2"})) == 2


def test_the_lowest_version_is_the_lower_bound() -> None:
    """An upper bound does not matter."""
    assert lowest_pins('[project]\ndependencies = ["pandas>=2.2,<4", "numpy>=1.26"]') == ["pandas==2.2", "numpy==1.26"]
