"""The one way in which this package compiles its kernels, and where it keeps them.

Numba's own cache looks at the file of the function that was compiled, not at those that it calls
and whose code went into it: after a change there it would silently run the old kernel. So what is
compiled is kept under a digest of every file that kernels are made of.
"""

import hashlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any, TypeVar, cast

from numba import config, njit

# Numba makes its settings when it is loaded, so a type checker does not see them; nor does it see
# the option that leaves the counting of arrays out.
SETTINGS: Any = config
COMPILE: Any = njit

F = TypeVar("F", bound=Callable[..., object])

HERE = Path(__file__).parent
ROOMS = (HERE, HERE.parent / "physics")
"""The folders whose code goes into kernels."""


def kernel(function: F) -> F:
    """Compile a function for arrays and numbers, keep the result on disk, let other threads run.

    It works in arrays that it is given and makes none: Numba would count every slice that it takes
    in and out again, a tenth of a cook's time. One that makes an array does not compile.
    Division by zero gives infinity as in NumPy: the checks for it would slow every cell.
    """
    return _compiled(function, counts=False)


def making_kernel(function: F) -> F:
    """Compile as `kernel` does, for a function that makes arrays of its own."""
    return _compiled(function, counts=True)


def _compiled(function: F, counts: bool) -> F:
    with _kept_by_digest():
        made = COMPILE(cache=True, nogil=True, error_model="numpy", _nrt=counts)(function)
    return cast("F", made)


def sources_digest(rooms: tuple[Path, ...] = ROOMS) -> str:
    """Return a digest (16 hexadecimal digits) of every Python file in these folders."""
    found = hashlib.sha256()
    for room in rooms:
        for path in sorted(room.glob("*.py")):
            content = path.read_bytes()
            found.update(f"{path.name} {len(content)}\n".encode() + content)
    return found.hexdigest()[:16]


@cache
def _folder() -> str:
    """Return the folder for what is compiled of these very files; "" where none can be written."""
    # A person's own choice of place (NUMBA_CACHE_DIR) holds; else it lies beside the package.
    base = Path(SETTINGS.CACHE_DIR) if SETTINGS.CACHE_DIR else HERE / "__pycache__"
    place = base / f"kernels-{sources_digest()}"
    try:
        place.mkdir(parents=True, exist_ok=True)
        (place / "here").touch()
    except OSError:
        return ""
    return str(place)


@contextmanager
def _kept_by_digest() -> Iterator[None]:
    """Point Numba at our folder while one function is set up; other packages keep their own."""
    before = SETTINGS.CACHE_DIR
    place = _folder()
    if place:
        SETTINGS.CACHE_DIR = place
    try:
        yield
    finally:
        SETTINGS.CACHE_DIR = before
