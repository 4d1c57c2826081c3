"""Days as they may go: every draw of the cook run through by one pair of hands."""

import heapq
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fairsmoke.physics.ranges import FloatArray
from fairsmoke.planning.day.steps import HandsOnStep, Minutes, Run, steps_of
from fairsmoke.planning.day.time_errors import TimeLogSd
from fairsmoke.planning.errors import PlanError


@dataclass(frozen=True, eq=False)
class DayPiece:
    """A piece of the day: its arm, cooker and place, its run, and draws of its stages' lengths.

    `lasts_s`: members × stages before the hold (s), infinite where a draw never gets there. `cut`
    is the model's, "" where it is not known; how long it is usually held hangs on it.
    """

    id: str
    name: str
    arm: str
    arm_name: str
    cooker: str
    place: str
    run: Run
    lasts_s: FloatArray
    cut: str = ""

    @property
    def steps(self) -> tuple[HandsOnStep, ...]:
        """Its hands-on steps from putting on to pulling."""
        return steps_of(self.run)

    @property
    def run_s(self) -> FloatArray:
        """Draws of the whole time before the hold, without anybody's hands (s)."""
        return np.asarray(np.sum(self.lasts_s, axis=1))


def widened(lasts_s: FloatArray, run: Run, factor: FloatArray) -> FloatArray:
    """Return draws of stages' lengths with each draw's factor laid on what the meat decides.

    A stage that ends by time alone keeps its length. Where a time limit cuts a stretched stage
    short, what it has left to do goes to the next stage that the meat ends.
    """
    made, left = lasts_s.copy(), np.zeros(lasts_s.shape[0])
    for k, stage in enumerate(run.before):
        limits = [end.elapsed_s for end in stage.ends if end.elapsed_s is not None]
        if len(limits) == len(stage.ends):
            continue
        wanted = lasts_s[:, k] * factor + left
        limit = min(limits, default=np.inf)
        # A draw that the limit cut short in the model too keeps the limit.
        cut = lasts_s[:, k] >= limit - 1.0
        made[:, k] = np.where(cut, limit, np.minimum(wanted, limit))
        # A draw that never comes to its end has nothing left over, not infinity less infinity.
        over = np.subtract(wanted, made[:, k], out=left.copy(), where=np.isfinite(wanted))
        left = np.where(cut, left, over)
    return made


def widened_pieces(
    pieces: Sequence[DayPiece], log_sd: TimeLogSd, seed: int
) -> tuple[DayPiece, ...]:
    """Return the pieces with the variation of real pits on their draws; cookers share theirs.

    Raises PlanError for pieces that have not the same number of draws.
    """
    counts = {piece.lasts_s.shape[0] for piece in pieces}
    if len(counts) != 1:
        raise PlanError("the pieces of a day need as many draws each, the same for all")
    factors = log_sd.factors(counts.pop(), [piece.cooker for piece in pieces], seed)
    return tuple(
        replace(one, lasts_s=widened(one.lasts_s, one.run, factor))
        for one, factor in zip(pieces, factors, strict=True)
    )


def days(pieces: Sequence[DayPiece], on_s: Sequence[float], minutes: Minutes) -> list[FloatArray]:
    """Return for each piece when each of its steps was begun, members × steps (s).

    `on_s` is when each piece shall go on. Whoever has waited longest is served first; a stage
    begins when the hands let go of the piece. Infinite where a draw never gets there.
    """
    members = pieces[0].lasts_s.shape[0]
    steps = [piece.steps for piece in pieces]
    takes = [[minutes.of(step.kind) for step in own] for own in steps]
    begun = [np.full((members, len(own)), np.inf) for own in steps]
    for m in range(members):
        _one_day(pieces, on_s, steps, takes, begun, m)
    return begun


def _one_day(
    pieces: Sequence[DayPiece],
    on_s: Sequence[float],
    steps: list[tuple[HandsOnStep, ...]],
    takes: list[list[float]],
    begun: list[FloatArray],
    m: int,
) -> None:
    waiting = [(start, p, 0) for p, start in enumerate(on_s)]
    heapq.heapify(waiting)
    free = -np.inf
    while waiting:
        ready, p, k = heapq.heappop(waiting)
        start = max(ready, free)
        begun[p][m, k] = start
        free = start + takes[p][k]
        if k + 1 == len(steps[p]):
            continue
        # Steps that end one stage follow each other; else the stages between them must pass.
        first, last = steps[p][k].ends_stage + 1, steps[p][k + 1].ends_stage
        passes = float(np.sum(pieces[p].lasts_s[m, first : last + 1]))
        if np.isfinite(passes):
            heapq.heappush(waiting, (free + passes, p, k + 1))
