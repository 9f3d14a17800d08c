"""Replications: blocks, threads, precision, shared luck; laws that hold in every shop."""

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shoplib.workshop import replicate
from shoplib.workshop.replicate import precise, simulate, simulate_each
from shoplib.workshop.scenario import ExtraPerson, Scenario
from tests.bench.common import Network
from tests.workshop.small import always_open, open_orders, small_workshop
from tests.workshop.test_kernel import played


def run(workshop=None, state=None, **changes):
    """Simulate a busy small shop with a queue."""
    workshop = workshop or small_workshop(2, 2, orders_per_day=3.0)
    given_ = {"horizon_days": 90, "seed": 1, "replications": 32, **changes}
    return simulate(workshop, state or open_orders(10), **given_)


def same(one, two) -> bool:
    """Return whether two runs left the same bits."""
    return one.cards.tobytes() == two.cards.tobytes() and one.totals.tobytes() == two.totals.tobytes()


@pytest.mark.parametrize("threads", [2, 5])
def test_same_bits_on_any_number_of_threads(threads):
    """One thread and several leave the same records."""
    assert same(run(), run(threads=threads))


PLANS = [Scenario(), Scenario(demand_factor=1.2), Scenario(demand_factor=0.5)]


def each(**how):
    """Return what three plans left, run side by side."""
    return simulate_each(small_workshop(2, 2, orders_per_day=3.0), open_orders(10), PLANS, lambda records: records.cards.tobytes(),
                         horizon_days=90, seed=1, replications=32, **how)


@pytest.mark.parametrize("threads", [1, 2, 7])
def test_plans_side_by_side_are_those_run_alone(threads):
    """In the order asked, each with the records that it leaves when run alone."""
    assert each(threads=threads) == [run(scenario=plan).cards.tobytes() for plan in PLANS]


def test_more_replications_keep_the_first():
    """The first 32 of 64 replications are those of a run of 32."""
    few, many = run(), run(replications=64)
    assert many.cards[: few.first[-1]].tobytes() == few.cards.tobytes()


def test_another_seed_is_other_luck():
    """Seeds 1 and 2 do not deliver the same orders."""
    assert not np.array_equal(run().delivered_by(90), run(seed=2).delivered_by(90))


def test_room_is_doubled_until_it_is_enough(monkeypatch):
    """Starting with room for one enquiry changes nothing."""
    whole = run()
    monkeypatch.setattr(replicate, "room_for", lambda plan: len(plan.opened) + 1)
    monkeypatch.setattr(replicate, "EVENTS_AN_ORDER", 10**6)
    assert same(run(), whole)


def test_stops_when_precise_enough():
    """Asked for a standard error that 64 replications reach, it stops there of 256, and the error is as asked."""
    error = run(replications=64).delivered_by(90).std(ddof=1) / 8
    records = run(replications=256, standard_error=error * 1.0001)
    assert records.replications in (32, 64) and precise(records, error * 1.0001)


def test_goes_to_the_end_when_it_is_not():
    """A standard error of nought is never reached: all replications are run."""
    assert run(replications=96, standard_error=0.0).replications == 96


def test_stops_once_open_orders_are_done():
    """The dates of the open orders are the same, with fewer events."""
    whole, short = run(), run(until_open_done=True)
    assert np.array_equal(whole.open_finish(), short.open_finish()) and short.events.sum() < whole.events.sum() / 2


def test_plans_share_their_luck():
    """A plan that changes nothing (a person without hours) leaves the same orders, one by one."""
    idle = Scenario(extra_people=(ExtraPerson((0,), own_hours=(0.0,) * 7),))
    assert run().cards.tobytes() == run(scenario=idle).cards.tobytes()


def test_shared_luck_narrows_the_difference():
    """Eight hours more a week in an overloaded shop: orders delivered differ with less spread than under another seed."""
    more = Scenario(extra_people=(ExtraPerson((0, 1), own_hours=(1.6,) * 5 + (0.0,) * 2, bench_share=1.0, absence_chance=0.0),))
    full = small_workshop(2, 2, orders_per_day=5.0)
    base, plan, other = run(full), run(full, scenario=more), run(full, scenario=more, seed=2)
    gain, noise = plan.delivered_by(90) - base.delivered_by(90), other.delivered_by(90) - base.delivered_by(90)
    assert gain.mean() > 0 and gain.std() < noise.std()


def test_parameter_draws_are_taken_in_turn():
    """Two draws of the hours, 1 and 3: even replications take one, odd ones the other."""
    workshop = small_workshop(1, 1, orders_per_day=0.0, sd=0.0, work_intercept=np.log([[2.0], [1.0], [3.0]]))
    assert run(workshop, open_orders(1, 1), replications=4).cards["touch_h"] == pytest.approx([1.0, 3.0, 1.0, 3.0])


def test_estimate_only():
    """Without its draws the same workshop takes the estimate, 2 h."""
    workshop = small_workshop(1, 1, orders_per_day=0.0, sd=0.0, work_intercept=np.log([[2.0], [1.0], [3.0]])).estimate()
    assert run(workshop, open_orders(1, 1), replications=2).cards["touch_h"] == pytest.approx([2.0, 2.0])


shops = st.fixed_dictionaries({
    "stages": st.integers(1, 5), "people": st.integers(1, 6), "orders_per_day": st.floats(0.1, 4.0), "hours": st.floats(0.2, 5.0),
    "sd": st.floats(0.0, 1.0), "skills": st.integers(0, 2**30 - 1), "back": st.floats(0.0, 0.6), "seed": st.integers(0, 10**9),
    "rule": st.sampled_from(["promise", "order_date", "queue"]), "strength": st.floats(0.0, 1.0)})


def random_shop(shop):
    """Return a random workshop: random skills (perhaps nobody for a stage), returns from the last stage to the first."""
    stages, people = shop["stages"], shop["people"]
    can = np.array([[shop["skills"] >> (p * stages + s) & 1 for s in range(stages)] for p in range(people)], bool)
    back, to = np.zeros((1, stages, 1)), np.zeros((stages, stages))
    back[0, -1, 0], to[-1, 0] = shop["back"], 1.0
    return small_workshop(stages, people, shop["orders_per_day"], shop["hours"], shop["sd"], can=can, return_chance=back, return_to=to,
                          dispatch_rule=shop["rule"], dispatch_strength=np.array([shop["strength"]]),
                          delivery_lag_days=np.array([0, 2]), delivery_lag_from=np.array([0, 2, 2, 2, 2, 2, 2, 2]))


@given(shops)
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_little_and_conservation_in_random_shops(shop):
    """Orders in = orders out + orders still here, each day; and the days they are here are the area under that curve (Little)."""
    records = run(random_shop(shop), open_orders(7, shop["stages"]), seed=shop["seed"], replications=2, horizon_days=120)
    c, wip = records.cards, records.wip()
    came, gone = np.diff(records.first), records.delivered_by(120)
    assert (came - gone == wip[:, -1]).all()
    stay = np.minimum(np.where(np.isnan(c["delivered"]), 120, c["delivered"]), 120) - np.maximum(np.floor(c["arrival"]), 0)
    assert np.bincount(records.replication, stay, 2) == pytest.approx(wip.sum(axis=1))


@given(shops)
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_time_adds_up_in_random_shops(shop):
    """Hours booked by order, by stage and by person are one sum; nobody books more than paid; no order ends before it comes."""
    records = run(random_shop(shop), open_orders(7, shop["stages"]), seed=shop["seed"], replications=2, horizon_days=120)
    c = records.cards
    hours = c["touch_h"].sum()
    assert records.totals[..., 1].sum() == pytest.approx(hours) and records.busy.sum() == pytest.approx(hours)
    assert records.totals[..., 0].sum() == c["visits"].sum() and not (c["finish"] < c["arrival"]).any() and (c["wait_days"] >= 0).all()


@given(st.integers(1, 4), st.floats(0.3, 1.2), st.floats(0.0, 1.5), st.integers(0, 10**6))
@settings(max_examples=25, deadline=None)
def test_one_more_person_never_lengthens_a_wait_in_one_queue(people, load, sd, seed):
    """One bench, one skill each, first come first served, no way back: each order begins no later with one person more (theorem)."""
    mean = np.array([-(sd**2) / 2])
    fewer, more = (Network(1 / (load * people), mean, np.array([sd]), ((0,),) * n, ((1.0, 0),), (((1.0, 1),),)) for n in (people, people + 1))
    assert (played(more, 300, seed=seed)[1] <= played(fewer, 300, seed=seed)[1] + 1e-9).all()


def test_one_more_at_the_limiting_bench_shortens_the_mean():
    """Feedback and several skills, where single orders may wait longer: the mean flow falls by more than its standard error."""
    back, to = np.zeros((1, 3, 1)), np.zeros((3, 3))
    back[0, 2, 0], to[2, 1] = 0.15, 1.0
    workshop = small_workshop(3, 3, orders_per_day=3.2, hours=2.0, return_chance=back, return_to=to,
                              can=np.array([[True, True, False], [False, True, False], [True, False, True]]))
    base = run(workshop, open_orders(0, 3), horizon_days=200)
    plan = run(workshop, open_orders(0, 3), horizon_days=200, scenario=Scenario(extra_people=(ExtraPerson((1,)),)))
    change = plan.flow_days(0, 150) - base.flow_days(0, 150)
    assert change.mean() < -change.std(ddof=1) / 32**0.5


def test_poisson_arrivals_see_time_averages():
    """Day and night at one bench: M/M/1 wait of the whole workshop at load 0.7 is 0.7 ÷ 0.3 services, within four standard errors."""
    workshop = small_workshop(1, 1, sd=1.0, work_intercept=np.zeros((1, 1)), enquiries_per_day=np.full((1, 12), 24 * 0.7), **always_open())
    records = run(workshop, open_orders(0, 1), horizon_days=330, law=1)
    c = records.cards
    counted = (c["arrival"] > 30) & (c["arrival"] < 300)
    wait = 24 * np.bincount(records.replication[counted], c["wait_days"][counted]) / np.bincount(records.replication[counted])
    assert abs(wait.mean() - 0.7 / 0.3) < 4 * wait.std(ddof=1) / 32**0.5


@pytest.fixture(scope="module")
def cluster():
    """The address of a Dask scheduler with two workers."""
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(n_workers=2, threads_per_worker=1, processes=False, dashboard_address=None) as two:
        yield two.scheduler_address


def test_same_bits_on_a_cluster(cluster):
    """A Dask scheduler with two workers leaves the same records as one thread."""
    assert same(run(), run(cluster=cluster))


def test_plans_on_a_cluster(cluster):
    """The plans follow one another there, and leave what they leave here."""
    assert each(cluster=cluster) == each()
