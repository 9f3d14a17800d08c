"""A group of shops: a folder whose sub-folders hold shop.toml, each shop into its own place."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from ..errors import ShoplibError
from .index import entries, overview
from .place import workspace, write
from .run import Request, run
from .terminal import Terminal


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
    """Make the reports of each shop; one that fails does not stop the others."""
    rows = []
    for shop in shops:
        terminal.say(shop.name)
        place = replace(request, data=shop, out=request.out / shop.name)
        try:
            code, text = run(place, terminal), ""
        except ShoplibError as error:
            code, text = 1, str(error)
            terminal.say(text)
        found = entries(place.out) if place.out.is_dir() else []
        rows.append((shop.name, found[0].shop if found else shop.name, code, text or (found[0].headline if found else "")))
    with workspace(request.out):
        write(request.out / "index.html", overview(rows))
    return 0 if all(code == 0 for _, _, code, _ in rows) else 1
