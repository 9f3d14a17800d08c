"""Which reports there are: one module and one notebook of the same name each.

A report plugs in by two files, ``shoplib/reports/<name>.py`` and ``notebooks/<name>.ipynb``; nothing is registered.
The module holds ``QUESTION``, ``Parameters``, ``answer(shop, parameters)`` and ``page(answer)``; it may hold
``prepare(shop, parameters)``, which fills the cache with what several reports share.
"""

from __future__ import annotations

import importlib
import importlib.util
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType

from ..errors import UsageError, nearest

ORDER = ("monthly_review", "margin", "throughput", "lead_time", "hiring", "price_sensitivity", "metal_balance")
REVIEW = "monthly_review"
"""Listed first and made last: it reads what the others have said."""
LONGEST = ("lead_time", "hiring", "throughput", "price_sensitivity")
"""Begun first, longest first, so that no processor waits for one of them at the end."""
PACKAGE = "shoplib.reports"


@dataclass(frozen=True)
class Report:
    """One report: its name, the module that answers and the notebook that shows.

    Parameters
    ----------
    name : str
        As in the command.
    module_name : str
        Importable name of its module.
    notebook : Path
        Its source notebook.
    """

    name: str
    module_name: str
    notebook: Path

    @property
    def module(self) -> ModuleType:
        """The report's module, imported now."""
        return importlib.import_module(self.module_name)


def notebooks_folder() -> Path:
    """Return the folder of the source notebooks: beside the package in a checkout, inside it when installed."""
    package = Path(__file__).parents[1]
    inside = package / "notebooks"
    return inside if inside.is_dir() else package.parent / "notebooks"


def reports(names: Iterable[str] = ORDER, package: str = PACKAGE, folder: Path | None = None) -> list[Report]:
    """Return the reports that are there, in the order of `names`.

    Parameters
    ----------
    names : iterable of str
        Reports to look for.
    package : str
        Package whose modules they are.
    folder : Path, optional
        Folder of their notebooks; left out: `notebooks_folder`.
    """
    home = folder or notebooks_folder()
    known = [Report(name, f"{package}.{name}", home / f"{name}.ipynb") for name in names]
    return [one for one in known if one.notebook.is_file() and importlib.util.find_spec(one.module_name) is not None]


def by_length(asked: Iterable[Report]) -> list[Report]:
    """Return reports in the order in which they are begun: the longest first, the review last."""
    place = {name: number for number, name in enumerate(LONGEST)}
    return sorted(asked, key=lambda one: (one.name == REVIEW, place.get(one.name, len(place))))


def chosen(names: Iterable[str], known: list[Report]) -> list[Report]:
    """Return the reports asked for, in the known order; all of them when none is named.

    Raises
    ------
    UsageError
        A name is not known; the nearest is suggested.
    """
    asked = list(names)
    for name in asked:
        if name not in [one.name for one in known]:
            near = nearest(name, [one.name for one in known])
            hint = f"did you mean {near}?" if near else "`shoplib list` shows the reports"
            raise UsageError("there is no such report", found=name, allowed=", ".join(one.name for one in known), to_do=hint)
    return [one for one in known if not asked or one.name in asked]
