"""`shoplib run`: from a shop's folder to its reports, two at a time, each moved into place when it is whole.

To add a report: write ``shoplib/reports/<name>.py`` with ``QUESTION``, ``Parameters``, ``answer`` and ``page``, and
``notebooks/<name>.ipynb``; its name stands in `discover.ORDER`. Nothing here is changed.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..errors import OutputError, UsageError
from ..locks import alone
from ..memory import is_large
from .discover import Report, by_length, chosen, reports
from .importing import ONE_AT_A_TIME
from .kernels import Kernels, ReportFailed, preflight
from .parameters import Given, declared, for_notebook, given, resolve
from .place import LOCK, put, workspace, write
from .terminal import Terminal

if TYPE_CHECKING:
    from ..intake.shop import Shop
    from .answer import Parameters

Prepare = Callable[["Shop", "Parameters", Callable[[str, float], None]], object]
Values = Mapping[str, Mapping[str, Any]]


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
    """What became of one report: its headline, or what went wrong; seconds it took; whether it could not be written."""

    report: str
    made: bool
    text: str
    seconds: float
    unwritten: bool = False

    def line(self) -> str:
        """Return the line a terminal shows."""
        return f"{self.report:<18} {self.seconds:5.1f} s  {'' if self.made else 'FAILED. '}{self.text}"


@dataclass(frozen=True)
class Run:
    """One run under way: what is asked, its own folder, its kernels, and the parameters once they are checked."""

    request: Request
    scratch: Path
    terminal: Terminal
    kernels: Kernels = field(default_factory=Kernels)
    values: Future[Values] = field(default_factory=Future)

    def report(self, report: Report) -> Outcome:
        """Make one report in its own kernel and move it into place, or keep what it left apart."""
        began = time.monotonic()
        home = self.scratch / f"{report.name}.run"
        home.mkdir()
        with self.kernels.one(home, (str(self.request.data), report.module_name)) as manager:
            text, made, unwritten = self._tried(report, self.values.result()[report.name], manager, home)
        outcome = Outcome(report.name, made, text, time.monotonic() - began, unwritten)
        self.terminal.say(outcome.line())
        return outcome

    def _tried(self, report: Report, values: Mapping[str, Any], manager: Any, home: Path) -> tuple[str, bool, bool]:
        """Return what there is to say of the report, whether it was made, and whether only the disk was in its way."""
        try:
            try:
                return self._make(report, values, manager, home), True, False
            except ReportFailed as fault:
                self.kernels.raise_if_stopped()
                self._keep_apart(report, fault, home)
                return str(fault), False, False
        except (OutputError, OSError) as error:
            return str(error) if isinstance(error, OutputError) else f"it cannot be written: {error.strerror}", False, True

    def _make(self, report: Report, values: Mapping[str, Any], manager: Any, home: Path) -> str:
        with ONE_AT_A_TIME:
            from .make import FAILED, make
        made = make(report, self.request.data, values, manager, home)
        put(made.folder, self.request.out)
        for ending in ("html", "ipynb"):
            (self.request.out / FAILED / f"{report.name}.{ending}").unlink(missing_ok=True)
        return made.answer.headline

    def _keep_apart(self, report: Report, fault: ReportFailed, home: Path) -> None:
        with ONE_AT_A_TIME:
            from .make import make_failed
        put(make_failed(report.name, fault, home), self.request.out)
        self.terminal.detail((home / "kernel.log").read_text("utf-8", errors="replace"))


def run(request: Request, terminal: Terminal | None = None) -> int:
    """Make the reports of one shop.

    Parameters
    ----------
    request : Request
        What is asked.
    terminal : Terminal, optional
        Where progress is told.

    Returns
    -------
    int
        0 all made, 1 a report failed.

    Raises
    ------
    ShoplibError
        Usage, settings, data or output folder; no report is made.
    """
    request = replace(request, data=request.data.resolve(), out=request.out.resolve())
    for folder in (request.data, request.out):
        check_name(folder)
    known = list(request.known) or reports()
    asked = chosen(request.names, known)
    values = given(request.settings, request.sets, [one.name for one in known], **_every(request))
    preflight()
    if request.jobs > 1 and is_large(request.data):
        (terminal := terminal or Terminal()).detail("The tables are large: reports are made one at a time, to spare memory.")
        request = replace(request, jobs=1)
    with workspace(request.out) as scratch:
        outcomes = _make_all(Run(request, scratch, terminal or Terminal()), asked, values)
        if all(one.unwritten for one in outcomes):
            raise OutputError("no report could be written", where=str(request.out), found=outcomes[0].text, to_do="make room, or use --out")
        _finish(request.out)
    return 0 if all(one.made for one in outcomes) else 1


def check_name(folder: Path) -> None:
    """Check that the name of a folder can be written into a file.

    Raises
    ------
    UsageError
        It holds bytes that are no text.
    """
    try:
        str(folder).encode()
    except UnicodeEncodeError:
        raise UsageError("the name of this folder, or of one above it, is not text in UTF-8", found=folder, to_do="rename it") from None


def _every(request: Request) -> dict[str, Any]:
    previous = str(request.previous.resolve()) if request.previous else None
    return {"as_of": request.as_of, "seed": request.seed, "previous": previous}


def _make_all(under_way: Run, asked: Sequence[Report], values: Given) -> list[Outcome]:
    """Start the kernels, read the shop, check every parameter, and only then run the notebooks."""
    with ThreadPoolExecutor(max(1, under_way.request.jobs), thread_name_prefix="report") as pool:
        futures = [pool.submit(under_way.report, report) for report in by_length(asked)]
        try:
            shop, typed = _checked(under_way, asked, values)
            plain = {report.name: for_notebook(typed[report.name], declared(report.notebook)) for report in asked}
            if under_way.request.cluster:
                _share(under_way, asked, shop, typed)
            under_way.values.set_result(plain)
            if not under_way.request.cluster:
                _share(under_way, asked, shop, typed)
            _get_ready()
            return [future.result() for future in futures]
        except BaseException as error:
            under_way.kernels.stop()
            pool.shutdown(wait=False, cancel_futures=True)
            if not under_way.values.done():
                under_way.values.set_exception(error)
            raise


def _checked(under_way: Run, asked: Sequence[Report], values: Given) -> tuple[Shop, dict[str, Parameters]]:
    """Read the shop, write and tell the lists, check the parameters."""
    with ONE_AT_A_TIME:
        from .lists import read_shop, spoken
    request = under_way.request
    shop = read_shop(request.data, request.out, request.workers)
    typed = {report.name: _resolved(report, shop, values, request) for report in asked}
    for line in spoken(shop, request.out, request.workers):
        under_way.terminal.say(line)
    return shop, typed


def _share(under_way: Run, asked: Sequence[Report], shop: Shop, typed: Mapping[str, Parameters]) -> None:
    """Compute what several reports need into the cache, where a notebook that asks first waits for it.

    On a cluster this comes before the first notebook, so that all of it is handed over; else beside the first notebooks.
    """
    terminal = under_way.terminal
    with on_cluster(under_way.request.cluster):
        for report in asked:
            prepare: Prepare | None = getattr(report.module, "prepare", None)
            if prepare is None:
                continue
            try:
                prepare(shop, typed[report.name], terminal.progress)
            except Exception as error:  # the notebook meets the same fault and tells it as its own
                terminal.detail(f"{report.name}: {type(error).__name__}: {error}")


def _get_ready() -> None:
    """Load what turns notebooks into pages while they run."""
    with ONE_AT_A_TIME:
        from .make import get_ready

        get_ready()


def _resolved(report: Report, shop: Shop, values: Given, request: Request) -> Parameters:
    """Return a report's parameters; one that looks back is given the newest earlier review when none is named."""
    parameters = resolve(report, shop.settings.reports, values)
    if "previous" not in type(parameters).model_fields or getattr(parameters, "previous", None):
        return parameters
    from ..intake import as_of

    day = parameters.as_of or as_of(shop)
    earlier, replayed = earlier_review(request.out, day), later_review(request.out, day)
    found = {**({"previous": str(earlier)} if earlier else {}), **({"replayed": True} if replayed else {})}
    return resolve(report, shop.settings.reports, values.with_command(report.name, **found)) if found else parameters


def earlier_review(out: Path, day: date) -> Path | None:
    """Return the newest answers file of a review in `out` made to a day before `day`."""
    return max((file for file in out.glob("????-??-??/monthly_review.json") if file.parent.name < day.isoformat()), default=None)


def later_review(out: Path, day: date) -> bool:
    """Tell whether `out` holds a review made to a later day than `day`: what is forecast now is then only replayed."""
    return any(file.parent.name > day.isoformat() for file in out.glob("????-??-??/monthly_review.json"))


@contextmanager
def on_cluster(address: str) -> Iterator[None]:
    """Hand joblib's work to the Dask scheduler at `address` while the block runs; nothing changes without one."""
    if not address:
        yield
        return
    with ONE_AT_A_TIME:
        import joblib

        from ..workshop.cluster import connect

        connected = connect(address)
    with connected as client, joblib.parallel_config(backend="dask", client=client):
        yield


def _finish(out: Path) -> None:
    """Build the index from what lies in the folder."""
    from .index import index_html

    try:
        with alone(out / LOCK):
            write(out / "index.html", index_html(out))
    except OSError as error:
        raise OutputError("the index cannot be written", where=str(out), found=error.strerror, to_do="make room and run again") from error
