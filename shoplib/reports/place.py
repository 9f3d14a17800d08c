"""Writing into the output folder so that what lies there is always whole.

A run writes into a hidden folder inside the output folder. When a report is whole its folder is renamed to ``.ready-…``
and its files are moved into place one by one. A run that is killed leaves at most hidden folders: the next run finishes
the moves of those that were ready and removes the others. Two runs never meet: each has its own folder, locked as long as
it lives, and moves are made one run at a time.
"""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from ..errors import OutputError
from ..locks import FileLock, alone

MAKING, READY = ".making-", ".ready-"
ALIVE, LOCK = ".alive", ".lock"


@contextmanager
def workspace(out: Path) -> Iterator[Path]:
    """Give a folder of the run's own inside `out`, and remove it afterwards; tidy what killed runs have left.

    Raises
    ------
    OutputError
        The output folder cannot be written.
    """
    try:
        out.mkdir(parents=True, exist_ok=True)
        with alone(out / LOCK):
            tidy(out)
            folder = Path(tempfile.mkdtemp(dir=out, prefix=MAKING))
            alive = FileLock(folder / ALIVE)
            alive.take()
    except OSError as error:
        raise OutputError(
            "the output folder cannot be written", where=str(out), found=error.strerror, to_do="choose another with --out, or make room"
        ) from error
    try:
        yield folder
    finally:
        alive.give_back()
        shutil.rmtree(folder, ignore_errors=True)


def tidy(out: Path) -> None:
    """Finish the moves of runs that were killed between them, and remove what killed runs had not finished."""
    for folder in sorted(out.glob(f"{READY}*")):
        _move(folder, out)
    for folder in sorted(out.glob(f"{MAKING}*")):
        alive = FileLock(folder / ALIVE)
        if alive.take(wait=False):
            alive.give_back()
            shutil.rmtree(folder, ignore_errors=True)


def put(made: Path, out: Path) -> None:
    """Move a folder that is whole into place: each of its files to the same place below `out`.

    Raises
    ------
    OutputError
        The disk is full or the folder cannot be written; what was there before is whole.
    """
    try:
        with alone(out / LOCK):
            ready = out / f"{READY}{made.parent.name.removeprefix(MAKING)}-{made.name}"
            os.rename(made, ready)
            _move(ready, out)
    except OSError as error:
        what = "the report could not be moved into place"
        raise OutputError(what, where=str(out), found=error.strerror, to_do="make room and run again") from error


def _move(ready: Path, out: Path) -> None:
    for file in sorted(ready.rglob("*")):
        if file.is_file():
            target = out / file.relative_to(ready)
            target.parent.mkdir(parents=True, exist_ok=True)
            os.replace(file, target)
    shutil.rmtree(ready)


def write(file: Path, content: bytes | str) -> None:
    """Write one file aside and rename it into place."""
    file.parent.mkdir(parents=True, exist_ok=True)
    handle, aside = tempfile.mkstemp(dir=file.parent, prefix=".", suffix=".part")
    with os.fdopen(handle, "wb") as opened:
        opened.write(content.encode("utf-8") if isinstance(content, str) else content)
    os.chmod(aside, 0o644)
    os.replace(aside, file)
