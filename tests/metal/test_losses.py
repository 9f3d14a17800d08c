"""Loss by stage and alloy, what the finished pieces hold, and the alloying sheet."""

import math

import numpy as np
import pytest

from shoplib.metal.losses import BETWEEN_STAGES, alloying_sheet, finished_pieces, loss_rate, stage_loss
from shoplib.settings import parse_settings

from .shops import AS_OF, TOML, metals, piece, shop, weighed

YEAR = np.datetime64("2025-04-01"), np.datetime64(AS_OF)
LOSSES = (0.3, 0.4, 0.5, 0.4, 0.4)
ORDERS = [piece(f"o{n}", 39.5, "2026-02-20") for n in range(5)]
CARDS = [
    card
    for n, lost in enumerate(LOSSES)
    for card in (
        weighed(f"o{n}", "melt", "2026-02-02", 40.0, 40.0 - lost),
        weighed(f"o{n}", "polish", "2026-02-03", solder="hard", solder_g=0.5),
    )
]


def loss(first=YEAR[0], last=YEAR[1]):
    found = shop(ORDERS, CARDS)
    return stage_loss(metals(found).bench, found.settings, first, last).set_index("stage")


def test_loss_of_a_stage_is_all_lost_over_all_given():
    """2.0 g of 200 g: 10 ‰ at the melt, 1.5 g fine of 150 g fine (worked by hand)."""
    melt = loss().loc["melt"]
    assert (melt["loss_per_mille"], melt["fine_g_lost"], melt["fine_g_in"], melt["visits"]) == (
        pytest.approx(10.0), pytest.approx(1.5), pytest.approx(150.0), 5,
    )  # fmt: skip


def test_its_range_by_hand():
    """Deviations −.1, 0, .1, 0, 0 g: standard error √(0.02 × 5/4) ÷ 200 g; t(0.9; 4) = 1.5332."""
    melt = loss().loc["melt"]
    half = 1.5332 * math.sqrt(0.02 * 5 / 4) / 200 * 1000
    assert (melt["low"], melt["high"]) == (pytest.approx(10 - half, abs=1e-3), pytest.approx(10 + half, abs=1e-3))


def test_what_no_stage_was_weighed_for_stands_apart():
    """The polish was not weighed: 0.5 g of solder went in and 39.5 g came out, which lies between the stages."""
    assert loss().loc[BETWEEN_STAGES, "fine_g_lost"] == pytest.approx(0.75 * (200 - 2.0 + 5 * 0.5 - 5 * 39.5))


def test_losses_of_another_period_are_left_out():
    """Nothing was lost in March."""
    assert loss(np.datetime64("2026-03-01")).empty


def test_under_five_visits_there_is_no_range():
    """Four visits give a rate without a range."""
    rate, low, _ = loss_rate(np.array([1.0, 1, 1, 1]), np.full(4, 100.0))
    assert (rate, math.isnan(low)) == (0.01, True)


def test_no_visit_gives_no_rate():
    """Nothing weighed, nothing told."""
    assert math.isnan(loss_rate(np.zeros(0), np.zeros(0))[0])


def finished(toml=TOML):
    found = shop(ORDERS, CARDS, toml=toml)
    return finished_pieces(metals(found).bench, found.settings, *YEAR).iloc[0]


def test_solder_of_the_finished_pieces():
    """0.5 g of solder at 700 ‰ in 39.5 g: 749.4 ‰, 1.3 % solder (worked by hand)."""
    row = finished()
    assert (row["finished"], row["solder_share"]) == (pytest.approx((39 * 750 + 0.5 * 700) / 39.5), pytest.approx(0.5 / 39.5))


def test_a_rich_melt_is_named_with_its_grams():
    """2 ‰ above the mark on 195 g without solder: 0.39 g fine given away."""
    assert finished(TOML.replace("fineness = 750", "fineness = 750\nmelted_fineness = 752"))["given_away_g"] == pytest.approx(0.39)


def test_solder_not_in_the_settings_is_told():
    """A solder of unknown fineness is weighed, not guessed."""
    row = finished(TOML.replace('code = "hard"', 'code = "other"'))
    assert (row["solder_unknown_g"], math.isnan(row["finished"])) == (pytest.approx(2.5), True)


def test_the_alloying_sheet_goes_up_and_down():
    """Two alloys and fine gold: up by fine gold, down by other metals; 100 g of 14k need 66.03 g, fine gold 33.33 g."""
    toml = TOML.replace("[[solders]]", '[[alloys]]\ncode = "14k"\nmetal = "gold"\nfineness = 585\n[[solders]]')
    sheet = alloying_sheet(parse_settings(toml)).set_index(["from_alloy", "to_alloy"])
    assert sheet.loc[("14k", "18k"), "g_per_100g"] == pytest.approx(66.03, abs=5e-3)
    assert sheet.loc[("fine gold", "18k"), "g_per_100g"] == pytest.approx(33.33, abs=5e-3)
    assert sheet.loc[("18k", "14k"), "add_metal"] == "other metals"
