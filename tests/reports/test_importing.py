"""Two threads never import packages that import one another at once; Python would give one of them half a module."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

from .runs import ROOT, kernels_find_samples, small_shop

WATCHED = """
import json, sys
from importlib.abc import MetaPathFinder
from pathlib import Path
from tests.reports.runs import made
from shoplib.reports.importing import ONE_AT_A_TIME

class Watch(MetaPathFinder):
    def find_spec(self, name, path, target=None):
        if name.partition(".")[0] in FAMILY:
            seen[name] = ONE_AT_A_TIME._is_owned()

FAMILY = "jupyter_client", "papermill", "nbconvert", "nbclient", "nbformat", "zmq", "tornado", "traitlets", "pandas", "plotly"
seen = {}
sys.meta_path.insert(0, Watch())
code, _ = made(Path(sys.argv[1]), Path(sys.argv[2]), "gallery", "chatty")
print(json.dumps([code, seen]))
"""


def test_a_run_imports_what_its_threads_share_in_one_thread_at_a_time(tmp_path: Path) -> None:
    """Of two reports made at once: whoever looks for a module of these packages holds the lock."""
    with kernels_find_samples(tmp_path / "cache"):
        done = subprocess.run(
            [sys.executable, "-c", WATCHED, small_shop(tmp_path / "shop"), tmp_path / "out"], cwd=ROOT, capture_output=True, check=True
        )
    code, seen = json.loads(done.stdout)
    assert code == 0 and {"jupyter_client.manager", "papermill", "nbconvert"} <= set(seen)
    assert [name for name, alone in seen.items() if not alone] == []
