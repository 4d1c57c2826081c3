"""The finding: the answer to a trial's question with its uncertainty, as plain data.

Numbers are in each measure's own size: a fraction for yield, seconds for times, points for scores,
the measure's unit else. Every number that a report shows stands here or in the record.
"""

from dataclasses import dataclass
from datetime import datetime

from fairsmoke.judging.conduct import Conduct
from fairsmoke.judging.one_pair import OnePair
from fairsmoke.judging.responses import Responses
from fairsmoke.judging.verdict import Verdict
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
    """The answer had the piece-to-piece spread been thought ``times`` as large."""

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
    sentence: str


@dataclass(frozen=True)
class Difference:
    """One arm against the first arm, for one measure.

    ``believed`` is the posterior mean and interval; ``density`` its curve as (x, y) points for a
    chart; ``ratio`` is None where a ratio does not suit; ``one_pair`` is there when the answer
    rests on a single pair.
    """

    arm: str
    base: str
    observed: float | None
    believed: Interval
    density: tuple[tuple[float, float], ...]
    ratio: Interval | None
    verdict: Verdict
    shares: tuple[tuple[str, float], ...]
    sensitivity: tuple[SensitivityRow, ...]
    classical: tuple[ClassicalResult, ...]
    one_pair: OnePair | None
    notes: tuple[str, ...]


@dataclass(frozen=True)
class SpreadFound:
    """How far pieces, cooks or positions differ: thought before, and believed now (one sd)."""

    name: str
    before: Interval
    now: Interval


@dataclass(frozen=True, eq=False)
class MeasureFinding:
    """All that was found about one measure.

    ``differences`` is empty when the data cannot answer; ``notes`` then says why.
    ``prior_lines`` tell in words what was believed before the data.
    """

    measure: Measure
    responses: Responses
    arm_levels: tuple[tuple[str, Interval], ...]
    differences: tuple[Difference, ...]
    spreads: tuple[SpreadFound, ...]
    prior_lines: tuple[str, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class LeftOut:
    """Something recorded that the judging did not use: what, how many, and why."""

    what: str
    count: int
    of: int | None
    why: str


@dataclass(frozen=True, eq=False)
class Finding:
    """The finding of a whole trial; ``measures`` has the main measure first.

    ``ledger`` is None when the weighings cannot be right as they stand; ``ledger_problem`` then
    says which and why.
    """

    record: TrialRecord
    made: datetime
    measures: tuple[MeasureFinding, ...]
    ledger: Solution | None
    ledger_problem: str
    conduct: Conduct
    left_out: tuple[LeftOut, ...]
    exploratory: bool

    @property
    def main(self) -> MeasureFinding:
        """What was found about the main measure."""
        return self.measures[0]
