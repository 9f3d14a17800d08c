"""How the kernel is compiled: by numba, spared what nothing in the kernel needs, ready in little more than half the time.

It reaches into numba, so only versions it has been tried with are treated so; a newer one compiles in its own way, slower.
"""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import numba
from numba.core import types
from numba.core.codegen import JITCodeLibrary
from numba.core.compiler import Compiler, CompilerBase, DefaultPassBuilder
from numba.core.compiler_machinery import PassManager

TRIED = (0, 68)
"""The newest numba that `Lean` has been tried with."""
LEFT_OUT = frozenset((
    # with blocks, functions inside functions, comprehensions, exceptions
    "WithLifting", "InlineClosureLikes", "MakeFunctionToJitFunction", "RewriteDynamicRaises",
    # arguments whose value is part of their type
    "RewriteSemanticConstants", "DeadBranchPrune", "FindLiterallyCalls", "LiteralUnroll", "LiteralPropagationSubPipelinePass",
    # functions put in place before their types are known, expressions of whole arrays
    "InlineInlinables", "InlineOverloads", "NopythonRewrites",
    # names that change their type: here a name keeps it
    "ReconstructSSA", "PreLowerStripPhis",
    # advice to who writes the code
    "NoPythonSupportedFeatureValidation", "IRLegalization", "AnnotateTypes", "DumpParforDiagnostics",
))  # fmt: skip
"""Names of numba's compiler passes, and what each is for."""


class Part(JITCodeLibrary):  # type: ignore[misc]
    """What only compiled functions call: they take it in as LLVM's text, so that it needs no machine code of its own."""

    @property
    def codegen(self) -> Any:
        """Return who is told where the function's Python objects lie: a part has none."""
        return self

    def set_env(self, name: str, env: Any) -> None:
        """Take no note of the function's Python objects."""

    def get_pointer_to_function(self, name: str) -> int:
        """Return 0: nothing in here can be called from Python."""
        self._ensure_finalized()
        return 0

    def _optimize_final_module(self) -> None:
        """Leave the work to the function that takes this one in."""

    def _finalize_final_module(self) -> None:
        self._finalized = True


class Lean(CompilerBase):  # type: ignore[misc]
    """Numba's compiler without the passes `LEFT_OUT`, without looking for a type twice, and without machine code for each `Part`.

    Without `ReconstructSSA` a name that holds an integer here and a float there is a float everywhere; the plain Python twin shows it.
    """

    def define_pipelines(self) -> list[Any]:
        """Return the one list of passes, in numba's order."""
        whole, lean = DefaultPassBuilder.define_nopython_pipeline(self.state), PassManager("lean")
        for step, what in whole.passes:
            if step.__name__ not in LEFT_OUT:
                lean.add_pass(step, what)
        lean.finalize()
        if self.state.flags.no_cpython_wrapper:
            self.state.library = Part(self.state.targetctx.codegen(), self.state.func_id.func_qualname)
        return [lean]

    def compile_extra(self, func: Any) -> Any:
        """Compile a function as numba does; numba's lock is held, so that nobody else compiles meanwhile."""
        with types_found_once():
            return super().compile_extra(func)


@contextmanager
def types_found_once() -> Iterator[None]:
    """Tell numba what it found before, where it looks for the type of an operation: a quarter of its time.

    It looks again in every round and place, each time through dozens of templates.
    """
    find, known = types.Function.get_call_type, {}

    def found(self: Any, context: Any, args: Any, kws: Any) -> Any:
        key = self, context, tuple(args), tuple(kws.items())
        if key not in known:
            known[key] = find(self, context, args, kws)
        return known[key]

    types.Function.get_call_type = found  # type: ignore[method-assign]
    try:
        yield
    finally:
        types.Function.get_call_type = find  # type: ignore[method-assign]


def compiler_of(version: tuple[int, ...]) -> type[CompilerBase]:
    """Return the compiler for a version of numba: `Lean` where it has been tried, else numba's own."""
    return Lean if version[:2] <= TRIED else Compiler


COMPILER = compiler_of(numba.version_info.short)
"""The compiler of this numba."""


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
