"""The common model with everything the workshop adds: calendars, absences, promises, enquiries, returns, holds, a state to start from."""

from __future__ import annotations

import numpy as np

from shoplib.workshop.model import State, Workshop
from shoplib.workshop.replicate import simulate
from tests.workshop.small import open_orders, small_workshop

from .common import common


def whole_model() -> tuple[Workshop, State]:
    """Return nine people and eleven stages with the common model's skills and hours, about 800 orders won a year, forty open."""
    network, stages, people = common(), 11, 9
    back, to = np.zeros((1, stages, 1)), np.zeros((stages, stages))
    back[0, 7, 0], back[0, 9, 0], to[7, 6], to[9, 8] = 0.12, 0.08, 1.0, 1.0
    can = np.array([[s in skills for s in range(stages)] for skills in network.can])
    workshop = small_workshop(
        stages, people, orders_per_day=4.1, work_intercept=network.mean[None], work_sd=network.sd[None], work_slope=np.full((1, stages), 0.5),
        return_chance=back, return_to=to, can=can, bench_share=np.full((1, people), 0.8), absence_chance=np.full((1, people), 0.01),
        absence_days=np.array([1, 1, 2, 5, 10]), dispatch_rule="promise", dispatch_strength=np.array([0.9]), quote_a=np.array([2.0]),
        quote_b=np.array([0.06]), quote_sd=np.array([0.5]), quote_step=1.0, quote_low=2.0, has_quotes=True, demand_dispersion=np.array([0.02]),
        piece_style=np.zeros(50, np.int64), piece_alloy=np.zeros(50, np.int64), piece_weight_g=np.exp(np.linspace(-0.8, 0.8, 50)),
        piece_price=np.full(50, 1000.0), piece_metal=np.full(50, 500.0), piece_contribution=np.full(50, 300.0),
        piece_win_logit=np.full(50, 1.3), win_wait=np.array([-0.1]), rush_share=0.05, hold_chance=np.full(stages, 0.02),
        hold_days=np.array([3.0, 7.0]), delivery_lag_days=np.array([0, 1, 1, 2, 3]), delivery_lag_from=np.array([0, 1, 2, 3, 4, 5, 5, 5]))
    return workshop, open_orders(40, stages)


def play() -> None:
    """Play the whole model once."""
    workshop, here = whole_model()
    simulate(workshop, here, horizon_days=30, seed=7, replications=1)
