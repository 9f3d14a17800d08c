"""Plain rules, rolling origins, scores and recalibration on hand-made orders."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shoplib.forecast import backtest, calibrate
from shoplib.forecast.plain_rules import RULES, open_on, promised, recent, recent_by_load

DAY = np.datetime64("2026-01-01", "D")


def orders(rows):
    """Orders from (id, ordered, delivered, promised, cancelled) as days after 1 January 2026; None is missing."""
    frame = pd.DataFrame(rows, columns=["order_id", "ordered_on", "delivered_on", "promised_on", "cancelled_on"])
    for name in ("ordered_on", "delivered_on", "promised_on", "cancelled_on"):
        frame[name] = pd.Series([np.datetime64("NaT") if pd.isna(d) else DAY + int(d) for d in frame[name]], dtype="datetime64[s]")
    return frame.assign(first_promised_on=frame["promised_on"])


SHOP = orders(
    [("a", 0, 10, 12, None), ("b", 0, 20, 15, None), ("c", 5, None, 40, None), ("d", 25, None, None, None), ("e", 6, None, None, 20)]
)


def test_open_orders_by_day():
    """Worked by hand: a and b from day 0, c from 5, e from 6 to its cancellation on 20; a out on 10, b on 20."""
    assert open_on(SHOP, DAY + np.array([0, 5, 6, 10, 20])).tolist() == [2, 3, 4, 3, 1]


def test_recent_rule():
    """Flow times 10 and 20: the middle is 10, the 80 and 95 % points 20; an order of age 19 is left 1 and 1 day (not before tomorrow)."""
    row = recent(SHOP, DAY + 24, SHOP[SHOP["order_id"] == "c"]).iloc[0]
    assert row[["q50", "q80", "q95"]].tolist() == [1, 1, 1]


def test_recent_rule_for_a_new_order():
    """An order placed a day after the origin is forecast from its own day: 1 + 10, 1 + 20."""
    row = recent(SHOP, DAY + 24, SHOP[SHOP["order_id"] == "d"]).iloc[0]
    assert row[["q50", "q80", "q95"]].tolist() == [11, 21, 21]


def test_load_rule_scales_by_open_orders():
    """One order open now against two when the last were ordered: half the flow time (1 + 5, 1 + 10)."""
    row = recent_by_load(SHOP, DAY + 24, SHOP[SHOP["order_id"] == "d"]).iloc[0]
    assert row[["q50", "q80"]].tolist() == [6, 11]


def test_promise_rule():
    """The promise of day 40 is 16 days after day 24, for all levels; without a promise there is no forecast."""
    said = promised(SHOP, DAY + 24, SHOP[SHOP["order_id"].isin(["c", "d"])])
    assert said["q95"].tolist() == pytest.approx([16, np.nan], nan_ok=True)


def test_rules_without_a_delivery_say_nothing():
    """Nothing delivered yet: no number rather than a guess."""
    assert recent(SHOP, DAY + 5, SHOP[SHOP["order_id"] == "c"])[["q50"]].isna().all().all()


@pytest.mark.parametrize("name", list(RULES))
def test_rules_use_nothing_from_after_the_origin(name):
    """Changing every later delivery moves no forecast made before it."""
    later = SHOP.assign(delivered_on=SHOP["delivered_on"].where(SHOP["delivered_on"] <= pd.Timestamp(DAY + 12)))
    asked = SHOP[SHOP["order_id"] == "c"]
    known = SHOP[SHOP["ordered_on"] <= pd.Timestamp(DAY + 12)]
    if name == "recent_by_load":
        known = later[later["ordered_on"] <= pd.Timestamp(DAY + 12)]
    pd.testing.assert_frame_equal(
        RULES[name](known, DAY + 12, asked), RULES[name](later[later["ordered_on"] <= pd.Timestamp(DAY + 12)], DAY + 12, asked)
    )


def test_open_orders_are_censored_not_dropped():
    """c is still open at the end: it counts with the days waited so far, marked censored; the cancelled e is left out."""
    said = backtest.forecasts(SHOP, [DAY + 12], {"recent": lambda o, a: recent(SHOP, o, a)}, DAY + 30)
    assert said.query("horizon == 'open'")[["order_id", "happened", "censored"]].values.tolist() == [["b", 8.0, False], ["c", 18.0, True]]


def test_scores_by_hand():
    """One order, forecast 10 / 12 / 20, came after 12: losses 0.5 × 2, 0 and 0.05 × 8; coverage 0, 1, 1; bias −2."""
    said = pd.DataFrame(
        {
            "method": "m",
            "origin": DAY,
            "horizon": "open",
            "order_id": "x",
            "q50": 10.0,
            "q80": 12.0,
            "q95": 20.0,
            "happened": 12.0,
            "censored": False,
        },
        index=[0],
    )
    assert backtest.score(said).iloc[0].tolist()[3:] == pytest.approx([1, 1.0, 0.0, 0.4, 0, 1, 1, -2])


def test_pooling_weighs_by_orders():
    """Losses 1 with one order and 4 with three pool to 3.25 (worked by hand)."""
    rows = [["m", DAY, "open", 1, 1.0, 0, 0, 1, 1, 1, 0], ["m", DAY + 30, "open", 3, 4.0, 0, 0, 1, 1, 1, 0]]
    assert backtest.pooled(pd.DataFrame(rows, columns=backtest.COLUMNS))["pinball_50"].item() == 3.25


@pytest.mark.parametrize(("days", "count"), [(100, 0), (250, 1), (300, 3), (1000, 12)])
def test_origins_follow_the_history(days, count):
    """Half a year of warm-up and 60 days to settle: no origin in 100 days, one in 250, three 30 days apart in 300, twelve in 1,000."""
    assert len(backtest.origins(DAY, DAY + days, 60)) == count


def history(scale, n_origins=12, n=40, seed=3):
    """Exponential-like remaining times around stated quantiles, too long by `scale`."""
    draw = np.random.default_rng(seed)
    parts = []
    for k in range(n_origins):
        came = np.exp(draw.normal(3, 0.5, n))
        q = np.exp(3 + 0.5 * np.array([0, 0.8416, 1.6449])) * scale
        parts.append(pd.DataFrame({"origin": k, "happened": came, "censored": False, "q50": q[0], "q80": q[1], "q95": q[2]}))
    return pd.concat(parts, ignore_index=True)


def test_good_forecasts_are_left_alone():
    """Right quantiles: the stated levels lie inside the interval of their coverage."""
    assert not calibrate.needs_correction(history(1.0), 1)


def test_wrong_forecasts_are_found():
    """Quantiles 60 % too long are found, and half of ln(1/1.6) is taken back."""
    said = history(1.6)
    assert calibrate.needs_correction(said, 1)
    assert np.log(calibrate.factors(said)) == pytest.approx([-0.5 * np.log(1.6)] * 3, abs=0.08)


def test_five_origins_are_too_few_to_correct():
    """Under six origins nothing is corrected, however wrong."""
    assert not calibrate.needs_correction(history(3.0, n_origins=5), 1)


def test_left_out_origin_does_not_see_itself():
    """Changing what came at one origin does not move its own corrected forecast."""
    said = history(1.4)
    changed = said.assign(happened=said["happened"].where(said["origin"] != 4, 999.0))
    at = said["origin"] == 4
    assert (calibrate.leave_one_out(said).loc[at, "q80"] == calibrate.leave_one_out(changed).loc[at, "q80"]).all()


@settings(deadline=None)
@given(st.lists(st.floats(0.2, 5), min_size=3, max_size=3))
def test_corrected_quantiles_stay_in_order(factor):
    """Whatever the factors, q50 ≤ q80 ≤ q95 and none is before tomorrow."""
    days = calibrate.corrected(history(1.0, 2, 5), np.array(factor))[["q50", "q80", "q95"]].to_numpy()
    assert (np.diff(days, axis=1) >= 0).all() and days.min() >= 1
