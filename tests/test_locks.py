"""Locks between processes: one at a time, lifted when the holder dies."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from shoplib.locks import FileLock

HOLD = """
import sys, time
from pathlib import Path
from shoplib.locks import FileLock
FileLock(Path(sys.argv[1])).take()
print("held", flush=True)
time.sleep(60)
"""


def holder(path: Path) -> subprocess.Popen[str]:
    process = subprocess.Popen([sys.executable, "-c", HOLD, str(path)], stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None and process.stdout.readline() == "held\n"
    return process


def test_a_lock_held_elsewhere_is_not_given(tmp_path: Path) -> None:
    """Without waiting the answer is no."""
    process = holder(tmp_path / "lock")
    try:
        assert FileLock(tmp_path / "lock").take(wait=False) is False
    finally:
        process.kill()
        process.communicate()


def test_a_lock_goes_with_its_holder(tmp_path: Path) -> None:
    """Killed without a chance to tidy up."""
    process = holder(tmp_path / "lock")
    process.kill()
    process.communicate()
    assert FileLock(tmp_path / "lock").take(wait=False) is True


def test_a_lock_given_back_can_be_taken_again(tmp_path: Path) -> None:
    """By the same process too."""
    lock = FileLock(tmp_path / "lock")
    with lock:
        pass
    assert lock.take(wait=False) is True
