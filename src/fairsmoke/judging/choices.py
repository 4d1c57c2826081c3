"""Ballots with a choice and no score: which arm was preferred, or whether they were told apart.

A ballot on which each of two arms stands once asks which is preferred. One with two samples of one
arm and one of the other asks which is the odd one out (a triangle). A taster who chose several
times is one taster: of preferences the majority of that taster's choices counts, of triangles the
tasters may be unlike each other. Tests of people at one table: whether methods differ is told by
pieces.
"""

from collections import Counter
from collections.abc import Iterator
from itertools import combinations

from fairsmoke.judging.remark import Caveat, CaveatKind
from fairsmoke.tasting.discrimination import discriminate
from fairsmoke.tasting.preference import prefer
from fairsmoke.tasting.protocols import TasteTest
from fairsmoke.tasting.repeated import fit_repeated
from fairsmoke.trial.question import Measure
from fairsmoke.trial.record import TrialRecord
from fairsmoke.trial.tasting import Ballot

_TRIANGLE = (1, 2)


def choice_remarks(record: TrialRecord, measure: Measure) -> Iterator[Caveat]:
    """Yield what the choices of a measure's ballots show, and how many ballots could not be read.

    A ballot can be read when it tells which samples were presented, and these are of two arms.
    """
    arm_of = {piece.id: piece.arm for piece in record.pieces}
    arms = {sample.id: arm_of.get(sample.piece) for sample in record.samples}
    ballots = [b for b in record.ballots if b.measure == measure.id and not b.scores]
    unread = 0
    preferred: dict[tuple[str, str], list[tuple[str, str]]] = {}
    picked: dict[tuple[str, str], list[tuple[str, bool]]] = {}
    for ballot in ballots:
        counts = _counts(ballot, arms)
        chosen = arms.get(ballot.chosen or "")
        pair = (min(counts), max(counts)) if len(counts) == len(_TRIANGLE) else None
        if pair is None or chosen is None:
            unread += 1
        elif tuple(counts.values()) == (1, 1):
            preferred.setdefault(pair, []).append((ballot.taster, chosen))
        elif tuple(sorted(counts.values())) == _TRIANGLE:
            picked.setdefault(pair, []).append((ballot.taster, counts[chosen] == 1))
        else:
            unread += 1
    for pair in combinations([arm.id for arm in record.trial.arms], 2):
        key = (min(pair), max(pair))
        names = tuple(record.trial.arm(arm).name for arm in pair)
        if key in preferred:
            yield _preferred(preferred[key], pair, names)
        if key in picked:
            yield _told_apart(picked[key], names)
    if unread:
        yield Caveat(CaveatKind.CHOICES_UNREAD, (), (float(unread), float(len(ballots))))


def _counts(ballot: Ballot, arms: dict[str, str | None]) -> dict[str, int]:
    """Return how many samples of each arm were presented; nothing where an arm is not known."""
    found = [arms.get(sample) for sample in ballot.presented]
    known = [arm for arm in found if arm is not None]
    return dict(Counter(known)) if len(known) == len(found) else {}


def _preferred(
    choices: list[tuple[str, str]], pair: tuple[str, str], names: tuple[str, ...]
) -> Caveat:
    """Return the exact test on tasters; one whose own choices are even preferred neither."""
    leads = Counter[str]()
    for taster, arm in choices:
        leads[taster] += 1 if arm == pair[0] else -1
    first = sum(lead > 0 for lead in leads.values())
    second = sum(lead < 0 for lead in leads.values())
    neither = len(leads) - first - second
    if first + second == 0:
        return Caveat(CaveatKind.PREFERRED, names, (0.0, 0.0, float(neither), 1.0, 0.0, 1.0))
    found = prefer(first, second, neither)
    numbers = (first, second, neither, found.p, found.low, found.high)
    return Caveat(CaveatKind.PREFERRED, names, tuple(map(float, numbers)))


def _told_apart(answers: list[tuple[str, bool]], names: tuple[str, ...]) -> Caveat:
    of = Counter(taster for taster, _ in answers)
    right = Counter(taster for taster, correct in answers if correct)
    correct, count = sum(right.values()), len(answers)
    if len(of) > 1 and max(of.values()) > 1:
        each = list(of)
        p = fit_repeated(
            TasteTest.TRIANGLE, [right[one] for one in each], [of[one] for one in each]
        ).p_difference
    else:
        p = discriminate(TasteTest.TRIANGLE, correct, count).p_difference
    return Caveat(CaveatKind.TOLD_APART, names, (float(correct), float(count), p, float(len(of))))
