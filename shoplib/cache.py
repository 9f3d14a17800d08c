"""What several reports share is computed once and kept in the user's cache folder.

``cached("fit", [shop.fingerprint, as_of, seed], lambda: fit(shop, as_of))`` returns the object from the cache, or computes
and keeps it. The key holds what is given, a hash of this package's source and the versions of what computes; two processes
that want the same object at once wait for each other. A file is written aside and renamed, carries its own sha256, and
is computed anew when it does not hold. Cold and warm give the same object.

The folder is the user's cache folder, or ``SHOPLIB_CACHE``; it can be deleted at any time.
"""

from __future__ import annotations

import hashlib
import json
import logging
import os
import pickle
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path
from typing import TypeVar

from .locks import FileLock
from .memory import give_back

Kept = TypeVar("Kept")
DIGEST_BYTES = 32
KEEP_DAYS = 30
log = logging.getLogger(__name__)


def cached(what: str, key: Sequence[object], compute: Callable[[], Kept]) -> Kept:
    """Return the object kept under `what` and `key`, or compute and keep it.

    Parameters
    ----------
    what : str
        Names the kind of object, a plain word.
    key : sequence
        All that the object depends on: fingerprint of the shop, as-of date, seed, parameters. Entries are written as
        JSON, dates and others as their text.
    compute : callable
        Computes the object; it must be picklable.
    """
    name = f"{what}-{key_of(key)}"
    try:
        folder = cache_folder()
        with FileLock(folder / f"{name}.lock"):
            return _kept(folder / name, compute)
    except OSError as error:
        log.warning("The cache folder cannot be used (%s); %s is computed without it.", error.strerror, what)
        return compute()


def cache_folder() -> Path:
    """Return the cache folder, made when it is not there."""
    asked = os.environ.get("SHOPLIB_CACHE")
    if not asked:
        import platformdirs

        asked = platformdirs.user_cache_dir("shoplib", appauthor=False)
    folder = Path(asked)
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    return folder


def key_of(key: Sequence[object]) -> str:
    """Return the hash of `key`, of this package's source and of the versions that compute."""
    text = json.dumps(list(key), sort_keys=True, default=str)
    return hashlib.sha256(f"{text}|{source_hash()}".encode()).hexdigest()[:32]


@lru_cache(maxsize=1)
def source_hash() -> str:
    """Return a hash of every source file of this package, of Python's version and of the libraries that compute."""
    digest = hashlib.sha256(f"{sys.version} {[version(name) for name in ('numpy', 'pandas', 'scipy', 'numba')]}".encode())
    package = Path(__file__).parent
    for file in sorted(package.rglob("*.py")):
        digest.update(file.relative_to(package).as_posix().encode() + b"\0" + file.read_bytes())
    return digest.hexdigest()


def _kept(file: Path, compute: Callable[[], Kept]) -> Kept:
    content = file.read_bytes() if file.is_file() else b""
    packed = memoryview(content)[DIGEST_BYTES:]
    if content and hashlib.sha256(packed).digest() == content[:DIGEST_BYTES]:
        kept: Kept = pickle.loads(packed)
        return kept
    fresh = compute()
    _write(file, pickle.dumps(fresh, protocol=pickle.HIGHEST_PROTOCOL))
    _forget_old(file.parent)
    give_back()
    return fresh


def _write(file: Path, packed: bytes) -> None:
    """Write aside and rename; a cache that is full or read-only costs time, not the answer."""
    aside = ""
    try:
        with tempfile.NamedTemporaryFile(dir=file.parent, prefix=".", delete=False) as handle:
            aside = handle.name
            handle.write(hashlib.sha256(packed).digest())
            handle.write(packed)
        os.replace(aside, file)
    except OSError as error:
        log.warning("The cache could not keep %s (%s).", file.name, error.strerror)
        Path(aside).unlink(missing_ok=True) if aside else None


def _forget_old(folder: Path) -> None:
    """Remove what nothing has written for a month; a file another process just removed is no trouble, a read-only folder not much."""
    limit = time.time() - KEEP_DAYS * 86_400
    for file in folder.iterdir():
        try:
            if file.is_file() and file.stat().st_mtime < limit:
                file.unlink()
        except FileNotFoundError:
            continue
        except OSError as error:
            log.warning("The cache cannot remove what is old (%s).", error.strerror)
            return
