"""Processes that end when the one they work for is gone."""

from __future__ import annotations

import os
import threading
import time
from functools import cache

LOOK_SECONDS = 1.0


@cache
def end_with(master: int) -> None:
    """End this process within a second or two of the end of the one that started it, which may have been killed without a word.

    Parameters
    ----------
    master : int
        Process number of the one that started this one; where that is this process itself nothing is watched.
    """
    if os.name == "posix" and os.getpid() != master:
        threading.Thread(target=_watch, args=(master,), daemon=True).start()


def _watch(master: int) -> None:
    while os.getppid() == master:
        time.sleep(LOOK_SECONDS)
    os._exit(1)
