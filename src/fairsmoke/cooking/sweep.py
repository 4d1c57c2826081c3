"""Many protocols on one piece, over the same draws of what is not known.

Each protocol is cooked many times on one column, which is quick and right in its spread, and a few
times on the whole body, which has the edges and thin ends that a column lacks. The mean gap between
the two, on the draws that both have, is added to the column's draws (`Swept.value`): the idea of
two-level Monte Carlo (Giles, Operations Research 56 (2008) 607, from memory). Every protocol gets
the same draws, so what differs between two protocols in one draw is the protocols and nothing else.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from fairsmoke.cooking import cook_kernel
from fairsmoke.cooking.body import Body, BodyError, MeasuredPiece, one_column, two_dimensional
from fairsmoke.cooking.cells import SOLIDS
from fairsmoke.cooking.changes import LOG_A, NATIVE, OPENED
from fairsmoke.cooking.constants import DEFAULT, Constants
from fairsmoke.cooking.cook_record import GROWTH_S
from fairsmoke.cooking.cooker import CookerError
from fairsmoke.cooking.crust import dried_kg_m2
from fairsmoke.cooking.ensemble import Ensemble, run_ensemble
from fairsmoke.cooking.in_threads import in_threads
from fairsmoke.cooking.run import DEFAULT_CONDITIONS, Conditions, ProtocolError, stage_rows
from fairsmoke.cooking.side_by_side import SideBySideError, last_in_cooker
from fairsmoke.cooking.stepping import WATER
from fairsmoke.cooking.unknowns import NAMES, UNKNOWNS, draw
from fairsmoke.physics.kinetics import SOLUBLE_RAW
from fairsmoke.physics.ranges import BoolArray, FloatArray
from fairsmoke.trial.protocol import Protocol

SHARE, TIME, AMOUNT, EDGE = "share", "time", "amount", "edge"
VALUES: dict[str, str] = {
    "yield": SHARE,
    "collagen_core": SHARE,
    "cap_rendered": SHARE,
    "crust_kg_m2": EDGE,
    "end_s": TIME,
    "cook_s": TIME,
    "come_up_s": TIME,
    "growth_s": TIME,
    "log_salmonella": AMOUNT,
    "core_end_c": AMOUNT,
}
"""What is kept of every draw, and its kind. Shares of the raw mass, of the core's collagen, of the
cap's fat; dried solids at the top, at the end; times in s: to the end, on the cooker, of the core
from 10 to 54 °C and between 4 and 60 °C; log reductions of the coldest lean cell."""

_TINY = 1e-6


@dataclass(frozen=True)
class Sweep:
    """What is to be cooked: one piece by every protocol.

    `members` draws on one column each, the first `whole` of them on the whole body too. Draw 0 is
    the middle of everything. Raises SideBySideError for no protocol or a number out of range.
    """

    piece: MeasuredPiece
    protocols: tuple[Protocol, ...]
    conditions: Conditions = DEFAULT_CONDITIONS
    members: int = 40
    whole: int = 4
    seed: int = 1
    constants: Constants = DEFAULT

    def __post_init__(self) -> None:
        if not self.protocols:
            raise SideBySideError("nothing to sweep: give at least one protocol.")
        if not 20 <= self.members <= 5000:
            raise SideBySideError(f"{self.members} draws: give 20 to 5,000, such as 40.")
        if not 1 <= self.whole <= self.members:
            raise SideBySideError(
                f"{self.whole} draws on the whole body: give 1 to {self.members}, such as 4; one "
                "column alone keeps too much."
            )


@dataclass(eq=False)
class Swept:
    """What came of a sweep: arrays (protocols × draws) by the names in VALUES, NaN if not run.

    `column` and `body` are as cooked; `reached` whether the last stage in the cooker ended at its
    core temperature and not by the clock; `answer` of the column's draws; `done` by protocol.
    """

    plan: Sweep
    column: dict[str, FloatArray]
    body: dict[str, FloatArray]
    reached: FloatArray
    answer: FloatArray
    done: FloatArray

    @staticmethod
    def empty(plan: Sweep) -> "Swept":
        """Return the record before anything has been run."""
        count = len(plan.protocols)

        def unknown(draws: int) -> FloatArray:
            return np.full((count, draws), np.nan)

        return Swept(
            plan,
            {name: unknown(plan.members) for name in VALUES},
            {name: unknown(plan.whole) for name in VALUES},
            unknown(plan.members),
            unknown(plan.members),
            np.zeros(count),
        )

    @property
    def complete(self) -> bool:
        """Whether every protocol has been run."""
        return bool(np.all(self.done > 0))

    def arrays(self) -> dict[str, FloatArray]:
        """Return all arrays by name, the same objects."""
        own = {"reached": self.reached, "answer": self.answer, "done": self.done}
        own |= {f"column:{name}": array for name, array in self.column.items()}
        return own | {f"body:{name}": array for name, array in self.body.items()}

    def value(self, name: str) -> FloatArray:
        """Return one outcome (protocols × draws): the column's draws moved to the whole body.

        Shares move in log odds and times in logs, so that they stay what they are; the rest moves
        as it is and stays at 0 or above. NaN where a cook never came to its end. The crust is a
        matter of edges: the whole body's few draws stand for it, over and over in their order.
        """
        kind = VALUES[name]
        column, body = self.column[name], self.body[name]
        if kind == EDGE:
            again = body[:, np.arange(self.plan.members) % self.plan.whole]
            return np.asarray(np.where(np.isfinite(column), again, np.nan))
        there, back = _SCALES[kind]
        with np.errstate(invalid="ignore"):
            gap = there(body) - there(column[:, : self.plan.whole])
            some = np.isfinite(gap)
            count = some.sum(axis=1, keepdims=True)
            total = np.where(some, gap, 0.0).sum(axis=1, keepdims=True)
            shift = np.where(count > 0, total / np.maximum(count, 1), np.nan)
            return back(there(column) + shift)


def _log_odds(share: FloatArray) -> FloatArray:
    inside = np.clip(share, _TINY, 1.0 - _TINY)
    return np.asarray(np.log(inside / (1.0 - inside)))


def _share(log_odds: FloatArray) -> FloatArray:
    return np.asarray(1.0 / (1.0 + np.exp(-log_odds)))


def _log(time: FloatArray) -> FloatArray:
    return np.asarray(np.log(np.maximum(time, 1.0)))


_SCALES: dict[
    str, tuple[Callable[[FloatArray], FloatArray], Callable[[FloatArray], FloatArray]]
] = {
    SHARE: (_log_odds, _share),
    TIME: (_log, lambda x: np.asarray(np.exp(x))),
    AMOUNT: (lambda x: x, lambda x: np.maximum(x, 0.0)),
}

Told = Callable[[Swept], bool]
"""Called as protocols come in; returns False to stop."""


def check_sweep(plan: Sweep) -> None:
    """Refuse what cannot be before anybody waits.

    Raises BodyError, CookerError or ProtocolError, with the number of the protocol.
    """
    body = one_column(plan.piece, plan.constants)
    area = 2.0 * float(np.sum(body.shape.plan_m2))
    for number, protocol in enumerate(plan.protocols, start=1):
        try:
            stage_rows(protocol, plan.conditions, area)
        except (BodyError, CookerError, ProtocolError) as error:
            raise type(error)(f"protocol {number}: {error}") from error


def run_sweep(found: Swept, *, workers: int | None = None, told: Told | None = None) -> bool:
    """Run what has not been run yet, filling the record in place; return whether all is done.

    The numbers depend on the plan and its seed, not on `workers` nor on where an earlier run was
    stopped. Stops cleanly on Ctrl-C and when `told` returns False; what is in hand is kept.
    """
    plan = found.plan
    normal = draw(plan.members, plan.seed, 0)
    left = [at for at in range(len(plan.protocols)) if not found.done[at]]
    in_threads(
        (partial(_cook, found, at, normal) for at in left),
        workers=workers,
        told=None if told is None else partial(told, found),
    )
    return found.complete


def _cook(found: Swept, at: int, normal: FloatArray) -> None:
    plan, protocol = found.plan, found.plan.protocols[at]
    for whole, kept in ((False, found.column), (True, found.body)):
        drawn = normal[: plan.whole] if whole else normal
        came = run_ensemble(
            plan.piece,
            protocol,
            plan.conditions,
            plan.constants,
            members=drawn.shape[0],
            whole_body=whole,
            workers=1,
            normal=drawn,
        )
        body = (two_dimensional if whole else one_column)(plan.piece, plan.constants)
        good = came.good()
        for name, array in _values(came, body, protocol, drawn).items():
            kept[name][at] = np.where(good, array, np.nan)
        if not whole:
            found.answer[at] = came.answers
            found.reached[at] = (good > 0) & _reached(came, protocol)
    found.done[at] = 1.0


def _values(
    came: Ensemble, body: Body, protocol: Protocol, normal: FloatArray
) -> dict[str, FloatArray]:
    changes, lean = came._work["changes"], body.cap < 0.5
    last = last_in_cooker(protocol)
    ends = list(came.stage_end_s.values())
    return {
        "yield": came.shares["kept"],
        "collagen_core": _collagen(changes, body),
        "cap_rendered": came.cap_rendered,
        "crust_kg_m2": _crust(came._work["states"], body, normal),
        "end_s": came.end_s,
        "cook_s": came.end_s if last is None else ends[last],
        "come_up_s": came.mark_s[54.0] - came.mark_s[10.0],
        "growth_s": came._work["other"][:, GROWTH_S],
        "log_salmonella": np.min(changes[:, LOG_A][:, lean], axis=1),
        "core_end_c": came.core_c,
    }


def _collagen(changes: FloatArray, body: Body) -> FloatArray:
    """Return the share of the core's collagen that has dissolved, by member."""
    c, i = body.core[:, 0].astype(int), body.core[:, 1].astype(int)
    weight = body.shape.plan_m2[c] * body.shape.fixed[c, SOLIDS, i]
    left = (changes[:, NATIVE] + changes[:, OPENED])[:, c, i] @ weight / np.sum(weight)
    return np.asarray(SOLUBLE_RAW + (1.0 - SOLUBLE_RAW) * (1.0 - left))


def _crust(states: FloatArray, body: Body, normal: FloatArray) -> FloatArray:
    """Return dried solids at the top (kg/m²), mean over the piece, by member."""
    deviation = UNKNOWNS[NAMES.index("thickness")].standard_deviation
    thick = np.exp(deviation * normal[:, NAMES.index("thickness")])
    solids = body.shape.fixed[None, :, SOLIDS] * thick[:, None, None]
    each = dried_kg_m2(states[:, WATER] / solids, solids)
    return np.asarray(each @ body.shape.plan_m2 / np.sum(body.shape.plan_m2))


def _reached(came: Ensemble, protocol: Protocol) -> BoolArray:
    """Return which members left the cooker at the core temperature asked for."""
    last = last_in_cooker(protocol)
    if last is None:
        return np.ones(came.members, dtype=bool)
    ends = list(came.stage_end_s.values())
    took = ends[last] - (ends[last - 1] if last else 0.0)
    longest = [e.elapsed_s for e in protocol.stages[last].ends if e.elapsed_s is not None]
    cores = [e.core_c for e in protocol.stages[last].ends if e.core_c is not None]
    if not longest or not cores:
        return np.ones(came.members, dtype=bool)
    return np.asarray(took < min(longest) - 1.0)


def failed(found: Swept) -> FloatArray:
    """Return by protocol the share of draws that never came to their end."""
    return np.asarray(np.mean(found.answer != cook_kernel.OK, axis=1))


__all__ = ["VALUES", "Sweep", "Swept", "check_sweep", "failed", "run_sweep"]
