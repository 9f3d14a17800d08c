"""The reports of the invented workshop under the lowest versions that pyproject.toml allows."""

from __future__ import annotations

import os
import subprocess
import tomllib
import venv
from pathlib import Path

from tests.reports.runs import ROOT

from .bits import same_numbers

NEAR = 0.02
"""Other versions of an optimiser end elsewhere in the fifth digit; a simulated count of fifty may then be one more or less."""


def lowest_pins(text: str) -> list[str]:
    """Return each dependency of a pyproject.toml at the lowest version it allows."""
    return [one.split(",")[0].replace(">=", "==") for one in tomllib.loads(text)["project"]["dependencies"]]


def with_lowest(home: Path) -> list[str]:
    """Install the lowest versions into an environment of their own; return where its answers differ from those of this one."""
    venv.create(home / "lowest", with_pip=True)
    python = home / "lowest" / ("Scripts" if os.name == "nt" else "bin") / "python"
    pins = lowest_pins((ROOT / "pyproject.toml").read_text("utf-8"))
    for what in (pins, ["--no-deps", "-e", str(ROOT)]):
        subprocess.run([python, "-m", "pip", "install", "-q", *what], check=True)
    return same_numbers(ROOT / "data_demo", home, str(python), NEAR)
