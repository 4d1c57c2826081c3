"""The lattice on densities whose integrals are known exactly."""

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import special, stats

from fairsmoke.judging import quadrature
from fairsmoke.judging.errors import ComparisonError
from fairsmoke.judging.quadrature import Lattice, integrate

Array = NDArray[np.float64]


def chances(values: Array, weights: Array) -> Array:
    """Smoothed chances of each coordinate lying below its mean."""
    return np.asarray(special.ndtr(2.0 * (values - weights @ values)))


def run(log_density: Callable[[Array], Array], dim: int) -> Lattice:
    return integrate(lambda z: (np.asarray(log_density(z)), z), dim, chances)


@pytest.mark.parametrize("dim", [1, 2, 3, 4])
def test_correlated_normal(dim: int) -> None:
    rng = np.random.default_rng(dim)
    root = np.tril(rng.normal(size=(dim, dim))) + 1.5 * np.eye(dim)
    cov, mean = root @ root.T / 4.0, rng.normal(size=dim)
    lattice = run(stats.multivariate_normal(mean, cov).logpdf, dim)
    assert lattice.log_integral == pytest.approx(0.0, abs=1e-3)
    assert lattice.weights @ lattice.z == pytest.approx(mean, abs=1e-3)
    off = lattice.z - mean
    assert (lattice.weights[:, None] * off).T @ off == pytest.approx(cov, abs=3e-3 * cov.max())


@pytest.mark.parametrize("bend", [0.5, 2.0])
def test_bent_ridge(bend: float) -> None:
    """Normal x, then y normal about bend * x^2: the integral is 1, E y = bend, by construction."""

    def log_density(z: Array) -> Array:
        x, y = z.T
        return np.asarray(stats.norm.logpdf(x) + stats.norm.logpdf(y, bend * x**2))

    lattice = run(log_density, 2)
    assert lattice.log_integral == pytest.approx(0.0, abs=3e-3)
    sd = np.sqrt(1.0 + 2.0 * bend**2)
    assert lattice.weights @ lattice.z[:, 1] == pytest.approx(bend, abs=0.01 * sd)


def test_two_humps_are_both_found() -> None:
    """Half of a mixture at -2 and half at +2."""

    def log_density(z: Array) -> Array:
        x, y = z.T
        humps = np.logaddexp(stats.norm.logpdf(x, -2.0, 0.6), stats.norm.logpdf(x, 2.0, 0.6))
        return np.asarray(humps - np.log(2.0) + stats.norm.logpdf(y))

    lattice = run(log_density, 2)
    assert lattice.log_integral == pytest.approx(0.0, abs=2e-3)
    assert lattice.weights @ lattice.z[:, 0] == pytest.approx(0.0, abs=0.01)


def test_no_axes_is_one_point() -> None:
    lattice = integrate(lambda z: (np.full(len(z), -3.5), np.ones((len(z), 1))), 0, lambda v, w: v)
    assert lattice.log_integral == -3.5
    assert lattice.weights.tolist() == [1.0]


def test_says_when_it_cannot_settle(monkeypatch: pytest.MonkeyPatch) -> None:
    """With an accuracy that no lattice reaches it gives up with words, not with an answer."""
    monkeypatch.setattr(quadrature, "GAP_ALLOWED", 1e-30)
    with pytest.raises(ComparisonError, match=r"did not settle|Too many"):
        run(lambda z: np.asarray(stats.norm.logpdf(z[:, 0])), 1)


def test_says_when_the_mass_lies_where_no_prior_puts_it() -> None:
    with pytest.raises(ComparisonError, match="same units"):
        run(lambda z: -0.5 * np.sum((z - 9.0) ** 2, axis=1), 2)


def test_a_narrow_density_is_met_by_a_narrow_lattice() -> None:
    """As the residual spread of many pieces: sd 0.05 of the prior's, off centre."""
    lattice = run(lambda z: np.asarray(stats.norm(1.3, 0.05).logpdf(z[:, 0])), 1)
    assert lattice.log_integral == pytest.approx(0.0, abs=1e-3)
    assert lattice.weights @ lattice.z[:, 0] == pytest.approx(1.3, abs=1e-4)
