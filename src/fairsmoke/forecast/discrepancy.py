"""What the physics leaves over: a process on the core temperature, correlated in time.

The probe reads the simulated core plus a discrepancy that wanders (an Ornstein–Uhlenbeck process:
Gaussian, its correlation fading as exp(−|Δt|/τ)) plus noise of its own. Its size is learnt by
replay of cooks that nobody fitted (docs/forecast.md), not assumed.
Source of the idea: Kennedy and O'Hagan, J. R. Statist. Soc. B 63 (2001) 425.
"""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_factor, cho_solve

from fairsmoke.physics.ranges import FloatArray


@dataclass(frozen=True)
class Discrepancy:
    """Size of what the physics leaves over.

    Attributes:
        sd_k: standard deviation of the discrepancy (K), and of its growth with time since the fit.
        time_s: its correlation time (s).
        noise_k: standard deviation of one reading around it (K).

    """

    sd_k: float = 3.0
    time_s: float = 3.0 * 3600.0
    noise_k: float = 1.0

    def covariance(self, first_s: FloatArray, second_s: FloatArray) -> FloatArray:
        """Return the covariance (K²) of the discrepancy between two sets of times (s)."""
        gap = np.abs(first_s[:, None] - second_s[None, :])
        return np.asarray(self.sd_k**2 * np.exp(-gap / self.time_s))

    def reading_covariance(self, times_s: FloatArray) -> FloatArray:
        """Return the covariance (K²) of readings around the simulated core, noise included."""
        noise = self.noise_k**2 * np.eye(times_s.size)
        return self.covariance(times_s, times_s) + noise

    def run_on(
        self,
        times_s: FloatArray,
        residuals_k: FloatArray,
        later_s: FloatArray,
        generator: np.random.Generator,
    ) -> FloatArray:
        """Draw the discrepancy at later times for each member, given its residuals so far.

        Args:
            times_s: times of the readings, (n,).
            residuals_k: readings less each member's simulated core, (members, n).
            later_s: times to draw at, (m,).
            generator: of the draws.

        Returns:
            (members, m), in K.

        """
        members, later = residuals_k.shape[0], later_s.size
        own = self.covariance(later_s, later_s)
        if times_s.size == 0:
            mean, left = np.zeros((members, later)), own
        else:
            across = self.covariance(later_s, times_s)
            factor = cho_factor(self.reading_covariance(times_s))
            gain = cho_solve(factor, across.T).T
            mean = residuals_k @ gain.T
            left = own - gain @ across.T
        spread, turned = np.linalg.eigh(0.5 * (left + left.T))
        root = turned * np.sqrt(np.maximum(spread, 0.0))
        return np.asarray(mean + generator.standard_normal((members, later)) @ root.T)


LEARNT = Discrepancy()
