"""The quick way to compile against numba's own: the same records, and numba as it was before."""

import os
import subprocess
import sys

import numpy as np
import pytest
from numba import njit
from numba.core import types
from numba.core.compiler import Compiler
from numba.core.errors import TypingError

from shoplib.workshop.compiling import TRIED, Lean, compiler_of
from shoplib.workshop.replicate import simulate
from tests.bench.whole import whole_model

NUMBAS_OWN = """
import sys
from numba.core.compiler import Compiler
from shoplib.workshop import compiling
compiling.COMPILER = Compiler
from tests.workshop.test_compiling import records
from shoplib.workshop.kernel import OPTIONS
assert OPTIONS["pipeline_class"] is Compiler
records().tofile(sys.argv[1])
"""


def records():
    """Thirty days of the whole model, twice."""
    workshop, here = whole_model()
    return simulate(workshop, here, horizon_days=30, seed=7, replications=2).cards


def test_numbas_own_compiler_gives_the_same_records(tmp_path):
    """Compiled with every pass and with machine code for every function, the whole model plays the same days."""
    environment = {**os.environ, "NUMBA_CACHE_DIR": str(tmp_path)}
    subprocess.run([sys.executable, "-c", NUMBAS_OWN, str(tmp_path / "cards")], check=True, env=environment)
    ours = records()
    theirs = np.fromfile(tmp_path / "cards", ours.dtype)
    assert len(ours) > 50
    for column in ours.dtype.names:
        assert theirs[column] == pytest.approx(ours[column], rel=1e-9, abs=1e-9, nan_ok=True), column


def test_a_type_is_looked_up_once(monkeypatch):
    """Of eight additions of the same two types, numba's search sees one."""
    searched = []
    search = types.Function.get_call_type
    monkeypatch.setattr(types.Function, "get_call_type", lambda self, *what: searched.append(self) or search(self, *what))
    add = njit(pipeline_class=Lean, no_cfunc_wrapper=True)(lambda x, y: x + y + y + y + y + y + y + y + y)
    assert add(0.5, 1.0) == 8.5
    assert len([one for one in searched if "add" in str(one)]) == 1


def test_numba_is_left_as_it_was_found():
    """After a compilation and after one that fails, numba's own search stands again."""
    search = types.Function.get_call_type
    assert njit(pipeline_class=Lean)(lambda x: -x)(2) == -2
    with pytest.raises(TypingError, match="neg"):
        njit(pipeline_class=Lean)(lambda x: -x)("a word")
    assert types.Function.get_call_type is search


@pytest.mark.parametrize("version, compiler", [((0, 59, 0), Lean), (TRIED, Lean), ((TRIED[0], TRIED[1] + 1), Compiler), ((1, 0), Compiler)])
def test_a_newer_numba_compiles_in_its_own_way(version, compiler):
    """What reaches into numba stops at the newest version it has been tried with."""
    assert compiler_of(version) is compiler
