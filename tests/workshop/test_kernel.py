"""The draws, and the network of benches on cases worked by hand."""

import math
import os
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import ndtri

from shoplib.workshop import kernel
from shoplib.workshop.kernel import run_network
from shoplib.workshop.model import State
from shoplib.workshop.replicate import simulate
from tests.bench.common import Luck, Network, common
from tests.workshop.small import open_orders, small_workshop

U = np.uint64
IN_PYTHON = """
import numpy as np
from shoplib.workshop import kernel
np.seterr(over="ignore")
U = np.uint64
"""


def in_python(code: str) -> list[str]:
    """Run a few lines with the compiler switched off and return what they print, word by word."""
    done = subprocess.run([sys.executable, "-W", "ignore", "-c", IN_PYTHON + code], env={**os.environ, "NUMBA_DISABLE_JIT": "1"},
                          capture_output=True, text=True, check=True)
    return done.stdout.split()


def played(network: Network, orders: int, replications: int = 1, seed: int = 7, counted: tuple[int, int] | None = None):
    """Run the compiled network; return arrivals, finishes, totals and events."""
    out = (np.zeros((replications, orders)), np.zeros((replications, orders)), np.zeros((replications, network.stages, 3)),
           np.zeros(replications, np.int64))
    run_network(seed, 0, **network.arrays(), counted=counted or (0, orders), arrival=out[0], finish=out[1], totals=out[2], events=out[3])
    return out


def test_splitmix_known_answers():
    """Seed 1234567 gives the five words of the reference program (Vigna, splitmix64.c, as quoted on Rosetta Code; from memory)."""
    words = in_python("print(*[int(kernel.mix(U(1234567) + U(k) * kernel.GOLDEN)) for k in range(1, 6)])")
    assert words == ["6457827717110365317", "3203168211198807973", "9817491932198370423", "4593380528125082431", "16408922859458223821"]


def test_normal_known_answers():
    """u = 0.25, 0.001, 1e-20 give the check values of AS 241 (Wichura 1988, p. 480; from memory)."""
    found = [float(word) for word in in_python("print(*[float(kernel.normal(u)) for u in (0.25, 0.001, 1e-20)])")]
    assert found == pytest.approx([-0.6744897501960817, -3.090232306167814, -9.262340089798408], rel=1e-14)


def test_evens_are_the_draws_one_by_one():
    """Drawn for a whole array, or for an array of one, a number is the one drawn for its place alone."""
    alone = in_python("print(*[float(kernel.uniform(kernel.streams(3, r, r + 1)[0], kernel.PASS, o, 2, 1)) for r in (0, 1) for o in (4, 5, 6)])")
    stream = kernel.streams(3, 0, 2)[:, None]
    many, one = (kernel.evens(stream[:n], kernel.PASS, np.arange(4, 4 + m), 2, 1) for n, m in ((2, 3), (1, 1)))
    assert many.ravel().tolist() == [float(word) for word in alone] and one.tolist() == [[many[0, 0]]]


def test_exponential_and_logarithm():
    """Both agree with the C library to a few units in the last place."""
    code = "print(*[float(kernel.exponential(x)) for x in (-30.5, -1e-3, 0.2, 25.0)], *[float(kernel.logarithm(x)) for x in (1e-17, 0.3, 1.5, 4e9)])"
    found = [float(word) for word in in_python(code)]
    assert found == pytest.approx([*map(math.exp, (-30.5, -1e-3, 0.2, 25.0)), *map(math.log, (1e-17, 0.3, 1.5, 4e9))], rel=1e-14)


def test_first_visits_are_log_normal_draws():
    """A person alone at one bench: hours are exp (mean + sd · z) with z from scipy's own inverse normal."""
    network = Network(5.0, np.array([0.3]), np.array([0.7]), ((0,),), ((1.0, 0),), (((1.0, 1),),))
    luck = Luck(network, 400, 3, 0)
    _, _, totals, _ = played(network, 400, seed=3)
    assert totals[0, 0, 1] == pytest.approx(math.fsum(hours[0] for hours in luck.hours), rel=1e-12)


def test_draws_are_even_and_normal():
    """Ten thousand draws of one stream: mean of z within four standard errors of 0, variance within four of 1."""
    network = Network(1.0, np.zeros(10), np.ones(10), ((0,),), ((1.0, 0),), tuple(((1.0, s + 1),) for s in range(10)))
    with np.errstate(over="ignore"):
        z = ndtri(Luck(network, 1, 11, 5)._even(0, np.arange(1000)[:, None], np.arange(10), 0))
    assert abs(z.mean()) < 4 / 100 and abs(z.var() - 1) < 4 * math.sqrt(2) / 100


def test_lindley_recursion():
    """One bench, one person: W(n+1) = max(0, W(n) + S(n) − A(n+1)) (Lindley 1952), order by order."""
    network = Network(1.3, np.array([0.0]), np.array([0.6]), ((0,),), ((1.0, 0),), (((1.0, 1),),))
    luck, wait, done = Luck(network, 200, 7, 0), 0.0, []
    for o in range(200):
        if o:
            wait = max(0.0, wait + luck.hours[o - 1][0] - (luck.arrival[o] - luck.arrival[o - 1]))
        done.append(luck.arrival[o] + wait + luck.hours[o][0])
    assert played(network, 200)[1][0] == pytest.approx(done, rel=1e-12)


def test_two_orders_by_hand():
    """Certain hours 2 then 3, two people who can do both benches: nobody waits, each order takes five hours."""
    network = Network(10.0, np.log([2.0, 3.0]), np.zeros(2), ((0, 1), (0, 1)), ((1.0, 0),), (((1.0, 1),), ((1.0, 2),)))
    arrival, finish, totals, events = played(network, 2, seed=12)
    assert finish - arrival == pytest.approx(np.full((1, 2), 5.0)) and events[0] == 6 and totals[0, :, 2].sum() == 0.0


def test_idle_people_first_then_the_one_just_free():
    """One person for two benches, certain hours 1: the older order goes through before the younger begins."""
    network = Network(0.01, np.zeros(2), np.zeros(2), ((0, 1),), ((1.0, 0),), (((1.0, 1),), ((1.0, 2),)))
    arrival, finish, _, _ = played(network, 3)
    assert finish[0] - arrival[0, 0] == pytest.approx([2.0, 4.0, 6.0])


def test_plain_python_plays_the_same_network():
    """With the compiler switched off the network gives the same orders and events, sums within 1e-9."""
    code = """
from tests.workshop.test_kernel import played, common
arrival, finish, totals, events = played(common(), 12)
print(int(events[0]), repr(float(finish.sum())), repr(float(totals.sum())))
"""
    words = in_python(code)
    _, finish, totals, events = played(common(), 12)
    assert (int(words[0]), float(words[1]), float(words[2])) == (events[0], pytest.approx(finish.sum(), rel=1e-9),
                                                                  pytest.approx(totals.sum(), rel=1e-9))


def test_plain_python_plays_the_same_workshop():
    """With the compiler switched off the workshop gives the same records, sums within 1e-9."""
    code = """
from tests.workshop.test_kernel import busy_shop
print(*[repr(float(x)) for x in busy_shop()])
"""
    assert [float(word) for word in in_python(code)] == pytest.approx(busy_shop(), rel=1e-9)


def busy_shop() -> list[float]:
    """Return sums over a short run in which everything happens: returns, holds, absences, lost enquiries, rush, random picks."""
    from shoplib.workshop.replicate import simulate
    from shoplib.workshop.scenario import ExtraPerson, Outwork, Scenario

    workshop = small_workshop(
        3, 2, orders_per_day=2.0, return_chance=np.array([[[0.0], [0.2], [0.3]]]), return_to=np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0.0]]),
        repass=np.array([1.0, 0.5, 1.0]), hold_chance=np.array([0.0, 0.2, 0.0]), hold_days=np.array([2.0, 6.5]), absence_chance=np.full((1, 2), 0.1),
        absence_days=np.array([1, 5]), dispatch_rule="promise", dispatch_strength=np.array([0.7]), quote_b=np.array([0.2]), quote_sd=np.array([0.8]),
        quote_step=0.5, has_quotes=True, piece_win_logit=np.array([0.5]), win_wait=np.array([-0.2]), win_price=np.array([-2.0]), rush_share=0.2,
        demand_dispersion=np.array([0.1]), delivery_lag_days=np.array([0, 2]), delivery_lag_from=np.array([0, 2, 2, 2, 2, 2, 2, 2]),
        passes=np.array([[[1.0, 0.8, 1.0]]]))
    state = open_orders(5, 3, status=np.array([0, 1, 2, 3, 4]), stage=np.array([0, 1, 1, 2, 2]), person=np.array([-1, 0, -1, -1, -1]),
                        spent_h=np.array([0, 1.5, 0, 0, 0]), visits=np.array([[0, 0, 0], [1, 1, 0], [1, 1, 0], [1, 1, 0], [1, 1, 1]]))
    plan = Scenario(extra_people=(ExtraPerson((1,), learning_rate=0.8, learning_pieces=20, learning_spread=0.5, leaves_first_year=0.9),),
                    outwork=(Outwork(2, 4.0, 0.3),), helping_hours=((0, 4.0),), mark_up=0.1)
    records = simulate(workshop, state, horizon_days=40, seed=5, replications=2, scenario=plan)
    numbers = [records.cards[name] for name in ("arrival", "promise", "finish", "delivered", "touch_h", "wait_days", "visits", "rush")]
    return [float(np.nansum(number)) for number in numbers] + [float(records.lost.sum()), float((records.lost * np.arange(40)).sum()), float(records.totals.sum()), float(records.events.sum())]


@given(st.integers(0, 2**63), st.integers(0, 10**6))
@settings(max_examples=20, deadline=None)
def test_any_seed_and_replication(seed, first):
    """Any seed and replication number play without a fault, and every order is finished after it came."""
    network = common(40)
    arrival, finish = np.zeros((1, 40)), np.zeros((1, 40))
    run_network(seed, first, **network.arrays(), counted=(0, 40), arrival=arrival, finish=finish, totals=np.zeros((1, 11, 3)),
                events=np.zeros(1, np.int64))
    assert (finish > arrival).all()


def test_purposes_fit_their_bits():
    """Purposes take five bits of a draw's place, stages and visits six each: no two draws share a place."""
    places = {int(((o << 5 | p) << 12) | s << 6 | v) for o in range(3) for p in range(32) for s in (0, 63) for v in (0, 63)}
    assert len(places) == 3 * 32 * 4 and int(kernel.LEFT) < 32


def test_lost_enquiries_leave_no_trace_of_work():
    """A customer who turned away has no first entry, no end and no delivery, whatever the record's memory held before."""
    workshop = small_workshop(has_quotes=True, piece_win_logit=np.full(1, -0.5))
    dirt = [np.full(4_000_000, 1e300) for _ in range(3)]
    del dirt
    records = simulate(workshop, State.empty(np.datetime64("2026-01-01"), 2), horizon_days=400, seed=3, replications=32, threads=2)
    asked = records.totals[..., 0].sum()
    assert records.lost.sum() > 100 and not records.cards["lost"].any() and asked == records.cards["visits"].sum()


def test_same_bits_on_any_number_of_threads():
    """Every field of every record is the same on one thread and on two, lost enquiries included."""
    workshop = small_workshop(has_quotes=True, piece_win_logit=np.full(1, 0.5))
    here = State.empty(np.datetime64("2026-01-01"), 2)
    one, two = (simulate(workshop, here, horizon_days=300, seed=5, replications=32, threads=n) for n in (1, 2))
    assert all(np.array_equal(one.cards[name], two.cards[name], equal_nan=True) for name in one.cards.dtype.names)
