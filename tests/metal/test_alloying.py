"""Alloying: the balance of mass at the bench, hand-checkable cases first."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shoplib.errors import UsageError
from shoplib.metal.alloying import (
    OTHER,
    Stock,
    blend_fineness,
    blend_shares,
    composition,
    grams_to_add,
    melt_from_stock,
    melt_to,
    read_fineness,
)
from shoplib.settings import Alloy

YELLOW = composition(Alloy(code="18k yellow", metal="gold", fineness=750, parts={"silver": 125}))
RED = composition(Alloy(code="18k red", metal="gold", fineness=750))
WHITE = composition(Alloy(code="18k white", metal="gold", fineness=750, melted_fineness=752, parts={"palladium": 125}))
LOW = composition(Alloy(code="14k yellow", metal="gold", fineness=585, parts={"silver": 200}))
FINE = {"gold": 0.9999, OTHER: 0.0001}


def test_composition_sums_to_one_with_other_metals():
    """An alloy holds its fine metal as melted, its priced parts and the rest."""
    assert {"gold": 0.752, "palladium": 0.125, OTHER: pytest.approx(0.123)} == WHITE


@pytest.mark.parametrize(
    ("text", "permille"), [("18k", 750), ("18 ct", 750), ("14 carat", 585), ("750", 750), ("916,6 ‰", 916.6), ("13k", 541.6667)]
)
def test_a_fineness_is_read_in_karat_carat_or_per_mille(text, permille):
    """A carat that has a customary mark is read as its mark, any other by twenty-fourths."""
    assert read_fineness(text) == pytest.approx(permille, abs=1e-4)


@pytest.mark.parametrize("text", ["1001", "25k", "gold", "", "0", "0k"])
def test_what_is_no_fineness_is_refused(text):
    """Above 1000 per mille, above 24 carat or a word: refused with what is allowed."""
    with pytest.raises(UsageError, match="allowed: 0 to 24 carat"):
        read_fineness(text)


def test_nothing_is_added_to_a_melt_that_is_right():
    """A melt at the wanted fineness needs nothing."""
    assert grams_to_add(100, 750, 750, 0) == 0


def test_lowering_with_a_finer_metal_is_refused():
    """An 18 carat melt cannot be lowered to 14 carat by adding fine gold."""
    with pytest.raises(UsageError, match="between 750 and 1000"):
        grams_to_add(100, 750, 585, 1000)


def test_two_metals_cannot_give_what_lies_outside_them():
    """14 and 18 carat never give 22 carat."""
    with pytest.raises(UsageError, match="from 585 to 750"):
        blend_shares(585, 750, 916)


@given(st.floats(1, 1000), st.floats(10, 990), st.floats(10, 990), st.sampled_from([0.0, 1000.0]))
def test_what_is_added_gives_the_wanted_fineness(gross, fineness, wanted, added):
    """Melting the two together gives the fineness asked for, up and down."""
    if not min(fineness, added) < wanted < max(fineness, added):
        return
    grams = grams_to_add(gross, fineness, wanted, added)
    assert blend_fineness([gross, grams], [fineness, added]) == pytest.approx(wanted, rel=1e-9)


def test_raising_a_two_metal_alloy_needs_fine_metal_only():
    """100 g of 14 carat red to 18 carat: 100·(750−585) ÷ (999.9−750) = 66.0264 g of 999.9 (worked by hand)."""
    low = {"gold": 0.585, OTHER: 0.415}
    melt = melt_to(100, low, RED)
    assert melt is not None
    assert dict(melt.added_g) == {"gold": pytest.approx(16500 / 249.9)}


def test_lowering_needs_alloying_metal_only():
    """100 g of 18 carat red to 14 carat: 100·(750/585 − 1) = 28.2051 g of other metals (worked by hand)."""
    melt = melt_to(100, RED, {"gold": 0.585, OTHER: 0.415})
    assert melt is not None
    assert dict(melt.added_g) == {OTHER: pytest.approx(100 * (750 / 585 - 1))}


def test_an_alloy_with_palladium_never_becomes_yellow():
    """Nothing that is added takes palladium out."""
    assert melt_to(100, WHITE, YELLOW) is None


@given(st.sampled_from([YELLOW, RED, WHITE, LOW, FINE]), st.sampled_from([YELLOW, RED, WHITE, LOW]))
def test_the_melt_holds_exactly_the_wanted_shares(held, wanted):
    """Grams of every metal before plus added, as bought at 999.9, are those of the alloy wanted."""
    melt = melt_to(100, held, wanted)
    if melt is None:
        return
    metals = (held.keys() | wanted.keys()) - {OTHER}
    after = {metal: 100 * held.get(metal, 0) + melt.added_g.get(metal, 0) * 0.9999 for metal in metals}
    assert after == {metal: pytest.approx(melt.total_g * wanted.get(metal, 0), abs=1e-6) for metal in metals}
    assert 100 + math.fsum(melt.added_g.values()) == pytest.approx(melt.total_g)


def test_stock_is_taken_at_least_cost():
    """Red 18 carat from fine gold, 14 carat scrap and copper: scrap is cheaper, so all 50 g of it go in (worked by hand)."""
    stock = [
        Stock("fine gold", {"gold": 1.0}, cost_per_g=100),
        Stock("copper", {OTHER: 1.0}, cost_per_g=0.01),
        Stock("14k scrap", {"gold": 0.585, OTHER: 0.415}, available_g=50, cost_per_g=55),
    ]
    taken = melt_from_stock(100, RED, stock)
    assert taken == {"14k scrap": pytest.approx(50), "fine gold": pytest.approx(75 - 29.25), "copper": pytest.approx(25 - 20.75)}


def test_a_stock_that_cannot_give_the_alloy_is_told():
    """Ten grams of fine gold make no hundred grams of 18 carat."""
    assert melt_from_stock(100, RED, [Stock("fine gold", {"gold": 1.0}, 10), Stock("copper", {OTHER: 1.0})]) is None


def test_no_stock_gives_no_melt():
    """Without anything in stock nothing is melted."""
    assert melt_from_stock(100, RED, []) is None
