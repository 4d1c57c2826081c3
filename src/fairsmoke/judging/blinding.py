"""How blind the scores of a measure are: what was planned, and what was done."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from fairsmoke.trial.question import Measure
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.tasting import Ballot, Sample


class Knowing(StrEnum):
    """What a taster could know of which sample was which."""

    BLIND = "blind"
    """Coded samples, and nothing says that the taster knew them all the same."""
    NOT_BLIND = "not blind"
    """The taster knew, or it was not recorded that they did not."""
    COOK = "the cook scored"
    """The taster had a hand in the cook, and the samples bore no code."""
    COOK_BLIND = "the cook scored coded samples"


@dataclass(frozen=True)
class Blinding:
    """Scores of one measure by what their tasters could know.

    ``planned`` is what the plan says (None: nothing); ``scores`` counts single scores by what
    was known, ``pieces`` the same for each piece.
    """

    planned: bool | None
    scores: Mapping[Knowing, int]
    pieces: Mapping[str, Mapping[Knowing, int]]

    @property
    def by_cook(self) -> int:
        """How many scores are of tasters who had a hand in the cook."""
        return self.scores.get(Knowing.COOK, 0) + self.scores.get(Knowing.COOK_BLIND, 0)

    @property
    def blind(self) -> bool:
        """Whether every score was given blind; False where there is none."""
        return bool(self.scores) and set(self.scores) <= {Knowing.BLIND, Knowing.COOK_BLIND}


def ballot_knowing(ballot: Ballot, samples: Mapping[str, Sample]) -> Knowing:
    """Return what a ballot's taster could know; what was not recorded counts as known."""
    coded = all(
        score.sample in samples and samples[score.sample].code is not None
        for score in ballot.scores
    )
    blind = coded and ballot.blind is not False
    if ballot.cooked:
        return Knowing.COOK_BLIND if blind else Knowing.COOK
    return Knowing.BLIND if blind else Knowing.NOT_BLIND


def blinding_of(record: TrialRecord, measure: Measure) -> Blinding:
    """Return how blind the scores of a measure are."""
    samples = {sample.id: sample for sample in record.samples}
    scores: dict[Knowing, int] = {}
    pieces: dict[str, dict[Knowing, int]] = {}
    for ballot in record.ballots:
        if ballot.measure != measure.id or not ballot.scores:
            continue
        known = ballot_knowing(ballot, samples)
        for score in ballot.scores:
            of_piece = pieces.setdefault(samples[score.sample].piece, {})
            scores[known] = scores.get(known, 0) + 1
            of_piece[known] = of_piece.get(known, 0) + 1
    plan = record.plan
    return Blinding(plan.at_hand.blind if plan else None, scores, pieces)
