"""Weighted least squares for weighings: what they determine, and where they contradict each other.

Plain arrays. m observations of f free masses; an observation is a row of ``design`` (m, f) with the
standard uncertainty u (m,) of its value (m,). Source: JCGM 100 H.3 for the method; the check of
single observations is that of geodetic adjustment (Baarda, from memory).
"""

from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

# Coefficients are sums of zeros and ones, so anything this small is rounding.
TINY = 1e-9


@dataclass(frozen=True, eq=False)
class Adjustment:
    """The least-squares answer.

    ``gain``       (f, m): best = gain @ value; where observations leave a mass open, the gain gives
                   the answer of least norm and ``open_ways`` (f, k) spans the others
    ``residual``   (m,): value − design @ best
    ``check``      (m, m): residual projector in units of each u; its diagonal says how well the
                   others check an observation, from 0 (not at all) to 1
    """

    gain: FloatArray
    open_ways: FloatArray
    best: FloatArray
    residual: FloatArray
    check: FloatArray


def null_space(design: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return orthonormal bases of what the rows of a design fix (f, r) and leave open (f, k)."""
    width = design.shape[1]
    if not design.size:
        return np.zeros((width, 0)), np.eye(width)
    _, sizes, turned = np.linalg.svd(design)
    rank = int(np.sum(sizes > TINY * sizes[0])) if sizes.size else 0
    return turned[:rank].T, turned[rank:].T


def adjust(design: FloatArray, value: FloatArray, uncertainty: FloatArray) -> Adjustment:
    """Solve by least squares weighted with 1/u², leaving open what no observation fixes.

    Raises ValueError unless every uncertainty is above 0.
    """
    if not np.all(uncertainty > 0):
        raise ValueError("every observation needs an uncertainty above 0")
    fixed_ways, open_ways = null_space(design)
    weighted = (design @ fixed_ways) / uncertainty[:, None]
    # With the open directions taken out the columns are independent, so QR is exact and stable.
    orthogonal, triangle = np.linalg.qr(weighted)
    gain = fixed_ways @ np.linalg.solve(triangle, orthogonal.T / uncertainty)
    best = gain @ value
    return Adjustment(
        gain=gain,
        open_ways=open_ways,
        best=best,
        residual=value - design @ best,
        check=np.eye(value.size) - orthogonal @ orthogonal.T,
    )


def groups(linked: NDArray[np.bool_]) -> list[IntArray]:
    """Return the sets of indices that hang together in a symmetric (n, n) table of links."""
    count, label = scipy.sparse.csgraph.connected_components(
        scipy.sparse.csr_array(linked.astype(np.int8)), directed=False
    )
    return [np.flatnonzero(label == group) for group in range(count)]


@dataclass(frozen=True, eq=False)
class Conflict:
    """Observations which check each other and disagree by more than their uncertainties allow.

    ``at``        (n,) which observations
    ``chi2``, ``dof``, ``p``  how badly, and how often chance alone would do as badly
    ``off``       (n,) how far each would read too high if it alone were wrong, unit of the values
    ``suspicion`` (n,) standardised: the larger, the better that one alone explains it
    """

    at: IntArray
    chi2: float
    dof: int
    p: float
    off: FloatArray
    suspicion: FloatArray

    @property
    def stretch(self) -> float:
        """By how much the uncertainties would have to be larger to make this unremarkable."""
        return float(np.sqrt(self.chi2 / self.dof))


def conflicts(adjustment: Adjustment, uncertainty: FloatArray, level: float) -> list[Conflict]:
    """Return the groups of observations whose chi-square has a chance below ``level``.

    Each group is tested apart, so that one good set of weighings cannot hide a bad one.
    """
    scaled = adjustment.residual / uncertainty
    found = []
    for at in groups(np.abs(adjustment.check) > TINY):
        within = adjustment.check[np.ix_(at, at)]
        dof = round(float(np.trace(within)))
        if dof == 0:
            continue
        chi2 = float(np.sum(scaled[at] ** 2))
        p = float(scipy.special.chdtrc(dof, chi2))
        if p < level:
            checked = np.diag(within)
            found.append(
                Conflict(
                    at=at,
                    chi2=chi2,
                    dof=dof,
                    p=p,
                    off=adjustment.residual[at] / checked,
                    suspicion=np.abs(scaled[at]) / np.sqrt(checked),
                )
            )
    return found
