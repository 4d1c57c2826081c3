"""Switchback trials: each cow's own level and drift are taken out, and what is left is treatment.

Data and values: H. D. Patterson and H. L. Lucas, Change-over designs, Technical Bulletin 147, North
Carolina, 1962, table 2 of S. R. Lowry, Conference on Applied Statistics in Agriculture, 1989; and
H. L. Lucas, J. Dairy Sci. 39:146, 1956, table 3 of W. L. Sanders and P. J. Gaynor, J. Dairy Sci.
70:2186, 1987. Both read as carried by the data package agridat (patterson.switchback,
lucas.switchback), whose help pages print these analyses.
"""

import numpy as np
import pytest

from fairsmoke.judging.reml import fit_reml
from fairsmoke.judging.small_sample_df import f_test

# Milk of 12 cows in three periods: the first and third treatment, the second, the three yields.
PATTERSON = [
    (1, 2, 70.8, 65.5, 60.1), (1, 4, 96.2, 85.1, 82.3), (1, 3, 74.7, 72.3, 65.8),
    (2, 4, 75.5, 68.5, 66.3), (2, 3, 69.1, 62.6, 57.7), (2, 1, 76.7, 70.5, 69.0),
    (3, 1, 78.4, 71.9, 62.0), (3, 2, 58.5, 63.8, 50.4), (3, 4, 64.4, 66.1, 60.4),
    (4, 3, 77.7, 79.1, 73.3), (4, 1, 61.9, 53.3, 36.5), (4, 2, 60.1, 56.5, 44.9),
]  # fmt: skip
# Blocks of 6, 3 and 3 cows that started together; uniformity data, so treatments do nothing.
LUCAS = [
    (1, 2, 34.6, 32.3, 28.5), (2, 3, 22.8, 21.0, 18.6), (3, 1, 32.9, 33.1, 27.5),
    (1, 3, 48.9, 46.9, 42.0), (2, 1, 21.8, 23.9, 21.7), (3, 2, 25.4, 26.0, 23.9),
    (1, 3, 30.4, 29.5, 26.7), (2, 1, 35.2, 33.5, 28.4), (3, 2, 30.8, 29.3, 26.4),
    (1, 2, 38.7, 37.4, 34.4), (2, 3, 25.7, 26.1, 23.4), (3, 1, 21.4, 22.0, 19.4),
]  # fmt: skip
BLOCKS = [1] * 6 + [2] * 3 + [3] * 3


def design(
    rows: list[tuple[int, int, float, float, float]], blocks: list[int], treatments: int
) -> tuple[np.ndarray, np.ndarray, int]:
    """Yields, and columns: each cow's level and drift, the periods' curve by block, treatments."""
    cow = np.repeat(np.arange(len(rows)), 3)
    period = np.tile([1.0, 2.0, 3.0], len(rows))
    given = np.array([[first, second, first] for first, second, *_ in rows]).ravel()
    own = (cow[:, None] == np.arange(len(rows))) * 1.0
    block = np.repeat(blocks, 3)
    # Level and drift of the cows take up all of a block's three periods but one.
    middle = (block[:, None] == np.unique(blocks)) * (period == 2.0)[:, None]
    trt = (given[:, None] == np.arange(1, treatments)) * 1.0
    fixed = np.column_stack([own, own * period[:, None], middle, trt])
    return np.array([row[2:] for row in rows]).ravel(), fixed, treatments - 1


@pytest.mark.parametrize(
    ("rows", "blocks", "treatments", "residual", "df", "f_ratio", "p"),
    [
        (PATTERSON, [1] * 12, 4, 5.511, 8, 3.5237, 0.0685092),
        (LUCAS, BLOCKS, 3, 0.279, 7, 2.825, 0.126048),
    ],
)
def test_treatments_within_cows(
    rows: list[tuple[int, int, float, float, float]],
    blocks: list[int],
    treatments: int,
    residual: float,
    df: int,
    f_ratio: float,
    p: float,
) -> None:
    y, fixed, own = design(rows, blocks, treatments)
    fit = fit_reml(y, fixed, {})
    assert fit.residual_variance == pytest.approx(residual, abs=5e-4)
    found = f_test(fit, np.eye(fixed.shape[1])[-own:])
    assert found.df_denominator == pytest.approx(df)
    assert found.f_ratio == pytest.approx(f_ratio, abs=5.1e-4)
    assert found.p == pytest.approx(p, abs=5e-6)
