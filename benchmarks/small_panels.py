"""Error rates of small panels: how often a verdict on scores settles wrongly with 1 to 3 tasters.

``python -m benchmarks small_panels`` prints one table. Every cell is 4,000 simulated panels without
a true difference, scored from 1 to 9: tasters have a level and, for each arm, a liking of their own
(sd 0.8), answers scatter (sd 1.2), what is served first gains (sd 0.64), pieces differ as believed
(sd 0.68). Each piece of each pair is scored by every taster. They are judged as a finding judges
them, with the worthwhile difference of 1 point.
"""

import sys
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fairsmoke.judging.analyses import ManyAnalyses
from fairsmoke.judging.confounded import PanelNoise
from fairsmoke.judging.panel import panel_scores
from fairsmoke.judging.priors import defaults_for
from fairsmoke.judging.rule import NOT_SETTLED, DifferenceZone
from fairsmoke.planning.size.repeats import Block

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

PANELS = 4000
SEED = 20_261_202
PAIRS = (1, 2, 3, 6)
TASTERS = (1, 2, 3)
SPAN = 8.0
WORTHWHILE = 1.0
SURE = LEVEL = 0.95
LIKING, ANSWER, FIRST = 0.8, 1.2, 0.64


@dataclass(frozen=True)
class PanelCell:
    """What became of the panels of one cell, in shares of them.

    ``serving`` is "even", or "one first" where one arm always came first. ``liking`` is the true sd
    of a taster's own liking of an arm.
    """

    pairs: int
    tasters: int
    serving: str
    liking: float
    settled: float
    wrong: float
    covered: float


def first_served(pairs: int, tasters: int, *, even: bool) -> NDArray[np.bool_]:
    """Return which arm each taster had first of each pair, (pairs, tasters), True for arm 1."""
    turns = np.add.outer(np.arange(pairs), np.arange(tasters)) % 2 == 1
    return turns if even else np.zeros_like(turns)


def drawn_scores(
    rng: np.random.Generator, panels: int, first: NDArray[np.bool_], liking: float
) -> FloatArray:
    """Return scores (S, pairs, arms, tasters) without a true difference."""
    pairs, tasters = first.shape
    shape = (panels, pairs, 2, tasters)
    piece = rng.normal(0.0, 0.085 * SPAN, (panels, pairs, 2, 1))
    cook = rng.normal(0.0, 0.05 * SPAN, (panels, pairs, 1, 1))
    level = rng.normal(0.0, 1.0, (panels, 1, 1, tasters))
    own = rng.normal(0.0, liking, (panels, 1, 2, tasters))
    lead = rng.normal(0.0, FIRST, (panels, 1, 1, 1))
    at_first = np.stack([~first, first], axis=1)
    return 5.0 + piece + cook + level + own + lead * at_first + rng.normal(0.0, ANSWER, shape)


def cells(
    panels: int = PANELS,
    pairs: tuple[int, ...] = PAIRS,
    tasters: tuple[int, ...] = TASTERS,
    likings: tuple[float, ...] = (LIKING, 2.0 * LIKING),
) -> Iterator[PanelCell]:
    """Yield every cell of the table."""
    for count in pairs:
        for size in tasters:
            for even in (True, False):
                for liking in likings:
                    yield _cell(panels, count, size, even, liking)


def _cell(panels: int, pairs: int, tasters: int, even: bool, liking: float) -> PanelCell:
    first = first_served(pairs, tasters, even=even)
    rng = np.random.default_rng([SEED, pairs, tasters, even, int(10 * liking)])
    scores = drawn_scores(rng, panels, first, liking)
    layout = Block(positions=False).layout(pairs)
    index = np.indices((pairs, 2, tasters)).reshape(3, -1)
    rows = 2 * index[0] + index[1]
    was_first = np.where(index[1] == 1, first[index[0], index[2]], ~first[index[0], index[2]])
    once = panel_scores(rows, index[2], scores[0].ravel(), n_pieces=2 * pairs, first=was_first)
    values = scores.reshape(panels, -1) @ once.weights.T
    noise = PanelNoise.of(index[2], SPAN)
    known = noise.covariance(layout.arm) + once.first_covariance(SPAN)
    priors = defaults_for("score", scale_span=SPAN, centre=5.0, factors=("cook",))
    judge = ManyAnalyses.of(
        layout,
        priors,
        measurement_cov=known,
    )
    kinds = judge.verdicts(values, WORTHWHILE, SURE)
    covered = judge.covers(values, np.zeros(panels), LEVEL)
    settled = kinds != NOT_SETTLED
    return PanelCell(
        pairs,
        tasters,
        "even" if even else "one first",
        liking,
        float(np.mean(settled)),
        float(np.mean(settled & (kinds != DifferenceZone.WITHIN))),
        float(np.mean(covered)),
    )


def measure(panels: int = PANELS) -> dict[str, float]:
    """Print the table, and return its worst cells."""
    print("| pairs | tasters | serving | liking sd | settled | wrong | covered |")
    print("| ---: | ---: | --- | ---: | ---: | ---: | ---: |")
    found = []
    for one in cells(panels):
        found.append(one)
        print(
            f"| {one.pairs} | {one.tasters} | {one.serving} | {one.liking:g} "
            f"| {100 * one.settled:.1f} | {100 * one.wrong:.1f} | {100 * one.covered:.1f} |",
            flush=True,
        )
    believed = [one for one in found if one.liking == LIKING]
    return {
        "settled_and_wrong_worst": max(one.wrong for one in believed),
        "interval_covers_worst": min(one.covered for one in believed),
        "settled_and_wrong_worst_liking_twice": max(one.wrong for one in found),
        "interval_covers_worst_liking_twice": min(one.covered for one in found),
    }


if __name__ == "__main__":
    for name, value in measure(int(sys.argv[1]) if len(sys.argv) > 1 else PANELS).items():
        print(f"{name:44}{value:8.4f}")
