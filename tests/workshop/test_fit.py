"""The whole fit: what it rests on, what it leaves alone, and shops that give it little or odd things to read."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shoplib.errors import UsageError
from shoplib.intake.shop import Shop
from shoplib.workshop import fit, fitted, state
from shoplib.workshop.model import Workshop
from shoplib.workshop.replicate import simulate
from tests.flow.shops import AS_OF, TOML, entry, order, shop_of

ROUTE = (("roll", "A", 0, 2.0), ("solder", "A", 1, 3.0), ("tighten", "B", 2, 1.0), ("polish", "B", 3, 2.0))
MONDAYS = [str(np.datetime64("2025-12-01") + 7 * week) for week in range(16)]


def busy_shop(weeks: int = 16, toml: str = TOML, labour: list[Any] | None = None, orders: list[Any] | None = None, **tables: Any) -> Shop:
    """Return a shop with an order a week for sixteen weeks, each worked on in its first four days."""
    rows, work = [], []
    for number, monday in enumerate(MONDAYS[:weeks]):
        day = np.datetime64(monday)
        rows.append(order(f"N{number}", monday, delivered_on=str(day + 7), finished_weight_g=40.0, first_promised_on=str(day + 14)))
        work += [entry(f"N{number}", stage, who, str(day + after), hours) for stage, who, after, hours in ROUTE]
    return shop_of(toml, orders=[*rows, *(orders or [])], labour=[*work, *(labour or [])], **tables)


def runs(shop: Shop, day: date = AS_OF) -> Workshop:
    """Fit, take the state and simulate a month: the workshop is whole when that works."""
    workshop = fit(shop, day, draws=8)
    records = simulate(workshop, state(shop, workshop, day), horizon_days=30, seed=1, replications=4)
    assert records.cut == 0
    return workshop


def bits(workshop: Workshop) -> dict[str, bytes]:
    """Return the bytes of every field but the sentences."""
    return {name: np.asarray(getattr(workshop, name)).tobytes() for name in Workshop.__dataclass_fields__ if name != "assumptions"}


def test_a_plain_shop_is_fitted() -> None:
    """Sixteen orders of the same piece: hours as booked, everybody's skills, holidays of none."""
    workshop = runs(busy_shop())
    told = workshop.expected_hours(np.array([0]), np.array([0]), np.array([40.0]))[0]
    assert told == pytest.approx([2.0, 3.0, 1.0, 2.0], rel=0.1)
    assert workshop.people.tolist() == ["A", "B"] and workshop.can.tolist() == [[True, True, False, False], [False, False, True, True]]


def test_draws_stand_beside_the_estimate() -> None:
    """Every uncertain part has the same number of draws."""
    workshop = fit(busy_shop(), AS_OF, draws=17)
    assert workshop.draws == 17


def test_the_same_seed_gives_the_same_workshop(tmp_path: Path) -> None:
    """Twice the same shop and seed: the same bytes in every field; another seed: other draws."""
    one, two, other = (fit(busy_shop(), AS_OF, seed, draws=8) for seed in (1, 1, 2))
    assert bits(one) == bits(two)
    assert not np.array_equal(one.work_intercept[1:], other.work_intercept[1:])
    one.save(tmp_path / "workshop.npz")
    assert Workshop.load(tmp_path / "workshop.npz").stages.tolist() == one.stages.tolist()


def test_later_rows_change_nothing() -> None:
    """Orders, entries and absences after the day fitted are left out: taking them away moves no field."""
    day = date(2026, 1, 30)
    whole = busy_shop(absences=[{"worker": "A", "from": "2026-02-10", "to": "2026-02-12", "planned": True}])
    early = busy_shop(weeks=9)
    ours, theirs = fit(whole, day, draws=8), fit(early, day, draws=8)
    assert bits(ours) == bits(theirs)


def test_everything_assumed_is_a_finding() -> None:
    """The sentences of the workshop are the texts of the findings."""
    found = fitted(busy_shop(), AS_OF, draws=8)
    assert found.workshop.assumptions.tolist() == [finding.text for finding in found.findings]
    assert {"dispatch_assumed", "quoting_assumed", "no_quotes", "dates_only", "handover_assumed"} <= {finding.code for finding in found.findings}


def test_planned_absences_ahead_are_known_at_the_shops_own_day_only() -> None:
    """On the last day the holiday of April is known; from a past day it is not."""
    shop = busy_shop(absences=[{"worker": "A", "from": "2026-04-06", "to": "2026-04-10", "planned": True}],
                     labour=[entry("N15", "polish", who, str(AS_OF), 1.0) for who in "AB"])
    assert fit(shop, AS_OF, draws=2).away_person.tolist() == [0]
    assert fit(shop, date(2026, 2, 27), draws=2).away_person.tolist() == []


def test_a_stage_never_visited_is_out_of_the_route_and_said() -> None:
    """shop.toml names a stage nobody books."""
    toml = TOML.replace('[[workers]]\ncode = "A"', '[[stages]]\nname = "engrave"\n[[workers]]\ncode = "A"', 1)
    found = fitted(busy_shop(toml=toml), AS_OF, draws=8)
    assert not found.workshop.passes[:, :, 4].any() and "stage_never_visited" in {finding.code for finding in found.findings}
    runs(busy_shop(toml=toml))


def test_one_person_is_modelled() -> None:
    """Somebody works alone."""
    toml = TOML[: TOML.index("[[workers]]")] + '[[workers]]\ncode = "A"\nskills = ["roll", "solder", "tighten", "polish"]\n'
    shop = busy_shop(toml=toml, labour=[])
    alone = shop_of(toml, orders=shop["orders"].drop(columns="row").to_dict("records"),
                    labour=[{**row, "worker": "A"} for row in shop["labour"].drop(columns="row").to_dict("records")])
    assert runs(alone).people.tolist() == ["A"]


def test_one_order_is_modelled() -> None:
    """A single order, half done: the stages it has not seen are said to be left out."""
    workshop = runs(shop_of(orders=[order("X")], labour=[entry("X", "roll", "A", "2026-03-23", 1.0)]))
    assert any("No order was ever booked at solder, tighten, polish" in text for text in workshop.assumptions)


def test_no_entry_at_all_is_modelled_on_standard_hours() -> None:
    """No labour table: standard hours of shop.toml lead, the rest is assumed."""
    toml = TOML.replace('name = "solder"', 'name = "solder"\nfixed_hours = 6')
    workshop = runs(shop_of(toml, orders=[order("X"), order("Y", "2026-01-05", delivered_on="2026-02-02", finished_weight_g=40.0)]))
    assert np.exp(workshop.work_intercept[0, 1]) == pytest.approx(6.0, rel=0.05)


def test_entries_without_hours_are_moves() -> None:
    """Cards that name stages and dates only: flow is known, times are not, and what stands in for them is said."""
    shop = busy_shop()
    bare = shop_of(orders=shop["orders"].drop(columns="row").to_dict("records"),
                   labour=[{**row, "hours": None} for row in shop["labour"].drop(columns="row").to_dict("records")])
    workshop = runs(bare)
    assert (workshop.passes > 0).all() and [text for text in workshop.assumptions if "roll (1.0 h), solder (1.0 h)" in text]


def test_three_months_of_history_are_modelled() -> None:
    """Twelve weeks: fitted, with what is thin said."""
    assert len(runs(busy_shop(weeks=12), date(2026, 2, 25)).assumptions) >= 4


def test_people_without_hours_stay_idle() -> None:
    """Somebody whose own hours are all 0 is kept and never works."""
    toml = TOML.replace('code = "B"', 'code = "B"\nhours = { mon = 0 }')
    assert not runs(busy_shop(toml=toml)).own_hours[1].any()


def test_an_order_stuck_for_two_years_does_not_hang() -> None:
    """One order of 2024 still on the bench."""
    stuck = busy_shop(orders=[order("OLD", "2024-03-01")], labour=[entry("OLD", "roll", "A", "2024-03-04", 1.0)])
    assert np.exp(runs(stuck).work_intercept[0]) == pytest.approx([2.0, 3.0, 1.0, 2.0], rel=0.05)


def test_overlapping_entries_are_modelled() -> None:
    """Two cards of one person run at the same time by the clock."""
    rows = [entry("N15", "solder", "A", "2026-03-17 08:00 12:00"), entry("N14", "solder", "A", "2026-03-17 09:00 13:00")]
    assert (runs(busy_shop(labour=rows)).bench_share <= 1.0).all()


def people(count: int) -> str:
    return TOML[: TOML.index("[[workers]]")] + "".join(
        f'[[workers]]\ncode = "{"AB"[i] if i < 2 else f"P{i}"}"\nskills = ["roll", "solder", "tighten", "polish"]\n' for i in range(count))


def test_sixty_four_people_are_modelled() -> None:
    """The most the simulator runs."""
    assert len(runs(busy_shop(toml=people(64))).people) == 64


def test_sixty_five_people_are_refused_in_words() -> None:
    """What was found, what is allowed, what to do."""
    with pytest.raises(UsageError, match=r'found "65"; allowed: 1 to 64'):
        fit(busy_shop(toml=people(65)), AS_OF, draws=2)


def test_people_who_left_do_not_count() -> None:
    """Sixty-five in shop.toml, one of whom has left: modelled."""
    assert len(fit(busy_shop(toml=people(65) + "left_on = 2026-01-31\n"), AS_OF, draws=2).people) == 64


def test_a_shop_without_stages_is_refused_in_words() -> None:
    """No job cards and no stages: nothing to model."""
    toml = TOML[: TOML.index("[[stages]]")] + TOML[TOML.index("[[workers]]") :].replace('skills = ["roll", "solder"]', "").replace(
        'skills = ["tighten", "polish"]', "")
    with pytest.raises(UsageError, match="number of stages"):
        fit(shop_of(toml, orders=[order("X")]), AS_OF, draws=2)
