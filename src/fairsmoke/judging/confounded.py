"""What was not recorded counts as run with the arms: how much wider that makes an answer.

Where pieces stood, from which animals they came when nobody drew, in which order samples were
served, whether they were coded and who plated them can each favour one arm. What was not recorded
is taken at its worst: every piece of an arm shared one level of it, another than the other arm's.
That adds a known variance, that of its prior, to all pieces of an arm together; it does not average
out over pieces, and it stands as a remark.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fairsmoke.judging.panel import ANSWER_SHARE, FIRST_SHARE
from fairsmoke.judging.remark import Caveat, CaveatKind
from fairsmoke.trial.cook import Piece
from fairsmoke.trial.question import Measure, MeasureKind
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.tasting import Ballot

FloatArray = NDArray[np.float64]

# Shares of a scale's span, one sd of what an arm gains or loses. The taster's own liking is the
# 0.8 points on a scale of 1 to 9 that a check of small panels used; the others are guesses
# (common practice, no source): expectation moves scores by more than most methods do.
TASTER_SHARE = 0.10
CODE_SHARE = 0.10
PLATED_SHARE = 0.03

PUBLISHED_PANEL = 8
"""Tasters whose mean the published spreads of scores are taken to be of: a guess."""

FEW_TASTERS = 4
"""Fewer tasters than this are told of: common practice, no source."""


@dataclass(frozen=True)
class Confounded:
    """Something that may have favoured an arm.

    ``variance`` is what it adds to every piece of an arm together, own size squared, None where it
    is that of the prior for the grouping ``factor``.
    """

    remark: Caveat | None
    variance: float | None
    factor: str = ""


def layout_gaps(record: TrialRecord, used: Sequence[bool]) -> Iterator[Confounded]:
    """Yield the places and animals that were not recorded, ``used`` (n,) of the units.

    One piece whose place is not known is enough: it may have had the better one, and the others
    would then tell less of places than they seem to.
    """
    units = [piece for piece, use in zip(record.units, used, strict=True) if use]
    lost = [piece for piece in units if piece.spot is None]
    if lost:
        yield Confounded(_named(CaveatKind.POSITION_UNKNOWN, lost), None, "position")
    strays = [piece for piece in units if piece.animal is None and piece.half_of is None]
    if strays and record.trial.draw.how != "drawn":
        yield Confounded(_named(CaveatKind.ANIMAL_UNKNOWN, strays), None, "animal")


def _named(kind: CaveatKind, pieces: Sequence[Piece]) -> Caveat:
    return Caveat(kind, tuple(piece.name for piece in pieces))


def panel_gaps(record: TrialRecord, measure: Measure) -> Iterator[Confounded]:
    """Yield what may have favoured an arm at the table; nothing for measures that nobody scores."""
    if measure.kind is not MeasureKind.SCORE:
        return
    ballots = [b for b in record.ballots if b.measure == measure.id and b.scores]
    if not ballots:
        return
    assert measure.scale_high is not None
    assert measure.scale_low is not None
    span = measure.scale_high - measure.scale_low
    tasters = len({ballot.taster for ballot in ballots})
    few = tasters < FEW_TASTERS
    scored = np.array([ballot.taster for ballot in ballots for _ in ballot.scores])
    yield Confounded(
        Caveat(CaveatKind.FEW_TASTERS, (), (float(tasters),)) if few else None,
        PanelNoise.of(scored, span).liking,
    )
    yield from _codes(record, ballots, span)
    yield from _serving(record, ballots, span)
    cooks = {cook.id: cook for cook in record.cooks}
    knew = [cooks[one] for one in dict.fromkeys(b.cook for b in ballots)]
    names = tuple(cook.name for cook in knew if cook.plated != "by one who did not know")
    if names:
        remark = Caveat(CaveatKind.PLATED_KNOWING, names)
        yield Confounded(remark, (PLATED_SHARE * span) ** 2)


def _codes(record: TrialRecord, ballots: Sequence[Ballot], span: float) -> Iterator[Confounded]:
    scored = {score.sample for ballot in ballots for score in ballot.scores}
    bare = tuple(s.id for s in record.samples if s.id in scored and s.code is None)
    knew = tuple(score.sample for b in ballots if b.blind is False for score in b.scores)
    bare = tuple(dict.fromkeys((*bare, *knew)))
    if bare:
        yield Confounded(Caveat(CaveatKind.NOT_CODED, bare), (CODE_SHARE * span) ** 2)


def _serving(record: TrialRecord, ballots: Sequence[Ballot], span: float) -> Iterator[Confounded]:
    """Yield that one arm came first more often than its share; in full where it is not known.

    What is known of the order is in the panel's fit, with what it leaves open.
    """
    unknown = sum(not ballot.presented for ballot in ballots)
    if unknown:
        counts = (float(unknown), float(len(ballots)))
        remark = Caveat(CaveatKind.SERVING_UNKNOWN, (), counts)
        yield Confounded(remark, 0.5 * (FIRST_SHARE * span) ** 2)
        return
    pieces = {piece.id: piece.arm for piece in record.pieces}
    arm_of = {sample.id: pieces.get(sample.piece) for sample in record.samples}
    first = [arm_of[ballot.presented[0]] for ballot in ballots]
    names = {arm.id: arm.name for arm in record.trial.arms}
    shares = {arm: first.count(arm) / len(first) for arm in names}
    often = max(shares, key=lambda arm: shares[arm])
    lead = shares[often] - min(shares.values())
    if lead > 0.0:
        counts = (float(first.count(often)), float(len(first)))
        remark = Caveat(CaveatKind.SERVED_FIRST, (names[often],), counts)
        # An even panel of odd size cannot do better than one ballot.
        shown = remark if lead * len(first) > 1.0 + 1e-9 or len(first) == 1 else None
        yield Confounded(shown, 0.0)


@dataclass(frozen=True)
class PanelNoise:
    """What a small panel adds to the scores of pieces, own size squared.

    ``liking``: to all pieces of an arm together, each taster's own liking of it. ``answer``: to a
    piece scored by each of the tasters, over what the published spreads, of panels of eight, hold.
    """

    liking: float
    answer: float

    @classmethod
    def of(cls, tasters: NDArray[np.generic], span: float) -> "PanelNoise":
        """Return it for the taster of every score (m,); one who scored more counts for more."""
        counts = np.unique(tasters, return_counts=True)[1]
        share = float(np.sum(counts**2) / np.sum(counts) ** 2)
        return cls(
            liking=share * (TASTER_SHARE * span) ** 2,
            answer=answer_variance(len(counts), span),
        )

    def covariance(self, arm: NDArray[np.intp]) -> FloatArray:
        """Return it as the covariance (n, n) of pieces with these arms (n,)."""
        return arm_covariance(arm, self.liking) + self.answer * np.eye(len(arm))


def answer_variance(tasters: int, span: float) -> float:
    """Return by how much answers of so few tasters scatter more than the published panels' do."""
    more = max(0.0, 1.0 / tasters - 1.0 / PUBLISHED_PANEL) if tasters else 0.0
    return more * (ANSWER_SHARE * span) ** 2


def arm_covariance(arm: NDArray[np.intp], variance: float) -> FloatArray:
    """Return the covariance (n, n) of what all pieces of an arm (n,) have in common."""
    return variance * np.asarray(arm[:, None] == arm[None, :], dtype=np.float64)
