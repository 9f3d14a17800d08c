"""truth.json: the parameters with which the history was really made, for tests and judgements of accuracy."""

from __future__ import annotations

import math
from typing import Any

from .book import Book
from .catalogue import ALIASES, ALLOYS, STYLES
from .market import OPEN_DAYS_A_MONTH, STOCK_WEEKS, VALID_DAYS
from .metal import LOSS_OF_A_RETURN
from .parameters import POLISH, TIGHTEN, World
from .people import OVERTIME, SATURDAYS, own_hours
from .play import GAP_THAT_HANDS_OVER_H, REPAIR_HOURS
from .prices import SWING
from .settings_text import shop_name
from .staff import ON_COSTS_PERCENT, PEOPLE
from .tables import LIST_STRUCK_ON


def truth(book: Book) -> dict[str, Any]:
    """Return everything that made the history, with units in the names."""
    world = book.world
    return {
        "about": "An invented workshop: no such shop, people, orders or prices. These parameters made the tables beside this file.",
        "shop": shop_name(world),
        "size": _size(book),
        "stages": [_stage(world, place) for place in range(len(world.stages))],
        "work_time": {
            "law": "log-normal, mean kept: (fixed_h + per_g_h × quoted weight) × style and alloy factor where marked × learning",
            "style_factor": {style.name: style.hours_factor for style in STYLES},
            "solder_factor": {alloy.code: alloy.solder_factor for alloy in ALLOYS},
            "repair_mean_h": {world.stages[stage].name: hours * world.shrink for stage, hours in REPAIR_HOURS.items()},
        },
        "returns": _returns(world),
        "people": [_person(book, place) for place in range(len(PEOPLE))],
        "learning": {
            "law": "unit curve: hours of piece n = standard × max(1, (n ÷ pieces)^(log2 rate)), at most 3 × standard",
            "rate": world.bench.learning_rate,
            "pieces": world.bench.learning_pieces / world.shrink,
        },
        "dispatch": _dispatch(world),
        "quoting": _quoting(world),
        "demand": _demand(world),
        "response": _response(world),
        "orders": _orders(world),
        "metal": _metal(book),
        "spot": {"swing_of_last_month": SWING, "invented": True, "price_list_struck_on": str(LIST_STRUCK_ON)},
        "overtime": {
            "hours_a_day": world.bench.overtime_h_a_day,
            "spans": [[str(a), str(b)] for a, b in OVERTIME],
            "saturdays": [str(d) for d in SATURDAYS],
        },
    }


def _size(book: Book) -> dict[str, Any]:
    world = book.world
    return {
        "orders_asked": world.orders,
        "orders": len(book.shop.orders),
        "months": world.months,
        "seed": world.seed,
        "first_day": str(world.first_day),
        "last_day": str(world.last_day),
        "shrink": world.shrink,
        "busier": world.busier,
        "shrink_means": "weights and hours an order ÷ those of a full-size piece; people, months, load and grams a week stay",
    }


def _dispatch(world: World) -> dict[str, Any]:
    return {
        "rule": "promise",
        "which_promise": "first_promised_on",
        "strength": world.bench.dispatch_strength,
        "else": "any order waiting for one of the person's skills, all alike",
        "rush_first": True,
        "ties": "ordered_on, then order_id",
        "shared_melt_share": world.bench.shared_melt_share,
        "hands_over_after_gap_h": GAP_THAT_HANDS_OVER_H,
        "clocked_share_of_visits": world.bench.clock_share,
        "shared_work": "three people in turn, half an hour on Fridays, booked to no order",
    }


def _stage(world: World, place: int) -> dict[str, Any]:
    stage = world.stages[place]
    return {
        "name": stage.name,
        "fixed_h": stage.fixed_h,
        "per_g_h": stage.per_g_h,
        "sigma": stage.sigma,
        "by_style": stage.by_style,
        "by_alloy": stage.by_alloy,
        "weighed_share": stage.weighed_share,
        "loss_permille": {alloy.code: stage.loss_permille * alloy.loss_factor for alloy in ALLOYS},
        "hours_of_a_visit_again": dict(world.bench.again_hours).get(place, 1.0),
    }


def _returns(world: World) -> dict[str, Any]:
    return {
        "to_solder": {"found_at": world.stages[TIGHTEN].name, "odds": {alloy.code: alloy.return_to_solder for alloy in ALLOYS}},
        "to_file": {"found_at": world.stages[POLISH].name, "odds": {alloy.code: alloy.return_to_file for alloy in ALLOYS}},
        "odds_factor_when_found_again": world.bench.return_again_factor,
        "most_returns_an_order": world.bench.most_returns,
        "flagged": "rework = y on the visit gone back to and on the stage that found it, passed again",
    }


def _person(book: Book, place: int) -> dict[str, Any]:
    person, world = PEOPLE[place], book.world
    away = {True: 0.0, False: 0.0}
    days = [world.day(n) for n in range(world.days)]
    absent = [(a.first, a.last, a.planned) for a in book.rota.absences if a.worker == person.code]
    owed = [(day, own_hours(person, day)) for day in days if own_hours(person, day)]
    for day, _ in owed:
        for first, last, planned in absent:
            if first <= day <= last:
                away[planned] += 1
    return {
        "code": person.code,
        "skills": list(person.skills),
        "learnt": {skill: str(day) for skill, day in person.learnt},
        "hours": list(person.hours),
        "on_orders_share": person.on_orders_share,
        "on_orders_share_spread_by_day": world.bench.day_share_spread,
        "unplanned_absence_starts_a_day": person.sick_start,
        "unplanned_absence_goes_on": 0.62,
        "planned_absence_share": away[True] / len(owed) if owed else 0.0,
        "unplanned_absence_share": away[False] / len(owed) if owed else 0.0,
        "started_on": str(person.started_on),
        "left_on": str(person.left_on) if person.left_on else None,
        "owner": person.owner,
        "wage_per_hour": person.wage,
        "on_costs_percent": ON_COSTS_PERCENT,
        "works_overtime": person.overtime,
    }


def _quoting(world: World) -> dict[str, Any]:
    market = world.market
    return {
        "rule": "weeks = fixed + per_open_order × orders open + noise, rounded to step, clipped; promise = order day + 7 × weeks",
        "fixed_weeks": market.weeks_fixed,
        "weeks_per_open_order": market.weeks_per_open_order,
        "noise_sd_weeks": market.weeks_noise,
        "step_weeks": market.weeks_step,
        "range_weeks": list(market.weeks_range),
        "rush_factor": 0.5,
        "stock_weeks": STOCK_WEEKS,
        "answered_within_days": VALID_DAYS,
    }


def _demand(world: World) -> dict[str, Any]:
    market, scale = world.market, world.busier
    mean = market.enquiries_a_month * scale
    return {
        "enquiries_a_month_mean": mean,
        "growth_a_year": market.growth_a_year,
        "late_rise": market.late_rise,
        "late_rise_ends_days_before_the_end": 183,
        "late_rise_begins_days_before_the_end": 304,
        "season_amplitude": market.season,
        "season_highest_on_day_of_year": 319,
        "open_days_a_month": OPEN_DAYS_A_MONTH,
        "law": "mean × growth and late rise (their mean is 1) × (1 + season × wave of the year)",
        "unasked_a_month": {
            "walk_in": market.walk_ins_a_month * scale,
            "customer_metal": market.customer_metal_a_month * scale,
            "stock": market.stock_a_month * scale,
            "repair": market.repairs_a_month * scale,
            "guarantee": market.guarantees_a_month * scale,
        },
    }


def _response(world: World) -> dict[str, Any]:
    market = world.market
    return {
        "law": "logit of won = intercept + price answer × ln(price ÷ gold in it at spot) + wait answer × weeks + season_won × wave",
        "gold_in_it": "quoted weight × fineness of the mark",
        "intercept": market.intercept,
        "answer_to_price": market.answer_to_price,
        "answer_to_wait": market.answer_to_wait,
        "season_won": market.season_won,
        "price_noise_sd": market.price_noise,
    }


def _orders(world: World) -> dict[str, Any]:
    market = world.market
    return {
        "styles": {style.name: style.share for style in STYLES},
        "alloys": {alloy.code: alloy.share for alloy in ALLOYS},
        "style_aliases": ALIASES,
        "at_delivery_share_of_quoted": market.at_delivery_share,
        "by_weight_share_of_fixed": market.by_weight_share,
        "wishes_to_call_off_share": market.cancelled_share,
        "rush_share": market.rush_share,
        "held_share": market.held_share,
        "delivery_lag": "0 days for 40 %, else 1 + floor of an exponential of mean 1.8 days, then the next open day; stock at once",
    }


def _metal(book: Book) -> dict[str, Any]:
    world = book.world
    metal = world.metal
    loss = {a.code: 1 - math.prod(1 - s.loss_permille / 1000 * a.loss_factor for s in world.stages) for a in ALLOYS}
    inside = slice(0, world.days)
    return {
        "melted_fineness": {alloy.code: alloy.melted_fineness for alloy in ALLOYS},
        "palladium_permille": {a.code: a.palladium for a in ALLOYS},
        "gross_loss_share_first_pass": loss,
        "loss_spread_sd_log": metal.loss_spread,
        "loss_of_a_visit_again": LOSS_OF_A_RETURN,
        "recovery": metal.recovery,
        "recovery_sd_a_lot": metal.recovery_spread,
        "refiner_keeps": metal.refiner_keeps,
        "issue_over_quote": metal.issue_over_quote,
        "weight_over_quote": metal.weight_over_quote,
        "weight_sd_log": metal.weight_spread,
        "solder_share": metal.solder_share,
        "solder_share_again": metal.solder_share_again,
        "missing_g": 0.0,
        "count_error_sd_g": metal.count_error_g,
        "readability_g": metal.readability_g,
        "premium_over_spot": metal.premium_over_spot,
        "issued_g": {a.code: round(sum(book.shop.flows.issued[n][inside]), 3) for n, a in enumerate(ALLOYS)},
        "lost_g": {a.code: round(sum(book.shop.flows.lost[n][inside]), 3) for n, a in enumerate(ALLOYS)},
        "scrap_back_g": {a.code: round(sum(book.shop.flows.scrap[n][inside]), 3) for n, a in enumerate(ALLOYS)},
        "solder_used_g": {a.code: round(sum(book.shop.flows.solder[n][inside]), 3) for n, a in enumerate(ALLOYS)},
    }
