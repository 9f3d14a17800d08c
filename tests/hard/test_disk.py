"""A full disk and a disk that cannot be written: a clear message, earlier reports whole, the next run clean."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.reports.runs import kernels_find_samples, made, small_shop

from .kills import COMMAND, begin, contents


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 16 MB; mounting needs root."""
    place = tmp_path / "disk"
    place.mkdir()
    if (
        os.name != "posix"
        or os.geteuid() != 0
        or subprocess.run(["mount", "-t", "tmpfs", "-o", "size=16m", "tmpfs", place], capture_output=True).returncode
    ):
        pytest.skip("no right to mount a small disk: full and read-only disks are not tested")
    yield place
    subprocess.run(["umount", "-l", place], check=True)


def fill(disk: Path, leave: int) -> Path:
    """Fill the disk but for `leave` bytes and return the file that does."""
    room = os.statvfs(disk)
    file = disk / "filler"
    file.write_bytes(b"\0" * max(room.f_bavail * room.f_frsize - leave, 0))
    return file


@pytest.mark.parametrize("leave", [100_000])
def test_a_full_disk_is_said_and_leaves_the_earlier_report(disk: Path, tmp_path: Path, shared_cache: Path, leave: int) -> None:
    """Exit code 2, one message that names the folder; with room again the run is clean."""
    shop = small_shop(tmp_path / "shop")
    with kernels_find_samples(shared_cache):
        made(shop, disk / "out", "gallery")
        before, filler = contents(disk / "out"), fill(disk, leave)
        run = begin(COMMAND, shop, disk / "out", "metal_balance", "-q")
        said = run.communicate()[1].decode()
        after = contents(disk / "out")
        filler.unlink()
        again, _ = made(shop, disk / "out", "gallery")
    reports = {name for name in before if "gallery" in name}
    assert run.returncode == 2 and str(disk) in said and "No space left" in said and "Traceback" not in said, said
    assert [name for name in reports if after.get(name) != before[name]] == [] and again == 0


def test_a_read_only_disk_is_said(disk: Path, tmp_path: Path, shared_cache: Path) -> None:
    """Root too cannot write there, which modes of a folder do not bring about."""
    shop = small_shop(tmp_path / "shop")
    subprocess.run(["mount", "-o", "remount,ro", disk], check=True)
    run = begin(COMMAND, shop, disk / "out", "metal_balance")
    said = run.communicate()[1].decode()
    assert run.returncode == 2 and "cannot be written" in said and "Traceback" not in said, said
