"""Many pieces of work in threads: all done, stopped in between, and what fails comes out."""

import time
from functools import partial

import pytest

from fairsmoke.cooking.in_threads import in_threads


def test_all_is_done_whatever_the_number_of_threads() -> None:
    for workers in (None, 1, 3):
        done: list[int] = []
        in_threads((partial(done.append, at) for at in range(20)), workers=workers)
        assert sorted(done) == list(range(20))


@pytest.mark.parametrize("by_hand", [False, True])
def test_stopped_in_between_the_rest_is_not_begun(by_hand: bool) -> None:
    done: list[int] = []

    def work(at: int) -> None:
        time.sleep(0.005)
        done.append(at)

    def told() -> bool:
        if by_hand:
            raise KeyboardInterrupt
        return False

    in_threads((partial(work, at) for at in range(200)), workers=1, told=told)
    assert done[0] == 0
    assert len(done) < 100


def test_what_fails_comes_out_and_the_rest_is_not_begun() -> None:
    done: list[int] = []

    def work(at: int) -> None:
        if at == 3:
            raise ZeroDivisionError(at)
        done.append(at)

    with pytest.raises(ZeroDivisionError):
        in_threads((partial(work, at) for at in range(5)), workers=1)
    assert done[:3] == [0, 1, 2]
