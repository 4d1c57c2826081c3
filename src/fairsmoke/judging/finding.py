"""The finding: the answer to a trial's question with its uncertainty, as plain data.

Numbers are in each measure's own size: a fraction for yield, seconds for times, points for scores,
the measure's unit else. Every number that a report shows stands here or in the record.
"""

from dataclasses import dataclass
from datetime import datetime

from fairsmoke.judging.conduct import Conduct
from fairsmoke.judging.deviations import Deviation
from fairsmoke.judging.remark import Caveat
from fairsmoke.judging.responses import Responses
from fairsmoke.judging.rule import Analysis, Lean, VerdictKind
from fairsmoke.judging.waiting import Waiting
from fairsmoke.messages.message import Words
from fairsmoke.trial.question import Measure
from fairsmoke.trial.record import TrialRecord
from fairsmoke.weighing import Solution


@dataclass(frozen=True)
class Interval:
    """A value with the interval that holds ``level`` of what is believed, or covers so often."""

    value: float
    low: float
    high: float
    level: float = 0.95


@dataclass(frozen=True)
class SensitivityRow:
    """The answer had the piece-to-piece spread been thought ``times`` as large.

    The chances are the verdict's: that the arm is better, or worse, than the base by enough.
    """

    times: float
    difference: Interval
    better_by_enough: float
    worse_by_enough: float


@dataclass(frozen=True)
class ClassicalResult:
    """One classical counterpart: what it is, what it says, and in one sentence.

    ``difference`` and ``p`` are None where the layout has no such answer; ``sentence`` says why.
    """

    name: str
    difference: Interval | None
    p: float | None
    sentence: Words


@dataclass(frozen=True)
class VerdictFound:
    """The verdict on an arm against the base, as data; `fairsmoke.telling.finding` words it.

    ``better_by_enough``, ``no_difference`` and ``worse_by_enough`` are the chances that the arm is
    better than the base by more than the worthwhile difference, that they differ by less, and
    that it is worse by more; they add to 1. Where neither way is better, read "higher" and
    "lower". ``winner`` is the name of the better (or higher) arm, "" where there is none.

    ``lean`` is how far an unsettled difference leans, ``leans_to`` which of the three it leans to
    (0, 1 or 2) and ``lean_chance`` its chance. ``holds`` are the deciding analyses
    under which that is as probable as asked for: settled is only what holds under all.
    ``settled_below`` is the spread between pieces (one sd, own size) below which it would be
    settled, None where it is settled or no spread would do. ``waits``: nothing is settled while an
    entry that it rests on is doubted.
    """

    word: VerdictKind
    winner: str
    better_by_enough: float
    no_difference: float
    worse_by_enough: float
    lean: Lean = Lean.OPEN
    leans_to: int = 1
    lean_chance: float = 0.0
    holds: tuple[Analysis, ...] = ()
    settled_below: float | None = None
    waits: bool = False


@dataclass(frozen=True)
class OnePair:
    """What one pair alone can tell.

    Two pieces treated alike differ by more than ``half`` half of the time and by more than
    ``rarely`` one time in twenty, as far as is known before the cook. ``settles`` is the smallest
    observed difference that would settle it, None when none would; ``can_settle_no_difference``
    whether one pair could ever show that there is no difference that matters.
    """

    half: float
    rarely: float
    settles: float | None
    can_settle_no_difference: bool


@dataclass(frozen=True)
class Difference:
    """One arm against another (the first arm, or an earlier one), for one measure.

    ``believed`` is the posterior mean, and the interval that holds both with pieces differing as
    believed and twice as much; ``density`` the posterior's curve as (x, y) points for a chart;
    ``ratio`` is None where a ratio does not suit; ``one_pair`` is there when the answer rests on a
    single pair. ``sceptical`` is the answer to a sceptic: pieces differ twice as much, methods
    less.
    ``as_amended`` is the verdict by the question as it now stands, exploratory, where that was
    changed after the first result; ``without_past`` the answer that does without what the
    notebook's earlier trials taught, where they taught anything.
    """

    arm: str
    base: str
    observed: float | None
    believed: Interval
    density: tuple[tuple[float, float], ...]
    ratio: Interval | None
    verdict: VerdictFound
    shares: tuple[tuple[str, float], ...]
    sensitivity: tuple[SensitivityRow, ...]
    classical: tuple[ClassicalResult, ...]
    one_pair: OnePair | None
    notes: tuple[Words, ...]
    sceptical: SensitivityRow | None = None
    as_amended: VerdictFound | None = None
    without_past: tuple[Interval, VerdictFound] | None = None


@dataclass(frozen=True)
class SpreadFound:
    """How far pieces, cooks or positions differ: thought before, and believed now (one sd)."""

    name: str
    before: Interval
    now: Interval


@dataclass(frozen=True, eq=False)
class MeasureFinding:
    """All that was found about one measure.

    ``differences`` has every pair of arms, those against the first arm before the others; it is
    empty when the data cannot answer, and ``notes`` then says why. ``caveats`` are what must stand
    beside the answer itself: what ran with the arms, and what was never weighed. ``prior_lines``
    tell in words what was believed before the data. ``remarks`` are what must be said beside the
    answer, as data.
    """

    measure: Measure
    responses: Responses
    arm_levels: tuple[tuple[str, Interval], ...]
    differences: tuple[Difference, ...]
    spreads: tuple[SpreadFound, ...]
    prior_lines: tuple[Words, ...]
    notes: tuple[Words, ...]
    caveats: tuple[Words, ...] = ()
    remarks: tuple[Caveat, ...] = ()


@dataclass(frozen=True)
class LeftOut:
    """Something recorded that the judging did not use: what, how many, and why."""

    what: Words
    count: int
    of: int | None
    why: Words


@dataclass(frozen=True, eq=False)
class Finding:
    """The finding of a whole trial; ``measures`` has the main measure first.

    ``ledger`` holds the pieces whose weighings can all be true, None when there are none;
    ``ledger_problems`` say which weighings cannot be and why, ``ledger_aside`` the pieces that are
    out for it. ``waiting`` are entries that hardly can be true and that nobody settled yet: what
    rests on them is left out. ``remarks`` name what was left open and how to mend it.
    ``deviations`` are what was done otherwise than registered. ``exploratory``: no plan was
    registered before the first result.
    """

    record: TrialRecord
    made: datetime
    measures: tuple[MeasureFinding, ...]
    ledger: Solution | None
    ledger_problems: tuple[Words, ...]
    ledger_aside: tuple[str, ...]
    remarks: tuple[Words, ...]
    conduct: Conduct
    left_out: tuple[LeftOut, ...]
    exploratory: bool
    deviations: tuple[Deviation, ...] = ()
    waiting: tuple[Waiting, ...] = ()

    @property
    def untold(self) -> tuple[Deviation, ...]:
        """What differs from the registered plan without an amendment that says so."""
        return tuple(one for one in self.deviations if not one.told)

    @property
    def main(self) -> MeasureFinding:
        """What was found about the main measure."""
        return self.measures[0]
