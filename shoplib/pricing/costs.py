"""What the usual piece of a line asks of the benches, and what else it costs: hours, wages, other metals, findings, outwork."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from ..costing import Costing
from ..costing.labour import stage_hours
from ..costing.open_orders import recent_orders
from ..costing.standard import usual_hours
from ..costing.totals import ratio, total_by
from ..settings import Settings
from .lines import Lines
from .market import Floats

ENOUGH_ORDERS = 5
"""Orders of a style × alloy from which its own findings and outwork are told, else those of all orders."""


@dataclass(frozen=True)
class MakingCosts:
    """Costs of the usual piece, one number a line.

    Attributes
    ----------
    hours, limiting_hours : ndarray(float), shape (n,)
        Bench hours, rework included, and those at the limiting bench.
    labour : ndarray(float), shape (n,)
        Wages with on-costs, money.
    other : ndarray(float), shape (n,)
        Base metals, consumables, findings, outwork, money.
    limiting_skill : str
        Empty when no bench is known.
    hour_worth : float
        What an hour at the limiting bench brought in the last 12 months before wages, money; NaN when not known.
    """

    hours: Floats
    limiting_hours: Floats
    labour: Floats
    other: Floats
    limiting_skill: str
    hour_worth: float


def net_loss_by_alloy(costing: Costing, settings: Settings) -> dict[str, float]:
    """Return net loss ÷ fine metal in the piece by alloy: of the last 12 months' orders, else of all alloys or the policy."""
    return _loss_by_alloy(costing, settings, "net_loss_fine_g")


def gross_loss_by_alloy(costing: Costing, settings: Settings) -> dict[str, float]:
    """Return gross loss ÷ fine metal in the piece by alloy, as `net_loss_by_alloy`."""
    return _loss_by_alloy(costing, settings, "gross_loss_fine_g")


def _loss_by_alloy(costing: Costing, settings: Settings, name: str) -> dict[str, float]:
    recent = recent_orders(costing.known, np.datetime64(costing.as_of, "D")) & costing.known["own"].to_numpy()
    told = costing.known[recent & (costing.known["fine_g"] > 0).to_numpy()]
    sums = told.groupby("alloy")[[name, "fine_g"]].sum()
    policy = settings.policy
    lost = policy.loss_percent / (100.0 - policy.loss_percent)
    kept = 1.0 - policy.filings_recovery_percent / 100.0 * (1.0 - policy.refining_charge_percent / 100.0)
    assumed = lost * (kept if name.startswith("net") else 1.0)
    everyone = float(told[name].sum() / told["fine_g"].sum()) if len(told) else assumed
    own = {str(code): float(row[name] / row["fine_g"]) for code, row in sums.iterrows()}
    return {alloy.code: own.get(alloy.code, everyone) for alloy in settings.alloys}


def making_costs(costing: Costing, lines: Lines, settings: Settings) -> MakingCosts:
    """Return what the usual pieces cost to make.

    Hours are those of recent orders of the style for its weight (`usual_hours`); an hour costs what it cost in the last 12 months
    at its stage.
    """
    by_stage, rates = _hours(costing, lines, settings), _hour_costs(costing, settings)
    limiting = [k for k, stage in enumerate(settings.stages) if stage.needs == costing.limiting_skill]
    hours = by_stage.sum(axis=1)
    weight = lines.table["weight_g"].to_numpy(float)
    base = {alloy.code: alloy.other_metals_per_g for alloy in settings.alloys}
    other = np.array([base[code] for code in lines.table["alloy"]]) * weight + settings.policy.consumables_per_hour * hours
    worth = ratio(
        np.array([costing_year(costing)["contribution"].sum()]), np.array([costing_year(costing)["limiting_hours"].sum()]), np.nan
    )
    bought = _bought_in(costing, lines)
    return MakingCosts(
        hours, by_stage[:, limiting].sum(axis=1), by_stage @ rates, other + bought, costing.limiting_skill or "", float(worth[0])
    )


def costing_year(costing: Costing) -> pd.DataFrame:
    """Return the orders delivered in the last 12 months."""
    return costing.orders[recent_orders(costing.orders, np.datetime64(costing.as_of, "D"))]


def _hours(costing: Costing, lines: Lines, settings: Settings) -> Floats:
    known, n = costing.known, len(lines.table)
    asked = pd.DataFrame({
        "style": lines.table["style"].astype(object), "kind": "order", "weight_g": lines.table["weight_g"],
        "quoted_weight_g": lines.table["weight_g"], "finished_weight_g": np.nan,
    })  # fmt: skip
    table = pd.concat([known[list(asked.columns)].astype({"style": object}), asked], ignore_index=True)
    booked = stage_hours(costing.labour, len(known), settings.stages)
    recent = recent_orders(known, np.datetime64(costing.as_of, "D"))
    told = usual_hours(table, np.vstack([booked, np.zeros((n, booked.shape[1]))]), np.append(recent, np.zeros(n, bool)), settings)
    return told[len(known) :]


def _hour_costs(costing: Costing, settings: Settings) -> Floats:
    """Return what an hour at each stage cost in the last 12 months, overtime premium included, money; the mean where nobody worked."""
    frame = costing.labour
    day = frame["day"].to_numpy("datetime64[D]")
    recent = frame[(day > np.datetime64(costing.as_of, "D") - 365) & (frame["stage"] >= 0).to_numpy()]
    stage, n = recent["stage"].to_numpy(np.int64), len(settings.stages)
    cost, premium, hours = (total_by(stage, recent[name].to_numpy(float), n + 1)[:n] for name in ("cost", "premium", "hours"))
    everyone = float((cost + premium).sum() / hours.sum()) if hours.sum() > 0 else 0.0
    return ratio(cost + premium, hours, everyone)


def _bought_in(costing: Costing, lines: Lines) -> Floats:
    """Return findings and outwork of one piece, money: the mean of its style × alloy, of all orders where these are few."""
    year = costing_year(costing)
    each = (year["findings"] + year["outwork"]) / year["pieces"]
    groups = each.groupby([year["style"], year["alloy"]]).agg(["mean", "size"])
    own = {key: float(row["mean"]) for key, row in groups.iterrows() if row["size"] >= ENOUGH_ORDERS}
    everyone = float(each.mean()) if len(each) else 0.0
    return np.array([own.get(key, everyone) for key in zip(lines.table["style"], lines.table["alloy"], strict=True)], dtype=float)
