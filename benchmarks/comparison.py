"""How long the comparison of arms takes, from one pair to thirty."""

import time

import numpy as np

from fairsmoke.judging.design import ComparisonLayout
from fairsmoke.judging.model import compare
from fairsmoke.judging.priors import defaults_for

CASES = {
    "1_pair": (1, ("position",)),
    "6_pairs": (6, ("cook", "position")),
    "30_pairs": (30, ("cook", "animal", "position")),
}
REPEATS = 5


def layout_of(pairs: int, factors: tuple[str, ...]) -> ComparisonLayout:
    """Return pairs of pieces, a pair a cook, whose sides swap from one cook to the next."""
    piece = np.arange(2 * pairs)
    arm = piece % 2
    known = {
        "cook": piece // 2,
        "animal": (piece // 2 + arm * (pairs // 2)) % max(pairs, 1),
        "position": (arm + piece // 2) % 2,
    }
    return ComparisonLayout(arm, ("bare", "paper"), {name: known[name] for name in factors})


def measure() -> dict[str, float]:
    """Return the median seconds of a comparison, after a first one that is not counted."""
    figures: dict[str, float] = {}
    for name, (pairs, factors) in CASES.items():
        layout = layout_of(pairs, factors)
        rng = np.random.default_rng(pairs)
        values = 0.58 + 0.03 * layout.arm + rng.normal(0, 0.02, layout.arm.size)
        priors = defaults_for("yield", factors=factors)
        taken: list[float] = []
        for _ in range(REPEATS + 1):
            begin = time.perf_counter()
            compare(values, layout, priors)
            taken.append(time.perf_counter() - begin)
        figures[f"comparison_{name}_s"] = float(np.median(taken[1:]))
    return figures
