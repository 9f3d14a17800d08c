"""The costing of a shop: from its tables to what each order, month and open job earned or will earn."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..intake.as_of import until
from ..intake.shop import Finding, Shop
from ..units import METALS
from .calendar import WorkingCalendar, weekday_of, working_calendar
from .capital import capital_cost, payment_days
from .cost_findings import findings_of
from .groups import style_alloy
from .labour import Pay, costed, entries, mark_rework, pay_of, stage_hours, visits
from .ledger import issued_fine, ledger_entries, ledger_loss_share
from .loads import busiest, loads_of
from .losses_of_orders import gross_by_scale, gross_losses, net_losses, so_far
from .metal_book import book_rates
from .months import absorption_rates, month_names, month_table, normal_hours, overheads_by_month, unbooked_pay
from .open_orders import Work, expected_loss, open_table, reached_stages, recent_orders
from .order_labour import labour_of, limiting_stages, route_progress, shared_work
from .order_metal import bench_moves, metal_use, part_use
from .orders import deposits_kept, other_metals, priced
from .pieces import fix_days, fix_prices, pieces
from .pool_accounts import OrdersMetal
from .pool_entries import pool_of
from .recovery import loss_days, returned_share
from .spot import Spot, spot_of
from .standard import price_standard, stage_rates, standard_entries
from .totals import total_by
from .weighings import given_out, stage_drops, weighed_visits

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Costing:
    """What the shop earned, and what its open orders will.

    Attributes
    ----------
    as_of : date
        Last day that counts.
    limiting_skill : str or None
        Skill whose hours limit; the busiest of the last twelve months unless named.
    orders : DataFrame
        Every order delivered: the columns of the margin report's table `orders`, and kind, pieces, customer_type, settled_by, metal,
        ordered_on, issued_on, finished_g, quoted_weight_g (g gross), gross_loss_g, net_loss_g (g gross), fine_g (in the piece,
        whoever owns it), own_fine_g (of it the shop's), gross_loss_fine_g, net_fine_g (lost for good, the shop's), book_fine_g (charged),
        loss_basis, recovery_basis, fix_price_per_g, cost_per_g (C at issue), first_hours, standard_hours, hours_basis,
        shared_labour, owner_labour, metal_result_move, metal_result_premium, style_group (style · alloy), absorbing_hours.
    cancelled : DataFrame
        The same of orders called off: price is what was kept of the deposit, metal only what was lost.
    open_orders : DataFrame
        `open_orders.COLUMNS`, one row an order still open.
    months : DataFrame
        All months, from `months.month_table`.
    pool : DataFrame
        Movements of metal, `metal_pool.COLUMNS` with metal and order_id.
    corrections : DataFrame
        date, month, metal, kind, order_id, fine_g, amount (money; a gain is positive).
    labour : DataFrame
        Entries costed: those of `labour.entries` with rate, cost, overtime_h, premium, owner, order_id; row 0: standard hours.
    weighings : DataFrame
        `weighings.weighed_visits` with order_id.
    loads : DataFrame
        skill, booked_h, available_h, load of the last twelve months.
    stage_share : ndarray(float), shape (n_orders, n_stages + 1)
        Where each order of `known` lost its metal.
    known : DataFrame
        All orders as known on `as_of`, open ones too, in the order of the table, with the columns of `orders` as they stand.
    findings : tuple of Finding
        What was assumed, doubted or cannot be told.
    """

    as_of: date
    limiting_skill: str | None
    orders: pd.DataFrame
    cancelled: pd.DataFrame
    open_orders: pd.DataFrame
    months: pd.DataFrame
    pool: pd.DataFrame
    corrections: pd.DataFrame
    labour: pd.DataFrame
    weighings: pd.DataFrame
    loads: pd.DataFrame
    stage_share: Floats
    known: pd.DataFrame
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class _Bench:
    """The job cards, read and costed."""

    frame: pd.DataFrame
    weighed: pd.DataFrame
    table: pd.DataFrame
    calendar: WorkingCalendar
    pay: Pay
    rework_basis: str


@dataclass(frozen=True)
class _Metal:
    """The metal of every order."""

    lost: pd.DataFrame
    expected: pd.DataFrame
    share: Floats
    use: pd.DataFrame
    moves: pd.DataFrame
    pool: pd.DataFrame
    taken: OrdersMetal


def cost(shop: Shop, as_of: date, limiting_skill: str | Callable[[], str | None] | None = None) -> Costing:
    """Return the costing of `shop` as known on `as_of`.

    Parameters
    ----------
    shop : Shop
        The accepted tables.
    as_of : date
        Last day that counts; later rows are left out.
    limiting_skill : str or callable, optional
        Skill of the limiting bench, or what returns it, asked only when job cards and metal are done, so that a search
        for it may run beside them; left out, or None returned: the one with the highest load over the last twelve months.
    """
    seen, last, spot = until(shop, as_of), np.datetime64(as_of, "D"), spot_of(shop)
    bench = _bench(seen, last)
    metal = _metal(seen, bench, spot, last)
    first = bench.calendar.days[0]
    names = month_names(first, last)
    year = (bench.calendar.days > last - np.timedelta64(365, "D")) & (bench.calendar.days <= last)
    loads = loads_of(bench.frame[bench.frame["row"] > 0], bench.table, seen.settings, bench.calendar, year)
    told = limiting_skill() if callable(limiting_skill) else limiting_skill
    skill = told if told is not None else busiest(loads)
    borne, unborne = shared_work(bench.frame, _grams_worked(bench.table, metal.expected), first, len(names))
    labour = labour_of(bench.frame, borne, limiting_stages(seen.settings, skill))
    money = _money(seen, bench, metal, labour, spot, last)
    corrections = _corrections(metal.pool)
    by_month = _by_month(seen, bench, unborne, skill, last, names)
    delivered, cancelled = (_closed(money, bench.table[column].notna()) for column in ("delivered_on", "cancelled_on"))
    open_orders = _open(seen, bench, metal, money, last)
    months = month_table(delivered, cancelled, corrections, by_month, last, names)
    ids = np.array([*bench.table["order_id"], None], dtype=object)
    found = findings_of(seen.settings, bench.frame, bench.weighed, money, metal.pool, metal.moves, unborne, bench.rework_basis)
    return Costing(
        as_of, skill, delivered, cancelled, open_orders, months, metal.pool, corrections,
        bench.frame.assign(order_id=ids[bench.frame["order"].to_numpy()]),
        bench.weighed.assign(order_id=ids[bench.weighed["order"].to_numpy()]),
        loads, metal.share, money, (*bench.calendar.findings, *found),
    )  # fmt: skip


def _bench(seen: Shop, last: np.datetime64) -> _Bench:
    settings, orders = seen.settings, seen["orders"]
    frame = entries(seen["labour"], orders, settings)
    visit = visits(frame)
    frame, basis = mark_rework(frame, visit, settings)
    weighed = weighed_visits(frame, visit, settings)
    table = pieces(orders, frame, weighed, settings)
    days = np.concatenate([
        frame["day"].to_numpy("datetime64[D]"), orders["ordered_on"].to_numpy("datetime64[D]"),
        seen["metal_ledger"]["date"].to_numpy("datetime64[D]"), [last],
    ])  # fmt: skip
    sunday = last + np.timedelta64(6 - int(weekday_of(np.array([last]))[0]), "D")
    calendar = working_calendar(settings, seen["absences"], days.min().astype(object), sunday.astype(object))
    pay = pay_of(settings, calendar)
    standard = price_standard(standard_entries(table, frame, settings), settings, calendar, pay)
    frame = costed(frame, calendar, pay)
    frame = pd.concat([frame, standard[list(frame.columns)]], ignore_index=True) if len(standard) else frame
    return _Bench(frame, weighed, table, calendar, pay, basis)


def _metal(seen: Shop, bench: _Bench, spot: Spot, last: np.datetime64) -> _Metal:
    settings, table, weighed, n = seen.settings, bench.table, bench.weighed, len(bench.table)
    given, drops = given_out(weighed, n, settings), stage_drops(weighed, n, len(settings.stages))
    scrap = total_by(bench.frame["order"].to_numpy(), bench.frame["scrap_back_g"].to_numpy(), n)
    unusual = total_by(weighed["order"].to_numpy(), weighed["drop_g"].where(weighed["unusual"], 0.0).to_numpy(), n)
    moves = ledger_entries(seen["metal_ledger"], settings)
    issued = issued_fine(table, given, settings)
    by_scale = (*gross_by_scale(table, given, scrap, unusual), drops)
    by_ledger = ledger_loss_share(table, issued, moves)
    gross, share = gross_losses(table, by_scale, book_rates(seen["metal_book"], table, settings), by_ledger, settings)
    returned, basis = returned_share(table, loss_days(table, gross, weighed, settings), moves, settings)
    now = so_far(table, gross, drops, route_progress(table, bench.frame, settings))
    expected, lost = (part.join(net_losses(part, share, returned, settings)) for part in (gross, now))
    lost = lost.assign(recovery_basis=basis)
    policy = settings.policy
    use = metal_use(table, lost, issued, policy.customer_filings == "shop", policy.customer_metal_allowance_percent / 100.0)
    day = fix_days(table, last)
    parts = {name: part_use(table, lost, issued, name, spot.on(name, day)) for name in METALS if table[f"part_{name}"].any()}
    pool, taken = pool_of(table, use, parts, bench_moves(table, bench.frame, settings), moves, spot, policy.metal_cost)
    return _Metal(lost, expected, share, use, moves, pool, taken)


def _grams_worked(table: pd.DataFrame, expected: pd.DataFrame) -> Floats:
    grams: Floats = (table["weight_g"] + expected["gross_loss_g"]).to_numpy()
    return grams


def _money(seen: Shop, bench: _Bench, metal: _Metal, labour: pd.DataFrame, spot: Spot, last: np.datetime64) -> pd.DataFrame:
    """Return every order known with all its figures."""
    policy, lost = seen.settings.policy, metal.lost
    table = bench.table.assign(kept=deposits_kept(bench.table, seen["payments"]))
    fix = fix_prices(table, spot, last)
    other = other_metals(table, lost, labour["hours"].to_numpy(), spot, last, seen.settings)
    delivered, own = table["delivered_on"].notna(), table["own"]
    held = metal.use["needed_g"].where(delivered, metal.use["issued_g"]).where(own, 0.0).to_numpy()
    paid_on = payment_days(table, seen["payments"])
    own_fine = table["fine_g"].where(own & delivered, 0.0)
    hours_basis = np.where(labour["standard_hours"] > 0, "standard", np.where(labour["hours"] > 0, "booked", "none"))
    facts = table.drop(columns=["price", "stones_cost", "findings_cost", "outwork_cost", "solder_cost"]).assign(
        finished_g=table["weight_g"], own_fine_g=own_fine, net_fine_g=metal.use["book_g"] - own_fine, book_fine_g=metal.use["book_g"],
        fix_price_per_g=fix, cost_per_g=metal.taken.cost_per_g, hours_basis=hours_basis, style_group=style_alloy(table),
        capital_cost=capital_cost(table, held, metal.taken.borrowed_share, paid_on, spot, last, policy),
        absorbing_hours=labour["limiting_hours" if policy.overheads_by == "limiting_hours" else "hours"],
    )  # fmt: skip
    spare = ["labour", "rework_labour", "overtime_premium", "owner_labour"]
    return facts.join(lost).join(priced(table, metal.use, metal.taken, labour, other, fix)).join(labour.drop(columns=spare))


def _closed(money: pd.DataFrame, closed: pd.Series) -> pd.DataFrame:
    return money[closed].sort_values(["closed_on", "order_id"], kind="stable", ignore_index=True)


def _corrections(pool: pd.DataFrame) -> pd.DataFrame:
    told = pool.loc[pool["correction"] != 0, ["date", "metal", "kind", "order_id", "fine_g", "correction"]]
    months = told["date"].to_numpy("datetime64[M]").astype(str)
    table = told.rename(columns={"correction": "amount"}).assign(month=months)
    table = table[["date", "month", "metal", "kind", "order_id", "fine_g", "amount"]]
    return table.sort_values(["date", "metal"], kind="stable", ignore_index=True)


def _by_month(seen: Shop, bench: _Bench, unborne: Floats, skill: str | None, last: np.datetime64, names: list[str]) -> dict[str, Floats]:
    overheads = overheads_by_month(seen["overheads"], bench.calendar.days[0], len(names))
    limiting = skill if seen.settings.policy.overheads_by == "limiting_hours" else None
    normal = normal_hours(bench.frame, bench.calendar, seen.settings, limiting, len(names))
    return {
        "unbooked_pay": unbooked_pay(bench.frame, unborne, bench.calendar, bench.pay, _first_day(bench), last),
        "overheads": overheads,
        "overhead_rate": absorption_rates(overheads, normal),
    }


def _first_day(bench: _Bench) -> np.datetime64:
    """Return the first day with an order or an entry: pay before the books begin is none of theirs."""
    days = np.concatenate([bench.frame["day"].to_numpy("datetime64[D]"), bench.table["ordered_on"].to_numpy("datetime64[D]")])
    first: np.datetime64 = days.min() if len(days) else bench.calendar.days[-1]
    return first


def _open(seen: Shop, bench: _Bench, metal: _Metal, money: pd.DataFrame, last: np.datetime64) -> pd.DataFrame:
    table, settings = bench.table, seen.settings
    booked = stage_hours(bench.frame, len(table), settings.stages)
    today = bench.calendar.day_index(np.array([last]))[0]
    work = Work(booked, reached_stages(booked, bench.frame), stage_rates(settings, bench.pay)[:-1, today])
    expected = expected_loss(table, metal.expected, recent_orders(table, last))[1]
    costs = money[["labour", "rework_labour", "other_metals"]].assign(
        loss_so_far_g=metal.lost["gross_loss_g"], net_fine_so_far_g=metal.lost["net_loss_fine_g"]
    )
    return open_table(table, costs, expected, money["fix_price_per_g"].to_numpy(), work, settings, last)
