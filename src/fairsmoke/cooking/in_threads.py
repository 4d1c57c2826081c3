"""Many small pieces of work on all cores, that can be stopped between two of them."""

import os
from collections.abc import Callable, Iterable
from concurrent.futures import FIRST_COMPLETED, ThreadPoolExecutor, wait


def in_threads(
    work: Iterable[Callable[[], None]],
    *,
    workers: int | None = None,
    told: Callable[[], bool] | None = None,
) -> None:
    """Do every piece of work; return when all are done, or when it was stopped.

    `told` is called as pieces are done and returns False to stop; Ctrl-C stops too. What is in
    hand then is brought to its end, the rest is not begun. `workers` are threads, all cores when
    None. Raises what a piece of work raises, and begins no other after it.
    """
    with ThreadPoolExecutor(workers or os.cpu_count() or 1) as pool:
        every = {pool.submit(piece) for piece in work}
        left = every
        try:
            while left:
                finished, left = wait(left, return_when=FIRST_COMPLETED)
                for one in finished:
                    one.result()
                if told is not None and not told():
                    break
        except KeyboardInterrupt:
            pass
        finally:
            for other in every:
                other.cancel()


__all__ = ["in_threads"]
