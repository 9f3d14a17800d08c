"""Run benchmarks by name, or all of them, and print a line each."""

from __future__ import annotations

import argparse
import importlib
import json
import pkgutil
from collections.abc import Callable, Iterable
from pathlib import Path

from . import __path__ as folders
from .measure import Measure

Bench = Callable[[], Iterable[Measure]]


def found() -> dict[str, Bench]:
    """Return every benchmark of this folder by name."""
    benches: dict[str, Bench] = {}
    for module in sorted(module.name for module in pkgutil.iter_modules(folders) if module.name != "__main__"):
        benches |= getattr(importlib.import_module(f"{__package__}.{module}"), "BENCHES", {})
    return benches


def chosen(benches: dict[str, Bench], names: list[str]) -> dict[Bench, list[str]]:
    """Return the functions that measure `names` (all when none is given), each once, with the names asked of it."""
    unknown = [name for name in names if not any(_meant(name, known) for known in benches)]
    if unknown:
        raise SystemExit(f"No such benchmark: {', '.join(unknown)}. Known: {', '.join(sorted(benches))}.")
    wanted: dict[Bench, list[str]] = {}
    for known, bench in benches.items():
        asked = [name for name in names if _meant(name, known)] if names else [known]
        if asked:
            wanted.setdefault(bench, []).extend(asked)
    return wanted


def _meant(name: str, known: str) -> bool:
    return name == known or name.startswith(known + "_") or known.startswith(name + "_")


def main() -> None:
    """Measure, print and write."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME", help="which ones; all when none is given")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the figures here as well")
    arguments = parser.parse_args()
    measures: list[Measure] = []
    for bench, names in chosen(found(), arguments.names).items():
        for measure in bench():
            if not arguments.names or any(_meant(name, measure.name) for name in names):
                measures.append(measure)
                print(measure.line(), flush=True)
    if arguments.json:
        arguments.json.write_text(json.dumps([measure.plain() for measure in measures], indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
