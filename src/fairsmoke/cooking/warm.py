"""Compiles the kernels once, so that the first real cook does not wait: part of setting up.

python -m fairsmoke.cooking.warm
"""

from time import perf_counter

from fairsmoke.cooking.body import MeasuredPiece
from fairsmoke.cooking.run import Conditions, simulate
from fairsmoke.trial.protocol import EndCondition, Humidity, Protocol, Stage


def warm_up() -> float:
    """Run a short cook that touches every kernel; return how long it took (s)."""
    start = perf_counter()
    stage = Stage(
        id="warm",
        name="warm",
        surround_c=110.0,
        humidity=Humidity.WATER_PAN,
        ends=(EndCondition(elapsed_s=60.0),),
    )
    piece = MeasuredPiece("slab", 1.0, 0.2, 0.1, 0.05)
    simulate(piece, Protocol(stages=(stage,)), Conditions(), sample_s=(30.0,))
    return perf_counter() - start


if __name__ == "__main__":
    print(f"The cooking kernels are ready ({warm_up():.1f} s).")
