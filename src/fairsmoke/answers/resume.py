"""Long simulations that are kept as they go and go on where they stopped."""

import dataclasses
from collections.abc import Callable, Mapping
from time import monotonic
from typing import Any, TypeVar

from numpy.typing import NDArray

from fairsmoke.answers.store import MODEL_ROOMS, ResultKey, StoredResult, program_digest

_Record = TypeVar("_Record")

SAVE_EACH_S = 5.0
ARRAYS = "draws"
"""What the arrays of a simulation are called in its entry."""

Progress = Callable[[int, int], None]
"""Told how many are done and how many there are."""


def simulation_key(question: str, content: Mapping[str, Any]) -> ResultKey:
    """Return the key of everything that simulated numbers rest on, the model's code included.

    Dataclasses may stand at the first two levels; everything else is what JSON can say.
    """
    plain = {name: _plain(value) for name, value in content.items()}
    return ResultKey.of(question, plain, program_digest(*MODEL_ROOMS))


def _plain(value: Any) -> Any:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return dataclasses.asdict(value)
    return [_plain(one) for one in value] if isinstance(value, list | tuple) else value


def go_on(
    found: _Record,
    entry: StoredResult | None,
    *,
    run: Callable[[Callable[[_Record], bool]], object],
    count: Callable[[_Record], tuple[int, int]],
    load: Callable[[_Record, dict[str, NDArray[Any]]], None],
    save: Callable[[_Record], Mapping[str, NDArray[Any]]],
    progress: Progress | None = None,
    afresh: bool = False,
) -> None:
    """Fill a record: from its entry what was run before, and by `run` the rest.

    `run` is given what to call as more of the record is filled. `count` says how many of it are
    done, and of how many. The record's arrays are kept every `SAVE_EACH_S` and, whatever ends the
    run, at its end. `afresh` leaves what the entry has; without an entry nothing is kept.
    """
    if entry is not None and not afresh:
        load(found, entry.arrays(ARRAYS))
    before, saved = count(found)[0], monotonic()

    def told(so_far: _Record) -> bool:
        nonlocal saved
        if progress is not None:
            progress(*count(so_far))
        if entry is not None and monotonic() - saved > SAVE_EACH_S:
            entry.put_arrays(ARRAYS, save(so_far))
            saved = monotonic()
        return True

    try:
        run(told)
    finally:
        if entry is not None and count(found)[0] > before:
            entry.put_arrays(ARRAYS, save(found))


__all__ = ["ARRAYS", "SAVE_EACH_S", "Progress", "go_on", "simulation_key"]
