"""One log over several cooks: which readings are another cook's of the same trial."""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from fairsmoke.arriving.doubts import window
from fairsmoke.messages.errors import JobError
from fairsmoke.messages.message import N_, Listed, Message, OnFace
from fairsmoke.trial.clock import epoch_ms
from fairsmoke.trial.cook import Cook

NONE = -1


def cooks_of_times(
    time_ms: NDArray[np.int64], cook: Cook, others: Sequence[Cook]
) -> NDArray[np.int64]:
    """Return for each time (n,) the index of the other cook that has it, ``NONE`` for ours.

    A time is another cook's when it lies in that one's window and outside that of ``cook``; the
    nearest of several cooks has it. What lies in no window stays with ``cook``.
    """
    begin, end = map(epoch_ms, window(cook))
    outside = (time_ms < begin) | (time_ms > end)
    whose = np.full(time_ms.size, NONE, dtype=np.int64)
    nearest_ms = np.full(time_ms.size, np.iinfo(np.int64).max)
    for index, other in enumerate(others):
        begin, end = map(epoch_ms, window(other))
        starts, ends = epoch_ms(other.starts), epoch_ms(other.ends or other.starts)
        apart_ms = np.maximum(np.maximum(starts - time_ms, time_ms - ends), 0)
        nearer = outside & (time_ms >= begin) & (time_ms <= end) & (apart_ms < nearest_ms)
        whose[nearer], nearest_ms[nearer] = index, apart_ms[nearer]
    return whose


def left_notes(cook: str, left: Mapping[str, int]) -> tuple[Message, ...]:
    """Return what a person is told of readings that were left to other cooks, by handle."""
    return tuple(
        N_(
            "%(count)s of the file's readings lie in cook %(other)s and outside cook "
            "%(cook)s; they are left to %(other)s: take the file in for %(other)s "
            "too%(how)s.",
            how=OnFace(f" with --cook {other}", ""),
            count=count,
            other=other,
            cook=cook,
        )
        for other, count in left.items()
    )


def check_some_left(cook: str, left: Mapping[str, int], own: int) -> None:
    """Raise JobError when every reading is another cook's; nobody can insist on that."""
    if left and not own:
        raise JobError(
            N_(
                "none of the readings lie in cook %(cook)s; %(others)s: take the file in for "
                "%(other)s%(how)s",
                how=OnFace(f" with --cook {next(iter(left))}", ""),
                cook=cook,
                others=Listed(
                    [
                        N_("%(count)s lie in cook %(other)s", count=count, other=other)
                        for other, count in left.items()
                    ]
                ),
                other=next(iter(left)),
            )
        )
