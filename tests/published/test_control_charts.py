"""Control charts and capability against the NIST/SEMATECH e-Handbook of Statistical Methods (doi 10.18434/M32189)."""

import numpy as np
import pytest

from shoplib.flow.control import c_chart, capability, ewma_chart, individuals_chart, moving_range_chart, p_chart

# Section 6.3.2.2, flow rates of ten batches; quoted by the tests of several public repositories.
FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
# Section 6.3.2.4, twenty values with an EWMA of weight 0.3 from a target of 50 and s = 2.0539.
DRIFT = [52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, *FLOW[1:]]
EWMA = [50.00, 50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99]  # fmt: skip
# Section 6.3.3.2, failures in thirty samples of 50; the data from memory, they reproduce the printed limits.
DEFECTIVE = [12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22, 8, 10, 5, 13, 11, 20, 18, 24, 15, 9, 12, 7, 13, 9, 6]
# Section 6.3.3.1, defects on 25 wafers; the data from memory, they reproduce the printed limits.
WAFERS = [16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14, 16, 15, 13, 14, 16, 11, 20, 11, 19, 16, 31, 13]


def test_individuals_chart():
    """Centre 50.81, limits 55.8041 and 45.8159."""
    chart = individuals_chart(FLOW)
    assert (chart.centre, chart.upper[0], chart.lower[0]) == pytest.approx((50.81, 55.8041, 45.8159), abs=5e-5)


def test_moving_range():
    """Mean moving range 1.8778."""
    assert moving_range_chart(FLOW).centre == pytest.approx(1.8778, abs=5e-5)


def test_ewma_values():
    """The twenty-one means printed, to two decimals."""
    assert ewma_chart(DRIFT, 50.0, 2.0539).values == pytest.approx(EWMA, abs=0.0051)


def test_ewma_limits():
    """Limits 52.5884 and 47.4115 (the page truncates)."""
    chart = ewma_chart(DRIFT, 50.0, 2.0539)
    assert (chart.upper[0], chart.lower[0]) == pytest.approx((52.5884, 47.4115), abs=1e-3)


def test_ewma_gives_no_signal():
    """The process is in control."""
    assert not ewma_chart(DRIFT, 50.0, 2.0539).unusual.any()


def test_p_chart():
    """Mean .2313, limits .4102 and .0524."""
    chart = p_chart(DEFECTIVE, np.full(30, 50))
    assert (chart.centre, chart.upper[0], chart.lower[0]) == pytest.approx((0.2313, 0.4102, 0.0524), abs=5e-5)


def test_p_chart_signals():
    """By the limits above (20.5 of 50) samples 15 with 22 and 23 with 24 lie outside."""
    assert np.flatnonzero(p_chart(DEFECTIVE, np.full(30, 50)).unusual).tolist() == [14, 22]


def test_c_chart():
    """Mean 16, limits 28 and 4."""
    chart = c_chart(WAFERS)
    assert (chart.centre, chart.upper[0], chart.lower[0]) == (16.0, 28.0, 4.0)


def test_capability():
    """Section 6.1.6: limits 20 and 8, mean 16, sd 2: Cp 1.0, Cpk and Cpu .6667, Cpl 1.3333, k .3333."""
    found = capability(16.0, 2.0, 8.0, 20.0)
    assert (found.cp, found.cpk, found.cpu, found.cpl, found.k) == pytest.approx((1.0, 0.6667, 0.6667, 1.3333, 0.3333), abs=5e-5)
