"""Opening a shop: read once, then taken from the cache by every notebook of the run."""

from __future__ import annotations

from pathlib import Path

from ..cache import cached
from ..errors import DataError
from ..intake import load
from ..intake.shop import Shop
from ..intake.text import sha256_of


def open_shop(data: Path | str) -> Shop:
    """Return the shop of a folder or workbook, read anew only when one of its files has changed.

    Parameters
    ----------
    data : Path or str
        As `shoplib.intake.load` takes it.

    Raises
    ------
    SettingsError, DataError
        As `load` raises them.
    """
    path = located(Path(data)).resolve()
    files = fingerprints(path)
    return cached("shop", files, lambda: load(path)) if files else load(path)


def located(data: Path) -> Path:
    """Return where a relative path lies: below the working folder, or beside it when a notebook is opened by hand."""
    beside = Path.cwd().parent / data
    return beside if not data.is_absolute() and not data.exists() and beside.exists() else data


def fingerprints(path: Path) -> list[tuple[str, str]]:
    """Return name and sha256 of each file that could belong to the shop; empty when one cannot be read."""
    home = path if path.is_dir() else path.parent
    try:
        files = sorted(file for file in home.iterdir() if file.is_file() and (path.is_dir() or file in (path, home / "shop.toml")))
        return [(path.name if path.is_file() else "", ""), *((file.name, sha256_of(file)) for file in files)]
    except (OSError, DataError):
        return []


def warm(data: str, module: str) -> None:
    """Import a report's module and read the shop while the kernel has nothing else to do."""
    import importlib

    importlib.import_module(module)
    open_shop(data)
