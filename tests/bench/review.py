"""The monthly review: all seven reports of the invented workshop, beside seven notebooks that do next to nothing."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from itertools import count
from pathlib import Path

import nbformat

from shoplib.reports.discover import ORDER, REVIEW

from .measure import HOME, Measure, interleaved, median, ratio

ROUNDS = 3
REPORTS = 7
RUN = "from shoplib.cli import main; main()"
EMPTY = """import sys, papermill
for number in range(int(sys.argv[2])):
    papermill.execute_notebook(sys.argv[1], f"{sys.argv[1]}.{number}.ipynb", kernel_name="python3")
"""
IMPORTS = "import numba\nimport pandas as pd\nimport plotly.graph_objects as go\nimport statsmodels.api as sm"
FIGURE = "go.Figure(go.Bar(x=list(range(12)), y=pd.Series(range(12)) * {number}))"
SHARED = """import sys
from shoplib.intake import as_of
from shoplib.reports.answer import Parameters
from shoplib.reports.opening import open_shop
from shoplib.reports.shared import baseline_of, track_record_of
shop = open_shop(sys.argv[1])
baseline_of(shop, as_of(shop), Parameters().seed)
track_record_of(shop, as_of(shop), Parameters().seed)
"""
ONE = """import importlib, sys, time
from shoplib.reports import hiring, lead_time, margin, metal_balance, monthly_review, price_sensitivity, throughput
from shoplib.reports.answered import answer_of
from shoplib.reports.markup import bundles
from shoplib.reports.opening import open_shop
report = importlib.import_module(f"shoplib.reports.{sys.argv[1]}")
begin = time.perf_counter()
answer = answer_of(report, open_shop(sys.argv[2]), report.Parameters())
drawn = [bundles(block) for block in report.page(answer).blocks.values()]
print(time.perf_counter() - begin)
"""
"""A report after kernel, fit and baseline: the shop taken from the cache, the answer, every block drawn."""


def whole() -> list[Measure]:
    """Time `shoplib run` of the invented workshop, nothing kept from before but the compiled simulator, in turn with the stand-ins."""
    with tempfile.TemporaryDirectory() as home:
        number = count()
        stand_in = _stand_in(Path(home))
        ours, theirs = interleaved([lambda: _run(Path(home) / f"run{next(number)}"), lambda: _empty(stand_in)], ROUNDS)
    what = (
        "the same ÷ seven notebooks that import pandas, plotly, statsmodels and numba and draw five figures, one after another by papermill"
    )
    return [
        median("review_seconds", ours, "s", "`shoplib run` of the invented workshop, all seven reports, our cache cold, numba's warm"),
        ratio("review_seconds_over_empty_notebooks", ours, theirs, what),
    ]


def reports() -> list[Measure]:
    """Time each report alone, after kernel start, fit and baseline; the review after the other six."""
    with tempfile.TemporaryDirectory() as home:
        base = Path(home) / "base"
        _python(base, SHARED, str(HOME / "data_demo"))
        return [_report(name, base, Path(home)) for name in (*(name for name in ORDER if name != REVIEW), REVIEW)]


def _report(name: str, base: Path, home: Path) -> Measure:
    """Time one report on copies of the cache as the fit and the baseline left it; the review's is filled by the others first."""
    taken = []
    for number in range(ROUNDS + 1):
        own = home / f"{name}{number}"
        shutil.copytree(base, own)
        taken.append(float(_python(own, ONE, name, str(HOME / "data_demo"))))
    if name != REVIEW:
        shutil.copytree(home / f"{name}{ROUNDS}", base, dirs_exist_ok=True)
    what = "the review after the other six" if name == REVIEW else "a report of the invented workshop after kernel start, fit, baseline and played past"
    return median(f"report_seconds_{name}", taken[1:], "s", what)


def _run(home: Path) -> None:
    _python(home / "cache", RUN, "run", "-q", "--data", str(HOME / "data_demo"), "--out", str(home / "reports"))


def _empty(stand_in: Path) -> None:
    _python(stand_in.parent / "unused", EMPTY, str(stand_in), str(REPORTS))


def _stand_in(home: Path) -> Path:
    cells = [nbformat.v4.new_code_cell(source) for source in (IMPORTS, *(FIGURE.format(number=number) for number in range(1, 6)))]
    file = home / "stand_in.ipynb"
    nbformat.write(nbformat.v4.new_notebook(cells=cells), file)
    return file


def _python(cache: Path, code: str, *arguments: str) -> str:
    """Run `code` in a fresh process with a cache of its own and return what it prints."""
    own = {**os.environ, "SHOPLIB_CACHE": str(cache), "PYTHONPATH": str(HOME)}
    done = subprocess.run([sys.executable, "-c", code, *arguments], cwd=HOME, env=own, capture_output=True, text=True)
    if done.returncode:
        raise RuntimeError(f"It ended with {done.returncode}: {done.stderr[-2000:]}")
    return done.stdout


BENCHES: dict[str, Callable[[], list[Measure]]] = {
    "review_seconds": whole,
    "review_seconds_over_empty_notebooks": whole,
    "report_seconds": reports,
}
