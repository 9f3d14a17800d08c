"""The long versions: runs killed many times over, random cells and folders by the thousand, and the same bytes whatever surrounds a run."""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

from tests.reports.runs import ROOT, kernels_find_samples, small_shop

from .bits import same_bytes, same_numbers
from .fuzz import fuzz_cells, fuzz_folders
from .kills import COMMAND, SAMPLE, kill_often
from .lowest import with_lowest


def main() -> int:
    """Run what is asked and say what was wrong."""
    parser = argparse.ArgumentParser(prog="python -m tests.hard", description=__doc__)
    kinds = parser.add_subparsers(dest="kind", required=True)
    kills = kinds.add_parser("kills", help="kill a run at random moments")
    kills.add_argument("--times", type=int, default=50)
    kills.add_argument("--report", help="a report of the invented workshop; left out: the sample report of the tests")
    fuzz = kinds.add_parser("fuzz", help="random cells through every reader, spoilt folders through the intake")
    fuzz.add_argument("--cells", type=int, default=1_000_000)
    fuzz.add_argument("--folders", type=int, default=2_000)
    for one in (kills, fuzz):
        one.add_argument("--seed", type=int, default=1)
    bits = kinds.add_parser("bits", help="all reports again and again: same bytes whatever jobs, time zone, locale, clock and cache")
    bits.add_argument("--python", help="another Python that holds the same packages: numbers within a millionth, all else the same")
    kinds.add_parser("lowest", help="all reports under the lowest versions that pyproject.toml allows, in an environment made for it")
    asked = parser.parse_args()
    wrong = {"kills": killed, "fuzz": fuzzed, "bits": compared, "lowest": low}[asked.kind](asked)
    print("\n".join(wrong) or "nothing was wrong")
    return int(bool(wrong))


def fuzzed(asked: argparse.Namespace) -> list[str]:
    """Read random cells and spoilt folders."""
    return fuzz_cells(asked.cells, asked.seed) + fuzz_folders(asked.folders, asked.seed)


def low(_: argparse.Namespace) -> list[str]:
    """Compare the lowest versions allowed with those installed."""
    with tempfile.TemporaryDirectory() as name:
        return with_lowest(Path(name))


def compared(asked: argparse.Namespace) -> list[str]:
    """Compare runs of the invented workshop."""
    with tempfile.TemporaryDirectory() as name:
        if asked.python:
            return same_numbers(ROOT / "data_demo", Path(name), asked.python)
        return same_bytes(ROOT / "data_demo", Path(name))


def killed(asked: argparse.Namespace) -> list[str]:
    """Kill runs of the sample report, or of one of the reports."""
    with tempfile.TemporaryDirectory() as name, kernels_find_samples(Path(name) / "cache"):
        home = Path(name)
        if asked.report:
            return kill_often(ROOT / "data_demo", home, asked.times, asked.seed, COMMAND, (asked.report,))
        return kill_often(small_shop(home / "shop"), home, asked.times, asked.seed, SAMPLE)


if __name__ == "__main__":
    sys.exit(main())
