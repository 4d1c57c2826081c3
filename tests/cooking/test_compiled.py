"""What is compiled is kept by what it was compiled of."""

from pathlib import Path

import numpy as np
import pytest
from numba.core.errors import NumbaError

from fairsmoke.cooking import compiled
from fairsmoke.cooking.compiled import SETTINGS, kernel, making_kernel, sources_digest


def test_any_change_of_any_file_gives_another_place(tmp_path: Path) -> None:
    room = tmp_path / "room"
    room.mkdir()
    (room / "a.py").write_text("A = 1\n")
    (room / "b.py").write_text("B = 1\n")
    before = sources_digest((room,))
    assert sources_digest((room,)) == before
    (room / "b.py").write_text("B = 2\n")
    changed = sources_digest((room,))
    assert changed != before
    (room / "c.py").write_text("")
    assert sources_digest((room,)) not in (before, changed)


def test_kernels_lie_under_the_digest_and_numba_is_left_as_it_was() -> None:
    before = SETTINGS.CACHE_DIR

    def twice(x: float) -> float:
        return 2.0 * x

    made = kernel(twice)
    assert made(3.0) == 6.0
    assert before == SETTINGS.CACHE_DIR
    kept = list(Path(compiled._folder()).rglob("*twice*"))
    assert kept
    assert sources_digest() in compiled._folder()


def test_a_kernel_that_makes_an_array_says_so_rather_than_lose_it() -> None:
    def makes(count: int) -> float:
        return float(np.zeros(count)[0])

    def makes_unseen(count: int) -> float:
        return float(np.zeros(count)[0])

    assert making_kernel(makes)(3) == 0.0
    with pytest.raises(NumbaError):
        kernel(makes_unseen)(3)
