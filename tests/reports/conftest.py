"""Runs that several tests look at: one of the gallery, one of the reports that fail."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from .runs import kernels_find_samples, made, small_shop

FAULTS = ("fails", "bad_data", "exits", "exits_one", "killed", "forgets", "chatty")


@dataclass(frozen=True)
class Ran:
    """A finished run: its folder, exit code and lines."""

    out: Path
    code: int
    lines: list[str]

    def line(self, report: str) -> str:
        """Return the line of one report."""
        return next(line for line in self.lines if line.startswith(f"{report} "))


@pytest.fixture(scope="session", autouse=True)
def _samples(shared_cache: Path) -> Iterator[None]:
    with kernels_find_samples(shared_cache):
        yield


@pytest.fixture(scope="session")
def shop_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return small_shop(tmp_path_factory.mktemp("shops") / "one")


@pytest.fixture(scope="session")
def gallery(shop_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Ran:
    out = tmp_path_factory.mktemp("gallery") / "out"
    return Ran(out, *made(shop_folder, out, "gallery"))


@pytest.fixture(scope="session")
def faults(shop_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Ran:
    out = tmp_path_factory.mktemp("faults") / "out"
    return Ran(out, *made(shop_folder, out, *FAULTS))
