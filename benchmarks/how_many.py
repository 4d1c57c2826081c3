"""Planning how many: time of the whole table, and 2,000 trials each judged one by one.

``python -m benchmarks.how_many`` prints the comparison layout by layout (minutes).
"""

import importlib.util
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from fairsmoke.judging.modelling import believed_of
from fairsmoke.judging.scaling import Scaling
from fairsmoke.planning.size.assurance import prospect
from fairsmoke.planning.size.how_many import Means, Panel, how_many
from fairsmoke.planning.size.repeats import Block
from fairsmoke.trial.question import Measure

if TYPE_CHECKING:
    from tests.planning.brute import Counts

MEASURES = tuple(
    Measure.model_validate(content)
    for content in (
        {"id": "y", "name": "Yield", "kind": "yield", "better": "higher", "worthwhile": "2 points"},
        {"id": "t", "name": "Time", "kind": "cook time", "better": "lower", "worthwhile": "1 h"},
        {
            "id": "l",
            "name": "Liking",
            "kind": "score",
            "better": "higher",
            "worthwhile": 0.5,
            "scale_low": 1,
            "scale_high": 9,
        },
    )
)
TRIALS = 2000
CASES: tuple[tuple[str, Block, int, float | None], ...] = (
    ("1 pair", Block(), 1, None),
    ("2 pairs", Block(), 2, None),
    ("4 pairs", Block(), 4, None),
    ("8 pairs", Block(), 8, None),
    ("12 pairs", Block(), 12, None),
    ("4 pairs, truly 5 points", Block(), 4, 0.05),
    ("12 pairs without places, truly alike", Block(positions=False), 12, 0.0),
    ("3 sets of three arms", Block(arms=3), 3, None),
    ("4 pairs, two a cook", Block(per_cook=2), 4, None),
    ("3 halved pieces", Block(from_one="parent"), 3, None),
)


def measure() -> dict[str, float]:
    """Return seconds of processor for the tables of a trial with three measures, 1 to 12 pairs."""
    means = Means(panel=Panel(9))
    how_many(MEASURES[0], Means(most=1))
    figures = {}
    whole = time.process_time()
    for one in MEASURES:
        begin = time.process_time()
        how_many(one, means)
        figures[f"how_many_{one.id}_12_pairs_s"] = time.process_time() - begin
    figures["how_many_three_measures_s"] = time.process_time() - whole
    return figures


def slow_way() -> "Callable[..., Counts]":
    """Return what the tests draw and judge trials with; another package is called ``tests`` too."""
    path = Path(__file__).parents[1] / "tests" / "planning" / "brute.py"
    spec = importlib.util.spec_from_file_location("fairsmoke_brute", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    simulate: Callable[..., Counts] = module.simulate
    return simulate


def compare_with_brute_force(names: list[str]) -> bool:
    """Print quick and slow side by side; return whether all agree within Monte-Carlo error."""
    fine, simulate = True, slow_way()
    print(f"{'layout':38}{'verdict':>16}{'quick':>8}{'judged':>8}{'z':>7}{'seconds':>9}")
    for name, block, blocks, difference in CASES:
        if names and name not in names:
            continue
        layout = block.layout(blocks)
        priors = believed_of(MEASURES[0], np.zeros(1), Scaling(None), block.factors).priors
        given = () if difference is None else (difference,)
        found = prospect(layout, priors, 0.02, given=given)
        chances = found.given[0][1] if given else found.chances
        begin = time.perf_counter()
        counted = simulate(layout, priors, 0.02, TRIALS, difference=difference, seed=11)
        took = time.perf_counter() - begin
        for word, quick, count in (
            ("first ahead", chances.ahead, counted.first),
            ("second ahead", chances.behind, counted.second),
            ("no difference", chances.no_difference, counted.nothing),
        ):
            share, error = counted.share(count)
            z = (quick - share) / error
            fine &= abs(z) < 3.5
            print(f"{name:38}{word:>16}{quick:8.3f}{share:8.3f}{z:7.2f}{took:9.1f}", flush=True)
    return fine


if __name__ == "__main__":
    sys.exit(0 if compare_with_brute_force(sys.argv[1:]) else 1)
