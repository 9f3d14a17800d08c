"""Alloying, density and the law of fineness against published values; the source stands beside each."""

import pytest

from shoplib.metal.alloying import blend_fineness, blend_shares, carat_of_permille, grams_to_add, permille_of_carat
from shoplib.metal.density import DENSITY, alloy_density, share_from_density, specific_gravity, weight_in_other_alloy
from shoplib.metal.fineness import finished_fineness, highest_mark, keeps_mark


def _carat(*carats):
    return [permille_of_carat(carat) for carat in carats]


@pytest.mark.parametrize(("carat", "permille"), [(8, 333.33), (9, 375), (12, 500), (14, 583.33), (18, 750), (21, 875), (22, 916.67)])
def test_carat_as_per_mille(carat, permille):
    """A trade glossary's table of carats in per mille; recomputed as carat ÷ 24."""
    assert permille_of_carat(carat) == pytest.approx(permille, abs=5e-3)


def test_six_ounces_of_pure_gold_to_16_carat():
    """Mass 9, alloy 3: Warren, Mechanical Dentistry and Metallurgy, p. 206."""
    assert grams_to_add(6, *_carat(24, 16), 0) == pytest.approx(3)


@pytest.mark.parametrize(("grams", "have", "want", "add"), [(25, 14, 10, 10), (9, 18, 10, 7.2), (8, 24, 14, 5.7143), (20, 18, 14, 5.7143)])
def test_lower_to_a_carat(grams, have, want, add):
    """Bench tables of a jewellers' page and a forum's formula; they print 5.71 and 5.72 for the last two."""
    assert grams_to_add(grams, *_carat(have, want), 0) == pytest.approx(add, abs=5e-5)


@pytest.mark.parametrize(
    ("grams", "have", "want", "add"),
    [(7, 10, 14, 2.8), (20, 10, 14, 8), (6, 10, 14, 2.4), (15, 14, 18, 10), (20, 14, 18, 13.3333), (350, 10, 14, 140)],
)
def test_raise_to_a_carat(grams, have, want, add):
    """Bench pages, fine gold = grams × (want − have) ÷ (24 − want); they print 13.34 and, with rounded fineness, 139.97."""
    assert grams_to_add(grams, *_carat(have, want), 1000) == pytest.approx(add, abs=5e-5)


@pytest.mark.parametrize(
    ("have", "want", "factor"),
    [(24, 22, 0.0909), (24, 18, 0.3333), (24, 14, 0.7143), (24, 10, 1.4), (24, 9, 1.6667), (18, 9, 1.0), (14, 9, 0.5556)],
)
def test_alloy_to_add_to_a_gram(have, want, factor):
    """Three published factor tables; some print 1.677 or 1.700 for 24 to 9, 1.025 for 18 to 9, 0.575 for 14 to 9: exact arithmetic decides."""
    assert grams_to_add(1, *_carat(have, want), 0) == pytest.approx(factor, abs=5e-5)


@pytest.mark.parametrize(("have", "want", "factor"), [(14, 18, 0.6667), (18, 22, 2), (8, 22, 7)])
def test_fine_gold_to_add_to_a_gram(have, want, factor):
    """The same three tables, raising."""
    assert grams_to_add(1, *_carat(have, want), 1000) == pytest.approx(factor, abs=5e-5)


def test_alligation_medial_of_three():
    """8 oz of 22, 20 oz of 21 and 10 oz of 18 carat are 20 8/19 carat: an arithmetic of the 18th century, p. 327."""
    assert carat_of_permille(blend_fineness([8, 20, 10], _carat(22, 21, 18))) == pytest.approx(20 + 8 / 19)


def test_alligation_medial_of_two():
    """5 lb of 20 and 8 lb of 18 carat are 18 10/13 carat: the same page."""
    assert carat_of_permille(blend_fineness([5, 8], _carat(20, 18))) == pytest.approx(18 + 10 / 13)


@pytest.mark.parametrize(("grams", "first", "second", "want", "parts"), [(120, 18, 12, 16, (80, 40)), (200, 18, 10, 16, (150, 50))])
def test_alligation_alternate(grams, first, second, want, parts):
    """Two textbook exercises: 80 + 40 g and 150 + 50 g."""
    assert [share * grams for share in blend_shares(*_carat(first, second, want))] == pytest.approx(parts)


def test_gold_and_platinum_told_from_weight_and_volume():
    """11.4 g in 0.576 cm³ of gold (19.3) and platinum (21.4): 8.514 g gold, 74.7 %, about 18 carat; solution of a general chemistry text."""
    share = share_from_density(11.4 / 0.576, 19.3, 21.4)
    assert (11.4 * share, share, share * 24) == (
        pytest.approx(8.514, abs=5e-4),
        pytest.approx(0.747, abs=5e-4),
        pytest.approx(17.9, abs=0.05),
    )


def test_weighed_in_air_and_water():
    """3.8362 g in air, 3.5251 g in water: 12.331; a mineral club's page prints 12.3."""
    assert specific_gravity(3.8362, 3.5251) == pytest.approx(12.331, abs=5e-4)


@pytest.mark.parametrize(
    ("gold", "silver", "copper", "density"),
    [
        (75, 12.5, 12.5, 15.459),
        (75, 16, 9, 15.596),
        (75, 0, 25, 14.988),
        (75, 25, 0, 15.961),
        (91.7, 5.5, 2.8, 17.911),
        (0, 92.5, 7.5, 10.357),
    ],
)
def test_density_when_volumes_add(gold, silver, copper, density):
    """1/ρ = Σ w/ρ with the elements' densities of the CRC Handbook (19.32, 10.49, 8.96); worked by hand."""
    shares = {"gold": gold / 100, "silver": silver / 100, "copper": copper / 100}
    assert alloy_density(shares) == pytest.approx(density, abs=5e-3)


@pytest.mark.parametrize(
    ("shares", "published"),
    [
        ({"gold": 0.75, "silver": 0.16, "copper": 0.09}, 15.58),
        ({"gold": 0.75, "copper": 0.25}, 15.18),
        ({"gold": 0.75, "silver": 0.25}, 15.90),
        ({"silver": 0.925, "copper": 0.075}, 10.40),
    ],
)
def test_density_near_what_suppliers_print(shares, published):
    """18 carat yellow, red and green and sterling as metal suppliers print them, composition mostly not stated: within 2 %."""
    assert alloy_density(shares) == pytest.approx(published, rel=0.02)


@pytest.mark.parametrize(
    ("published", "light", "dense"),
    [
        (13.07, {"gold": 0.585, "copper": 0.415}, {"gold": 0.585, "silver": 0.415}),
        (12.9, {"gold": 0.585, "copper": 0.415}, {"gold": 0.585, "silver": 0.415}),
        (14.6, {"gold": 0.585, "copper": 0.415}, {"gold": 0.585, "silver": 0.415}),
        (11.57, {"gold": 0.417, "copper": 0.583}, {"gold": 0.417, "silver": 0.583}),
        (10.9, {"gold": 0.375, "copper": 0.475, "zinc": 0.15}, {"gold": 0.375, "silver": 0.625}),
        (12.7, {"gold": 0.375, "copper": 0.625}, {"gold": 0.375, "silver": 0.625}),
        (15.2, {"gold": 0.75, "copper": 0.25}, {"gold": 0.75, "silver": 0.25}),
        (15.9, {"gold": 0.75, "copper": 0.25}, {"gold": 0.75, "silver": 0.25}),
        (14.64, {"gold": 0.75, "nickel": 0.15, "zinc": 0.10}, {"gold": 0.75, "palladium": 0.25}),
        (16.9, {"gold": 0.75, "nickel": 0.25}, {"gold": 0.75, "palladium": 0.25}),
        (17.7, {"gold": 0.917, "copper": 0.083}, {"gold": 0.917, "silver": 0.083}),
        (17.8, {"gold": 0.917, "copper": 0.083}, {"gold": 0.917, "silver": 0.083}),
        (10.2, {"silver": 0.925, "copper": 0.075}, {"silver": 0.925, "copper": 0.075}),
        (10.4, {"silver": 0.925, "copper": 0.075}, {"silver": 0.925, "copper": 0.075}),
    ],
)
def test_published_densities_lie_between_the_extreme_alloys(published, light, dense):
    """14, 10 and 9 carat, 18 carat yellow and white, 22 carat, sterling: what suppliers print (alone or as the ends of a range, composition
    not stated) lies, to 2 %, between the lightest and the densest alloy of that carat that is made (copper, zinc and nickel; silver, palladium)."""
    assert 0.98 * alloy_density(light) <= published <= 1.02 * alloy_density(dense)


@pytest.mark.parametrize(
    ("metal", "low", "high"),
    [
        ("gold", 19.3, 19.32),
        ("silver", 10.49, 10.49),
        ("copper", 8.92, 8.96),
        ("zinc", 7.13, 7.14),
        ("nickel", 8.90, 8.91),
        ("platinum", 21.1, 21.45),
        ("palladium", 12.0, 12.03),
    ],
)
def test_densities_of_the_elements(metal, low, high):
    """The span of the densities printed by the CRC Handbook and two periodic tables."""
    assert low <= DENSITY[metal] <= high


def test_the_same_piece_in_another_alloy():
    """4 dwt of sterling (10.40) weigh 5.03 dwt in 14 carat yellow (13.07); a supplier's bench article prints 5.02."""
    assert weight_in_other_alloy(4, 10.40, 13.07) == pytest.approx(5.03, abs=5e-3)


def test_an_18_carat_chain_with_poorer_solder():
    """3 % of its mass in solder of 700: 748.5 per mille (worked by hand)."""
    assert finished_fineness(100, 750, [3], [700]) == pytest.approx(748.5)


def test_a_585_chain_with_solder_of_10_carat():
    """2 % of its mass in solder of 417: 581.64 per mille (worked by hand)."""
    assert finished_fineness(100, 585, [2], [417]) == pytest.approx(581.64)


def test_the_united_states_allow_seven_per_mille_with_solder():
    """748.5 keeps 750: 15 U.S.C. 295 and the note to it (7 per mille for other articles, solder included)."""
    assert keeps_mark(748.5, 750, 7) and not keeps_mark(742.9, 750, 7)


def test_the_united_states_allow_three_per_mille_without_solder():
    """747 keeps 750, 746.9 does not: 15 U.S.C. 295 (3 per mille without solder)."""
    assert keeps_mark(747, 750, 3) and not keeps_mark(746.9, 750, 3)


def test_without_a_minus_tolerance_the_same_chain_fails():
    """748.5 does not keep 750 where fineness is a minimum: ISO 9202 (which leaves solders out)."""
    assert not keeps_mark(748.5, 750)


@pytest.mark.parametrize(("fineness", "mark"), [(588, 585), (584, 375), (374, None)])
def test_an_alloy_carries_the_mark_below_it(fineness, mark):
    """588 is marked 585, 584 only 375, and gold below 375 not at all: Finnish Safety and Chemicals Agency, fineness requirements for gold."""
    assert highest_mark(fineness, (375, 585, 750, 916, 999)) == mark
