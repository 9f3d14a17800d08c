"""What work done again costs: labour and lost metal, by cause, the stage it is charged to and alloy.

A return carries the stages passed again after it. The delay it causes others at the bench that limits is no record of the
past: the simulator tells it, with the cause switched off, and `with_delay` adds it.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

import numpy as np
import pandas as pd

from ..costing.calendar import working_calendar
from ..costing.labour import costed, pay_of
from ..costing.spot import spot_of
from ..costing.totals import ratio, total_by
from ..settings import Settings
from .entries import Flags, Ints
from .visits import History
from .working_time import Hours

NOT_NAMED = "not named"
"""The cause where the card names none."""


def rework_table(history: History, first: date, last: date, returned_share: float | None = None) -> pd.DataFrame:
    """Return the cost of work done again that was begun from `first` to `last`.

    Parameters
    ----------
    history : History
        What the cards tell.
    first, last : date
        The period, both days in.
    returned_share : float, optional
        Share of lost metal that comes back from the refiner, as measured; else by stage and policy.

    Returns
    -------
    DataFrame
        cause, stage (charged), alloy, returns, hours (h), labour (money, on-costs and overtime premium in it), metal (money, net of
        what comes back), weighed_share (visits weighed before and after; the others count the mean loss of those at their stage),
        delay_contribution (NaN), cost (labour + metal); the dearest first.
    """
    table = history.visits
    begun = table["started"].between(pd.Timestamp(first), pd.Timestamp(last) + pd.Timedelta(days=1), inclusive="left")
    again = np.flatnonzero((table["rework"] & begun).to_numpy())
    lead = _return_of(table)[again]
    metal, weighed = _metal_money(history, returned_share)
    frame = pd.DataFrame({
        "cause": table["cause"].astype(object).to_numpy()[lead],
        "stage": np.where(table["is_return"], table["charged_to"].astype(object), table["stage"].astype(object))[lead],
        "alloy": history.shop["orders"]["alloy"].astype(object).to_numpy()[table["order"].to_numpy()[again]],
        "returns": table["is_return"].to_numpy()[again].astype(np.int64),
        "hours": table["hours"].fillna(0.0).to_numpy()[again],
        "labour": labour_of_visits(history)[again],
        "metal": metal[again],
        "weighed_share": weighed[again].astype(float),
    })  # fmt: skip
    frame["cause"] = frame["cause"].where(frame["cause"].notna(), NOT_NAMED)
    grouped = frame.groupby(["cause", "stage", "alloy"], dropna=False, sort=True)
    totals = grouped[["returns", "hours", "labour", "metal"]].sum().assign(weighed_share=grouped["weighed_share"].mean())
    return _with_cost(totals.reset_index().assign(delay_contribution=np.nan))


def with_delay(table: pd.DataFrame, delay: Mapping[tuple[str, str, str], float]) -> pd.DataFrame:
    """Return `rework_table` with the contribution lost by delay, keyed (cause, stage, alloy), in its cost."""
    keys = zip(table["cause"], table["stage"], table["alloy"], strict=True)
    return _with_cost(table.assign(delay_contribution=[delay.get(key, np.nan) for key in keys]))


def _with_cost(table: pd.DataFrame) -> pd.DataFrame:
    cost = table["labour"] + table["metal"] + table["delay_contribution"].fillna(0.0)
    return table.assign(cost=cost).sort_values(["cost", "cause", "stage"], ascending=[False, True, True], kind="stable", ignore_index=True)


def _return_of(table: pd.DataFrame) -> Ints:
    """Return the row of the return that each visit belongs to: the last one of its order; itself when there is none before."""
    row = np.arange(len(table))
    latest = np.maximum.accumulate(np.where(table["is_return"], row, -1)) if len(table) else row
    begin = row - (table["visit"].to_numpy(np.int64) - 1)
    return np.where(latest >= begin, latest, row)


def labour_of_visits(history: History) -> Hours:
    """Return the labour cost of each visit, money: hours at the pay of their day, on-costs and overtime premium in it."""
    booked = history.booked
    if not len(history.entries):
        return np.zeros(len(history.visits))
    settings = history.shop.settings
    calendar = working_calendar(settings, history.shop["absences"], booked["day"].min().date(), booked["day"].max().date())
    cost = costed(booked, calendar, pay_of(settings, calendar))
    money = (cost["cost"] + cost["premium"]).to_numpy()[history.entries["place"].to_numpy()]
    return total_by(history.entries["visit"].to_numpy(), money, len(history.visits))


def lost_grams(history: History) -> Hours:
    """Return the g gross each visit took off the piece: in + solder − out − scrap; NaN unless weighed on both sides.

    A stage that cuts with no scrap noted tells no loss: the cut-offs are not known.
    """
    table = history.visits
    drop = (table["weight_in_g"] + table["solder_g"] - table["weight_out_g"] - table["scrap_back_g"]).to_numpy()
    cuts = np.array([stage.cuts for stage in history.shop.settings.stages] + [False])[table["stage_no"].to_numpy(np.int64)]
    return np.where(cuts & (table["scrap_back_g"].to_numpy() == 0.0), np.nan, drop)


def _metal_money(history: History, returned_share: float | None) -> tuple[Hours, Flags]:
    """Return the worth of the metal lost in each visit net of what comes back, and whether it was weighed."""
    table, settings = history.visits, history.shop.settings
    grams, stage = lost_grams(history), table["stage_no"].to_numpy(np.int64)
    weighed = ~np.isnan(grams)
    counted = np.where(table["rework"].to_numpy() & weighed, stage, -1)
    many = len(settings.stages)
    mean = ratio(total_by(counted, grams, many), total_by(counted, np.ones(len(grams)), many))
    gross = np.where(weighed, grams, mean[stage] if many else 0.0)
    gone = 1.0 - (_back_by_stage(settings) if returned_share is None else np.full(many, returned_share))
    fine = np.array([each.loss_fine_share_percent / 100.0 for each in settings.stages]) * gone
    return gross * fine[stage] * _fine_worth(history), weighed


def _back_by_stage(settings: Settings) -> Hours:
    """Return the share of the metal lost at each stage that comes back: recovery × what the refiner does not keep."""
    policy = settings.policy
    own = [stage.recovery_percent for stage in settings.stages]
    recovered = np.array([policy.filings_recovery_percent if percent is None else percent for percent in own], dtype=np.float64)
    return recovered / 100.0 * (1.0 - policy.refining_charge_percent / 100.0)


def _fine_worth(history: History) -> Hours:
    """Return the worth of a gross gram of each visit's alloy on the day it began, by the metal really melted."""
    table = history.visits
    alloys = {alloy.code: alloy for alloy in history.shop.settings.alloys}
    own = [alloys.get(code) for code in history.shop["orders"]["alloy"]]
    metals = np.array([alloy.metal if alloy else "" for alloy in own], dtype=object)[table["order"].to_numpy()]
    fineness = np.array([alloy.phi_melted if alloy else 0.0 for alloy in own])[table["order"].to_numpy()]
    spot = spot_of(history.shop).of(metals, table["started"].to_numpy("datetime64[D]"))
    worth: Hours = np.nan_to_num(spot) * fineness
    return worth
