"""Which method is worth trying: time to cook 200 methods, and what the whole body's shift is worth.

``python -m benchmarks.worth_trying`` prints the shift beside 40 draws on the whole body (a minute).
"""

import sys
import time

import numpy as np

from fairsmoke.cooking.practice import BRISKET
from fairsmoke.cooking.sweep import Sweep, Swept, run_sweep
from fairsmoke.cooking.warm import warm_up
from fairsmoke.planning.methods.space import DesignSpace

CHECKED = ("yield", "collagen_core", "cap_rendered", "end_s")


def measure() -> dict[str, float]:
    """Return seconds, by the clock and of processor, for 200 methods on two threads."""
    warm_up()
    space = DesignSpace()
    sweep = Sweep(BRISKET, tuple(space.protocol(method) for method in space.fill(200, 1)))
    found = Swept.empty(sweep)
    wall, cpu = time.perf_counter(), time.process_time()
    run_sweep(found, workers=2)
    return {
        "worth_trying_200_methods_s": time.perf_counter() - wall,
        "worth_trying_200_methods_processor_s": time.process_time() - cpu,
    }


def compare_with_whole_body(methods: int = 8) -> None:
    """Print middle and ends of 80 % of draws, shifted and wholly cooked, by method and value."""
    space = DesignSpace()
    protocols = tuple(space.protocol(method) for method in space.fill(methods, 1))
    shifted = Swept.empty(Sweep(BRISKET, protocols))
    whole = Swept.empty(Sweep(BRISKET, protocols, whole=shifted.plan.members))
    for found in (shifted, whole):
        run_sweep(found, workers=2)
    print(f"{'value':16}{'method':>7}{'shifted':>27}{'whole body':>27}")
    for name in CHECKED:
        times = 1.0 / 3600.0 if name == "end_s" else 100.0
        gaps = []
        for at in range(len(protocols)):
            ends = [
                np.nanquantile(array * times, [0.1, 0.5, 0.9])
                for array in (shifted.value(name)[at], whole.body[name][at])
            ]
            gaps.append(ends[0] - ends[1])
            shown = "".join(f"{'  '.join(f'{x:7.2f}' for x in one):>27}" for one in ends)
            print(f"{name:16}{at:7}{shown}")
        print(
            f"{'':16}mean gap {np.mean(gaps, axis=0).round(2)}, largest middle "
            f"{np.max(np.abs(np.array(gaps)[:, 1])):.2f}\n",
            flush=True,
        )


if __name__ == "__main__":
    compare_with_whole_body()
    sys.exit(0)
