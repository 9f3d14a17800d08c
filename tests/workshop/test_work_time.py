"""Work time: closed-form ridge with partial pooling, running visits censored, checked against statsmodels on one stage."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from shoplib.workshop.work_time import VisitHours, WorkTime, fit_work_time, hazard

STAGES, STYLES, ALLOYS = 4, 5, 3
RNG = np.random.default_rng(5)
INTERCEPT = np.array([0.2, 0.6, 1.2, 0.0])
SLOPE = np.array([0.3, 0.5, 0.6, 0.4])
STYLE = RNG.normal(0, 0.2, (STAGES, STYLES))
SD = np.array([0.25, 0.3, 0.4, 0.35])
AGAIN = -0.5


def visits(n: int, seed: int = 1, style: np.ndarray = STYLE) -> VisitHours:
    rng = np.random.default_rng(seed)
    stage, kind, alloy = rng.integers(0, STAGES, n), rng.integers(0, STYLES, n), rng.integers(0, ALLOYS, n)
    ln_weight, again = rng.normal(3.4, 0.4, n), rng.random(n) < 0.1
    mean = INTERCEPT[stage] + SLOPE[stage] * (ln_weight - 3.4) + style[stage, kind] + AGAIN * again
    return VisitHours(stage, kind, alloy, ln_weight, again, np.exp(mean + SD[stage] * rng.normal(size=n)), np.zeros(n, bool))


def fitted(seen: VisitHours, draws: int = 200) -> WorkTime:
    return fit_work_time(seen, STAGES, STYLES, ALLOYS, np.random.default_rng(0), draws)


def test_one_stage_and_style_gives_the_mean_of_ln_hours() -> None:
    """Two hundred visits of one hour and two hundred of four: the middle of ln hours is ln 2, worked by hand."""
    hours = np.array([1.0, 4.0] * 200)
    none = np.zeros(400, np.int64)
    fit = fit_work_time(VisitHours(none, none, none, np.zeros(400), none > 0, hours, none > 0), 1, 1, 1, np.random.default_rng(0), 10)
    mean_h = np.exp(fit.intercept[0, 0] + fit.style[0, 0, 0] + fit.alloy[0, 0, 0] + fit.sd[0, 0] ** 2 / 2)
    assert fit.sd[0, 0] == pytest.approx(np.log(2), rel=0.02)
    assert mean_h == pytest.approx(2.5, rel=0.02), "mean hours agree with those booked though they are not log-normal"


def test_slopes_rework_and_spread_are_found() -> None:
    """With 8,000 visits every slope, the rework effect and each stage's spread are within three standard errors of the truth."""
    fit = fitted(visits(8000))
    for told, truth in ((fit.slope, SLOPE), (fit.rework, np.full(STAGES, AGAIN)), (fit.sd, SD)):
        assert (np.abs(told[0] - truth) < 3 * told[1:].std(axis=0) + 0.01).all()


def test_draws_cover_the_truth() -> None:
    """Over fresh shops, 80 % ranges of the mean hours of every stage and style hold the truth in 70–90 of 100 (400 cases)."""
    inside = []
    for seed in range(20):
        style = np.random.default_rng(seed).normal(0, 0.2, (STAGES, STYLES))
        fit = fitted(visits(1500, seed + 50, style))
        told = fit.intercept[:, :, None] + fit.style + fit.slope[:, :, None] * (3.4 - fit.centre) + fit.alloy.mean(axis=2)[:, :, None]
        low, high = np.quantile(told[1:] + fit.sd[1:, :, None] ** 2 / 2, [0.1, 0.9], axis=0)
        truth = INTERCEPT[:, None] + style + SD[:, None] ** 2 / 2
        inside.append((low <= truth) & (truth <= high))
    assert 0.7 <= np.mean(inside) <= 0.9


def test_running_visits_pull_up() -> None:
    """Visits cut at 60 % of their hours bias the mean down when they count as ended, and hardly when they count as running."""
    whole = visits(3000)
    cut = np.arange(3000) % 5 == 0
    hours = np.where(cut, 0.6 * whole.hours, whole.hours)
    parts = (whole.stage, whole.style, whole.alloy, whole.ln_weight, whole.again, hours)
    truth, ended, running = (fitted(seen).intercept[0].mean() for seen in (whole, VisitHours(*parts, cut & False), VisitHours(*parts, cut)))
    assert ended < truth - 0.05
    assert abs(running - truth) < abs(ended - truth)


def test_a_stage_without_visits_leans_on_its_standard_hours() -> None:
    """Nothing measured at stage 3: its middle is its standard 5 h, its range wide."""
    seen = visits(800)
    keep = seen.stage != 3
    some = VisitHours(*(getattr(seen, name)[keep] for name in VisitHours.__dataclass_fields__))
    standard = np.array([0.0, 0.0, 0.0, 5.0])
    fit = fit_work_time(some, STAGES, STYLES, ALLOYS, np.random.default_rng(0), 200, standard)
    assert np.exp(fit.intercept[0, 3]) == pytest.approx(5.0, rel=0.05)
    assert fit.intercept[1:, 3].std() > 5 * fit.intercept[1:, 0].std()


def test_a_style_with_one_visit_leans_on_the_others() -> None:
    """One visit of nine times the usual hours moves its style by less than half of ln 9."""
    seen = visits(1000, style=np.zeros((STAGES, STYLES)))
    odd = VisitHours(*(np.append(a, b) for a, b in zip(
        (seen.stage, seen.style, seen.alloy, seen.ln_weight, seen.again, seen.hours, seen.running),
        (0, STYLES, 0, 3.4, False, 9 * np.exp(INTERCEPT[0]), False), strict=True)))
    fit = fit_work_time(odd, STAGES, STYLES + 1, ALLOYS, np.random.default_rng(0), 10)
    assert 0 < fit.style[0, 0, STYLES] < np.log(9) / 2


@pytest.mark.parametrize("hours", [np.zeros(0), np.array([np.nan, 0.0])])
def test_no_usable_visit_is_modelled(hours: np.ndarray) -> None:
    """A shop that books no hours gets finite times with a wide range, not an error."""
    none = np.zeros(len(hours), np.int64)
    fit = fit_work_time(VisitHours(none, none, none, none * 1.0, none > 0, hours, none > 0), 2, 1, 1, np.random.default_rng(0), 50)
    assert np.isfinite(fit.intercept).all() and fit.intercept[1:].std() > 0.5


def test_the_mixed_model_of_statsmodels_agrees_on_one_stage() -> None:
    """Style effects of one stage: MixedLM by REML (statsmodels) and ours differ by less than a tenth of the style spread."""
    import statsmodels.formula.api as smf

    seen = visits(6000)
    at = seen.stage == 2
    frame = pd.DataFrame({"y": np.log(seen.hours[at]), "x": seen.ln_weight[at] - 3.4, "again": seen.again[at] * 1.0, "style": seen.style[at]})
    mixed = smf.mixedlm("y ~ x + again", frame, groups=frame["style"]).fit(reml=True)
    theirs = np.array([float(mixed.random_effects[k].iloc[0]) for k in range(STYLES)]) + mixed.fe_params["Intercept"]
    fit = fitted(seen)
    ours = fit.intercept[0, 2] + fit.style[0, 2] + fit.slope[0, 2] * (3.4 - fit.centre) + fit.alloy[0, 2].mean()
    assert np.abs(ours - theirs).max() < 0.1 * STYLE[2].std() + 0.02
    assert fit.slope[0, 2] == pytest.approx(mixed.fe_params["x"], abs=0.03)


def test_hazard_is_the_mean_beyond() -> None:
    """Mean of a standard normal variable above 0 is √(2 ÷ π) = 0.7979 (Johnson & Kotz, half-normal mean); far out it is near z."""
    assert hazard(np.array([0.0]))[0] == pytest.approx(np.sqrt(2 / np.pi))
    assert hazard(np.array([29.999, 30.0])) == pytest.approx([29.999 + 1 / 30, 30.0 + 1 / 30], abs=1e-4)


@pytest.mark.parametrize("z", [-3.0, 0.5, 2.0, 10.0])
def test_hazard_against_scipy(z: float) -> None:
    """scipy.stats.norm: density ÷ survival function."""
    from scipy.stats import norm

    assert hazard(np.array([z]))[0] == pytest.approx(norm.pdf(z) / norm.sf(z), rel=1e-10)
