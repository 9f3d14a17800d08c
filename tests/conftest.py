"""One cache folder for the whole session, so that what several tests need is computed once."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

settings.register_profile("same_every_time", derandomize=True)
settings.load_profile("same_every_time")



@pytest.fixture(scope="session", autouse=True)
def shared_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Point the package's cache at a folder of this session; the user's own is never touched by a test."""
    folder, before = tmp_path_factory.mktemp("shared_cache"), os.environ.get("SHOPLIB_CACHE")
    os.environ["SHOPLIB_CACHE"] = str(folder)
    yield folder
    if before is None:
        del os.environ["SHOPLIB_CACHE"]
    else:
        os.environ["SHOPLIB_CACHE"] = before
