"""The network of benches in Ciw, its node class extended so that a person may serve several nodes."""

from __future__ import annotations

from typing import Any

import ciw

from .common import Luck, Network


class SharedBench(ciw.Node):  # type: ignore[misc]
    """A node whose servers may stand in the lists of other nodes as well."""

    def create_starting_servers(self) -> list[Any]:
        """Return the people with the skill; each is made once for the whole simulation."""
        people = self.simulation.__dict__.setdefault("people", {})
        network: Network = self.simulation.network.shop
        names = [p for p, can in enumerate(network.can) if self.id_number - 1 in can]
        for p in names:
            people.setdefault(p, ciw.server.Server(self, p, 0.0))
        return [people[p] for p in names]

    def update_next_end_service_with_server(self) -> None:
        """Find the next end of service among those who work at this node now."""
        self.possible_next_events.pop("end_service", None)
        best = float("inf")
        for server in self.servers:
            if server.busy and server.cust.node == self.id_number and server.next_end_service_date < best:
                best = server.next_end_service_date
                self.possible_next_events["end_service"] = ([server.cust], best)

    def release(self, next_individual: Any, next_node: Any, reroute: bool = False) -> None:
        """Pass the order on first, to whoever is idle; then the person looks for work at every node of own skills."""
        self.individuals[next_individual.prev_priority_class].remove(next_individual)
        self.number_of_individuals -= 1
        self.number_in_service -= 1
        next_individual.queue_size_at_departure = self.number_of_individuals
        next_individual.exit_date = self.now
        self.write_individual_record(next_individual)
        server = next_individual.server
        next_individual.server = False
        started, ended = next_individual.service_start_date, next_individual.exit_date
        self.reset_individual_attributes(next_individual)
        next_node.accept(next_individual)
        server.cust, server.busy = False, False
        server.busy_time += ended - started
        self._look_for_work(server)

    def _look_for_work(self, server: Any) -> None:
        best, at = None, None
        for node in self.simulation.transitive_nodes:
            if server in node.servers:
                individual = node.choose_next_customer()
                if individual is not None and (best is None or individual.id_number < best.id_number):
                    best, at = individual, node
        if at is not None:
            at.begin_service_if_possible_release(best, server)


class Drawn(ciw.dists.Distribution):  # type: ignore[misc]
    """Hours of a visit from the list of draws."""

    def __init__(self, luck: Luck) -> None:
        self.luck = luck

    def __deepcopy__(self, memo: Any) -> Drawn:
        return self

    def sample(self, t: Any = None, ind: Any = None) -> float:
        """Return the hours of this individual's next visit."""
        return self.luck.hours[ind.id_number - 1][len(ind.data_records)]


class Gaps(ciw.dists.Distribution):  # type: ignore[misc]
    """Gaps between orders from the list of draws; none after the last."""

    def __init__(self, luck: Luck) -> None:
        self.times, self.place = [0.0, *luck.arrival], 0

    def __deepcopy__(self, memo: Any) -> Gaps:
        return self

    def sample(self, t: Any = None, ind: Any = None) -> float:
        """Return the next gap."""
        self.place += 1
        return self.times[self.place] - self.times[self.place - 1] if self.place < len(self.times) else float("inf")


def first_ordered(individuals: list[Any], now: float) -> Any:
    """Return the earliest order."""
    return min(individuals, key=lambda individual: individual.id_number)


def play(network: Network, orders: int, seed: int, replication: int) -> Any:
    """Draw and run one replication; all orders enter at the first node. Return the finished simulation."""
    luck, n = Luck(network, orders, seed, replication), network.stages
    shop = ciw.create_network(
        arrival_distributions=[Gaps(luck), *[None] * (n - 1)],
        service_distributions=[Drawn(luck)] * n,
        number_of_servers=[sum(s in can for can in network.can) for s in range(n)],
        service_disciplines=[first_ordered] * n,
        routing=ciw.routing.ProcessBased(lambda individual, simulation: [s + 1 for s in luck.route[individual.id_number - 1][1:]]),
    )
    shop.shop = network
    simulation = ciw.Simulation(shop, node_class=SharedBench)
    simulation.simulate_until_max_customers(orders)
    return simulation
