"""Make shops with known truth, run the program on them and print how far each answer is from it.

    python -m tests.known_truth [--shops N] [--seed N] [--json FILE] [PARAGRAPH …]

One module an accuracy paragraph; to add one, write its `TITLE`, `measure(case)` and `judge(rows)` and name it in `PARAGRAPHS`.
"""

from __future__ import annotations

import argparse
import importlib
import json
import sys
import tempfile
from dataclasses import asdict
from pathlib import Path
from types import ModuleType

from .case import Case, Measured

PARAGRAPHS = ("simulator", "throughput", "lead_time", "hiring", "metal", "pricing")


def main(words: list[str] | None = None) -> int:
    """Print the table; 0 when every sentence holds."""
    asked = _parser().parse_args(words)
    modules = [importlib.import_module(f".{name}", __package__) for name in asked.paragraphs or PARAGRAPHS]
    rows: dict[str, list[Measured]] = {module.__name__: [] for module in modules}
    with tempfile.TemporaryDirectory() as folder:
        for number in range(asked.shops):
            case = Case(number, asked.seed, Path(folder) / str(number))
            print(f"shop {number}: {case.truth.kind}", file=sys.stderr, flush=True)
            for module in modules:
                rows[module.__name__] += module.measure(case)
    held = [_print(module, rows[module.__name__]) for module in modules]
    if asked.json:
        found = {name: [asdict(row) for row in part] for name, part in rows.items()}
        asked.json.write_text(json.dumps(found, indent=1) + "\n", encoding="utf-8")
    return 0 if all(held) else 1


def _print(module: ModuleType, rows: list[Measured]) -> bool:
    verdicts = module.judge(rows)
    print(f"\n{module.TITLE}")
    for verdict in verdicts:
        print(f"  {'holds' if verdict.holds else 'FAILS'}  {verdict.asked}: {verdict.found}")
    return all(verdict.holds for verdict in verdicts)


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m tests.known_truth", description="Shops with known truth: how far each answer is from it."
    )
    parser.add_argument("paragraphs", nargs="*", choices=[*PARAGRAPHS, []], help="accuracy paragraphs; all when none is named")
    parser.add_argument("--shops", type=int, default=10, help="how many shops")
    parser.add_argument("--seed", type=int, default=0, help="which set of shops")
    parser.add_argument("--json", type=Path, help="file for every number with its truth")
    return parser


if __name__ == "__main__":
    sys.exit(main())
