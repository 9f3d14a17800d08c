"""Runs of all reports that must give the same bytes, and runs of another Python that must give the same numbers."""

from __future__ import annotations

import json
import math
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from tests.reports.runs import ROOT

from .kills import COMMAND, broken, contents

ELSEWHERE = {"TZ": "Pacific/Auckland", "LC_ALL": "de_DE.UTF-8", "LANG": "tr_TR.UTF-8", "PYTHONHASHSEED": "7"}
YEAR = 365 * 86_400
NEAR = 1e-6
"""Relative difference of numbers that another Python, or another machine, may show."""


def run(data: Path, out: Path, cache: Path, *more: str, python: str = sys.executable, **surroundings: str) -> str:
    """Make all reports in a process of its own; return what it said where it failed."""
    own = {"SHOPLIB_CACHE": str(cache), "PYTHONPATH": str(ROOT), **surroundings}
    done = subprocess.run(
        [python, "-c", COMMAND, str(data), str(out), "-q", *more], cwd=ROOT, env={**os.environ, **own}, capture_output=True
    )
    return f"{out.name} failed: {done.stderr.decode()}" if done.returncode else ""


def differ(out: Path, whole: Mapping[str, bytes]) -> list[str]:
    """Return the files that are missing, or not the bytes of `whole`."""
    there = contents(out)
    return [f"{out.name}: {name} differs" for name in broken(there, whole)] + [
        f"{out.name}: {name} is missing" for name in set(whole) - set(there)
    ]


def same_bytes(data: Path, home: Path) -> list[str]:
    """Make all reports seven times; return what differed, nothing when every file was the same.

    Again with what is kept; one at a time; in another time zone, locale and order of hashing, with and without what is kept; after the
    clock was set back, and set forward.
    """
    kept, wrong = home / "kept", [run(data, home / "first", home / "kept")]
    whole = contents(home / "first")
    wrong += [run(data, home / "again", kept)] + differ(home / "again", whole)
    wrong += [run(data, home / "one at a time", home / "new", "--jobs", "1")] + differ(home / "one at a time", whole)
    wrong += [run(data, home / "elsewhere", kept, "--jobs", "1", **ELSEWHERE)] + differ(home / "elsewhere", whole)
    wrong += [run(data, home / "elsewhere anew", home / "newer", **ELSEWHERE)] + differ(home / "elsewhere anew", whole)
    for name, shift in {"clock set back": YEAR, "clock set forward": -YEAR}.items():
        shutil.copytree(home / "first", home / name)
        shift_times((home / name, kept), shift)
        wrong += [run(data, home / name, kept)] + differ(home / name, whole)
    return [one for one in wrong if one]


def shift_times(folders: tuple[Path, ...], seconds: float) -> None:
    """Date every file by now and `seconds` more: what earlier files look like after the clock was set back by as much."""
    for folder in folders:
        for file in folder.rglob("*"):
            os.utime(file, (time.time() + seconds,) * 2)


def same_numbers(data: Path, home: Path, python: str, near: float = NEAR) -> list[str]:
    """Make all reports with this Python and with another that holds the same packages; return the answers that differ."""
    wrong = [run(data, home / "here", home / "one"), run(data, home / "there", home / "two", python=python)]
    here = {file.relative_to(home / "here"): file for file in (home / "here").glob("????-??-??/*.json")}
    if not here:
        wrong.append("there is no answer to compare")
    for name, file in here.items():
        other = home / "there" / name
        wrong += (
            apart(name.stem, json.loads(file.read_text("utf-8")), json.loads(other.read_text("utf-8")), near)
            if other.is_file()
            else [f"{name} is missing"]
        )
    return [one for one in wrong if one]


def apart(place: str, one: Any, other: Any, near: float = NEAR) -> Iterator[str]:
    """Yield where two answers differ: in shape, text or date at all, in numbers by more than the share `near`."""
    if isinstance(one, dict) and isinstance(other, dict) and one.keys() == other.keys():
        for key in one:
            yield from apart(f"{place}.{key}", one[key], other[key], near)
    elif isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        for number, (a, b) in enumerate(zip(one, other, strict=True)):
            yield from apart(f"{place}.{number}", a, b, near)
    elif _numbers(one, other):
        if not math.isclose(one, other, rel_tol=near, abs_tol=1e-9):
            yield f"{place}: {one} and {other}"
    elif one != other or isinstance(one, bool) != isinstance(other, bool):
        yield f"{place}: {one!r:.80} and {other!r:.80}"


def _numbers(*given: Any) -> bool:
    return all(isinstance(one, int | float) and not isinstance(one, bool) for one in given)
