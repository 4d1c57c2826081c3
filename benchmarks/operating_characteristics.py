"""Error rates of the verdict: how often it settles, settles wrongly, and its interval holds.

``python -m benchmarks operating_characteristics`` prints one table. Every cell is 4,000 simulated
trials of a yield, judged by the functions that judge a record: true spreads between pieces of half
to three times the believed one, with and without odd pieces (each piece one time in ten, off by
five believed spreads, 15 points, either way), true differences of none, half and twice the
worthwhile one, at 1, 2, 3 and 6 pairs. Cooks and places differ as believed; sides swap.
"""

import sys
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fairsmoke.judging.analyses import ManyAnalyses
from fairsmoke.judging.design import ComparisonLayout
from fairsmoke.judging.priors import Priors, defaults_for
from fairsmoke.judging.rule import NOT_SETTLED, Analysis, DifferenceZone, decide_many
from fairsmoke.planning.size.repeats import Block

FloatArray = NDArray[np.float64]

TRIALS = 4000
SEED = 20_261_201
PAIRS = (1, 2, 3, 6)
SPREAD_TIMES = (0.5, 1.0, 2.0, 3.0)
WORTHWHILE = 0.02
SMALLER = 0.01
"""A second worthwhile difference: smaller ones are settled wrongly more easily."""
SURE = 0.95
LEVEL = 0.95
ODD_SHARE = 0.1
ODD_TIMES = 5.0


@dataclass(frozen=True)
class Cell:
    """What became of the trials of one cell, in shares of them.

    ``before`` is the share that the usual priors alone would settle, ``before_wrong`` wrongly:
    what asking a sceptic too costs and saves.
    """

    pairs: int
    times: float
    odd: bool
    truth: float
    settled: float
    wrong: float
    covered: float
    before: float
    before_wrong: float


def drawn(
    layout: ComparisonLayout,
    priors: Priors,
    rng: np.random.Generator,
    trials: int,
    *,
    times: float,
    odd: bool,
    truth: float,
) -> FloatArray:
    """Return trials (S, n) with known true spreads; nothing of the judging code draws them."""
    n = len(layout.arm)
    sd = times * priors.piece.quantile(0.5)
    values = priors.mu_mean + truth * (layout.arm == 0) + rng.normal(0.0, sd, (trials, n))
    for name, labels in layout.factors.items():
        own = priors.group(name).quantile(0.5)
        values = values + rng.normal(0.0, own, (trials, int(labels.max()) + 1))[:, labels]
    if odd:
        off = ODD_TIMES * priors.piece.quantile(0.5)
        signs = np.where(rng.random((trials, n)) < 0.5, -off, off)
        values = values + (rng.random((trials, n)) < ODD_SHARE) * signs
    return np.asarray(values, dtype=np.float64)


def cells(
    trials: int = TRIALS, pairs: tuple[int, ...] = PAIRS, worthwhile: float = WORTHWHILE
) -> Iterator[Cell]:
    """Yield every cell of the table for one worthwhile difference."""
    for count in pairs:
        block = Block()
        layout = block.layout(count)
        priors = defaults_for("yield", factors=block.factors)
        judge = ManyAnalyses.of(layout, priors)
        for times in SPREAD_TIMES:
            for odd in (False, True):
                for truth in (0.0, 0.5 * worthwhile, 2.0 * worthwhile):
                    rng = np.random.default_rng([SEED, count, int(10 * times), odd])
                    values = drawn(layout, priors, rng, trials, times=times, odd=odd, truth=truth)
                    found = _judged(judge, values, worthwhile, truth)
                    yield Cell(count, times, odd, truth, *found)


def _judged(
    judge: ManyAnalyses, values: FloatArray, worthwhile: float, truth: float
) -> tuple[float, ...]:
    """Return the last five entries of a cell."""
    right = DifferenceZone.ABOVE if truth > worthwhile else DifferenceZone.WITHIN
    kinds = judge.verdicts(values, worthwhile, SURE)
    usual = judge.judges[Analysis.USUAL].chances(values, worthwhile)
    alone = decide_many(usual, usual, sure=SURE)
    covered = judge.covers(values, np.full(len(values), truth), LEVEL)

    def share(found: NDArray[np.bool_]) -> float:
        return float(np.mean(found))

    return (
        share(kinds != NOT_SETTLED),
        share((kinds != NOT_SETTLED) & (kinds != right)),
        share(covered),
        share(alone != NOT_SETTLED),
        share((alone != NOT_SETTLED) & (alone != right)),
    )


def measure(trials: int = TRIALS) -> dict[str, float]:
    """Print the table, and return its worst cells and the price."""
    found = _printed(trials, WORTHWHILE)
    smaller = _printed(trials, SMALLER)
    figures = {
        "settled_and_wrong_worst": max(one.wrong for one in found),
        "interval_covers_worst": min(one.covered for one in found),
        "usual_priors_alone_wrong_worst": max(one.before_wrong for one in found),
        "settled_and_wrong_worst_for_1_point": max(one.wrong for one in smaller),
        "interval_covers_worst_for_1_point": min(one.covered for one in smaller),
    }
    for count in PAIRS:
        plain = [c for c in found if c.pairs == count and c.times == 1 and not c.odd]
        clear = next(one for one in plain if one.truth > WORTHWHILE)
        figures[f"settled_{count}_pairs_twice_worthwhile"] = clear.settled
        figures[f"usual_alone_{count}_pairs_twice_worthwhile"] = clear.before
    return figures


def _printed(trials: int, worthwhile: float) -> list[Cell]:
    print(f"worthwhile: {100 * worthwhile:g} points")
    print(
        "| pairs | spread × | odd | true points | settled | wrong | covered "
        "| usual only: settled | wrong |"
    )
    print("| ---: | ---: | --- | ---: | ---: | ---: | ---: | ---: | ---: |")
    found = []
    for one in cells(trials, worthwhile=worthwhile):
        found.append(one)
        print(
            f"| {one.pairs} | {one.times:g} | {'yes' if one.odd else 'no'} | {100 * one.truth:g} "
            f"| {100 * one.settled:.1f} | {100 * one.wrong:.1f} | {100 * one.covered:.1f} "
            f"| {100 * one.before:.1f} | {100 * one.before_wrong:.1f} |",
            flush=True,
        )
    return found


if __name__ == "__main__":
    for name, value in measure(int(sys.argv[1]) if len(sys.argv) > 1 else TRIALS).items():
        print(f"{name:44}{value:8.4f}")
