"""One notebook in a fresh kernel of this very interpreter, run by papermill.

The kernel starts before papermill is imported, and imports its report meanwhile. It does not depend on which kernels are
installed, on the user's IPython profile, on time zone or locale, and computes linear algebra on one thread.
"""

from __future__ import annotations

import asyncio
import os
import socket
import sys
import tempfile
import threading
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from ..errors import ShoplibError, UsageError
from .importing import ONE_AT_A_TIME

KERNEL = "python3"
THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "BLIS_NUM_THREADS", "VECLIB_MAXIMUM_THREADS")
START_SECONDS = 120


class ReportFailed(ShoplibError):
    """A report could not be made; the others can.

    Parameters
    ----------
    what : str
        The error in words.
    section : str
        Heading of the section that failed.
    notebook : NotebookNode, optional
        As far as it was executed.
    """

    exit_code = 1

    def __init__(self, what: str, section: str = "", notebook: Any = None, to_do: str = "") -> None:
        self.section, self.notebook = section, notebook
        super().__init__(what, where=section, to_do=to_do)


def preflight() -> None:
    """Check that a kernel can start.

    Raises
    ------
    UsageError
        ipykernel is not installed beside this interpreter.
    """
    if find_spec("ipykernel") is None:
        raise UsageError("the notebooks cannot run: ipykernel is missing", to_do="pip install ipykernel, in the same environment")


def environment(scratch: Path) -> dict[str, str]:
    """Return the environment of a kernel: what the user's was, and what must be the same on every run."""
    fixed = {name: "1" for name in THREADS} | {
        "PYTHONHASHSEED": "0", "TZ": "UTC", "LC_ALL": "C.UTF-8", "PYTHONUTF8": "1", "PYDEVD_DISABLE_FILE_VALIDATION": "1",
        "IPYTHONDIR": str(scratch / "ipython"), "MPLBACKEND": "agg",
    }  # fmt: skip
    return {**os.environ, **fixed}


def kernel_command(warm: tuple[str, str] | None = None) -> list[str]:
    """Return the command of a kernel; `warm` is the shop and the module it reads while it waits."""
    command = [sys.executable, "-m", "ipykernel_launcher", "-f", "{connection_file}", "--HistoryManager.enabled=False"]
    if warm:
        line = f"from shoplib.reports.opening import warm; warm({warm[0]!r}, {warm[1]!r})"
        command.append(f"--IPKernelApp.exec_lines=[{line!r}]")
    return command


class Stopped(Exception):
    """The run was stopped while a report was being made."""


class Kernels:
    """The kernels of a run, so that all can be ended at once."""

    def __init__(self) -> None:
        self._managers: list[Any] = []
        self._stopped = threading.Event()

    @contextmanager
    def one(self, scratch: Path, warm: tuple[str, str] | None = None) -> Iterator[Any]:
        """Start a kernel and give its manager; end it at once when the block is left.

        Parameters
        ----------
        scratch : Path
            Its working folder; what it says on its own goes to ``kernel.log`` there.
        warm : (str, str), optional
            The shop it reads and the module it imports before it is asked.
        """
        with tempfile.TemporaryDirectory(prefix="shoplib-") as private, (scratch / "kernel.log").open("wb") as log:
            manager = _manager(warm, Path(private))
            self.raise_if_stopped()
            _wait(manager.start_kernel(env=environment(scratch), cwd=str(scratch), stdout=log, stderr=log))
            self._managers.append(manager)
            try:
                self.raise_if_stopped()  # stopped while it started: nobody else knows of it yet
                yield manager
            finally:
                self._managers.remove(manager)
                _wait(manager.shutdown_kernel(now=True))

    def stop(self) -> None:
        """End every kernel at once; no other starts."""
        self._stopped.set()
        for manager in list(self._managers):
            manager.provisioner.process.kill()

    def raise_if_stopped(self) -> None:
        """Raise where the run has been stopped, so that nothing is kept of a report that was cut off."""
        if self._stopped.is_set():
            raise Stopped


def _manager(warm: tuple[str, str] | None, private: Path) -> Any:
    """Return the manager of a kernel that is spoken to over sockets in a folder of this user alone.

    A port that was free when it was chosen may be another program's by the time the kernel opens it; a file of one's own may not.
    """
    with ONE_AT_A_TIME:
        from jupyter_client.kernelspec import KernelSpec
        from jupyter_client.manager import AsyncKernelManager

    own = {"transport": "ipc", "ip": str(private / "kernel")} if hasattr(socket, "AF_UNIX") and os.name == "posix" else {}
    manager = AsyncKernelManager(kernel_name=KERNEL, **own)
    manager._kernel_spec = KernelSpec(argv=kernel_command(warm), display_name="Python", language="python")
    return manager


def _wait(coming: Any) -> None:
    asyncio.run(coming)


def execute(source: Path, parameters: Mapping[str, Any], manager: Any, scratch: Path) -> Any:
    """Run a notebook and return it executed.

    Parameters
    ----------
    source : Path
        The notebook.
    parameters : mapping
        Plain values.
    manager : AsyncKernelManager
        A kernel that has started.
    scratch : Path
        Folder of the run's own.

    Raises
    ------
    ReportFailed
        A cell failed, or the kernel died or never answered.
    """
    with ONE_AT_A_TIME, _not_needed("rfc3987_syntax"):
        import papermill
        from papermill.exceptions import PapermillExecutionError

    output = scratch / f"{source.stem}.ipynb"
    try:
        return papermill.execute_notebook(
            str(source).replace("{", "{{").replace("}", "}}"),
            str(output).replace("{", "{{").replace("}", "}}"),
            dict(parameters),
            kernel_name=KERNEL,
            language="python",
            progress_bar=False,
            request_save_on_cell_execute=False,
            start_timeout=START_SECONDS,
            km=manager,
        )
    except PapermillExecutionError as error:
        notebook = _read(output)
        text = _plain(error.ename, str(error.evalue))
        raise ReportFailed(text, section_of(notebook), notebook, "the cell that failed is in failed/") from error
    except RuntimeError as error:  # of nbclient and jupyter_client, when a kernel has died or never answered
        notebook = _read(output)
        text = "its process ended before it was done, perhaps for want of memory"
        raise ReportFailed(text, "", notebook, "run it again alone") from error


@contextmanager
def _not_needed(module: str) -> Iterator[None]:
    """Let an optional part of a library look absent while the library is imported.

    JupyterLab brings a grammar for web addresses that takes a second to load and that no notebook's check uses.
    """
    there = sys.modules.setdefault(module, None)  # type: ignore[arg-type]
    yield
    if there is None:
        sys.modules.pop(module, None)


def _plain(name: str, text: str) -> str:
    """Return an error as one line; those written for an owner stand alone, others are named."""
    first = " ".join(text.split())
    return first if name in ("DataError", "SettingsError", "UsageError", "ShoplibError") else f"{name}: {first}" if first else name


def _read(path: Path) -> Any:
    import nbformat

    return nbformat.read(path, as_version=4) if path.is_file() else None


def section_of(notebook: Any) -> str:
    """Return the heading above the cell that failed."""
    heading = ""
    for cell in notebook.cells if notebook is not None else ():
        if cell.cell_type == "markdown" and cell.source.startswith("#"):
            heading = cell.source.splitlines()[0].lstrip("# ")
        if any(output.output_type == "error" for output in cell.get("outputs", ())):
            return heading
    return ""
