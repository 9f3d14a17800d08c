"""The cache: computed once, keyed by all it depends on, never wrong for being spoilt."""

from __future__ import annotations

import logging
import os
import threading
from pathlib import Path

import pytest

from shoplib import cache
from shoplib.cache import cached


class Counter:
    """Counts how often it is asked."""

    def __init__(self, answer: object = "value") -> None:
        self.asked, self.answer = 0, answer

    def __call__(self) -> object:
        self.asked += 1
        return self.answer


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("SHOPLIB_CACHE", str(tmp_path / "kept"))
    return tmp_path / "kept"


def the_file(folder: Path) -> Path:
    return next(file for file in folder.iterdir() if file.suffix != ".lock")


def test_the_second_call_computes_nothing(folder: Path) -> None:
    """And gives the same."""
    compute = Counter({"a": [1.5]})
    assert (cached("fit", [1], compute), cached("fit", [1], compute), compute.asked) == ({"a": [1.5]}, {"a": [1.5]}, 1)


@pytest.mark.parametrize("key", [[2], ["1"], [1, None], [[1]], [1.5]])
def test_another_key_is_another_object(folder: Path, key: list[object]) -> None:
    """Numbers are not texts."""
    compute = Counter()
    cached("fit", [1], compute)
    cached("fit", key, compute)
    assert compute.asked == 2


def test_another_kind_is_another_object(folder: Path) -> None:
    """fit and state of the same shop."""
    compute = Counter()
    cached("fit", [1], compute)
    cached("state", [1], compute)
    assert compute.asked == 2


def test_changed_source_computes_anew(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An edited formula never meets its old answer."""
    compute = Counter()
    cached("fit", [1], compute)
    monkeypatch.setattr(cache, "source_hash", lambda: "edited")
    cached("fit", [1], compute)
    assert compute.asked == 2


@pytest.mark.parametrize("spoil", [b"", b"x", b"y" * 500])
def test_a_spoilt_file_is_computed_anew(folder: Path, spoil: bytes) -> None:
    """Cut short or overwritten."""
    compute = Counter()
    cached("fit", [1], compute)
    the_file(folder).write_bytes(spoil)
    assert (cached("fit", [1], compute), compute.asked) == ("value", 2)


def test_one_flipped_bit_is_noticed(folder: Path) -> None:
    """Each file carries its own sha256."""
    compute = Counter()
    cached("fit", [1], compute)
    content = bytearray(the_file(folder).read_bytes())
    content[-3] ^= 1
    the_file(folder).write_bytes(bytes(content))
    cached("fit", [1], compute)
    assert compute.asked == 2


def test_two_at_once_compute_once(folder: Path) -> None:
    """The second waits for the first."""
    compute = Counter()
    calls = [threading.Thread(target=cached, args=("fit", [1], compute)) for _ in range(4)]
    for call in calls:
        call.start()
    for call in calls:
        call.join()
    assert compute.asked == 1


def test_an_error_is_raised_and_not_kept(folder: Path) -> None:
    """The next call tries again."""

    def fail() -> object:
        raise ValueError("once")

    with pytest.raises(ValueError, match="once"):
        cached("fit", [1], fail)
    assert cached("fit", [1], Counter()) == "value"


def test_a_folder_that_cannot_be_used_costs_time_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """The object is computed, and it is said."""
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("SHOPLIB_CACHE", str(tmp_path / "file"))
    with caplog.at_level(logging.WARNING):
        assert cached("fit", [1], Counter()) == "value"
    assert "cache folder cannot be used" in caplog.text


def test_a_folder_whose_old_files_cannot_be_removed_costs_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Somebody else's, or on a disk that can only be read: the answer comes all the same."""
    monkeypatch.setenv("SHOPLIB_CACHE", str(tmp_path))
    cached("old", [], lambda: 1)
    for file in tmp_path.rglob("*"):
        os.utime(file, (0, 0))

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "unlink", refuse)
    assert cached("new", [], lambda: 2) == 2
