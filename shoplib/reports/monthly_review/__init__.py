"""The monthly review: how was the month, and what is to be decided?"""

from __future__ import annotations

import hashlib
import importlib
from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from pydantic import Field

from ...costing import Costing, cost
from ...errors import ShoplibError
from ...intake import as_of, until
from ...intake.shop import Shop
from .. import answer as answers
from ..answer import Answer, Figure, Found, Table, rounded
from ..answered import answer_of
from ..compose import compose
from ..discover import ORDER, reports
from ..margin.tables import made
from ..periods import month_start, whole_months
from ..sentences import Writing
from ..sentences import day as in_words
from ..shared import baseline_or_none
from . import tables
from .decisions import decisions
from .forecasts import Facts, margin_draws, read_review, running_record, said, scored
from .headline import Told, headline
from .page import page

__all__ = ["QUESTION", "Parameters", "answer", "page"]

QUESTION = "How was the month, and what is to be decided?"
OTHERS = tuple(name for name in ORDER if name != "monthly_review")
SHAPES = {
    "decisions": tables.DECISIONS,
    "forecasts": tables.FORECASTS,
    "last_time": tables.LAST_TIME,
    "record": tables.RECORD,
    "months": tables.MONTHS,
    "bridge": tables.BRIDGE,
    "ahead": tables.AHEAD,
    "headlines": tables.HEADLINES,
}
CAUTIONS = (
    ("noise", "One month is mostly noise: a change is unusual only when the control chart in the throughput report says so."),
    ("safe", "These pages tell how much gold lies where: keep them like the safe's key."),
    ("not_advice", "Arithmetic on the shop's own data, not investment, tax or legal advice."),
)


class Parameters(answers.Parameters):
    """Parameters of the monthly review."""

    previous: str | None = Field(None, description="an earlier monthly_review.json; left out: the newest in the output folder")
    replayed: bool = Field(False, description="a newer review is already there, so that forecasts are marked replayed")


def answer(shop: Shop, parameters: Parameters) -> Answer:
    """Return the month, its decisions, what was said last time and what is said now.

    Parameters
    ----------
    shop : Shop
        The cleaned tables.
    parameters : Parameters
        Last day, an earlier review.

    Raises
    ------
    DataError
        The earlier review cannot be read.
    """
    last = parameters.as_of or as_of(shop)
    writing, period = Writing.of(shop.settings), whole_months(last, 1)
    others, failed = _others(shop, parameters)
    seen = until(shop, last)
    costing = cost(shop, last)
    earlier = read_review(Path(parameters.previous)) if parameters.previous else None
    facts = Facts(seen, costing)
    last_time = scored(earlier, facts, last) if earlier else pd.DataFrame(columns=[one[0] for one in tables.LAST_TIME])
    draws, units = _draws(shop, costing, last, parameters.seed, others)
    frames = {
        "decisions": decisions(others, shop.settings, writing),
        "forecasts": said(last, draws, units, parameters.replayed),
        "last_time": last_time,
        "record": running_record(earlier, last_time),
        "months": _months(costing, others),
        "bridge": others["margin"].table("bridge") if "margin" in others else _none(tables.BRIDGE),
        "headlines": pd.DataFrame([(name, one.headline) for name, one in others.items()], columns=["report", "headline"]),
    }
    frames["ahead"] = frames["forecasts"][frames["forecasts"]["what"] == "making margin"]
    pay = bool(seen.settings.workers) and all(one.code != "no_wages" for one in costing.findings)
    told = replace(_told(frames, period[0]), pay=pay, overheads=bool(len(seen["overheads"])))
    plain = parameters.model_copy(update={"previous": Path(parameters.previous).parent.name if parameters.previous else None})
    notes = [Found(level="note", code=code, text=text) for code, text in CAUTIONS]
    figures, shown, findings = (
        _figures(frames, period, writing),
        _tables(frames, writing.currency),
        [*failed, *_looked_back(earlier), *notes],
    )
    given = compose(shop, "monthly_review", plain, period, headline(told, writing), figures, shown, findings, last)
    return given.model_copy(update={"inputs": {**given.inputs, **_earlier_input(parameters.previous)}})


def _others(shop: Shop, parameters: Parameters) -> tuple[dict[str, Answer], list[Found]]:
    """What the other reports say with the shop's own parameters; one that cannot be made is told."""
    done: dict[str, Answer] = {}
    failed: list[Found] = []
    for report in reports(OTHERS):
        try:
            module = importlib.import_module(report.module_name)
            own: Mapping[str, Any] = shop.settings.reports.get(report.name, {})
            done[report.name] = answer_of(module, shop, module.Parameters(**{"as_of": parameters.as_of, "seed": parameters.seed, **own}))
        except ShoplibError as error:
            failed.append(Found(level="warn", code=f"no_{report.name}", text=f"The report {report.name} could not be made: {error}"))
    return done, failed


def _draws(shop: Shop, costing: Costing, last: date, seed: int, others: dict[str, Answer]) -> tuple[dict[str, np.ndarray], dict[str, str]]:
    """Draws of what comes by the end of the next month."""
    base, _ = baseline_or_none(shop, last, seed)
    year = costing.orders[costing.orders["delivered_on"] > pd.Timestamp(last) - pd.Timedelta(days=365)]
    currency = shop.settings.shop.currency
    draws: dict[str, np.ndarray] = {}
    units = {"orders placed": "orders", "orders delivered": "orders", "making margin": currency, "open orders delivered": "orders"}
    if base is not None:
        first = month_start(last, -1)
        days = ((month_start(first, -1) if last.day >= 28 else first) - last).days - 1
        at = 0 if base.nothing.months[0] > np.datetime64(last, "M") else min(1, len(base.nothing.months) - 1)
        delivered = base.nothing.delivered[:, : at + 1].sum(axis=1)
        draws = {"orders delivered": delivered.astype(float), "orders placed": base.nothing.arrived[:, : at + 1].sum(axis=1).astype(float)}
        draws["open orders delivered"] = (base.open_finish < days).sum(axis=1).astype(float)
        margins = margin_draws(delivered, year, seed)
        if len(margins):
            draws["making margin"] = margins
    return draws, units


def _months(costing: Costing, others: dict[str, Answer]) -> pd.DataFrame:
    months = costing.months.copy()
    told = others.get("throughput")
    flow = told.table("months") if told is not None else pd.DataFrame(columns=["month"])
    flow = flow.assign(month=flow["month"].astype(str).str[:7])
    extra = [name for name in ("on_time_share", "n_due", "grams_out", "wip_orders") if name in flow]
    joined = months.merge(flow[["month", *extra]], on="month", how="left")
    return joined.reindex(columns=[one[0] for one in tables.MONTHS])


def _told(frames: dict[str, pd.DataFrame], first: date) -> Told:
    results = frames["months"].set_index("month")["result"].astype(float)
    result, old = results.get(f"{first:%Y-%m}"), results.get(f"{month_start(first, 1):%Y-%m}")
    listed = frames["decisions"]
    return Told(first, result, old, str(listed["answer"].iloc[0]) if len(listed) else "")


def _figures(frames: dict[str, pd.DataFrame], period: tuple[date, date], writing: Writing) -> list[Figure]:
    name, record = f"{period[0]:%Y-%m}", frames["record"]
    rows = frames["months"][frames["months"]["month"] == name].to_dict("records")
    row: Mapping[Any, Any] = rows[0] if rows else {}
    values: list[tuple[str, Any, str]] = [
        ("Result", row.get("result"), writing.currency), ("Making margin", row.get("making_margin"), writing.currency),
        ("Orders finished", row.get("orders"), "orders"), ("On time", row.get("on_time_share"), "share"),
        ("Forecasts right", float(record["inside"].astype(bool).mean()) if len(record) else None, "share"),
    ]  # fmt: skip
    return [
        Figure(name=title, value=None if value is None or pd.isna(value) else rounded(float(value)), unit=unit, period=name,
               n=len(record) if title == "Forecasts right" else None, basis="counted")
        for title, value, unit in values
    ]  # fmt: skip


def _looked_back(earlier: dict[str, Any] | None) -> list[Found]:
    if earlier is None:
        return [Found(level="note", code="no_earlier_review", text="No earlier review was found, so nothing said before is scored yet.")]
    return [
        Found(
            level="note",
            code="earlier_review",
            text=f"What was said on {in_words(date.fromisoformat(earlier['as_of']))} is scored where it has come due.",
        )
    ]


def _earlier_input(previous: str | None) -> dict[str, str]:
    if not previous:
        return {}
    path = Path(previous)
    return {f"{path.parent.name}/{path.name}": hashlib.sha256(path.read_bytes()).hexdigest()}


def _none(shape: tuple[tuple[str, str, str], ...]) -> pd.DataFrame:
    return pd.DataFrame(columns=[one[0] for one in shape])


def _tables(frames: dict[str, pd.DataFrame], currency: str) -> dict[str, Table]:
    return {name: made(frames.get(name, _none(shape)), shape, currency) for name, shape in SHAPES.items()}
