"""A group of shops: each into its own place, one that fails does not stop the others."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from shoplib.reports.group import run_any, shops_in
from shoplib.reports.run import Request
from shoplib.reports.terminal import Terminal

from .runs import sample, small_shop


def test_sub_folders_with_shop_toml_are_a_group(tmp_path: Path) -> None:
    """Others are not looked at."""
    (tmp_path / "notes").mkdir()
    small_shop(tmp_path / "b")
    small_shop(tmp_path / "a")
    assert [shop.name for shop in shops_in(tmp_path)] == ["a", "b"]


def test_a_shop_is_no_group(tmp_path: Path) -> None:
    """Even with shops below it."""
    small_shop(small_shop(tmp_path) / "below")
    assert shops_in(tmp_path) == []


@pytest.fixture(scope="module")
def group(tmp_path_factory: pytest.TempPathFactory) -> tuple[int, Path]:
    home = tmp_path_factory.mktemp("group")
    small_shop(home / "data/bad", orders="order_id\n")
    small_shop(home / "data/good", "Good <i>shop</i>")
    request = Request(home / "data", home / "out", known=sample("gallery"))
    return run_any(request, Terminal(quiet=True)), home / "out"


def test_a_shop_that_fails_makes_exit_code_1(group: tuple[int, Path]) -> None:
    """The others were made."""
    assert (group[0], (group[1] / "good/2026-03-31/gallery.html").is_file()) == (1, True)


def test_each_shop_has_its_own_lists(group: tuple[int, Path]) -> None:
    """Under the name of its sub-folder."""
    assert (group[1] / "good/rejected_rows.csv").is_file()


def test_the_overview_links_each_shop_and_says_what_went_wrong(group: tuple[int, Path]) -> None:
    """With its name escaped."""
    page = (group[1] / "index.html").read_text("utf-8")
    assert all(text in page for text in ('href="good/index.html"', "Good &lt;i&gt;shop&lt;/i&gt;", "orders.csv"))


def test_the_overview_links_only_what_is_there(group: tuple[int, Path]) -> None:
    """A shop that could not be read has no page yet."""
    links = re.findall(r'href="([^"]*)"', (group[1] / "index.html").read_text("utf-8"))
    assert links and [link for link in links if not (group[1] / link).is_file()] == []


def test_a_cluster_makes_the_same_files(tmp_path: Path) -> None:
    """Each shop on a worker, two of them at once."""
    distributed = pytest.importorskip("distributed", reason="no Dask: shops on a cluster are not tested")
    for name in ("a", "b"):
        small_shop(tmp_path / "data" / name, f"Shop {name}")
    here = Request(tmp_path / "data", tmp_path / "here", known=sample("gallery"))
    with distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster:
        there = replace(here, out=tmp_path / "there", cluster=cluster.scheduler_address)
        codes = [run_any(one, Terminal(quiet=True)) for one in (here, there)]
    files = ["a/2026-03-31/gallery.html", "b/2026-03-31/gallery.json", "index.html"]
    assert codes == [0, 0] and all((tmp_path / "here" / file).read_bytes() == (tmp_path / "there" / file).read_bytes() for file in files)
