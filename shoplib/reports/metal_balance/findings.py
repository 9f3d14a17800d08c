"""What the reader of the metal balance must know: what cannot be told, what is doubted, what is late, and the law's part."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Literal

import pandas as pd

from ...costing import Costing
from ...intake.shop import Shop
from ...metal.balance import BETWEEN
from ...metal.fineness import keeps_mark
from ...metal.whole import OneMetal, Whole
from ..answer import Found
from ..sentences import Writing, day, listed
from .headline import NEXT
from .tables import SMALL_DEBT_G

CONTRADICTION_SHARE = 0.2
"""A balance that leaves more than this share of what passed through the safe unexplained is a wrong row, not a loss."""
LEAST_GIVEN_AWAY_G = 0.05
"""Grams fine above the mark that are worth a word."""
LEAST_DRIFT_PERMILLE = 0.1
"""A slope of fineness below this is not worth an assay; common practice, no source."""
FROM_COSTING = (
    "pool_below_zero", "metal_unpriced", "weighings_contradict", "unusual_drop", "loss_basis", "recovery_basis", "opening_at_spot",
)  # fmt: skip
CAUTIONS = (
    ("names_nobody", "Unexplained metal is scales, sweeps, a missing row or timing before anything else; it names no person."),
    ("keep_safe", "This page tells how much metal lies where: keep it like the key of the safe."),
    (
        "fineness_law",
        "Marks, tolerances below the mark, solder's part, and receipts for customers' metal are local law; ask the assay office, and a "
        "licensed adviser where money hangs on it.",
    ),
    (
        "melting_safety",
        "Alloying: ventilate, wear eye protection, no solder or alloy with cadmium or lead, acid into water; nickel in white alloys may "
        "harm skin and its release is limited by law.",
    ),
)


def findings(shop: Shop, costing: Costing, found: Whole, frames: dict[str, pd.DataFrame], writing: Writing) -> list[Found]:
    """Return the findings of the report, the gravest first."""
    told = [finding for one in found.metals for finding in _of_metal(one, shop, writing)]
    told += [*_overdue(found, writing), *_rejected(shop), *_finished(frames["finished"], writing)]
    told += [*_peak(frames["peak"], writing), *_customers(frames, writing)]
    told += [Found(level=one.level, code=one.code, text=one.text, where=one.where) for one in costing.findings if one.code in FROM_COSTING]
    told += [_found("note", code, text, "") for code, text in CAUTIONS]
    return sorted(told, key=lambda one: ("stop", "warn", "note").index(one.level))


def _found(level: Literal["stop", "warn", "note"], code: str, text: str, where: str = "metal_ledger") -> Found:
    return Found(level=level, code=code, text=text, where=where)


def _of_metal(one: OneMetal, shop: Shop, writing: Writing) -> Iterator[Found]:
    yield from _test(one, writing)
    yield from _contradictions(one, writing)
    yield from _lots(one)
    if pd.isna(one.spot[-1]):
        text = f"{one.metal.capitalize()} has no price; its grams are shown without money. Add {one.metal} to metal_prices."
        yield _found("warn", "metal_without_price", text, "metal_prices")
    before = one.balance.rows["assumed_loss"].iloc[one.balance.between].sum() if len(one.balance.between) else 0.0
    if before > 0 and one.cannot_tell != "assumed":
        text = (
            f"{writing.grams(before)} of the recorded loss of {one.metal} was assumed, not weighed; the ranges are wider for it. "
            "Weigh each order when metal is given out and when it is finished."
        )
        yield _found("warn", "loss_assumed", text, "labour")


def _test(one: OneMetal, writing: Writing) -> Iterator[Found]:
    rows, test = one.balance.rows.iloc[one.balance.between], one.missing
    if one.cannot_tell:
        level: Literal["stop", "warn"] = "warn" if one.cannot_tell == "few_counts" else "stop"
        text = f"Whether {one.metal} is missing is not shown. {NEXT[one.cannot_tell]}"
        yield _found(level, f"cannot_tell_{one.cannot_tell}", text)
    if test.alarm:
        first, last = rows["from"].iloc[test.first], rows["to"].iloc[test.first]
        when = f"{'between' if test.at_once else 'beginning between'} {day(first.date())} and {day(last.date())}"
        text = (
            f"{writing.grams(test.grams)} ({writing.span(test.low, test.high, 1)}) of {one.metal} is not explained {when}. "
            "Check the scale with a test weight, the fineness of the melt, clean scrap that was not noted and the lot of filings, "
            "in this order, before anyone is asked."
        )
        yield _found("warn", "metal_missing", text)
    for place in test.miscounted:
        short = writing.grams(float(rows["unexplained"].iloc[place]))
        text = (
            f"The count of {one.metal} on {day(rows['to'].iloc[place].date())} seems {short} short: the next count has it back. "
            "Look at the count sheet."
        )
        yield _found("warn", "miscount", text)
    yield from _drift(one, writing)


def _drift(one: OneMetal, writing: Writing) -> Iterator[Found]:
    drift = one.missing.drift
    for alloy, permille, u in zip(one.balance.alloys, drift.permille, drift.u_permille, strict=True):
        if abs(permille) < max(LEAST_DRIFT_PERMILLE, 1.96 * u):
            continue
        much = f"{writing.number(abs(float(permille)), 1)}‰ {'richer' if permille > 0 else 'poorer'} in {one.metal}"
        text = (
            f"{alloy} seems to be melted {much} than stated; that slope was taken out before the test. An assay tells it from a slow leak."
        )
        yield _found("note" if permille < 0 else "warn", "fineness_drift", text)


def _contradictions(one: OneMetal, writing: Writing) -> Iterator[Found]:
    rows = one.balance.rows
    through = rows[["opening", "bought", "customer_in", "borrowed", "refined_back"]].sum(axis=1)
    wrong = rows[(rows["span"] == BETWEEN) & (rows["unexplained"].abs() > CONTRADICTION_SHARE * through)]
    for row in records(wrong.head(3)):
        side = "below" if row["unexplained"] > 0 else "above"
        text = (
            f"The count of {one.metal} on {day(row['to'].date())} is {writing.grams(abs(row['unexplained']))} {side} what ledger and job "
            "cards hold. Look for a row that is missing, a slip of the pen, a wrong fineness or alloy in that count."
        )
        yield _found("warn", "count_contradicts", text)


def records(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Return the rows of a frame as plain mappings."""
    return [dict(zip(map(str, frame.columns), row, strict=True)) for row in frame.itertuples(index=False, name=None)]


def _overdue(found: Whole, writing: Writing) -> Iterator[Found]:
    late = [row for one in found.metals for row in records(one.lots[one.lots["overdue_days"] > 0])]
    for name in dict.fromkeys(row["lot"] for row in late):
        parts = [row for row in late if row["lot"] == name]
        days = writing.number(parts[0]["overdue_days"])
        grams = listed([f"{writing.grams(part['as_expected_g'])} of {part['metal']}" for part in parts])
        text = f"Lot {name} of {day(parts[0]['sent_on'].date())} with about {grams} is {days} days overdue at the refiner. Ask for it."
        yield _found("warn", "lot_overdue", text)


def _lots(one: OneMetal) -> Iterator[Found]:
    lost = one.lots[one.lots["sent"] == "not told"]
    if len(lost):
        text = (
            f"{len(lost)} returns of {one.metal} name no lot that was sent ({', '.join(map(str, lost['lot'].head(3)))}); what was expected "
            "of them is not told. Write filings_sent or refining_sent with the same lot."
        )
        yield _found("note", "lot_not_sent", text)


def _rejected(shop: Shop) -> Iterator[Found]:
    for tally in shop.tallies:
        if tally.rejected and any(name in tally.file for name in ("metal_ledger", "orders", "labour")):
            text = (
                f"{tally.rejected:,} rows of {tally.file} could not be accepted; metal in them is in no balance and may be all that is "
                "unexplained. See rejected_rows.csv, mend them and run again."
            )
            yield _found("warn" if "metal_ledger" in tally.file else "note", "rejected_rows", text, tally.file)


def _finished(finished: pd.DataFrame, writing: Writing) -> Iterator[Found]:
    for row in records(finished):
        if row["given_away_g"] > LEAST_GIVEN_AWAY_G:
            yield _found("warn", "rich_melt", _rich(row, writing), "shop.toml, alloys")
        if not pd.isna(row["finished"]) and not keeps_mark(row["finished"], row["mark"]):
            text = (
                f"With its solder the finished {row['alloy']} is {writing.number(row['finished'], 1)}‰, below its mark of "
                f"{writing.number(row['mark'])}‰. Some laws leave solder out or allow a little below the mark, some do not: "
                "ask the assay office."
            )
            yield _found("warn", "solder_below_mark", text, "shop.toml, solders")
        if row["solder_unknown_g"] > 0:
            text = (
                f"{writing.grams(row['solder_unknown_g'], 'gross')} of solder in {row['alloy']} is of no solder in shop.toml; it counts as "
                f"holding no {row['metal']}. Add it to [[solders]]."
            )
            yield _found("warn", "solder_unknown", text, "shop.toml, solders")


def _rich(row: dict[str, Any], writing: Writing) -> str:
    money = "" if pd.isna(row["given_away_money"]) else f" ({writing.money(row['given_away_money'])})"
    above = writing.number(row["melted"] - row["mark"], 1)
    return (
        f"{row['alloy']} is melted {above}‰ above its mark: {writing.grams(row['given_away_g'])}{money} was given away with "
        f"{writing.grams(row['gross_g'], 'gross')} delivered. Melt closer to the mark, as far as assay and law allow."
    )


def _peak(peak: pd.DataFrame, writing: Writing) -> Iterator[Found]:
    over = peak[peak["money"] > peak["insured"]]
    if len(over):
        worst = records(over.sort_values("money").tail(1))[0]
        text = (
            f"In {len(over)} months more metal was in the house than is insured: {writing.money(worst['money'])} on "
            f"{day(worst['day'].date())} against {writing.money(worst['insured'])}. Raise the sum insured, or hold less."
        )
        yield _found("warn", "above_insured", text, "shop.toml, policy.insured_metal")


def _customers(frames: dict[str, pd.DataFrame], writing: Writing) -> Iterator[Found]:
    rows = frames["customer_metal"]
    kept = (rows["allowance_g"] - rows["loss_borne_g"]).clip(lower=0.0)
    owed = rows[~rows["open"].astype(bool) & (rows["owed_g"] > kept + SMALL_DEBT_G)]
    if len(owed):
        grams = writing.grams(float(owed["owed_g"].sum()))
        text = (
            f"{len(owed)} delivered orders are still owed {grams} of the customers' metal, even if the whole allowance is kept. "
            "Give it back, or write what was agreed as customer_out."
        )
        yield _found("warn", "customers_owed", text)
    short = int((rows["received_g"] == 0).sum())
    if short:
        text = (
            f"For {short} orders in the customer's metal no customer_in is in the ledger; they show as owing it to the shop. "
            "Write it with its order_id."
        )
        yield _found("warn", "customer_in_missing", text)
