"""One cache folder for the whole session, so that what several tests need is computed once."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings

settings.register_profile("same_every_time", derandomize=True)
settings.load_profile("same_every_time")


@pytest.fixture(scope="session", autouse=True)
def shared_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Point the package's cache at a folder of this session; the user's own is never touched by a test."""
    folder, before = cache_of_all(tmp_path_factory.getbasetemp()), os.environ.get("SHOPLIB_CACHE")
    os.environ["SHOPLIB_CACHE"] = str(folder)
    yield folder
    if before is None:
        del os.environ["SHOPLIB_CACHE"]
    else:
        os.environ["SHOPLIB_CACHE"] = before


def cache_of_all(own: Path) -> Path:
    """Return the folder that all processes of a session share."""
    folder = (own.parent if "PYTEST_XDIST_WORKER" in os.environ else own) / "shared_cache"
    folder.mkdir(exist_ok=True)
    return folder


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> object:
    """Keep the tests of a folder in one process: they share what they make."""
    from xdist.scheduler import LoadScopeScheduling

    class ByFolder(LoadScopeScheduling):
        def _split_scope(self, nodeid: str) -> str:
            file = nodeid.split("::")[0]
            folder = file.rpartition("/")[0]
            return file if folder == "tests" else folder

    return ByFolder(config, log)
