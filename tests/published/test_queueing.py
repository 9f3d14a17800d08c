"""The simulator against published queues. Started empty, warm-up discarded; tolerance: four standard errors of the replications' own
mean, and half the last digit printed."""

import math

import numpy as np
import pytest

from shoplib.workshop.records import Records
from shoplib.workshop.replicate import simulate
from tests.bench.common import Network
from tests.workshop.small import always_open, open_orders, small_workshop
from tests.workshop.test_kernel import played

WEIBULL = 1
"""Law of hours that is exponential at scale 1."""
ORDERS, WARM, RUNS = 12_000, 2_000, 48


class Queue:
    """One bench with `servers` people, first come first served, `load` = arrivals × mean service."""

    def __init__(self, arrivals: float, service: float, servers: int = 1, law: int = WEIBULL, sd: float = 1.0, orders: int = ORDERS,
                 warm: int = WARM) -> None:
        mean = np.log(service) - (sd**2 / 2 if law != WEIBULL else 0.0)
        network = Network(1 / arrivals, np.array([mean]), np.array([sd]), ((0,),) * servers, ((1.0, 0),), (((1.0, 1),),), law)
        self.arrivals, self.warm = arrivals, warm
        self.came, self.gone, self.totals, _ = played(network, orders, RUNS, counted=(warm, orders))

    @property
    def wait(self) -> np.ndarray:
        """Mean time in the queue, by replication."""
        return self.totals[:, 0, 2] / self.totals[:, 0, 0]

    @property
    def stay(self) -> np.ndarray:
        """Mean time in the system, by replication."""
        return (self.gone - self.came)[:, self.warm:].mean(axis=1)

    @property
    def found_empty(self) -> np.ndarray:
        """Share of orders that find nobody there: by Poisson arrivals the share of time the system is empty (Wolff 1982)."""
        last = np.maximum.accumulate(self.gone, axis=1)
        return (last[:, :-1] <= self.came[:, 1:])[:, self.warm:].mean(axis=1)


def agrees(values: np.ndarray, published: float, rounding: float = 0.0) -> bool:
    """Return whether the mean lies within four of its standard errors and the rounding of the published number."""
    return abs(values.mean() - published) <= 4 * values.std(ddof=1) / len(values) ** 0.5 + rounding


def erlang_b(servers: int, load: float) -> float:
    """Return the share of calls lost, by the usual recursion: B(n) = a B(n − 1) ÷ (n + a B(n − 1)), B(0) = 1."""
    lost = 1.0
    for n in range(1, servers + 1):
        lost = load * lost / (n + load * lost)
    return lost


def erlang_c(servers: int, load: float) -> float:
    """Return the share that waits: C = B ÷ (1 − ρ (1 − B))."""
    lost = erlang_b(servers, load)
    return lost / (1 - load / servers * (1 - lost))


@pytest.mark.parametrize("servers, load", [(1, 0.0101), (2, 0.1526), (5, 1.3608), (10, 4.4612), (15, 8.1080), (20, 12.0306), (50, 37.9014),
                                           (100, 84.0642)])
def test_erlang_b_at_one_per_cent(servers, load):
    """Loads of 1 % blocking. Source: calculator manual of erlang.com (15 lines: 8.108); Carrier Grade Voice over IP, 2e, App. A (5, 9 lines)."""
    assert erlang_b(servers, load) == pytest.approx(0.01, abs=5e-5)


@pytest.mark.parametrize("servers, load", [(5, 1.4), (9, 3.8)])
def test_erlang_b_table_of_one_decimal(servers, load):
    """1 % blocking lies within the rounding of the loads printed. Source: Carrier Grade Voice over IP, 2e, App. A."""
    assert erlang_b(servers, load - 0.05) < 0.01 < erlang_b(servers, load + 0.05)


@pytest.mark.parametrize("servers, load", [(5, 1.6571), (10, 5.0840), (20, 13.1815), (100, 87.972)])
def test_erlang_b_at_two_per_cent(servers, load):
    """Loads of 2 % blocking, as in any Erlang B table (computed)."""
    assert erlang_b(servers, load) == pytest.approx(0.02, abs=5e-5)


@pytest.fixture(scope="module", params=[(14, 0.174, 0.888), (15, 0.102, 0.941)])
def callers(request):
    """100 calls in 30 min of 3 min each, 14 or 15 people. Hours of the run stand for 3 min; the whole workshop plays it."""
    records = switchboard(10.0, request.param[0])
    return (*request.param, waits_of(records), occupancy(records))


def switchboard(load: float, people: int) -> Records:
    """Return the whole workshop working day and night, 1 July to 17 August; a service takes an hour."""
    workshop = small_workshop(1, people, sd=1.0, work_intercept=np.zeros((1, 1)), enquiries_per_day=np.full((1, 12), 24 * load),
                              **always_open(people=people))
    return simulate(workshop, open_orders(0, 1), horizon_days=48, seed=3, replications=24, law=WEIBULL)


def occupancy(records: Records) -> np.ndarray:
    """Return hours booked ÷ hours there of the last 17 days, by replication."""
    return records.busy[:, 1].mean(axis=1) / (17 * 24)


def waits_of(records: Records) -> list[np.ndarray]:
    """Return waits in service times, by replication."""
    c = records.cards
    counted = (c["arrival"] > 4) & (c["arrival"] < 44)
    return [24 * c["wait_days"][counted & (records.replication == r)] for r in range(24)]


def test_erlang_c_share_that_waits(callers):
    """Pw .174 with 14, .102 with 15. Source: pyworkforce 0.5.1, queuing/tests/test_erlang.py."""
    people, waiting, _, waits, _ = callers
    assert agrees(np.array([(w > 1e-9).mean() for w in waits]), waiting, 5e-4)


def test_erlang_c_service_level(callers):
    """Answered within 20 s (0.33 min in the source): .888 and .941. Source: pyworkforce 0.5.1, queuing/tests/test_erlang.py."""
    _, _, level, waits, _ = callers
    assert agrees(np.array([(w <= 0.33 / 3).mean() for w in waits]), level, 5e-4)


def test_erlang_c_occupancy(callers):
    """Occupancy .714 with 14, .667 with 15. Source: pyworkforce 0.5.1, queuing/tests/test_erlang.py."""
    assert agrees(callers[4], {14: 0.714, 15: 0.667}[callers[0]], 5e-4)


def test_erlang_c_formula(callers):
    """The formula behind both: Pw from Erlang B."""
    people, waiting, _, _, _ = callers
    assert erlang_c(people, 10.0) == pytest.approx(waiting, abs=5e-4)


@pytest.fixture(scope="module")
def busy_line():
    """360 calls in 30 min of 240 s, 55 people."""
    return switchboard(48.0, 55)


def test_erlang_c_worked_page(busy_line):
    """48 erlangs, 55 people: Ec .2387. Source: inputs of the worked page "The Erlang-C Formula"; output computed."""
    waited = np.array([(w > 1e-9).mean() for w in waits_of(busy_line)])
    assert erlang_c(55, 48.0) == pytest.approx(0.2387, abs=5e-5) and agrees(waited, 0.2387, 5e-5)


def test_erlang_c_answer_times(busy_line):
    """Mean answer 8.184 s, .8459 within 15 s. Source: inputs of the same page; outputs computed."""
    waits = waits_of(busy_line)
    assert agrees(240 * np.array([w.mean() for w in waits]), 8.184, 5e-4)
    assert agrees(np.array([(w <= 15 / 240).mean() for w in waits]), 0.8459, 5e-5)


def test_erlang_c_busy_share(busy_line):
    """rho .8727. Source: inputs of the same page; output computed."""
    assert agrees(occupancy(busy_line), 0.8727, 5e-5)


@pytest.fixture(scope="module")
def one_server():
    """λ 24, μ 30. Source: Bronson, Schaum's Operations Research (1982), problem 23.3."""
    return Queue(24.0, 1 / 30)


def test_mm1_bronson_23_3_stay(one_server):
    """W 1/6 and L 4 = λ W."""
    assert agrees(one_server.stay, 1 / 6) and agrees(24 * one_server.stay, 4.0)


def test_mm1_bronson_23_3_empty(one_server):
    """P0 .2."""
    assert agrees(one_server.found_empty, 0.2)


def test_mm1_bronson_23_14():
    """λ 30/h, 1.5 min: Lq 2.25, Wq 4.5 min, P0 .25. Source: Bronson 23.14."""
    queue = Queue(0.5, 1.5)
    assert agrees(queue.wait, 4.5) and agrees(0.5 * queue.wait, 2.25) and agrees(queue.found_empty, 0.25)


def test_mm1_bronson_23_16():
    """λ 1/min, 45 s: Wq 2.25 min, W 3 min, P0 .25 (the page prints .178, a misprint). Source: Bronson 23.16."""
    queue = Queue(1.0, 0.75)
    assert agrees(queue.wait, 2.25) and agrees(queue.stay, 3.0) and agrees(queue.found_empty, 0.25)


def test_mm3_bronson_24_6():
    """λ 300, μ 182.5 a year, three servers: Lq .352, L 1.996, Wq .001175, W .006654, P0 .17754. Source: Bronson 24.6."""
    queue = Queue(300.0, 1 / 182.5, 3)
    assert agrees(300 * queue.wait, 0.352, 5e-4) and agrees(300 * queue.stay, 1.996, 5e-4) and agrees(queue.found_empty, 0.17754, 5e-6)
    assert agrees(queue.wait, 0.001175, 5e-7) and agrees(queue.stay, 0.006654, 5e-7)


@pytest.mark.parametrize("servers, stay, wait, empty", [(1, 1.0, 2 / 3, 1 / 3), (2, 3 / 8, 1 / 24, 1 / 2)])
def test_hospital_with_one_doctor_or_two(servers, stay, wait, empty):
    """λ 2, μ 3: W 1 and 3/8, Wq 2/3 and 1/24, P0 1/3 and 1/2; L 2 and 3/4, Lq 4/3 and 1/12. Source: Hillier & Lieberman, ch. 17, hospital example (from memory)."""
    queue = Queue(2.0, 1 / 3, servers)
    assert agrees(queue.stay, stay) and agrees(queue.wait, wait) and agrees(queue.found_empty, empty)
    assert agrees(2 * queue.stay, {1: 2.0, 2: 3 / 4}[servers]) and agrees(2 * queue.wait, {1: 4 / 3, 2: 1 / 12}[servers])


def test_md1_car_wash():
    """λ 4/h, 10 min always: Lq .6667, L 1.3333, Wq .1667 h, W .3333 h (Pollaczek–Khinchine). Source: Taha, car wash (from memory)."""
    queue = Queue(4.0, 1 / 6, law=0, sd=0.0)
    assert agrees(queue.wait, 0.1667, 5e-5) and agrees(queue.stay, 0.3333, 5e-5) and agrees(4 * queue.wait, 0.6667, 5e-5)
    assert agrees(4 * queue.stay, 1.3333, 5e-5)


@pytest.mark.parametrize("scv, hours", [(1.0, 7.66), (6.25, 27.8)])
def test_vut_of_two_machines(scv, hours):
    """ca² 1, te 20 min, u .9583, ce² 1 and 6.25: 7.66 and 27.8 h in the queue, to 1 %; log-normal times of that ce², and the formula is
    then exact (Pollaczek–Khinchine). Source: Hopp & Spearman, Factory Physics, ch. 8, Hare and Tortoise (from memory)."""
    queue = Queue(0.9583 / 20, 20.0, law=0, sd=math.sqrt(math.log(1 + scv)), orders=60_000, warm=20_000)
    assert agrees(queue.wait / 60, hours, 0.01 * hours)


@pytest.fixture(scope="module")
def jackson():
    """External arrivals (1, 4, 3); 1→2 .6, 1→3 .3; 2→1 .1, 2→3 .3; 3→1 .4, 3→2 .4; μ 10 each, servers (1, 2, 1)."""
    ways = (((0.6, 1), (0.3, 2), (0.1, 3)), ((0.1, 0), (0.3, 2), (0.6, 3)), ((0.4, 0), (0.4, 1), (0.2, 3)))
    enters = ((1 / 8, 0), (4 / 8, 1), (3 / 8, 2))
    network = Network(1 / 8, np.log(np.full(3, 0.1)), np.ones(3), ((0,), (1,), (1,), (2,)), enters, ways, WEIBULL)
    orders, warm = 22_000, 2_000
    came, gone, totals, _ = played(network, orders, RUNS, counted=(warm, orders - 2_000))
    return (gone - came)[:, warm: orders - 2_000], totals / (orders - 2_000 - warm)


def test_jackson_rates(jackson):
    """Visits a unit of time λ = (5, 10, 7.5). Source: "Open Jackson Network Lab", health-data-science-OR/stochastic_systems."""
    assert all(agrees(8 * jackson[1][:, s, 0], rate) for s, rate in enumerate((5.0, 10.0, 7.5)))


def test_jackson_numbers_at_each_bench(jackson):
    """L = (1, 4/3, 3), together 16/3. Source: Hillier & Lieberman 17.9 (from memory)."""
    there = 8 * (jackson[1][:, :, 1] + jackson[1][:, :, 2])
    assert all(agrees(there[:, s], number) for s, number in enumerate((1.0, 4 / 3, 3.0))) and agrees(there.sum(axis=1), 16 / 3)


def test_jackson_stay(jackson):
    """W 2/3. Source: Hillier & Lieberman 17.9 (from memory)."""
    assert agrees(jackson[0].mean(axis=1), 2 / 3)


def test_littles_law_of_a_panel_line():
    """1,400 panels a day of 19.5 h, 47,600 in process: 34 days or 663 h, 71.8 panels an hour. Certain hours, one order for 1,400 panels, 34 benches a day apart: as many
    orders in process. Source: Hopp & Spearman, Factory Physics, ch. 7, HAL case (slides)."""
    workshop = small_workshop(34, 34, orders_per_day=0.0, hours=24.0, sd=0.0, can=np.eye(34, dtype=bool), **always_open(people=34))
    state = open_orders(60, 34, status=np.full(60, 3), until=np.datetime64("2026-07-01") + np.arange(60))
    wip = simulate(workshop, state, horizon_days=60, seed=1, replications=1).open_finish()[0]
    days, apart = (wip - np.arange(60))[:20], np.diff(wip[:20])
    assert days == pytest.approx(np.full(20, 47_600 / 1_400)) and 19.5 * days == pytest.approx(np.full(20, 663))
    assert 1_400 / (19.5 * apart) == pytest.approx(np.full(19, 71.8), abs=0.05)
