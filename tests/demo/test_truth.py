"""truth.json says all that made the history."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from shoplib.demo.parameters import STAGES
from shoplib.demo.staff import PEOPLE


@pytest.fixture(scope="module")
def truth(folder: Path) -> dict[str, Any]:
    """The file as read."""
    found: dict[str, Any] = json.loads((folder / "truth.json").read_text(encoding="utf-8"))
    return found


def test_it_is_complete(truth: dict[str, Any]) -> None:
    """Every chapter a test of accuracy may ask for is there."""
    chapters = {
        "size",
        "stages",
        "work_time",
        "returns",
        "people",
        "learning",
        "dispatch",
        "quoting",
        "demand",
        "response",
        "metal",
        "overtime",
    }
    assert chapters <= set(truth)


def test_every_stage_has_its_work_time_and_loss(truth: dict[str, Any]) -> None:
    """Eleven stages, each with hours, spread and loss by alloy."""
    assert [s["name"] for s in truth["stages"]] == [s.name for s in STAGES]
    assert all(s["sigma"] > 0 and s["fixed_h"] > 0 and len(s["loss_permille"]) == 4 for s in truth["stages"])


def test_presence_of_every_person(truth: dict[str, Any]) -> None:
    """Each person has a share on orders and shares of absence between 0 and 1."""
    assert [p["code"] for p in truth["people"]] == [p.code for p in PEOPLE]
    for person in truth["people"]:
        assert 0.5 < person["on_orders_share"] < 1
        assert 0 <= person["planned_absence_share"] + person["unplanned_absence_share"] < 0.3


def test_white_returns_most(truth: dict[str, Any]) -> None:
    """The odds to go back to soldering are highest for white."""
    odds = truth["returns"]["to_solder"]["odds"]
    assert max(odds, key=odds.get) == "18k white"
