"""Work done again: how it is known and what it is charged to. Values worked by hand; no source."""

from shoplib.flow.visits import visits

from .shops import AS_OF, TOML, entry, order, shop_of

ROUND = (("solder", 3), ("tighten", 4), ("solder", 5), ("tighten", 6))


def of(stages, toml=TOML, **again):
    """Return the visits of one order that goes through (stage, day) pairs; `again` marks the third entry."""
    rows = [entry("1", stage, "A", f"2026-03-{day:02d}", 2.0, **(again if place == 2 else {})) for place, (stage, day) in enumerate(stages)]
    return visits(shop_of(toml, orders=[order("1")], labour=rows), AS_OF)


def test_a_flag_is_the_surest_sign():
    """rework = y on the card."""
    assert of(ROUND, rework=True)["rework_basis"].tolist() == ["", "", "flag", "inferred"]


def test_counted_links_tell_rework():
    """Broken links counted on a second visit."""
    assert of(ROUND, links_redone=3)["rework_basis"][2] == "links"


def test_going_back_tells_rework():
    """Without any mark, a second visit beyond the one expected."""
    assert of(ROUND)["rework"].tolist() == [False, False, True, True]


def test_expected_visits_are_no_rework():
    """A stage that is passed twice as a rule is not done again."""
    twice = TOML.replace('name = "solder"', 'name = "solder"\nexpected_visits = 2').replace('name = "tighten"', 'name = "tighten"\nexpected_visits = 2')
    assert not of(ROUND, twice)["rework"].any()


def test_a_return_is_charged_to_the_stage_it_goes_back_to():
    """Found at tightening, charged to soldering."""
    found = of(ROUND, rework=True)
    assert found.loc[2, ["returned_from", "charged_to"]].tolist() == ["tighten", "solder"]


def test_stages_passed_again_are_no_return():
    """The second tightening is work done again, but nothing failed there."""
    assert of(ROUND, rework=True)["is_return"].tolist() == [False, False, True, False]


def test_flagged_stages_passed_again_are_no_return():
    """A card that marks the second tightening as well still tells one return."""
    rows = [entry("1", s, "A", f"2026-03-{d:02d}", 2.0, rework=n > 1) for n, (s, d) in enumerate(ROUND)]
    assert visits(shop_of(orders=[order("1")], labour=rows), AS_OF)["is_return"].sum() == 1


def test_a_stage_that_only_means_rework_is_charged_to_its_target():
    """An own stage for soldering again belongs to soldering."""
    toml = TOML + '[[stages]]\nname = "mend"\nrework_of = "solder"\n'
    found = of((("solder", 3), ("tighten", 4), ("mend", 5), ("tighten", 6)), toml)
    assert found.loc[2, ["rework_basis", "charged_to", "returned_from"]].tolist() == ["stage", "solder", "tighten"]


def test_the_cause_is_the_first_one_named():
    """The cause stands on the visit that repairs it."""
    assert of(ROUND, rework=True, rework_cause="broken link")["cause"].tolist() == [None, None, "broken link", None]


def test_rework_at_the_same_stage_is_a_return_to_it():
    """Found and mended at the bench that made it."""
    found = of((("roll", 3), ("solder", 4), ("solder", 5)), rework=True)
    assert found.loc[2, ["returned_from", "charged_to"]].tolist() == ["solder", "solder"]


def test_work_after_delivery_is_no_return_of_the_route():
    """A chain mended for its owner is not counted against the benches' route."""
    rows = [entry("1", "solder", "A", "2026-03-03", 4.0), entry("1", "solder", "A", "2026-03-20", 1.0)]
    found = visits(shop_of(orders=[order("1", delivered_on="2026-03-05")], labour=rows), AS_OF)
    assert not found["is_return"].any()
