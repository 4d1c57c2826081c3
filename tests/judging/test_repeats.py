"""A value measured several times on one piece: u of the mean is u over √n (JCGM 100 4.2.3)."""

import numpy as np
import pytest
from tests.judging.records import SHEAR, record_of

from fairsmoke.judging.responses import responses_of
from fairsmoke.trial.figure import Figure


def measured(*found: tuple[float, float]) -> tuple[float | None, float | None, str, float]:
    """Return value, u and note of a piece so measured, and its variance among the known ones."""
    figures = [
        Figure(id=f"f{at}", piece="c0-bare", measure="shear", value=value, uncertainty=u)
        for at, (value, u) in enumerate(found)
    ]
    # What another piece or another measure gave is none of its.
    figures.append(Figure(id="o", piece="c0-paper", measure="shear", value=99.0, uncertainty=9.0))
    answers = responses_of(record_of([(0.58, 0.61)], (SHEAR,), figures=figures), SHEAR, None)
    row = answers.rows[0]
    assert answers.known_cov[0, 1] == answers.known_cov[1, 0] == 0.0
    assert answers.known_cov[1, 1] == 81.0
    return row.value, row.uncertainty, str(row.note), float(answers.known_cov[0, 0])


@pytest.mark.parametrize("count", [1, 2, 4, 9])
def test_repeats_shrink_the_uncertainty_by_the_root_of_their_number(count: int) -> None:
    values = np.arange(count) + 3.0
    value, u, note, variance = measured(*((one, 0.6) for one in values))
    assert value == pytest.approx(values.mean())
    assert u == pytest.approx(0.6 / np.sqrt(count))
    assert variance == pytest.approx(0.36 / count)
    assert note == (f"mean of {count}" if count > 1 else "")


def test_repeats_of_unequal_uncertainty() -> None:
    # (a + b) / 2 with 0.3 and 0.4: half the root of the squares' sum, 0.25.
    assert measured((4.0, 0.3), (5.0, 0.4))[:2] == pytest.approx((4.5, 0.25))


def test_what_was_not_measured_has_no_value() -> None:
    assert measured() == (None, None, "not measured", 0.0)
