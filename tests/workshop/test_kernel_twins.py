"""The same network of benches in simpy and Ciw, with equal draws: equal paths; and the workshop with everything switched off."""

import numpy as np
import pytest

from shoplib.workshop.replicate import simulate
from tests.bench import ciw_twin, simpy_twin
from tests.bench.common import HOURS_A_YEAR, ORDERS, Luck, Network, common
from tests.workshop.small import AS_OF, always_open, small_workshop
from tests.workshop.test_kernel import played

FOR_BACK = 1
"""Purpose of the workshop's own draw for a way back, as numbered in the kernel."""


@pytest.fixture(scope="module")
def year():
    """Four replications of a year of the common model."""
    return played(common(), ORDERS, 4)


@pytest.mark.parametrize("replication", [0, 3])
def test_simpy_plays_the_same_orders(year, replication):
    """Every order is finished within 1e-9 h of the time simpy gives, after as many events."""
    twin = simpy_twin.play(common(), ORDERS, 7, replication)
    assert twin.events == year[3][replication] and np.abs(year[1][replication] - twin.finish).max() < 1e-9


def test_simpy_adds_up_the_same(year):
    """Visits, hours at the bench and hours in the queue agree stage by stage within 1e-9 of their size."""
    twin = simpy_twin.play(common(), ORDERS, 7, 0)
    assert year[2][0] == pytest.approx(np.array([twin.visits, twin.worked, twin.waited]).T, rel=1e-9, abs=1e-9)


def test_ciw_plays_the_same_orders(year):
    """Every order is finished within 1e-9 h of the time Ciw gives."""
    done = np.zeros(ORDERS)
    for record in ciw_twin.play(common(), ORDERS, 7, 1).get_all_records():
        done[record.id_number - 1] = max(done[record.id_number - 1], record.exit_date)
    assert np.abs(year[1][1] - done).max() < 1e-9


def test_ciw_with_its_own_draws_has_the_same_mean(year):
    """Ciw's own exponential arrivals and log-normal hours, ten short runs of one bench with two people: means agree within four errors."""
    import ciw

    waits = []
    for seed in range(10):
        ciw.seed(seed)
        shop = ciw.create_network(arrival_distributions=[ciw.dists.Exponential(1.5)], number_of_servers=[2],
                                  service_distributions=[ciw.dists.Lognormal(-0.08, 0.4)])
        run = ciw.Simulation(shop)
        run.simulate_until_max_customers(600)
        waits.append(np.mean([r.waiting_time for r in run.get_all_records() if r.id_number > 100]))
    network = Network(1 / 1.5, np.array([-0.08]), np.array([0.4]), ((0,), (0,)), ((1.0, 0),), (((1.0, 1),),))
    totals = played(network, 600, 64, counted=(100, 600))[2][:, 0]
    ours = totals[:, 2] / totals[:, 0]
    error = np.hypot(np.std(waits, ddof=1) / len(waits) ** 0.5, ours.std(ddof=1) / 8)
    assert abs(np.mean(waits) - ours.mean()) < 4 * error


@pytest.fixture(scope="module")
def whole():
    """The common model as a workshop: day and night, no absences, one style, no promises, first ordered first."""
    network = common()
    back = np.zeros((1, 11, 1))
    back[0, 7, 0], back[0, 9, 0] = 0.12, 0.08
    to = np.zeros((11, 11))
    to[7, 6] = to[9, 8] = 1.0
    can = np.array([[s in skills for s in range(11)] for skills in network.can])
    workshop = small_workshop(
        11, 9, work_intercept=network.mean[None], work_sd=network.sd[None], return_chance=back, return_to=to, can=can,
        enquiries_per_day=np.full((1, 12), 24.0 / network.gap), day_span=1.0, **always_open(people=9))
    from tests.workshop.small import open_orders

    return simulate(workshop, open_orders(0, 11), horizon_days=int(HOURS_A_YEAR / 24), seed=7, replications=2), network


@pytest.mark.parametrize("replication", [0, 1])
def test_workshop_switched_off_is_the_network(whole, replication):
    """The whole workshop with calendars, absences and promises switched off passes every order as simpy does, way back included."""
    records, network = whole
    cards = records.cards[records.first[replication]: records.first[replication + 1]]
    luck = Luck(network, len(cards) + 40, 7, replication, way=FOR_BACK, first_visit=0)
    done = np.array(simpy_twin.Benches(network, luck).run().finish)[: len(cards)]
    inside = ~np.isnan(cards["finish"])
    assert inside.sum() > 600 and np.abs(cards["finish"][inside] * 24 - done[inside]).max() < 1e-6
    assert records.state.as_of == AS_OF
