"""One at a time, between processes: a lock on a small file that the system lifts when its holder dies, however it dies."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType


class FileLock:
    """A lock on `path`, which is made when it is not there and never removed.

    Parameters
    ----------
    path : Path
        A file in a folder that can be written.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._file: int | None = None

    def take(self, wait: bool = True) -> bool:
        """Take the lock; False when another holds it and `wait` is not wanted."""
        handle = os.open(self._path, os.O_RDWR | os.O_CREAT, 0o600)
        try:
            _lock(handle, wait)
        except OSError:
            os.close(handle)
            if wait:
                raise
            return False
        self._file = handle
        return True

    def give_back(self) -> None:
        """Let the next one in; nothing happens when the lock is not held."""
        if self._file is not None:
            os.close(self._file)
            self._file = None

    def __enter__(self) -> FileLock:
        self.take()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.give_back()


@contextmanager
def alone(path: Path) -> Iterator[None]:
    """Hold the lock on `path` while the block runs."""
    with FileLock(path):
        yield


if sys.platform == "win32":
    import msvcrt

    def _lock(handle: int, wait: bool) -> None:
        msvcrt.locking(handle, msvcrt.LK_LOCK if wait else msvcrt.LK_NBLCK, 1)
else:
    import fcntl

    def _lock(handle: int, wait: bool) -> None:
        fcntl.flock(handle, fcntl.LOCK_EX if wait else fcntl.LOCK_EX | fcntl.LOCK_NB)
