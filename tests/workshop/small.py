"""Small workshops for tests: everything certain, switched off or even, unless a test says otherwise."""

from __future__ import annotations

from typing import Any

import numpy as np

from shoplib.workshop.model import State, Workshop

AS_OF = np.datetime64("2026-06-30")
NEVER = np.datetime64("NaT", "D")


def small_workshop(stages: int = 2, people: int = 2, orders_per_day: float = 1.0, hours: float = 2.0, sd: float = 0.4, **changes: Any) -> Workshop:
    """Return a workshop of one style and one alloy in which everybody can do everything, eight hours a weekday."""
    few = {"stages": np.array([f"stage {i}" for i in range(stages)]), "skills": np.array([f"skill {i}" for i in range(stages)]),
           "people": np.array([f"P{i}" for i in range(people)]), "styles": np.array(["curb"]), "alloys": np.array(["18k yellow"]),
           "assumptions": np.zeros(0, "U1"), "shut": np.zeros(0, "datetime64[D]"), "away_person": np.zeros(0, np.int64),
           "away_from": np.zeros(0, "datetime64[D]"), "away_to": np.zeros(0, "datetime64[D]")}
    benches = {"stage_skill": np.arange(stages), "passes": np.ones((1, 1, stages)), "work_intercept": np.full((1, stages), np.log(hours) - sd**2 / 2),
               "work_slope": np.zeros((1, stages)), "ln_weight_centre": 0.0, "work_style": np.zeros((1, stages, 1)),
               "work_alloy": np.zeros((1, stages, 1)), "work_rework": np.zeros((1, stages)), "work_sd": np.full((1, stages), sd),
               "return_chance": np.zeros((1, stages, 1)), "return_to": np.zeros((stages, stages)), "repass": np.ones(stages),
               "hold_chance": np.zeros(stages), "hold_days": np.zeros(0)}
    hands = {"can": np.ones((people, stages), bool), "own_hours": np.tile([8.0] * 5 + [0.0] * 2, (people, 1)), "bench_share": np.ones((1, people)),
             "absence_chance": np.zeros((1, people)), "absence_days": np.zeros(0, np.int64), "started_on": np.full(people, NEVER),
             "left_on": np.full(people, NEVER), "learning_rate": np.ones(people), "learning_pieces": np.zeros((people, stages)),
             "pieces_done": np.zeros((people, stages)), "working_days": np.array([True] * 5 + [False] * 2), "day_start_h": 8.0, "day_span": 1.0,
             "handover_days": 3.0}
    counter = {"dispatch_rule": "order_date", "dispatch_strength": np.ones(1), "quote_a": np.full(1, 4.0), "quote_b": np.zeros(1),
               "quote_sd": np.zeros(1), "quote_step": 0.0, "quote_low": 0.0, "quote_high": 52.0, "demand_from": np.datetime64("2026-07"),
               "enquiries_per_day": np.full((1, 12), orders_per_day), "demand_dispersion": np.zeros(1), "has_quotes": False,
               "piece_style": np.zeros(1, np.int64), "piece_alloy": np.zeros(1, np.int64), "piece_weight_g": np.ones(1),
               "piece_price": np.full(1, 1000.0), "piece_metal": np.full(1, 500.0), "piece_contribution": np.full(1, 300.0),
               "piece_win_logit": np.full(1, np.inf), "win_weeks": 4.0, "win_shift": np.zeros(1), "win_wait": np.zeros(1),
               "win_price": np.zeros(1), "win_scale": 1.0, "rush_share": 0.0, "delivery_lag_days": np.zeros(0, np.int64),
               "delivery_lag_from": np.zeros(8, np.int64)}
    return Workshop(**{**few, **benches, **hands, **counter, **changes})


def always_open(workshop: dict[str, Any] | None = None, people: int = 1) -> dict[str, Any]:
    """Return the changes that make people work day and night, and orders come so: time is then one line of 24 hours a day."""
    return {"own_hours": np.full((people, 7), 24.0), "working_days": np.ones(7, bool), "day_start_h": 0.0, **(workshop or {})}


def open_orders(n: int, stages: int = 2, **changes: Any) -> State:
    """Return `n` orders that wait before the first stage, ordered on the as-of day, without a promise."""
    base = {"as_of": AS_OF, "order_id": np.array([f"A{i}" for i in range(n)]), "style": np.zeros(n, np.int64), "alloy": np.zeros(n, np.int64),
            "weight_g": np.ones(n), "ordered_on": np.full(n, AS_OF), "promised_on": np.full(n, NEVER), "rush": np.zeros(n, bool),
            "status": np.zeros(n, np.int64), "stage": np.zeros(n, np.int64), "person": np.full(n, -1), "spent_h": np.zeros(n),
            "visits": np.zeros((n, stages), np.int64), "repair_until": np.full(n, -1), "queued_days": np.zeros(n), "until": np.full(n, NEVER),
            "contribution": np.full(n, 300.0), "hours_done": np.zeros(n)}
    return State(**{**base, **changes})
