"""The members of a forecast: many simulated cooks of one piece, and what its probe would read.

What is not known of pit, piece and probe is a vector of standard normal numbers a member, so that
the smoother can move it: those of `cooking.unknowns`, then where the probe's tip sits.
"""

from dataclasses import dataclass

import numpy as np

from fairsmoke.cooking import Conditions, Constants, Piece
from fairsmoke.cooking.constants import DEFAULT
from fairsmoke.cooking.ensemble import Ensemble, run_ensemble
from fairsmoke.cooking.unknowns import UNKNOWNS
from fairsmoke.physics.ranges import FloatArray
from fairsmoke.trial.protocol import Protocol

PROBE_MIDDLE, PROBE_SD = 0.2, 0.5
"""Where the tip sits: share of the way from the core to a quarter deep, as for logged cooks."""
SIZE = len(UNKNOWNS) + 1
_CORE, _QUARTER = 0, 3


@dataclass(frozen=True)
class Situation:
    """What is known of one piece while it cooks: how it is meant to be cooked, and under what."""

    piece: Piece
    protocol: Protocol
    conditions: Conditions
    constants: Constants = DEFAULT


@dataclass(frozen=True, eq=False)
class Curves:
    """What probes would read, (members, times) in °C, and the cooks behind them."""

    times_s: FloatArray
    probe_c: FloatArray
    cooks: Ensemble


def prior_draws(members: int, seed: int) -> FloatArray:
    """Return standard normal numbers, (members, SIZE)."""
    return np.random.default_rng([seed, 15]).standard_normal((members, SIZE))


def simulate_members(
    situation: Situation, draws: FloatArray, times_s: FloatArray, *, workers: int | None = None
) -> Curves:
    """Cook every member and read its probe at the given times.

    A time behind the end of a member's cook is NaN. Raises ProtocolError or BodyError for a
    situation that cannot be cooked.
    """
    found = run_ensemble(
        situation.piece,
        situation.protocol,
        situation.conditions,
        situation.constants,
        members=draws.shape[0],
        normal=draws[:, : len(UNKNOWNS)],
        sample_s=tuple(float(at) for at in times_s),
        workers=workers,
    )
    core, quarter = found.samples[:, :, _CORE], found.samples[:, :, _QUARTER]
    place = np.clip(PROBE_MIDDLE + PROBE_SD * draws[:, -1:], 0.0, 2.0)
    return Curves(times_s, core + place * (quarter - core), found)
