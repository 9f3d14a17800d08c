"""Price sensitivity: which prices must move after the metal did, what to quote, and what is sold but not bought."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from pydantic import Field, field_validator

from ...cache import cached
from ...costing import Costing, cost
from ...intake import as_of, until
from ...intake.shop import Finding, Shop
from ...pricing.costs import MakingCosts, making_costs, net_loss_by_alloy
from ...pricing.exposure import exposure, houses_of, open_fixed
from ...pricing.lines import Lines, lines_of
from ...pricing.mark_up import MarkUps, mark_ups
from ...pricing.market import Market, market_of, moves
from ...pricing.metal_to_buy import metal_to_buy
from ...pricing.open_quotes import open_quotes
from ...pricing.quote_sheet import at_length, promise_days, quote_sheet
from ...pricing.relist import if_customers_answer, new_list, pieces_of, price_list, spot_grid
from ...pricing.response import answered_quotes, customers_response, elasticity, response_table, why_untold
from ...pricing.validity import Spread, age_findings, chances_by_day, quote_days, spread_findings, spread_of
from ...workshop.baseline import Baseline
from ...workshop.response import Response
from .. import answer as answers
from ..answer import Answer, Figure, Found, rounded
from ..compose import compose
from ..periods import whole_months
from ..sentences import Writing
from ..shared import baseline_or_none
from . import tables
from .headline import Told, headline
from .page import page

__all__ = ["QUESTION", "Parameters", "answer", "page"]

QUESTION = "Which prices must move after gold did?"
ELASTICITIES = (0.0, -0.5, -1.0)
CAUTIONS = (
    ("direction", "The direction of a metal is not forecast; only how far it may move while a quote stands."),
    ("as_before", "Money at stake holds if customers order as before; the last section shows what it is if they do not."),
    ("not_advice", "Price and metal figures are arithmetic on the shop's own data, not investment, tax or legal advice."),
)


class Parameters(answers.Parameters):
    """Parameters of the price report."""

    spot_change_percent: float = Field(0.0, ge=-20, le=20, description="change of spot shown first, percent, in steps of 2.5")
    quote_line: str = Field("", description="line to quote by length, as the report names it; blank: none")
    quote_length_cm: float = Field(50.0, gt=0, le=1000, description="length of that quote, cm")

    @field_validator("spot_change_percent")
    @classmethod
    def _a_step(cls, value: float) -> float:
        if round(value / 2.5, 6) != round(value / 2.5):
            raise ValueError("a multiple of 2.5 from -20 to 20")
        return value


@dataclass(frozen=True)
class _Found:
    """What the report rests on."""

    shop: Shop
    costing: Costing
    market: Market
    lines: Lines
    costs: MakingCosts
    base: Baseline | None
    response: Response | None
    marks: MarkUps | None
    spreads: dict[str, Spread]


def answer(shop: Shop, parameters: Parameters) -> Answer:
    """Return the list repriced, the quote sheet, exposure, metal to buy, quote days and customers' answers.

    Parameters
    ----------
    shop : Shop
        The cleaned tables.
    parameters : Parameters
        Last day, change of spot shown first, a line to quote.
    """
    last = parameters.as_of or as_of(shop)
    base, why = baseline_or_none(shop, last, parameters.seed)
    found, writing = _found(until(shop, last), last, base, parameters.seed), Writing.of(shop.settings)
    frames = _frames(found, parameters, last)
    repriced, metal = frames["price_list"][0], _main_metal(found, frames["price_list"][0])
    told = _told(found, repriced, frames["quote_days"][0], frames["moves"][0], metal)
    made = {name: tables.made(frame, columns, writing.currency) for name, (frame, columns) in frames.items()}
    said = [*found.lines.findings, *spread_findings(found.spreads), *age_findings(found.shop, found.market), *_findings(found, why)]
    findings = [Found(level=one.level, code=one.code, text=one.text, where=one.where) for one in said]
    cautions = [Found(level="note", code=code, text=text) for code, text in CAUTIONS]
    figures = _figures(told, frames["exposure"][0], found, metal, writing, last)
    period = whole_months(last, parameters.period_months)
    return compose(shop, "price_sensitivity", parameters, period, headline(told, writing), figures, made, [*findings, *cautions], last)


def _found(shop: Shop, last: date, base: Baseline | None, seed: int) -> _Found:
    costing = cost(shop, last, base.limits.limiting if base else None)
    market = market_of(shop, np.datetime64(last, "D"))
    lines = lines_of(shop, costing.known, market, net_loss_by_alloy(costing, shop.settings))
    response = customers_response(shop, market.as_of, seed)
    marks = None
    if base is not None and response is not None:
        ready = base
        marks = cached("mark_up", [shop.fingerprint, last, seed], lambda: mark_ups(ready))
    used = {market.metals[k] for k in lines.main}
    spreads = {metal: spread_of(shop, market, metal) for metal in market.metals if metal in used}
    return _Found(shop, costing, market, lines, making_costs(costing, lines, shop.settings), base, response, marks, spreads)


def _main_metal(found: _Found, repriced: pd.DataFrame) -> str:
    """Return the metal with most money in the lines sold; the first of the alloys without a line."""
    money = repriced.sort_index()["metal_now"].fillna(0.0) * (1.0 + repriced["pieces_12_months"])
    totals = {metal: float(money[found.lines.main == k].sum()) for k, metal in enumerate(found.market.metals)}
    return max(totals, key=lambda metal: totals[metal]) if totals else ""


Frame = tuple[pd.DataFrame, tuple[tuple[str, str, str], ...]]


def _frames(found: _Found, parameters: Parameters, last: date) -> dict[str, Frame]:
    policy, market, lines = found.shop.settings.policy, found.market, found.lines
    piece = pieces_of(lines, found.costs, market)
    repriced = price_list(lines, piece, market, policy)
    metal = _main_metal(found, repriced)
    grid = spot_grid(lines, piece, market, policy, metal) if metal else pd.DataFrame(columns=[name for name, *_ in tables.SPOT_GRID])
    charge = (repriced["price_to_target"] - repriced["metal_now"]).to_numpy(float)
    risk, share, spreads = policy.quote_risk_percent / 100.0, policy.quote_margin_at_risk_percent / 100.0, found.spreads
    stand = quote_days(lines, charge, market, spreads, share, risk, parameters.seed)
    new_orders = found.base.new_orders if found.base else pd.DataFrame({"style": [], "alloy": [], "arrival_days": [], "delivered_days": []})
    days = promise_days(new_orders, lines, policy.service_level_percent / 100.0)
    sheet = quote_sheet(lines, repriced, found.costs, stand["days"].to_numpy(float), days, last, policy.quote_valid_days, policy.price_step)
    one = at_length(sheet, parameters.quote_line, parameters.quote_length_cm, policy.price_step)
    struck = lines.table["struck_on"].to_numpy("datetime64[D]")
    return {
        "quote_sheet": (sheet, tables.QUOTE_SHEET), "quote": (one, tables.QUOTE_SHEET), "price_list": (repriced, tables.PRICE_LIST),
        "new_list": (new_list(lines, repriced), tables.NEW_LIST), "spot_grid": (grid, tables.SPOT_GRID),
        **_metal_frames(found), "quote_days": (stand, tables.QUOTE_DAYS), "response": (response_table(found.response), tables.RESPONSE),
        "moves": (moves(found.shop, market, struck), tables.MOVES), "spot": (_spot(market, struck, metal), tables.SPOT),
        "chances": (_chances(found, spreads, stand, repriced, parameters.seed), tables.CHANCES),
        "if_customers_answer": (_if_answered(found, piece, repriced), tables.IF_ANSWERED),
        "mark_up": (found.marks.table() if found.marks else _nothing(tables.MARK_UP), tables.MARK_UP),
    }  # fmt: skip


def _metal_frames(found: _Found) -> dict[str, Frame]:
    houses = houses_of(found.shop, found.costing, found.market)
    buy = _nothing(tables.METAL_TO_BUY)
    if found.base is not None:
        buy = metal_to_buy(found.base, found.shop, found.costing, found.market, houses)
    return {
        "exposure": (exposure(houses, found.costing, found.market), tables.EXPOSURE),
        "open_quotes": (open_quotes(found.shop, found.market, net_loss_by_alloy(found.costing, found.shop.settings)), tables.OPEN_QUOTES),
        "open_fixed": (open_fixed(houses, found.costing, found.market), tables.OPEN_FIXED),
        "metal_to_buy": (buy, tables.METAL_TO_BUY),
    }


def _spot(market: Market, struck: np.ndarray, metal: str) -> pd.DataFrame:
    """Return spot of the main metal from a month before the first price was struck, every third day and each day of striking."""
    known = struck[~np.isnat(struck)]
    if not len(known) or not metal:
        return pd.DataFrame({"date": [], "spot": [], "struck": []})
    first = max(known.min() - 30, market.as_of - 1095)
    days = np.unique(np.concatenate([np.arange(market.as_of, first, -3), known[known >= first]]))
    spot = market.on(days)[:, market.place(metal)]
    return pd.DataFrame({"date": days.astype("datetime64[s]"), "spot": spot, "struck": np.isin(days, known)})


def _usual(repriced: pd.DataFrame) -> int:
    return int((repriced["pieces_12_months"] * repriced["price_now"]).to_numpy(float).argmax()) if len(repriced) else -1


def _chances(found: _Found, spreads: dict[str, Spread], stand: pd.DataFrame, repriced: pd.DataFrame, seed: int) -> pd.DataFrame:
    """Return the chance of the loss at risk on the usual line by calendar day, until well past where it is decided."""
    usual, risk = _usual(repriced), found.shop.settings.policy.quote_risk_percent / 100.0
    if usual < 0:
        return pd.DataFrame({"days": [], "odds": []})
    spread = spreads[found.market.metals[int(found.lines.main[usual])]]
    odds = chances_by_day(spread, stand["rise"].to_numpy(float)[[usual]], seed)[0]
    last = int(np.searchsorted(odds, min(3.0 * risk, 0.45))) + 2
    days = np.round(spread.calendar_days * np.arange(1, len(odds) + 1), 2)
    return pd.DataFrame({"days": days[:last], "odds": odds[:last]}).dropna()


def _if_answered(found: _Found, piece: object, repriced: pd.DataFrame) -> pd.DataFrame:
    def gain(value: float) -> tuple[float, float]:
        return if_customers_answer(found.lines, piece, repriced, value)  # type: ignore[arg-type]

    rows: list[tuple[object, ...]] = [(value, "assumed", *gain(value), np.nan, np.nan) for value in ELASTICITIES]
    if found.response is not None:
        quotes = found.shop["quotes"]["won"]
        won, price = float(quotes.fillna(0.0).mean()), found.response.price
        own = elasticity(price.estimate, won)
        ends = sorted(gain(elasticity(end, won))[1] for end in (price.low, price.high))
        rows.append((own, "the shop's own quotes, making part", *gain(own), *ends))
    return pd.DataFrame(rows, columns=[name for name, *_ in tables.IF_ANSWERED])


def _nothing(columns: tuple[tuple[str, str, str], ...]) -> pd.DataFrame:
    return pd.DataFrame(columns=[name for name, *_ in columns])


def _told(found: _Found, repriced: pd.DataFrame, stand: pd.DataFrame, moved: pd.DataFrame, metal: str) -> Told:
    known = repriced[repriced["price_exact"].notna()]
    weights = (known["metal_when_struck"] * (1.0 + known["pieces_12_months"])).to_numpy(float)
    change = moved[moved["metal"] == metal].set_index("struck_on")["change_share"].reindex(known["struck_on"]).to_numpy(float)
    mean = float(np.average(change, weights=weights)) if weights.sum() > 0 else float("nan")
    first = known[known["short"]].sort_values(["money_at_stake", "line"], ascending=[False, True])["line"].head(2)
    usual = _usual(repriced)
    days = float(stand["days"].iloc[usual]) if usual >= 0 else float("nan")
    money = float(known["money_at_stake"].sum()) if len(known) else float("nan")
    return Told(metal, len(repriced), int(known["short"].sum()), tuple(first), mean, money, days)


def _figures(told: Told, exposed: pd.DataFrame, found: _Found, metal: str, writing: Writing, last: date) -> list[Figure]:
    row = exposed[exposed["metal"] == metal]
    spot = float(row["spot"].iloc[0]) if len(row) else float("nan")
    net, percent = (float(row[name].iloc[0]) if len(row) else float("nan") for name in ("net_g", "money_per_percent"))
    money, day = writing.currency, last.isoformat()
    best = [_best(found.marks, last)] if found.marks else []
    return [
        _figure("Spot", spot, f"{money}/g fine", day, None, "measured"),
        _figure("Lines under target", float(told.short) if told.known else np.nan, "lines", day, told.lines, "counted"),
        _figure("A year of new prices", told.money, money, "12 months", told.lines, "if customers order as before"),
        _figure("Sold, not bought", max(0.0, -net) if net == net else net, "g fine", day, None, "counted"),
        _figure("Net metal, 1% on spot", percent, money, day, None, "counted"),
        _figure("A quote may stand", told.quote_days, "days", day, None, "estimated"),
        _figure("Quotes with an outcome", answered_quotes(found.shop, found.market.as_of), "quotes", day, None, "counted"),
        *best,
    ]


def _best(marks: MarkUps, last: date) -> Figure:
    """Return the mark-up on the making part that earns most of those tried, and its 80 % range over how customers may answer."""
    low, high = marks.best_range
    return Figure(
        name="Best mark-up", value=marks.best, low=low, high=high, level=0.8, unit="share of the making charge", period=last.isoformat(),
        n=len(marks.gain), basis="simulated",
    )  # fmt: skip


def _figure(name: str, value: float, unit: str, period: str, n: int | None, basis: str) -> Figure:
    return Figure(name=name, value=rounded(value), unit=unit, period=period, n=n, basis=basis)


def _findings(found: _Found, why: str) -> list[Finding]:
    said = list(found.costing.findings)
    if found.base is None:
        text = f"Promises, metal to buy and mark-ups are not shown, because the shop cannot be simulated: {why}"
        said.append(Finding("warn", "no_simulation", text, "labour"))
    if found.lines.from_orders and len(found.lines.table):
        text = "There is no price list; the last orders of each style and alloy stand in for one. Add a table price_list."
        said.append(Finding("note", "no_price_list", text, "price_list"))
    if found.response is None:
        text = f"How customers answer to price is not told. {why_untold(found.shop, found.market.as_of)}"
        said.append(Finding("note", "no_answer_to_price", text, "quotes.won"))
    if found.shop["metal_ledger"].empty:
        text = "There is no metal ledger: what the safe holds at our price is not known, so uncovered grams are the most they can be."
        said.append(Finding("warn", "no_ledger", text, "metal_ledger"))
    return said
