"""A group of shops: a folder whose sub-folders hold shop.toml, each shop into its own place."""

from __future__ import annotations

import io
from dataclasses import replace
from pathlib import Path

from ..errors import ShoplibError, shown
from .index import entries, overview
from .place import workspace, write
from .run import Request, on_cluster, run
from .terminal import Terminal

NOT_ALL = "Not all reports were made; the list says which."


def shops_in(data: Path) -> list[Path]:
    """Return the sub-folders that hold a shop; none when `data` is a shop itself or a workbook."""
    if not data.is_dir() or (data / "shop.toml").is_file():
        return []
    return sorted(folder for folder in data.iterdir() if (folder / "shop.toml").is_file())


def run_any(request: Request, terminal: Terminal | None = None) -> int:
    """Make the reports of a shop, or of each shop of a group.

    Returns
    -------
    int
        0 all made; 1 a report, or a shop of a group, failed.
    """
    shops = shops_in(request.data)
    return run_group(request, shops, terminal or Terminal()) if shops else run(request, terminal)


def run_group(request: Request, shops: list[Path], terminal: Terminal) -> int:
    """Make the reports of each shop, one after another or, with a cluster, one a worker; one that fails stops no other."""
    if request.cluster:
        import joblib

        with on_cluster(request.cluster):
            alone = replace(request, cluster="", jobs=1)
            made = joblib.Parallel(n_jobs=-1)(joblib.delayed(_heard)(alone, shop) for shop in shops)
        for said, _ in made:
            for line in said.splitlines():
                terminal.say(line)
        wrongs = [wrong for _, wrong in made]
    else:
        wrongs = [_one_shop(request, shop, terminal) for shop in shops]
    rows = [_row(request.out / shop.name, shop.name, wrong) for shop, wrong in zip(shops, wrongs, strict=True)]
    with workspace(request.out):
        write(request.out / "index.html", overview(rows))
    return int(any(wrongs))


def _heard(request: Request, shop: Path) -> tuple[str, str]:
    """Make the reports of one shop on a worker and return what was said, and what went wrong."""
    heard = io.StringIO()
    wrong = _one_shop(request, shop, Terminal(out=heard, bar=None))
    return heard.getvalue().rstrip("\n"), wrong


def _one_shop(request: Request, shop: Path, terminal: Terminal) -> str:
    """Make the reports of one shop; return what went wrong, nothing when all were made."""
    terminal.say(shop.name)
    try:
        return "" if run(replace(request, data=shop, out=request.out / shop.name), terminal) == 0 else NOT_ALL
    except ShoplibError as error:
        for line in str(error).splitlines():
            terminal.say(line)
        return str(error)


def _row(out: Path, folder: str, wrong: str) -> tuple[str, str, int, str]:
    found = entries(out) if out.is_dir() else []
    code = 0 if not wrong else 1 if (out / "index.html").is_file() else 2
    return folder, found[0].shop if found else shown(Path(folder)), code, wrong or (found[0].headline if found else "")
