"""All that can be told of a shop's metal on a day, metal by metal."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..costing import Costing
from ..costing.labour import visits
from ..costing.weighings import given_out
from ..intake.prices import spot_on
from ..intake.shop import Shop
from ..units import METALS
from .balance import MetalBalance, balance
from .cards import Bench, Floats, Ints, bench
from .filings import accounts, lots
from .fine import shares_of
from .ledger import fine_share
from .missing import FALSE_ALARMS, FEWEST_COUNTS, Missing, look_for_missing
from .places import Held, held, stage_now

BY_SCALE = "weighings"
MOST_ASSUMED_SHARE = 0.5
"""Where more than this share of the recorded loss was assumed, nothing can be called missing."""


@dataclass(frozen=True)
class OneMetal:
    """What can be told of one metal.

    Attributes
    ----------
    metal : str
    balance : MetalBalance
    missing : Missing
        The sequential test over the balances between counts.
    cannot_tell : str
        Why nothing can be called missing: ``no_ledger``, ``no_count``, ``one_count``, ``no_cards``, ``assumed``, ``few_counts``;
        empty when the test speaks.
    lots, accounts : DataFrame
        From `filings.lots` and `filings.accounts`.
    held : Held
        Where the metal was, day by day.
    spot : ndarray
        Money per g fine on the days of `held`; NaN without a price.
    """

    metal: str
    balance: MetalBalance
    missing: Missing
    cannot_tell: str
    lots: pd.DataFrame
    accounts: pd.DataFrame
    held: Held
    spot: Floats


@dataclass(frozen=True)
class Whole:
    """What can be told of all metals of a shop.

    Attributes
    ----------
    bench : Bench
        Metal on the benches by the job cards.
    metals : tuple of OneMetal
        Gold, silver, platinum, palladium, as far as the shop works them or has them in its ledger.
    stage_now : ndarray(int), shape (n_orders,)
        Stage of each order's last entry, −1 without one.
    """

    bench: Bench
    metals: tuple[OneMetal, ...]
    stage_now: Ints


def whole(shop: Shop, costing: Costing) -> Whole:
    """Return what can be told of a shop's metal.

    Parameters
    ----------
    shop : Shop
        As known on the as-of date, from `intake.until`.
    costing : Costing
        Of the same day: its orders, entries and weighings are used, so that both reports count the same grams.
    """
    frame = costing.labour[costing.labour["row"] > 0]
    benches = bench_of(shop, costing)
    names = [metal for metal in METALS if _touched(metal, shop, benches)]
    share = FALSE_ALARMS / max(len(names), 1)
    found = tuple(one_metal(metal, shop, costing, benches, share) for metal in names)
    return Whole(benches, found, stage_now(frame, len(costing.known)))


def bench_of(shop: Shop, costing: Costing) -> Bench:
    """Return the metal on the benches, from the orders, entries and weighings of a costing."""
    known, settings = costing.known, shop.settings
    frame = costing.labour[costing.labour["row"] > 0].reset_index(drop=True)
    visit = visits(frame)
    given = given_out(costing.weighings, len(known), settings)
    by_scale = (known["loss_basis"] == BY_SCALE).to_numpy() | known["delivered_on"].isna().to_numpy()
    lost = known["gross_loss_g"].to_numpy()
    return bench(known, frame, visit, _unusual(frame, visit, costing), np.where(by_scale, given, np.nan), lost, settings)


def _unusual(frame: pd.DataFrame, visit: Ints, costing: Costing) -> NDArray[np.bool_]:
    """Return for each visit whether the costing takes its drop for scrap that was not noted."""
    doubted = costing.weighings.loc[costing.weighings["unusual"], ["order", "row"]]
    entries = pd.MultiIndex.from_frame(frame[["order", "row"]]).isin(pd.MultiIndex.from_frame(doubted)) & (visit >= 0)
    flags = np.zeros(int(visit.max(initial=-1)) + 1, dtype=bool)
    flags[visit[entries]] = True
    return flags


def _touched(metal: str, shop: Shop, benches: Bench) -> bool:
    in_ledger = bool((fine_share(shop["metal_ledger"], metal, shop.settings) > 0).any())
    return in_ledger or bool((shares_of(benches.pieces, metal, shop.settings) * benches.end_alloy_g > 0).any())


def one_metal(metal: str, shop: Shop, costing: Costing, benches: Bench, false_alarms: float) -> OneMetal:
    """Return what can be told of one metal; `false_alarms` is its part of the chance that a shop without a leak alarms."""
    settings, ledger = shop.settings, shop["metal_ledger"]
    closed = costing.known["delivered_on"].notna() | costing.known["cancelled_on"].notna()
    assumed = (closed & (costing.known["loss_basis"] != BY_SCALE)).to_numpy()
    made = balance(metal, ledger, benches, assumed, settings, costing.as_of)
    between = made.between
    found = look_for_missing(
        made.rows["unexplained"].to_numpy()[between], np.array([made.tolerances[k].independent for k in between]),
        made.gross_delivered_g[between], settings.policy.fineness_tolerance_permille, false_alarms,
    )  # fmt: skip
    reason = _cannot_tell(made, shop)
    parcels = lots(made, benches, ledger, settings, costing.as_of)
    where = held(made, benches, parcels, ledger, settings, costing.as_of)
    return OneMetal(
        metal, made, replace(found, alarm=found.alarm and not reason), reason, parcels, accounts(made, benches, parcels, settings), where,
        spot_on(shop, metal, where.days),
    )  # fmt: skip


def _cannot_tell(made: MetalBalance, shop: Shop) -> str:
    counted = made.rows["opening"].notna().sum() + made.rows["closing"].notna().sum()
    between = made.rows.iloc[made.between]
    lost = float(between["recorded_loss"].sum())
    reasons = {
        "no_ledger": not len(shop["metal_ledger"]),
        "no_count": not counted,
        "one_count": not len(between),
        "no_cards": not len(shop["labour"]),
        "assumed": lost > 0 and float(between["assumed_loss"].sum()) > MOST_ASSUMED_SHARE * lost,
        "few_counts": len(between) < FEWEST_COUNTS,
    }
    return next((reason for reason, true in reasons.items() if true), "")
