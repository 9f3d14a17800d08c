"""Where the margin report takes its limiting bench from."""

import numpy as np
import pytest

from shoplib.reports.margin import Parameters, simulated
from shoplib.workshop.limits import Limits


def found(monkeypatch, limits, reason="", **parameters):
    monkeypatch.setattr(simulated, "limits_or_none", lambda shop, last, seed: (limits, reason))
    return simulated.limiting_bench(None, None, Parameters(**parameters))


def gains(solder, polish):
    return Limits(("solder", "polish"), np.tile([float(solder), float(polish)], (8, 1)), np.array([10.0, 10.0]))


def test_the_simulated_bench_is_scarce(monkeypatch):
    """The bench that limits ranks what to make, whatever its load."""
    bench = found(monkeypatch, gains(2, 9))
    assert (bench.skill, bench.scarce) == ("polish", True)


def test_where_demand_limits_the_busiest_stands_in(monkeypatch):
    """No bench limits: the busiest is used and the finding says so."""
    bench = found(monkeypatch, gains(0, 0))
    assert bench.skill is None and not bench.scarce and "demand limits" in bench.found.text


def test_without_a_simulation_the_reason_is_told(monkeypatch):
    """The busiest stands in, with the reason why the shop cannot be simulated."""
    bench = found(monkeypatch, None, "no stage is known")
    assert bench.skill is None and bench.found.text.endswith("no stage is known")


def test_what_the_owner_says_goes_first(monkeypatch):
    """A bench that is told is taken without asking the simulator."""
    bench = found(monkeypatch, gains(9, 0), limiting_bench="finish")
    assert (bench.skill, bench.scarce) == ("finish", False)


@pytest.mark.parametrize("asked", ["", "solder"])
def test_prepare_asks_the_simulator_only_when_it_is_needed(monkeypatch, asked):
    """With a bench that is told there is nothing to prepare."""
    calls = []
    monkeypatch.setattr(simulated, "limits_or_none", lambda *key: calls.append(key))
    parameters = Parameters(limiting_bench=asked or None, as_of="2026-01-31")
    simulated.prepare(None, parameters, lambda what, done: None)
    assert len(calls) == (0 if asked else 1)
