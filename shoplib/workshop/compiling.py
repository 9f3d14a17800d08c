"""How the kernel is compiled: numba's own compiler without the steps that nothing in the kernel needs, ready a sixth sooner."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from numba.core.compiler import CompilerBase, DefaultPassBuilder
from numba.core.compiler_machinery import PassManager

LEFT_OUT = frozenset((
    # with blocks, functions inside functions, comprehensions, exceptions
    "WithLifting", "InlineClosureLikes", "MakeFunctionToJitFunction", "RewriteDynamicRaises",
    # arguments whose value is part of their type
    "RewriteSemanticConstants", "DeadBranchPrune", "FindLiterallyCalls", "LiteralUnroll", "LiteralPropagationSubPipelinePass",
    # expressions of whole arrays
    "InlineOverloads", "NopythonRewrites",
    # names that change their type: here a name keeps it
    "ReconstructSSA", "PreLowerStripPhis",
    # advice to who writes the code
    "NoPythonSupportedFeatureValidation", "IRLegalization", "AnnotateTypes", "DumpParforDiagnostics",
))  # fmt: skip
"""Names of numba's compiler passes, and what each is for."""


class Lean(CompilerBase):  # type: ignore[misc]
    """Numba's compiler without the passes `LEFT_OUT`.

    Without `ReconstructSSA` a name that holds an integer here and a float there is a float everywhere; the plain Python twin shows it.
    """

    def define_pipelines(self) -> list[Any]:
        """Return the one list of passes, in numba's order."""
        whole, lean = DefaultPassBuilder.define_nopython_pipeline(self.state), PassManager("lean")
        for step, what in whole.passes:
            if step.__name__ not in LEFT_OUT:
                lean.add_pass(step, what)
        lean.finalize()
        return [lean]


@contextmanager
def quick_to_compile(function: Any) -> Iterator[None]:
    """Leave the garbage of the compiler alone while `function` is compiled: looking for it takes a seventh of the time."""
    pauses = gc.isenabled() and not getattr(function, "signatures", True)
    if pauses:
        gc.disable()
    try:
        yield
    finally:
        if pauses:
            gc.enable()
