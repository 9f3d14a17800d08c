"""Small shops and runs of the sample reports, for the tests of the run and of the page."""

from __future__ import annotations

import io
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from shoplib.reports.discover import Report
from shoplib.reports.run import Request, run
from shoplib.reports.terminal import Terminal

ROOT = Path(__file__).parents[2]
SAMPLE = Path(__file__).parent / "sample"
HOSTILE = "<img src=x onerror=alert(1)>"
SHOP_TOML = """[shop]
name = "Bench <b>One</b> (invented)"
currency = "EUR"

[[alloys]]
code = "18k yellow"
metal = "gold"
fineness = 750
"""
ORDERS = f"""order_id,ordered_on,style,alloy,quoted_weight_g,price,delivered_on,finished_weight_g
A1,2026-01-05,rope,18k yellow,100,9000,2026-02-10,98
A2,2026-01-09,curb,18k yellow,80,7000,2026-03-01,79
{HOSTILE},2026-02-09,curb,18k yellow,80,7000,,
=A9,2026-02-09,curb,18k yellow,80,seven,,
"""
PRICES = "date,metal,price\n2026-01-02,gold,70\n2026-03-02,gold,75\n"


def small_shop(folder: Path, name: str = "", orders: str = ORDERS) -> Path:
    """Write a shop of four orders, one of them to be rejected, and return its folder."""
    folder.mkdir(parents=True, exist_ok=True)
    text = SHOP_TOML.replace("Bench <b>One</b> (invented)", name) if name else SHOP_TOML
    (folder / "shop.toml").write_text(text, "utf-8")
    (folder / "orders.csv").write_text(orders, "utf-8")
    (folder / "metal_prices.csv").write_text(PRICES, "utf-8")
    return folder


def sample(*names: str) -> tuple[Report, ...]:
    """Return sample reports: notebooks of these names, all answered by the gallery."""
    return tuple(Report(name, "tests.reports.sample.gallery", SAMPLE / "notebooks" / f"{name}.ipynb") for name in names)


def made(data: Path, out: Path, *names: str, **more: object) -> tuple[int, list[str]]:
    """Run sample reports and return the exit code and the lines said."""
    heard = io.StringIO()
    code = run(Request(data, out, known=sample(*names), **more), Terminal(out=heard, bar=None))  # type: ignore[arg-type]
    return code, heard.getvalue().splitlines()


@contextmanager
def kernels_find_samples(cache: Path) -> Iterator[None]:
    """Let kernels import the sample reports, and keep the cache apart from the user's."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PYTHONPATH", os.pathsep.join([str(ROOT), *filter(None, [os.environ.get("PYTHONPATH")])]))
        patch.setenv("SHOPLIB_CACHE", str(cache))
        yield
