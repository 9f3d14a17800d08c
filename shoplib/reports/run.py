"""`shoplib run`: from a shop's folder to its reports, two at a time, each moved into place when it is whole.

To add a report: write ``shoplib/reports/<name>.py`` with ``QUESTION``, ``Parameters``, ``answer`` and ``page``, and
``notebooks/<name>.ipynb``; its name stands in `discover.ORDER`. Nothing here is changed.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..locks import alone
from .discover import Report, chosen, reports
from .kernels import ReportFailed, kernel, preflight
from .parameters import Given, declared, for_notebook, given, resolve
from .place import LOCK, put, workspace, write

if TYPE_CHECKING:
    from .answer import Parameters

Say = Callable[[str], None]


@dataclass(frozen=True)
class Request:
    """What is asked of a run.

    Parameters
    ----------
    data, out : Path
        The shop, and the folder its reports go to.
    names : tuple of str
        Reports; all when empty.
    as_of, seed, previous
        Go to every report that takes them; None leaves them to the report.
    settings : Path, optional
        A TOML file with one table a report.
    sets : tuple of str
        ``REPORT.NAME=VALUE``.
    jobs : int
        Reports made at once.
    cluster : str
        Address of a Dask scheduler for what the reports share.
    workers : bool
        False leaves the workers' codes out of the lists.
    known : tuple of Report
        The reports there are; left out: those of this package.
    """

    data: Path
    out: Path
    names: tuple[str, ...] = ()
    as_of: date | None = None
    seed: int | None = None
    previous: Path | None = None
    settings: Path | None = None
    sets: tuple[str, ...] = ()
    jobs: int = 2
    cluster: str = ""
    workers: bool = True
    known: tuple[Report, ...] = ()


@dataclass(frozen=True)
class Outcome:
    """What became of one report: its headline, or what went wrong; seconds it took."""

    report: str
    made: bool
    text: str
    seconds: float


def run(request: Request, say: Say = print) -> int:
    """Make the reports of one shop.

    Parameters
    ----------
    request : Request
        What is asked.
    say : callable
        Takes one line of progress.

    Returns
    -------
    int
        0 all made, 1 a report failed.

    Raises
    ------
    ShoplibError
        Usage, settings, data or output folder; no report is made.
    """
    known = list(request.known) or reports()
    asked = chosen(request.names, known)
    values = given(request.settings, request.sets, [one.name for one in known], **_every(request))
    preflight()
    with workspace(request.out) as scratch:
        outcomes = _make_all(request, asked, values, scratch, say)
        _finish(request.out)
    return 0 if all(one.made for one in outcomes) else 1


def _every(request: Request) -> dict[str, Any]:
    previous = str(request.previous.resolve()) if request.previous else None
    return {"as_of": request.as_of, "seed": request.seed, "previous": previous}


def _make_all(request: Request, asked: Sequence[Report], values: Given, scratch: Path, say: Say) -> list[Outcome]:
    """Start the kernels, read the shop, check every parameter, and only then run the notebooks."""
    ready: Future[tuple[Path, dict[str, dict[str, Any]]]] = Future()
    pool = ThreadPoolExecutor(max(1, request.jobs), thread_name_prefix="report")
    try:
        futures = [pool.submit(_one, report, request, ready, scratch, say) for report in asked]
        ready.set_result(_prepare(request, asked, values, say))
        return [future.result() for future in futures]
    except BaseException as error:
        if not ready.done():
            ready.set_exception(error)
        pool.shutdown(wait=True, cancel_futures=True)
        raise
    finally:
        pool.shutdown(wait=True)


def _prepare(request: Request, asked: Sequence[Report], values: Given, say: Say) -> tuple[Path, dict[str, dict[str, Any]]]:
    """Read the shop, write the lists, and return each report's parameters as its notebook takes them."""
    from .lists import read_shop

    shop = read_shop(request.data, request.out, request.workers)
    typed = {report.name: resolve(report, shop.settings.reports, values) for report in asked}
    plain = {report.name: for_notebook(typed[report.name], declared(report.notebook)) for report in asked}
    for tally in shop.tallies:
        say(tally.line())
    with cluster(request.cluster):
        for report in asked:
            _share(report, shop, typed[report.name])
    return request.data.resolve(), plain


def _share(report: Report, shop: Any, parameters: Parameters) -> None:
    """Let a report fill the cache with what others need as well."""
    prepare = getattr(report.module, "prepare", None)
    if prepare is not None:
        prepare(shop, parameters)


def cluster(address: str) -> AbstractContextManager[Any]:
    """Hand joblib's work to the Dask scheduler at `address` while the block runs; nothing changes without one."""
    from contextlib import nullcontext

    if not address:
        return nullcontext()
    import joblib
    from distributed import Client

    return joblib.parallel_config(backend="dask", client=Client(address))  # type: ignore[no-any-return]


def _one(report: Report, request: Request, ready: Future[tuple[Path, dict[str, dict[str, Any]]]], scratch: Path, say: Say) -> Outcome:
    """Make one report in its own kernel and move it into place, or keep what it left apart."""
    began = time.monotonic()
    warm = (str(request.data.resolve()), report.module_name)
    home = scratch / f"{report.name}.run"
    home.mkdir()
    with kernel(home, scratch / f"{report.name}.log", warm) as manager:
        from . import make

        data, plain = ready.result()
        try:
            made = make.make(report, data, plain[report.name], manager, home)
            put(made.folder, request.out)
            _forget_failure(request.out, report.name)
            outcome = Outcome(report.name, True, made.answer.headline, time.monotonic() - began)
        except ReportFailed as fault:
            folder = make.make_failed(report.name, fault, home)
            if folder is not None:
                put(folder, request.out)
            outcome = Outcome(report.name, False, str(fault), time.monotonic() - began)
    say(line_of(outcome))
    return outcome


def line_of(outcome: Outcome) -> str:
    """Return the line a terminal shows of a report: name, seconds, headline or what failed."""
    text = outcome.text if outcome.made else f"FAILED. {outcome.text}"
    clean = "".join(sign if sign.isprintable() or sign == "\u00a0" else "·" for sign in text)
    return f"{outcome.report:<18} {outcome.seconds:5.1f} s  {clean}"


def _forget_failure(out: Path, report: str) -> None:
    for ending in ("html", "ipynb"):
        (out / "failed" / f"{report}.{ending}").unlink(missing_ok=True)


def _finish(out: Path) -> None:
    """Build the index from what lies in the folder."""
    from .index import index_html

    with alone(out / LOCK):
        write(out / "index.html", index_html(out))
