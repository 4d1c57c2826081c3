"""Variances and fixed effects against statsmodels' MixedLM.

statsmodels maximises the same restricted likelihood by other means, to about four digits; it has
neither Satterthwaite's nor Kenward and Roger's degrees of freedom.
"""

import numpy as np
import pytest
import statsmodels.api as sm

from fairsmoke.judging.reml import fit_reml


def nested_trial(seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Invented and unbalanced: cooks, animals within cooks, several pieces an animal."""
    rng = np.random.default_rng(seed)
    cook = rng.integers(0, 7, 60)
    animal = cook * 10 + rng.integers(0, 3, 60)
    arm = rng.integers(0, 2, 60)
    response = (
        60.0
        + 1.5 * arm
        + rng.normal(0, 2.0, 7)[cook]
        + rng.normal(0, 1.5, 70)[animal]
        + rng.normal(0, 1.0, 60)
    )
    return response, np.column_stack([np.ones(60), arm]), cook, animal


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_one_factor(seed: int) -> None:
    response, fixed, cook, _ = nested_trial(seed)
    ours = fit_reml(response, fixed, {"cook": cook})
    theirs = sm.MixedLM(response, fixed, groups=cook).fit(reml=True)
    assert ours.variances["cook"] == pytest.approx(float(theirs.cov_re[0, 0]), rel=1e-3)
    assert ours.residual_variance == pytest.approx(float(theirs.scale), rel=1e-4)
    assert ours.coefficients == pytest.approx(theirs.fe_params, rel=1e-5)
    assert ours.criterion == pytest.approx(-2 * theirs.llf, abs=1e-5)


@pytest.mark.parametrize("seed", [4, 8])
def test_animals_within_cooks(seed: int) -> None:
    response, fixed, cook, animal = nested_trial(seed)
    ours = fit_reml(response, fixed, {"cook": cook, "animal": animal})
    assert not ours.boundary
    spread = sm.regression.mixed_linear_model.VCSpec(
        ["animal"],
        [[[f"{a}" for a in np.unique(animal[cook == c])] for c in np.unique(cook)]],
        [
            [
                (animal[cook == c][:, None] == np.unique(animal[cook == c])).astype(float)
                for c in np.unique(cook)
            ]
        ],
    )
    theirs = sm.MixedLM(response, fixed, groups=cook, exog_re=np.ones((60, 1)), exog_vc=spread).fit(
        reml=True
    )
    assert ours.variances["cook"] == pytest.approx(float(theirs.cov_re[0, 0]), rel=2e-3)
    assert ours.variances["animal"] == pytest.approx(float(theirs.vcomp[0]), rel=2e-3)
    assert ours.residual_variance == pytest.approx(float(theirs.scale), rel=1e-3)
    # Ours must be no worse a maximum than theirs.
    assert ours.criterion <= -2 * theirs.llf + 1e-8
