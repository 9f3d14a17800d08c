"""Units of weight, fineness and fine weight of bars against published values; the source stands beside each."""

import pytest

from shoplib.costing.pieces import pieces
from shoplib.units import (
    CARAT_MARKS,
    GRAMS_PER,
    GRAMS_PER_GRAIN,
    GRAMS_PER_PENNYWEIGHT,
    GRAMS_PER_TROY_OUNCE,
    fine_grams,
    price_per_gram,
    read_alloy_name,
)

WEIGHTS_AND_MEASURES_ACT = [
    (GRAMS_PER_TROY_OUNCE, 31.1034768),
    (GRAMS_PER_PENNYWEIGHT, 1.55517384),
    (GRAMS_PER_GRAIN, 0.06479891),
    (12 / 175 * 453.59237, 31.1034768),
]


@pytest.mark.parametrize(("grams", "published"), WEIGHTS_AND_MEASURES_ACT)
def test_troy_weights(grams, published):
    """UK Weights and Measures Act 1985: the ounce troy is 12/175 of a pound of 0.45359237 kg; 20 dwt and 480 grains."""
    assert grams == pytest.approx(published, abs=1e-9)


def test_a_kilogram_in_ounces():
    """1 kg is 32.1507466 oz troy (NIST Handbook 44, Appendix C; named, not opened)."""
    assert GRAMS_PER["kg"] / GRAMS_PER["ozt"] == pytest.approx(32.1507466, abs=5e-8)


def test_fine_weight_of_a_good_delivery_bar():
    """401.125 oz gross at 995.8 per mille are 399.440 fine oz (LBMA Good Delivery Rules, Annex C); 399.440275 before rounding."""
    assert fine_grams(401.125, 995.8) == pytest.approx(399.440275, abs=1e-9)


TEN_TOLA = 10 * 180 * GRAMS_PER_GRAIN
"""A tola is 180 grains (from memory)."""
FIVE_TAEL = 5 * 37.429
"""A tael for gold is 37.429 g in Hong Kong (Weights and Measures Ordinance, from memory)."""
SMALL_BARS = [
    (1000, 995, 31.990), (1000, 999, 32.119), (1000, 999.9, 32.148), (500, 995, 15.995), (500, 999, 16.059), (500, 999.9, 16.074),
    (250, 995, 7.998), (250, 999, 8.030), (250, 999.9, 8.037), (200, 995, 6.398), (200, 999, 6.424), (200, 999.9, 6.430),
    (100, 995, 3.199), (100, 999, 3.212), (100, 999.9, 3.215), (50, 995, 1.600), (50, 999, 1.607), (50, 999.9, 1.608),
    (20, 995, 0.640), (20, 999, 0.643), (20, 999.9, 0.643), (10, 995, 0.321), (10, 999, 0.322), (10, 999.9, 0.322),
    (5, 995, 0.161), (5, 999, 0.161), (5, 999.9, 0.161),
    (TEN_TOLA, 995, 3.731), (TEN_TOLA, 999, 3.746), (TEN_TOLA, 999.9, 3.750), (FIVE_TAEL, 995, 5.987), (FIVE_TAEL, 999, 6.011), (FIVE_TAEL, 999.9, 6.017),
]  # fmt: skip


@pytest.mark.parametrize(("grams", "permille", "ounces"), SMALL_BARS)
def test_fine_weight_of_small_bars(grams, permille, ounces):
    """LBMA gold conversion tables; agreed weights, which no single rule of rounding gives: within 0.0013 oz."""
    assert fine_grams(grams, permille) / GRAMS_PER_TROY_OUNCE == pytest.approx(ounces, abs=1.3e-3)


@pytest.mark.parametrize(("grams", "permille", "ounces"), [bar for bar in SMALL_BARS if bar[0] in (1000, 500, 200, 100)])
def test_fine_weight_of_the_larger_small_bars(grams, permille, ounces):
    """The same tables: 1 kg, 500, 200 and 100 g agree to half a thousandth of an ounce."""
    assert fine_grams(grams, permille) / GRAMS_PER_TROY_OUNCE == pytest.approx(ounces, abs=5e-4)


@pytest.mark.parametrize("carat", [9, 14, 18, 22])
def test_marks_of_common_carats(carat):
    """ISO 9202 lists 375, 585, 750 and 916; 14 carat is marked 585, not 14/24."""
    assert CARAT_MARKS[carat] == {9: 375, 14: 585, 18: 750, 22: 916}[carat]


@pytest.mark.parametrize("permille", [333, 375, 417, 585, 625, 750, 833, 916, 958.3, 990, 995, 999])
def test_every_gold_mark_is_read(permille):
    """Marks of gold as trade lists print them (ISO 9202 has 375, 585, 750, 916 and 999; the others are in lists of marks)."""
    assert read_alloy_name(f"{permille:g} gold") == ("gold", permille)


@pytest.mark.parametrize(("name", "metal", "permille"), [("750 gold", "gold", 750), ("925", "silver", 925), ("Pt950", "platinum", 950)])
def test_marks_are_read_from_an_alloys_name(name, metal, permille):
    """ISO 9202 marks; 925 alone is silver by common practice, no source."""
    assert read_alloy_name(name) == (metal, permille)


def test_a_price_per_ounce_in_a_price_per_gram():
    """2,000 an ounce troy is 64.3015 a gram: 2,000 × 32.1507466 ÷ 1,000 (NIST Handbook 44, Appendix C; named, not opened)."""
    assert price_per_gram(2000.0, "ozt") == pytest.approx(64.3014932, abs=1e-6)


def test_solder_in_an_18_carat_chain():
    """18 carat with 3 % by mass of 700 solder is 748.5 per mille (derived, recomputed; no source)."""
    from shoplib.costing.labour import entries, visits
    from shoplib.costing.weighings import weighed_visits
    from tests.flow.shops import TOML, entry, order, shop_of

    toml = TOML + '[[solders]]\ncode = "easy"\nfineness = 700\n'
    chain = order("x", finished_weight_g=100.0, delivered_on="2026-03-20")
    shop = shop_of(toml, orders=[chain], labour=[entry("x", "solder", "A", "2026-03-03", 1.0, solder="easy", solder_g=3.0)])
    frame = entries(shop["labour"], shop["orders"], shop.settings)
    table = pieces(shop["orders"], frame, weighed_visits(frame, visits(frame), shop.settings), shop.settings)
    assert (table["fine_g"] / table["weight_g"] * 1000).tolist() == pytest.approx([748.5])
