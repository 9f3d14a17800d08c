"""The house rules that tools can judge: lint, types, stripped notebooks, the top level, and README's two commands."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "notebooks", "shoplib", "data_demo", "reports", "tests"}


def run(*command: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-m", *command], cwd=ROOT, capture_output=True, text=True)


def test_lint():
    """ruff finds nothing."""
    done = run("ruff", "check", ".")
    assert done.returncode == 0, done.stdout


def test_types():
    """mypy, strict, finds nothing in the package."""
    done = run("mypy")
    assert done.returncode == 0, done.stdout


@pytest.mark.parametrize("notebook", sorted(path.name for path in (ROOT / "notebooks").glob("*.ipynb")))
def test_notebooks_are_stripped(notebook):
    """No outputs and no execution counts are kept."""
    done = run("nbstripout", "--verify", "--keep-id", f"notebooks/{notebook}")
    assert done.returncode == 0, done.stdout + done.stderr


def test_top_level():
    """Nothing but the named entries and dotfiles stands at the top, as git tracks it."""
    tracked = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout.split()
    assert {path.split("/")[0] for path in tracked if not path.startswith(".")} == TOP_LEVEL


def test_readme_begins_with_two_commands():
    """README's first two indented lines make the reports and run the tests; CI takes the second."""
    lines = [line.strip() for line in (ROOT / "README.md").read_text("utf-8").splitlines() if line.startswith("    ")]
    assert lines[0].endswith("shoplib run") and lines[1].endswith("-m pytest")
