"""Run every benchmark and print one table: ``make bench``, or name some: ``... intake demo``."""

import importlib
import os
import sys
import time

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

MODULES = (
    "start_up",
    "comparison",
    "notebook",
    "pages",
    "intake",
    "demo",
    "cooking",
    "beside",
    "app_posts",
    "how_many",
    "worth_trying",
    "when",
)
LONG = ("operating_characteristics", "small_panels")
"""Tables of minutes that are made only when they are named."""


def yardstick_s() -> float:
    """Return the seconds that this machine takes to sort ten million doubles, the best of three."""
    values = np.random.default_rng(0).random(10_000_000)
    taken = []
    for _ in range(3):
        begin = time.perf_counter()
        np.sort(values)
        taken.append(time.perf_counter() - begin)
    return min(taken)


def main(names: list[str]) -> None:
    """Print each figure; a time also as a multiple of the yardstick, which travels better."""
    known = (*MODULES, *LONG)
    unknown = set(names) - set(known)
    if unknown:
        sys.exit(f"no benchmark {', '.join(sorted(unknown))}; there are {', '.join(known)}")
    yard = yardstick_s()
    print(f"yardstick: ten million doubles sorted in {yard:.3f} s\n")
    print(f"{'figure':44}{'value':>12}{'yardsticks':>12}")
    for name in names or MODULES:
        for figure, value in importlib.import_module(f"benchmarks.{name}").measure().items():
            multiple = (
                f"{value / yard:12.3f}" if figure.endswith("_s") and "_per_s" not in figure else ""
            )
            print(f"{figure:44}{value:12.4g}{multiple}", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
